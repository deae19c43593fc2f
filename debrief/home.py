"""Where the user's own data live: profiles, remembered column maps, the history."""

from __future__ import annotations

import functools
import os
import sys
from pathlib import Path

from debrief.errors import UserError
from debrief.terminal import complain
from debrief.words.secrets import looks_like_url

_NAME = "turbine-debrief"


def home() -> Path:
    """Return the folder of the user's data; it need not exist yet.

    Notes
    -----
    ``DEBRIEF_HOME`` relocates all of it. Without that it is the platform's folder for application data. What an
    earlier program laid elsewhere is moved there once, with a word; where that cannot be, it stays in use.

    Raises
    ------
    UserError
        ``DEBRIEF_HOME`` is a URL rather than a folder: none is made of that name, which may hold a password.
    """
    told = os.environ.get("DEBRIEF_HOME")
    if told:
        if looks_like_url(told) and not os.path.exists(told):
            raise UserError("DEBRIEF_HOME looks like a URL: name a folder for the user's data.")
        return Path(told).expanduser()
    from platformdirs import PlatformDirs

    # Roaming on Windows, as it has always been.
    now = PlatformDirs(_NAME, appauthor=False, roaming=True).user_data_path
    return _with_what_was_before(now, _folder_before())


def _folder_before() -> Path:
    """Return where the data lay before the platform's folder was asked of `platformdirs`.

    Notes
    -----
    The two differ where ``XDG_DATA_HOME`` is set on macOS or is no absolute path, and where ``APPDATA`` is not
    the folder that Windows has registered.
    """
    if sys.platform == "win32":
        base = os.environ.get("APPDATA")
        return Path(base if base else Path.home() / "AppData" / "Roaming") / _NAME
    if sys.platform == "darwin":
        return Path.home() / "Library" / "Application Support" / _NAME
    base = os.environ.get("XDG_DATA_HOME")
    return Path(base if base else Path.home() / ".local" / "share") / _NAME


def _with_what_was_before(now: Path, before: Path) -> Path:
    """Return the one folder that holds the data, moved from where they lay before if they can be."""
    if now == before or not before.is_dir():
        return now
    if _holds_something(now):
        if _holds_something(before) and not os.path.samefile(now, before):
            _say_once(f"Data lie in {now} and in {before}. Only the first is used; the other stays as it is.")
        return now
    try:
        now.parent.mkdir(parents=True, exist_ok=True)
        # One step of the file system: a kill leaves the folder at one place or at the other, whole.
        os.rename(before, now)
    except OSError:
        # On another disk, or in use; or another process was first.
        return before if before.is_dir() else now
    _say_once(f"Your data were moved from {before} to {now}.")
    return now


def _holds_something(folder: Path) -> bool:
    try:
        return next(folder.iterdir(), None) is not None
    except FileNotFoundError:
        return False
    except OSError:
        return True  # what cannot be looked into is never moved onto


@functools.cache
def _say_once(words: str) -> None:
    complain(words)


def history_file() -> Path:
    """Return where the user's own history is; it need not be there yet."""
    return home() / "history.sqlite"
