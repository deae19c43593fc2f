"""What another history or a waiting note brings, joined with what is here: what people wrote stays, whoever wrote it.

Loads SQLAlchemy.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from debrief.history.storage import schema as tables
from debrief.history.storage.changes import Change, change_of, joined, side_by_side

Row = Mapping[Any, Any]


@dataclass(frozen=True)
class Joined:
    """What became of words from elsewhere: how many were taken, and how many now stand beside others'."""

    taken: int = 0
    beside: int = 0

    def __add__(self, other: Joined) -> Joined:
        return Joined(self.taken + other.taken, self.beside + other.beside)


def join_notes(connection: Connection, rows: Sequence[Row]) -> Joined:
    """Join notes with those that are here, by their changes."""
    n = tables.notes
    out = Joined()
    groups: dict[str, list[Row]] = {}
    for row in rows:
        groups.setdefault(_root(connection, row), []).append(row)
    for key, theirs in groups.items():
        which = (n.c.note_id == key) | (n.c.beside == key)
        here = [dict(row) for row in connection.execute(sa.select(n).where(which)).mappings()]
        mine = joined(map(note_change, here))
        heads = joined([*mine, *map(note_change, theirs)])
        wanted = [
            {"note_id": note_id, **head.columns(), "beside": None if note_id == key else key}
            for note_id, head in side_by_side(key, heads).items()
        ]
        news = [head for head in heads if head.version not in {one.version for one in mine}]
        if {row["note_id"]: row for row in here} == {row["note_id"]: row for row in wanted}:
            continue
        connection.execute(n.delete().where(which))
        connection.execute(n.insert(), wanted)
        out += Joined(len(news), int(bool(mine) and len(heads) > len(mine)))
    return out


def _root(connection: Connection, row: Row) -> str:
    """Return the id of the note that this one is, or that it stands beside."""
    n = tables.notes
    beside = row.get("beside") or connection.scalar(
        sa.select(n.c.beside).where(n.c.note_id == row["note_id"])
    )
    return str(beside or row["note_id"])


def note_change(row: Row) -> Change:
    """Return a row of notes as a change: what it says is not its name."""
    return change_of({name: value for name, value in row.items() if name != "note_id"})


# --- exclusions -----------------------------------------------------------------------------------------


def join_exclusions(connection: Connection, rows: Iterable[Row]) -> Joined:
    """Join exclusions with those that are here, by their changes; all that stand are kept in one row."""
    x = tables.exclusions
    out = Joined()
    for row in rows:
        key = {column.name: row[column.name] for column in x.primary_key.columns}
        which = sa.and_(*(column == key[column.name] for column in x.primary_key.columns))
        here = connection.execute(sa.select(x).where(which)).mappings().first()
        mine = () if here is None else exclusion_changes(here)
        heads = joined([*mine, *exclusion_changes(row)])
        news = [head for head in heads if head.version not in {one.version for one in mine}]
        wanted = exclusion_columns(heads)
        if here is not None and dict(here) == {**key, **wanted}:
            continue
        if here is None:
            connection.execute(x.insert().values(**key, **wanted))
        else:
            connection.execute(x.update().where(which).values(**wanted))
        out += Joined(len(news), int(bool(mine) and len(heads) > len(mine)))
    return out


def exclusion_changes(row: Row) -> tuple[Change, ...]:
    """Return all that is said of one start, whoever said it."""
    key = {column.name for column in tables.exclusions.primary_key.columns}
    first = {name: value for name, value in row.items() if name not in key}
    return joined(map(change_of, [first, *json.loads(row["others"])]))


def exclusion_columns(heads: Sequence[Change]) -> dict[str, Any]:
    """Return changes of one exclusion as the columns of its row: one that leaves the start out comes first."""
    first, *others = sorted((head.columns() for head in heads), key=lambda one: bool(one["withdrawn"]))
    return {**first, "others": json.dumps(others, sort_keys=True)}


def exclusion_reason(row: Row) -> str | None:
    """Return why a start is left out, in the words of all who say so; None where it counts."""
    standing = [head.words for head in exclusion_changes(row) if not head.words["withdrawn"]]
    reasons = dict.fromkeys(str(words["reason"]) for words in standing)
    return " / ".join(reasons) if standing else None


# --- maintenance ----------------------------------------------------------------------------------------


def join_maintenance(connection: Connection, rows: Iterable[Row]) -> Joined:
    """Join maintenance actions: one that was taken back anywhere stays so."""
    m = tables.maintenance
    taken = 0
    for row in rows:
        which = m.c.action_id == row["action_id"]
        here = connection.execute(sa.select(m).where(which)).mappings().first()
        if here is None:
            connection.execute(m.insert().values(**row))
            taken += 1
            continue
        # What was done never changes; a row that differs is damaged, and one of both is taken everywhere.
        both: list[Row] = [dict(here), row]
        first = min(both, key=_as_json)
        wanted = {**first, "withdrawn": bool(here["withdrawn"] or row["withdrawn"])}
        if wanted != dict(here):
            connection.execute(m.update().where(which).values(**wanted))
            taken += 1
    return Joined(taken)


def _as_json(row: Row) -> str:
    return json.dumps({name: value for name, value in row.items() if name != "withdrawn"}, sort_keys=True)
