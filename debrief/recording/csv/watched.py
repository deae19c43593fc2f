"""A file on disk while it is read: one descriptor from the first byte to the last, hashed on the way."""

from __future__ import annotations

import hashlib
import os
import stat
from pathlib import Path
from typing import Self

from debrief.errors import UserError
from debrief.words.visible import visible

DRAIN_BYTES = 1024 * 1024


def reason(error: Exception) -> str:
    """Return what the system or a library says of an error, to stand within a sentence."""
    text = getattr(error, "strerror", None) or str(error)
    return text[:1].lower() + text[1:] if text else type(error).__name__


class WatchedFile:
    """A regular file of which every byte is read once, in order, through one descriptor.

    So its SHA-256 is that of the bytes that were handed out, whatever happens to the file meanwhile; and
    `finished` refuses a file that something did happen to. Time, size and place are compared, and the bytes
    are counted, since a file system may tell times in whole seconds.

    Attributes
    ----------
    path : Path
    byte_count : int
        Its size when it was opened.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._descriptor = -1
        self._digest = hashlib.sha256()
        self.position = 0
        """Bytes read so far."""
        try:
            if path.is_dir():
                raise UserError(f"{self.name} is a folder: name a CSV file in it.")
            if not stat.S_ISREG(path.stat().st_mode):  # before it is opened: a pipe would wait for a writer
                raise UserError(f"{self.name} is not a regular file: name a CSV file.")
            self._descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_BINARY", 0))
            self._found = os.fstat(self._descriptor)
        except FileNotFoundError:
            raise UserError(f"{path} does not exist: check the name and the folder.") from None
        except (OSError, ValueError) as error:
            self.close()
            raise UserError(f"{self.name} cannot be opened: {reason(error)}.") from None
        self.byte_count = self._found.st_size

    @property
    def name(self) -> str:
        """File name for messages."""
        return visible(self.path.name or str(self.path))

    def read(self, size: int) -> bytes:
        """Return the next bytes, at most so many; none at the end."""
        try:
            data = os.read(self._descriptor, size)
        except OSError as error:
            raise UserError(f"{self.name} cannot be read: {reason(error)}.") from None
        self._digest.update(data)
        self.position += len(data)
        return data

    def rest(self) -> bytes:
        """Return all that is left, in as few calls as can be; of a file that grows no more than shows it."""
        parts = []
        while self.position <= self.byte_count and (part := self.read(self.byte_count - self.position + 1)):
            parts.append(part)
        return parts[0] if len(parts) == 1 else b"".join(parts)

    def finished(self) -> str:
        """Read what is left and return the SHA-256 of the whole file.

        Raises
        ------
        UserError
            The file is not the one any more that was opened: its size, its time or its place changed, or it gave
            more or fewer bytes than its size.
        """
        while self.position <= self.byte_count and self.read(DRAIN_BYTES):
            pass
        try:
            now, there = os.fstat(self._descriptor), self.path.stat()
            same = os.path.samestat(now, there)
        except OSError:
            same = False
        if (
            not same
            or self.position != self.byte_count
            or _state(now) != _state(self._found)
            or _state(there) != _state(self._found)
        ):
            raise UserError(
                f"{self.name} changed while it was read: wait until it is complete and read it again."
            )
        return self._digest.hexdigest()

    def close(self) -> None:
        """Close the descriptor; doing it twice does nothing."""
        if self._descriptor >= 0:
            os.close(self._descriptor)
            self._descriptor = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _state(found: os.stat_result) -> tuple[int, int]:
    return found.st_size, found.st_mtime_ns
