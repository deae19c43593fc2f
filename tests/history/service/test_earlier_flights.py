"""What the flights kept, and a person before, tell of the starter before a recording."""

from __future__ import annotations

import math
import time
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from debrief.analysis.model import StarterRun
from debrief.errors import UserError
from debrief.history.service.earlier_flights import (
    earlier_runs,
    keep_option,
    known_before,
    known_in,
    remember_rest,
)
from debrief.history.storage import schema
from debrief.history.storage.store import Store
from debrief.session.assessing.starter_rest import Known, rest_before
from tests.history.history_making import FIRST, made_assessment, made_start

HOURS = timedelta(hours=1)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(str(tmp_path / "history.sqlite")) as opened:
        yield opened


def runs(store: Store, at: datetime | None, name: str = "now.csv", **of) -> tuple:
    return earlier_runs(store, made_assessment(name, at=at, **of).recording)


def ends(found) -> list[float]:
    return [run.end_s for run in found]


def test_they_come_in_the_time_of_the_later_recording_with_where_they_came_from(store):
    store.keep(made_assessment("before.csv"))
    (run,) = runs(store, FIRST + timedelta(minutes=10))
    assert (run.start_s, run.end_s) == (-590.0, -555.0)
    assert (run.duration_s, run.power, run.start_number, run.engine) == (35.0, "battery", None, 1)
    assert (run.source, run.file_name, run.clock_doubt_s) == ("history", "before.csv", 1.0)
    assert run.sha256 == made_assessment("before.csv").recording.provenance.sha256


def test_the_last_run_is_known_however_long_ago_and_brings_only_its_own_series(store):
    for days, name in ((900, "oldest.csv"), (400.3, "a.csv"), (400, "b.csv")):
        store.keep(made_assessment(name, at=FIRST - timedelta(days=days)))
    assert [run.file_name for run in runs(store, FIRST)] == ["a.csv", "b.csv"]


def test_runs_that_overlap_or_are_later_or_undated_or_of_another_engine_are_none(store):
    store.keep(made_assessment("other.csv", serial="TG7-0001"))
    store.keep(made_assessment("later.csv", at=FIRST + 2 * HOURS))
    store.keep(made_assessment("overlaps.csv", at=FIRST + HOURS - timedelta(seconds=20)))
    store.keep(made_assessment("undated.csv", at=None))
    assert runs(store, FIRST + HOURS) == ()
    assert runs(store, None) == ()
    assert runs(store, FIRST + HOURS, serial=None, aircraft=None) == ()


def test_the_same_recording_is_not_before_itself(store):
    store.keep(made_assessment("before.csv"))
    assert runs(store, FIRST, "before.csv") == ()
    assert runs(store, FIRST + HOURS, "before.csv") == ()


def test_each_engine_of_an_aircraft_has_its_own(store):
    second = made_start(engine=2, starter_runs=(StarterRun(70.0, 90.0, 20.0, 20.0, 20.0, "battery"),))
    store.keep(made_assessment("twin.csv", engines=2, starts=[made_start(), second]))
    found = runs(store, FIRST + HOURS, engines=2)
    assert [(run.engine, run.end_s) for run in found] == [(1, -3555.0), (2, -3510.0)]


def test_a_run_that_went_on_when_its_recording_ended_is_not_passed_over(store):
    """The one before it would make the rest look longer than it was."""
    cut = (StarterRun(100.0, None, 20.0, 20.0, None, "battery"),)
    store.keep(made_assessment("long ago.csv", at=FIRST - 5 * HOURS))
    store.keep(made_assessment("cut.csv", starts=[made_start(starter_runs=cut)]))
    last = runs(store, FIRST + HOURS)[-1]
    assert (last.file_name, last.end_s) == ("cut.csv", -3480.0)
    assert last.end_s + last.clock_doubt_s >= 0


def test_a_clock_without_a_zone_shows_nothing_within_fourteen_hours(store):
    plain = FIRST.replace(tzinfo=None)
    store.keep(made_assessment("plain.csv", at=plain))
    for at in (plain + HOURS, FIRST + HOURS):
        (run,) = runs(store, at)
        assert (run.end_s, run.clock_doubt_s) == (-3555.0, 14 * 3600.0)
    # By such a clock a flight of two hours later may have been just before.
    (run,) = runs(store, plain - 2 * HOURS)
    assert (run.end_s, run.clock_doubt_s) == (0.0, 14 * 3600.0)
    assert runs(store, plain - 15 * HOURS) == ()


def test_an_instant_that_a_person_typed_is_known_to_the_minute(store):
    typed = made_assessment("typed.csv")
    identity = replace(typed.recording.identity, start_source="option")
    store.keep(replace(typed, recording=replace(typed.recording, identity=identity)))
    assert [run.clock_doubt_s for run in runs(store, FIRST + HOURS)] == [60.0]


# What a person said


def test_what_a_person_said_is_kept_with_the_recording_and_taken_back():
    recording = made_assessment().recording
    assert known_before(recording).rest_s is None
    remember_rest(recording.provenance.sha256, 600.0)
    assert known_before(recording).rest_s == 600.0
    assert known_before(made_assessment("another.csv").recording).rest_s is None
    remember_rest(recording.provenance.sha256, None)
    assert known_before(recording).rest_s is None


def test_what_was_said_of_one_engine_says_nothing_of_the_other_and_older_answers_are_read():
    recording, other = made_assessment().recording, made_assessment("another.csv").recording
    remember_rest(recording.provenance.sha256, None, ((1, 600.0), (2, None)))
    remember_rest(other.provenance.sha256, 90.0)
    assert known_before(recording).rests == ((1, 600.0), (2, None))
    assert known_before(recording).rest_s is None
    assert (known_before(other).rest_s, known_before(other).rests) == (90.0, ())


def test_options_say_it_of_one_engine_or_of_all():
    recording = made_assessment().recording
    keep_option(recording, [])
    assert known_before(recording) == Known()
    keep_option(recording, [(None, 600.0), (2, 90.0)])
    keep_option(recording, [(1, 30.0), (2, math.nan)])
    assert (known_before(recording).rest_s, known_before(recording).rests) == (600.0, ((1, 30.0), (2, None)))
    keep_option(recording, [(None, math.nan)])
    assert (known_before(recording).rest_s, known_before(recording).rests) == (None, ())


def test_what_was_said_of_each_engine_at_another_desk_comes_with_the_history(store):
    runs = (*rest_before(600.0), *rest_before(1200.0))
    context = tuple(replace(run, engine=engine) for engine, run in enumerate(runs, start=1))
    told = replace(made_assessment("told.csv"), context=context)
    store.keep(told)
    assert dict(known_in(store, told.recording).rests) == {1: 600.0, 2: 1200.0}


def test_what_was_said_at_another_desk_comes_with_the_history_until_it_is_taken_back(store):
    told = replace(made_assessment("told.csv"), context=rest_before(600.0))
    store.keep(told)
    assert known_in(store, told.recording).rest_s == 600.0
    remember_rest(told.recording.provenance.sha256, None)
    assert known_in(store, told.recording).rest_s is None


def test_a_history_that_is_named_has_to_be_there(tmp_path):
    with pytest.raises(UserError, match="There is no history"):
        known_before(made_assessment().recording, str(tmp_path / "none.sqlite"))
    assert not (tmp_path / "none.sqlite").exists()


def test_among_ten_thousand_flights_it_takes_milliseconds(store):
    """Measured 12 ms; a limit ten times that leaves slow machines their time and finds one that reads all flights."""
    store.keep(made_assessment("kept.csv"))
    r, s = schema.recordings, schema.starts
    with store.engine.begin() as connection:
        flight = dict(connection.execute(r.select()).mappings().one())
        start = dict(connection.execute(s.select()).mappings().one())
        flights, starts = [], []
        for index in range(10_000):
            epoch = flight["start_epoch_s"] - 7200.0 * (index + 1)
            key = {"sha256": f"{index:064x}"}
            flights.append({**flight, **key, "start_epoch_s": epoch, "document": "never read"})
            starts.append({**start, **key, "at_epoch_s": epoch + 10})
        connection.execute(r.insert(), flights)
        connection.execute(s.insert(), starts)
        connection.execute(r.delete().where(r.c.sha256.in_([f"{index:064x}" for index in range(50)])))
    began = time.perf_counter()
    (run,) = runs(store, FIRST + HOURS)
    assert time.perf_counter() - began < 0.12
    assert run.file_name == "kept.csv"
