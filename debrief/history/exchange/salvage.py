"""What can still be read of a damaged history, brought into a new one. Loads SQLAlchemy.

The damaged file is only read: its pages and those of the log beside it, each for itself (`debrief.history.exchange.pages`).
Every row is held against what its columns may hold, and every flight against its document; what does not fit
is left out and named.
"""

from __future__ import annotations

import mmap
import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from debrief.errors import UserError
from debrief.history.exchange.mending import Mended, mended
from debrief.history.exchange.pages import Pages, Row
from debrief.history.storage import schema as tables
from debrief.history.storage.database import alone, connect
from debrief.history.storage.fitting import CHILDREN, flight_problems, row_of_document, rows_of_document
from debrief.history.storage.form import blank, log_of, made_by, plain
from debrief.history.storage.migrations import MIGRATIONS
from debrief.history.storage.values import document_problem, odd_values, row_problem, shown
from debrief.output.door import flush_folder
from debrief.output.leftovers import temporary_folder

Found = dict[str, dict[tuple[Any, ...], dict[str, Any]]]
"""Rows by table and key."""


@dataclass(frozen=True)
class Lost:
    """A flight that is to be added again from its recording, and why; name and path are empty where unknown."""

    sha256: str
    name: str
    path: str
    why: str


@dataclass
class Salvaged:
    """What came out of a damaged history.

    Attributes
    ----------
    rows : mapping of str to mappings
        Rows of each table that go into the new history, by their keys.
    form : int
        The form that they have.
    again : list of Lost
        Flights to be added again from their recordings.
    homeless : list of str
        What people wrote of flights that are not there any more, a line each.
    left_out : int
        Rows that cannot be right or that belong to nothing.
    mended : list of str
        Flights with values that could not be right and were told by what stands beside them, a line each.
    """

    rows: Found
    form: int
    again: list[Lost] = field(default_factory=list)
    homeless: list[str] = field(default_factory=list)
    left_out: int = 0
    mended: list[str] = field(default_factory=list)

    @property
    def why_no_flight(self) -> str:
        """Why no flight came out."""
        if not self.again:
            return "no row of a flight can be read"
        reasons = list(dict.fromkeys(one.why for one in self.again))
        more = f", and {len(reasons) - 1} more reasons" if len(reasons) > 1 else ""
        return f"of {len(self.again)} flight{'' if len(self.again) == 1 else 's'} {reasons[0]}{more}"

    @property
    def anything(self) -> bool:
        """Whether anything is worth a new history."""
        return bool(self.rows["recordings"] or self.rows["maintenance"] or self.homeless)

    @property
    def words(self) -> str:
        """How many flights, starts, notes, exclusions and maintenance actions came out."""
        kinds = (
            ("recordings", "flight"),
            ("starts", "start"),
            ("notes", "note"),
            ("exclusions", "exclusion"),
            ("maintenance", "maintenance action"),
        )
        counts = ((len(self.rows[table]), name) for table, name in kinds)
        return ", ".join(f"{count} {name}{'' if count == 1 else 's'}" for count, name in counts)


def salvage(file: Path, out: Path) -> Salvaged:
    """Bring what can be read of a damaged history into a new one.

    Parameters
    ----------
    file : Path
        It is only read.
    out : Path
        The new history; nothing may be there.

    Raises
    ------
    UserError
        Nothing of a history can be read, there is something at `out`, or it cannot be written.
    """
    if os.path.lexists(out):
        raise UserError(f"{out} is there already, and nothing is written over: give a name that is free.")
    found = readable(file)
    if not found.anything:
        raise UserError(
            f"Nothing of a history can be read in {file}: {found.why_no_flight}. No file was made."
        )
    try:
        with temporary_folder(out.absolute().parent) as folder:
            made = folder / out.name
            _write(found, made)
            with made.open("rb+") as whole:
                os.fsync(whole.fileno())
            made.chmod(file.stat().st_mode & 0o777)
            # A link fails where something has come meanwhile; a move would replace it.
            os.link(made, out)
        flush_folder(out.absolute().parent)
    except FileExistsError:
        raise UserError(
            f"{out} is there already, and nothing is written over: give a name that is free."
        ) from None
    except OSError as error:
        raise UserError(f"{out} cannot be made: {error.strerror}.") from error
    return found


def readable(file: Path) -> Salvaged:
    """Return what can be read of a damaged history; nothing is written.

    Raises
    ------
    UserError
        It cannot be opened, or was written by a newer program.
    """
    try:
        with file.open("rb") as opened:
            log = log_of(file)
            logged = b"" if log is None else log.read_bytes()
            if os.fstat(opened.fileno()).st_size == 0:
                return _whole(Pages(b"", logged))
            with (
                closing(mmap.mmap(opened.fileno(), 0, access=mmap.ACCESS_READ)) as data,
                memoryview(data) as view,
            ):
                best = _whole(Pages(view))
                # The log of another file would cover what is sound: the better of both is taken.
                return max(_whole(Pages(view, logged)), best, key=_worth) if logged else best
    except OSError as error:
        raise UserError(f"{file} cannot be read: {error.strerror}.") from error


def _worth(found: Salvaged) -> tuple[int, int]:
    counted = sum(map(len, found.rows.values()))
    return len(found.rows["recordings"]) - len(found.again), counted


def _whole(pages: Pages) -> Salvaged:
    form = _form(pages)
    rows, partial, left_out, odd = _rows(pages, form)
    out = Salvaged({name: {} for name in tables.metadata.tables}, form, left_out=left_out)
    out.rows["maintenance"] = rows["maintenance"]
    children: dict[str, dict[str, list[dict[str, Any]]]] = {}
    for table in CHILDREN:
        for row in rows[table.name].values():
            children.setdefault(row["sha256"], {}).setdefault(table.name, []).append(row)
    for (sha,), recording in rows["recordings"].items():
        own = {table.name: children.get(sha, {}).get(table.name, []) for table in CHILDREN}
        _take_flight(out, recording, own, rows["profiles"])
        if (sha,) in out.rows["recordings"] and (found := odd.get(sha)) is not None:
            name = f"{shown(recording['file_name'])} ({sha[:12]})"
            out.mended += [f"{name}: {words}." for words in found.kept]
            out.again += [
                Lost(sha, recording["file_name"], recording["path"], f"{words}; it is unknown until then")
                for words in found.unknown
            ]
    lost = {one.sha256 for one in out.again}
    for one in partial:
        if (one.sha256,) not in out.rows["recordings"] and one.sha256 not in lost:
            lost.add(one.sha256)
            out.again.append(one)
    for sha, own in children.items():
        if (sha,) in out.rows["recordings"]:
            continue
        if sha not in lost:
            out.again.append(Lost(sha, "", "", "its row is gone"))
        for note in own.get("notes", ()):
            if not note["removed"]:
                out.homeless.append(
                    f"Note of {note['author'] or 'nobody named'} on {sha[:12]}: {note['text']}"
                )
        for mark in own.get("exclusions", ()):
            if not mark["withdrawn"]:
                out.homeless.append(
                    f"Start {mark['start_number']} of {sha[:12]} was excluded: {mark['reason']}"
                )
    used = {row["profile_key"] for row in out.rows["recordings"].values()}
    out.rows["profiles"] = {key: row for key, row in rows["profiles"].items() if key[0] in used}
    return out


def _take_flight(
    out: Salvaged,
    recording: dict[str, Any],
    own: dict[str, list[dict[str, Any]]],
    profiles: Mapping[tuple[Any, ...], object],
) -> None:
    sha = recording["sha256"]

    def again(why: str) -> None:
        out.again.append(Lost(sha, recording["file_name"], recording["path"], why))

    problem = document_problem(recording["document"], sha)
    if problem is not None:
        again(problem)
        return
    if any(flight_problems(recording, own)):
        try:
            recording = row_of_document(recording)
            own = {**own, **rows_of_document(recording)}
        except (ValueError, KeyError, TypeError, AttributeError, IndexError):
            again("its document is damaged")
            return
        if any(flight_problems(recording, own)):
            again("its row does not fit its document, and which is right cannot be told")
            return
        again("its numbers did not fit its document; those of the document are kept until then")
    if recording["profile_key"] is not None and (recording["profile_key"],) not in profiles:
        recording = {**recording, "profile_key": None}
        again("its profile cannot be read")
    out.rows["recordings"][(sha,)] = recording
    for table in CHILDREN:
        for row in own[table.name]:
            out.rows[table.name][tuple(row[column.name] for column in table.primary_key)] = row


# --- rows ---------------------------------------------------------------------------------------------


def _form(pages: Pages) -> int:
    """Return the form of a history: what its tables look like and what it says, else the present one."""
    tables_found = _tables(pages)
    last = MIGRATIONS[-1].version
    versions = [0]
    if tables.migrations.name in tables_found:
        for row in pages.table(tables_found[tables.migrations.name][0]).rows():
            if row.whole and len(row.values) == len(tables.migrations.columns):
                versions.append(row.number)
    if versions == sorted(set(versions)) and last < versions[-1] < 1000:
        raise UserError(
            f"The history was written by a newer Turbine Debrief (form {versions[-1]}; this one knows form "
            f"{last}). Install the newer program; no file was made."
        )
    made = {(name, plain(sql)) for name, (_, sql) in tables_found.items()}
    looks = 0
    for form in range(1, last + 1):
        if {(name, sql) for kind, name, _, sql in made_by(MIGRATIONS[:form]) if kind == "table"} <= made:
            looks = form
    return max(looks, *(one for one in versions if one <= last)) or last


def _tables(pages: Pages) -> dict[str, tuple[int, str]]:
    """Return the first page and the SQL of each table of a history that the file names."""
    out = {}
    for row in pages.table(1).rows():
        if row.whole and len(row.values) == 5 and row.values[0] == "table":
            _, name, _, root, sql = row.values
            if name in tables.metadata.tables and isinstance(root, int):
                out[str(name)] = root, str(sql)
    return out


@dataclass(frozen=True)
class _Columns:
    """The columns of a table in one form, in order, and what those have that a row was written without."""

    table: sa.Table
    names: tuple[str, ...]
    defaults: Mapping[str, Any]
    numbers: frozenset[str]
    row_number: str | None

    def read(self, row: Row) -> dict[str, Any] | None:
        """Return a row by its columns; None where it is none of this table, or something in it cannot be right."""
        out = self.values(row)
        return None if out is None or row_problem(self.table.name, out) is not None else out

    def mended(self, row: Row) -> Mended | None:
        """Return the row of a flight without its odd values; None where it is none, or cannot be mended."""
        out = self.values(row) if self.table is tables.recordings else None
        return None if out is None else mended(out)

    def values(self, row: Row) -> dict[str, Any] | None:
        """Return what stands in a row by the columns; None where it is none of this table."""
        if not row.whole or len(row.values) > len(self.names):
            return None
        out = {**self.defaults, **dict(zip(self.names, row.values, strict=False))}
        if len(out) < len(self.names):
            return None
        for name in self.numbers:
            if type(out[name]) is int:
                out[name] = float(out[name])
        if self.row_number is not None:
            out[self.row_number] = row.number
        return out


@cache
def _columns(form: int) -> tuple[_Columns, ...]:
    out = []
    with closing(blank(MIGRATIONS[:form])) as connection:
        for table in tables.metadata.sorted_tables:
            info = connection.execute(f"PRAGMA table_info({table.name})").fetchall()
            if not info:
                continue
            # Rows from before a column was added do not have it.
            defaults = {
                name: None if default is None else connection.execute(f"SELECT {default}").fetchone()[0]
                for _, name, _, _, default, _ in info[_first_width(table.name) :]
            }
            keys = [name for _, name, kind, _, _, key in info if key and kind.upper() == "INTEGER"]
            whole_key = [name for _, name, *_, key in info if key]
            out.append(
                _Columns(
                    table,
                    tuple(name for _, name, *_ in info),
                    defaults,
                    frozenset(name for _, name, kind, *_ in info if kind.upper() == "DOUBLE PRECISION"),
                    keys[0] if keys == whole_key else None,
                )
            )
    return tuple(out)


def _first_width(table: str) -> int:
    """Return how many columns a table had when it was first made."""
    for form in range(1, len(MIGRATIONS) + 1):
        with closing(blank(MIGRATIONS[:form])) as connection:
            width = len(connection.execute(f"PRAGMA table_info({table})").fetchall())
        if width:
            return width
    return 0


def _rows(pages: Pages, form: int) -> tuple[Found, list[Lost], int, dict[str, Mended]]:
    """Return the rows of each table, flights whose rows cannot be used, rows left out, and flights that were mended.

    Notes
    -----
    First those that the tables' trees lead to. Where a tree is broken or gone, its rows are looked for on all
    other pages, also those that the file says are free where a table is gone: deleting a table frees its pages.
    """
    out: Found = {name: {} for name in tables.metadata.tables}
    partial: list[Lost] = []
    odd: dict[str, Mended] = {}
    left_out = 0
    roots, seen = {name: root for name, (root, _) in _tables(pages).items()}, {1}
    broken: list[_Columns] = []
    gone = False
    for columns in _columns(form):
        name = columns.table.name
        if name not in roots:
            broken.append(columns)
            gone = True
            continue
        walk = pages.table(roots[name])
        seen |= walk.seen
        if walk.broken:
            broken.append(columns)
        for row in walk.rows():
            if not _take(out, columns, row, odd):
                left_out += 1
                if name == "recordings":
                    partial += _named(columns, row)
    if broken:
        free = set() if gone else pages.free()
        for number in range(1, pages.count + 1):
            if number in seen or number in free or not pages.is_leaf(number):
                continue
            rows = list(pages.rows(number))
            fit = max(broken, key=lambda columns: sum(_fits(columns, row) for row in rows))
            for row in rows:
                if not _take(out, fit, row, odd) and fit.table.name == "recordings":
                    partial += _named(fit, row)
    return out, partial, left_out, odd


def _fits(columns: _Columns, row: Row) -> bool:
    return columns.read(row) is not None or columns.mended(row) is not None


def _take(out: Found, columns: _Columns, row: Row, odd: dict[str, Mended]) -> bool:
    values = columns.read(row)
    if values is None:
        made = columns.mended(row)
        if made is None:
            return False
        values = made.row
        odd[values["sha256"]] = made
    key = tuple(values[column.name] for column in columns.table.primary_key)
    out[columns.table.name].setdefault(key, values)
    return True


def _named(columns: _Columns, row: Row) -> Iterator[Lost]:
    """Give a recording whose row breaks off, or is odd and has no whole document; what it tells of itself."""
    begun = dict(zip(columns.names, row.values, strict=False))
    known = {name: begun.get(name) for name in ("sha256", "file_name", "path")}
    odd = odd_values("recordings", known)
    if "sha256" not in odd:
        words = ["" if name in odd else str(known[name]) for name in ("sha256", "file_name", "path")]
        why = "its row cannot be read to its end"
        values = columns.values(row)
        if values is not None:
            why = f"{row_problem('recordings', values)}, and its document is not whole"
        yield Lost(words[0], words[1], words[2], why)


# --- the new history ----------------------------------------------------------------------------------


def _write(found: Salvaged, file: Path) -> None:
    """Make a history of the form that was found, fill it, and bring it to the present form."""
    engine = connect(str(file), migrations=MIGRATIONS[: found.form])
    try:
        with alone(engine) as connection:
            for table in tables.metadata.sorted_tables:
                rows = list(found.rows[table.name].values())
                if rows and table is not tables.migrations:
                    _insert(connection, table.name, rows)
    finally:
        engine.dispose()
    connect(str(file)).dispose()


def _insert(connection: sa.Connection, table: str, rows: Sequence[Mapping[str, Any]]) -> None:
    names = list(rows[0])
    places = ", ".join(f":{name}" for name in names)
    connection.execute(
        sa.text(f"INSERT INTO {table} ({', '.join(names)}) VALUES ({places})"), [dict(row) for row in rows]
    )


def lost_line(one: Lost) -> str:
    """Return which flight is to be added again, from where, and why."""
    name = shown(one.name) if one.name else "A flight whose name is lost"
    where = f" from {one.path}" if one.path else ""
    return f"{name} ({one.sha256[:12]}){where}: {one.why}."
