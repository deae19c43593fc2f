"""What is left out is told by the line of the file, whatever stands above it, by both parsers alike."""

from __future__ import annotations

import csv
import io
import pickle
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.recording.csv import csv_arrow, source
from debrief.recording.csv.csv_tolerant import Layout, parse_tolerantly
from debrief.recording.csv.line_index import breaks_of_lines
from debrief.recording.csv.table import Block, Column, Table
from debrief.recording.reader import read

Write = Callable[..., Path]


def lines_of(blocks: list[Block], width: int) -> list[int]:
    table = Table([Column(".") for _ in range(width)])
    for block in blocks:
        table.add(block)
    return table.book.lines_of(np.arange(table.rows))


_ROWS = st.sampled_from(
    ["1,2,3\n", "4,5,6\n", "7,8\n", "\n", "  \n", "# a remark\n", '9,"a\nb",3\n', '9,"",3\n', "1,2,3,\n", "t,x,y\n", "1,nan,2\n"]
)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(rows=st.lists(_ROWS, min_size=1, max_size=30))
def test_both_parsers_know_the_line_of_every_row(rows: list[str]) -> None:
    data = "".join(rows).encode()
    layout = Layout(",", ".", 3, (True, False, True), frozenset([("t", "x", "y")]))
    expected, line = [], 7
    for row in rows:
        fields = next(csv.reader(io.StringIO(row)), [])
        if fields not in (["t", "x", "y"], []) and len(fields) - (row == "1,2,3,\n") == 3:
            expected.append(line)
        line += row.count("\n")
    if not expected:
        return
    assert lines_of([parse_tolerantly(data, 7, layout, "x.csv", last=False)], 3) == expected
    assert lines_of(csv_arrow.parse(data, 7, layout, "x.csv", last=False), 3) == expected


@given(lines=st.lists(st.integers(1, 60), min_size=1, max_size=40, unique=True).map(sorted))
def test_the_breaks_tell_every_line(lines: list[int]) -> None:
    table = Table([])
    table.book.add(0, breaks_of_lines(np.array(lines)))
    assert table.book.lines_of(np.arange(len(lines))) == lines


@pytest.fixture(params=["small", "middling", "large"])
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Read the whole file tolerantly, at once by the quick parser, or by it in blocks of 64 bytes."""
    if request.param != "small":
        monkeypatch.setattr(source, "HEAD_BYTES", 140)
        monkeypatch.setattr(source, "AT_ONCE_BYTES", 0 if request.param == "large" else 1_000_000)
        monkeypatch.setattr(source, "BLOCK_BYTES", 64)
    return str(request.param)


def told(recording) -> str:
    (repair,) = [r for r in recording.provenance.repairs if "no channel can hold" in r]
    return repair.rpartition(": line ")[2]


FILE = """# engine: Quill B2
# written by hand

time,ng (%),note,itt (degC)
0,10,,20
1,10,"two
lines",1e20
2,10,,22
3,10,22
time,ng (%),note,itt (degC)
4,10,,2e20
# a remark

5,10,,23
5,10,,23
6,10,,3e20
,10,,24
7,10,,4e20
8,10,,25
"""


def test_a_value_no_channel_can_hold_is_listed_by_its_line_whatever_stands_above_it(
    write: Write, way: str
) -> None:
    recording = read(write(FILE))
    wanted = [n for n, text in enumerate(FILE.split("\n"), 1) if "e20" in text]
    wanted[0] -= 1  # a record begins where its first line is
    assert told(recording) == ", ".join(map(str, wanted)) == "6, 11, 16, 18"
    assert any("wrong number of fields" in r and r.endswith("line 9") for r in recording.provenance.repairs)
    assert "1 row repeats the row before and was dropped: line 15" in recording.provenance.repairs
    assert "1 of 10 rows had no readable time and was left out: line 17" in recording.provenance.repairs


def test_doubled_line_ends_count_as_lines(write: Write, way: str) -> None:
    text = "time,itt (degC)\r\r\n" + "".join(f"{i},{'9e20' if i in (3, 40) else 20}\r\r\n" for i in range(50))
    assert told(read(write(text.encode()))) == "9, 83"


def test_ten_lines_are_listed_and_the_others_counted(write: Write, way: str) -> None:
    text = "time,itt (degC)\n" + "".join(f"{i},{'9e20' if i % 2 else 20}\n" for i in range(30))
    assert told(read(write(text))) == "3, 5, 7, 9, 11, 13, 15, 17, 19, 21 and 5 more"


def test_each_sample_knows_its_line_of_the_file(write: Write, way: str) -> None:
    """Title, blank lines, a cell of two lines, rows left out and dropped: the line is where a person finds the value."""
    recording = read(write(FILE.replace("e20", "")))
    lines, text = recording.lines, FILE.replace("e20", "").split("\n")
    assert lines is not None
    itt = recording.channels["itt"]
    found = [(lines.line_at(t), value) for t, value in zip(itt.time_s, itt.values, strict=True)]
    by_hand = [(5, 20), (6, 1), (8, 22), (11, 2), (14, 23), (16, 3), (18, 4), (19, 25)]
    assert found == by_hand
    assert all(text[line - 1 + (line == 6)].endswith(f",{value}") for line, value in by_hand)
    assert lines.line_at(float(itt.time_s[0]) + 0.25) is None
    assert pickle.loads(pickle.dumps(lines)).line_at(float(itt.time_s[-1])) == 19
