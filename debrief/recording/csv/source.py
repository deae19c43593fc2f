"""Opening a file read-only: its bytes in blocks, its SHA-256, its encoding, and what is refused at once."""

from __future__ import annotations

import codecs
from collections.abc import Iterator
from contextlib import ExitStack
from dataclasses import dataclass
from os import PathLike
from pathlib import Path
from threading import Thread
from typing import Self

from debrief.errors import UserError
from debrief.recording.csv.packing import Unpacked, unpacked
from debrief.recording.csv.watched import WatchedFile
from debrief.words.visible import visible

BLOCK_BYTES = 2 * 1024 * 1024
"""Large enough for little overhead, small enough that the parser's memory is used again and stays warm."""
AT_ONCE_BYTES = 16 * 1024 * 1024
"""So large a file is one block: to hold it is cheap, and the parser's own threads are quicker than ours."""
HEAD_BYTES = 256 * 1024

_CONTROLS = bytes(c for c in range(32) if c not in (9, 10, 12, 13, 27))
"""Control characters that a text does not hold: all but tab, the line ends, form feed and escape."""

_MAGIC = {
    b"PK\x03\x04": "zip",
    b"\x1f\x8b": "gzip",
    b"%PDF": "a PDF document",
    b"\x89PNG": "a picture",
    b"\xff\xd8\xff": "a picture",
    b"GIF8": "a picture",
    b"SQLite format 3": "a database",
    b"\x7fELF": "a program",
    b"MZ\x90": "a program",
    b"PAR1": "a Parquet file",
    b"\x89HDF": "an HDF5 file",
    b"\xd0\xcf\x11\xe0": "a spreadsheet workbook",
    b"7z\xbc\xaf": "a 7-Zip archive",
    b"\xfd7zXZ": "an xz archive",
    b"BZh": "a bzip2 archive",
}


@dataclass(frozen=True)
class Source:
    """A file that is read: its path, its size, how it is packed and the encoding of its text."""

    path: Path
    byte_count: int
    packing: str
    """``""``, ``gzip`` or ``zip``."""
    member: str
    """Name of the CSV inside a zip."""
    encoding: str
    head: bytes
    """The first bytes as UTF-8 without BOM, records possibly cut at the end."""
    head_is_all: bool

    @property
    def name(self) -> str:
        """File name for messages."""
        return visible(self.path.name)


def _read_fully(stream: Unpacked, size: int) -> bytes:
    parts = []
    while size > 0:
        part = stream.read(size)
        if not part:
            break
        parts.append(part)
        size -= len(part)
    return b"".join(parts)


def _encoding(raw: bytes, name: str, is_all: bool) -> str:
    """Return the encoding of the text, by byte order mark, then by what decodes."""
    if raw.startswith(codecs.BOM_UTF8):
        return "utf-8-sig"
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    sample = raw[:4096]
    if b"\x00" in sample:
        even, odd = sample[0::2].count(0), sample[1::2].count(0)
        half = len(sample) // 2
        if half and odd > 0.4 * half and even == 0:
            return "utf-16-le"
        if half and even > 0.4 * half and odd == 0:
            return "utf-16-be"
    control = len(raw) - len(raw.translate(None, _CONTROLS))
    if raw.count(0) or control > 0.01 * len(raw):
        raise UserError(f"{name} holds binary data, not text: export the recording as CSV.")
    try:
        codecs.getincrementaldecoder("utf-8")().decode(raw, final=is_all)
    except UnicodeDecodeError:
        return "utf-8" if _some_lines_are_utf8(raw) else "cp1252"
    return "utf-8"


def _some_lines_are_utf8(raw: bytes) -> bool:
    """Whether a line beyond ASCII is good UTF-8: then the file was joined from two, and each line is read by itself."""
    for line in raw.split(b"\n")[:-1]:
        if not line.isascii():
            try:
                line.decode("utf-8")
            except UnicodeDecodeError:
                continue
            return True
    return False


def decoded(data: bytes) -> tuple[str, int]:
    """Return UTF-8 as text, and how many lines were none and were read as Windows-1252 instead."""
    try:
        return data.decode("utf-8"), 0
    except UnicodeDecodeError:
        pass
    lines, recoded = [], 0
    for line in data.split(b"\n"):
        try:
            lines.append(line.decode("utf-8"))
        except UnicodeDecodeError:
            recoded += 1
            lines.append(line.decode("cp1252", "cp1252-latin1"))
    return "\n".join(lines), recoded


def _to_utf8(raw: bytes, encoding: str) -> bytes:
    if encoding == "utf-8":
        return raw
    if encoding == "utf-8-sig":
        return raw.removeprefix(codecs.BOM_UTF8)
    return _decoder(encoding).decode(raw).encode("utf-8", "replace")


def _decoder(encoding: str) -> codecs.IncrementalDecoder:
    # cp1252 has five holes, which latin-1 fills with controls; "replace" would lose the byte for good.
    return codecs.getincrementaldecoder(encoding)(
        errors="replace" if encoding != "cp1252" else "cp1252-latin1"
    )


def _cp1252_hole(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeDecodeError):
        raise error
    return error.object[error.start : error.end].decode("latin-1"), error.end


codecs.register_error("cp1252-latin1", _cp1252_hole)


class Blocks:
    """The bytes of a recording as UTF-8 blocks, hashed on the way.

    Iterating yields raw blocks of at most `BLOCK_BYTES` without regard to records, or one of the whole file. They
    begin with the very bytes of ``source.head``. After the last one `sha256` is that of the file on disk, packed
    or not, and the file is known to be still the one that was opened.

    Attributes
    ----------
    source : Source
        Once it was entered, which says in one sentence why a file cannot be read.
    """

    source: Source

    def __init__(self, path: str | PathLike[str]) -> None:
        self._path = Path(path)
        self.sha256 = ""
        self.is_at_once = False
        self._ahead: Thread | None = None
        self._read: bytes | UserError = b""
        self._open = ExitStack()

    def __enter__(self) -> Self:
        """Open the file and look at its head; of one that is one block the rest is read meanwhile, in a thread.

        Raises
        ------
        UserError
            Absent, a folder, unreadable, empty, not text, or a packed file that is broken or holds no single CSV.
        """
        try:
            self._file = self._open.enter_context(WatchedFile(self._path))
            self._look()
        except BaseException:
            self._open.close()
            raise
        if self.is_at_once and not self.source.head_is_all:
            self._ahead = Thread(target=self._read_ahead, daemon=True)
            self._ahead.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self._ahead is not None:
            self._ahead.join()
        self._open.close()

    @property
    def position(self) -> int:
        """How many bytes of the file on disk were read."""
        return self._stream.position

    def _look(self) -> None:
        file = self._file
        if file.byte_count == 0:
            raise UserError(f"{file.name} is empty: it holds no byte.")
        start = file.read(16)
        packing = next((kind for magic, kind in _MAGIC.items() if start.startswith(magic)), "")
        if packing not in ("", "gzip", "zip"):
            raise UserError(f"{file.name} is {packing}, not a CSV file: export the recording as CSV.")
        self._stream = unpacked(file, packing, start)
        self._begin = raw = _read_fully(self._stream, HEAD_BYTES + 1)
        if not raw:
            raise UserError(f"{file.name} is empty: it unpacks to no byte.")
        is_all = len(raw) <= HEAD_BYTES
        raw = raw[:HEAD_BYTES]
        encoding = _encoding(raw, file.name, is_all)
        head = _to_utf8(raw, encoding)
        self.source = Source(file.path, file.byte_count, packing, self._stream.member, encoding, head, is_all)
        self.is_at_once = not packing and file.byte_count <= AT_ONCE_BYTES

    def _read_ahead(self) -> None:
        # In as few calls as can be: after each the thread waits until the other one lets the interpreter go.
        try:
            self._read = self._begin + self._file.rest()
            self.sha256 = self._file.finished()
        except UserError as error:  # raised where the bytes are asked for
            self._read = error

    def _raw_blocks(self) -> Iterator[bytes]:
        if self._ahead is not None:
            self._ahead.join()
            raw, self._read = self._read, b""  # the bytes are not held longer than they are used
            if isinstance(raw, UserError):
                raise raw
            yield raw
            return
        # What a small packed file unpacks to may be large, and several blocks wait at a time.
        size = BLOCK_BYTES
        if self.source.packing:
            size = min(size, max(HEAD_BYTES, self.source.byte_count // 4))
        raw, self._begin = self._begin, b""
        while raw:
            raw += _read_fully(self._stream, size - len(raw))
            yield raw
            raw = _read_fully(self._stream, size)
        self.sha256 = self._file.finished()

    def __iter__(self) -> Iterator[bytes]:
        source = self.source
        decoder = None if source.encoding in ("utf-8", "utf-8-sig") else _decoder(source.encoding)
        first = True
        for raw in self._raw_blocks():
            if decoder is not None:
                raw = decoder.decode(raw).encode("utf-8", "replace")
            if first:
                raw = raw.removeprefix(codecs.BOM_UTF8)
                first = False
            if raw:
                yield raw
        if decoder is not None:
            tail = decoder.decode(b"", final=True)
            if tail:
                yield tail.encode("utf-8", "replace")


def smaller(whole: bytes) -> Iterator[bytes]:
    """Yield the same bytes in blocks of which two threads can each take some."""
    size = min(BLOCK_BYTES, max(len(whole) // 8, HEAD_BYTES))
    for at in range(0, len(whole), size):
        yield whole[at : at + size]
