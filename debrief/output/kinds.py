"""What the program writes, and by what each is known again: only the same kind is ever replaced by it.

A mark has to stay true as the program grows: a field or column that is added does not change it.
"""

from __future__ import annotations

import hashlib
import json
import re
import zlib
from enum import Enum
from pathlib import Path

from debrief.output.contents import is_report_table
from debrief.output.parquet import is_parquet_of

MARK = "Turbine Debrief"
"""In the creator of a PDF, the text of a PNG and the title of an SVG."""

_HEAD = 64_000
_MOST_BYTES = 256_000_000
"""No paper, picture or assessment is larger."""

_TRUTH = re.compile(rb'\s*\{\s*"format"\s*:\s*"synth-truth/')


class Kind(Enum):
    """A kind of output; its value is what it is called in a sentence."""

    PDF = "a report as PDF"
    TABLE = "a table of starts and events"
    ASSESSMENT = "an assessment as JSON"
    PNG = "a picture of the lanes (PNG)"
    SVG = "a picture of the lanes (SVG)"
    HISTORY_JSONL = "an export of a history"
    HISTORY_CSV = "a table of a history's starts"
    PARQUET = "a table of starts and events (Parquet)"
    HISTORY_PARQUET = "a table of a history's starts (Parquet)"
    PROFILE = "an engine profile"
    INVENTED = "an invented recording"
    TRUTH = "the truth of an invented recording"
    NEW = "a new file"
    """What never replaces anything."""

    @property
    def is_text(self) -> bool:
        """Whether a person can read it on a terminal."""
        return self not in (Kind.PDF, Kind.PNG, Kind.PARQUET, Kind.HISTORY_PARQUET)


def truth_path(recording: str | Path) -> Path:
    """Return where the truth of an invented recording lies: ``OUT.truth.json`` beside ``OUT.csv``."""
    path = Path(recording)
    stem = path.name[: -len(".csv")] if path.name.lower().endswith(".csv") else path.name
    return path.with_name(f"{stem}.truth.json")


_FRONTS = {Kind.PDF: b"%PDF-", Kind.PNG: b"\x89PNG\r\n\x1a\n", Kind.SVG: b"<?xml ", Kind.ASSESSMENT: b"{"}
"""Of the kinds that are read whole."""

_IEND = b"\x00\x00\x00\x00IEND\xaeB`\x82"
_SEAL = f"{MARK} SHA-256".encode()
_SEALS = {
    # The second identifier says which state of the file this is (ISO 32000-1, 14.4): each program that saves it anew changes it.
    Kind.PDF: re.compile(rb"/ID \[<[0-9a-f]+><(?P<sum>[0-9a-f]{32})>\] >>\s+startxref\s+\d+\s+%%EOF\s*\Z"),
    Kind.SVG: re.compile(rb"<!-- " + _SEAL + rb": (?P<sum>[0-9a-f]{64}) -->\n\Z"),
    # A chunk of text: its length, type, keyword, text and CRC (PNG specification, W3C, 3rd edition, 5.3 and 11.3.3.2).
    Kind.PNG: re.compile(
        rb"\x00\x00\x00.tEXt" + _SEAL + rb"\x00(?P<sum>[0-9a-f]{64})(?P<crc>.{4})" + _IEND + rb"\Z", re.DOTALL
    ),
}
"""Where the checksum of the whole file stands in it, at its very end; the sum is made with zeros in its place."""


def sealed(kind: Kind, data: bytes) -> bytes:
    """Return an output with its checksum, where its format has a place that readers pass over; else as it is."""
    if kind not in _SEALS:
        return data
    if _seal(kind, data) is None:
        if kind is Kind.SVG and data.endswith(b"</svg>\n"):
            data += b"<!-- " + _SEAL + b": " + b"0" * 64 + b" -->\n"
        if kind is Kind.PNG and data.endswith(_IEND):
            text = _SEAL + b"\x00" + b"0" * 64
            data = data[: -len(_IEND)] + len(text).to_bytes(4, "big") + b"tEXt" + text + bytes(4) + _IEND
    seal = _seal(kind, data)
    if seal is None:
        return data
    begin, end = seal.span("sum")
    blank = bytearray(data)
    blank[begin:end] = b"0" * (end - begin)
    if kind is Kind.PNG:
        blank[end : end + 4] = bytes(4)
    blank[begin:end] = hashlib.sha256(blank).hexdigest()[: end - begin].encode()
    if kind is Kind.PNG:
        type_at = begin - len(b"tEXt" + _SEAL + b"\x00")
        blank[end : end + 4] = zlib.crc32(blank[type_at:end]).to_bytes(4, "big")
    return bytes(blank)


def _seal(kind: Kind, data: bytes) -> re.Match[bytes] | None:
    return _SEALS[kind].search(data, max(0, len(data) - 500))


def is_of(kind: Kind, path: Path) -> bool:
    """Return whether a file is such an output, made by this program, and as far as can be told as it was made.

    Raises
    ------
    OSError
        It cannot be read.
    """
    with path.open("rb") as file:
        data = file.read(_HEAD)
        if kind in _FRONTS and data.startswith(_FRONTS[kind]):
            data += file.read(_MOST_BYTES)
    match kind:
        case Kind.PDF | Kind.PNG | Kind.SVG:
            return (
                data.startswith(_FRONTS[kind])
                and _seal(kind, data) is not None
                and sealed(kind, data) == data
            )
        case Kind.TABLE:
            return data.startswith(
                b"\xef\xbb\xbfrow,file,sha256,aircraft,engine_serial,"
            ) and is_report_table(path)
        case Kind.ASSESSMENT:
            begins = re.match(rb'\{\s*"schema"\s*:\s*"turbine-debrief\.assessment/', data) is not None
            # Everything of it is indented but its first and last sign.
            return begins and data.find(b"\n}") == len(data) - 3 and data.endswith(b"\n}\n")
        case Kind.HISTORY_JSONL:
            return re.match(rb'\{"schema"\s*:\s*"turbine-debrief\.history/', data) is not None
        case Kind.HISTORY_CSV:
            return data.startswith(b"engine,date_utc,file,sha256,start,")
        case Kind.PARQUET | Kind.HISTORY_PARQUET:
            return data.startswith(b"PAR1") and is_parquet_of(kind.name, path)
        case Kind.PROFILE:
            return _is_profile(data)
        case Kind.TRUTH:
            return _TRUTH.match(data) is not None
        case Kind.INVENTED:
            return _is_invented(path)
        case Kind.NEW:
            return False


def what_it_is(path: Path) -> str:
    """Return what a file is, for a sentence, as far as that can be told."""
    with path.open("rb") as file:
        data = file.read(64)
    if data.startswith(b"SQLite format 3\x00"):
        return "a database, such as a history"
    if data[:4] in (b"\x37\x7f\x06\x82", b"\x37\x7f\x06\x83") or path.name.endswith(
        ("-wal", "-shm", "-journal")
    ):
        return "part of a database"
    for kind in Kind:
        if is_of(kind, path):
            return kind.value
    changed = "that is not, or not only, as this program wrote it"
    fronts = (
        (b"%PDF-", f"a PDF {changed}"),
        (b"\x89PNG", f"a picture {changed}"),
        (b"<?xml ", f"an SVG or another XML file {changed}"),
        (b"\xef\xbb\xbfrow,file,sha256,", f"a table {changed}"),
        (b"\xff\xd8\xff", "a picture"),
        (b"\x1f\x8b", "a packed file"),
        (b"PK\x03\x04", "a packed file"),
    )
    return next((words for front, words in fronts if data.startswith(front)), "a file of another kind")


def _is_profile(data: bytes) -> bool:
    """Whether ``format`` stands among the keys before the first table, as the profile's format has it."""
    for line in data.removeprefix(b"\xef\xbb\xbf").splitlines():
        if line.lstrip().startswith(b"["):
            return False
        if re.match(rb"\s*[\"']?format[\"']?\s*=\s*[\"']engine-profile/", line):
            return True
    return False


def _is_invented(path: Path) -> bool:
    """Whether the truth beside a recording is the truth of exactly these bytes."""
    try:
        told = json.loads(truth_path(path).read_bytes())["recording_sha256"]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return False
    with path.open("rb") as file:
        return bool(told == hashlib.file_digest(file, "sha256").hexdigest())
