"""Histories out and in: export to JSON lines or a table of starts, and merge of another history.

The export is complete: merged into an empty history it gives the same history.
"""

from __future__ import annotations

import csv
import io
import json
import os
import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO, TextIO

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from debrief.errors import UserError
from debrief.history import schema as tables
from debrief.history.database import writing
from debrief.history.failures import told
from debrief.history.series import date_text
from debrief.history.store import Store
from debrief.output import Kind, writing_output
from debrief.output.leftovers import temporary_folder
from debrief.words.secrets import looks_like_url

EXPORT_SCHEMA = "turbine-debrief.history/1"

_CHILDREN = (tables.starts, tables.start_traces, tables.measures, tables.events)
_ADDED_LATER = frozenset({tables.start_traces.name})
"""Tables that an export of an earlier program does not have."""
_WORDS = (tables.notes, tables.exclusions)


@dataclass(frozen=True)
class Merged:
    """What a merge brought: new recordings, those already here, and words of people that were newer."""

    new: int = 0
    known: int = 0
    words: int = 0


def export_jsonl(store: Store, out: str | os.PathLike[str]) -> int:
    """Write the whole history as JSON lines, one recording a line; return how many.

    Raises
    ------
    UserError
        The file cannot be written, or is something else than an export; what was there before stays.
    """
    with (
        told(store.place),
        store.engine.connect() as connection,
        writing_output(out, Kind.HISTORY_JSONL, sources=_files_of(store)) as binary,
        _as_text(binary) as file,
    ):
        count = 0
        file.write(
            json.dumps({"schema": EXPORT_SCHEMA, "maintenance": _rows(connection, tables.maintenance)})
        )
        file.write("\n")
        for line in _bundles(connection):
            file.write(json.dumps(line, allow_nan=False) + "\n")
            count += 1
    return count


def _bundles(connection: Connection) -> Iterator[dict[str, Any]]:
    """Give each recording with everything that belongs to it, as JSON types."""
    r, p = tables.recordings, tables.profiles
    keys = connection.scalars(sa.select(r.c.sha256).order_by(r.c.sha256)).all()
    for sha in keys:
        row = dict(connection.execute(sa.select(r).where(r.c.sha256 == sha)).mappings().one())
        profile = connection.execute(sa.select(p).where(p.c.profile_key == row["profile_key"])).mappings()
        line: dict[str, Any] = {"recording": row, "profile": next(map(dict, profile), None)}
        for table in (*_CHILDREN, *_WORDS):
            line[table.name] = _rows(connection, table, sha)
        yield line


def _rows(connection: Connection, table: sa.Table, sha: str | None = None) -> list[dict[str, Any]]:
    query = sa.select(table).order_by(*table.primary_key.columns)
    if sha is not None:
        query = query.where(table.c.sha256 == sha)
    return [dict(row) for row in connection.execute(query).mappings()]


@contextmanager
def _as_text(binary: BinaryIO) -> Iterator[TextIO]:
    """Give a text file over a binary one, which stays open for who gave it."""
    file = io.TextIOWrapper(binary, encoding="utf-8", newline="", write_through=True)
    yield file
    file.detach()


def _files_of(store: Store) -> dict[str, str]:
    """Return the files of a history, which no export replaces."""
    if store.engine.url.get_backend_name() != "sqlite":
        return {}
    return {str(store.engine.url.database): "the history"}


def export_csv(store: Store, out: str | os.PathLike[str]) -> int:
    """Write every start with its numbers as a table (RFC 4180, comma, UTF-8); return how many.

    Notes
    -----
    A cell that begins like a formula of a spreadsheet gets an apostrophe before it: names come from files.
    """
    starts = store.starts()
    names = sorted({name for start in starts for name in start.values})
    with (
        writing_output(out, Kind.HISTORY_CSV, sources=_files_of(store)) as binary,
        _as_text(binary) as file,
    ):
        writer = csv.writer(file)
        writer.writerow(
            ["engine", "date_utc", "file", "sha256", "start", "kind", "outcome", "power", "excluded", *names]
        )
        for start in starts:
            words = [
                start.engine_key or "",
                "" if start.at_epoch_s is None else date_text(start.at_epoch_s),
                start.file_name,
                start.sha256,
                str(start.number),
                start.kind,
                start.outcome,
                start.power,
                start.excluded or "",
            ]
            numbers = [repr(start.values[name].value) if name in start.values else "" for name in names]
            writer.writerow([*map(_harmless, words), *numbers])
    return len(starts)


def _harmless(text: str) -> str:
    return "'" + text if text.startswith(("=", "+", "-", "@", "\t", "\r")) else text


def merge(store: Store, other: Store | Path) -> Merged:
    """Bring everything of another history, or of an export, into this one.

    Returns
    -------
    Merged
        Doing it twice changes nothing the second time.

    Raises
    ------
    UserError
        The export is not one, or is damaged: then nothing of it is kept.

    Notes
    -----
    A recording that both have stays as it is here, except that an assessment made later replaces it, unless
    that one knows less of whose flight it is. Of notes and exclusions the one changed last stands, removed
    ones as well.
    """
    if isinstance(other, Path):
        with writing_into(store) as target:
            return _merge_lines(target, _read_export(other), other.name)
    if other.engine.url == store.engine.url:
        raise UserError(f"{other.place} is this history itself: name another one to merge.")
    with told(other.place), other.engine.connect() as source, writing_into(store) as target:
        head = {"schema": EXPORT_SCHEMA, "maintenance": _rows(source, tables.maintenance)}
        return _merge_lines(target, _chain(head, _bundles(source)), other.place)


def merge_from(store: Store, other: str) -> Merged:
    """Merge what a person names: another history's file or URL, or an export.

    Notes
    -----
    A file is copied first, so that the other history is never changed, not even to a newer form.

    Raises
    ------
    UserError
        It is not there, or is neither.
    """
    path = Path(other).expanduser()
    if looks_like_url(other) and not os.path.exists(path):
        with Store.open(other) as source:
            return merge(store, source)
    try:
        with path.open("rb") as file:
            is_database = file.read(16) == b"SQLite format 3\x00"
        same = store.engine.url.get_backend_name() == "sqlite" and path.samefile(
            str(store.engine.url.database)
        )
    except OSError as error:
        raise UserError(f"{other} cannot be read: {error.strerror}.") from error
    if same:
        raise UserError(f"{other} is this history itself: name another one to merge.")
    if not is_database:
        return merge(store, path)
    with temporary_folder() as folder:
        copy = folder / path.name
        _copy_database(path, copy)
        with Store.open(str(copy)) as source:
            return merge(store, source)


def _copy_database(path: Path, copy: Path) -> None:
    try:
        with (
            closing(sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)) as reading,
            closing(sqlite3.connect(copy)) as target,
        ):
            reading.backup(target)
    except sqlite3.Error as error:
        raise UserError(f"{path} cannot be read as a history: {error}.") from error


@contextmanager
def writing_into(store: Store) -> Iterator[Connection]:
    """Give a connection in one transaction, with failures told in the store's name."""
    with told(store.place), writing(store.engine) as connection:
        yield connection


def _chain(head: dict[str, Any], lines: Iterable[dict[str, Any]]) -> Iterator[dict[str, Any]]:
    yield head
    yield from lines


def _read_export(path: Path) -> Iterator[dict[str, Any]]:
    try:
        with path.open(encoding="utf-8") as file:
            for number, text in enumerate(file, start=1):
                if not text.strip():
                    continue
                try:
                    line = json.loads(text)
                except ValueError:
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


def _merge_lines(target: Connection, lines: Iterator[dict[str, Any]], name: str) -> Merged:
    new = known = words = 0
    try:
        head = next(lines, None)
        if head is None:
            raise UserError(f"{name} is empty: it is not a history's export.")
        words += sum(_add_if_absent(target, tables.maintenance, row) for row in head["maintenance"])
        for line in lines:
            if _merge_recording(target, line):
                new += 1
            else:
                known += 1
            for table in _WORDS:
                words += sum(_newest_stands(target, table, row) for row in line[table.name])
    except (KeyError, TypeError, AttributeError, sa.exc.StatementError) as error:
        if isinstance(error, sa.exc.OperationalError):
            raise
        raise UserError(f"{name} is damaged or not a history's export: nothing of it was kept.") from error
    return Merged(new, known, words)


def _of_table(table: sa.Table, row: Mapping[str, Any]) -> dict[str, Any]:
    """Return the columns of the table; a missing one is a KeyError, an unknown one is left out."""
    return {column.name: row[column.name] for column in table.columns}


def _add_if_absent(target: Connection, table: sa.Table, row: Mapping[str, Any]) -> bool:
    values = _of_table(table, row)
    which = sa.and_(*(column == values[column.name] for column in table.primary_key.columns))
    if target.execute(sa.select(sa.literal(1)).select_from(table).where(which)).first() is not None:
        return False
    target.execute(table.insert().values(**values))
    return True


def _newest_stands(target: Connection, table: sa.Table, row: Mapping[str, Any]) -> bool:
    values = _of_table(table, row)
    which = sa.and_(*(column == values[column.name] for column in table.primary_key.columns))
    here = target.scalar(sa.select(table.c.changed_at).where(which))
    if here is None:
        target.execute(table.insert().values(**values))
    elif values["changed_at"] > here:
        target.execute(table.update().where(which).values(**values))
    else:
        return False
    return True


def _merge_recording(target: Connection, line: Mapping[str, Any]) -> bool:
    """Bring one recording; return whether it is new."""
    r = tables.recordings
    row = _of_table(r, line["recording"])
    sha = row["sha256"]
    json.loads(row["document"])  # a damaged one is refused before it is kept
    if line["profile"] is not None:
        _add_if_absent(target, tables.profiles, line["profile"])
    here = target.execute(sa.select(r).where(r.c.sha256 == sha)).mappings().first()
    if here is not None and (row["assessed_at"] <= here["assessed_at"] or _tells_less(row, here)):
        return False
    if here is None:
        target.execute(r.insert().values(**row))
    else:
        later = {name: value for name, value in row.items() if name not in ("sha256", "added_at")}
        target.execute(r.update().where(r.c.sha256 == sha).values(**later))
        for table in _CHILDREN:
            target.execute(table.delete().where(table.c.sha256 == sha))
    for table in _CHILDREN:
        given = line.get(table.name, []) if table.name in _ADDED_LATER else line[table.name]
        rows = [_of_table(table, child) for child in given]
        if any(child["sha256"] != sha for child in rows):
            raise TypeError("a row of another recording")
        if rows:
            target.execute(table.insert(), rows)
    return here is None


def _tells_less(row: Mapping[str, Any], here: Mapping[Any, Any]) -> bool:
    """Whether a row lacks what is known here of whose recording it is: someone may have entered that."""
    names = ("aircraft", "engine_serial", "start_text")
    return any(row[name] is None and here[name] is not None for name in names)
