"""Opening a history database: its rules, its migrations, and its failures in words."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import URL, Connection, Engine
from sqlalchemy.exc import DBAPIError, NoSuchModuleError

from debrief import __version__
from debrief.errors import UserError
from debrief.history import schema
from debrief.history.migrations import MIGRATIONS, Migration
from debrief.history.places import database_url, place_words

BUSY_TIMEOUT_MS = 30_000
_LOCK_KEY = 0x7DB1EF
"""Of the advisory lock that serialises writers on PostgreSQL."""


def now_text() -> str:
    """Return this moment in UTC as text that sorts in time order."""
    return datetime.now(UTC).isoformat(timespec="microseconds")


@contextmanager
def told(place: str) -> Iterator[None]:
    """Turn failures of the database that a user can do something about into `UserError`."""
    try:
        yield
    except DBAPIError as error:
        words = _failure_words(error)
        if words is None:
            raise
        raise UserError(f"The history {place} {words}") from error


def _failure_words(error: DBAPIError) -> str | None:
    """Return what went wrong and what to do; None where it is a bug of this program."""
    text = str(error.orig).lower()
    table = (
        ("not a database", "is not a history database; name another file with --db."),
        ("malformed", "is damaged; put the newest copy in its place."),
        ("locked", "is in use by another program; close that one and try again."),
        ("readonly", "cannot be written; check the rights of the file and its folder."),
        ("read-only", "cannot be written; check the rights of the file and its folder."),
        ("unable to open", "cannot be opened; check that its folder exists and may be written."),
        ("disk is full", "cannot grow: the disk is full."),
        ("no space left", "cannot grow: the disk is full."),
        ("disk i/o", "cannot be read or written: the disk reports an error."),
        ("permission denied", "refused this user; check the rights."),
        ("authentication failed", "refused the user name or password."),
        ("no password supplied", "wants a password; give it in the URL or in the password file."),
        ("does not exist", "does not exist on that server; ask its keeper to create it."),
        ("could not translate host", "cannot be reached: no such host."),
        ("failed to resolve", "cannot be reached: no such host."),
        ("connection", "cannot be reached; check that the server runs and the address is right."),
    )
    if "invalid connection option" in text:  # of the driver, before any server
        return "is asked for with a word that PostgreSQL does not know: check what follows the ? in its URL."
    if isinstance(error, sa.exc.ProgrammingError | sa.exc.IntegrityError | sa.exc.DataError):
        return None
    for sign, words in table:
        if sign in text:
            return words
    return None


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
    and the time; on PostgreSQL as a schema named so.
    """
    url = database_url(db)
    place = place_words(url)
    try:
        if url.get_backend_name() == "sqlite" and url.database != ":memory:":
            Path(str(url.database)).parent.mkdir(parents=True, exist_ok=True)
            if Path(str(url.database)).is_dir():
                raise UserError(f"The history {place} is a folder: give the name of a file.")
        engine = _engine(url)
    except OSError as error:
        raise UserError(f"The history {place} cannot be made: {error.strerror}.") from error
    except (NoSuchModuleError, ModuleNotFoundError) as error:
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


def _engine(url: URL) -> Engine:
    if url.get_backend_name() != "sqlite":
        return sa.create_engine(url, pool_pre_ping=True)
    engine = sa.create_engine(url, connect_args={"timeout": BUSY_TIMEOUT_MS / 1000})

    @sa.event.listens_for(engine, "connect")
    def _on_connect(connection: Any, _record: object) -> None:
        # The driver's own BEGIN comes too late for DDL and cannot be IMMEDIATE: ours is sent below.
        connection.isolation_level = None
        cursor = connection.cursor()
        cursor.execute(f"PRAGMA busy_timeout = {BUSY_TIMEOUT_MS}")
        cursor.execute("PRAGMA foreign_keys = ON")
        cursor.execute("PRAGMA journal_mode = WAL")
        cursor.close()

    @sa.event.listens_for(engine, "begin")
    def _on_begin(connection: Connection) -> None:
        # A reader that turns into a writer fails at once when another writes: writers say so first.
        writes = connection.get_execution_options().get("debrief_writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine


@contextmanager
def writing(engine: Engine) -> Iterator[Connection]:
    """Give a connection in one transaction that alone writes; it commits at the end or does nothing."""
    with engine.connect().execution_options(debrief_writes=True) as connection, connection.begin():
        if engine.dialect.name == "postgresql":
            connection.execute(sa.select(sa.func.pg_advisory_xact_lock(_LOCK_KEY)))
        yield connection


def schema_version(connection: Connection) -> int:
    """Return the number of the last migration that this database has had; 0 for an empty database.

    Raises
    ------
    UserError
        It holds tables, but not those of a history.
    """
    tables = set(sa.inspect(connection).get_table_names())
    if schema.migrations.name not in tables:
        if tables:
            raise UserError(
                "This database holds other tables and is not a history; nothing was changed. Name another "
                "one with --db."
            )
        return 0
    return int(connection.scalar(sa.select(sa.func.max(schema.migrations.c.version))) or 0)


def _migrate(engine: Engine, place: str, migrations: Sequence[Migration]) -> None:
    last = migrations[-1].version
    with engine.connect() as connection:
        if schema_version(connection) == last:
            return
    to_copy: bool | None = None
    for step in migrations:
        with writing(engine) as connection:
            # Asked again under the lock: another desk may have migrated meanwhile.
            version = schema_version(connection)
            if version > last:
                raise UserError(
                    f"The history {place} was written by a newer Turbine Debrief (form {version}; this one "
                    f"knows form {last}). Install the newer program; nothing was changed."
                )
            if step.version <= version:
                continue
            if to_copy is None:
                to_copy = version > 0  # a history that is only now being made has nothing to lose
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


def _keep_copy(engine: Engine, connection: Connection, version: int) -> None:
    """Keep the database as it is before a migration; a failure to do so stops the migration."""
    stamp = datetime.now(UTC).strftime("%Y%m%d-%H%M%S")
    if engine.dialect.name == "postgresql":
        name = f"debrief_form_{version}_{stamp.replace('-', '_')}"
        tables = sa.inspect(connection).get_table_names()
        connection.exec_driver_sql(f'CREATE SCHEMA "{name}"')
        for table in tables:
            connection.exec_driver_sql(f'CREATE TABLE "{name}"."{table}" AS TABLE "{table}"')
        return
    source = str(engine.url.database)
    if source == ":memory:":
        return
    target = Path(f"{source}.form-{version}-{stamp}")
    # A second connection reads what is committed: the open transaction has written nothing yet.
    reading, copy = sqlite3.connect(source), sqlite3.connect(target)
    try:
        reading.backup(copy)
    except sqlite3.Error as error:
        raise UserError(
            f"The history {source} could not be copied to {target.name} before bringing it to the new form: "
            f"{error}. Nothing was changed."
        ) from error
    finally:
        reading.close()
        copy.close()
