"""Trends of an engine from what is kept, and its earlier starter runs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from debrief.analysis.model import StarterRun
from debrief.history.command.texts import trend_lines
from debrief.history.storage.store import Store
from debrief.history.trends.series import trend
from debrief.session.charts.trend_chart import trend_legend
from debrief.words.cautions import RANGE_COUNTS
from tests.history.history_making import FIRST, made_assessment, made_event, made_start, series

ENGINE = "TG7-0042"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(str(tmp_path / "history.sqlite")) as opened:
        yield opened


def keep(store: Store, peaks) -> None:
    for assessment in series(peaks):
        store.keep(assessment)


WAVE = [740.0 + 4 * (index % 5) for index in range(30)]


def test_a_shift_is_said_with_its_size_and_since_when(store):
    keep(store, [*WAVE, *(value + 30 for value in WAVE[:10])])
    one = trend(store, ENGINE, "peak_itt")
    ((shift, sentence),) = one.changes
    assert shift.lasting
    assert sentence == (
        "Shifted: 30 °C higher than normal (748 °C) since 2031-05-01 (median of 10 battery starts)."
    )
    assert sentence in one.words
    assert "The normal range is not a limit." in one.words


def test_a_quiet_engine_has_no_shift(store):
    keep(store, WAVE)
    one = trend(store, ENGINE, "peak_itt")
    assert one.changes == ()
    assert one.words.endswith("No lasting shift in 30 starts.")
    assert len(one.average.values) == 30


def test_too_few_starts_are_shown_but_nothing_is_charted(store):
    keep(store, WAVE[:5])
    one = trend(store, ENGINE, "peak_itt")
    assert len(one.points) == 5
    assert one.average is None
    assert "Not enough history: 5 of the 15" in one.words
    assert {point.outside for point in one.points} == {None}


def test_an_excluded_start_is_shown_but_not_charted(store):
    keep(store, [*WAVE[:20], 1000.0])
    store.exclude(store.find("flight-020.csv"), 1, "Probe fault found.")
    one = trend(store, ENGINE, "peak_itt")
    assert one.points[-1].excluded == "Probe fault found."
    assert one.charted == tuple(range(20))
    assert one.changes == ()


def test_undated_failed_and_other_powered_starts_are_not_in_the_trend(store):
    keep(store, WAVE[:15])
    external = (StarterRun(10.0, 45.0, 35.0, 34.9, 35.1, "external"),)
    store.keep(made_assessment("undated.csv", at=None, starts=[made_start(peak_itt_c=1.0)]))
    store.keep(made_assessment("hung.csv", starts=[made_start(peak_itt_c=2.0, outcome="hung")]))
    store.keep(made_assessment("cart.csv", starts=[made_start(peak_itt_c=3.0, starter_runs=external)]))
    one = trend(store, ENGINE, "peak_itt")
    assert min(point.value for point in one.points) == 740.0
    assert [point.value for point in trend(store, ENGINE, "peak_itt", power="external").points] == [3.0]


def test_a_trend_begins_anew_at_the_last_maintenance_action(store):
    keep(store, [*WAVE, *(value + 30 for value in WAVE[:16])])
    store.note_maintenance(ENGINE, FIRST + timedelta(days=30), "Nozzles changed.")
    one = trend(store, ENGINE, "peak_itt")
    assert len(one.points) == 16
    assert one.changes == ()
    assert one.band.since == "Nozzles changed."


def test_a_measure_that_nothing_has_is_said(store):
    keep(store, WAVE[:3])
    assert "no dated completed start has it" in trend(store, ENGINE, "oil_rise").words


def test_who_reads_a_trend_is_told_that_exceeded_starts_count_and_they_do(store):
    """Of fifteen starts one exceeded its limit: without it nothing would be called normal yet."""
    flights = series(WAVE[:15])
    bad = replace(flights[7], verdict="exceeded", events=(made_event(start_number=1),))
    for assessment in [*flights[:7], bad, *flights[8:14]]:
        store.keep(assessment)
    few = trend(store, ENGINE, "peak_itt")
    assert not few.band.enough
    assert RANGE_COUNTS not in trend_legend([few])
    assert RANGE_COUNTS not in trend_lines([few])
    store.keep(flights[14])
    one = trend(store, ENGINE, "peak_itt")
    assert one.band.count == 15
    assert (bad.recording.provenance.sha256, 1, 1) in one.band.members
    assert "also one that exceeded a limit" in trend_legend([one])
    assert trend_lines([one, few]).count(RANGE_COUNTS) == 1
