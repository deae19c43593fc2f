"""What comes out of a damaged history: every row that can be right, and the names of those that cannot."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import pytest

from debrief.cli import main
from debrief.errors import UserError
from debrief.history.exchange.pages import Pages
from debrief.history.exchange.salvage import salvage
from debrief.history.exchange.soundness import soundness
from debrief.history.storage.store import Store
from tests.history.exchange.test_history_damage import DAMAGE, change, made, overwrite
from tests.history.history_making import FIRST, made_assessment, made_event, series

KEEPS_ALL = {
    "a table gone",  # its rows are on pages that are free now
    "a broken list of tables",
    "an index gone",
    "the last form's row lost",
    "the first form's row lost",
    "all forms' rows lost",
    "a view in place of a table",
    "a trigger that deletes",
    "a trigger that refuses",
    "a column too many",
    "a page of noise",  # of an index
}


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return made(tmp_path_factory.mktemp("whole") / "h.sqlite")


@pytest.fixture
def file(whole: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(whole, tmp_path / "h.sqlite"))


def _contents(file: Path) -> list[object]:
    with Store.open(str(file)) as store:
        (noted,) = (flight.sha256 for flight in store.flights() if flight.file_name == "one.csv")
        return [store.flights(), store.starts(), store.start_traces("TG7-0042"), store.notes(noted)]


@pytest.mark.parametrize("how", sorted(KEEPS_ALL))
def test_what_lost_no_row_comes_out_as_it_was(how, file, whole, tmp_path):
    DAMAGE[how](file)
    before = file.read_bytes()
    found = salvage(file, tmp_path / "new.sqlite")
    assert file.read_bytes() == before
    assert _contents(tmp_path / "new.sqlite") == _contents(whole)
    assert found.again == []
    assert sorted(tmp_path.glob("*.sqlite")) == [file, tmp_path / "new.sqlite"]


@pytest.mark.parametrize("page", range(2, 40))
def test_a_broken_page_costs_what_stands_on_it_and_every_flight_that_it_costs_is_named(page, file, tmp_path):
    """Each page in its turn: what comes out is sound, and each of the 18 flights is there or named."""
    if page * 4096 > file.stat().st_size:
        pytest.skip("the history is shorter")
    overwrite(file, (page - 1) * 4096, b"\xa5" * 4096)
    found = salvage(file, tmp_path / "new.sqlite")
    with Store.open(str(tmp_path / "new.sqlite")) as store:
        assert soundness(store) == ()
        kept = {flight.sha256 for flight in store.flights()}
        notes = sum(len(store.notes(sha)) for sha in kept)
    with Store.open(str(tmp_path / "new.sqlite")) as store:
        assert len(kept | {one.sha256 for one in found.again}) == 18
    if any(one.name == "one.csv" and one.sha256 not in kept for one in found.again):
        assert notes == 0
        assert any("sounded weak" in line for line in found.homeless)


def test_a_flight_whose_document_is_cut_is_named_with_its_path(file, tmp_path, capsys):
    change(file, "UPDATE recordings SET document = substr(document, 1, 500) WHERE file_name = 'one.csv'")
    assert main(["history", "salvage", str(file), "-o", str(tmp_path / "new.sqlite")]) == 0
    said = capsys.readouterr().out
    assert "17 flights" in said
    assert '"one.csv"' in said
    assert "flights/one.csv" in said
    assert "The starter sounded weak." in said


def test_rows_that_were_lost_are_those_of_the_document(file, whole, tmp_path):
    change(file, "DELETE FROM measures", "DELETE FROM starts", "DELETE FROM events")
    found = salvage(file, tmp_path / "new.sqlite")
    assert len(found.again) == 18
    with Store.open(str(tmp_path / "new.sqlite")) as new, Store.open(str(whole)) as old:
        assert new.flights() == old.flights()
        assert new.starts() == old.starts()
        assert soundness(new) == ()


def test_what_cannot_be_told_from_the_document_leaves_the_flight_out_and_names_it(file, tmp_path):
    change(
        file,
        "UPDATE recordings SET duration_s = 7, verdict = 'possible' WHERE file_name = 'one.csv'",
        "UPDATE recordings SET start_epoch_s = start_epoch_s + 1 WHERE file_name = 'event.csv'",
    )
    found = salvage(file, tmp_path / "new.sqlite")
    assert {one.name for one in found.again} == {"one.csv", "event.csv"}
    with Store.open(str(tmp_path / "new.sqlite")) as store:
        assert soundness(store) == ()
        kept = {flight.file_name: flight for flight in store.flights()}
    assert "event.csv" not in kept
    assert (kept["one.csv"].duration_s, kept["one.csv"].verdict) == (120.0, "within")


def test_a_flight_with_wrong_numbers_is_mended_by_adding_it_again(file):
    with Store.open(str(file)) as store:
        assert store.keep(made_assessment("one.csv")) == "unchanged"
        before = store.starts()
    change(file, "UPDATE measures SET value = value + 100 WHERE name = 'peak_itt'")
    with Store.open(str(file)) as store:
        assert store.starts() != before
        for assessment in [
            *series([740.0 + 4 * (index % 5) for index in range(16)]),
            made_assessment("one.csv"),
            made_assessment("event.csv", events=[made_event()]),
        ]:
            assert store.keep(assessment) == "renewed"
        assert store.starts() == before
        assert soundness(store) == ()


def test_nothing_is_written_over(file, tmp_path):
    there = tmp_path / "there.sqlite"
    there.write_text("mine")
    with pytest.raises(UserError, match="there already"):
        salvage(file, there)
    with pytest.raises(UserError, match="there already"):
        salvage(file, file)
    (tmp_path / "link").symlink_to(tmp_path / "nowhere")
    with pytest.raises(UserError, match="there already"):
        salvage(file, tmp_path / "link")
    assert there.read_text() == "mine"


@pytest.mark.parametrize("content", [b"", b"time,itt\n" * 4000, bytes(20_000)])
def test_a_file_without_a_history_makes_none(content, tmp_path):
    (tmp_path / "x").write_bytes(content)
    with pytest.raises(UserError, match="Nothing of a history"):
        salvage(tmp_path / "x", tmp_path / "new.sqlite")
    assert sorted(tmp_path.iterdir()) == [tmp_path / "x"]


def test_what_stands_in_the_log_alone_comes_out_too(file, tmp_path):
    store = Store.open(str(file))
    store.keep(made_assessment("late.csv"))
    copy = tmp_path / "copy.sqlite"
    shutil.copy(file, copy)
    shutil.copy(f"{file}-wal", f"{copy}-wal")
    store.close()
    found = salvage(copy, tmp_path / "new.sqlite")
    assert len(found.rows["recordings"]) == 19
    with Store.open(str(tmp_path / "new.sqlite")) as new, Store.open(str(file)) as old:
        assert new.flights() == old.flights()


def test_the_log_of_another_history_costs_nothing_and_is_not_brought_in(file, whole, tmp_path):
    other = Store.open(str(tmp_path / "other.sqlite"))
    other.keep(made_assessment("other.csv"))
    other.note_maintenance("TG7-0042", FIRST, "Nozzles changed.")
    shutil.copy(tmp_path / "other.sqlite-wal", f"{file}-wal")
    other.close()
    before, log = file.read_bytes(), Path(f"{file}-wal").read_bytes()
    assert main(["history", "list", "--db", str(file)]) == 2
    assert main(["history", "check", "--db", str(file)]) == 2
    assert file.read_bytes() == before
    assert Path(f"{file}-wal").read_bytes() == log
    salvage(file, tmp_path / "new.sqlite")
    assert _contents(tmp_path / "new.sqlite") == _contents(whole)


def test_check_says_what_salvage_brings_out_and_what_is_to_be_added_again(file, capsys):
    DAMAGE["pages of zeros"](file)
    assert main(["history", "check", "--db", str(file)]) == 2
    said = capsys.readouterr().err
    assert "is damaged" in said
    assert f"history salvage {file} -o NEW` brings out 18 flights" in said
    assert '"event.csv"' in said


def test_rows_are_read_as_the_database_reads_them(tmp_path):
    """Every kind of value of SQLite, and texts that go over many pages."""
    file = tmp_path / "x.sqlite"
    values = [
        (n, value)
        for n, value in enumerate(
            (
                *(
                    None,
                    0,
                    1,
                    -1,
                    127,
                    128,
                    -(2**15),
                    2**23,
                    -(2**31),
                    2**47,
                    -(2**63),
                    2**63 - 1,
                    1.5,
                    -1e300,
                ),
                *("", "ü", "x" * 4000, "y" * 100_000, b"", b"\x00\xff", bytes(70_000)),
            )
        )
    ]
    connection = sqlite3.connect(file)
    connection.execute("CREATE TABLE t (n, v)")
    connection.executemany("INSERT INTO t VALUES (?, ?)", values)
    connection.commit()
    (root,) = connection.execute("SELECT rootpage FROM sqlite_master").fetchone()
    connection.close()
    rows = list(Pages(file.read_bytes()).table(root).rows())
    assert [row.values for row in rows] == values
    assert [row.number for row in rows] == list(range(1, len(values) + 1))
    assert all(row.whole for row in rows)


_ONE = "WHERE file_name = 'one.csv'"
ODD_OPTIONAL = {
    "aircraft": "x'ff'",
    "engine_model": "CAST(x'C328' AS TEXT)",
    "start_text": "'long ago'",
    "profile_key": "x'00'",
}
ODD_REQUIRED = {
    "start_epoch_s": "'abc'",
    "start_has_zone": "7",
    "sentence": "x'ff'",
    "verdict": "'fine'",
    "duration_s": "9e999",
    "byte_count": "-1",
    "row_count": "'many'",
    "path": "x'ff'",
    "added_at": "5.5",
    "assessed_at": "'once'",
    "program": "x'ff'",
    "version": "'x'",
    "replaces": "'x'",
}


@pytest.mark.parametrize("column", [*ODD_OPTIONAL, *ODD_REQUIRED, "file_name", "sha256"])
def test_an_odd_value_costs_that_value_alone_and_is_named(column, file, whole, tmp_path, capsys):
    value = (ODD_OPTIONAL | ODD_REQUIRED | {"file_name": "x'ff'", "sha256": "x'ff'"})[column]
    change(file, f"UPDATE recordings SET {column} = {value} {_ONE}")
    new = tmp_path / "new.sqlite"
    assert main(["history", "salvage", str(file), "-o", str(new)]) == 0
    said = capsys.readouterr().out
    assert "18 flights" in said
    assert "1 note" in said
    assert f"{column} is " in said
    with Store.open(str(new)) as store, Store.open(str(whole)) as old:
        assert soundness(store) == ()
        sha = old.find("one.csv")
        assert [note.text for note in store.notes(sha)] == ["The starter sounded weak."]
        names = ("file_name", "sentence", "verdict", "duration_s", "start_epoch_s")
        if column not in ODD_OPTIONAL:
            for name in names:
                assert getattr(store.flight(sha), name) == getattr(old.flight(sha), name), name
            assert "To be added again" not in said
        else:
            assert "To be added again" in said
            assert "unknown until then" in said
            store.keep(made_assessment("one.csv"))
            assert store.flight(sha) == old.flight(sha)


@pytest.mark.parametrize(("column", "value"), [("start_epoch_s", "'abc'"), ("sentence", "x'ff'")])
def test_an_odd_value_in_every_flight_loses_none(column, value, file, whole, tmp_path):
    change(file, f"UPDATE recordings SET {column} = {value}")
    salvage(file, tmp_path / "new.sqlite")
    assert _contents(tmp_path / "new.sqlite") == _contents(whole)


@pytest.mark.parametrize("people", [True, False])
def test_no_flight_is_no_success_and_says_why(people, file, tmp_path, capsys):
    change(file, "UPDATE recordings SET sentence = x'ff', document = 'cut'")
    if not people:
        change(file, "DELETE FROM notes", "DELETE FROM exclusions")
    assert main(["history", "salvage", str(file), "-o", str(tmp_path / "new.sqlite")]) == 2
    said = " ".join(capsys.readouterr().err.split())
    assert "of 18 flights sentence is b'\\xff'" in said
    assert "its document is not whole" in said
