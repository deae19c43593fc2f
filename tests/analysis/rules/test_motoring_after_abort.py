"""Motoring after an abort beside what the profile asks for: found, possible, and where it cannot be told."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment, Event
from debrief.profile.model import AbortRules
from tests.analysis.recording_making import PROFILE, Corners, normal_start, recording

ABORT = {
    "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 38), (60, 20), (75, 2)],
    "itt": [(0, 15), (23, 15), (27, 560), (33, 700), (50, 250), (75, 120)],
    "fuel_on": [(0, 0), (22, 1), (33, 0)],
    "bus_volts": [(0, 24)],  # flat, so that it does not tell the starter
}
"""Fuel is cut at 33 s after a light-off at 23 s."""


def judged(
    starter_off_s: float, end_s: float = 80, rate_hz: float = 8.0, asks: float | None = 20.0, **more: Corners
) -> Assessment:
    traces = normal_start() | ABORT | {"starter": [(0, 0), (10, 1), (starter_off_s, 0)]} | more
    return assess(recording(traces, end_s, rate_hz), replace(PROFILE, abort=AbortRules(asks)))


def found(assessment: Assessment) -> list[Event]:
    return [e for e in assessment.events if e.kind == "motoring_short"]


def open_points(assessment: Assessment) -> list[str]:
    return [p.why for p in assessment.not_judged if p.what == "motoring after the abort"]


def test_too_little_motoring_is_a_finding_of_procedure_in_the_verdict() -> None:
    assessment = judged(42.0)
    (event,) = found(assessment)
    assert (event.event_class, event.severity, event.certain) == ("procedure", "limit", True)
    assert (event.duration_s, event.allowed_s, event.start_number) == (pytest.approx(9.0), 20.0, 1)
    # the last sample with the starter on is 41.875 s, the last with fuel 32.875 s
    assert (event.duration_low_s, event.duration_high_s) == (pytest.approx(8.875), pytest.approx(9.125))
    assert (event.start_s, event.end_s) == (pytest.approx(33.0), pytest.approx(42.0))
    said = "The starter motored for 9.0 s after the fuel cut-off; the minimum is 20 s."
    assert event.message == said
    assert f"Procedure: {said}" in assessment.sentence
    assert event.evidence is not None
    assert event.evidence.profile_key == "abort.motor_for_s"


def test_a_starter_that_was_off_before_the_cut_motored_for_nothing() -> None:
    (event,) = found(judged(31.0))
    assert (event.duration_s, event.duration_low_s, event.duration_high_s) == (0.0, 0.0, 0.0)
    assert event.message == "The engine was not motored after the fuel cut-off; the minimum is 20 s."
    # off between the same two samples as the fuel: up to one interval may have been motored
    (event,) = found(judged(33.0))
    assert event.duration_high_s == pytest.approx(0.125)


def test_where_the_bounds_straddle_it_is_only_possible() -> None:
    (event,) = found(judged(53.0, rate_hz=2.0))
    assert (event.severity, event.certain) == ("possible", False)
    assert "so it may have been too short" in event.message
    assert found(judged(53.5, rate_hz=2.0)) == []
    assert found(judged(54.0)) == []


def test_without_the_key_or_without_an_abort_nothing_is_asked() -> None:
    assert found(judged(42.0, asks=None)) == []
    whole = assess(recording(normal_start(), 80, 8.0), replace(PROFILE, abort=AbortRules(20.0)))
    assert (found(whole), open_points(whole)) == ([], [])
    cold = judged(42.0, itt=[(0, 15)], ng=[(0, 0), (10, 0), (17, 20), (42, 20), (60, 0)])
    assert (found(cold), open_points(cold)) == ([], [])


def test_where_the_recording_ends_before_it_is_not_judged() -> None:
    for early in (judged(90.0, end_s=50), judged(42.0, end_s=52)):
        assert (found(early), open_points(early)) == ([], ["the recording ends before"])
    # the starter is on when it ends, and was for long enough
    assert open_points(judged(90.0, end_s=60)) == []
    assert len(found(judged(42.0, end_s=54))) == 1


def test_without_a_starter_signal_it_is_not_judged() -> None:
    traces = normal_start() | ABORT
    del traces["starter"]
    blind = assess(recording(traces, 80, 8.0), replace(PROFILE, abort=AbortRules(20.0)))
    assert (found(blind), open_points(blind)) == ([], ["starter not recorded"])


def test_an_engagement_without_fuel_that_follows_counts() -> None:
    # 3 s, then the engine stands still, then 17.5 s more
    speed = [(0, 0), (10, 0), (17, 20), (23, 20), (33, 38), (40, 2), (50, 2), (55, 18), (67, 18), (80, 0)]
    again = [(0, 0), (10, 1), (36, 0), (50, 1), (67.5, 0)]
    assert found(judged(0, ng=speed, starter=again)) == []
    (event,) = found(judged(0, ng=speed, starter=[*again[:-1], (60.0, 0)]))
    assert (event.duration_s, event.end_s) == (pytest.approx(13.0), pytest.approx(60.0))


def test_fuel_that_came_again_is_no_abort() -> None:
    again = judged(
        60.0, fuel_on=[(0, 0), (22, 1), (33, 0), (38, 1)], itt=[(0, 15), (23, 15), (27, 560), (80, 600)]
    )
    assert found(again) == []
