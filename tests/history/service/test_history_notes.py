"""Notes wherever they are kept: in the history, beside the settings, written by several at once."""

from __future__ import annotations

import json
import multiprocessing
import sqlite3
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.errors import UserError
from debrief.history.model import Note
from debrief.history.service.history_service import keep
from debrief.history.service.locking import locked
from debrief.history.service.notes import notes_folder, own_notes, remove_own_note, write_own_note
from debrief.history.storage.store import Store
from debrief.home import history_file
from tests.history.note_writers import FLIGHT, SHA, trial


def note(text="Hand moved late to cut-off.", **changes):
    return replace(Note("", SHA, text, "An instructor", 24.0), **changes)


@pytest.fixture(params=["in the history", "beside the settings"])
def place(request, debrief_home):
    if request.param == "in the history":
        keep(FLIGHT)
    return request.param


def test_a_note_is_written_changed_removed_and_brought_back(place):
    first = write_own_note(note()).note
    assert own_notes(SHA) == (first,)
    changed = write_own_note(replace(first, text="Hand moved early."), first.version).note
    assert changed.note_id == first.note_id
    assert [n.text for n in own_notes(SHA)] == ["Hand moved early."]
    assert remove_own_note(changed, changed.version).note is None
    assert own_notes(SHA) == ()
    write_own_note(first)
    assert [n.text for n in own_notes(SHA)] == ["Hand moved late to cut-off."]


def test_notes_of_the_whole_flight_come_first_then_by_time(place):
    for text, at in (("late", 40.0), ("whole", None), ("early", 3.0)):
        write_own_note(note(text, time_s=at))
    assert [n.text for n in own_notes(SHA)] == ["whole", "early", "late"]


def test_two_who_change_the_same_note_lose_neither_text(place):
    read = write_own_note(note("as both read it")).note
    write_own_note(replace(read, text="what one made of it"), read.version)
    second = write_own_note(replace(read, text="what the other made of it"), read.version)
    assert "theirs stays, and yours is kept beside it" in second.told
    assert {n.text for n in own_notes(SHA)} == {"what one made of it", "what the other made of it"}


def test_a_note_that_somebody_changed_meanwhile_is_not_removed(place):
    read = write_own_note(note()).note
    write_own_note(replace(read, text="changed"), read.version)
    assert "was not removed" in remove_own_note(read, read.version).told
    assert [n.text for n in own_notes(SHA)] == ["changed"]


@pytest.mark.parametrize("text", ["", "  \n\t"])
def test_an_empty_note_is_refused(place, text):
    with pytest.raises(UserError, match="empty note"):
        write_own_note(note(text))


@settings(max_examples=40, deadline=None)
@given(st.text(min_size=1).filter(str.strip), st.text())
def test_any_text_of_any_script_comes_back_as_it_was_beside_the_settings(tmp_path_factory, text, author):
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("DEBRIEF_HOME", str(tmp_path_factory.mktemp("home")))
        kept = write_own_note(note(text, author=author)).note
        assert own_notes(SHA) == (kept,)
        assert (kept.text, kept.author) == (text, author)


def test_scripts_and_strange_characters_are_kept_in_the_history(debrief_home):
    keep(FLIGHT)
    texts = [
        "温度が高い",
        "בדיקה חוזרת",
        "مراجعة",
        "line one\nline two",
        "emoji \N{GRINNING FACE}",
        "'; DROP TABLE notes; --",
    ]
    for text in texts:
        write_own_note(note(text))
    assert {n.text for n in own_notes(SHA)} == set(texts)
    # What a database cannot hold is written out, not a fault.
    assert write_own_note(note("half \ud800 and \x00")).note.text == "half \\ud800 and \\x00"


def test_a_note_written_before_the_flight_is_kept_is_in_the_history_after(debrief_home):
    kept = write_own_note(note()).note
    gone = write_own_note(note("to be removed")).note
    remove_own_note(gone)
    keep(FLIGHT)
    with Store.open() as store:
        assert store.notes(SHA) == (kept,)
    assert list(notes_folder().rglob("*.json")) == []
    assert own_notes(SHA) == (kept,)


def test_a_history_that_refuses_loses_no_note_and_takes_it_later(debrief_home):
    keep(FLIGHT)
    whole = history_file().read_bytes()
    history_file().write_bytes(b"no database, words " * 50)
    written = write_own_note(note())
    assert "kept beside the settings until the history takes it" in written.told
    with pytest.raises(UserError):
        own_notes(SHA)
    history_file().write_bytes(whole)
    for left in history_file().parent.glob("history.sqlite-*"):
        left.unlink()
    assert own_notes(SHA) == (written.note,)
    with Store.open() as store:
        assert store.notes(SHA) == (written.note,)


def test_a_file_that_is_no_note_is_passed_over(debrief_home):
    kept = write_own_note(note()).note
    (notes_folder() / SHA / "other.json").write_text('{"a": 1}')
    (notes_folder() / SHA / "broken.json").write_text("{")
    assert own_notes(SHA) == (kept,)


def test_notes_of_one_recording_are_not_those_of_another(place):
    write_own_note(note())
    write_own_note(note("of another", sha256="f" * 64))
    assert [n.text for n in own_notes(SHA)] == ["Hand moved late to cut-off."]
    assert [n.text for n in own_notes("f" * 64)] == ["of another"]


def test_no_history_is_made_by_a_note(debrief_home):
    write_own_note(note())
    assert not history_file().exists()


def _write_many(who: int, home: str) -> None:
    import os

    os.environ["DEBRIEF_HOME"] = home
    for i in range(12):
        write_own_note(Note("", SHA, f"{who} says {i}", time_s=float(i)))


def test_writers_at_the_same_time_lose_no_note(place, debrief_home):
    context = multiprocessing.get_context("spawn")
    writers = [context.Process(target=_write_many, args=(who, str(debrief_home))) for who in range(3)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join(60)
        assert writer.exitcode == 0
    assert {n.text for n in own_notes(SHA)} == {f"{who} says {i}" for who in range(3) for i in range(12)}


def test_no_writer_overwrites_what_it_has_not_seen(place, debrief_home):
    """A short one; `python -m tests.history.note_writers` is the long one."""
    found = trial(debrief_home, writers=4, changes=15)
    assert found.changes > 50
    assert (found.unseen, found.lost) == (0, 0)


def test_a_writer_that_is_killed_under_the_lock_does_not_stop_the_others(debrief_home):
    context = multiprocessing.get_context("spawn")
    held = context.Event()
    holder = context.Process(target=_hold, args=(str(notes_folder() / ".lock"), held))
    holder.start()
    assert held.wait(60)
    holder.kill()
    holder.join(60)
    assert write_own_note(note()).told == ""


def _hold(file, held):
    import time
    from pathlib import Path

    with locked(Path(file)):
        held.set()
        time.sleep(600)


def test_a_lock_that_another_program_holds_is_told(debrief_home, monkeypatch):
    monkeypatch.setattr("debrief.history.service.locking.LONGEST_WAIT_S", 0.05)
    with (
        locked(notes_folder() / ".lock"),
        pytest.raises(UserError, match="in use by another program"),
    ):
        write_own_note(note())


def set_clock(monkeypatch, year):
    text = f"{year:04}-06-01T12:00:00.000000+00:00"
    monkeypatch.setattr("debrief.history.storage.people.now_text", lambda: text)
    monkeypatch.setattr("debrief.history.service.notes._now", lambda: text)


@pytest.mark.parametrize("year", [1970, 9999])
def test_a_correction_stands_whatever_the_clock_says(place, monkeypatch, year):
    read = write_own_note(note("as first written")).note
    set_clock(monkeypatch, year)
    write_own_note(replace(read, text="corrected"), read.version)
    set_clock(monkeypatch, 2031)
    if place == "beside the settings":
        keep(FLIGHT)
    (found,) = own_notes(SHA)
    assert found.text == "corrected"
    write_own_note(replace(found, text="and once more"), found.version)
    assert [n.text for n in own_notes(SHA)] == ["and once more"]


def test_a_note_brought_back_does_not_overwrite_what_another_made_of_it_meanwhile(place):
    read = write_own_note(note()).note
    gone = remove_own_note(read, read.version)
    write_own_note(replace(read, text="of the other"), gone.version)
    assert "beside it" in write_own_note(read, gone.version).told
    assert {n.text for n in own_notes(SHA)} == {"of the other", read.text}


def test_a_note_that_waited_while_the_history_was_changed_is_kept_beside_it(debrief_home):
    keep(FLIGHT)
    read = write_own_note(note("as read")).note
    whole = {file: file.read_bytes() for file in debrief_home.glob("history.sqlite*")}
    history_file().write_bytes(b"no database, words " * 50)
    write_own_note(replace(read, text="waited"), read.version)
    for left in debrief_home.glob("history.sqlite*"):
        left.unlink()
    for file, data in whole.items():
        file.write_bytes(data)
    with Store.open() as store:
        store.write_note(SHA, "of another desk", note_id=read.note_id, based_on=read.version)
    assert {n.text for n in own_notes(SHA)} == {"waited", "of another desk"}
    assert own_notes(SHA) == own_notes(SHA)


def test_a_waiting_note_of_an_earlier_program_is_taken(debrief_home):
    file = notes_folder() / SHA / "5f0c2e5e-6a0b-4f2e-9a53-1f6f2f0c9d11.json"
    file.parent.mkdir(parents=True)
    row = {"note_id": file.stem, "sha256": SHA, "text": "old", "author": "", "time_s": 1, "event_kind": None}
    file.write_text(json.dumps({**row, "changed_at": "2031-01-01T00:00:00.000000+00:00", "removed": False}))
    (read,) = own_notes(SHA)
    write_own_note(replace(read, text="new"), read.version)
    keep(FLIGHT)
    assert [n.text for n in own_notes(SHA)] == ["new"]


@pytest.mark.parametrize(
    "changes",
    [{"time_s": float("inf")}, {"time_s": "1"}, {"text": 5}, {"note_id": "../../x"}, {"note_id": "other"},
     {"sha256": "f" * 64}, {"changed_at": "yesterday"}, {"text": "x" * 1_000_001}, {"author": [1]}],
)  # fmt: skip
def test_a_file_with_values_that_no_note_has_is_passed_over_and_stays(debrief_home, changes):
    kept = write_own_note(note()).note
    file = notes_folder() / SHA / f"{kept.note_id}.json"
    row = json.loads(file.read_text())
    odd = file.with_name("0a.json")
    odd.write_text(json.dumps({**row, "note_id": "0a", **changes}))
    assert own_notes(SHA) == (kept,)
    keep(FLIGHT)
    assert own_notes(SHA) == (kept,)
    assert odd.exists()


def test_a_note_without_an_end_is_refused(place):
    with pytest.raises(UserError, match="at most 1000000 characters"):
        write_own_note(note("x" * 1_000_001))


def test_the_columns_of_a_note_are_those_of_the_table(debrief_home):
    keep(FLIGHT)
    write_own_note(note(event_kind="hot_start"))
    with sqlite3.connect(history_file()) as connection:
        row = connection.execute("SELECT text, author, time_s, event_kind, removed FROM notes").fetchone()
    connection.close()
    assert row == ("Hand moved late to cut-off.", "An instructor", 24.0, "hot_start", 0)


def test_adding_a_flight_by_the_command_takes_the_notes_that_waited(debrief_home, capsys):
    from pathlib import Path

    from debrief.cli import main
    from debrief.session.assessing.file_assessment import assess_file

    file = Path(__file__).resolve().parents[3] / "demo_flights" / "01_cool_normal_start.csv"
    sha = assess_file(file).recording.provenance.sha256
    kept = write_own_note(note(sha256=sha)).note
    assert main(["history", "add", str(file)]) == 0
    with Store.open() as store:
        assert store.notes(sha) == (kept,)
    assert list(notes_folder().rglob("*.json")) == []
