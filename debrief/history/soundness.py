"""Whether what a history keeps fits together: each value, each flight's rows and its document. Loads SQLAlchemy."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from debrief.history import schema as tables
from debrief.history.failures import told
from debrief.history.measures import Kept, document_values, engine_key, start_epoch
from debrief.history.migrations import MIGRATIONS
from debrief.history.rows import document_of
from debrief.history.store import Store
from debrief.history.values import row_name, row_problem, storable
from debrief.recording.model import Identity

Row = Mapping[str, Any]


def soundness(store: Store) -> tuple[str, ...]:
    """Return what is wrong with the database, one sentence each; empty when nothing was found."""
    with told(store.place), store.engine.connect() as connection:
        if connection.dialect.name == "sqlite":
            for (text,) in connection.exec_driver_sql("PRAGMA integrity_check").all():
                if text != "ok":
                    return (f"The file is damaged: {text}",)
        return tuple(_all(connection))


def _all(connection: Connection) -> Iterator[str]:
    if connection.dialect.name == "sqlite":
        for name, _, of, _ in connection.exec_driver_sql("PRAGMA foreign_key_check").all():
            yield f"A row of {name} belongs to a {of.removesuffix('s')} that is not there."
    titles = {step.version: step.title for step in MIGRATIONS}
    for row in _rows(connection, tables.migrations):
        if titles.get(row["version"]) != row["title"]:
            yield f"What the history tells of its form {row['version']} is not what this program writes."
    for table in (tables.profiles, tables.maintenance):
        for row in _rows(connection, table):
            problem = row_problem(table.name, row)
            if problem is not None:
                yield f"{row_name(table.name, row)}: {problem}."
    for recording in _rows(connection, tables.recordings):
        sha = recording["sha256"]
        children = {table.name: _rows(connection, table, sha) for table in CHILDREN}
        yield from flight_problems(recording, children)


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
    if not wrong and not document_fits(recording, children):
        yield f"{name}: its document does not fit its rows; add the file again."


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
        and storable(document["sentence"]) == recording["sentence"]
        and len(document["starts"]) == len(children["starts"])
        and len(document["events"]) == len(children["events"])
    )
    begun = recording["start_text"]
    epoch = start_epoch(None if begun is None else datetime.fromisoformat(begun))
    if not same or epoch != (recording["start_epoch_s"], recording["start_has_zone"]):
        return False
    keys = _engine_keys(recording)
    return (
        all(_start_fits(row, document, epoch[0]) for row in children["starts"])
        and all(_event_fits(row, document["events"][row["position"]]) for row in children["events"])
        and all(_measure_fits(row, document) for row in children["measures"])
        and all(
            row["engine_key"] in keys(row["engine"])
            for name in ("starts", "events", "measures")
            for row in children[name]
        )
    )


def _engine_keys(recording: Row) -> Callable[[int], set[str | None]]:
    """Return the names that an engine of a flight may have, by its number; alone in it, or one of several."""
    identity = Identity(aircraft=recording["aircraft"], engine_serial=recording["engine_serial"])
    return lambda engine: {engine_key(identity, engine, 1), engine_key(identity, engine, 2)}


def _start_fits(row: Row, document: Mapping[str, Any], epoch: float | None) -> bool:
    starts = document["starts"]
    start = next(one for one in starts if (one["engine"], one["number"]) == (row["engine"], row["number"]))
    begun = start["begin_s"] if start["starter_on_s"] is None else start["starter_on_s"]
    at = None if epoch is None or begun is None else epoch + begun
    return (start["kind"], start["outcome"], at) == (row["kind"], row["outcome"], row["at_epoch_s"])


def _event_fits(row: Row, event: Mapping[str, Any]) -> bool:
    names = ("kind", "engine", "severity", "start_number", "start_s", "end_s", "limit_id")
    return event["class"] == row["event_class"] and all(event[name] == row[name] for name in names)


def _measure_fits(row: Row, document: Mapping[str, Any]) -> bool:
    kept = document_values(document, row["engine"], row["start_number"]).get(row["name"])
    return kept == Kept(row["value"], row["unit"], bool(row["inferred"]))


def _rows(connection: Connection, table: sa.Table, sha: str | None = None) -> list[Row]:
    """Return rows as they are kept, whatever they hold."""
    columns: list[sa.Label[Any]] = [
        sa.literal_column(f"{table.name}.{column.name}").label(column.name) for column in table.columns
    ]
    query = sa.select(*columns).select_from(table)
    if sha is not None:
        query = query.where(table.c.sha256 == sha)
    return [dict(row) for row in connection.execute(query).mappings()]
