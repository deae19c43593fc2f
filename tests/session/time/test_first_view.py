"""A recording opens where it matters most, with the playhead in view."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from debrief.session.assessing.file_assessment import Choices
from debrief.session.opening.opening_steps import assess_recording
from debrief.session.session import Session, prepare
from debrief.session.texts.story import start_frame
from debrief.session.time.first_view import first_engine
from tests.demo_assessing import DEMOS, assessed
from tests.session import assessment_maker as made
from tests.session.texts.test_story_order import twin


def opened(assessment) -> Session:
    return Session(Path("x.csv"), assessment, prepare(assessment))


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_a_demo_flight_opens_at_what_the_verdict_names_first(path):
    session = opened(assessed(path))
    framing, position = session.framing, session.playback.position_s
    assert framing.begin_s <= position <= framing.end_s
    events = session.assessment.events
    if not events:
        assert session.selected is None
        start = next(s for s in session.assessment.starts if s.begin_s == position)
        assert (framing.begin_s, framing.end_s) == start_frame(start)
        return
    event = session.story[session.selected].event
    told = [(str(session.sentence).find(str(e.message)), e) for e in events]
    named = [pair for pair in told if pair[0] >= 0]
    if named:
        assert event is min(named, key=lambda pair: pair[0])[1]
    assert framing.begin_s <= event.start_s
    assert framing.end_s >= (event.start_s if event.peak_s is None else event.peak_s)
    assert event.start_s <= position <= event.end_s


def test_the_burning_after_a_shutdown_is_in_view_though_its_start_was_long_before():
    session = opened(assessed(next(path for path in DEMOS if path.name.startswith("19"))))
    assert session.story[session.selected].title == "Fire after shutdown"
    assert session.framing.begin_s > 57.25  # the start is over
    assert session.framing.begin_s <= 171.75 <= session.playback.position_s <= session.framing.end_s


def test_of_several_starts_that_exceeded_nothing_the_real_one_is_shown_not_the_motoring():
    session = opened(assessed(next(path for path in DEMOS if path.name.startswith("08"))))
    assert session.playback.position_s == 165.0
    assert session.framing.begin_s > 37.0


def test_a_start_that_ended_badly_matters_more_than_a_hotter_one():
    assessment = replace(made.hot_start(), events=())
    first = replace(assessment.starts[0], outcome="completed", peak_itt_c=1200.0)
    later = {"begin_s": 60.0, "starter_on_s": 60.0, "starter_off_s": 80.0, "end_s": 90.0}
    second = replace(
        assessment.starts[0], number=2, fuel_off_s=None, peak_itt_s=None, peak_itt_c=None, **later
    )
    assert opened(replace(assessment, starts=(first, second))).playback.position_s == 60.0


def test_where_nothing_was_judged_all_is_in_view_and_the_playhead_at_the_highest_temperature():
    session = opened(replace(made.without_profile(), starts=()))
    assert session.framing.shows_all
    itt = session.recording.channels["itt"]
    assert session.playback.position_s == itt.time_s[itt.values.argmax()]


@pytest.mark.parametrize(("second", "engine"), [("06", 2), ("01", 1)])
def test_of_two_engines_the_one_that_matters_is_shown(second, engine):
    found = twin(second)
    assert first_engine(found) == engine
    steps = assess_recording(Path("twin.csv"), found.recording, Choices(profile="tarn-tg7"))
    session = None
    while session is None:
        try:
            next(steps)
        except StopIteration as done:
            session = done.value
    assert session.engine == engine
    if session.selected is not None:
        assert session.story[session.selected].engine == engine
