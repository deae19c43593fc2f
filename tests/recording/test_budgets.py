"""What no recorder writes is refused in words, soon and in little memory; nothing takes the square of its length."""

from __future__ import annotations

import gzip
import io
import time
import warnings
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from debrief import cli
from debrief.errors import UserError
from debrief.recording.csv import source
from debrief.recording.csv.dialect import MAX_COLUMNS, MAX_NAME_CHARS
from debrief.recording.reader import read
from debrief.words.shortened import MAX_MESSAGE_CHARS, shortened
from tests.recording import shapes

Write = Callable[..., Path]
HEADER = b"time (s),ng (%),itt (degC)\n"
ROWS = b"".join(b"%d,5%d,6%d\n" % (i, i % 10, i % 7) for i in range(2000))

REFUSED: dict[str, tuple[bytes, str]] = {
    "140,000 columns": (
        b"time,itt" + b",x" * 140_000 + b"\n" + (b"1,2" + b",3" * 140_000 + b"\n") * 3,
        "first line of more than 256 kB",
    ),
    "one column too many": (
        b"time,itt" + b",x" * (MAX_COLUMNS - 1) + b"\n" + (b"1,2" + b",3" * (MAX_COLUMNS - 1) + b"\n") * 3,
        "has 2,001 columns, and at most 2,000 are read",
    ),
    "a name without end": (
        b"time,itt," + b"x" * (MAX_NAME_CHARS + 1) + b"\n0,20,1\n1,21,2\n",
        "line 1: the name of column 3 has 301 characters",
    ),
    "comments without end": (b"# a\n" * 1001 + HEADER + ROWS, "more than 1,000 comment or blank lines"),
    "a line without end": (HEADER + ROWS + b"1," * 150_000, "line 2002: the line is longer than 256 kB"),
    "a line without end in the middle": (
        HEADER + ROWS + b"1" * 300_000 + b"\n" + ROWS,
        "line 2002: the line is longer than 256 kB",
    ),
    "a clock that steps back on each second row": (
        HEADER + b"".join(b"%d,50,600\n" % (i // 3 * 10 + (0, 20, 9)[i % 3]) for i in range(100_000)),
        "steps back or leaps by more than a day 33,333 times; sort the rows by time",
    ),
}


@pytest.mark.parametrize("in_blocks", [False, True])
@pytest.mark.parametrize("name", REFUSED)
def test_what_no_recorder_writes_is_refused_in_words(
    name: str, in_blocks: bool, write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    data, words = REFUSED[name]
    if in_blocks:
        monkeypatch.setattr(source, "AT_ONCE_BYTES", 0)
        monkeypatch.setattr(source, "BLOCK_BYTES", 64 * 1024)
    path = write(data)
    begun = time.process_time()
    with pytest.raises(UserError) as caught:
        read(path)
    assert time.process_time() - begun < 2.0
    assert words in str(caught.value)
    assert len(str(caught.value)) < 300


def test_as_many_columns_and_as_long_names_as_are_allowed_are_read_in_good_time(write: Write) -> None:
    names = [f"{'egt ' * 20}{i} (degC)" for i in range(MAX_COLUMNS - 2)]
    rows = "".join(f"{i},{600 + i}" + ",5" * (MAX_COLUMNS - 2) + "\n" for i in range(5))
    path = write("time,itt (degC)," + ",".join(names) + "\n" + rows)
    begun = time.process_time()
    recording = read(path)
    assert time.process_time() - begun < 4.0
    assert len(recording.unmapped) + len(recording.channels) == MAX_COLUMNS - 1


def test_a_line_that_never_ends_is_given_up_before_it_is_held(
    write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(source, "AT_ONCE_BYTES", 0)
    monkeypatch.setattr(source, "BLOCK_BYTES", 64 * 1024)
    monkeypatch.setattr(source, "HEAD_BYTES", 8 * 1024)
    asked: list[int] = []
    plain = source.WatchedFile.read
    monkeypatch.setattr(
        source.WatchedFile, "read", lambda self, size: (asked.append(size), plain(self, size))[1]
    )
    with pytest.raises(UserError, match="longer than 256 kB"):
        read(write(HEADER + ROWS + b"1" * 20_000_000))
    assert sum(asked) < 1_000_000


SQUARES: dict[str, bytes] = {
    "spaces within a preamble's value": b"# a: b" + b" " * 200_000 + b"c\n" + HEADER + ROWS,
    "a date with a line break": HEADER + b'"2031-05-01 ' + b"1" * 100_000 + b'\nx",5,6\n' + ROWS,
    "underscores within a name": b"time,itt,temp " + b"_" * 280 + b"x1 (degC)\n" + ROWS,
    "a name of numbers": b"time,itt," + b"1 " * 140 + b"ng\n" + ROWS,
    "jumps of ITT": HEADER + b"".join(b"%d,90,%d\n" % (i, 300 if i % 2 else 900) for i in range(60_000)),
    "falls to zero": HEADER
    + b"".join(b"%d,%d,%d\n" % (i, i % 3 and 90, i % 4 and 600) for i in range(60_000)),
    "flat stretches": HEADER
    + b"".join(b"%d,%d,%d\n" % (i * 2, 90, 600 + 20 * (i // 25 % 2)) for i in range(60_000)),
    "gaps everywhere": HEADER + b"".join(b"%d,90,600\n" % (i + 5 * (i // 3)) for i in range(60_000)),
    "spikes everywhere": HEADER + b"".join(b"%d,%d,600\n" % (i, 90 if i % 3 else 50) for i in range(60_000)),
    "cells of every length": HEADER + b"".join(b"%d,90,%s\n" % (i, b"6" * (i % 900)) for i in range(4000)),
}


@pytest.mark.parametrize("name", SQUARES)
def test_nothing_takes_the_square_of_its_length(name: str, write: Write) -> None:
    path = write(SQUARES[name])
    begun = time.process_time()
    recording = read(path)
    assert time.process_time() - begun < 1.5
    assert recording.channels


@pytest.mark.parametrize("text", ["1.7e308", "-1.7e308", "1e300", "1e999999999", "9" * 10_000, "5e-324"])
@pytest.mark.parametrize("header", ["time,ng,itt", "index,ng,itt", "time,index,itt", "ng,ng2,itt"])
def test_numbers_beyond_all_measure_warn_of_nothing(text: str, header: str, write: Write) -> None:
    lines = [f"{i},5{i % 10},6{i % 7}" for i in range(50)]
    lines[7], lines[8], lines[9] = (
        f"7,{text},60",
        f"-{text.lstrip('-')},51,{text}",
        f"{text},-{text.lstrip('-')},60",
    )
    path = write(header + "\n" + "\n".join(lines) + "\n")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            recording = read(path)
        except UserError:
            return
    assert recording.duration_s < 1e19


def test_many_faults_are_told_in_short(write: Write) -> None:
    names = [f"spare {'x' * 200} {i}" for i in range(400)]
    rows = "".join(f"{i},{600 + i}" + (",ERR" if i == 3 else ",5") * 400 + "\n" for i in range(5))
    recording = read(write("time,itt (degC)," + ",".join(names) + "\n" + rows))
    told = recording.provenance
    assert len(told.repairs) == 201
    assert told.repairs[-1] == "and 200 more repairs"
    for text in (*told.repairs, *told.questions, *told.decisions):
        assert len(text) <= MAX_MESSAGE_CHARS


def test_an_error_keeps_its_beginning_and_its_end() -> None:
    text = str(UserError("flight.csv: " + "x" * 5000 + ": do this."))
    assert len(text) == MAX_MESSAGE_CHARS
    assert text.startswith("flight.csv: x")
    assert text.endswith("x: do this.")
    assert " [...] " in text
    short = "a short one"
    assert shortened(short) is short


@pytest.mark.parametrize("name", ["blank cells", "clock texts", "zip of blank cells"])
def test_memory_stays_within_ten_times_the_file_and_200_mb(name: str, tmp_path: Path) -> None:
    path = shapes.made(name, 6 * 1024**2, tmp_path)
    found = shapes.measured(path)
    assert shapes.broken_promises(path, found) == []
    assert found.memory_mb > 70  # it was measured at all


def test_a_packed_recording_counts_as_what_it_unpacks_to(tmp_path: Path) -> None:
    path = shapes.made("gzip of numbers", 2 * 1024**2, tmp_path)
    assert shapes.measured(path).said == "read"


def _zip(data: bytes, method: int, name: str = "flight.csv") -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", method) as archive:
        archive.writestr(name, data)
    return buffer.getvalue()


def _patched(packed: bytes, changes: dict[int, bytes]) -> bytes:
    """Return a zip with bytes of its directory's first entry changed."""
    out = bytearray(packed)
    at = out.rfind(b"PK\x01\x02")
    for field, new in changes.items():
        out[at + field : at + field + len(new)] = new
    return bytes(out)


GOOD = HEADER + ROWS
ZIPS: dict[str, tuple[bytes, str]] = {
    "bzip2": (_zip(GOOD, zipfile.ZIP_BZIP2), "packed with bzip2, which is not read; unpack it first"),
    "LZMA": (_zip(GOOD, zipfile.ZIP_LZMA), "packed with LZMA, which is not read; unpack it first"),
    "deflate64": (_patched(_zip(GOOD, zipfile.ZIP_DEFLATED), {10: b"\x09\0"}), "packed with deflate64"),
    "no known method": (_patched(_zip(GOOD, zipfile.ZIP_DEFLATED), {10: b"\x4d\0"}), "packed with method 77"),
    "encrypted": (_patched(_zip(GOOD, zipfile.ZIP_DEFLATED), {8: b"\x01"}), "is encrypted; unpack it with its password"),
    "a name that is not UTF-8": (
        _patched(_zip(GOOD, zipfile.ZIP_DEFLATED, "\u00fclight.csv"), {46: b"\xff\xff"}),
        "a name in it is not UTF-8",
    ),
    "a name of nothing": (_patched(_zip(GOOD, zipfile.ZIP_DEFLATED), {46: b"\0"}), "holds 0 CSV files"),
    "damaged": (_zip(GOOD, zipfile.ZIP_DEFLATED).replace(b"csv", b"csv", 1)[:60] + b"\xff" * 40
                + _zip(GOOD, zipfile.ZIP_DEFLATED)[100:], "is a broken zip file"),
}  # fmt: skip


@pytest.mark.parametrize("name", ZIPS)
def test_a_zip_that_cannot_be_read_says_why(
    name: str, write: Write, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    data, words = ZIPS[name]
    path = write(data, "flight.zip")
    assert cli.main(["report", str(path), "-o", str(tmp_path / "out.json"), "--format", "json"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("debrief: flight.zip")
    assert words in told.err
    assert told.err.count("\n") == 1


@pytest.mark.parametrize(
    ("packed", "words"),
    [
        (gzip.compress(GOOD[:7000]) + gzip.compress(GOOD[7000:]) + b"\0" * 512, ""),
        (gzip.compress(GOOD) + b"more", "is a broken gzip file"),
        (gzip.compress(GOOD) + gzip.compress(b"") * 50_000, "it has more than 50,000 members"),
        (
            gzip.compress(GOOD[:7000]) + gzip.compress(GOOD[7000:])[:-9],
            "is a broken gzip file: it ends before its end mark",
        ),
        (gzip.compress(GOOD)[:-8] + b"\0" * 8, "is a broken gzip file: its bytes do not fit its own checks"),
    ],
)
def test_all_members_of_a_gzip_are_one_recording(packed: bytes, words: str, write: Write) -> None:
    path = write(packed, "flight.csv.gz")
    if words:
        with pytest.raises(UserError, match=words):
            read(path)
    else:
        assert read(path).channels["itt"].values.size == 2000


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_cell_of_many_short_lines_that_is_too_long_is_refused_in_words(
    encoding: str, tmp_path: Path
) -> None:
    path = tmp_path / "flight.csv"
    rows = "".join(f"{i},20\n" for i in range(30_000))
    path.write_text(f'time,itt\n{rows}30000,"{"20" + chr(10) * 140_000}"\n', encoding=encoding)
    with pytest.raises(UserError, match="quotation mark was never closed"):
        read(path)
