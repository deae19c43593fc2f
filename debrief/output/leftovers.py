"""Temporary names, and what a killed run left behind under them."""

from __future__ import annotations

import contextlib
import os
import re
import secrets
import shutil
import stat
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

OLD_AFTER_S = 3600.0
"""No run is that long over one file."""

_FILE = re.compile(r"\.debrief-[0-9a-f]{8}\.part(?:-wal|-shm|-journal)?")
_FOLDER_FRONT = "debrief-copy-"
_FOLDER = re.compile(_FOLDER_FRONT + r"[a-z0-9_]{8}")


def temporary_name() -> str:
    """Return a name for a file that is not complete yet."""
    return f".debrief-{secrets.token_hex(4)}.part"


@contextmanager
def temporary_folder(inside: Path | None = None) -> Iterator[Path]:
    """Give a folder for copies that nobody else may read; it goes with the block.

    Parameters
    ----------
    inside : Path, optional
        Where: beside what is made in it, so that it can be moved to its place whole.
    """
    clear_leftovers(Path(tempfile.gettempdir()) if inside is None else inside)
    with tempfile.TemporaryDirectory(prefix=_FOLDER_FRONT, dir=inside) as folder:
        yield Path(folder)


def clear_leftovers(folder: Path) -> None:
    """Remove what killed runs of this user left in a folder: by name and age, never anything else.

    Notes
    -----
    It is no failure where that cannot be: what is asked for is something else.
    """
    with contextlib.suppress(OSError), os.scandir(folder) as entries:
        for entry in entries:
            if _FILE.fullmatch(entry.name) or _FOLDER.fullmatch(entry.name):
                with contextlib.suppress(OSError):
                    _clear(entry)


def _clear(entry: os.DirEntry[str]) -> None:
    status = entry.stat(follow_symlinks=False)
    mine = not hasattr(os, "geteuid") or status.st_uid == os.geteuid()
    if not mine or time.time() - status.st_mtime < OLD_AFTER_S:
        return
    if stat.S_ISREG(status.st_mode) and _FILE.fullmatch(entry.name):
        os.unlink(entry.path)
    elif stat.S_ISDIR(status.st_mode) and _FOLDER.fullmatch(entry.name):
        shutil.rmtree(entry.path, ignore_errors=True)
