"""Opening a history database: its rules, its migrations, and its failures in words."""

from __future__ import annotations

import logging
import os
import secrets
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import URL, Connection, Engine
from sqlalchemy.exc import NoSuchModuleError

from debrief import __version__
from debrief.errors import UserError
from debrief.history.storage import schema
from debrief.history.storage.copies import keep_copy, keep_weekly_copy
from debrief.history.storage.damage import DamagedValue, damaged
from debrief.history.storage.failures import told
from debrief.history.storage.files import NO_HISTORY, file_engine, prepare_place, reads_only, refuse_newer
from debrief.history.storage.form import first_fault, log_of
from debrief.history.storage.migrations import MIGRATIONS, Migration
from debrief.history.storage.places import database_url, place_words
from debrief.history.storage.server import refuse_encoding, server_engine
from debrief.output.door import flush_folder
from debrief.output.leftovers import temporary_name

# By itself it logs to standard error, the traceback of an interruption among the rest.
logging.getLogger("sqlalchemy").addHandler(logging.NullHandler())

_LOCK_KEY = 0x7DB1EF
"""Of the advisory lock that serialises writers on PostgreSQL."""


def now_text() -> str:
    """Return this moment in UTC as text that sorts in time order."""
    return datetime.now(UTC).isoformat(timespec="microseconds")


def connect(db: str | None = None, *, migrations: Sequence[Migration] = MIGRATIONS) -> Engine:
    """Return an engine on a history in the present form, which is made or migrated where needed.

    Parameters
    ----------
    db : str or None
        See `places.database_url`.
    migrations : sequence of Migration
        In order, numbered from 1.

    Raises
    ------
    UserError
        It cannot be opened, is not a history, or was written by a newer program.

    Notes
    -----
    Before an existing history is migrated a copy is kept: beside an SQLite file, named after the version
    and the time; on PostgreSQL as a schema named so. Beside a file a copy is kept each week, too, when it is
    written to; those of a server are its keeper's. `said` tells where.
    """
    url = database_url(db)
    place = place_words(url)
    try:
        if url.get_backend_name() == "sqlite":
            prepare_place(Path(str(url.database)), own=db is None)
        with told(place):
            if url.get_backend_name() == "sqlite" and not Path(str(url.database)).exists():
                _make(url, place, migrations)
            engine = _engine(url, place, migrations)
        engine.update_execution_options(debrief_said=[])
    except OSError as error:
        raise UserError(f"The history {place} cannot be made: {error.strerror}.") from error
    except (NoSuchModuleError, ModuleNotFoundError) as error:
        if url.get_backend_name() == "sqlite":  # which needs none
            raise
        raise UserError(
            'A history on PostgreSQL needs a driver: install it with pip install "psycopg[binary]".'
        ) from error
    try:
        with told(place):
            _migrate(engine, place, migrations)
    except BaseException:
        engine.dispose()
        raise
    return engine


def _make(url: URL, place: str, migrations: Sequence[Migration]) -> None:
    """Make a new history whole before it has its name: one that was broken off would look like a damaged one."""
    file = Path(str(url.database))
    log = log_of(file)
    if log is not None:  # of another file, it would be brought into the new one
        raise UserError(
            f"The history {place} is gone and only its log {log.name} is left: put the history or its newest copy "
            "back, or move the log away."
        )
    new = file.with_name(temporary_name())
    engine = file_engine(url.set(database=str(new)), place, migrations)
    try:
        try:
            _migrate(engine, place, migrations)
        finally:
            engine.dispose()  # the last connection brings the log into the file
        try:
            os.link(new, file)
        except FileExistsError:
            pass  # another desk has made it meanwhile
        except OSError:  # not every file system has links
            if not file.exists():
                os.replace(new, file)
    finally:
        new.unlink(missing_ok=True)
    flush_folder(file.parent)


def _engine(url: URL, place: str, migrations: Sequence[Migration]) -> Engine:
    if url.get_backend_name() == "sqlite":
        return file_engine(url, place, migrations)
    return server_engine(url)


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Give a connection in one transaction that alone writes; it commits at the end or does nothing.

    Raises
    ------
    UserError
        The history was opened where it can only be read.
    """
    if reads_only(engine):
        raise UserError(
            f"The history {place_words(engine.url)} cannot be written: the file, its folder or its disk can only "
            "be read. Nothing was changed."
        )
    if engine.dialect.name == "sqlite" and engine.url.database:  # not one in memory
        copy = keep_weekly_copy(_file(engine), _refuser(engine), datetime.now(UTC))
        if copy is not None:
            _said(engine).append(copy.words)
    with alone(engine) as connection:
        yield connection


@contextmanager
def alone(engine: Engine) -> Iterator[Connection]:
    """Give a connection as `writing` does, also to a history that is only now being made."""
    with engine.connect().execution_options(debrief_writes=True) as connection, connection.begin():
        if engine.dialect.name == "postgresql":
            connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_LOCK_KEY)))
        yield connection


def schema_version(connection: Connection, last: int = MIGRATIONS[-1].version) -> int:
    """Return the number of the last migration that this database has had; 0 for an empty database.

    Raises
    ------
    UserError
        It holds tables, but not those of a history.
    DamagedValue
        What it tells of its form cannot be.
    """
    tables = set(sa.inspect(connection).get_table_names())
    if schema.migrations.name not in tables:
        if tables & set(schema.metadata.tables):
            raise DamagedValue("the table that tells its form is gone")
        if tables:
            raise UserError(NO_HISTORY)
        return 0
    versions = connection.scalars(
        sa.select(schema.migrations.c.version).order_by(schema.migrations.c.version)
    )
    found = versions.all()
    if found and found[-1] > last:
        return int(found[-1])  # of a newer program, which may number in its own way
    if list(found) != list(range(1, len(found) + 1)) or not found:
        raise DamagedValue(f"what it tells of its form is broken ({schema.migrations.name})")
    return len(found)


def _migrate(engine: Engine, place: str, migrations: Sequence[Migration]) -> None:
    last = migrations[-1].version
    with engine.connect() as connection:
        refuse_encoding(connection, place)
        if schema_version(connection, last) == last:
            return
    to_copy: bool | None = None
    for step in migrations:
        with alone(engine) as connection:
            # Asked again under the lock: another desk may have migrated meanwhile.
            version = schema_version(connection, last)
            refuse_newer(version, place, last)
            if step.version <= version:
                continue
            if to_copy is None:
                # A history that is only now being made has nothing to lose.
                to_copy = version > 0 and not reads_only(engine)
            if to_copy:
                _keep_copy(engine, connection, version)
                to_copy = False
            if not version:
                schema.migrations.create(connection)
            for statement in step.statements:
                connection.exec_driver_sql(statement)
            connection.execute(
                schema.migrations.insert().values(
                    version=step.version, title=step.title, applied_at=now_text(), program=__version__
                )
            )
            if engine.dialect.name == "sqlite":
                _mark(connection)


def _mark(connection: Connection) -> None:
    """Give a history a number of its own, by which a log beside it is known to be its own."""
    if not connection.exec_driver_sql("PRAGMA application_id").scalar():
        connection.exec_driver_sql(f"PRAGMA application_id = {secrets.randbelow(2**31 - 1) + 1}")


def _keep_copy(engine: Engine, connection: Connection, version: int) -> None:
    """Keep the database as it is before a migration; a failure to do so stops the migration."""
    if engine.dialect.name == "postgresql":
        name = f"debrief_form_{version}_{datetime.now(UTC):%Y%m%d_%H%M%S}"
        tables = sa.inspect(connection).get_table_names()
        connection.exec_driver_sql(f'CREATE SCHEMA "{name}"')
        for table in tables:
            connection.exec_driver_sql(f'CREATE TABLE "{name}"."{table}" AS TABLE "{table}"')
        return
    # A second connection reads what is committed: the open transaction has written nothing yet.
    _said(engine).append(
        keep_copy(_file(engine), f"form-{version}", _refuser(engine), datetime.now(UTC)).words
    )


def _file(engine: Engine) -> Path:
    return Path(str(engine.url.database))


def _refuser(engine: Engine) -> Callable[[Path], None]:
    """Return what raises where a copy of the history is damaged, in the history's name."""

    def refuse(copy: Path) -> None:
        fault = first_fault(copy, every_page=True)
        if fault is not None:
            raise damaged(place_words(engine.url), fault)

    return refuse


def said(engine: Engine) -> tuple[str, ...]:
    """Return what the user has to be told of an open history, each once: where a copy of it was kept."""
    words = _said(engine)
    out = tuple(words)
    words.clear()
    return out


def _said(engine: Engine) -> list[str]:
    words: list[str] = engine.get_execution_options().get("debrief_said", [])
    return words
