"""The examples and rules of RFC 4180 (October 2005), section 2, through both of the reader's parsers."""

from __future__ import annotations

from pathlib import Path

import pytest

from debrief.errors import UserError
from debrief.recording.csv import csv_arrow
from debrief.recording.csv.csv_tolerant import Layout, parse_tolerantly
from debrief.recording.csv.dialect import detect
from debrief.recording.csv.table import TextPiece
from debrief.recording.reader import read

VECTORS = {
    "rule 1: each record on a line of its own, ended by CRLF": (
        "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n",
        [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]],
    ),
    "rule 2: the last record may lack the line end": (
        "aaa,bbb,ccc\r\nzzz,yyy,xxx",
        [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]],
    ),
    "rule 4: spaces are part of a field": ("aaa, bbb ,ccc\r\n", [["aaa", " bbb ", "ccc"]]),
    "rule 5: fields may be quoted or not": (
        '"aaa","bbb","ccc"\r\nzzz,yyy,xxx',
        [["aaa", "bbb", "ccc"], ["zzz", "yyy", "xxx"]],
    ),
    "rule 6: a quoted field may hold line ends and commas": (
        '"aaa","b\r\nbb","ccc"\r\nzzz,yyy,xxx',
        [["aaa", "b\nbb", "ccc"], ["zzz", "yyy", "xxx"]],
    ),
    "rule 7: a quote within a field is doubled": ('"aaa","b""bb","ccc"\r\n', [["aaa", 'b"bb', "ccc"]]),
}


@pytest.mark.parametrize("rule", VECTORS)
def test_records_and_fields(rule: str) -> None:
    text, expected = VECTORS[rule]
    # Line ends are brought to one form before records are parsed; within a field it is the same line end.
    data = text.replace("\r\n", "\n").encode()
    layout = Layout(",", ".", 3, (False,) * 3, frozenset())
    for blocks in (
        [parse_tolerantly(data, 1, layout, "vector.csv", last=True)],
        csv_arrow.parse(data, 1, layout, "vector.csv", last=True),
    ):
        rows = []
        for block in blocks:
            columns = []
            for piece in block.pieces:
                assert isinstance(piece, TextPiece)
                columns.append(piece.texts)
            rows += [list(row) for row in zip(*columns, strict=True)]
            assert not block.bad_lines
        assert rows == expected


def test_rule_3_a_header_line_is_told_from_the_records() -> None:
    with_header = detect(b"time,ng,itt\r\n0,10,20\r\n1,11,21\r\n", "x.csv", head_is_all=True)
    without = detect(b"0,10,20\r\n1,11,21\r\n", "x.csv", head_is_all=True)
    assert with_header.names == ("time", "ng", "itt")
    assert without.header == ()


def test_a_recording_in_the_form_of_the_rfc_reads_whole(tmp_path: Path) -> None:
    path = tmp_path / "flight.csv"
    path.write_bytes(
        b'time,"note, with ""quotes""\r\nand a line",itt\r\n0,"a,b",20\r\n1,"c\r\nd",21\r\n2,,"22"'
    )
    recording = read(path)
    assert recording.channels["itt"].values.tolist() == [20.0, 21.0, 22.0]
    assert not recording.provenance.repairs


@pytest.mark.parametrize(("good", "broken", "line"), [('"a"', '"a', 2), (",b,", ',"b,', 3)])
def test_an_unbalanced_quote_is_refused_with_its_line(
    good: str, broken: str, line: int, tmp_path: Path
) -> None:
    path = tmp_path / "flight.csv"
    path.write_text('time,note,itt\n0,"a",20\n1,b,21\n2,c,22\n'.replace(good, broken))
    with pytest.raises(UserError, match=f"line {line}: a quotation mark"):
        read(path)
