"""The files of the user's own folder: for nobody else to read."""

from __future__ import annotations

import contextlib
import os
import stat
from io import TextIOWrapper
from pathlib import Path

from debrief.errors import UserError
from debrief.home import home
from debrief.output.door import flush_folder, new_beside
from debrief.output.leftovers import clear_leftovers
from debrief.words.reasons import reason

_OURS = (
    "history.sqlite",
    "column_maps.json",
    "window.ini",
    "notes",
    "logs",
    "profiles",
    "unsaved",
    ".debrief-",
)
"""How the names of all that the program keeps in the user's folder begin."""
_FILES = (
    "history.sqlite*",
    "column_maps.json",
    "window.ini",
    "notes/*/*.json",
    "logs/*.log*",
    "profiles/*.toml",
    "unsaved/*.json",
    "unsaved/*.lock",
)


def write_private(path: Path, data: bytes, what: str) -> None:
    """Write a file of the user's folder whole: flushed, for the user alone, in folders for the user alone.

    Parameters
    ----------
    path : Path
        The target; a link is followed and stays.
    data : bytes
        The whole content.
    what : str
        What it is, at the beginning of a sentence: ``The note``.

    Raises
    ------
    UserError
        It cannot be written; what was there is as it was.
    """
    temporary: Path | None = None
    try:
        target = Path(os.path.realpath(path))
        private_folder(target.parent)
        temporary, file = new_beside(target, None, private=True)
        with file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, target)
        temporary = None
    except OSError as error:
        raise UserError(f"{what} cannot be kept in {path.parent}: {reason(error)}.") from error
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                temporary.unlink()
    flush_folder(target.parent)


def private_folder(folder: Path) -> None:
    """Make a folder with those above it, for the user alone, and clear what killed runs left in it.

    Notes
    -----
    Those that were there become private too where all that they hold is the program's own. A folder that holds
    other things, such as one that was chosen with ``DEBRIEF_HOME``, keeps its permissions.

    Raises
    ------
    OSError
        It cannot be made.
    """
    top = home().absolute()
    absolute = folder.absolute()
    for one in (*reversed(absolute.parents), absolute):
        if one.is_dir():
            continue
        one.mkdir(mode=0o700 if one.is_relative_to(top) else 0o777, exist_ok=True)
    for one in (absolute, *absolute.parents):
        if one.is_relative_to(top) and (one != top or _holds_only_ours(top)):
            _repair(one, 0o700)
    clear_leftovers(absolute)


def make_private(path: Path) -> None:
    """Let a file be for the user alone, before another library opens it; make it where it is not there.

    Raises
    ------
    OSError
        It cannot be made.
    """
    if not path.exists():
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT, 0o600))
    else:
        _repair(path, 0o600)


def open_private(path: Path) -> TextIOWrapper:
    """Open a text file of the user's folder to write at its end, for the user alone.

    Raises
    ------
    OSError
        It cannot be opened.
    """
    private_folder(path.parent)
    make_private(path)
    return path.open("a", encoding="utf-8", errors="backslashreplace")


def tidy_home() -> None:
    """Let the files that the program keeps in the user's folder be private, and clear what killed runs left there."""
    with contextlib.suppress(OSError):
        if home().is_dir():
            files = [file for pattern in _FILES for file in home().glob(pattern)]
            for folder in {home(), *(file.parent for file in files)}:
                private_folder(folder)
            for file in files:
                _repair(file, 0o600)


def _holds_only_ours(folder: Path) -> bool:
    return all(name.startswith(_OURS) for name in os.listdir(folder))


def _repair(path: Path, mode: int) -> None:
    """Take from a file of this user what others may do with it; links are left alone."""
    with contextlib.suppress(OSError):
        status = path.lstat()
        if not (stat.S_ISREG(status.st_mode) or stat.S_ISDIR(status.st_mode)):
            return
        if stat.S_IMODE(status.st_mode) & 0o077 and (
            not hasattr(os, "geteuid") or status.st_uid == os.geteuid()
        ):
            path.chmod(mode)
