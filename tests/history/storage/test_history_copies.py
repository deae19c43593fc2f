"""Whole copies of a history beside it: when they are made, that they are whole, and how many stay."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from debrief.cli import main
from debrief.errors import UserError
from debrief.history.exchange.soundness import soundness
from debrief.history.storage import copies
from debrief.history.storage.copies import MOST_KEPT, copies_of, keep_copy, keep_weekly_copy, newest_copy
from debrief.history.storage.migrations import MIGRATIONS, Migration
from debrief.history.storage.store import Store
from tests.history.exchange.test_history_damage import change, overwrite
from tests.history.history_making import made_assessment

NOW = datetime.now(UTC)
OLD = "UPDATE recordings SET added_at = '2020-01-01T00:00:00.000000+00:00'"


def _nothing(_: Path) -> None:
    return


@pytest.fixture
def file(tmp_path: Path) -> Path:
    out = tmp_path / "h.sqlite"
    with Store.open(str(out)) as store:
        store.keep(made_assessment())
    return out


def test_a_new_history_has_no_copy_and_one_that_is_a_week_old_gets_one_when_it_is_written(file):
    with Store.open(str(file)) as store:
        store.keep(made_assessment("two.csv"))
        assert copies_of(file) == store.said() == ()
    change(file, OLD)
    with Store.open(str(file)) as store:
        store.flights()
        assert copies_of(file) == ()
        store.keep(made_assessment("three.csv"))
        (copy,) = copies_of(file)
        (words,) = store.said()
        assert str(copy.file) in words
        assert str(MOST_KEPT) in words
        assert store.said() == ()
        store.keep(made_assessment("four.csv"))
        assert copies_of(file) == (copy,)
    with Store.open(str(copy.file)) as kept:
        assert {flight.file_name for flight in kept.flights()} == {"one.csv", "two.csv"}
        assert soundness(kept) == ()


def test_a_command_says_once_where_the_copy_is(file, capsys):
    change(file, OLD)
    arguments = ["history", "maintenance", "TG7-0042", "Nozzles.", "--on", "2031-05-04", "--db", str(file)]
    assert main(arguments) == 0
    (copy,) = copies_of(file)
    assert str(copy.file) in capsys.readouterr().err
    assert main(arguments) == 0
    assert capsys.readouterr().err == ""


def test_the_newest_ones_of_each_kind_stay(file):
    keep_copy(file, "form-1", _nothing, NOW - timedelta(days=300))
    for week in range(7):
        assert keep_weekly_copy(file, _nothing, NOW + timedelta(days=7.5 * (week + 1))) is not None
    found = copies_of(file)
    assert [copy.weekly for copy in found] == [True] * MOST_KEPT + [False]
    assert found[0].made - found[3].made == timedelta(days=22.5)
    assert newest_copy(file) == found[0]


def test_a_clock_that_was_set_back_stops_no_copies(file):
    keep_copy(file, "week", _nothing, NOW + timedelta(days=4000))
    assert keep_weekly_copy(file, _nothing, NOW) is not None


@pytest.mark.parametrize("broken", ["backup", "fsync"])
def test_a_copy_that_breaks_off_never_has_its_name_and_stops_the_writing(file, monkeypatch, broken):
    change(file, OLD)

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    if broken == "fsync":
        monkeypatch.setattr(copies.os, "fsync", fail)
    else:
        monkeypatch.setattr(copies, "_copy_whole", fail)
    with Store.open(str(file)) as store:
        with pytest.raises(UserError, match=r"could not be copied.*No space left.*Nothing was changed"):
            store.keep(made_assessment("two.csv"))
        assert len(store.flights()) == 1
    assert copies_of(file) == ()
    assert [one.name for one in file.parent.iterdir() if one.suffix != ".sqlite"] == []


def test_a_copy_that_holds_fewer_rows_is_not_kept(file, monkeypatch):
    change(file, OLD)
    counts = iter([{"recordings": 1}, {"recordings": 0}])
    monkeypatch.setattr(copies, "_counts", lambda _: next(counts))
    with Store.open(str(file)) as store, pytest.raises(UserError, match="other rows"):
        store.keep(made_assessment("two.csv"))
    assert copies_of(file) == ()


def test_a_damaged_history_makes_no_copy_and_the_good_one_is_named(file, monkeypatch):
    good = keep_copy(file, "week", _nothing, NOW - timedelta(days=30))
    before = good.file.read_bytes()
    # Too large to be looked at whole at each opening: the copy is.
    monkeypatch.setattr("debrief.history.storage.form.MOST_BYTES", 0)
    with sqlite3.connect(file) as connection:
        sql = "SELECT rootpage FROM sqlite_master WHERE name = 'ix_starts_engine_key'"
        (root,) = connection.execute(sql).fetchone()
    connection.close()
    overwrite(file, (root - 1) * 4096 + 100, b"\x00" * 3996)
    with Store.open(str(file)) as store, pytest.raises(UserError, match="is damaged") as caught:
        store.note_maintenance("TG7-0042", NOW, "Nozzles changed.")
    assert str(good.file) in str(caught.value)
    assert good.day in str(caught.value)
    assert [copy.file for copy in copies_of(file)] == [good.file]
    assert good.file.read_bytes() == before


def test_the_copy_before_a_new_form_is_whole_and_told(file):
    last = MIGRATIONS[-1].version
    step = Migration(last + 1, "a column of tomorrow", ("ALTER TABLE recordings ADD COLUMN weather TEXT",))
    with Store.open(str(file), migrations=(*MIGRATIONS, step)) as store:
        (words,) = store.said()
    (copy,) = copies_of(file)
    assert not copy.weekly
    assert copy.file.name.startswith(f"h.sqlite.form-{last}-")
    assert str(copy.file) in words
    with Store.open(str(copy.file)) as kept:
        assert len(kept.flights()) == 1


def test_what_was_broken_off_under_another_name_is_no_copy(file):
    for name in ("h.sqlite.week-20310504-080000.part", "h.sqlite.week-2031", "h.sqlite.week-20319904-080000"):
        (file.parent / name).write_bytes(b"")
    (file.parent / "h.sqlite.form-1-20310504-080000-2").write_bytes(b"")
    assert [copy.file.name for copy in copies_of(file)] == ["h.sqlite.form-1-20310504-080000-2"]
