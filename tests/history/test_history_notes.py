"""Notes wherever they are kept: in the history, beside the settings, written by several at once."""

from __future__ import annotations

import multiprocessing
import sqlite3
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.errors import UserError
from debrief.history.desk import default_file, keep
from debrief.history.model import Note
from debrief.history.notes import notes_folder, own_notes, remove_own_note, write_own_note
from debrief.history.store import Store
from tests.history.history_making import made_assessment

FLIGHT = made_assessment()
SHA = FLIGHT.recording.provenance.sha256


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
    changed = write_own_note(replace(first, text="Hand moved early."), first.changed_at).note
    assert changed.note_id == first.note_id
    assert [n.text for n in own_notes(SHA)] == ["Hand moved early."]
    assert remove_own_note(changed, changed.changed_at).note is None
    assert own_notes(SHA) == ()
    write_own_note(first)
    assert [n.text for n in own_notes(SHA)] == ["Hand moved late to cut-off."]


def test_notes_of_the_whole_flight_come_first_then_by_time(place):
    for text, at in (("late", 40.0), ("whole", None), ("early", 3.0)):
        write_own_note(note(text, time_s=at))
    assert [n.text for n in own_notes(SHA)] == ["whole", "early", "late"]


def test_two_who_change_the_same_note_lose_neither_text(place):
    read = write_own_note(note("as both read it")).note
    write_own_note(replace(read, text="what one made of it"), read.changed_at)
    second = write_own_note(replace(read, text="what the other made of it"), read.changed_at)
    assert "theirs stays, and yours is kept beside it" in second.told
    assert {n.text for n in own_notes(SHA)} == {"what one made of it", "what the other made of it"}


def test_a_note_that_somebody_changed_meanwhile_is_not_removed(place):
    read = write_own_note(note()).note
    write_own_note(replace(read, text="changed"), read.changed_at)
    assert "was not removed" in remove_own_note(read, read.changed_at).told
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
    whole = default_file().read_bytes()
    default_file().write_bytes(b"no database, words " * 50)
    written = write_own_note(note())
    assert "kept beside the settings until the history takes it" in written.told
    with pytest.raises(UserError):
        own_notes(SHA)
    default_file().write_bytes(whole)
    for left in default_file().parent.glob("history.sqlite-*"):
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
    assert not default_file().exists()


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


def test_the_columns_of_a_note_are_those_of_the_table(debrief_home):
    keep(FLIGHT)
    write_own_note(note(event_kind="hot_start"))
    with sqlite3.connect(default_file()) as connection:
        row = connection.execute("SELECT text, author, time_s, event_kind, removed FROM notes").fetchone()
    connection.close()
    assert row == ("Hand moved late to cut-off.", "An instructor", 24.0, "hot_start", 0)


def test_adding_a_flight_by_the_command_takes_the_notes_that_waited(debrief_home, capsys):
    from pathlib import Path

    from debrief.cli import main
    from debrief.session.assessing import assess_file

    file = Path(__file__).resolve().parents[2] / "demo_flights" / "01_cool_normal_start.csv"
    sha = assess_file(file).recording.provenance.sha256
    kept = write_own_note(note(sha256=sha)).note
    assert main(["history", "add", str(file)]) == 0
    with Store.open() as store:
        assert store.notes(sha) == (kept,)
    assert list(notes_folder().rglob("*.json")) == []
