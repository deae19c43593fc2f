"""What no recorder writes is refused in words, soon and in little memory; nothing takes the square of its length."""

from __future__ import annotations

import time
import warnings
from collections.abc import Callable
from pathlib import Path

import pytest

from debrief.errors import UserError
from debrief.recording import source
from debrief.recording.dialect import MAX_COLUMNS, MAX_NAME_CHARS
from debrief.recording.reader import read
from debrief.words.shortened import MAX_MESSAGE_CHARS, shortened

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
