"""Work on a thread of its own: it is broken off while it goes on, and never afterwards."""

import gc
import threading
import time
import weakref
from pathlib import Path

import pytest

from debrief.analysis import assess
from debrief.session.assessing import file_assessment
from debrief.session.assessing.file_assessment import Choices, assess_recording, profile_of, read_recording
from debrief.session.evidence.why import measure_why
from debrief.session.opening.opening_steps import open_recording
from debrief.session.opening.worker_thread import apart
from debrief.session.session import prepare

DEMO = Path(__file__).parents[3] / "demo_flights" / "02_early_fuel_hot.csv"


def _made(steps):
    while True:
        try:
            next(steps)
        except StopIteration as done:
            return done.value


def test_what_was_made_can_go_on_asking_after_the_work_has_ended():
    kept = []
    assert _made(apart(lambda between: kept.append(between) or 7, "at it")) == 7
    kept[0]()


def test_work_that_nobody_waits_for_is_broken_off():
    began, seen = threading.Event(), []

    def work(between):
        began.set()
        while True:
            seen.append(1)
            between()

    steps = apart(work, "at it")
    assert next(steps) == "at it"
    assert began.wait(5.0)
    steps.close()
    assert not any(thread.name == "apart" for thread in threading.enumerate())


def test_an_error_of_the_work_is_raised_where_it_is_waited_for():
    def work(between):
        raise ValueError("wrong")

    with pytest.raises(ValueError, match="wrong"):
        _made(apart(work, ""))


def test_the_evidence_of_a_flight_that_the_window_opened_is_found_when_it_is_asked_for():
    """It is worked out at the first look, long after the flight was opened."""
    session = _made(open_recording(DEMO))
    start = session.assessment.starts[0]
    assert measure_why(session.assessment, start, "ng_at_fuel").samples


def test_something_is_told_again_and_again_while_it_goes_on():
    go_on = threading.Event()
    steps = apart(lambda between: go_on.wait(5), "at it")
    assert [next(steps), next(steps), next(steps)] == ["at it"] * 3
    go_on.set()
    assert _made(steps) is True


def test_a_closed_flight_is_freed_without_the_collector():
    session = _made(open_recording(DEMO))
    array = weakref.ref(session.recording.channels["itt"])
    gc.collect()
    gc.disable()
    try:
        del session
        assert array() is None
    finally:
        gc.enable()


class Enough(Exception):
    pass


def test_an_assessment_can_be_broken_off_between_any_two_of_its_parts():
    recording = read_recording(DEMO)
    profile = profile_of(recording, None)
    calls = []
    whole = assess(recording, profile, (), lambda: calls.append(None))
    many = len(calls)
    assert many > 20
    assert whole.sentence == assess(recording, profile).sentence
    for last in (1, many // 2, many - 1):
        left = [last]

        def between(left=left):
            left[0] -= 1
            if not left[0]:
                raise Enough

        with pytest.raises(Enough):
            assess(recording, profile, (), between)


def test_what_the_views_draw_is_prepared_lane_by_lane():
    choices = Choices()
    assessment = assess_recording(read_recording(DEMO, choices), choices)
    calls = []
    prepared = prepare(assessment, 1, lambda: calls.append(None))
    assert len(calls) == len(prepared.lanes)


def test_a_file_that_is_closed_while_it_is_assessed_leaves_no_thread(monkeypatch):
    inside = threading.Event()

    def slow(recording, profile, earlier, between):
        inside.set()
        while True:
            between()
            time.sleep(0.001)

    monkeypatch.setattr(file_assessment, "assess", slow)
    steps = open_recording(DEMO)
    while not inside.is_set():
        assert next(steps).message
    steps.close()
    assert not any(thread.name == "apart" for thread in threading.enumerate())
