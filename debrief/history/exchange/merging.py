"""Lines of an export, or of another history, brought into one: each is looked at before anything of it is kept.

Loads SQLAlchemy.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from debrief.errors import UserError
from debrief.history.storage import schema as tables
from debrief.history.storage.changes import line_of, replaced_text
from debrief.history.storage.joining import Joined, join_exclusions, join_maintenance, join_notes
from debrief.history.storage.rules import NoNumber, parsed_json
from debrief.history.storage.values import document_problem, row_problem, shown
from debrief.output.contents import LONGEST_LINE

EXPORT_SCHEMA = "turbine-debrief.history/1"
OF_FLIGHTS = (tables.starts, tables.start_traces, tables.measures, tables.events)
"""What is known of a recording besides itself, worked out anew when it is assessed anew."""
OF_PEOPLE = (tables.notes, tables.exclusions)
"""What people wrote on a recording."""
_ADDED_LATER = frozenset({tables.start_traces.name})
"""Tables that an export of an earlier program does not have."""

Line = Mapping[str, Any]


@dataclass(frozen=True)
class Merged:
    """What a merge brought.

    Attributes
    ----------
    new, known : int
        Recordings that were not here, and those that were.
    words : int
        How much of what people wrote, or took back, was not known here.
    beside : int
        How much of it was changed at both desks, so that both stay.
    left_out : int
        Rows of the other history that cannot be right and were not taken.
    """

    new: int = 0
    known: int = 0
    words: int = 0
    beside: int = 0
    left_out: int = 0


class _Unfit(Exception):
    """What is wrong with a line, in words."""


def read_export(path: Path) -> Iterator[Line]:
    """Give the lines of an export.

    Raises
    ------
    UserError
        It cannot be read, or is no export.
    """
    try:
        with path.open(encoding="utf-8") as file:
            number = 0
            while text := file.readline(LONGEST_LINE):
                number += 1
                if not text.strip():
                    continue
                try:
                    line = parsed_json(text)
                except ValueError as error:
                    if isinstance(error, NoNumber):
                        raise UserError(
                            f"{path.name}, line {number}: {error}. Nothing of it was kept."
                        ) from error
                    line = None
                if not isinstance(line, dict) or (number == 1 and line.get("schema") != EXPORT_SCHEMA):
                    raise UserError(
                        f"{path.name}, line {number}, is not of a history's export: nothing of it was kept."
                    )
                yield line
    except UnicodeDecodeError:
        raise UserError(f"{path.name} is not a history's export: it is not text.") from None
    except OSError as error:
        raise UserError(f"{path} cannot be read: {error.strerror}.") from error


def merge_lines(target: Connection, lines: Iterator[Line], name: str) -> Merged:
    """Bring lines into a history; the first has what belongs to no recording, each other is a recording.

    Raises
    ------
    UserError
        Something in them cannot be right; the caller's transaction keeps nothing then.
    """
    new = known = 0
    joined = Joined()
    number = 0
    try:
        for number, line in enumerate(lines, start=1):
            if number == 1:
                joined += join_maintenance(target, _rows(line, tables.maintenance, None))
                continue
            flight = _fit_flight(line)
            if _merge_flight(target, flight):
                new += 1
            else:
                known += 1
            joined += join_notes(target, flight[tables.notes.name])
            joined += join_exclusions(target, flight[tables.exclusions.name])
    except (_Unfit, sa.exc.IntegrityError, sa.exc.DataError) as error:
        # References between rows are the database's to check.
        why = error if isinstance(error, _Unfit) else "its rows do not belong together"
        raise UserError(f"{name}, line {number}: {why}. Nothing of it was kept.") from error
    if number == 0:
        raise UserError(f"{name} is empty: it is not a history's export.")
    return Merged(new, known, joined.taken, joined.beside)


def _fit_flight(line: Line) -> dict[str, Any]:
    """Return a line's rows, each with all columns of its table and no others; refuse what cannot be right."""
    recording = _row(tables.recordings, line.get("recording"), "recording")
    sha = recording["sha256"]
    problem = document_problem(recording["document"], sha)
    if problem is not None:
        raise _Unfit(problem)
    profile = line.get("profile")
    out: dict[str, Any] = {
        "recording": recording,
        "profile": None if profile is None else _row(tables.profiles, profile, "profile"),
    }
    if profile is not None and out["profile"]["profile_key"] != recording["profile_key"]:
        raise _Unfit("its profile is not the one that it names")
    for table in (*OF_FLIGHTS, *OF_PEOPLE):
        out[table.name] = _rows(line, table, sha)
    return out


def _rows(line: Line, table: sa.Table, sha: str | None) -> list[dict[str, Any]]:
    given = line.get(table.name, [] if table.name in _ADDED_LATER else None)
    if not isinstance(given, list):
        raise _Unfit(f"{table.name} is {shown(given)} and not a list")
    rows = []
    keys = set()
    for number, one in enumerate(given, start=1):
        row = _row(table, one, f"{table.name} {number}")
        if sha is not None and row["sha256"] != sha:
            raise _Unfit(f"{table.name} {number} is of another recording")
        key = tuple(row[column.name] for column in table.primary_key.columns)
        if key in keys:
            raise _Unfit(f"{table.name} {number} is there twice")
        keys.add(key)
        rows.append(row)
    return rows


def _row(table: sa.Table, given: object, which: str) -> dict[str, Any]:
    """Return the columns of the table; an unknown one is left out."""
    if not isinstance(given, dict):
        raise _Unfit(f"{which} is {shown(given)} and not a row")
    row = {}
    for column in table.columns:
        if column.name in given:
            row[column.name] = given[column.name]
        elif column.default is not None or column.name in _MAY_LACK:
            row[column.name] = getattr(column.default, "arg", None)
        else:
            raise _Unfit(f"{which} has no {column.name}")
    problem = row_problem(table.name, row)
    if problem is not None:
        raise _Unfit(f"{which}: {problem}")
    return row


_MAY_LACK = frozenset({"beside", "curves"})
"""Columns that an export of an earlier program does not have and that are unknown then."""


def _merge_flight(target: Connection, flight: Mapping[str, Any]) -> bool:
    """Bring one recording; return whether it is new."""
    r, p = tables.recordings, tables.profiles
    row, profile = flight["recording"], flight["profile"]
    sha = row["sha256"]
    if profile is not None:
        known = sa.select(p.c.profile_key).where(p.c.profile_key == profile["profile_key"])
        if target.execute(known).first() is None:
            target.execute(p.insert().values(**profile))
    here = target.execute(sa.select(r).where(r.c.sha256 == sha)).mappings().first()
    if here is not None and not _stands(row, here):
        return False
    if here is None:
        target.execute(r.insert().values(**row))
    else:
        later = {name: value for name, value in row.items() if name not in ("sha256", "added_at")}
        later["replaces"] = replaced_text((line_of(row) | line_of(here)) - {row["version"]})
        target.execute(r.update().where(r.c.sha256 == sha).values(**later))
        for table in OF_FLIGHTS:
            target.execute(table.delete().where(table.c.sha256 == sha))
    for table in OF_FLIGHTS:
        if flight[table.name]:
            target.execute(table.insert(), flight[table.name])
    return here is None


def _stands(row: Mapping[str, Any], here: Mapping[Any, Any]) -> bool:
    """Whether an assessment from elsewhere takes the place of the one that is here."""
    if row["version"] and row["version"] in line_of(here):
        return False
    if here["version"] and here["version"] in line_of(row):
        return True
    # Made at two desks that knew nothing of each other: both are whole, and only clocks tell.
    return bool(row["assessed_at"] > here["assessed_at"]) and not _tells_less(row, here)


def _tells_less(row: Mapping[str, Any], here: Mapping[Any, Any]) -> bool:
    """Whether a row lacks what is known here of whose recording it is: someone may have entered that."""
    names = ("aircraft", "engine_serial", "start_text")
    return any(row[name] is None and here[name] is not None for name in names)
