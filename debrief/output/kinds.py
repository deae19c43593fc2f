"""What the program writes, and by what each is known again: only the same kind is ever replaced by it.

A mark has to stay true as the program grows: a field or column that is added does not change it.
"""

from __future__ import annotations

import hashlib
import json
import re
from enum import Enum
from pathlib import Path

from debrief.output.parquet import is_parquet_of

MARK = "Turbine Debrief"
"""In the creator of a PDF, the text of a PNG and the title of an SVG."""

_HEAD = 64_000
_MOST_BYTES = 256_000_000
"""No paper is larger."""

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


def is_of(kind: Kind, path: Path) -> bool:
    """Return whether a file is such an output, made by this program.

    Raises
    ------
    OSError
        It cannot be read.
    """
    with path.open("rb") as file:
        data = file.read(_HEAD)
        if kind is Kind.PDF and data.startswith(b"%PDF-"):
            data += file.read(_MOST_BYTES)
    match kind:
        case Kind.PDF:
            # A signature or a comment of another program is appended, with one more of these.
            once = data.count(b"startxref") == 1
            return data.startswith(b"%PDF-") and once and f"<xmp:CreatorTool>{MARK} ".encode() in data
        case Kind.TABLE:
            return data.startswith(b"\xef\xbb\xbfrow,file,sha256,aircraft,engine_serial,")
        case Kind.ASSESSMENT:
            return re.match(rb'\s*\{\s*"schema"\s*:\s*"turbine-debrief\.assessment/', data) is not None
        case Kind.PNG:
            return _png_software(data).startswith(MARK.encode())
        case Kind.SVG:
            return data.startswith(b"<?xml ") and f"<title>{MARK}</title>\n<desc>".encode() in data[:1000]
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
        data = file.read(16)
    if data.startswith(b"SQLite format 3\x00"):
        return "a database, such as a history"
    if data[:4] in (b"\x37\x7f\x06\x82", b"\x37\x7f\x06\x83") or path.name.endswith(
        ("-wal", "-shm", "-journal")
    ):
        return "part of a database"
    for kind in Kind:
        if is_of(kind, path):
            return kind.value
    fronts = ((b"%PDF-", "a PDF that is not, or not only, of this program"), (b"\x89PNG", "a picture"),
              (b"\xff\xd8\xff", "a picture"), (b"\x1f\x8b", "a packed file"), (b"PK\x03\x04", "a packed file"))  # fmt: skip
    return next((words for front, words in fronts if data.startswith(front)), "a file of another kind")


def _png_software(data: bytes) -> bytes:
    """Return what a PNG says that it was made with; chunks by the PNG specification (W3C, 3rd edition, 5 and 11.3.3)."""
    at = 8
    while data.startswith(b"\x89PNG\r\n\x1a\n") and at + 8 <= len(data):
        length, name = int.from_bytes(data[at : at + 4], "big"), data[at + 4 : at + 8]
        inside = data[at + 8 : at + 8 + length]
        if name == b"tEXt" and inside.startswith(b"Software\x00"):
            return inside.removeprefix(b"Software\x00")
        if name in (b"IDAT", b"IEND"):
            break
        at += 12 + length
    return b""


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
