"""Work on a thread of its own: it is broken off while it goes on, and never afterwards."""

import threading
from pathlib import Path

import pytest

from debrief.session.apart import apart
from debrief.session.opening import open_recording
from debrief.session.why import measure_why

DEMO = Path(__file__).parents[2] / "demo_flights" / "02_early_fuel_hot.csv"


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
    many = len(seen)
    assert many == len(seen)
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
