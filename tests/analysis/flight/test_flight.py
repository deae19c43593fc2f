"""Beta in the air, flight phases and what is measured over the flight."""

from __future__ import annotations

import tracemalloc
from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.profile import find
from debrief.profile.model import AllowedRow, FlightRules, Limit
from debrief.recording.model import Channel, Recording
from tests.analysis.recording_making import PROFILE, recording

FLYING = replace(
    PROFILE,
    flight=FlightRules(airborne_ias_kt=68.0, flight_gate_power_lever_pct=22.0),
    limits=(),
    starter=PROFILE.starter,
)


def flight(lever=((0, 60), (900, 60)), **more):
    """Return a running engine that takes off at 100 s, climbs to 4000 ft, and is down again at 800 s."""
    return {
        "ng": [(0, 65), (100, 95), (790, 80), (800, 65), (900, 65)],
        "itt": [(0, 550), (100, 750), (800, 600), (900, 550)],
        "torque": [(0, 10), (100, 90), (800, 20), (900, 10)],
        "ias": [(0, 0), (80, 0), (100, 75), (200, 140), (780, 90), (800, 65), (830, 10), (900, 0)],
        "palt": [(0, 500), (100, 500), (350, 4000), (600, 4000), (795, 500), (900, 500)],
        "fuel_on": [(0, 1)],
        "starter": [(0, 0)],
        "power_lever": list(lever),
    } | more


def beta(lever, **more):
    a = assess(recording(flight(lever, **more), 900, 4.0), FLYING)
    return [(e.kind, e.severity) for e in a.events]


IN_CRUISE = ((0, 60), (500, 60), (501, 15), (506, 15), (507, 60), (900, 60))
AT_TOUCHDOWN = ((0, 60), (796.5, 60), (797.5, 10), (830, 10), (900, 10))
WHEELS = [(0, 1), (101, 0), (798, 1)]


def test_beta_well_above_touchdown_is_a_limit_from_airspeed_alone():
    assert beta(IN_CRUISE) == [("beta_in_flight", "limit")]


@pytest.mark.parametrize(
    "more", [{}, {"weight_on_wheels": WHEELS}, {"palt": None}], ids=["airspeed", "wheels", "no altitude"]
)
def test_beta_at_touchdown_is_a_landing_and_a_footnote(more):
    traces = {k: v for k, v in flight(AT_TOUCHDOWN, **more).items() if v is not None}
    a = assess(recording(traces, 900, 4.0), FLYING)
    assert [e.kind for e in a.events] == []
    (point,) = (p for p in a.not_judged if p.what == "beta in flight")
    assert point.start_s == pytest.approx(797.26, abs=0.05)  # 60 to 10 % in 1 s: 22 % after 0.76 s
    assert not point.core
    assert a.verdict == "within"


def test_beta_from_high_up_to_the_touchdown_is_a_limit_as_far_as_it_was_high():
    # 3500 ft down in 195 s, to 500 ft at 795 s: 100 ft above the touchdown there is 5.57 s earlier.
    lever = ((0, 60), (780, 60), (781, 10), (900, 10))
    a = assess(recording(flight(lever), 900, 4.0), FLYING)
    (event,) = a.events
    assert (event.kind, event.severity) == ("beta_in_flight", "limit")
    assert event.start_s == pytest.approx(780.76, abs=0.05)
    assert event.end_s == pytest.approx(795 - 100 * 195 / 3500, abs=0.05)
    assert [p for p in a.not_judged if p.what == "beta in flight"] == []


def test_beta_with_weight_on_wheels_needs_three_seconds_before_and_two_during():
    assert beta(IN_CRUISE, weight_on_wheels=WHEELS) == [("beta_in_flight", "limit")]


def test_beta_on_the_ground_is_no_event():
    lever = ((0, 10), (95, 10), (99, 60), (805, 60), (806, 5), (900, 5))
    assert beta(lever, weight_on_wheels=WHEELS) == []


def test_a_missing_power_lever_is_not_judged():
    traces = flight()
    del traces["power_lever"]
    a = assess(recording(traces, 900, 4.0), FLYING)
    assert [p.what for p in a.not_judged] == ["beta in flight"]


def test_the_phases_follow_the_flight_without_overlap():
    a = assess(recording(flight(weight_on_wheels=WHEELS), 900, 4.0), FLYING)
    names = [p.name for p in a.phases]
    assert names == ["ground", "takeoff", "climb", "cruise", "descent", "landing", "ground"]
    for before, after in zip(a.phases, a.phases[1:], strict=False):
        assert before.end_s == pytest.approx(after.start_s)
    cruise = a.phases[3]
    # Level from 350 s to 600 s; the vertical speed is taken over 30 s.
    assert cruise.start_s == pytest.approx(350, abs=20)
    assert cruise.end_s == pytest.approx(600, abs=20)


def test_a_limit_of_one_phase_holds_only_there():
    limit = Limit(
        "climb-itt",
        "overtemp",
        "itt",
        "running",
        "degC",
        "longest",
        (AllowedRow(700, 30),),
        phases=("cruise",),
    )
    hot_in_climb = {"itt": [(0, 550), (100, 600), (110, 720), (300, 720), (310, 600), (900, 550)]}
    a = assess(recording(flight(**hot_in_climb), 900, 4.0), replace(FLYING, limits=(limit,)))
    assert a.events == ()
    b = assess(
        recording(flight(**hot_in_climb), 900, 4.0),
        replace(FLYING, limits=(replace(limit, phases=("climb",)),)),
    )
    assert [e.kind for e in b.events] == ["overtemp"]


def test_outside_of_takeoff_is_open_after_a_takeoff_before_the_recording():
    limit = Limit(
        "itt-continuous",
        "overtemp",
        "itt",
        "running",
        "degC",
        "longest",
        (AllowedRow(740, 10),),
        outside_takeoff_s=300.0,
    )
    flying = {
        "ias": [(0, 120), (900, 120)],
        "palt": [(0, 2000), (300, 6000), (900, 6000)],
        "ng": [(0, 95), (900, 95)],
    }

    def judged(begin, end):
        hot = [(0, 700), (begin, 700), (begin + 1, 760), (end, 760), (end + 1, 700), (900, 700)]
        return assess(recording(flight(**flying, itt=hot), 900, 4.0), replace(FLYING, limits=(limit,)))

    early = judged(100, 150)
    assert early.events == ()
    (point,) = (p for p in early.not_judged if p.limit_id == "itt-continuous")
    assert "before the recording" in point.why
    assert early.verdict == "undetermined"
    late = judged(400, 450)
    assert [(e.kind, e.severity) for e in late.events] == [("overtemp", "limit")]
    # A take-off that was seen leaves nothing open: hot within 300 s of it is allowed by this limit, later not.
    seen = assess(
        recording(flight(itt=[(0, 550), (120, 760), (380, 760), (381, 700), (900, 550)]), 900, 4.0),
        replace(FLYING, limits=(limit,)),
    )
    assert [p for p in seen.not_judged if p.limit_id == "itt-continuous"] == []
    assert seen.events == ()


def test_run_down_is_timed_from_40_to_10_percent():
    traces = flight(
        ng=[(0, 65), (850, 65), (860, 40), (880, 10), (900, 0)],
        fuel_on=[(0, 1), (850, 0)],
    )
    a = assess(recording(traces, 900, 4.0), FLYING)
    run_down = a.flight_measures["run_down"]
    assert run_down.value == pytest.approx(20.0)
    assert run_down.low <= 20.0 <= run_down.high
    assert a.flight_measures["highest_itt_running"].value == pytest.approx(750.0)
    assert [p.name for p in a.phases][-2:] == ["shutdown", "off"]


def test_a_where_condition_narrows_a_limit_and_a_missing_channel_leaves_it_open():
    from debrief.profile.model import WhereCondition

    limit = Limit(
        "np-low", "overtorque", "torque", "running", "%", "longest", (AllowedRow(54, 5),),
        where=(WhereCondition("np", below=1000.0),),
    )  # fmt: skip
    profile = replace(FLYING, limits=(limit,))
    without = assess(recording(flight(), 900, 4.0), profile)
    assert without.limits[0].result == "not_judged"
    assert "np" in (without.limits[0].why or "")
    fast = assess(recording(flight(np=[(0, 1800)]), 900, 4.0), profile)
    assert fast.limits[0].result == "within"
    slow = assess(recording(flight(np=[(0, 900)]), 900, 4.0), profile)
    assert slow.limits[0].result == "exceeded"


def test_a_spike_that_no_engine_can_make_is_possible_and_sensor_suspect():
    profile = replace(
        PROFILE, max_rate={"itt": 600.0}, starter=replace(PROFILE.starter, duty=(), external_duty=())
    )
    spiky = [(0, 500), (500, 600), (500.25, 1100), (500.5, 600), (900, 700)]
    limit = Limit("itt-max", "overtemp", "itt", "running", "degC", "longest", (AllowedRow(900, 0),))
    a = assess(recording(flight(itt=spiky), 900, 4.0), replace(profile, limits=(limit,)))
    (event,) = a.events
    assert (event.severity, event.sensor_suspect, event.certain) == ("possible", True, False)
    assert event.peak == pytest.approx(1100)
    assert a.verdict == "possible"
    assert [q.kind for q in a.quality] == ["spike"]


def test_a_temperature_that_stands_still_while_the_speed_moves_is_said():
    a = assess(recording(flight(itt=[(0, 600), (900, 600)]), 900, 4.0), replace(FLYING, max_rate={}))
    assert "sensor_sense" in [q.kind for q in a.quality]
    assert a.verdict == "undetermined"
    assert (
        "ITT stood still at 600 °C from 0:00.0 for 900 s while Ng moved, so there is no verdict on limits on ITT."
        in a.sentence
    )


def test_a_gap_in_the_judged_channel_is_an_open_stretch():
    made = recording(flight(), 900, 4.0)
    itt = made.channels["itt"]
    keep = (itt.time_s < 400) | (itt.time_s > 430)
    holed = replace(itt, time_s=itt.time_s[keep], values=itt.values[keep])
    limit = Limit("itt-max", "overtemp", "itt", "running", "degC", "longest", (AllowedRow(900, 0),))
    a = assess(made.with_channels(dict(made.channels) | {"itt": holed}), replace(FLYING, limits=(limit,)))
    (point,) = a.not_judged
    assert (point.limit_id, point.start_s, point.end_s) == (
        "itt-max",
        pytest.approx(399.75),
        pytest.approx(430.25),
    )
    assert a.limits[0].result == "not_judged"
    assert a.verdict == "undetermined"


def test_a_clock_of_centuries_costs_no_more_than_its_samples() -> None:
    """Rows that are years apart, as a wrong rate makes them: nothing may be made for each second between."""
    times = np.arange(40) * 1e9
    channels = {
        "ias": Channel("ias", "kt", times, np.where(np.arange(40) > 3, 120.0, 0.0)),
        "palt": Channel("palt", "ft", times, np.linspace(0.0, 9000.0, 40)),
        "ng": Channel("ng", "%", times, np.full(40, 90.0)),
    }
    tracemalloc.start()
    found = assess(Recording(channels, duration_s=float(times[-1])), find("tarn-tg7"))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 60e6
    assert found.phases
