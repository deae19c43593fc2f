"""Whole copies of an SQLite history that are kept beside it: before a new form, and once a week.

A copy is made under a temporary name, checked and counted against what it was made from, flushed to disk and
only then named, so that one that was cut off never looks whole. Nothing here loads SQLAlchemy.
"""

from __future__ import annotations

import os
import re
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from debrief.errors import UserError
from debrief.output.door import flush_folder
from debrief.output.leftovers import temporary_folder

MOST_KEPT = 4
"""Copies of each kind that are kept, weekly ones and those before a new form; the oldest goes when one is made."""
WEEK = timedelta(days=7)

_NAME = re.compile(r"\.(form-\d+|week)-(\d{8}-\d{6})(?:-\d+)?")
_STAMP = "%Y%m%d-%H%M%S"


@dataclass(frozen=True)
class Copy:
    """A whole copy: its file, when it was made (UTC), and whether it is a weekly one."""

    file: Path
    made: datetime
    weekly: bool

    @property
    def day(self) -> str:
        """The day it was made, as ``2031-05-04``."""
        return self.made.date().isoformat()

    @property
    def words(self) -> str:
        """What is said when it was made: where it is, and how many are kept."""
        kind = "weekly copies" if self.weekly else "copies from before a new form"
        return f"A whole copy of the history is kept as {self.file}; of {kind} the newest {MOST_KEPT} stay."


def copies_of(place: str | Path) -> tuple[Copy, ...]:
    """Return the whole copies that are kept of a history, the newest first."""
    source = Path(place)
    found = []
    try:
        names = [name for name in os.listdir(source.absolute().parent) if name.startswith(f"{source.name}.")]
    except OSError:
        return ()
    for name in names:
        match = _NAME.fullmatch(name.removeprefix(source.name))
        if match is None:
            continue
        try:
            made = datetime.strptime(match[2], _STAMP).replace(tzinfo=UTC)
        except ValueError:
            continue
        found.append(Copy(source.with_name(name), made, match[1] == "week"))
    return tuple(sorted(found, key=lambda copy: (copy.made, copy.file.name), reverse=True))


def newest_copy(place: str | Path) -> Copy | None:
    """Return the newest whole copy of a history; None where there is none."""
    return next(iter(copies_of(place)), None)


def keep_weekly_copy(file: Path, refuse: Callable[[Path], None], now: datetime) -> Copy | None:
    """Keep a copy of a history if the newest is older than a week; return it if one was made.

    Parameters
    ----------
    file : Path
        The history. One that began less than a week ago has no copy yet, as one without flights.
    refuse : callable
        Raises `UserError` where a file is damaged.
    now : datetime
        With its zone.

    Raises
    ------
    UserError
        The history is damaged; no copy of it was made, and those that there are stay.
    """
    newest = newest_copy(file)
    since = newest.made if newest is not None else _began(file)
    # A clock that was set back must not stop the copies: one from days ahead counts as old.
    if since is None or timedelta(0) <= now - since < WEEK:
        return None
    return keep_copy(file, "week", refuse, now)


def keep_copy(file: Path, kind: str, refuse: Callable[[Path], None], now: datetime) -> Copy:
    """Keep a whole copy of a history beside it; the oldest of more than `MOST_KEPT` of its kind goes.

    Parameters
    ----------
    file : Path
        The history; what is being written into it by others is not in the copy.
    kind : str
        ``week``, or ``form-2`` before the form after the second.
    refuse, now
        See `keep_weekly_copy`.

    Raises
    ------
    UserError
        It is damaged, or cannot be copied; no copy was made.
    """
    try:
        with temporary_folder(file.absolute().parent) as folder:
            part = folder / file.name
            _copy_whole(file, part, refuse)
            part.chmod(file.stat().st_mode & 0o777)
            with part.open("rb+") as whole:
                os.fsync(whole.fileno())
            target = _named(file, kind, now)
            os.rename(part, target)
        flush_folder(target.absolute().parent)
    except (OSError, sqlite3.Error) as error:
        why = error.strerror if isinstance(error, OSError) and error.strerror else error
        raise UserError(
            f"The history {file} could not be copied beside it, which is done before it is changed: {why}. "
            "Nothing was changed."
        ) from error
    kept = copies_of(file)
    for old in [one for one in kept if one.weekly == (kind == "week")][MOST_KEPT:]:
        old.file.unlink(missing_ok=True)
    return next(one for one in kept if one.file == target)


def _copy_whole(file: Path, part: Path, refuse: Callable[[Path], None]) -> None:
    """Copy what is committed; raise where the copy is not whole or holds other counts."""
    with closing(sqlite3.connect(file, isolation_level=None)) as reading:
        # One transaction: others that write meanwhile change neither the copy nor the counts.
        reading.execute("BEGIN")
        counts = _counts(reading)
        with closing(sqlite3.connect(part)) as copy:
            reading.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
    refuse(part)
    with closing(sqlite3.connect(part)) as copy:
        if _counts(copy) != counts:
            raise sqlite3.DatabaseError("the copy holds other rows than the history")


def _counts(connection: sqlite3.Connection) -> dict[str, int]:
    names = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
    return {name: connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0] for (name,) in names}


def _named(file: Path, kind: str, now: datetime) -> Path:
    """Return a name that is free."""
    stem = f"{file.name}.{kind}-{now.astimezone(UTC).strftime(_STAMP)}"
    target, number = file.with_name(stem), 1
    while os.path.lexists(target):
        number += 1
        target = file.with_name(f"{stem}-{number}")
    return target


def _began(file: Path) -> datetime | None:
    """Return when the first flight was added; None where there is none, or it cannot be told."""
    try:
        with closing(sqlite3.connect(file, isolation_level=None)) as connection:
            (text,) = connection.execute("SELECT min(added_at) FROM recordings").fetchone()
        began = datetime.fromisoformat(text)
    except (sqlite3.Error, ValueError, TypeError):
        return None
    return began if began.tzinfo is not None else began.replace(tzinfo=UTC)
