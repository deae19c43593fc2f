"""Whether an SQLite file has the form of a history: its tables, its migrations, and pages that fit together.

It is looked at before anything is asked of it, read only, so that a damaged file is named as such and stays as it
is: opening it for writing would bring the log beside it into the file. Nothing here loads SQLAlchemy's engine.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from functools import cache
from pathlib import Path
from typing import TypeVar

from sqlalchemy.dialects import sqlite as sqlite_dialect
from sqlalchemy.schema import CreateTable

from debrief.history.storage import schema
from debrief.history.storage.migrations import MIGRATIONS, Migration
from debrief.output.leftovers import temporary_folder

_Found = TypeVar("_Found")

MOST_BYTES = 64 * 2**20
"""Up to this size every page is checked at each opening, which takes some 60 ms; a larger one by `history check`."""

_NO_BYTES = "the file has no bytes left"
_NO_TEXT = "its names are no text"
_MARK = slice(68, 72)
"""Where the first page has the number that each history gets when it is made (SQLite's application_id)."""
_FIRST_PAGE = (1).to_bytes(4, "big")
_SIGNS = ("malformed", "could not decode to utf-8", "unsupported file format")
"""In what the database says of a damaged file."""

_OURS = frozenset(schema.metadata.tables)

Made = tuple[str, str, str, str]
"""Kind, name, table and SQL of something in a database."""


def can_be_written(file: Path) -> bool:
    """Whether a history that is there can be written: the file, and its folder for the log beside it."""
    return os.access(file, os.W_OK) and os.access(file.absolute().parent, os.W_OK)


def log_of(file: Path) -> Path | None:
    """Return the write-ahead log beside a history where it holds something."""
    log = file.with_name(f"{file.name}-wal")
    try:
        return log if log.stat().st_size else None
    except OSError:
        return None


def read_only(file: Path, *, immutable: bool = False) -> sqlite3.Connection:
    """Return a connection that cannot change a file; `immutable` for one that nobody can write to."""
    uri = f"{file.absolute().as_uri()}?mode=ro{'&immutable=1' if immutable else ''}"
    connection = sqlite3.connect(uri, uri=True, isolation_level=None, timeout=5.0, check_same_thread=False)
    connection.execute("PRAGMA trusted_schema = OFF")
    return connection


def looked(file: Path, look: Callable[[sqlite3.Connection], _Found]) -> _Found:
    """Return what `look` finds in a file; no byte of it is changed, and nothing is left beside it.

    Parameters
    ----------
    file : Path
        It exists, and may be any program's.
    look : callable
        Called with a connection that only reads; a second time where another program wrote meanwhile.

    Raises
    ------
    sqlite3.Error
        It cannot be read, or is no database.
    OSError
        It cannot be read or copied.

    Notes
    -----
    A reader of a file with a log makes the log's files, and cannot remove them. So such a file is read as one that
    nobody writes while nobody has it open, and one whose last writer broke off is read as a copy with its log.
    """
    before = _state(file)
    if can_be_written(file) and (before[-1] or not _has_log(file)):
        return _look(file, look)
    log = log_of(file)
    if log is not None:
        with temporary_folder() as folder:
            copy = folder / "history.sqlite"
            shutil.copyfile(file, copy)
            shutil.copyfile(log, copy.with_name(f"{copy.name}-wal"))
            return _look(copy, look)
    try:
        found = _look(file, look, immutable=True)
    except (sqlite3.Error, UnicodeDecodeError):
        if _state(file) == before:
            raise
    else:
        if _state(file) == before:
            return found
    return _look(file, look)


def _look(file: Path, look: Callable[[sqlite3.Connection], _Found], *, immutable: bool = False) -> _Found:
    with closing(read_only(file, immutable=immutable)) as connection:
        connection.execute("BEGIN")
        return look(connection)


def _state(file: Path) -> tuple[int, int, int, bool]:
    """Return what changes when another program writes; the last: whether one has it open, or broke off so."""
    state = file.stat()
    return state.st_mtime_ns, state.st_size, state.st_ino, file.with_name(f"{file.name}-shm").exists()


def _has_log(file: Path) -> bool:
    """Whether a database is kept with a write-ahead log, as its 20th byte says, or has one beside it."""
    with file.open("rb") as opened:
        return opened.read(20)[19:] == b"\x02" or file.with_name(f"{file.name}-wal").exists()


def is_damage(error: BaseException) -> bool:
    """Whether an error of the database says that the file is damaged."""
    return any(sign in str(error).lower() for sign in _SIGNS)


def first_fault(
    file: Path, migrations: Sequence[Migration] = MIGRATIONS, *, every_page: bool = False
) -> str | None:
    """Return what is damaged in an SQLite file, in a few words; None where nothing was found.

    Parameters
    ----------
    file : Path
        It exists.
    migrations : sequence of Migration
        The forms that are known.
    every_page : bool
        Check all pages of a large file, too.

    Raises
    ------
    sqlite3.Error
        It cannot be read, or is no database.
    """
    outside = _fault_outside(file)
    if outside is not None:
        return outside
    try:
        return looked(
            file, lambda connection: next(faults(connection, migrations, every_page=every_page), None)
        )
    except UnicodeDecodeError:
        return _NO_TEXT


def all_faults(file: Path) -> list[str]:
    """Return everything that is damaged in the form and the pages of a file; see `first_fault`."""
    outside = _fault_outside(file)
    if outside is not None:
        return [outside]
    out: list[str] = []

    def look(connection: sqlite3.Connection) -> None:
        out.clear()
        for fault in faults(connection):  # one by one: those before the last breaks off stay
            out.append(fault)

    try:
        looked(file, look)
    except sqlite3.DatabaseError as error:
        if not is_damage(error):
            raise
        out.append(f"the database says: {error}")
    except UnicodeDecodeError:
        out.append(_NO_TEXT)
    return out


def _fault_outside(file: Path) -> str | None:
    """Return what is wrong before the database is asked: it would bring the log of another history into the file."""
    with file.open("rb") as opened:
        head = opened.read(100)
    if not head:
        return _NO_BYTES
    log = log_of(file)
    mark = head[_MARK]
    if log is None or not any(mark):
        return None
    with log.open("rb") as opened:
        begun = opened.read(32)
        size = int.from_bytes(begun[8:12], "big")
        if not 512 <= size <= 65536:
            return None
        while len(frame := opened.read(24 + size)) == 24 + size and frame[8:16] == begun[16:24]:
            other = frame[24:][_MARK]
            if frame[:4] == _FIRST_PAGE and any(other) and other != mark:
                return f"the log beside it, {log.name}, is of another history; move that log away"
    return None


def holds_history(connection: sqlite3.Connection) -> bool:
    """Whether a database has any table of a history; a new one has all when it gets its name."""
    names = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
    return any(name in _OURS for (name,) in names)


def form_of(connection: sqlite3.Connection) -> int:
    """Return the form that a history tells; 0 where it tells none."""
    try:
        return int(connection.execute("SELECT max(version) FROM debrief_migrations").fetchone()[0] or 0)
    except sqlite3.OperationalError:
        return 0


def faults(
    connection: sqlite3.Connection, migrations: Sequence[Migration] = MIGRATIONS, *, every_page: bool = True
) -> Iterator[str]:
    """Give what is damaged in the form and the pages of a history, each in a few words."""
    pages = int(connection.execute("PRAGMA page_count").fetchone()[0])
    size = pages * int(connection.execute("PRAGMA page_size").fetchone()[0])
    made: set[Made] = {
        (kind, name, table, plain(sql))
        for kind, name, table, sql in connection.execute(
            "SELECT type, name, tbl_name, sql FROM sqlite_master"
        )
    }
    ours = {one for one in made if {one[1], one[2]} & _OURS}
    if not ours:
        # Another program's database is no damage; one without tables is being made, unless it had some.
        if not made and pages > 1:
            yield "its tables are gone"
        return
    wrong = list(_form_faults(connection, ours, migrations))
    if not wrong and form_of(connection) <= migrations[-1].version:
        # Whose file it is cannot be told then, and what is not a history is never written to.
        wrong = [
            f"it holds the {kind} {name}, which this program did not make"
            for kind, name, table, _ in sorted(made - ours)
            if kind in ("table", "view") and not name.startswith("sqlite_")
        ]
    yield from wrong
    if not wrong and (every_page or size <= MOST_BYTES):
        for (text,) in connection.execute("PRAGMA integrity_check"):
            if text != "ok":
                yield f"its pages do not fit together ({' '.join(str(text).split())})"


def _form_faults(
    connection: sqlite3.Connection, ours: set[Made], migrations: Sequence[Migration]
) -> Iterator[str]:
    if not any(kind == "table" and name == schema.migrations.name for kind, name, _, _ in ours):
        yield "the table that tells its form is gone"
        return
    if not made_by(()) & ours:
        yield f"the table {schema.migrations.name} is not as it was made"
        return
    versions = [row[0] for row in connection.execute(f"SELECT version FROM {schema.migrations.name}")]
    if versions and versions[-1] > migrations[-1].version:
        return  # of a newer program, which is said elsewhere
    if versions != list(range(1, len(versions) + 1)) or not versions:
        yield f"what it tells of its form is broken ({schema.migrations.name})"
        return
    expected = made_by(tuple(migrations[: len(versions)]))
    for kind, name, table, _ in sorted(expected - ours, reverse=True):  # a table before its indexes
        if name.startswith("sqlite_"):
            continue  # made and lost with its table
        changed = any((kind, name) == one[:2] for one in ours)
        of = f" of {table}" if kind != "table" else ""
        yield f"the {kind} {name}{of} is {'not as it was made' if changed else 'gone'}"
    known = {one[:2] for one in expected}
    for kind, name, table, _ in sorted(ours - expected):
        if (kind, name) not in known:
            yield f"it holds {'an' if kind == 'index' else 'a'} {kind} {name} on {table} that this program did not make"


@cache
def made_by(migrations: tuple[Migration, ...]) -> frozenset[Made]:
    """Return what a history of this form holds."""
    with closing(blank(migrations)) as connection:
        rows = connection.execute("SELECT type, name, tbl_name, sql FROM sqlite_master").fetchall()
    return frozenset((kind, name, table, plain(sql)) for kind, name, table, sql in rows)


def blank(migrations: Sequence[Migration]) -> sqlite3.Connection:
    """Return an empty history of a form, in memory."""
    connection = sqlite3.connect(":memory:", isolation_level=None)
    connection.execute(str(CreateTable(schema.migrations).compile(dialect=sqlite_dialect.dialect())))
    for step in migrations:
        for statement in step.statements:
            connection.execute(statement)
    return connection


def plain(sql: object) -> str:
    """Return SQL without the blanks that mean nothing: programs of other days wrote others."""
    return "".join(str(sql or "").split()).lower()
