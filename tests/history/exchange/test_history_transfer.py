"""Export, merge and the check of soundness."""

from __future__ import annotations

import csv
import json
import re
import sqlite3
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa

from debrief.errors import UserError
from debrief.history.exchange.soundness import soundness
from debrief.history.exchange.transfer import Merged, export_csv, export_jsonl, merge, merge_from
from debrief.history.storage import schema
from debrief.history.storage.store import Store
from debrief.recording.model import Identity
from tests.history.history_making import FIRST, made_assessment, made_event, made_start, series


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(str(tmp_path / "history.sqlite")) as opened:
        yield opened


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Store]:
    with Store.open(str(tmp_path / "other.sqlite")) as opened:
        yield opened


def contents(store: Store) -> dict[str, list[tuple[object, ...]]]:
    """Every row of a history except the records of its migrations, sorted."""
    with store.engine.connect() as connection:
        return {
            name: sorted((tuple(row) for row in connection.execute(sa.select(table))), key=repr)
            for name, table in schema.metadata.tables.items()
            if table is not schema.migrations
        }


def fill(store: Store) -> None:
    for assessment in series([742.0, 751.0, 739.0]):
        store.keep(assessment)
    store.keep(made_assessment("event.csv", at=None, events=[made_event()], verdict="exceeded"))
    store.write_note(store.find("event.csv"), "Told the chief engineer.", time_s=31.0)
    store.exclude(store.find("flight-000.csv"), 1, "Wrong probe fitted.")
    store.note_maintenance("TG7-0042", FIRST, "Hot section inspected.")


def test_an_export_merged_into_an_empty_history_gives_the_same_history(store, other, tmp_path):
    fill(store)
    out = tmp_path / "all.jsonl"
    assert export_jsonl(store, out) == 4
    assert merge(other, out) == Merged(new=4, known=0, words=3)
    assert contents(other) == contents(store)


def test_every_line_of_an_export_is_json_and_the_first_names_its_form(store, tmp_path):
    fill(store)
    out = tmp_path / "all.jsonl"
    export_jsonl(store, out)
    lines = [json.loads(line) for line in out.read_text(encoding="utf-8").splitlines()]
    assert lines[0]["schema"] == "turbine-debrief.history/1"
    assert len(lines) == 5


def test_merging_twice_changes_nothing_the_second_time(store, other, tmp_path):
    fill(store)
    out = tmp_path / "all.jsonl"
    export_jsonl(store, out)
    merge(other, out)
    before = contents(other)
    assert merge(other, out) == Merged(new=0, known=4, words=0)
    assert merge(other, store) == Merged(new=0, known=4, words=0)
    assert contents(other) == before


def test_merging_brings_what_is_missing_and_keeps_what_is_here(store, other):
    for assessment in series([742.0, 751.0]):
        store.keep(assessment)
    for assessment in series([751.0, 760.0], prefix="elsewhere"):
        other.keep(assessment)
    other.keep(series([742.0])[0])
    assert merge(store, other) == Merged(new=2, known=1, words=0)
    assert len(store.flights()) == 4
    assert len(other.flights()) == 3


def test_merging_in_either_order_gives_the_same_notes(store, other):
    for one in (store, other):
        one.keep(made_assessment())
    sha = store.find("one.csv")
    key = store.write_note(sha, "first words").note_id
    merge(other, store)
    other.write_note(sha, "later words", note_id=key)
    store.write_note(sha, "of this desk")
    merge(store, other)
    merge(other, store)
    assert {note.text for note in store.notes(sha)} == {"later words", "of this desk"}
    assert contents(store)["notes"] == contents(other)["notes"]


def test_a_removed_note_is_not_brought_back_by_an_older_copy(store, other):
    store.keep(made_assessment())
    sha = store.find("one.csv")
    key = store.write_note(sha, "words").note_id
    merge(other, store)
    store.remove_note(key)
    merge(store, other)
    assert store.notes(sha) == ()
    merge(other, store)
    assert other.notes(sha) == ()


def test_an_exclusion_taken_back_here_is_not_renewed_by_an_older_copy(store, other):
    store.keep(made_assessment())
    sha = store.find("one.csv")
    store.exclude(sha, 1, "because")
    merge(other, store)
    store.include(sha, 1)
    merge(store, other)
    assert store.starts()[0].excluded is None


def test_a_later_assessment_replaces_an_earlier_one(store, other):
    store.keep(made_assessment())
    other.keep(made_assessment(starts=[made_start(peak_itt_c=800.0)]))
    merge(store, other)
    assert store.starts()[0].values["peak_itt"].value == 800.0
    other.keep(made_assessment(starts=[made_start(peak_itt_c=810.0), made_start(2)]))
    store.keep(made_assessment(starts=[made_start(peak_itt_c=820.0)]))
    merge(store, other)
    assert [start.values["peak_itt"].value for start in store.starts()] == [820.0]


def test_a_later_assessment_that_knows_less_of_whose_flight_it_is_does_not_replace(store, other):
    unnamed = made_assessment(at=None, aircraft=None, serial=None)
    store.keep(unnamed, Identity(aircraft="ZZ-TRN", engine_serial="TG7-0042", start=FIRST))
    other.keep(unnamed)
    merge(store, other)
    assert store.flights()[0].untrended == ""


@pytest.mark.parametrize(
    "text",
    [
        "",
        "not json\n",
        '{"schema": "something else"}\n',
        "[1, 2]\n",
        '{"schema": "turbine-debrief.history/1"}\n',
        '{"schema": "turbine-debrief.history/1", "maintenance": []}\n{"recording": {}}\n',
        '{"schema": "turbine-debrief.history/1", "maintenance": []}\n{"recording": {"sha256":\n',
        '{"schema": "turbine-debrief.history/1", "maintenance": 5}\n',
    ],
)
def test_what_is_no_export_is_refused_in_words_and_nothing_is_kept(store, tmp_path, text):
    fill(store)
    before = contents(store)
    file = tmp_path / "bad.jsonl"
    file.write_text(text)
    with pytest.raises(UserError, match=r"bad\.jsonl"):
        merge(store, file)
    assert contents(store) == before


def test_an_export_cut_short_in_the_middle_keeps_nothing_of_it(store, other, tmp_path):
    fill(store)
    out = tmp_path / "all.jsonl"
    export_jsonl(store, out)
    data = out.read_bytes()
    out.write_bytes(data[: int(len(data) * 0.8)])
    with pytest.raises(UserError, match="nothing of it was kept"):
        merge(other, out)
    assert other.flights() == ()


def test_rows_that_belong_to_another_recording_are_refused(store, other, tmp_path):
    fill(store)
    out = tmp_path / "all.jsonl"
    export_jsonl(store, out)
    lines = out.read_text().splitlines()
    odd = json.loads(lines[1])
    odd["starts"][0]["sha256"] = "f" * 64
    out.write_text("\n".join([lines[0], json.dumps(odd)]))
    with pytest.raises(UserError, match="starts 1 is of another recording"):
        merge(other, out)


@pytest.mark.parametrize(
    ("table", "column", "value", "words"),
    [
        ("recording", "duration_s", float("inf"), "line 2: Infinity is no number of JSON"),
        (
            "recording",
            "duration_s",
            1e12,
            "line 2: recording: duration_s is 1000000000000.0: it must be a number",
        ),
        (
            "recording",
            "byte_count",
            2**64,
            "line 2: recording: byte_count is 18446744073709551616: it must be",
        ),
        ("recording", "document", "{}", "line 2: its document is of another recording"),
        ("recording", "document", "[" * 100_000, "line 2: its document is damaged"),
        ("recording", "sha256", "F" * 64, "line 2: recording: sha256"),
        ("profile", "name", "\ud800", "line 2: profile: name"),
        ("profile", "profile_key", "another", "line 2: its profile is not the one that it names"),
        ("starts", "engine", -1, "line 2: starts 1: engine is -1: it must be a whole number from 1"),
        ("starts", "engine", True, "line 2: starts 1: engine is True"),
        ("starts", "at_epoch_s", 1e18, "between the years 1900 and 2200"),
        ("starts", "sha256", "f" * 64, "line 2: starts 1 is of another recording"),
        ("measures", "value", "742", 'line 2: measures 1: value is "742": it must be a number'),
        ("measures", "name", "x" * 1_000_000, "line 2: measures 1: name"),
        ("exclusions", "others", "[[]]", "line 2: exclusions 1: others"),
    ],
)
def test_a_value_that_cannot_be_right_refuses_the_export_by_line_row_and_column(
    store, other, tmp_path, table, column, value, words
):
    fill(store)
    store.exclude(store.find("event.csv"), 1, "because")
    out = tmp_path / "all.jsonl"
    export_jsonl(store, out)
    lines = [json.loads(line) for line in out.read_text().splitlines()]
    first = next(line for line in lines[1:] if line["exclusions"] and line["measures"])
    odd = first[table][0] if isinstance(first[table], list) else first[table]
    odd[column] = value
    out.write_text("\n".join(map(json.dumps, [lines[0], first])))
    with pytest.raises(UserError, match=re.escape(words)) as raised:
        merge(other, out)
    assert "Nothing of it was kept" in str(raised.value)
    assert len(str(raised.value)) < 300
    assert other.flights() == ()


def test_a_row_that_is_there_twice_refuses_the_export(store, other, tmp_path):
    fill(store)
    out = tmp_path / "all.jsonl"
    export_jsonl(store, out)
    lines = [json.loads(line) for line in out.read_text().splitlines()]
    lines[1]["measures"].append(lines[1]["measures"][0])
    out.write_text("\n".join(map(json.dumps, lines)))
    with pytest.raises(UserError, match=r"measures \d+ is there twice"):
        merge(other, out)


def test_a_binary_file_and_an_absent_one_are_refused_in_words(store, tmp_path):
    file = tmp_path / "picture.bin"
    file.write_bytes(bytes(range(256)) * 4)
    with pytest.raises(UserError, match="not text"):
        merge_from(store, str(file))
    with pytest.raises(UserError, match=r"absent\.jsonl cannot be read"):
        merge_from(store, str(tmp_path / "absent.jsonl"))
    assert not (tmp_path / "absent.jsonl").exists()


def test_another_history_is_merged_from_its_file_without_touching_it(store, other, tmp_path):
    fill(other)
    other.close()
    file = tmp_path / "other.sqlite"
    before = file.read_bytes()
    assert merge_from(store, str(file)).new == 4
    assert file.read_bytes() == before
    assert len(store.flights()) == 4


def test_a_history_is_not_merged_into_itself(store, tmp_path):
    with pytest.raises(UserError, match="itself"):
        merge_from(store, str(tmp_path / "history.sqlite"))
    with pytest.raises(UserError, match="itself"):
        merge(store, store)


def test_another_programs_database_is_not_merged(store, tmp_path):
    file = tmp_path / "recipes.sqlite"
    with sqlite3.connect(file) as connection:
        connection.execute("CREATE TABLE recipes (name TEXT)")
    connection.close()
    with pytest.raises(UserError, match="not a history"):
        merge_from(store, str(file))


# The table of starts


def test_the_table_has_a_row_for_each_start_and_a_column_for_each_number(store, tmp_path):
    fill(store)
    out = tmp_path / "starts.csv"
    assert export_csv(store, out) == 4
    with out.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["peak_itt"] for row in rows] == ["742.0", "751.0", "739.0", "742.0"]
    assert rows[0]["engine"] == "TG7-0042"
    assert rows[0]["date_utc"] == "2031-04-01"
    assert rows[0]["excluded"] == "Wrong probe fitted."
    assert rows[3]["date_utc"] == ""  # undated stays unknown


def test_a_name_that_looks_like_a_formula_does_not_run_in_a_spreadsheet(store, tmp_path):
    store.keep(made_assessment(serial='=HYPERLINK("http://example.invalid")'))
    out = tmp_path / "starts.csv"
    export_csv(store, out)
    with out.open(encoding="utf-8", newline="") as file:
        (row,) = csv.DictReader(file)
    assert row["engine"].startswith("'=")


def test_an_export_to_a_place_that_cannot_be_written_is_told_and_leaves_nothing(store, tmp_path):
    fill(store)
    with pytest.raises(UserError, match=r"there is no folder .*absent"):
        export_jsonl(store, tmp_path / "absent" / "all.jsonl")
    folder = tmp_path / "folder"
    folder.mkdir()
    with pytest.raises(UserError, match="is a folder"):
        export_csv(store, folder)
    assert not list(tmp_path.glob(".*"))


def test_a_failing_export_leaves_the_old_file_as_it_was(store, tmp_path, monkeypatch):
    fill(store)
    out = tmp_path / "all.jsonl"
    export_jsonl(store, out)
    old = out.read_bytes()
    monkeypatch.setattr(
        "debrief.history.exchange.transfer._bundles", lambda *_: iter([{"bad": float("nan")}])
    )
    with pytest.raises(ValueError, match="JSON"):
        export_jsonl(store, out)
    assert out.read_bytes() == old
    assert not list(tmp_path.glob(".*"))


def test_a_history_that_lost_something_never_replaces_its_older_export(store, tmp_path):
    out = tmp_path / "backup.jsonl"
    assert export_jsonl(store, out) == 0  # nothing is there before
    fill(store)
    assert export_jsonl(store, tmp_path / "full.jsonl") > 0
    full = (tmp_path / "full.jsonl").read_bytes()
    out.write_bytes(full)
    with store.engine.begin() as connection:
        connection.execute(schema.recordings.delete())
    with pytest.raises(UserError, match=r"^4 flights and 1 note are only in .*backup\.jsonl, which stays"):
        export_jsonl(store, out)
    assert out.read_bytes() == full
    out.unlink()
    fill(store)
    assert export_jsonl(store, out) > 0
    full = out.read_bytes()
    with store.engine.begin() as connection:
        connection.exec_driver_sql(f"UPDATE {schema.starts.name} SET at_epoch_s = 1e18")
    with pytest.raises(UserError, match=r"older export and stays as it is: the history .* cannot be right"):
        export_jsonl(store, out)
    assert out.read_bytes() == full


def test_a_smaller_history_never_replaces_the_copies_of_a_larger_one(store, other, tmp_path):
    fill(store)
    out, table = tmp_path / "backup.jsonl", tmp_path / "starts.csv"
    export_jsonl(store, out)
    export_csv(store, table)
    old = out.read_bytes(), table.read_bytes()
    other.keep(made_assessment("another.csv", at=None))
    with pytest.raises(UserError, match=r"4 flights and 1 note|maintenance action"):
        export_jsonl(other, out)
    with pytest.raises(UserError, match=r"^4 starts are only in .*starts\.csv, which stays as it is"):
        export_csv(other, table)
    assert (out.read_bytes(), table.read_bytes()) == old
    merge(other, out)
    assert export_jsonl(other, out) == 5
    assert export_csv(other, table) == 5


# Soundness


def test_a_sound_history_has_nothing_to_say(store):
    fill(store)
    assert soundness(store) == ()


def test_a_document_that_does_not_fit_its_rows_is_found(store):
    fill(store)
    with store.engine.begin() as connection:
        connection.execute(schema.starts.delete().where(schema.starts.c.sha256 == store.find("event.csv")))
        connection.execute(
            schema.recordings.update()
            .where(schema.recordings.c.sha256 == store.find("flight-001.csv"))
            .values(document="{broken")
        )
    wrong = soundness(store)
    assert len(wrong) == 2
    assert any(sentence.startswith("event.csv") for sentence in wrong)
    assert any(sentence.startswith("flight-001.csv") for sentence in wrong)


def test_a_document_whose_starts_have_other_numbers_is_found(store):
    fill(store)
    r = schema.recordings
    which = r.c.sha256 == store.find("flight-001.csv")
    with store.engine.begin() as connection:
        document = json.loads(connection.scalar(sa.select(r.c.document).where(which)))
        document["starts"][0]["number"] = 7
        connection.execute(r.update().where(which).values(document=json.dumps(document)))
    assert [sentence.split()[0] for sentence in soundness(store)] == ["flight-001.csv"]


def test_a_row_without_its_recording_is_found(store, tmp_path):
    fill(store)
    with sqlite3.connect(tmp_path / "history.sqlite") as connection:
        connection.execute("PRAGMA foreign_keys = OFF")
        connection.execute("UPDATE notes SET sha256 = ?", ("f" * 64,))
    connection.close()
    assert soundness(store) == ("A row of notes belongs to a recording that is not there.",)


def test_maintenance_is_merged_once(store, other):
    store.note_maintenance("TG7-0042", FIRST + timedelta(days=1), "Nozzles changed.")
    merge(other, store)
    merge(other, store)
    assert len(other.maintenance("TG7-0042")) == 1
