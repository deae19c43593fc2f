"""Whether a flight's rows and its kept document say the same, and the rows that a document makes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from debrief.history.measures import engine_key, start_epoch
from debrief.history.storage import schema as tables
from debrief.history.storage.rows import document_of, told_rows
from debrief.history.storage.values import fitted, odd_values, row_name, row_problem
from debrief.recording.model import Identity

Row = Mapping[str, Any]

CHILDREN = (
    tables.starts,
    tables.start_traces,
    tables.measures,
    tables.events,
    tables.notes,
    tables.exclusions,
)
"""Tables whose rows belong to a flight."""


def flight_problems(recording: Row, children: Mapping[str, Sequence[Row]]) -> Iterator[str]:
    """Give what is wrong with one flight and all its rows, one sentence each.

    Parameters
    ----------
    recording : mapping
        Its row of `recordings`.
    children : mapping of str to sequence of mappings
        Its rows of the other tables, by the names of these.
    """
    name = f"{recording['file_name']} ({str(recording['sha256'])[:12]})"
    problem = row_problem(tables.recordings.name, recording)
    wrong = [] if problem is None else [f"{name}: {problem}."]
    for table in CHILDREN:
        for row in children[table.name]:
            problem = row_problem(table.name, row)
            if problem is not None:
                wrong.append(f"{name}: {row_name(table.name, row)}: {problem}.")
    yield from wrong
    if wrong:
        others = _told_otherwise(recording)
        if others:
            yield f"{name}: its document tells another {', '.join(others)}."
    elif not document_fits(recording, children):
        yield f"{name}: its document does not fit its rows; add the file again."


def _told_otherwise(recording: Row) -> list[str]:
    """Return the columns of a flight, themselves in order, of which its document tells another value."""
    try:
        told_of = row_of_document(recording)
    except (ValueError, KeyError, TypeError, AttributeError, IndexError, RecursionError):
        return []
    odd = odd_values(tables.recordings.name, recording)
    return [name for name, value in told_of.items() if value != recording[name] and name not in odd]


def document_fits(recording: Row, children: Mapping[str, Sequence[Row]]) -> bool:
    """Whether the document of a flight says what its rows say."""
    try:
        return _document_fits(document_of(recording["document"]), recording, children)
    except (ValueError, KeyError, TypeError, AttributeError, IndexError, RecursionError, StopIteration):
        return False


def _document_fits(
    document: Mapping[str, Any], recording: Row, children: Mapping[str, Sequence[Row]]
) -> bool:
    told_of = document["recording"]
    same = (
        told_of["sha256"] == recording["sha256"]
        and told_of["rows"] == recording["row_count"]
        and told_of["duration_s"] == recording["duration_s"]
        and told_of.get("byte_count", recording["byte_count"]) == recording["byte_count"]
        and document["verdict"] == recording["verdict"]
        and _as_kept("recordings", "sentence", document["sentence"]) == recording["sentence"]
        and len(document["starts"]) == len(children["starts"])
        and len(document["events"]) == len(children["events"])
        and all(recording[name] == value for name, value in _identity(document).items())
    )
    begun = recording["start_text"]
    epoch = start_epoch(None if begun is None else datetime.fromisoformat(begun))
    if not same or epoch != (recording["start_epoch_s"], recording["start_has_zone"]):
        return False
    keys = _engine_keys(recording)
    expected = rows_of_document(recording)
    return all(
        _by_key(name, expected[name]) == _by_key(name, children[name])
        and all(row["engine_key"] in keys(row["engine"]) for row in children[name])
        for name in expected
    )


def _identity(document: Mapping[str, Any]) -> dict[str, str | None]:
    """Return whose flight it is as far as its document tells; the rest was known before, or is unknown."""
    told_of = document["recording"].get("identity") or {}
    return {
        name: _as_kept("recordings", name, told_of[name])
        for name in ("aircraft", "engine_serial", "engine_model")
        if told_of.get(name)
    }


def _by_key(table: str, rows: Sequence[Row]) -> dict[tuple[object, ...], dict[str, object]]:
    """Return rows by their keys; whose engine it is depends on more than the document."""
    keys = [column.name for column in tables.metadata.tables[table].primary_key]
    return {
        tuple(row[key] for key in keys): {name: row[name] for name in row if name != "engine_key"}
        for row in rows
    }


def _kept_identity(recording: Row) -> Identity:
    """Return whose flight it is as it is kept; the serial numbers of further engines stand in its document."""
    told_of = document_of(recording["document"])["recording"].get("identity") or {}
    return Identity(
        aircraft=recording["aircraft"],
        engine_serial=recording["engine_serial"],
        engine_serials=told_of.get("engine_serials") or {},
    )


def _engine_keys(recording: Row) -> Callable[[int], set[str | None]]:
    """Return the names that an engine of a flight may have, by its number; alone in it, or one of several."""
    identity = _kept_identity(recording)
    return lambda engine: {_as_kept("starts", "engine_key", engine_key(identity, engine, n)) for n in (1, 2)}


def _as_kept(table: str, column: str, value: str | None) -> str | None:
    """Return a text as the history keeps it: without what a database cannot hold, and not endless."""
    kept: str | None = fitted(table, {column: value})[column]
    return kept


def row_of_document(recording: Row) -> dict[str, Any]:
    """Return a flight's row with what its document tells of it.

    Raises
    ------
    ValueError, KeyError, TypeError
        The document cannot be read.
    """
    document = document_of(recording["document"])
    told_of = document["recording"]
    return {
        **recording,
        **_identity(document),
        "row_count": told_of["rows"],
        "duration_s": float(told_of["duration_s"]),
        "byte_count": told_of.get("byte_count", recording["byte_count"]),
        "verdict": document["verdict"],
        "sentence": _as_kept("recordings", "sentence", document["sentence"]),
    }


def rows_of_document(recording: Row) -> dict[str, list[dict[str, Any]]]:
    """Return the starts, measures and events that the document of a flight tells, as rows of the present form.

    Raises
    ------
    ValueError, KeyError, TypeError
        The document cannot be read.
    """
    identity = _kept_identity(recording)
    document, epoch = document_of(recording["document"]), recording["start_epoch_s"]
    return {
        table: [kept for row in rows if row_problem(table, kept := fitted(table, row)) is None]
        for table, rows in told_rows(document, recording["sha256"], identity, epoch).items()
    }


def children_of(connection: Connection, sha256: str) -> dict[str, list[Row]]:
    """Return the rows that belong to a flight by their tables, as they are kept, whatever they hold."""
    return {table.name: raw_rows(connection, table, sha256) for table in CHILDREN}


def raw_rows(connection: Connection, table: sa.Table, sha: str | None = None) -> list[Row]:
    """Return rows as they are kept, whatever they hold."""
    columns: list[sa.Label[Any]] = [
        sa.literal_column(f"{table.name}.{column.name}").label(column.name) for column in table.columns
    ]
    query = sa.select(*columns).select_from(table)
    if sha is not None:
        query = query.where(table.c.sha256 == sha)
    return [dict(row) for row in connection.execute(query).mappings()]
