"""Rest before the cut, heat soak and cooling after it, of recordings whose truth is known."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment, Measure
from debrief.profile.model import EngineProfile, FlightRules, ShutdownRules
from debrief.recording.model import Channel, Recording
from tests.analysis.recording_making import PROFILE, Corners, recording

SETTLED = replace(
    PROFILE, shutdown=ShutdownRules(640.0, 60.0), flight=FlightRules(airborne_ias_kt=68.0), limits=()
)
OFF_S, AIR_C, TAU_S, TOP_S, TOP_C = 300.0, 20.0, 900.0, 400.0, 380.0


def cooling(rest_s: float, tau_s: float = TAU_S, end_s: float = 1500.0) -> Corners:
    """At power, below 640 degC for `rest_s` before the cut at 300 s, 300 degC soon after it, soak to 380, then cooling."""
    falls = OFF_S - rest_s  # through 640 at 10 degC/s: 740 until 10 s before, 560 from 8 s after
    corners = [(0, 740), (falls - 10, 740), (falls + 8, 560)] if rest_s > 8 else [(0, 740), (falls - 10, 740)]
    at = 560.0 if rest_s > 8 else 640.0 - 10.0 * rest_s
    corners += [(OFF_S, at), (OFF_S + 20, 300), (OFF_S + 40, 300), (TOP_S, TOP_C)]
    t = np.arange(TOP_S + 1, end_s + 1)
    return [
        *corners,
        *zip(t.tolist(), (AIR_C + (TOP_C - AIR_C) * np.exp(-(t - TOP_S) / tau_s)).tolist(), strict=True),
    ]


def made(
    rest_s: float = 100.0,
    rate_hz: float = 2.0,
    noise: float = 0.0,
    seed: int = 0,
    tau_s: float = TAU_S,
    end_s: float = 1500.0,
    **more: Corners,
) -> Recording:
    traces: Mapping[str, Corners] = {
        "ng": [(0, 92), (OFF_S - rest_s - 14, 92), (OFF_S - rest_s - 8, 60), (OFF_S, 60), (OFF_S + 25, 4), (OFF_S + 40, 0), (1500, 0)],
        "itt": cooling(rest_s, tau_s), "oat": [(0, AIR_C)], "ias": [(0, 0)], "fuel_on": [(0, 1), (OFF_S, 0)], "starter": [(0, 0)], **more,
    }  # fmt: skip
    one = recording({k: v for k, v in traces.items() if v}, end_s, rate_hz)
    if not noise or "itt" not in one.channels:
        return one
    itt = one.channels["itt"]
    rng = np.random.default_rng(seed)
    noisy = replace(itt, values=itt.values + noise * rng.normal(size=itt.values.size))
    return one.with_channels({**one.channels, "itt": noisy})


def of(one: Recording, profile: EngineProfile = SETTLED) -> Mapping[str, Measure]:
    return assess(one, profile).flight_measures


def cuts(a: Assessment) -> list[tuple[str, str]]:
    return [(e.event_class, e.severity) for e in a.events if e.kind == "cut_without_settling"]


@pytest.mark.parametrize("rate_hz", [1.0, 4.0, 16.0])
@pytest.mark.parametrize("rest_s", [5.0, 20.0, 100.0])
def test_the_rest_before_the_cut_is_timed_at_every_rate(rate_hz: float, rest_s: float) -> None:
    measure = of(made(rest_s, rate_hz))["idle_before_cut"]
    assert measure.value == pytest.approx(rest_s, abs=1.0 / rate_hz + 0.05)
    assert measure.low is not None
    assert measure.high is not None
    assert measure.low <= rest_s <= measure.high
    for seed in range(3):
        noisy = of(made(rest_s, rate_hz, 1.5, seed))["idle_before_cut"]
        assert noisy.value == pytest.approx(rest_s, abs=1.0 / rate_hz + 1.0)
        assert noisy.low <= rest_s <= noisy.high  # type: ignore[operator]


def test_too_short_a_rest_is_a_finding_of_procedure_and_a_long_one_none() -> None:
    a = assess(made(20.0), SETTLED)
    (event,) = (e for e in a.events if e.kind == "cut_without_settling")
    assert (event.event_class, event.severity, event.start_number) == ("procedure", "limit", None)
    assert event.message == "The fuel was cut off after 20.0 s below 640 °C; the minimum is 60 s."
    assert (event.start_s, event.end_s) == (pytest.approx(280.0, abs=0.1), 300.0)
    assert (event.allowed_s, event.channel) == (60.0, "itt")
    assert cuts(assess(made(100.0), SETTLED)) == []
    assert cuts(assess(made(20.0), replace(SETTLED, shutdown=ShutdownRules(640.0)))) == []
    # 60 s of rest, looked at once a second: the cut lies between two samples.
    assert cuts(assess(made(59.8, 1.0), SETTLED)) in ([], [("procedure", "possible")])


def test_itt_that_rests_at_the_level_in_noise_is_at_rest() -> None:
    flat = {"itt": [(0, 740), (190, 740), (200, 640), (OFF_S, 640), (OFF_S + 20, 300), (1500, 100)]}
    for seed in range(20):
        assert cuts(assess(made(100.0, 4.0, 1.5, seed, **flat), SETTLED)) == []


def test_without_a_temperature_it_is_at_rest_at_idle() -> None:
    by_ng = replace(SETTLED, shutdown=ShutdownRules(None, 60.0))
    m = of(made(100.0), by_ng)["idle_before_cut"]
    # 92 to 60 % in 6 s to 8 s before 640 degC; 63 % is idle and 5 %.
    assert m.value == pytest.approx(108.0 + 3 * 6 / 32, abs=0.2)
    (event,) = (e for e in assess(made(20.0), by_ng).events if e.kind == "cut_without_settling")
    assert event.message.startswith("The fuel was cut off after 28.6 s at idle;")
    assert event.channel == "ng"


def test_what_ran_at_rest_since_the_recording_began_is_at_least_so_long() -> None:
    one = made(100.0)
    keep = one.channels["itt"].time_s >= 270.0
    late = Recording(
        {
            n: replace(c, time_s=c.time_s[keep] - 270.0, values=c.values[keep])
            for n, c in one.channels.items()
        },
        one.duration_s - 270.0,
    )
    a = assess(late, SETTLED)
    measure = a.flight_measures["idle_before_cut"]
    assert (measure.value, measure.high) == (30.0, None)
    assert cuts(a) == [("procedure", "possible")]


def test_a_cut_in_the_air_and_a_gap_are_not_judged() -> None:
    aloft = assess(made(20.0, ias=[(0, 140), (1500, 140)]), SETTLED)
    assert cuts(aloft) == []
    assert [p.why for p in aloft.not_judged if p.what == "settling before the fuel cut-off"] == [
        "the fuel was cut off in the air"
    ]
    one = made(20.0)
    itt = one.channels["itt"]
    keep = (itt.time_s < 200) | (itt.time_s > 295)
    holed = one.with_channels(
        {**one.channels, "itt": Channel("itt", "degC", itt.time_s[keep], itt.values[keep])}
    )
    a = assess(holed, SETTLED)
    assert cuts(a) == []
    assert [p.why for p in a.not_judged if p.what == "settling before the fuel cut-off"] == [
        "a gap in ITT hides it"
    ]
    assert a.flight_measures["idle_before_cut"].value is None
    lost = assess(one.with_channels({n: c for n, c in one.channels.items() if n != "itt"}), SETTLED)
    assert "not recorded" in (lost.flight_measures["idle_before_cut"].why or "")


def test_every_shutdown_is_judged_and_the_last_one_measured() -> None:
    # Cut at 300 s after 20 s, started again (from the corners of a start) and cut at 700 s after 100 s.
    itt = [p for p in cooling(20.0) if p[0] < 400] + [(430, 150), (433, 600), (436, 700), (460, 560), (500, 540), (510, 740), (590, 740), (600, 640), (608, 560), (700, 560), (720, 300), (1500, 100)]  # fmt: skip
    ng = [(0, 92), (266, 92), (272, 60), (300, 60), (325, 4), (340, 0), (415, 0), (422, 20), (430, 20), (455, 58.5), (500, 60), (510, 92), (590, 92), (600, 60), (700, 60), (725, 4), (740, 0), (1500, 0)]  # fmt: skip
    more = {
        "itt": itt,
        "ng": ng,
        "fuel_on": [(0, 1), (300, 0), (429, 1), (700, 0)],
        "starter": [(0, 0), (415, 1), (455, 0)],
    }
    a = assess(made(20.0, 4.0, **more), SETTLED)
    assert cuts(a) == [("procedure", "limit")]
    assert a.flight_measures["idle_before_cut"].value == pytest.approx(100.0, abs=0.3)


@pytest.mark.parametrize("rate_hz", [1.0, 4.0])
@pytest.mark.parametrize("tau_s", [300.0, 900.0, 2400.0])
def test_soak_and_cooling_are_those_of_the_engine(rate_hz: float, tau_s: float) -> None:
    m = of(made(rate_hz=rate_hz, tau_s=tau_s))
    assert m["soak_peak_itt"].value == pytest.approx(TOP_C, abs=1.0)
    assert m["soak_peak_itt"].low <= TOP_C <= m["soak_peak_itt"].high  # type: ignore[operator]
    assert m["cooling_time_constant"].value == pytest.approx(tau_s, rel=0.01)
    inside = 0
    for seed in range(12):
        measure = of(made(rate_hz=rate_hz, tau_s=tau_s, noise=1.5, seed=seed))["cooling_time_constant"]
        assert measure.value == pytest.approx(tau_s, rel=0.05)
        inside += measure.low <= tau_s <= measure.high  # type: ignore[operator]
    assert inside >= 8  # of twelve, by two standard errors


def test_itt_is_below_the_residual_limit_from_when_it_is() -> None:
    # 20 + 360 exp(-x / 900) = 190: x = 900 ln(360 / 170) = 675.3 s after the soak.
    measure = of(made())["cut_to_residual_itt"]
    truth = TOP_S - OFF_S + 900 * math.log(360 / 170)
    assert measure.value == pytest.approx(truth, abs=0.2)
    assert measure.low <= truth <= measure.high  # type: ignore[operator]
    cut = of(made(end_s=900.0))["cut_to_residual_itt"]
    assert (cut.value, cut.low, cut.high) == (None, 600.0, None)
    assert cut.why == "the recording ends before"


@pytest.mark.parametrize(
    ("more", "end_s", "name", "value", "why"),
    [
        ({}, 390.0, "soak_peak_itt", 366.7, "the recording ends while ITT may still rise"),
        ({}, 390.0, "cooling_time_constant", None, "ITT did not fall for 60 s after the soak in the recording"),
        ({}, 440.0, "cooling_time_constant", None, "ITT did not fall for 60 s after the soak in the recording"),
        ({"oat": []}, 1500.0, "cooling_time_constant", None, "OAT was not recorded"),
        ({"starter": [(0, 0), (390, 1), (410, 0)]}, 1500.0, "soak_peak_itt", 366.0, "the starter turned the engine after the fuel cut-off"),
        ({"itt": [(0, 560), (300, 560), (1500, 50)]}, 1500.0, "soak_peak_itt", None, "ITT did not rise again after the fuel cut-off"),
        ({"fuel_on": [(0, 1)]}, 1500.0, "idle_before_cut", None, "no shutdown in the recording"),
        ({"fuel_on": [(0, 1)], "ng": [(0, 60), (1500, 60)], "itt": [(0, 560)]}, 1500.0, "soak_peak_itt", None, "no shutdown in the recording"),
    ],
)  # fmt: skip
def test_what_is_not_known_is_said(
    more: dict[str, Corners], end_s: float, name: str, value: float | None, why: str
) -> None:
    measure = of(made(end_s=end_s, **more))[name]
    assert measure.value == (None if value is None else pytest.approx(value, abs=2.0))
    assert measure.high is None
    assert measure.why == why


def test_the_starter_ends_what_is_fitted() -> None:
    # The soak is over at 400 s; 61 s later the starter blows the engine cold.
    itt = [p for p in cooling(100.0) if p[0] < 600] + [(600, 100), (1500, 40)]
    m = of(made(itt=itt, starter=[(0, 0), (590, 1), (620, 0)]))
    assert m["cooling_time_constant"].value == pytest.approx(TAU_S, rel=0.03)
