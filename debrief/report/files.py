"""Writing a file so that it is there whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import tempfile
from pathlib import Path

from debrief.errors import UserError


def write_whole(path: str | os.PathLike[str], data: bytes) -> None:
    """Write the bytes to a temporary file in the target's folder, flush it to the disk and rename it.

    Parameters
    ----------
    path : path
        The target. An existing file is replaced only when the new one is complete; a link is followed; what is
        no regular file, such as ``/dev/stdout``, is written to as it is.
    data : bytes
        The whole content.

    Raises
    ------
    UserError
        The folder is missing or read-only, the disk is full, the target is a folder or is held open by
        another program. An existing file is then as it was.
    """
    named = Path(path)
    target = Path(os.path.realpath(named))
    if os.path.isdir(target):  # unlike Path.is_dir this does not raise for an impossible name
        raise UserError(f"{named} is a folder: give the name of a file.")
    if os.path.exists(named) and not os.path.isfile(named):
        _write_through(named, data)
        return
    temporary: str | None = None
    try:
        handle, temporary = tempfile.mkstemp(
            prefix=f".{target.name[:40]}.", suffix=".part", dir=target.parent
        )
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.chmod(temporary, _mode(target))
        os.replace(temporary, target)
        temporary = None
    except OSError as error:
        raise UserError(f"{named} could not be written: {_reason(error, target)}") from None
    finally:
        if temporary is not None:
            with contextlib.suppress(OSError):
                os.unlink(temporary)
    _flush_folder(target.parent)


def keep_apart(source: str | os.PathLike[str], target: str | os.PathLike[str]) -> None:
    """Refuse to write over the recording that a paper is made from.

    Raises
    ------
    UserError
        Both names are the same file.
    """
    try:
        same = bool(os.fspath(source)) and os.path.samefile(source, target)
    except (OSError, ValueError):  # one of them is not there
        same = False
    if same:
        raise UserError(f"{target} is the recording itself, which is never changed: give another name.")


def _write_through(path: Path, data: bytes) -> None:
    """Write into a device or a pipe, which must never be replaced by a file."""
    try:
        with open(path, "wb") as file:
            file.write(data)
    except BrokenPipeError:
        raise
    except OSError as error:
        raise UserError(f"{path} could not be written: {_reason(error, path)}") from None


def _mode(target: Path) -> int:
    """Return the permissions of the file that is replaced, or those a new file gets."""
    try:
        return target.stat().st_mode & 0o777
    except OSError:
        mask = os.umask(0)
        os.umask(mask)
        return 0o666 & ~mask


def _flush_folder(folder: Path) -> None:
    """Flush the rename itself where the system can: it is no failure where it cannot."""
    with contextlib.suppress(OSError, AttributeError):
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _reason(error: OSError, target: Path) -> str:
    match error.errno:
        case errno.ENOENT | errno.ENOTDIR:
            if target.parent.is_dir():
                return f"the folder {target.parent} takes no new files."
            return f"there is no folder {target.parent}."
        case errno.EACCES | errno.EPERM | errno.EROFS:
            return "the folder or the file is read-only, or another program holds the file open."
        case errno.ENOSPC | errno.EDQUOT:
            return "the disk is full. The old file, if there was one, is as it was."
        case errno.ENAMETOOLONG:
            return "the name is too long."
        case errno.EISDIR:
            return "it is a folder: give the name of a file."
        case _:
            return f"{error.strerror or error}."
