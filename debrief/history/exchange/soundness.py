"""Whether what a history keeps fits together: each value, each flight's rows and its document. Loads SQLAlchemy."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from sqlalchemy.engine import Connection

from debrief.history.storage import schema as tables
from debrief.history.storage.copies import newest_copy
from debrief.history.storage.failures import told
from debrief.history.storage.fitting import children_of, flight_problems, raw_rows
from debrief.history.storage.form import all_faults
from debrief.history.storage.migrations import MIGRATIONS
from debrief.history.storage.places import database_url, place_words
from debrief.history.storage.store import Store
from debrief.history.storage.values import row_name, row_problem

_MOST_SHOWN = 20
"""Faults of a file that are told one by one."""


def soundness(store: Store) -> tuple[str, ...]:
    """Return what is wrong with the database, one sentence each; empty when nothing was found."""
    with told(store.place), store.engine.connect() as connection:
        return tuple(_all(connection))


def file_faults(db: str | None) -> tuple[str, ...]:
    """Return what is damaged in a history's file and what can be done, one sentence each.

    Empty where the file is sound as far as its tables and pages go, and where the history is on a server.

    Raises
    ------
    UserError
        It cannot be read at all.
    """
    url = database_url(db)
    file = Path(str(url.database))
    if url.get_backend_name() != "sqlite" or not file.is_file():
        return ()
    place = place_words(url)
    with told(place):
        found = all_faults(file)
    if not found:
        return ()
    shown = [f"The history {place} is damaged: {fault}." for fault in found[:_MOST_SHOWN]]
    if len(found) > _MOST_SHOWN:
        shown.append(f"And {len(found) - _MOST_SHOWN} more.")
    return *shown, *_help(file, place)


def _help(file: Path, place: str) -> Iterator[str]:
    """Give what can be brought out, and what is to be added again."""
    from debrief.history.exchange.salvage import lost_line, readable

    out = readable(file)
    if not out.anything:
        yield "Nothing can be brought out of it."
    else:
        yield f"`debrief history salvage {place} -o NEW` brings out {out.words}."
    for one in out.again:
        yield f"To be added again: {lost_line(one)}"
    copy = newest_copy(file)
    if copy is not None:
        yield f"The newest whole copy is {copy.file} of {copy.day}."


def _all(connection: Connection) -> Iterator[str]:
    if connection.dialect.name == "sqlite":
        for name, _, of, _ in connection.exec_driver_sql("PRAGMA foreign_key_check").all():
            yield f"A row of {name} belongs to a {of.removesuffix('s')} that is not there."
    titles = {step.version: step.title for step in MIGRATIONS}
    for row in raw_rows(connection, tables.migrations):
        if titles.get(row["version"]) != row["title"]:
            yield f"What the history tells of its form {row['version']} is not what this program writes."
    for table in (tables.profiles, tables.maintenance):
        for row in raw_rows(connection, table):
            problem = row_problem(table.name, row)
            if problem is not None:
                yield f"{row_name(table.name, row)}: {problem}."
    for recording in raw_rows(connection, tables.recordings):
        yield from flight_problems(recording, children_of(connection, recording["sha256"]))
