"""A key that the profile lacks hides nothing: what its rule would have found is found all the same, or named as not judged."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path

import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment, Event
from debrief.profile.gaps import gaps
from debrief.profile.loader import find
from debrief.profile.model import AbortRules, EngineProfile, FlightRules, ShutdownRules, StartRules
from debrief.words.profile_keys import key_title
from tests.analysis.recording_making import PROFILE, RUNNING_LIMIT, Corners, normal_start, recording
from tests.demo_assessing import assessed

DEMOS = Path(__file__).parents[3] / "demo_flights"
NO_IDLE = "the profile gives no idle Ng"


def _lacking(profile: EngineProfile, *keys: str) -> EngineProfile:
    return replace(profile, start=replace(profile.start, **dict.fromkeys(keys)))


def _alike(one: Event, other: Event) -> bool:
    return (one.kind, one.start_number, one.reason) == (other.kind, other.start_number, other.reason)


@pytest.mark.parametrize(
    "flight",
    [
        "03_weak_battery_hung",
        "06_hot_start_aborted_not_motored",
        "07_no_light_off",
        "09_quick_turnaround",
        "12_flight_overtemperature_in_climb",
        "14_fuel_reintroduced",
        "15_low_voltage",
        "18_speed_signal_spike",
        "19_burning_after_the_cut",
    ],
)
def test_no_finding_vanishes_in_silence_and_none_is_made_up(flight: str) -> None:
    profile, full = find("tarn-tg7"), assessed(DEMOS / f"{flight}.csv")
    for key in (f.name for f in fields(StartRules) if getattr(profile.start, f.name) is not None):
        found = assess(full.recording, _lacking(profile, key))
        for event in full.events:
            kept = any(_alike(event, e) and e.severity != "note" for e in found.events)
            named = [p for p in found.not_judged if key_title(key)[0] in p.why]
            assert kept or named or event.severity == "note", (key, event.message)
        for event in found.events:
            assert event.severity == "note" or any(_alike(event, e) for e in full.events), (
                key,
                event.message,
            )
        if key == "idle_ng_pct":
            assert found.verdict != "within"
            assert {s.outcome for s in found.starts} <= {"unknown", "motoring", "no_light_off"}


def test_without_idle_a_running_limit_is_judged_after_the_longest_start() -> None:
    full = assessed(DEMOS / "12_flight_overtemperature_in_climb.csv")
    assert full.profile is not None
    found = assess(full.recording, _lacking(full.profile, "idle_ng_pct"))
    (was,) = (e for e in full.events if e.kind == "overtemp")
    (now,) = (e for e in found.events if e.kind == "overtemp")
    assert (now.severity, now.duration_s, now.peak) == (was.severity, was.duration_s, was.peak)
    assert found.verdict == "exceeded"
    assert "outcome of the start" in found.sentence
    assert {p.name for p in found.phases} >= {"takeoff", "climb", "cruise"}
    # The shutdown twenty minutes later is no cut of the start.
    assert found.starts[0].fuel_off_s is None


def _started(peak_c: float, later_c: float = 540.0, end_s: float = 300.0, **more: Corners) -> Assessment:
    traces = normal_start(peak_c) | more
    traces["itt"] = [*traces["itt"][:-1], (70, 540), (71, later_c), (79, later_c), (80, 540), (end_s, 540)]
    return assess(recording(traces, end_s), _lacking(PROFILE, "idle_ng_pct"))


def _result(found: Assessment, limit: str) -> str:
    return next(one.result for one in found.limits if one.id == limit)


def test_without_idle_what_may_have_been_the_start_is_possible_and_what_may_have_been_running_is_not_judged() -> (
    None
):
    hot = _started(1100.0)
    assert [(e.kind, e.severity, e.certain) for e in hot.events if e.kind == "hot_start"] == [
        ("hot_start", "possible", False)
    ]
    assert NO_IDLE in next(e.message for e in hot.events if e.kind == "hot_start")
    # 8 s at 850 degC, 48 s after light-off: too long for a running engine, not for a start.
    later = _started(700.0, 850.0)
    assert _result(later, "itt-running") == "not_judged"
    (point,) = (p for p in later.not_judged if p.limit_id == "itt-running")
    assert point.core
    assert NO_IDLE in point.why
    assert 70.0 <= (point.start_s or 0.0) < (point.end_s or 0.0) <= 80.5
    # Below every level it is within, whatever it was.
    assert _result(_started(700.0), "itt-running") == "within"


def test_without_idle_a_cut_is_neither_an_abort_nor_fuel_again_nor_a_flame_out() -> None:
    ng = [*normal_start()["ng"][:-1], (80, 59), (100, 75), (104, 60), (200, 60), (230, 3), (300, 0)]
    itt = [
        (0, 15),
        (23, 15),
        (30, 700),
        (80, 540),
        (100, 700),
        (104, 560),
        (200, 560),
        (203, 250),
        (300, 200),
    ]
    traces = normal_start() | {"ng": ng, "itt": itt, "fuel_on": [(0, 0), (22, 1), (200, 0)]}
    profile = replace(_lacking(PROFILE, "idle_ng_pct"), abort=AbortRules(motor_for_s=20.0))
    found = assess(recording(traces, 300), profile)
    assert found.events == ()
    assert found.starts[0].outcome == "unknown"
    assert "motored_after_cut" not in found.starts[0].measures
    named = {p.what for p in found.not_judged if NO_IDLE in p.why}
    assert named >= {"outcome of the start", "idle and hung start", "motoring after the abort"}
    # Fuel on to a stand: where the fall from idle begins the flame was out.
    out = assess(recording(traces | {"fuel_on": [(0, 0), (22, 1)]}, 300), profile)
    assert out.phases[-1].name == "off"
    assert 199.0 <= out.phases[-1].start_s <= 201.0


def test_without_a_standing_speed_cranks_that_only_ng_shows_are_named() -> None:
    crank = [(0, 0), (10, 0), (16, 16), (20, 16), (30, 0), (34, 0), (40, 16), (44, 16), (54, 0), (90, 0)]
    for top in (16.0, 4.0):
        ng = [(t, v * top / 16.0) for t, v in crank]
        traces = {"ng": ng, "bus_volts": [(0, 25.2)], "itt": [(0, 15)]}
        found = assess(recording(traces, 90), _lacking(PROFILE, "stopped_ng_pct"))
        assert found.starts == ()
        (point,) = (p for p in found.not_judged if "Ng of a standing engine" in p.why)
        assert point.what == "starts that only Ng shows"
        assert "Everything" not in found.sentence
        assert "starts that only Ng shows" in " ".join(p.what for p in found.not_judged)
    # A starter that was recorded needs no such speed, and an engine that never moved asks nothing.
    driven = {"ng": crank, "starter": [(0, 0), (10, 1), (20, 0), (34, 1), (44, 0)]}
    assert len(assess(recording(driven, 90), _lacking(PROFILE, "stopped_ng_pct")).starts) == 2
    still = assess(recording({"ng": [(0, 0)], "itt": [(0, 15)]}, 90), _lacking(PROFILE, "stopped_ng_pct"))
    assert not [p for p in still.not_judged if "stopped_ng_pct" in p.why]


def test_a_profile_says_beforehand_what_a_result_names_as_not_judged() -> None:
    assert {
        g.what
        for g in gaps(
            replace(
                PROFILE,
                abort=AbortRules(motor_for_s=20.0),
                flight=FlightRules(flight_gate_power_lever_pct=20.0),
                shutdown=ShutdownRules(settle_s=60.0),
            )
        )
    } == set()
    bare = EngineProfile("Bare", limits=(RUNNING_LIMIT,))
    told = {(g.what, g.why) for g in gaps(bare)}
    assert ("hot start", "the profile gives no limit of ITT in starts") in told
    found = assess(recording(normal_start() | {"fuel_on": [(0, 0), (22, 1), (70, 0)]}, 80), bare)
    named = {
        (p.what, p.why) for p in found.not_judged if p.limit_id is None and "the profile gives no" in p.why
    }
    assert len(named) > 10
    assert named <= told
