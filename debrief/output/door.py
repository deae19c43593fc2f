"""Writing what a person asked for: whole or not at all, and never over what it is not itself."""

from __future__ import annotations

import contextlib
import errno
import io
import os
import re
import shutil
import stat
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from debrief.errors import UserError
from debrief.home import history_file, home
from debrief.output.contents import check_all_is_kept, flights_held, starts_held
from debrief.output.kinds import Kind, is_of, sealed, what_it_is
from debrief.output.leftovers import clear_leftovers, temporary_name
from debrief.output.parquet import parquet_starts
from debrief.terminal import send
from debrief.words.reasons import reason
from debrief.words.secrets import looks_like_url

AnyPath = str | os.PathLike[str]
Sources = Mapping[str, str]
"""Files in use, with what each is: ``{"flight.csv": "the recording"}``."""

_DESCRIPTOR = re.compile(r"(?:/dev|/proc/self)/fd/(\d{1,6})")
_STREAMS = {"/dev/stdout": 1, "/dev/stderr": 2}


@dataclass(frozen=True)
class Output:
    """One file to be written.

    Attributes
    ----------
    path : path
    data : bytes
    kind : Kind
    """

    path: AnyPath
    data: bytes
    kind: Kind


def write_output(
    path: AnyPath, data: bytes, kind: Kind, *, sources: Sources | None = None, edited: AnyPath | None = None
) -> None:
    """Write one file; see `write_outputs`.

    Parameters
    ----------
    path : path
        The target; ``-`` is standard output.
    data : bytes
        The whole content.
    kind : Kind
        What it is.
    sources : mapping, optional
        What is in use, path to words; none of them is ever replaced.
    edited : path, optional
        The file that the data are a new state of, which they may replace whatever it looks like.
    """
    write_outputs([Output(path, data, kind)], sources=sources, edited=edited)


def write_outputs(
    outputs: Sequence[Output], *, sources: Sources | None = None, edited: AnyPath | None = None
) -> None:
    """Write files that belong together: all of them or none.

    Notes
    -----
    An existing file is replaced only when it is empty or is such an output itself (`debrief.output.kinds`), an export of
    a history only by one that holds all that it holds (`debrief.output.contents`). A link is
    followed and stays; a device or a pipe is written to as it is. Each file is written beside its target under a
    temporary name, flushed to the disk, given the permissions of the file that it replaces, and renamed.

    Raises
    ------
    UserError
        The target is something else, or in use, or a folder; the folder is missing or read-only; the disk is full.
        What was there is then as it was.
    """
    with ExitStack() as stack:
        pending = [stack.enter_context(_pending(o.path, o.kind, sources, edited)) for o in outputs]
        for one, output in zip(pending, outputs, strict=True):
            with _worded(one):
                one.file.write(sealed(output.kind, output.data))
        _finish(pending)


@contextmanager
def writing_output(path: AnyPath, kind: Kind, *, sources: Sources | None = None) -> Iterator[BinaryIO]:
    """Give a file to write to, which becomes the target at the end of the block; see `write_outputs`."""
    with _pending(path, kind, sources, None) as one:
        with _worded(one):
            yield one.file
        _finish([one])


def check_output(
    path: AnyPath, kind: Kind, *, sources: Sources | None = None, edited: AnyPath | None = None
) -> None:
    """Refuse a target that `write_output` would refuse, before long work is done for it.

    Raises
    ------
    UserError
        See `write_outputs`.
    """
    named = _named(path)
    if _descriptor(named) is None:
        _judged(named, _real(named), kind, sources, edited)


def is_stream(path: AnyPath) -> bool:
    """Return whether a target is standard output, a pipe or a device: written to as it is, with nothing beside it."""
    named = Path(path)
    try:
        return _descriptor(named) is not None or (
            named.exists() and not named.is_file() and not named.is_dir()
        )
    except (OSError, ValueError):
        return False


# --- what may be replaced -------------------------------------------------------------------------------


def _named(path: AnyPath) -> Path:
    if not os.fspath(path):  # a path makes the folder "." of it
        raise UserError("The name of the output is empty: give the name of a file.")
    return Path(path)


def _real(named: Path) -> Path:
    try:
        return Path(os.path.realpath(named))
    except (OSError, ValueError) as error:
        raise UserError(f"{named} is no name for a file: {error}.") from None


def _judged(
    named: Path, target: Path, kind: Kind, sources: Sources | None, edited: AnyPath | None
) -> os.stat_result | None:
    """Return what is there now, None where nothing is; refuse what must not be replaced."""
    if looks_like_url(str(named)) and not named.exists():
        # It may hold a password, which no file may be called by.
        raise UserError("An output is the name of a file, not an address: give a path.")
    in_use = {**(sources or {}), str(history_file()): "the history"}
    # SQLite lays these beside a database: empty ones as well, and it reads what it finds there.
    base = Path(re.sub(r"-(?:wal|shm|journal)$", "", str(target)))
    for source, words in in_use.items():
        if _same(target, source):
            raise UserError(f"{named} is {words} itself, which is never changed: give another name.")
        if base != target and (base.exists() or _same(base, source)):
            raise UserError(f"{named} would be taken for a part of {base.name}: give another name.")
    try:
        status = os.lstat(target)
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError as error:
        raise UserError(f"{named} could not be written: {_why(error, target)}.") from None
    mode = status.st_mode
    if stat.S_ISLNK(mode):
        raise UserError(f"{named} is a link that leads in a circle: give another name.")
    if stat.S_ISDIR(mode):
        raise UserError(f"{named} is a folder: give the name of a file.")
    if stat.S_ISBLK(mode):
        raise UserError(f"{named} is a disk, which is never written over: give the name of a file.")
    if stat.S_ISSOCK(mode):
        raise UserError(f"{named} is a socket, not a file: give another name.")
    if stat.S_ISREG(mode) and status.st_size and not (edited is not None and _same(target, edited)):
        try:
            if not is_of(kind, target):
                raise UserError(
                    f"{named} is {what_it_is(target)}; {kind.value} never replaces it. It stays as it is: "
                    "give another name."
                )
        except OSError:
            raise UserError(
                f"{named} cannot be read to see what it is, so it stays as it is: give another name."
            ) from None
    return status


_HELD = {
    Kind.HISTORY_JSONL: flights_held,
    Kind.HISTORY_CSV: starts_held,
    Kind.HISTORY_PARQUET: lambda path: (("start", one) for one in parquet_starts(path)),
}
"""Kinds that people keep as copies of what may be lost."""


def _same(target: AnyPath, source: AnyPath) -> bool:
    """Whether both are one file, by whatever names and links, or will be."""
    if not os.fspath(source):
        return False
    try:
        return os.path.samefile(target, source)
    except (OSError, ValueError):  # one of them is not there
        try:
            return os.path.normcase(target) == os.path.normcase(os.path.realpath(source))
        except (OSError, ValueError):
            return False


# --- writing --------------------------------------------------------------------------------------------


class _Pending:
    """A file on its way to its target, or what goes to a stream at the end."""

    def __init__(self, named: Path, kind: Kind, sources: Sources | None, edited: AnyPath | None) -> None:
        self.named, self.kind = named, kind
        self.words = "Standard output" if str(named) == "-" else str(named)
        self._rules = (kind, sources, edited)
        self.file: BinaryIO = io.BytesIO()
        self.temporary: Path | None = None
        self.target: Path | None = None
        """The file behind all links; None for a stream that is open already."""
        self.stream = _descriptor(named)
        self.is_done = False
        self._old: Path | None = None
        if self.stream is not None:
            return
        self.target = _real(named)
        status = _judged(named, self.target, *self._rules)
        self._is_new = status is None
        if status is None or stat.S_ISREG(status.st_mode):
            clear_leftovers(self.target.parent)
            with _worded(self):
                self.temporary, self.file = new_beside(self.target, status)

    def flush(self) -> None:
        if self.temporary is not None:
            self.file.flush()
            os.fsync(self.file.fileno())
            self.file.close()

    def put(self, can_be_taken_back: bool) -> None:
        """Give the file its name, or send what was written to the stream."""
        if self.target is None or self.temporary is None:
            assert isinstance(self.file, io.BytesIO)
            _write_through(self, self.file.getvalue())
            return
        # Once more: something else may be there meanwhile.
        status = _judged(self.named, self.target, *self._rules)
        self._is_new = status is None
        if status is not None and status.st_size and self.kind in _HELD:
            check_all_is_kept(self.named, self.target, self.temporary, _HELD[self.kind])
        if can_be_taken_back and not self._is_new:
            self._old = _second_name(self.target)
        os.replace(self.temporary, self.target)
        self.temporary, self.is_done = None, True

    def take_back(self) -> None:
        """Let the target be as it was before."""
        if self.target is None or not self.is_done:
            return
        if self._is_new:
            self.target.unlink(missing_ok=True)
        elif self._old is not None:
            os.replace(self._old, self.target)
            self._old = None

    def close(self) -> None:
        """Leave nothing but the target."""
        with contextlib.suppress(OSError):
            self.file.close()
        for left in (self.temporary, self._old):
            if left is not None:
                with contextlib.suppress(OSError):
                    left.unlink()


def _second_name(target: Path) -> Path:
    """Keep a file under a temporary name as well, until what replaces it is complete."""
    second = target.parent / temporary_name()
    try:
        os.link(target, second)
    except OSError:  # not every file system has links
        shutil.copy2(target, second)
    return second


@contextmanager
def _pending(
    path: AnyPath, kind: Kind, sources: Sources | None, edited: AnyPath | None
) -> Iterator[_Pending]:
    one = _Pending(_named(path), kind, sources, edited)
    try:
        yield one
    finally:
        one.close()


def _finish(pending: Sequence[_Pending]) -> None:
    """Flush all, then name all; where one cannot be named the others are taken back."""
    for one in pending:
        with _worded(one):
            one.flush()
    try:
        for one in pending:
            with _worded(one):
                one.put(can_be_taken_back=len(pending) > 1)
    except BaseException:
        for one in pending:
            with contextlib.suppress(OSError):
                one.take_back()
        raise
    for folder in {one.target.parent for one in pending if one.is_done and one.target is not None}:
        flush_folder(folder)


def new_beside(
    target: Path, old: os.stat_result | None, private: bool | None = None
) -> tuple[Path, BinaryIO]:
    """Open a new file beside the target, with the permissions that the target is to have.

    Parameters
    ----------
    target : Path
    old : stat_result or None
        Of the file that is to be replaced.
    private : bool, optional
        Whether nobody else may read it; below the user's folder when not given.
    """
    if private is None:
        private = target.is_relative_to(os.path.realpath(home()))
    path = target.parent / temporary_name()
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0)
    # A new file has what the system gives new files; there is no other way to ask that leaves threads alone.
    handle = os.open(path, flags, 0o666 if old is None and not private else 0o600)
    try:
        if old is not None and not private:
            os.chmod(path, stat.S_IMODE(old.st_mode) & 0o777)
        return path, os.fdopen(handle, "wb")
    except BaseException:
        os.close(handle)
        path.unlink(missing_ok=True)
        raise


def flush_folder(folder: Path) -> None:
    """Flush the rename itself where the system can: it is no failure where it cannot."""
    with contextlib.suppress(OSError, AttributeError):
        handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


@contextmanager
def _worded(one: _Pending) -> Iterator[None]:
    try:
        yield
    except BrokenPipeError:
        raise
    except OSError as error:
        why = _why(error, one.target)
        raise UserError(f"{one.words} could not be written: {why}.") from None


def _why(error: OSError, target: Path | None) -> str:
    if target is not None and error.errno in (errno.ENOENT, errno.ENOTDIR):
        if target.parent.is_dir():
            return f"the folder {target.parent} takes no new files"
        return f"there is no folder {target.parent}"
    kept = ". The old file, if there was one, is as it was" if error.errno == errno.ENOSPC else ""
    return reason(error) + kept


# --- streams --------------------------------------------------------------------------------------------


def _descriptor(named: Path) -> int | None:
    """Return the number of the open stream that a name means: ``-``, ``/dev/stdout`` and what leads to it."""
    if str(named) == "-":
        return 1
    place = os.path.abspath(named)
    for _ in range(40):
        if place in _STREAMS:
            return _STREAMS[place]
        found = _DESCRIPTOR.fullmatch(place)
        if found is not None:
            return int(found[1])
        try:
            place = os.path.normpath(os.path.join(os.path.dirname(place), os.readlink(place)))
        except (OSError, ValueError):
            return None
    return None


def _write_through(one: _Pending, data: bytes) -> None:
    """Write into a stream, a device or a pipe, which must never be replaced by a file."""
    if one.stream == 1:
        send(data, readable=one.kind.is_text)
        return
    with open(one.named if one.stream is None else os.dup(one.stream), "wb") as file:
        file.write(data)
