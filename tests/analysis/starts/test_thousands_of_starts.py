"""Noise on starter, fuel and temperature makes thousands of starts: each costs the same, and paper says what it leaves out."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from functools import cache, partial

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment
from debrief.analysis.verdict import MOST_STARTS, sentence_of
from debrief.profile.loader import find
from debrief.recording.model import Channel, Recording, frozen
from debrief.report.content.budget import MOST_ROWS, MOST_SIGNS, MOST_START_PAGES
from debrief.report.content.options import ReportOptions
from debrief.report.content.whole_report import build
from debrief.session.texts.story import story
from debrief.words.channels import CANONICAL


def noise(rows: int) -> Recording:
    """Return rows of noise, one a second."""
    rng = np.random.default_rng(1)
    time_s = frozen(np.arange(rows) * 1.0)
    made = {
        "ng": rng.uniform(0, 110, rows),
        "itt": rng.uniform(0, 1100, rows),
        "fuel_on": rng.integers(0, 2, rows) * 1.0,
        "starter": rng.integers(0, 2, rows) * 1.0,
        "bus_volts": rng.uniform(10, 30, rows),
        "oil_press": rng.uniform(0, 100, rows),
        "ias": rng.uniform(0, 100, rows),
    }
    channels = {k: Channel(k, CANONICAL[k], time_s, v) for k, v in made.items()}
    return Recording(channels, float(time_s[-1]))


@cache
def judged(rows: int) -> Assessment:
    return assess(noise(rows), find("tarn-tg7"))


def work(do: Callable[[], object], kind: str) -> int:
    """Return how many calls or lines of Python are run: unlike time, the same on a busy machine."""
    count = 0

    def tally(frame: object, event: str, argument: object) -> object:
        nonlocal count
        count += kind in (event, "call")
        return tally

    setter = sys.setprofile if kind == "call" else sys.settrace
    before = sys.getprofile() if kind == "call" else sys.gettrace()
    setter(tally)  # type: ignore[arg-type]
    try:
        do()
    finally:
        setter(before)  # type: ignore[arg-type]
    return count


@pytest.mark.slow  # what counts calls takes ten times as long
def test_four_times_as_many_starts_cost_little_more_than_four_times() -> None:
    """The benchmark of the same name measures seconds, up to 3000 starts."""
    small, large = judged(800), judged(3200)
    more = len(large.starts) / len(small.starts)
    at = [work(partial(assess, made.recording, made.profile), "call") for made in (small, large)]
    assert at[1] < 1.2 * more * at[0]


def test_the_story_of_twice_as_many_starts_costs_twice_as_much() -> None:
    small, large = judged(500), judged(1000)
    more = len(large.starts) / len(small.starts)
    assert work(partial(story, large), "line") < 1.25 * more * work(partial(story, small), "line")


def test_the_sentence_names_a_few_and_counts_the_rest() -> None:
    starts = judged(800).starts
    bad = sum(s.outcome in ("aborted", "no_light_off", "flamed_out", "hung", "unknown") for s in starts)
    sentence = sentence_of("undetermined", (), starts, ())
    assert bad > 50
    assert sentence.count(": ") == MOST_STARTS
    # neighbours that came out alike are told in one: starts 6 to 18
    told = sum(int(b or a) - int(a) + 1 for a, b in re.findall(r"starts? (\d+)(?: to (\d+))?:", sentence))
    assert f", and {bad - told} more." in sentence


def test_the_paper_says_how_many_starts_and_rows_it_leaves_out() -> None:
    found = judged(1200)
    content = build(found, ReportOptions())
    pages = [section for section in content.sections if section.title.startswith("Start ")]
    assert len(pages) == MOST_START_PAGES
    numbers = [int(section.title.split()[1].rstrip(",:")) for section in pages]
    assert numbers == sorted(numbers)
    said = repr(content)
    assert f"{len(found.starts)} starts were found" in said
    assert "a paper of one start has the page of any other" in said
    assert f"And {len(found.events) - MOST_ROWS} more events that have no row here" in said
    chart = content.sections[0].blocks
    signs = max(len(getattr(block, "signs", ())) for block in chart)
    assert 0 < signs <= MOST_SIGNS


def test_a_few_starts_are_all_on_paper_and_nothing_is_said() -> None:
    found = judged(150)
    content = build(found, ReportOptions())
    assert len(found.starts) < MOST_START_PAGES
    assert len([s for s in content.sections if s.title.startswith("Start ")]) == len(found.starts)
    assert "no row here" not in repr(content)
    assert "starts were found" not in repr(content)
