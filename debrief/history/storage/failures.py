"""Failures of a history in words: what the user, or the keeper of a server, can do something about."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError

from debrief.errors import UserError
from debrief.history.storage.damage import DamagedValue, damaged
from debrief.history.storage.form import first_fault, is_damage
from debrief.words.remedies import OTHER_HISTORY, advised

_DAMAGED = "damaged"

_FILE_WORDS = (
    (
        "not a database",
        advised(
            "is not a history database, or its beginning is damaged; {how}, or bring out what can be read with "
            "`debrief history salvage`.",
            how=OTHER_HISTORY,
        ),
    ),
    ("locked", "is in use by another program; close that one and try again."),
    ("readonly", "cannot be written; check the rights of the file and its folder."),
    ("unable to open", "cannot be opened; check that its folder exists and may be written."),
    ("disk is full", "cannot grow: the disk is full."),
    ("disk i/o", "cannot be read or written: the disk reports an error."),
    ("authorization denied", "refused this user; check the rights."),
)
"""Of SQLite: a part of its message, and what is said."""

_NO_ANSWER = "cannot be reached; check that the server runs and the address is right."
_STOPPED = "was cut off: its server is being stopped or started. Try again in a minute."
_FULL = (
    "has no connection free on its server; close another program that uses it, or ask its keeper for more."
)
_IN_USE = "is in use by another desk, which keeps it locked; try again when that one is done."
_REFUSED = "refused this user: ask its keeper for the rights to read and write its tables."

_STATES = {
    "42501": _REFUSED,
    "28000": "refused the user name or password.",
    "28P01": "refused the user name or password.",
    "3D000": "does not exist on that server; ask its keeper to create it.",
    "25006": "cannot be written: its server is a copy that only reads. Name the server that writes.",
    "53300": _FULL,
    "53100": "cannot grow: the disk is full.",
    "53200": "was cut off: its server has no memory left. Ask its keeper.",
    "55P03": _IN_USE,
    "40P01": _IN_USE,
    "40001": _IN_USE,
    "57014": "did not answer in time; try again, or ask its keeper.",
    "57P01": _STOPPED,
    "57P02": _STOPPED,
    "57P03": _STOPPED,
    "58030": "cannot be read or written: the disk of its server reports an error.",
    "42P01": _DAMAGED,
    "42703": _DAMAGED,
    "XX001": _DAMAGED,
    "XX002": _DAMAGED,
    "22P05": "is not kept in UTF-8: ask its keeper for a database with that encoding.",
}
"""Of PostgreSQL: the state of the standard, and what is said."""

_SERVER_WORDS = (
    ("too many clients", _FULL),
    ("connection slots are reserved", _FULL),
    ("too many connections", _FULL),
    ("starting up", _STOPPED),
    ("shutting down", _STOPPED),
    ("in recovery mode", _STOPPED),
    ("server closed the connection", _STOPPED),
    ("terminating connection", _STOPPED),
    ("connection is lost", _STOPPED),
    ("connection is closed", _STOPPED),
    ("timeout expired", "does not answer; check that the server runs and the address is right."),
    ("authentication failed", "refused the user name or password."),
    ("no password supplied", "wants a password; give it in the URL or in the password file."),
    ("no pg_hba.conf entry", "refused this user or this computer; ask the keeper of the server."),
    ("permission denied", _REFUSED),
    ("does not exist", "does not exist on that server; ask its keeper to create it."),
    ("could not translate host", "cannot be reached: no such host."),
    ("failed to resolve", "cannot be reached: no such host."),
    ("no space left", "cannot grow: the disk is full."),
)
"""Of PostgreSQL, where no state is told: a part of its message."""


@contextmanager
def told(place: str) -> Iterator[None]:
    """Turn failures of a history that somebody can do something about into `UserError`.

    Parameters
    ----------
    place : str
        The file, or the URL of a server's database without its password.

    Notes
    -----
    A failure that is none of the known ones is a fault of this program, unless the file proves to be damaged.
    """
    try:
        yield
    except DamagedValue as error:
        raise damaged(place, str(error)) from error
    except UnicodeDecodeError as error:
        # The database's own words hold what stands in the file.
        fault = _fault(place)
        if fault is None:
            raise
        raise damaged(place, fault) from error
    except (DBAPIError, sqlite3.Error) as error:
        words = _words(error)
        if words is None or words == _DAMAGED:
            fault = _fault(place)
            if fault is None and words is None:
                raise
            raise damaged(place, fault or "the database cannot read it") from error
        raise UserError(advised("The history {place} {words}", place=place, words=words)) from error


def _words(error: DBAPIError | sqlite3.Error) -> str | None:
    """Return what went wrong and what to do; None where it is a fault of this program."""
    raw = error.orig if isinstance(error, DBAPIError) else error
    text = str(raw).lower()
    if isinstance(raw, sqlite3.Error):
        if isinstance(raw, sqlite3.ProgrammingError | sqlite3.IntegrityError | sqlite3.DataError):
            return None
        if is_damage(raw):
            return _DAMAGED
        return next((words for sign, words in _FILE_WORDS if sign in text), None)
    if "invalid connection option" in text:  # of the driver, before any server
        return "is asked for with a word that PostgreSQL does not know: check what follows the ? in its URL."
    state = getattr(raw, "sqlstate", None)
    if state is not None:
        return _STATES.get(state, _NO_ANSWER if state.startswith("08") else None)
    if not isinstance(error, sa.exc.OperationalError | sa.exc.InternalError | sa.exc.InterfaceError):
        return None
    return next((words for sign, words in _SERVER_WORDS if sign in text), _NO_ANSWER)


def _fault(place: str) -> str | None:
    """Return what is damaged in a file; None where it is sound, or a server's."""
    file = Path(place)
    if "://" in place or not file.is_file():
        return None
    try:
        return first_fault(file, every_page=True)
    except sqlite3.Error as error:
        return f"the database says: {error}" if _words(error) == _DAMAGED else None
