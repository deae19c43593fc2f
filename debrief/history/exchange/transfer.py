"""Histories out and in: export to JSON lines or a table of starts, and merge of another history.

The export is complete: merged into an empty history it gives the same history.
"""

from __future__ import annotations

import csv
import io
import json
import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from itertools import chain
from pathlib import Path
from typing import Any, BinaryIO, TextIO

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from debrief.errors import UserError
from debrief.history.exchange.merging import (
    EXPORT_SCHEMA,
    OF_FLIGHTS,
    OF_PEOPLE,
    Merged,
    merge_lines,
    read_export,
)
from debrief.history.storage import schema as tables
from debrief.history.storage.damage import damaged
from debrief.history.storage.database import writing
from debrief.history.storage.failures import told
from debrief.history.storage.form import first_fault, looked
from debrief.history.storage.store import Store
from debrief.history.storage.values import document_problem, row_name, sound_rows
from debrief.history.trends.history_frames import starts_and_numbers
from debrief.history.trends.series import date_text
from debrief.output import Kind, check_output, is_stream, write_output, writing_output
from debrief.output.leftovers import temporary_folder
from debrief.output.parquet import parquet_bytes
from debrief.session.frames import plain
from debrief.words.secrets import looks_like_url


def export_jsonl(store: Store, out: str | os.PathLike[str]) -> int:
    """Write the whole history as JSON lines, one recording a line; return how many.

    Raises
    ------
    UserError
        The file cannot be written, or is something else than an export; what was there before stays. So does an
        older export that holds something that the history lacks: it may be the copy of what is lost.

    Notes
    -----
    Rows that cannot be right are left out, so that what is written can always be merged: `Store.left_out`
    has them. So is a recording whose document is damaged, with all that belongs to it.
    """
    with (
        told(store.place),
        store.engine.connect() as connection,
        writing_output(out, Kind.HISTORY_JSONL, sources=_files_of(store)) as binary,
        _as_text(binary) as file,
    ):
        count = 0
        file.write(json.dumps(_head(connection, store.left_out), allow_nan=False) + "\n")
        for line in _bundles(connection, store.left_out):
            file.write(json.dumps(line, allow_nan=False) + "\n")
            count += 1
        if store.left_out and _holds_something(out):
            # It may be the copy of what is lost here.
            raise UserError(
                f"{out} is an older export and stays as it is: the history {store.place} has rows that cannot be "
                "right. Give another name."
            )
    return count


def _holds_something(out: str | os.PathLike[str]) -> bool:
    try:
        return not is_stream(out) and Path(out).stat().st_size > 0
    except OSError:
        return False


def _head(connection: Connection, left_out: set[str]) -> dict[str, Any]:
    """Return what belongs to no recording, with the name of the form."""
    return {"schema": EXPORT_SCHEMA, "maintenance": _rows(connection, tables.maintenance, left_out)}


def _bundles(connection: Connection, left_out: set[str]) -> Iterator[dict[str, Any]]:
    """Give each recording with everything that belongs to it, as JSON types."""
    r, p = tables.recordings, tables.profiles
    keys = connection.scalars(sa.select(r.c.sha256).order_by(r.c.sha256)).all()
    for sha in keys:
        rows = _rows(connection, r, left_out, sha)
        if not rows:
            continue
        (row,) = rows
        if document_problem(row["document"], sha) is not None:
            left_out.add(row_name(r.name, row))
            continue
        query = sa.select(p).where(p.c.profile_key == row["profile_key"])
        profiles = sound_rows(p.name, connection.execute(query).mappings().all(), left_out)
        if not profiles:
            row["profile_key"] = None  # one that cannot be right does not take its flights with it
        line: dict[str, Any] = {"recording": row, "profile": next(map(dict, profiles), None)}
        for table in (*OF_FLIGHTS, *OF_PEOPLE):
            line[table.name] = _rows(connection, table, left_out, sha)
        yield line


def _rows(
    connection: Connection, table: sa.Table, left_out: set[str], sha: str | None = None
) -> list[dict[str, Any]]:
    query = sa.select(table).order_by(*table.primary_key.columns)
    if sha is not None:
        query = query.where(table.c.sha256 == sha)
    return [dict(row) for row in sound_rows(table.name, connection.execute(query).mappings().all(), left_out)]


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
    made, columns = starts_and_numbers(store)
    numbers: dict[str, list[str]] = {}
    for (name, _), column in sorted(columns.items()):
        values = ["" if value is None else repr(value) for value in plain(made[column])]
        # A number that is kept in two units has one column here.
        numbers[name] = [one or other for one, other in zip(numbers.get(name, values), values, strict=True)]
    days = ["" if instant is None else date_text(instant.timestamp()) for instant in plain(made["start_utc"])]
    words = [
        plain(made["engine_key"]),
        days,
        *(
            plain(made[name])
            for name in ("file", "sha256", "start_number", "kind", "outcome", "power", "excluded")
        ),
    ]
    cells = [[_harmless("" if value is None else str(value)) for value in column] for column in words]
    with writing_output(out, Kind.HISTORY_CSV, sources=_files_of(store)) as binary, _as_text(binary) as file:
        writer = csv.writer(file)
        writer.writerow(
            [
                "engine",
                "date_utc",
                "file",
                "sha256",
                "start",
                "kind",
                "outcome",
                "power",
                "excluded",
                *numbers,
            ]
        )
        writer.writerows(zip(*cells, *numbers.values(), strict=True))
    return len(made)


def export_parquet(store: Store, out: str | os.PathLike[str]) -> int:
    """Write the same starts typed, as Parquet, with units in the names of the numbers; return how many."""
    check_output(out, Kind.HISTORY_PARQUET, sources=_files_of(store))
    made = starts_and_numbers(store)[0]
    write_output(
        out, parquet_bytes(made, Kind.HISTORY_PARQUET.name), Kind.HISTORY_PARQUET, sources=_files_of(store)
    )
    return len(made)


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
        The export is not one, or something in it cannot be right: then nothing of it is kept.

    Notes
    -----
    A recording that both have stays as it is here, except that an assessment made later replaces it, unless
    that one knows less of whose flight it is. Of what people wrote, what one of both has replaced goes and all
    else stays, removed notes as well; see `debrief.history.storage.changes`.
    """
    if isinstance(other, Path):
        with told(store.place), writing(store.engine) as target:
            return merge_lines(target, read_export(other), other.name)
    if other.engine.url == store.engine.url:
        raise UserError(f"{other.place} is this history itself: name another one to merge.")
    left_out: set[str] = set()
    with (
        told(other.place),
        other.engine.connect() as source,
        told(store.place),
        writing(store.engine) as target,
    ):
        lines = chain([_head(source, left_out)], _bundles(source, left_out))
        return replace(merge_lines(target, lines, other.place), left_out=len(left_out))


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
        with told(str(path)):
            fault = first_fault(path, every_page=True)
            if fault is not None:
                raise damaged(str(path), fault)
        _copy_database(path, copy)
        with Store.open(str(copy)) as source:
            source.place = str(path)
            return merge(store, source)


def _copy_database(path: Path, copy: Path) -> None:
    try:
        with closing(sqlite3.connect(copy)) as target:
            looked(path, lambda reading: reading.backup(target))
    except sqlite3.Error as error:
        raise UserError(f"{path} cannot be read as a history: {error}.") from error
