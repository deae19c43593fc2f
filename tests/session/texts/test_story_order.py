"""The story stands in order of time, over the demo flights, two engines, and starts put anywhere."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.analysis.assess import assess
from debrief.analysis.model import Assessment, Event, Phase
from debrief.profile.loader import find
from debrief.session.session import Session, prepare
from debrief.session.texts.story import StoryStep, story
from debrief.words.numbers import clock_text
from tests.demo_assessing import DEMOS, assessed
from tests.session import assessment_maker as made

DEMO = {path.name[:2]: path for path in DEMOS}


def in_order(steps: tuple[StoryStep, ...]) -> None:
    """Check the laws of the order: by time; causes, then what was found, then how it ended; below one's heading."""
    timed = [step for step in steps if step.shows_time]
    assert [step.time_s for step in timed] == sorted(step.time_s for step in timed)
    # What shares a moment with a finding of the same start and stands after it is a finding, too, or came later.
    for before, after in pairwise(timed):
        same = (before.engine, before.start_number) == (after.engine, after.start_number)
        if same and before.time_s == after.time_s and is_row_of_a_finding(before):
            assert is_row_of_a_finding(after), (before.title, after.title)
    headings = {(s.engine, s.start_number): i for i, s in enumerate(steps) if s.shape == "heading"}
    ends = {
        (s.engine, s.start_number): i
        for i, s in enumerate(steps)
        if not s.shows_time and s.shape != "heading"
    }
    under: tuple[int, int | None] | None = None
    for index, step in enumerate(steps):
        own = (step.engine, step.start_number)
        if step.shape == "heading":
            under = own
        elif step.start_number is not None:
            assert not headings or headings[own] < index
            if headings and under != own:
                assert f", start {step.start_number}" in step.title or ", start, engine" in step.title
            if not is_row_of_a_finding(step):
                assert index <= ends[own], (step.title, "after", steps[ends[own]].title)


def is_row_of_a_finding(step: StoryStep) -> bool:
    """Whether a row is only a finding: early fuel is told in the row of the fuel."""
    return step.event is not None and not step.title.startswith("Fuel on")


@cache
def twin(second: str) -> Assessment:
    """Return a cool start beside another demo's start at the same time, as that of the second engine."""
    first = assessed(DEMO["01"]).recording
    channels = dict(first.channels)
    for name, channel in assessed(DEMO[second]).recording.channels.items():
        if name in ("ng", "itt", "fuel_on", "starter", "ignition"):
            channels[f"{name}.2"] = replace(channel, name=f"{name}.2")
    return assess(first.with_channels(channels), find("tarn-tg7"))


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_a_demo_flight_is_told_in_order(path):
    in_order(story(assessed(path)))


@pytest.mark.parametrize("second", ["06", "09", "11", "19"])
def test_two_engines_at_the_same_time_are_told_in_order(second):
    steps = story(twin(second))
    in_order(steps)
    assert {step.engine for step in steps} == {1, 2}
    assert any(step.title.endswith(", start, engine 1") for step in steps)


def test_what_followed_from_a_moment_stands_below_it():
    titles = [step.title for step in story(assessed(DEMO["06"]))]
    assert titles[-4:] == ["Fuel cut-off", "Starter off", "Motoring too short", "Aborted"]
    titles = [step.title for step in story(assessed(DEMO["19"]))]
    assert titles.index("Shutdown") < titles.index("Fire after shutdown")
    steps = {step.title: step for step in story(assessed(DEMO["11"]))}
    # A rest is too short when the starter comes on again, not when it went off.
    assert clock_text(steps["Starter rest too short"].time_s) == clock_text(181.0)


def moved(event: Event, start_s: float, number: int | None) -> Event:
    return replace(event, start_s=start_s, end_s=start_s + 1.0, peak_s=None, start_number=number)


times = st.integers(0, 1600).map(lambda n: n / 8)


@given(
    begins=st.lists(times, min_size=0, max_size=4),
    found=st.lists(st.tuples(times, st.integers(0, 4), st.booleans()), max_size=6),
    phases=st.lists(st.tuples(times, times), max_size=4),
)
def test_whatever_overlaps_is_told_in_order(begins, found, phases):
    assessment = made.hot_start()
    base, events = assessment.starts[0], assessment.events
    starts = []
    for number, begin in enumerate(begins, start=1):
        by = begin - base.begin_s
        fields = (
            "begin_s",
            "end_s",
            "starter_on_s",
            "fuel_on_s",
            "light_off_s",
            "peak_itt_s",
            "fuel_off_s",
            "starter_off_s",
        )
        shifted = {name: value + by for name in fields if (value := getattr(base, name)) is not None}
        starts.append(replace(base, number=number, fuel_periods=(), **shifted))
    numbers = {start.number for start in starts}
    told = tuple(moved(events[hot], at, number if number in numbers else None) for at, number, hot in found)
    flown = tuple(
        Phase(name, min(span), max(span))
        for name, span in zip(("ground", "climb", "cruise", "landing"), phases, strict=False)
    )
    in_order(story(replace(assessment, starts=tuple(starts), events=told, phases=flown)))


def test_of_two_engines_at_one_time_the_row_of_the_one_in_view_is_the_current_one():
    assessment = twin("06")
    for engine in (1, 2):
        session = Session(Path("twin.csv"), assessment, prepare(assessment, engine), engine=engine)
        session.playback.seek(20.0)
        step = session.story[session.step_in_play]
        assert step.title.startswith("Starter on")
        assert step.engine == engine
