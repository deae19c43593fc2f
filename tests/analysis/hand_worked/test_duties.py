"""Checks of the starter's duty: 45 s and 90 s twice, then 2400 s; 30 s and 150 s from external power."""

from __future__ import annotations

from dataclasses import replace

from debrief.analysis.model import StarterRun
from debrief.profile.model import DutyRow, EngineProfile
from tests.analysis.fault_making import RESTED, Analysis
from tests.analysis.recording_making import PROFILE, STARTER, normal_start

Found = list[tuple[str, str | None, float | None]]


def with_starter(**changes: object) -> EngineProfile:
    return replace(PROFILE, starter=replace(STARTER, **changes), limits=())


def motoring(lab: Analysis, *edges: float, external: int | None = 0, **options: object) -> Found:
    """Return (severity, reason, allowed) of the overruns of a starter that is on between pairs of edges."""
    starter = [(0.0, 0.0)] + [(t, float(n % 2 == 0)) for n, t in enumerate(edges)]
    ng = [(0.0, 0.0)]
    for n in range(0, len(edges), 2):
        ng += [(edges[n], 0.0), (edges[n] + 5, 20.0), (edges[n + 1], 20.0), (edges[n + 1] + 6, 0.0)]
    traces = {"ng": ng, "itt": [(0, 15)], "bus_volts": [(0, 25)], "starter": starter, "fuel_on": [(0, 0)]}
    if external is not None:
        traces["external_power"] = [(0, external)]
    options.setdefault("profile", with_starter())
    a = lab.judge(traces, edges[-1] + 20, **options)
    return [(e.severity, e.reason, e.allowed_s) for e in a.events if e.kind == "starter_overrun"]


def test_a_run_of_more_than_45_seconds_is_too_long(lab: Analysis) -> None:
    assert motoring(lab, 10, 54.875) == []
    # Exactly 45 s between the first samples on and off: it may have been up to 45.125 s.
    assert motoring(lab, 10, 55.0) == [("possible", "run_too_long", 45)]
    assert motoring(lab, 10, 55.125) == [("limit", "run_too_long", 45)]
    a = lab.judge({"ng": [(0, 0), (10, 0), (15, 20)], "itt": [(0, 15)], "bus_volts": [(0, 25)], "fuel_on": [(0, 0)],
                   "external_power": [(0, 0)], "starter": [(0, 0), (10, 1), (55.125, 0)]}, 60)  # fmt: skip
    # Surely on only from 10 s to 55 s.
    assert [(e.certain, e.duration_low_s, e.duration_high_s) for e in a.events] == [(False, 45.0, 45.25)]
    second = with_starter(duty=(DutyRow(45, 10), DutyRow(20, 10)), external_duty=())
    assert motoring(lab, 10, 40, 60, 85, profile=second) == [("limit", "run_too_long", 20)]


def test_what_the_recording_cuts_or_only_infers_is_not_judged(lab: Analysis) -> None:
    def open_points(**more: list[tuple[float, float]]) -> list[str]:
        traces = {
            "ng": [(0, 0), (10, 0), (15, 20), (80, 20)],
            "itt": [(0, 15)],
            "fuel_on": [(0, 0)],
            "bus_volts": [(0, 25)],
        }
        a = lab.judge(traces | {"external_power": [(0, 0)]} | more, 40, profile=with_starter())
        return [p.what for p in a.not_judged if "starter" in p.what]

    assert open_points(starter=[(0, 0), (10, 1)]) == ["length of a starter run"]
    assert open_points() == ["starter duty"]
    none = with_starter(duty=(), external_duty=())
    assert motoring(lab, 10, 99, profile=none) == []


def test_the_rest_that_the_run_before_asks_for_is_kept(lab: Analysis) -> None:
    assert motoring(lab, 10, 30, 120.125, 140) == []
    # Exactly 90 s: it may have been a sample interval less.
    assert motoring(lab, 10, 30, 120.0, 140) == [("possible", "rest_too_short", 90)]
    assert motoring(lab, 10, 30, 119.875, 140) == [("limit", "rest_too_short", 90)]
    # The third run asks for 2400 s.
    assert motoring(lab, 10, 30, 121, 141, 232, 252, 343, 363) == [("limit", "rest_too_short", 2400)]


def test_a_rest_is_certainly_short_only_by_its_upper_bound(lab: Analysis) -> None:
    # 89.875 s between first off and first on; the starter was last seen on a sample earlier: up to 90 s.
    traces = {
        "ng": [(0, 0), (10, 0), (15, 20), (30, 20), (36, 0), (119.875, 0), (125, 20), (140, 20)],
        "itt": [(0, 15)], "bus_volts": [(0, 25)], "fuel_on": [(0, 0)], "external_power": [(0, 0)],
        "starter": [(0, 0), (10, 1), (30, 0), (119.875, 1), (140, 0)],
    }  # fmt: skip
    events = lab.judge(traces, 150, profile=with_starter()).events
    assert [(e.reason, e.certain, e.duration_high_s) for e in events] == [("rest_too_short", False, 90.0)]


def test_a_long_rest_or_a_completed_start_begins_the_order_anew(lab: Analysis) -> None:
    # The second row allows 20 s only. After 100 s of rest the order begins anew.
    short = with_starter(duty=(DutyRow(45, 10), DutyRow(20, 10)), external_duty=(), reset_after_s=100.0)
    assert motoring(lab, 10, 40, 139.875, 170, profile=short) == [("limit", "run_too_long", 20)]
    assert motoring(lab, 10, 40, 140.0, 170, profile=short) == []
    # A start that reached idle begins it anew where the profile says so.
    counts = replace(short.starter, reset_after_s=None, reset_counts="successful_start")
    traces = normal_start() | {
        "ng": [
            (0, 0),
            (10, 0),
            (17, 20),
            (23, 20),
            (48, 58.5),
            (60, 59),
            (75, 2),
            (90, 2),
            (97, 20),
            (125, 20),
        ],
        "itt": [(0, 15), (23, 15), (26, 560), (30, 700), (48, 560), (60, 540), (90, 100), (125, 50)],
        "fuel_on": [(0, 0), (22, 1), (60, 0)],
        "starter": [(0, 0), (10, 1), (40, 0), (90, 1), (120, 0)],
    }

    def reasons(counting: str, **more: list[tuple[float, float]]) -> list[str | None]:
        profile = replace(short, starter=replace(counts, reset_counts=counting))
        events = lab.judge(traces | more, 125, profile=profile, earlier=()).events
        return [e.reason for e in events if e.reason in ("run_too_long", "rest_too_short")]

    assert reasons("successful_start") == []
    assert reasons("rest") == ["run_too_long"]
    # The same where fuel was cut before idle: no completed start.
    cut = {"ng": [(0, 0), (10, 0), (17, 20), (23, 20), (40, 50), (75, 2), (90, 2), (97, 20), (125, 20)]}
    assert reasons("successful_start", fuel_on=[(0, 0), (22, 1), (40, 0)], **cut) == ["run_too_long"]


def test_external_power_has_a_table_of_its_own(lab: Analysis) -> None:
    assert motoring(lab, 10, 41, external=1) == [("limit", "run_too_long", 30)]
    assert motoring(lab, 10, 41, external=0) == []
    # 100 s after a run from external power: 150 s are wanted. With one table it holds for both.
    assert motoring(lab, 10, 30, 130, 150, external=1) == [("limit", "rest_too_short", 150)]
    one = with_starter(external_duty=())
    assert motoring(lab, 10, 41, external=1, profile=one) == []
    assert motoring(lab, 10, 56, external=1, profile=one) == [("limit", "run_too_long", 45)]
    # First from battery, then from external power, 100 s apart: the longer rest of both.
    traces = {
        "ng": [(0, 0), (10, 0), (15, 20), (30, 20), (36, 0), (130, 0), (135, 20), (150, 20)],
        "itt": [(0, 15)], "bus_volts": [(0, 25)], "fuel_on": [(0, 0)],
        "starter": [(0, 0), (10, 1), (30, 0), (130, 1), (150, 0)], "external_power": [(0, 0), (80, 1)],
    }  # fmt: skip
    events = lab.judge(traces, 160, profile=with_starter()).events
    assert [(e.reason, e.allowed_s) for e in events] == [("rest_too_short", 150)]


def test_the_rest_before_is_known_by_the_longest_that_could_count(lab: Analysis) -> None:
    def open_points(begin: float, reset_s: float | None) -> list[str]:
        profile = with_starter(
            duty=(DutyRow(45, 20),), external_duty=(DutyRow(45, 40),), reset_after_s=reset_s
        )
        traces = {
            "ng": [(0, 0), (begin, 0), (begin + 5, 20), (begin + 20, 20), (begin + 26, 0)],
            "itt": [(0, 15)], "fuel_on": [(0, 0)], "bus_volts": [(0, 25)], "external_power": [(0, 0)],
            "starter": [(0, 0), (begin, 1), (begin + 20, 0)],
        }  # fmt: skip
        a = lab.judge(traces, begin + 30, profile=profile, earlier=())
        return [p.what for p in a.not_judged if "rest before" in p.what]

    unknown = ["starter rest before the first start"]
    # 40 s are asked after external power; what was before the recording may have had it.
    assert open_points(39.875, None) == unknown
    assert open_points(40.0, None) == []
    # A row's place in the order is known only after a rest that begins it anew.
    assert open_points(40.0, 60.0) == unknown
    assert open_points(60.0, 60.0) == []
    assert open_points(39.875, 20.0) == unknown


def test_an_overrun_is_marked_over_the_whole_run(lab: Analysis) -> None:
    traces = {
        "ng": [(0, 0), (10, 0), (15, 20), (70, 20)], "itt": [(0, 15)], "bus_volts": [(0, 25)], "fuel_on": [(0, 0)],
        "external_power": [(0, 0)], "starter": [(0, 0), (10, 1), (60, 0)],
    }  # fmt: skip
    (event,) = lab.judge(traces, 70, profile=with_starter()).events
    assert (event.start_s, event.end_s, event.spans) == (10.0, 60.0, ((10.0, 60.0),))


def test_an_unknown_source_takes_the_stricter_table_as_possible(lab: Analysis) -> None:
    assert motoring(lab, 10, 41, external=None) == [("possible", "run_too_long", 30)]
    assert motoring(lab, 10, 30, 130, 150, external=None) == [("possible", "rest_too_short", 150)]


def test_runs_before_the_recording_count_when_they_are_known(lab: Analysis) -> None:
    def result(earlier: tuple[StarterRun, ...], on_s: float = 10.0) -> tuple[list[str], list[str | None]]:
        traces = {
            "ng": [(0, 0), (on_s, 0), (on_s + 5, 20), (on_s + 20, 20)],
            "itt": [(0, 15)],
            "bus_volts": [(0, 25)],
            "fuel_on": [(0, 0)],
            "external_power": [(0, 0)],
            "starter": [(0, 0), (on_s, 1), (on_s + 20, 0)],
        }
        a = lab.judge(traces, on_s + 30, profile=with_starter(), earlier=earlier, rate_hz=1.0)
        return [p.what for p in a.not_judged], [e.reason for e in a.events]

    assert result(()) == (["starter rest before the first start"], [])
    assert result(RESTED) == ([], [])
    assert result((StarterRun(-60.0, -30.0, 30.0, 30.0, 30.0, "battery"),)) == ([], ["rest_too_short"])
    # Two earlier runs with a short rest between them are not this recording's doing.
    two = (
        StarterRun(-5000.0, -4970.0, 30, 30, 30, "battery"),
        StarterRun(-4960.0, -4930.0, 30, 30, 30, "battery"),
    )
    assert result(two) == ([], [])
    # The recording itself shows 2400 s of rest.
    assert result((), 2400.0) == ([], [])


def test_a_run_that_cools_an_abort_says_so(lab: Analysis) -> None:
    # One starter run of 60 s, through the cut at 33 s; then another, 20 s later, to cool on.
    traces = normal_start() | {
        "ng": [
            (0, 0),
            (10, 0),
            (17, 20),
            (23, 20),
            (33, 38),
            (45, 20),
            (70, 20),
            (76, 2),
            (90, 2),
            (96, 20),
            (110, 20),
        ],
        "itt": [(0, 15), (23, 15), (27, 560), (33, 700), (45, 420), (110, 100)],
        "bus_volts": [(0, 25)],
        "fuel_on": [(0, 0), (22, 1), (33, 0)],
        "starter": [(0, 0), (10, 1), (70, 0), (90, 1), (110, 0)],
    }
    events = lab.judge(traces, 120, profile=with_starter()).events
    assert [(e.reason, e.during_abort) for e in events] == [("run_too_long", True), ("rest_too_short", True)]
