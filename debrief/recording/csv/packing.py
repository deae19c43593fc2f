"""The bytes of a recording as they were before they were packed: plain, gzip, or the one CSV of a zip."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib
from typing import IO, Protocol

from debrief.errors import UserError
from debrief.recording.csv.watched import WatchedFile, reason

INPUT_BYTES = 256 * 1024
MAX_UNPACKED_BYTES = 2 * 1024**3
MAX_RATIO = 100
"""A packed file may unpack to so many times its size, once it is beyond `RATIO_FREE_BYTES`. Recordings unpack to 3 to
10 times; one in which hardly anything moves, to 50."""
RATIO_FREE_BYTES = 32 * 1024**2
MAX_MEMBERS = 50_000
"""Of a gzip: one that is made in blocks of 64 kB reaches `MAX_UNPACKED_BYTES` with fewer."""
MAX_ZIP_BYTES = 512 * 1024**2
"""A zip is held in memory, since its directory stands at its end: what is hashed is then what is unpacked."""
MAX_DIRECTORY_BYTES = 1024**2
"""Some ten thousand files in a zip; a directory of 500 MB would take minutes and gigabytes to be looked at."""
_END, _LOCATOR = b"PK\x05\x06", b"PK\x06\x07"
_METHODS = {
    zipfile.ZIP_STORED: "stored", zipfile.ZIP_DEFLATED: "deflate", 1: "shrink", 6: "implode", 9: "deflate64",
    zipfile.ZIP_BZIP2: "bzip2", zipfile.ZIP_LZMA: "LZMA", 93: "Zstandard", 95: "xz", 98: "PPMd",
}  # fmt: skip
"""Names of the methods in APPNOTE 4.4.5, from memory."""
_READ = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
"""The methods that are unpacked in parts as small as asked for; the others are as good as never met, and Python's own
reading of bzip2 and LZMA in a zip unpacks 4 kB to gigabytes in one piece."""
_BROKEN = (zlib.error, EOFError, zipfile.BadZipFile, RuntimeError, NotImplementedError, ValueError, struct.error,
           OverflowError, LookupError, OSError)  # fmt: skip
"""What unpacking raises where the bytes are damaged; those of the disk were read before, by `WatchedFile`."""


class Unpacked(Protocol):
    """Yields the bytes of a recording."""

    member: str
    """Name of the CSV inside a zip."""

    @property
    def position(self) -> int:
        """How many bytes of the file on disk what was given so far takes, for the progress."""
        ...

    def read(self, size: int) -> bytes:
        """Return the next bytes, at most so many; none at the end.

        Raises
        ------
        UserError
            A packed file is broken, or unpacks to more than it may.
        """
        ...


def unpacked(file: WatchedFile, packing: str, start: bytes) -> Unpacked:
    """Return what gives the bytes of a file of which the start was read already.

    Raises
    ------
    UserError
        A zip that is broken or holds no single CSV that can be read.
    """
    if packing == "gzip":
        return _Gunzipped(file, start)
    if packing == "zip":
        return _Unzipped(file, start)
    return _Plain(file, start)


class _Plain:
    member = ""

    def __init__(self, file: WatchedFile, start: bytes) -> None:
        self._file = file
        self._start = start

    @property
    def position(self) -> int:
        return self._file.position - len(self._start)

    def read(self, size: int) -> bytes:
        if self._start:
            data, self._start = self._start[:size], self._start[size:]
            return data
        return self._file.read(size)


class _Counted:
    """Counts what was unpacked, against the limits."""

    def __init__(self, file: WatchedFile) -> None:
        self._file = file
        self._limit = min(MAX_UNPACKED_BYTES, max(RATIO_FREE_BYTES, MAX_RATIO * file.byte_count))
        self.count = 0

    def counted(self, data: bytes) -> bytes:
        self.count += len(data)
        if self.count > self._limit:
            raise UserError(
                f"{self._file.name} unpacks to more than {self._limit // 1024**2} MB: unpack it and look at it first."
            )
        return data


class _Gunzipped(_Counted):
    """All members of a gzip file one after the other (RFC 1952, 2.2)."""

    member = ""

    def __init__(self, file: WatchedFile, start: bytes) -> None:
        super().__init__(file)
        self._input = start
        self._members = 1
        self._member = zlib.decompressobj(31)  # with gzip's own header and check

    @property
    def position(self) -> int:
        return self._file.position

    def read(self, size: int) -> bytes:
        try:
            return self.counted(self._unpacked(size))
        except _BROKEN as error:
            raise UserError(f"{self._file.name} is a broken gzip file: {_why(error)}.") from None

    def _unpacked(self, size: int) -> bytes:
        while True:
            if self._member.eof:
                # Zeros may follow a member, as where it was copied from a tape.
                left = (self._input or self._file.read(INPUT_BYTES)).lstrip(b"\0")
                if not left and self._file.position >= self._file.byte_count:
                    return b""
                self._input = left
                if left:
                    self._members += 1
                    if self._members > MAX_MEMBERS:
                        raise zlib.error(f"it has more than {MAX_MEMBERS:,} members")
                    self._member = zlib.decompressobj(31)
                continue
            given = self._input or self._file.read(INPUT_BYTES)
            data = self._member.decompress(given, size)
            self._input = self._member.unused_data if self._member.eof else self._member.unconsumed_tail
            if data:
                return data
            if not given and not self._member.eof:
                raise EOFError("it ends before its end mark")


class _Unzipped(_Counted):
    """The single CSV of a zip."""

    def __init__(self, file: WatchedFile, start: bytes) -> None:
        super().__init__(file)
        name = file.name
        if file.byte_count > MAX_ZIP_BYTES:
            raise UserError(
                f"{name} is a zip of more than {MAX_ZIP_BYTES // 1024**2} MB: unpack it and read the CSV in it."
            )
        data = start + file.rest()
        try:
            _check_directory(data, name)
            self._archive = zipfile.ZipFile(io.BytesIO(data))
            info = _single_csv(self._archive, name)
            self.member = info.filename
            if info.flag_bits & 1:
                raise UserError(f"{name}: the CSV in it is encrypted; unpack it with its password first.")
            if info.compress_type not in _READ:
                method = _METHODS.get(info.compress_type, f"method {info.compress_type}")
                raise UserError(
                    f"{name}: the CSV in it is packed with {method}, which is not read; unpack it first."
                )
            self._stream: IO[bytes] = self._archive.open(info)
        except _BROKEN as error:
            raise UserError(f"{name} is a broken zip archive: {_zip_reason(error)}.") from None
        self._told = max(info.file_size, 1)

    @property
    def position(self) -> int:
        return self._file.byte_count * min(self.count, self._told) // self._told

    def read(self, size: int) -> bytes:
        try:
            return self.counted(self._stream.read(size))
        except _BROKEN as error:
            raise UserError(f"{self._file.name} is a broken zip file: {_zip_reason(error)}.") from None


def _zip_reason(error: Exception) -> str:
    return "a name in it is not UTF-8" if isinstance(error, UnicodeError) else _why(error)


def _why(error: Exception) -> str:
    """Return what is broken: a library's own words of its stream tell a person nothing."""
    text = reason(error)
    if isinstance(error, zlib.error) and text.startswith("error -"):
        return "its bytes do not fit its own checks, so it was damaged or not copied whole"
    return text


def _check_directory(data: bytes, name: str) -> None:
    """Refuse a zip with a directory beyond all measure (APPNOTE 4.3.14 to 4.3.16)."""
    end = data.rfind(_END, max(0, len(data) - 66_000))
    if end < 0 or len(data) - end < 22:
        raise zipfile.BadZipFile("it is cut short, or it is no zip")
    size = int.from_bytes(data[end + 12 : end + 16], "little")
    if end >= 76 and data[end - 20 : end - 16] == _LOCATOR:
        size = int.from_bytes(data[end - 36 : end - 28], "little")
    if size > MAX_DIRECTORY_BYTES:
        raise UserError(f"{name} holds too many files to be looked at: unpack it and read the CSV in it.")


def _single_csv(archive: zipfile.ZipFile, name: str) -> zipfile.ZipInfo:
    files = [
        info
        for info in archive.infolist()
        if not info.filename.endswith("/") and not info.filename.startswith("__MACOSX/")
    ]
    if any(info.filename.startswith("xl/") for info in files):
        raise UserError(f"{name} is a spreadsheet workbook: save the sheet as CSV.")
    csvs = [info for info in files if info.filename.lower().endswith((".csv", ".txt", ".tsv", ".log"))]
    if len(csvs) != 1:
        raise UserError(
            f"{name} holds {len(csvs)} CSV files, and only a zip with a single one is read: unpack it first."
        )
    return csvs[0]
