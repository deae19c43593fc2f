"""An SQLite history as a file: looked at before it is used, and read where it cannot be written."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import URL, Connection, Engine

from debrief.errors import UserError
from debrief.history.storage.damage import damaged
from debrief.history.storage.form import (
    can_be_written,
    first_fault,
    form_of,
    holds_history,
    log_of,
    looked,
    read_only,
)
from debrief.history.storage.migrations import Migration
from debrief.output.leftovers import temporary_folder
from debrief.output.private import make_private, private_folder
from debrief.words.remedies import OTHER_HISTORY, advised

BUSY_TIMEOUT_MS = 30_000
_MOST_IN_MEMORY = 256 * 2**20

NO_HISTORY = advised("This database is not a history; nothing was changed: {how}.", how=OTHER_HISTORY)


def prepare_place(file: Path, own: bool) -> None:
    """Make the folder of a history where it is not there, and let the user's own history be private.

    Parameters
    ----------
    file : Path
    own : bool
        Whether it is the one of the user's folder; another one that is there keeps its permissions.

    Raises
    ------
    UserError
        It is a folder.
    OSError
        The folder cannot be made.
    """
    if file.is_dir():
        raise UserError(f"The history {file} is a folder: give the name of a file.")
    private_folder(file.parent)
    for part in (file, *(file.with_name(file.name + tail) for tail in ("-wal", "-shm"))) if own else ():
        if part.exists():
            make_private(part)


def file_engine(url: URL, place: str, migrations: Sequence[Migration]) -> Engine:
    """Return an engine on a history in a file, or on one that is to be made.

    Raises
    ------
    UserError
        It is damaged, of a newer program or no history; then no byte was changed, in it or in the log beside it,
        and nothing was left beside it.
    sqlite3.Error
        It cannot be read.

    Notes
    -----
    One that cannot be written is read where it is; if its log holds something, or its form is an older one, a
    copy of it in memory is read. `reads_only` tells.
    """
    file = Path(str(url.database))
    if not file.exists():
        make_private(file)  # what SQLite lays beside it gets the same permissions
        return _prepared(sa.create_engine(url, connect_args={"timeout": BUSY_TIMEOUT_MS / 1000}))
    if can_be_written(file):
        _refuse_unfit(file, place, migrations)
        return _prepared(sa.create_engine(url, connect_args={"timeout": BUSY_TIMEOUT_MS / 1000}))
    if log_of(file) is None:
        _refuse_unfit(file, place, migrations)
        if looked(file, form_of) == migrations[-1].version:
            return _prepared(
                sa.create_engine(url, creator=lambda: read_only(file, immutable=True)), reads_only=True
            )
    return _prepared(_in_memory(url, file, place, migrations), reads_only=True)


def reads_only(engine: Engine | Connection) -> bool:
    """Whether the history was opened where it cannot be written."""
    return bool(engine.get_execution_options().get("debrief_reads_only", False))


def refuse_newer(version: int, place: str, last: int) -> None:
    """Raise where a history has a form that this program does not know."""
    if version > last:
        raise UserError(
            f"The history {place} was written by a newer Turbine Debrief (form {version}; this one "
            f"knows form {last}). Install the newer program; nothing was changed."
        )


def _refuse_unfit(file: Path, place: str, migrations: Sequence[Migration]) -> None:
    """Raise where a file is no sound history of a known form: before anything may write to it."""
    fault = first_fault(file, migrations)
    if fault is not None:
        raise damaged(place, fault)
    if not looked(file, holds_history):
        raise UserError(NO_HISTORY)
    refuse_newer(looked(file, form_of), place, migrations[-1].version)


def _in_memory(url: URL, file: Path, place: str, migrations: Sequence[Migration]) -> Engine:
    if file.stat().st_size > _MOST_IN_MEMORY:
        raise UserError(
            f"The history {place} can only be read, and it has changes that are not in the file yet, or an "
            "older form: copy it with the files beside it to a folder that may be written, and name that one."
        )
    with temporary_folder() as folder:
        copy = folder / "history.sqlite"
        shutil.copyfile(file, copy)
        log = log_of(file)
        if log is not None:
            shutil.copyfile(log, copy.with_name(f"{copy.name}-wal"))
        _refuse_unfit(copy, place, migrations)
        memory = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
        with closing(read_only(copy)) as reading:
            reading.backup(memory)
    return sa.create_engine(url, creator=lambda: memory, poolclass=sa.pool.StaticPool)


def _prepared(engine: Engine, *, reads_only: bool = False) -> Engine:
    engine.update_execution_options(debrief_reads_only=reads_only)

    @sa.event.listens_for(engine, "connect")
    def _on_connect(connection: Any, _record: object) -> None:
        # The driver's own BEGIN comes too late for DDL and cannot be IMMEDIATE: ours is sent below.
        connection.isolation_level = None
        cursor = connection.cursor()
        cursor.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
        cursor.execute("PRAGMA trusted_schema = OFF")
        cursor.execute("PRAGMA foreign_keys = ON")
        if not reads_only:
            cursor.execute("PRAGMA journal_mode = WAL")
        cursor.close()

    @sa.event.listens_for(engine, "begin")
    def _on_begin(connection: Connection) -> None:
        # A reader that turns into a writer fails at once when another writes: writers say so first.
        writes = connection.get_execution_options().get("debrief_writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine
