"""Whether an SQLite file has the form of a history: its tables, its migrations, and pages that fit together.

It is looked at before anything is asked of it, read only, so that a damaged file is named as such and stays as it
is: opening it for writing would bring the log beside it into the file. Nothing here loads SQLAlchemy's engine.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from functools import cache
from pathlib import Path

from sqlalchemy.dialects import sqlite as sqlite_dialect
from sqlalchemy.schema import CreateTable

from debrief.history.storage import schema
from debrief.history.storage.migrations import MIGRATIONS, Migration

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


def is_damage(error: BaseException) -> bool:
    """Whether an error of the database says that the file is damaged."""
    return any(sign in str(error).lower() for sign in _SIGNS)


def first_fault(
    file: Path,
    migrations: Sequence[Migration] = MIGRATIONS,
    *,
    every_page: bool = False,
    immutable: bool = False,
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
    immutable : bool
        Nobody can write to it.

    Raises
    ------
    sqlite3.Error
        It cannot be read, or is no database.
    """
    outside = _fault_outside(file)
    if outside is not None:
        return outside
    try:
        with closing(read_only(file, immutable=immutable)) as connection:
            connection.execute("BEGIN")
            return next(faults(connection, migrations, every_page=every_page), None)
    except UnicodeDecodeError:
        return _NO_TEXT


def all_faults(file: Path) -> list[str]:
    """Return everything that is damaged in the form and the pages of a file; see `first_fault`."""
    outside = _fault_outside(file)
    if outside is not None:
        return [outside]
    if not can_be_written(file) and log_of(file) is not None:
        return []  # a copy is looked at when it is opened
    out: list[str] = []
    try:
        with closing(read_only(file, immutable=not can_be_written(file))) as connection:
            connection.execute("BEGIN")
            for fault in faults(connection):
                out.append(fault)
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
    for kind, name, table, _ in sorted(expected - ours):
        changed = any((kind, name) == one[:2] for one in ours)
        of = f" of {table}" if kind != "table" else ""
        yield f"the {kind} {name}{of} is {'not as it was made' if changed else 'gone'}"
    known = {one[:2] for one in expected}
    for kind, name, table, _ in sorted(ours - expected):
        if (kind, name) not in known:
            yield f"it holds a {kind} {name} on {table} that this program did not make"


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
