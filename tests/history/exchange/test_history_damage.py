"""A damaged history is told as the file's fault, by every command, and never changed by that."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest

from debrief.cli import main
from debrief.history.exchange.soundness import soundness
from debrief.history.storage.store import Store
from tests.history.history_making import made_assessment, made_event, series

COMMANDS = (
    ("list",),
    ("trend",),
    ("check",),
    ("export", "out.jsonl"),
    ("export", "out.csv"),
    ("delete", "one.csv", "--yes"),
    ("exclude", "one.csv", "1", "--reason", "because"),
    ("maintenance", "TG7-0042", "Nozzles changed.", "--on", "2031-05-04"),
)


def made(file: Path) -> Path:
    """A history of 18 flights with notes, exclusions and a maintenance action, closed."""
    with Store.open(str(file)) as store:
        for assessment in [
            *series([740.0 + 4 * (index % 5) for index in range(16)]),
            made_assessment("one.csv"),
            made_assessment("event.csv", events=[made_event()]),
        ]:
            store.keep(assessment)
        store.write_note(store.find("one.csv"), "The starter sounded weak.", author="AB", time_s=12.0)
        store.exclude(store.find("event.csv"), 1, "hot start")
    return file


def change(file: Path, *statements: str) -> None:
    """Change a database behind the program's back."""
    connection = sqlite3.connect(file, isolation_level=None)
    connection.execute("PRAGMA writable_schema = ON")
    for statement in statements:
        connection.execute(statement)
    connection.close()


def overwrite(file: Path, at: int, data: bytes) -> None:
    with file.open("r+b") as out:
        out.seek(at)
        out.write(data)


def _by_sql(*statements: str) -> Callable[[Path], None]:
    return lambda file: change(file, *statements)


def _bytes(at: int, data: bytes) -> Callable[[Path], None]:
    return lambda file: overwrite(file, at, data)


DAMAGE: dict[str, Callable[[Path], None]] = {
    "no bytes": lambda file: file.write_bytes(b""),
    "cut in half": lambda file: file.write_bytes(file.read_bytes()[: file.stat().st_size // 2]),
    "cut within a page": lambda file: file.write_bytes(file.read_bytes()[:-1000]),
    "a page of noise": _bytes(5 * 4096, bytes(range(256)) * 16),
    "pages of zeros": _bytes(3 * 4096, bytes(8 * 4096)),
    "a broken list of tables": _bytes(100, b"\xff" * 40),
    "names that are no text": _by_sql(
        "UPDATE sqlite_master SET sql = CAST(x'435245415445FF' AS TEXT) WHERE name = 'events'"
    ),
    "a table gone": _by_sql("DROP TABLE start_traces"),
    "all tables gone": _by_sql(
        "PRAGMA foreign_keys = OFF",
        *(
            f"DROP TABLE {name}"
            for name in (
                "starts",
                "start_traces",
                "measures",
                "events",
                "notes",
                "exclusions",
                "maintenance",
                "recordings",
                "profiles",
                "debrief_migrations",
            )
        ),
    ),
    "an index gone": _by_sql("DROP INDEX ix_starts_engine_key"),
    "the last form's row lost": _by_sql(
        "DELETE FROM debrief_migrations WHERE version = (SELECT max(version) FROM debrief_migrations)"
    ),
    "the first form's row lost": _by_sql("DELETE FROM debrief_migrations WHERE version = 1"),
    "all forms' rows lost": _by_sql("DELETE FROM debrief_migrations"),
    "a view in place of a table": _by_sql(
        "ALTER TABLE events RENAME TO was", "CREATE VIEW events AS SELECT * FROM was"
    ),
    "a column of another name": _by_sql("ALTER TABLE debrief_migrations RENAME COLUMN version TO was"),
    "a trigger that deletes": _by_sql(
        "CREATE TRIGGER t AFTER INSERT ON recordings BEGIN DELETE FROM measures; END"
    ),
    "a trigger that refuses": _by_sql(
        "CREATE TRIGGER t BEFORE INSERT ON starts BEGIN SELECT RAISE(ABORT, 'no'); END"
    ),
    "a column too many": _by_sql("ALTER TABLE measures ADD COLUMN more TEXT"),
}
"""What is seen when a history is opened, by every command."""

ODD: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "text in a duration": (("UPDATE recordings SET duration_s = 'long'",), ()),
    "infinity in a number": (("UPDATE measures SET value = 9e999",), ()),
    "nothing in a number": (
        (
            "UPDATE sqlite_master SET sql = replace(sql, 'value DOUBLE PRECISION NOT NULL', "
            "'value DOUBLE PRECISION') WHERE name = 'measures'",
        ),
        (),
    ),
    "bytes in a name": (("UPDATE recordings SET file_name = x'FF00FE'",), ("list", "export out.jsonl")),
    "text that is no UTF-8": (
        ("UPDATE recordings SET sentence = CAST(x'C328' AS TEXT)",),
        ("list", "export out.jsonl"),
    ),
    "a word in a yes or no": (
        ("UPDATE exclusions SET withdrawn = 'maybe'",),
        ("export out.jsonl", "export out.csv"),
    ),
    "a whole number in a text": (
        ("UPDATE starts SET outcome = x'01'",),
        ("trend", "export out.jsonl", "export out.csv"),
    ),
    "a cut document": (("UPDATE recordings SET document = substr(document, 1, 200)",), ()),
    "a lost number": (("DELETE FROM measures WHERE name = 'peak_itt'",), ()),
    "a changed number": (("UPDATE measures SET value = value + 1 WHERE name = 'peak_itt'",), ()),
    "a start of another engine": (("UPDATE starts SET engine_key = 'TG7-0043' WHERE number = 1",), ()),
    "a start at another time": (("UPDATE starts SET at_epoch_s = at_epoch_s + 3600",), ()),
    "a changed outcome": (("UPDATE starts SET outcome = 'aborted'",), ()),
    "a forged aircraft": (("UPDATE recordings SET aircraft = 'ZZ-XXX'",), ()),
    "a note without its flight": (
        ("PRAGMA foreign_keys = OFF", f"UPDATE notes SET sha256 = '{'f' * 64}'"),
        (),
    ),
}
"""What is seen when the value is read: the statements, and the commands besides check that must see it."""


def _run(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str]:
    code = main(["history", arguments[0], "--db", "h.sqlite", *arguments[1:]])
    return code, capsys.readouterr().err


def _worded(code: int, err: str) -> None:
    assert code == 2, err
    assert "fault of the program" not in err
    assert "Traceback" not in err


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    return made(tmp_path_factory.mktemp("whole") / "h.sqlite").read_bytes()


@pytest.fixture
def file(whole: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    out = tmp_path / "h.sqlite"
    out.write_bytes(whole)
    return out


@pytest.mark.parametrize("how", DAMAGE)
def test_every_command_says_that_the_file_is_damaged_and_leaves_it(how, file, capsys):
    DAMAGE[how](file)
    before = file.read_bytes()
    for command in COMMANDS:
        code, err = _run(capsys, *command)
        _worded(code, err)
        assert "is damaged" in err or "is not a history" in err, command
        assert file.read_bytes() == before, command
    assert not Path("out.jsonl").exists()


@pytest.mark.parametrize("how", ODD)
def test_a_value_that_the_program_never_wrote_is_named_by_check_and_never_used(how, file, capsys):
    statements, seen_by = ODD[how]
    change(file, *statements)
    code, err = _run(capsys, "check")
    _worded(code, err)
    for command in COMMANDS:
        code, err = _run(capsys, *command)
        if " ".join(command) in seen_by:
            _worded(code, err)
            assert "is damaged" in err, command
        assert code in (0, 2), err


def test_what_check_says_names_the_flight(file):
    change(file, "UPDATE measures SET value = value + 1 WHERE sha256 LIKE '9%' AND name = 'peak_itt'")
    with Store.open("h.sqlite") as store:
        changed = [flight.file_name for flight in store.flights() if flight.sha256.startswith("9")]
        said = soundness(store)
    assert changed
    assert len(said) == len(changed)
    assert all(any(name in sentence for sentence in said) for name in changed)


def test_a_damaged_history_that_is_merged_is_named_and_nothing_of_it_is_taken(file, tmp_path, capsys):
    DAMAGE["pages of zeros"](file)
    before = file.read_bytes()
    assert main(["history", "merge", str(file), "--db", str(tmp_path / "mine.sqlite")]) == 2
    said = capsys.readouterr().err
    assert f"The history {file} is damaged" in said
    assert f"salvage {file} -o NEW" in said
    assert file.read_bytes() == before
    with Store.open(str(tmp_path / "mine.sqlite")) as mine:
        assert mine.flights() == ()


def _folder(folder: Path) -> dict[str, bytes]:
    return {one.name: one.read_bytes() for one in folder.iterdir()}


def _in_mode(mode: str, *statements: str) -> Callable[[Path], None]:
    def make(file: Path) -> None:
        file.unlink()
        change(file, f"PRAGMA journal_mode = {mode}", *statements)

    return make


NO_HISTORY: dict[str, Callable[[Path], None]] = {
    "another program's": _in_mode("DELETE", "CREATE TABLE photos(a)", "INSERT INTO photos VALUES (1)"),
    "another program's with a log": _in_mode(
        "WAL", "CREATE TABLE photos(a)", "INSERT INTO photos VALUES (1)"
    ),
    "another program's with a table of the same name": _in_mode("DELETE", "CREATE TABLE notes(a)"),
    "without tables": _in_mode("DELETE", "PRAGMA user_version = 7"),
    "a history with another program's table": _by_sql("PRAGMA journal_mode = DELETE", "CREATE TABLE evil(a)"),
    "a history with another program's view": _by_sql("CREATE VIEW evil AS SELECT 1"),
    "of a newer program": _by_sql(
        "PRAGMA journal_mode = DELETE", "INSERT INTO debrief_migrations VALUES (99, 'x', 'x', 'x')"
    ),
}


@pytest.mark.parametrize("how", [*DAMAGE, *NO_HISTORY])
def test_a_file_that_is_no_sound_history_stays_to_the_byte_with_nothing_beside_it(how, file, capsys):
    (DAMAGE | NO_HISTORY)[how](file)
    for log in file.parent.glob("*-wal"), file.parent.glob("*-shm"):
        assert not list(log)
    before = _folder(file.parent)
    mine = str(file.parent.parent / f"{file.parent.name}-mine" / "mine.sqlite")
    for arguments in (
        *([*command, "--db", "h.sqlite"] for command in COMMANDS),
        ["merge", "h.sqlite", "--db", mine],
    ):
        _worded(main(["history", *arguments]), capsys.readouterr().err)
        assert _folder(file.parent) == before, arguments


def test_a_log_that_was_left_beside_another_programs_file_stays_as_it_is(file, tmp_path, capsys):
    file.unlink()
    writer = sqlite3.connect(tmp_path / "live", isolation_level=None)
    for statement in ("PRAGMA journal_mode = WAL", "CREATE TABLE photos(a)", "INSERT INTO photos VALUES (1)"):
        writer.execute(statement)
    copied = {name: (tmp_path / f"live{name}").read_bytes() for name in ("", "-wal")}
    writer.close()
    (tmp_path / "live").unlink()
    for name, data in copied.items():
        (tmp_path / f"h.sqlite{name}").write_bytes(data)
    before = _folder(tmp_path)
    for command in COMMANDS:
        _worded(*_run(capsys, *command))
        assert _folder(tmp_path) == before, command


def test_a_forged_sentence_is_named_also_where_another_value_of_the_flight_is_odd(file):
    change(
        file, "UPDATE recordings SET sentence = 'All was well.', added_at = 5.5 WHERE file_name = 'one.csv'"
    )
    with Store.open("h.sqlite") as store:
        said = " ".join(soundness(store))
    assert "added_at is" in said
    assert "its document tells another sentence." in said


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("DROP TABLE measures", "the table measures is gone"),
        ("CREATE INDEX u ON notes(text)", "it holds an index u on notes"),
    ],
)
def test_what_is_gone_or_too_many_is_said_in_words_of_the_trade(statement, words, file, capsys):
    change(file, statement)
    code, err = _run(capsys, "list")
    _worded(code, err)
    assert words in " ".join(err.split())


def test_a_nul_in_a_text_is_told_as_such_and_not_as_a_length(file):
    change(file, "UPDATE recordings SET engine_serial = 'a' || char(0) || 'b' WHERE file_name = 'one.csv'")
    with Store.open("h.sqlite") as store:
        (said,) = (sentence for sentence in soundness(store) if "engine_serial is" in sentence)
    assert "without NUL" in said
    assert "at most 400" not in said
