"""Taxi, beta, reverse, thrust at idle and the answer of the propeller, of recordings whose truth is known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from statistics import median_low

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment, Measure
from debrief.profile.model import FlightRules
from debrief.recording.model import Channel, Recording
from tests.analysis.recording_making import PROFILE, Corners, recording

GATES = FlightRules(68.0, 22.0, 9.0, ((500.0, 900.0), (1180.0, 1320.0)))
PROFILED = replace(PROFILE, flight=GATES, limits=())
SIZES = {"gs": 0.3, "ias": 0.3, "power_lever": 0.1, "np": 3.0}
"""Deviations of the noise."""

# Stands, rolls from 60 to 160 s (up to 20 kt at 0.25 kt/s from 60 to 140 s, down again), stands, rolls at 10 kt from 200 to 260 s
# with reverse and beta, takes off at 300 s, lands at 900 s, rolls out, taxies in at 12 kt.
SPEED: Corners = [(0, 0), (60, 0), (140, 20), (160, 0), (200, 0), (205, 10), (250, 10), (260, 0), (280, 0), (300, 80), (340, 140),
                  (860, 90), (900, 80), (925, 15), (935, 12), (1000, 12), (1006, 0), (1100, 0)]  # fmt: skip
# At the gate while it gathers speed; beta from 141 to 160 and from 210 to 225, reverse from 225 to 230, and beta after the landing.
LEVER: Corners = [(0, 22), (141, 22), (142, 15), (180, 15), (181, 24), (210, 24), (211, 15), (225, 15), (226, 4), (230, 4), (231, 24),
                  (275, 24), (279, 80), (850, 40), (895, 22), (902, 22), (903, 4), (920, 4), (921, 24), (980, 24), (981, 15), (990, 15), (991, 24),
                  (1100, 24)]  # fmt: skip
WHEELS: Corners = [(0, 1), (300, 0), (900, 1)]


def lagging(lag_s: float, rate: float = 0.05) -> Corners:
    """Np that follows the lever's passings forward with a first-order lag; 95 % of a change comes after 3 times its constant."""
    t = np.arange(0.0, 1100.0, rate)
    lever = np.interp(t, *np.array(LEVER, dtype=float).T)
    wanted = np.where(lever > 70, 1900.0, np.where(lever >= 22, 1100.0, 1000.0))
    out, value = np.empty(t.size), wanted[0]
    part = rate / (lag_s / 3.0)
    for k, goal in enumerate(wanted):
        value += part * (goal - value)
        out[k] = value
    return list(zip(t.tolist(), out.tolist(), strict=True))


def made(
    rate_hz: float = 4.0,
    noise: float = 0.0,
    seed: int = 0,
    speed: str = "gs",
    lag_s: float = 3.0,
    **more: Corners,
) -> Recording:
    traces: Mapping[str, Corners] = {
        "ng": [(0, 60), (275, 60), (280, 95), (850, 80), (900, 60), (1100, 60)],
        "itt": [(0, 540), (275, 540), (280, 740), (850, 600), (900, 540), (1100, 540)],
        speed: SPEED, "ias": SPEED, "palt": [(0, 500), (300, 500), (500, 3500), (700, 3500), (895, 500), (1100, 500)],
        "power_lever": LEVER, "np": lagging(lag_s), "weight_on_wheels": WHEELS, "fuel_on": [(0, 1)], "starter": [(0, 0)],
        **more,
    }  # fmt: skip
    rng = np.random.default_rng(seed)
    one = recording({k: v for k, v in traces.items() if v}, 1100.0, rate_hz)
    noisy = {
        name: replace(c, values=c.values + noise * SIZES[name] * rng.normal(size=c.values.size))
        for name, c in one.channels.items()
        if name in SIZES
    }
    return one.with_channels({**one.channels, **noisy})


def of(recording_: Recording, profile: object = PROFILED) -> Mapping[str, Measure]:
    return assess(recording_, profile).flight_measures  # type: ignore[arg-type]


def holds(measure: Measure, truth: float, within: float) -> None:
    assert measure.value == pytest.approx(truth, abs=within)
    assert measure.low is not None
    assert measure.high is not None
    assert measure.low - 1e-9 <= truth <= measure.high + 1e-9


# By hand, at 2 kt and the gates: rolling from 68 to 158 s, 201 to 258 s, and from the end of the roll-out (925 to 935 s) to 1005 s.
@pytest.mark.parametrize("rate_hz", [1.0, 4.0, 16.0])
@pytest.mark.parametrize("noise", [0.0, 1.0])
def test_rolling_beta_and_reverse_are_timed_at_every_rate_and_in_noise(rate_hz: float, noise: float) -> None:
    m = of(made(rate_hz, noise))
    assert m["taxi_time"].value == pytest.approx(90 + 57 + 1005 - 930, abs=8)
    holds(m["taxi_highest_speed"], 20.0, 1.2)
    # 15 % is below the gate from 141.0 s until it stands at 158 s, from 210.22 to 225.55 s, and from 980.22 to 990.78 s.
    holds(m["taxi_beta_time"], 158 - 141 + 225.55 - 210.22 + 990.78 - 980.22 + 230.9 - 230.25, 1.5)
    holds(m["taxi_reverse_time"], 230.25 - 225.55, 0.6)
    for name in ("taxi_time", "taxi_beta_time", "taxi_reverse_time"):
        assert not m[name].inferred


@pytest.mark.parametrize("rate_hz", [1.0, 4.0, 16.0])
def test_the_pull_of_idle_is_the_slope_of_the_longest_rise(rate_hz: float) -> None:
    held = 0
    for seed in range(8):
        measure = of(made(rate_hz, 1.0, seed))["idle_acceleration"]
        assert measure.value == pytest.approx(0.25, abs=0.01)
        held += measure.low <= 0.25 <= measure.high  # type: ignore[operator]
    assert held >= 6  # of eight, by two standard errors
    assert of(made(rate_hz))["idle_acceleration"].unit == "kt/s"


@pytest.mark.parametrize("lag_s", [1.5, 3.0, 6.0])
@pytest.mark.parametrize("rate_hz", [1.0, 4.0, 16.0])
def test_the_lag_of_the_propeller_is_found_and_lies_in_its_bounds(lag_s: float, rate_hz: float) -> None:
    # The lever passes 22 % upward at 180.78, 230.9, 920.9 and 990.78 s, within a second to 24 %.
    m = of(made(rate_hz, lag_s=lag_s))
    truths = [lag_s for _ in range(4)]
    holds(m["propeller_lag"], max(truths), 0.3 + 1.0 / rate_hz)
    holds(m["propeller_lag_median"], median_low(truths), 0.3 + 1.0 / rate_hz)
    noisy = [of(made(rate_hz, 1.0, seed, lag_s=lag_s)) for seed in range(4)]
    inside = sum(
        one["propeller_lag_median"].low <= lag_s <= one["propeller_lag_median"].high  # type: ignore[operator]
        for one in noisy
    )
    assert inside >= 3


def test_a_lever_that_goes_on_or_a_propeller_that_does_not_settle_gives_no_lag() -> None:
    ramp: Corners = [(0, 15), (100, 15), (150, 60), (151, 15), (1100, 15)]
    for lever in (ramp, [(0, 22), (1100, 24)], [(0, 80), (1100, 80)]):
        measure = of(made(power_lever=lever))["propeller_lag"]
        assert measure.value is None
        assert measure.why == "no passing of the gate forward on the ground was followed by a settled Np"


def test_time_in_the_bands_to_be_avoided_is_told_while_it_runs() -> None:
    speed: Corners = [
        (0, 1000),
        (100, 1000),
        (110, 700),
        (130, 700),
        (140, 1000),
        (200, 1000),
        (210, 1250),
        (220, 1250),
        (230, 1500),
        (1100, 1500),
    ]
    # 900 down and up: 103.33 to 136.67 s; 1180 to 1320: 207.2 to 222.8 s.
    m = of(made(4.0, np=speed))
    holds(m["time_np_avoided"], 136.667 - 103.333 + 222.8 - 207.2, 0.05)
    without = replace(PROFILED, flight=replace(GATES, avoided_np_rpm=None))
    assert of(made(), without)["time_np_avoided"].value is None


def test_by_airspeed_it_is_inferred_and_the_bounds_are_wide() -> None:
    m = of(made(speed="ias"))
    assert m["taxi_time"].inferred
    assert m["taxi_time"].low == 0.0
    assert m["taxi_time"].high is not None
    assert m["taxi_time"].high > 300.0
    assert m["idle_acceleration"].inferred
    # An indicator that shows nothing below 30 kt shows no taxi: what the lever did then is between nothing and all of it.
    blind = made(speed="ias")
    ias = blind.channels["ias"]
    dead = replace(ias, values=np.where(ias.values < 30.0, 0.0, ias.values))
    m = of(blind.with_channels({**blind.channels, "ias": dead}))
    for name in (
        "taxi_time",
        "taxi_beta_time",
        "taxi_reverse_time",
        "taxi_highest_speed",
        "idle_acceleration",
    ):
        assert m[name].value is None
        assert m[name].why == "no ground speed was recorded, and the airspeed shows no taxi"
    assert m["taxi_beta_time"].high == pytest.approx(
        180.78 - 141.0 + 225.55 - 210.22 + 990.78 - 980.22 + 1.3, abs=5.0
    )


@pytest.mark.parametrize(
    ("gone", "name", "why"),
    [
        (("power_lever",), "taxi_beta_time", "power lever was not recorded"),
        (("power_lever",), "idle_acceleration", "power lever was not recorded"),
        (("power_lever",), "propeller_lag", "power lever was not recorded"),
        (("np",), "propeller_lag", "Np was not recorded"),
        (("np",), "time_np_avoided", "Np was not recorded"),
        (("gs", "ias"), "taxi_time", "neither ground speed nor airspeed was recorded"),
        (("ias", "weight_on_wheels"), "taxi_time", "neither weight on wheels nor airspeed tells ground from air"),
        (("ias", "weight_on_wheels"), "propeller_lag", "neither weight on wheels nor airspeed tells ground from air"),
    ],
)  # fmt: skip
def test_what_is_missing_is_said(gone: tuple[str, ...], name: str, why: str) -> None:
    one = made()
    left = one.with_channels({k: c for k, c in one.channels.items() if k not in gone})
    measure = of(left)[name]
    assert (measure.value, measure.why) == (None, why)


@pytest.mark.parametrize(
    "name", ["taxi_beta_time", "idle_acceleration", "propeller_lag", "taxi_reverse_time"]
)
def test_without_a_gate_in_the_profile_nothing_is_guessed(name: str) -> None:
    measure = of(made(), replace(PROFILED, flight=FlightRules(68.0)))[name]
    assert measure.value is None
    assert measure.why is not None
    assert measure.why.startswith("the profile gives no power lever at the")


def test_a_gap_in_the_lever_counts_for_the_upper_bound_alone() -> None:
    one = made()
    lever = one.channels["power_lever"]
    keep = (lever.time_s < 205) | (lever.time_s > 235)
    holed = Channel("power_lever", "%", lever.time_s[keep], lever.values[keep])
    measure = of(one.with_channels({**one.channels, "power_lever": holed}))["taxi_beta_time"]
    assert measure.value == pytest.approx(158 - 141 + 10.56, abs=0.5)
    assert measure.high == pytest.approx(158 - 141 + 10.56 + 30, abs=3.0)


def test_a_second_engine_has_its_own_lever_and_propeller() -> None:
    one = made()
    second = {
        f"{n}.2": replace(one.channels[n], name=f"{n}.2")
        for n in ("ng", "itt", "np", "power_lever", "fuel_on")
    }
    idle = replace(second["power_lever.2"], values=np.full(second["power_lever.2"].values.size, 24.0))
    a: Assessment = assess(one.with_channels({**one.channels, **second, "power_lever.2": idle}), PROFILED)
    assert a.flight_measures["taxi_beta_time.2"].value == 0.0
    assert (a.flight_measures["taxi_beta_time"].value or 0.0) > 40.0
    assert a.flight_measures["taxi_time.2"].value == a.flight_measures["taxi_time"].value
