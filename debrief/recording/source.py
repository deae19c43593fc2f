"""Opening a file read-only: its bytes in blocks, its SHA-256, its encoding, and what is refused at once."""

from __future__ import annotations

import codecs
import gzip
import hashlib
import os
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Thread
from typing import IO, Self, cast

from debrief.errors import UserError

BLOCK_BYTES = 2 * 1024 * 1024
"""Large enough for little overhead, small enough that the parser's memory is used again and stays warm."""
AT_ONCE_BYTES = 16 * 1024 * 1024
"""So large a file is one block: to hold it is cheap, and the parser's own threads are quicker than ours."""
HEAD_BYTES = 256 * 1024
MAX_UNPACKED_BYTES = 2 * 1024**3
MAX_RATIO = 400
"""A packed file may unpack to so many times its size, once it is beyond `RATIO_FREE_BYTES`."""
RATIO_FREE_BYTES = 32 * 1024**2

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
    """A file that can be read: its path, its size, how it is packed and the encoding of its text."""

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
        return self.path.name


def open_source(path: str | os.PathLike[str]) -> Source:
    """Return the file as a source, or say in one sentence why it cannot be one.

    Raises
    ------
    UserError
        Absent, a folder, unreadable, empty, not text, or a packed file that is broken or holds no single
        CSV.
    """
    file = Path(path)
    try:
        if file.is_dir():
            raise UserError(f"{file.name or file} is a folder: name a CSV file in it.")
        size = file.stat().st_size
        if not file.is_file():
            raise UserError(f"{file.name} is not a regular file: name a CSV file.")
    except FileNotFoundError:
        raise UserError(f"{file} does not exist: check the name and the folder.") from None
    except (OSError, ValueError) as error:
        raise UserError(f"{file.name} cannot be opened: {_reason(error)}.") from None
    if size == 0:
        raise UserError(f"{file.name} is empty: it holds no byte.")
    packing, member = "", ""
    try:
        with file.open("rb") as stream:
            start = stream.read(16)
        packing = next((kind for magic, kind in _MAGIC.items() if start.startswith(magic)), "")
        if packing == "zip":
            member = _single_csv(file)
        elif packing not in ("", "gzip"):
            raise UserError(f"{file.name} is {packing}, not a CSV file: export the recording as CSV.")
    except OSError as error:
        raise UserError(f"{file.name} cannot be read: {_reason(error)}.") from None
    with _opened(file, packing, member) as stream:
        raw = _read_fully(stream, HEAD_BYTES + 1)
    if not raw:
        raise UserError(f"{file.name} is empty: it unpacks to no byte.")
    head_is_all = len(raw) <= HEAD_BYTES
    raw = raw[:HEAD_BYTES]
    encoding = _encoding(raw, file.name, head_is_all)
    return Source(file, size, packing, member, encoding, _to_utf8(raw, encoding), head_is_all)


def _reason(error: Exception) -> str:
    text = getattr(error, "strerror", None) or str(error)
    return text[:1].lower() + text[1:] if text else type(error).__name__


def _single_csv(file: Path) -> str:
    try:
        with zipfile.ZipFile(file) as archive:
            names = [
                info.filename
                for info in archive.infolist()
                if not info.is_dir() and not info.filename.startswith("__MACOSX/")
            ]
    except (zipfile.BadZipFile, NotImplementedError, ValueError) as error:
        raise UserError(f"{file.name} is a broken zip archive: {_reason(error)}.") from None
    if any(name.startswith("xl/") for name in names):
        raise UserError(f"{file.name} is a spreadsheet workbook: save the sheet as CSV.")
    csvs = [name for name in names if name.lower().endswith((".csv", ".txt", ".tsv", ".log"))]
    if len(csvs) != 1:
        raise UserError(
            f"{file.name} holds {len(csvs)} CSV files, and only a zip with a single one is read: unpack it first."
        )
    return csvs[0]


@contextmanager
def _opened(file: Path, packing: str, member: str) -> Iterator[IO[bytes]]:
    """Yield the unpacked bytes; a packed file that breaks or swells is a user error."""
    try:
        if packing == "gzip":
            with gzip.open(file, "rb") as stream:
                yield cast(IO[bytes], _Bounded(stream, file))
        elif packing == "zip":
            with zipfile.ZipFile(file) as archive, archive.open(member) as inner:
                yield cast(IO[bytes], _Bounded(inner, file))
        else:
            with file.open("rb") as plain:
                yield plain
    except UserError:
        raise
    except (
        gzip.BadGzipFile,
        zlib.error,
        EOFError,
        zipfile.BadZipFile,
        RuntimeError,
        NotImplementedError,
    ) as error:
        raise UserError(f"{file.name} is a broken {packing or 'packed'} file: {_reason(error)}.") from None
    except OSError as error:
        raise UserError(f"{file.name} cannot be read: {_reason(error)}.") from None


class _Bounded:
    """A reader that stops a packed file from filling the memory."""

    def __init__(self, stream: IO[bytes] | gzip.GzipFile, file: Path) -> None:
        self._stream = stream
        self._file = file
        self._limit = min(MAX_UNPACKED_BYTES, max(RATIO_FREE_BYTES, MAX_RATIO * file.stat().st_size))
        self._count = 0

    def read(self, size: int) -> bytes:
        """Return up to `size` unpacked bytes."""
        data = self._stream.read(size)
        self._count += len(data)
        if self._count > self._limit:
            raise UserError(
                f"{self._file.name} unpacks to more than {self._limit // 1024**2} MB: unpack it and look at it first."
            )
        return data


def _read_fully(stream: IO[bytes], size: int) -> bytes:
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
    """The bytes of a source as UTF-8 blocks, hashed on the way.

    Iterating yields raw blocks of at most `BLOCK_BYTES` without regard to records, or one of the whole file.
    After the last one `sha256` is that of the file on disk, packed or not.
    """

    def __init__(self, source: Source) -> None:
        self._source = source
        self.sha256 = ""
        self.is_at_once = not source.packing and source.byte_count <= AT_ONCE_BYTES
        self._ahead: Thread | None = None
        self._read: tuple[bytes, str] | OSError = (b"", "")
        self._open = ExitStack()

    def __enter__(self) -> Self:
        """Begin to read a file of one block in a thread; meanwhile its dialect can be found."""
        if self.is_at_once and not self._source.head_is_all:
            stream = self._open.enter_context(_opened(self._source.path, "", ""))
            self._ahead = Thread(target=self._read_ahead, args=(stream.fileno(),), daemon=True)
            self._ahead.start()
        return self

    def __exit__(self, *_: object) -> None:
        if self._ahead is not None:
            self._ahead.join()
        self._open.close()

    def _read_ahead(self, file: int) -> None:
        # In as few calls as can be: after each the thread waits until the other one lets the interpreter go.
        try:
            parts = [os.read(file, self._source.byte_count + 1)]
            if len(parts[0]) != self._source.byte_count:  # it grew, or the system gives less at a time
                while part := os.read(file, BLOCK_BYTES):
                    parts.append(part)
            raw = parts[0] if len(parts) == 1 else b"".join(parts)
            self._read = raw, hashlib.sha256(raw).hexdigest()
        except OSError as error:  # raised where the bytes are asked for
            self._read = error

    def _raw_blocks(self) -> Iterator[bytes]:
        source = self._source
        if self._ahead is not None:
            self._ahead.join()
            if isinstance(self._read, OSError):
                raise UserError(f"{source.name} cannot be read: {_reason(self._read)}.")
            raw, self.sha256 = self._read
            self._read = b"", ""  # the bytes are not held longer than they are used
            yield raw
            return
        digest = hashlib.sha256()
        with _opened(source.path, source.packing, source.member) as stream:
            while raw := _read_fully(stream, BLOCK_BYTES):
                if not source.packing:
                    digest.update(raw)
                yield raw
        if source.packing:
            with source.path.open("rb") as packed:
                digest = hashlib.file_digest(packed, "sha256")
        self.sha256 = digest.hexdigest()

    def __iter__(self) -> Iterator[bytes]:
        source = self._source
        decoder = None if source.encoding in ("utf-8", "utf-8-sig") else _decoder(source.encoding)
        first = True
        for raw in self._raw_blocks():
            if decoder is not None:
                try:
                    raw = decoder.decode(raw).encode("utf-8", "replace")
                except UnicodeError:
                    raise UserError(
                        f"{source.name} changed while it was read: wait until it is complete and read it again."
                    ) from None
            if first:
                raw = raw.removeprefix(codecs.BOM_UTF8)
                first = False
            if raw:
                yield raw
        if decoder is not None:
            tail = decoder.decode(b"", final=True)
            if tail:
                yield tail.encode("utf-8", "replace")


def smaller(whole: list[bytes]) -> Iterator[bytes]:
    """Yield the same bytes in blocks of which two threads can each take some."""
    for raw in whole:
        size = min(BLOCK_BYTES, max(len(raw) // 8, HEAD_BYTES))
        for at in range(0, len(raw), size):
            yield raw[at : at + size]
