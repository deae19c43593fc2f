"""Steady windows are where they are and nowhere else, whatever the rate and the noise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.measures import atmosphere
from debrief.profile.model import AllowedRow, Limit
from debrief.recording.model import Recording
from tests.analysis.flight.made_flights import FLYING, recorded
from tests.analysis.recording_making import RUNNING_LIMIT

PROFILE = replace(
    FLYING,
    flight=replace(FLYING.flight, oat_is="static_air"),
    limits=(RUNNING_LIMIT,),
)
RATES = [(0.5, 1.0), (1.0, 2.0), (4.0, 0.0), (16.0, 2.0)]


def cruise(**more):
    """Half an hour level at 10 000 ft and 150 kt, lit throughout; power is reduced by 5 % of Ng at 900 s."""
    return {
        "ng": [(0, 95), (900, 95), (905, 90), (1800, 90)],
        "itt": [(0, 720), (900, 720), (905, 670), (925, 660), (1800, 660)],
        "torque": [(0, 80), (900, 80), (905, 60), (1800, 60)],
        "np": [(0, 1850), (1800, 1850)],
        "fuel_flow": [(0, 150), (900, 150), (905, 120), (1800, 120)],
        "power_lever": [(0, 70), (900, 70), (903, 60), (1800, 60)],
        "ias": [(0, 150), (900, 150), (930, 146), (1800, 146)],
        "palt": [(0, 10000), (1800, 10000)],
        "oat": [(0, -5), (1800, -5)],
        "fuel_on": [(0, 1)],
        "starter": [(0, 0)],
        "bleed": [(0, 1)],
        "separator": [(0, 0)],
    } | more


def windows(traces, end=1800.0, rate_hz=1.0, noise=0.0, profile=PROFILE, seed=1):
    return assess(recorded(traces, end, rate_hz, noise, seed), profile).flight.steady


def spans(*args, **kwargs):
    return [(w.start_s, w.end_s) for w in windows(*args, **kwargs)]


@pytest.mark.parametrize(("rate_hz", "noise"), RATES)
@pytest.mark.parametrize("seed", range(5))
def test_windows_are_where_it_runs_steadily_without_their_first_minute(rate_hz, noise, seed):
    (first, second) = spans(cruise(), rate_hz=rate_hz, noise=noise, seed=seed)
    assert first == (60.0, 900.0)
    assert second[0] == pytest.approx(905 + 60, abs=25)
    assert second[1] == 1800.0


UNSTEADY = {
    "Ng rises by 0.5 % a minute": {"ng": [(0, 85), (1800, 100)]},
    "ITT rises by 8 degC a minute": {"itt": [(0, 550), (1800, 790)]},
    "a climb of 100 ft a minute": {"palt": [(0, 8000), (1800, 11000)]},
    "airspeed that swings": {"ias": [(t, 150 + 8 * (-1) ** (t // 60)) for t in range(0, 1860, 60)]},
    "a lever that is moved every two minutes": {
        "power_lever": [(t + d, 70 + 4 * ((t // 120 + d) % 2)) for t in range(0, 1800, 120) for d in (0, 1)]
    },
    "bleed switched every two minutes": {"bleed": [(t, (t // 120) % 2) for t in range(0, 1800, 120)]},
}


@pytest.mark.parametrize("what", UNSTEADY)
@pytest.mark.parametrize(("rate_hz", "noise"), RATES)
def test_nothing_that_moves_is_steady(what, rate_hz, noise):
    level = {
        "ng": [(0, 95)],
        "itt": [(0, 720)],
        "power_lever": [(0, 70)],
        "ias": [(0, 150)],
        "fuel_flow": [(0, 150)],
    }
    assert spans(cruise(**(level | UNSTEADY[what])), rate_hz=rate_hz, noise=noise) == []


def test_without_a_lever_the_torque_has_to_stand_still():
    traces = cruise()
    del traces["power_lever"]
    traces |= {"ng": [(0, 95)], "itt": [(0, 720)], "fuel_flow": [(0, 150)], "ias": [(0, 150)]}
    assert spans(traces) == [(60.0, 900.0), (970.0, 1800.0)]
    # With a lever that stands still torque may move: a load moves it.
    assert spans(traces | {"power_lever": [(0, 70)]}) == [(60.0, 1800.0)]


def test_a_switch_divides_and_a_short_stretch_is_none():
    level = {
        "ng": [(0, 95)],
        "itt": [(0, 720)],
        "power_lever": [(0, 70)],
        "ias": [(0, 150)],
        "fuel_flow": [(0, 150)],
    }
    once = windows(cruise(**level | {"bleed": [(0, 0), (600, 1)]}))
    assert [(w.start_s, w.end_s, w.bleed) for w in once] == [(60.0, 600.0, False), (660.0, 1800.0, True)]
    found = windows(cruise(**level, separator=[(0, 0), (600, 1), (770, 0)]))
    assert [(w.start_s, w.end_s, w.separator) for w in found] == [
        (60.0, 600.0, False),
        (830.0, 1800.0, False),
    ]


def test_a_gap_divides():
    whole = recorded(cruise(ng=[(0, 95)], itt=[(0, 720)], power_lever=[(0, 70)], ias=[(0, 150)]), 1800.0, 1.0)
    keep = (whole.channels["ng"].time_s < 800) | (whole.channels["ng"].time_s > 830)
    cut = {n: type(c)(n, c.unit, c.time_s[keep], c.values[keep]) for n, c in whole.channels.items()}
    found = assess(Recording(cut, whole.duration_s), PROFILE).flight.steady
    assert [(w.start_s, w.end_s) for w in found] == [(60.0, 790.0), (900.0, 1800.0)]


def test_the_values_of_a_window_are_means_and_referred_to_the_intake():
    first, second = windows(cruise(), rate_hz=4.0, noise=1.0)
    assert (first.phase, first.engine, first.samples) == ("cruise", 1, 4 * 840)
    assert first.itt == pytest.approx(720.0, abs=0.2)
    assert first.ng == pytest.approx(95.0, abs=0.02)
    assert first.pressure_altitude_ft == pytest.approx(10000.0, abs=2.0)
    # Standard at 10 000 ft: 268.338 K, -4.81 degC.
    assert first.isa_deviation_c == pytest.approx(-5.0 + 273.15 - 268.338, abs=0.05)
    assert first.density_altitude_ft == pytest.approx(10000.0 - 23.0, abs=10.0)
    air = atmosphere.total_conditions(10000.0, -5.0, 150.0)
    assert first.referred_ng == pytest.approx(95.0 / np.sqrt(air.theta), abs=0.03)
    assert first.referred_itt == pytest.approx(993.15 / air.theta - 273.15, abs=0.5)
    assert first.referred_torque == pytest.approx(80.0 / air.delta, abs=0.1)
    assert first.referred_fuel_flow == pytest.approx(150.0 / air.delta / np.sqrt(air.theta), abs=0.1)
    assert first.itt_margin_c == pytest.approx(830.0 - 720.0, abs=0.2)
    assert (first.bleed, first.separator) == (True, False)
    assert second.itt_margin_c == pytest.approx(830.0 - 660.0, abs=0.2)


def test_total_temperature_is_brought_to_static_and_refers_as_it_is():
    air = atmosphere.total_conditions(10000.0, -5.0, 150.0)
    total_c = air.theta * 288.15 - 273.15
    profile = replace(PROFILE, flight=replace(PROFILE.flight, oat_is="total_air"))
    by_static = windows(cruise())[0]
    by_total = windows(cruise(oat=[(0, total_c)]), profile=profile)[0]
    assert total_c > -5.0 + 3.0
    assert by_total.oat_c == pytest.approx(-5.0)
    for name in ("isa_deviation_c", "density_altitude_ft", "referred_itt", "referred_ng"):
        assert getattr(by_total, name) == pytest.approx(getattr(by_static, name)), name


def test_what_is_not_known_is_none_and_says_why():
    profile = replace(FLYING, limits=())
    first = windows(cruise(), profile=profile)[0]
    assert first.referred_itt is None
    assert "static or total" in first.why["referred_itt"]
    assert first.itt_margin_c is None
    assert "no limit" in first.why["itt_margin_c"]
    assert "static" in first.why["oat_c"]
    bare = {k: v for k, v in cruise().items() if k in ("ng", "itt", "fuel_on", "power_lever")}
    (first, _) = windows(bare)
    for name in ("oat_c", "pressure_altitude_ft", "ias_kt", "torque", "bleed", "generator", "generator_load"):
        assert getattr(first, name) is None, name
        assert first.why[name]
    assert first.itt_margin_c == pytest.approx(110.0)
    for name, value in vars_of(first).items():
        assert value is not None or name in first.why or name == "phase", name


def vars_of(window):
    return {name: getattr(window, name) for name in type(window).__dataclass_fields__}


def test_the_margin_is_to_the_lowest_level_that_applies_there():
    climb = Limit(
        "itt-climb",
        "overtemp",
        "itt",
        "running",
        "degC",
        "longest",
        (AllowedRow(740, 10),),
        phases=("climb",),
    )
    level = Limit("itt-level", "overtemp", "itt", "airborne", "degC", "longest",
                  (AllowedRow(700, 10, "caution"), AllowedRow(790, 10)), phases=("cruise",))  # fmt: skip
    found = windows(cruise(), profile=replace(PROFILE, limits=(RUNNING_LIMIT, climb)))
    assert found[0].itt_margin_c == pytest.approx(110.0)
    found = windows(cruise(), profile=replace(PROFILE, limits=(RUNNING_LIMIT, climb, level)))
    assert found[0].itt_margin_c == pytest.approx(70.0)


def test_a_short_recording_and_one_that_never_ran_have_none():
    assert windows({"ng": [(0, 95)], "itt": [(0, 700)], "fuel_on": [(0, 1)]}, end=100.0) == ()
    assert windows({"ng": [(0, 0)], "itt": [(0, 15)], "fuel_on": [(0, 0)]}, end=1000.0) == ()
