"""A lock between programs that change the same small files. The system releases that of one that was killed."""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from debrief.errors import UserError
from debrief.output.private import private_folder

LONGEST_WAIT_S = 30.0
_LOOK_AGAIN_S = 0.005

if sys.platform == "win32":
    import msvcrt

    def _take(handle: int) -> None:
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)

    def _release(handle: int) -> None:
        os.lseek(handle, 0, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_UNLCK, 1)
else:
    import fcntl

    def _take(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)

    def _release(handle: int) -> None:
        fcntl.flock(handle, fcntl.LOCK_UN)


@contextmanager
def locked(file: Path) -> Iterator[None]:
    """Hold the lock of a file, which is made where it is not there and stays: only its lock is used.

    Raises
    ------
    UserError
        The file cannot be made, or another program holds the lock for longer than `LONGEST_WAIT_S`.

    Notes
    -----
    Two threads exclude each other, too; who holds it must not take it again.
    """
    try:
        private_folder(file.parent)
        handle = os.open(file, os.O_RDWR | os.O_CREAT, 0o600)
    except OSError as error:
        raise UserError(f"{file} cannot be made: {error.strerror}.") from error
    try:
        _wait(handle, file)
        try:
            yield
        finally:
            _release(handle)
    finally:
        os.close(handle)


def _wait(handle: int, file: Path) -> None:
    until = time.monotonic() + LONGEST_WAIT_S
    while True:
        try:
            _take(handle)
        except OSError as error:
            if time.monotonic() > until:
                raise UserError(
                    f"{file.parent} is in use by another program; close that one and try again."
                ) from error
            time.sleep(_LOOK_AGAIN_S)
        else:
            return
