"""The quick parser and the tolerant one give equal results, and blocks leave no seam."""

from __future__ import annotations

import csv
import io
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from debrief.errors import UserError
from debrief.recording.csv import csv_arrow, source, watched
from debrief.recording.csv.csv_tolerant import Layout, RecordCutter, parse_tolerantly
from debrief.recording.csv.table import Block, Column, Table, TextPiece
from debrief.recording.lexicon import load
from debrief.recording.model import Recording
from debrief.recording.reader import read

Write = Callable[..., Path]


def _table(blocks: list[Block], layout: Layout) -> Table:
    table = Table([Column(layout.decimal) for _ in range(layout.width)])
    for block in blocks:
        table.add(block)
    return table


def _both(data: bytes, layout: Layout, *, last: bool = True) -> tuple[Table, Table]:
    quick = _table(csv_arrow.parse(data, 5, layout, "x.csv", last=last), layout)
    slow = _table([parse_tolerantly(data, 5, layout, "x.csv", last=last)], layout)
    if last:
        try:
            blocks = csv_arrow.parse_at_once(b"a,b\n" + data, 4, 5, data.count(b"\n"), layout, "x.csv")
        except csv_arrow.Unfit:
            pass
        else:
            _assert_equal(_table(blocks, layout), slow)
    return quick, slow


def _assert_equal(quick: Table, slow: Table) -> None:
    assert quick.rows == slow.rows
    assert quick.bad_lines == slow.bad_lines
    assert quick.bad_count == slow.bad_count
    for name in ("cut_last", "comments", "headers", "recoded"):
        assert getattr(quick, name) == getattr(slow, name), name
    words = load().words_for(None)
    for one, other in zip(quick.columns, slow.columns, strict=True):
        a, b = one.numbers(words), other.numbers(words)
        assert np.array_equal(a.values, b.values, equal_nan=True)
        assert (a.infinite, a.rejected, a.suffixes) == (
            b.infinite,
            b.rejected,
            b.suffixes,
        )


def _outcome(parse: Callable[[], list[Block]], layout: Layout) -> Table | str:
    try:
        return _table(parse(), layout)
    except UserError as error:
        return str(error)


_CELLS = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True).map(repr),
    st.integers(-1000, 1000).map(str),
    st.sampled_from(
        ["", " ", "NaN", "nan", "N/A", "---", "inf", "-inf", "Infinity", "1e999", "ON", "off", "612 °C", "78 %", "+5",
         "+.5", "+-5", "+", "+x", " 7 ", "1.", ".5", "1,5", "1_000", "0x10", "12:30:00", "a b", "FAIL", "-0", "1e5", "1E-3", "--5", "5-"]
    ),
)  # fmt: skip


@settings(max_examples=300, deadline=None)
@given(
    rows=st.lists(st.lists(_CELLS, min_size=3, max_size=3), min_size=1, max_size=12),
    numeric=st.tuples(st.booleans(), st.booleans(), st.booleans()),
    end=st.booleans(),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
    delimiter=st.sampled_from([",", ";", "\t", "|"]),
    marks=st.booleans(),
)
def test_both_parsers_agree_on_any_cells(
    rows: list[list[str]],
    numeric: tuple[bool, bool, bool],
    end: bool,
    quoting: int,
    delimiter: str,
    marks: bool,
) -> None:
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter, quoting=quoting, lineterminator="\n").writerows(rows)  # type: ignore[arg-type]
    data = out.getvalue().encode()
    _assert_equal(*_both(data if end else data[:-1], Layout(delimiter, ".", 3, numeric, frozenset(), marks)))


@settings(max_examples=300, deadline=None)
@given(
    text=st.text(alphabet='0123456789.,;"\n +-#eE', max_size=80),
    numeric=st.booleans(),
    decimal=st.sampled_from([".", ","]),
)
def test_both_parsers_agree_on_any_text(text: str, numeric: bool, decimal: str) -> None:
    layout = Layout(";", decimal, 3, (numeric,) * 3, frozenset())
    data = text.encode()
    slow = _outcome(lambda: [parse_tolerantly(data, 5, layout, "x.csv", last=True)], layout)
    quick = _outcome(lambda: csv_arrow.parse(data, 5, layout, "x.csv", last=True), layout)
    if isinstance(slow, str) or isinstance(quick, str):
        assert quick == slow
    else:
        _assert_equal(quick, slow)


@settings(max_examples=300, deadline=None)
@given(
    rows=st.lists(
        st.lists(st.sampled_from(["+5", "+.5", "+1e+3", "-2", "7", "", "+6"]), min_size=3, max_size=3),
        min_size=1,
    ),
    text=st.booleans(),
)
def test_numbers_with_a_plus_sign_are_read_quickly_and_text_keeps_its_sign(
    rows: list[list[str]], text: bool
) -> None:
    layout = Layout(",", ".", 3, (not text, True, True), frozenset(), False)
    data = "".join(",".join(row) + "\n" for row in rows).encode()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(csv_arrow, "parse_tolerantly", None)
        quick = _table(csv_arrow.parse(data, 5, layout, "x.csv", last=True), layout)
    slow = _table([parse_tolerantly(data, 5, layout, "x.csv", last=True)], layout)
    _assert_equal(quick, slow)
    if text:
        assert quick.columns[0].texts() == [row[0] for row in rows]


@pytest.mark.parametrize(
    "body",
    [
        "1,2,3\n4,5\n6,7,8\n",
        "1,2,3\n4,5,6,7\n6,7,8\n",
        "1,2,3,\n4,5,6\n",
        "1,2,3\n\n\n4,5,6\n",
        "1,2,3\n   \n4,5,6\n",
        "# a\n1,2,3\n# b, c, d, e\n4,5,6\n",
        "1,2,3\nt,n,i\n4,5,6\n",
        "1,2,3\n4,5,6\n7,8",
        '1,"2\n2",3\n4,5,6\n',
        '1,"2 ""x""",3\n4,5,6\n',
        '1,2 "x",3\n4,5,6\n',
        "1,2,3\n4,\xff,6\n",
        "1,2,3\n4,\xff\n7,8,9\n",
        "1,2,3\n4 \xb0C,5,6\n7,\xe9,9\n",
        "",
        "\n",
        "1,2\n3,4\n",
        "1,2\n3,4\n1,2\n",
    ],
)
def test_both_parsers_agree_on_odd_rows(body: str) -> None:
    layout = Layout(",", ".", 3, (True,) * 3, frozenset({("t", "n", "i")}))
    _assert_equal(*_both(body.encode("latin-1"), layout))


@pytest.fixture
def tiny_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Make every file a large one that is read in blocks of 64 bytes."""
    monkeypatch.setattr(source, "HEAD_BYTES", 256)
    monkeypatch.setattr(source, "AT_ONCE_BYTES", 0)
    monkeypatch.setattr(source, "BLOCK_BYTES", 64)


def _equal(one: Recording, other: Recording) -> None:
    assert one.channels.keys() == other.channels.keys()
    assert one.unmapped.keys() == other.unmapped.keys()
    for name, channel in {**one.channels, **one.unmapped}.items():
        twin = {**other.channels, **other.unmapped}[name]
        assert channel.time_s.tolist() == twin.time_s.tolist()
        assert channel.values.tolist() == twin.values.tolist()
        assert channel.unit == twin.unit
    assert one.provenance == other.provenance
    assert one.quality == other.quality


def _lines(count: int) -> list[str]:
    rng = np.random.default_rng(3)
    out = []
    for i in range(count):
        itt = "" if i % 7 == 3 else f"{600 + rng.normal():.1f}"
        out.append(f"{i * 0.25:.2f},{60 + rng.normal():.2f},{itt},{'ON' if i > 40 else 'OFF'}")
    return out


SPOILED: dict[str, Callable[[list[str]], list[str]]] = {
    "clean": lambda lines: lines,
    "a short row in the last block": lambda lines: [*lines[:-3], "49.0,60", *lines[-2:]],
    "a short row in the first block": lambda lines: [lines[0], "0.1", *lines[1:]],
    "a word among numbers": lambda lines: [*lines[:100], "25.0,FAIL,601.0,ON", *lines[101:]],
    "units in some cells": lambda lines: [*lines[:100], "25.0,60 %,601 °C,ON", *lines[101:]],
    "an infinity": lambda lines: [*lines[:100], "25.0,inf,601.0,ON", *lines[101:]],
    "a quoted line break": lambda lines: [*lines[:100], '25.0,60.0,601.0,"O\nN"', *lines[101:]],
    "quoted numbers": lambda lines: [",".join(f'"{c}"' for c in line.split(",")) for line in lines],
    "a comment line": lambda lines: [*lines[:100], "# pause", *lines[100:]],
    "a repeated header": lambda lines: [*lines[:100], "time,ng,itt,starter", *lines[100:]],
    "blank lines": lambda lines: [*lines[:100], "", "", *lines[100:]],
    "a last line cut short": lambda lines: [*lines, "50.0,6"],
    "trailing delimiters in some rows": lambda lines: [*lines[:100], *(line + "," for line in lines[100:])],
    "a stray quotation mark": lambda lines: [*lines[:100], '25.0,60.0,601.0,6" pipe', *lines[101:]],
    "two stray quotation marks": lambda lines: [*lines[:50], '12.5,60.0,601.0,6" a', *lines[51:100], '25.0,60.0,601.0,6" b', *lines[101:]],
}  # fmt: skip


@pytest.mark.parametrize("name", SPOILED)
@pytest.mark.parametrize("end", ["\n", "\r\n"])
def test_a_file_read_in_blocks_reads_like_one_read_at_once(
    name: str, end: str, write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = end.join(["time,ng,itt,starter", *SPOILED[name](_lines(200))]) + ("" if "cut" in name else end)
    path = write(text)
    whole = read(path)
    monkeypatch.setattr(source, "HEAD_BYTES", 512)
    for size in (64, 100, 1000):
        monkeypatch.setattr(source, "BLOCK_BYTES", size)
        for at_once in (0, 1_000_000):
            monkeypatch.setattr(source, "AT_ONCE_BYTES", at_once)
            _equal(whole, read(path))


@pytest.mark.parametrize("name", SPOILED)
def test_what_breaks_no_row_is_parsed_at_once(
    name: str, write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = "\n".join(["time,ng,itt,starter", *SPOILED[name](_lines(200))]) + ("" if "cut" in name else "\n")
    monkeypatch.setattr(source, "HEAD_BYTES", 512)
    parsed: list[bool] = []
    parse = csv_arrow.parse_at_once

    def told(*args: Any) -> list[Block]:
        parsed.append(False)
        blocks = parse(*args)
        parsed[-1] = True
        return blocks

    monkeypatch.setattr(csv_arrow, "parse_at_once", told)
    read(write(text))
    whole = ("clean", "quoted numbers", "an infinity", "a last line cut short")
    assert parsed == [name in whole or "stray" in name]


@pytest.mark.usefixtures("tiny_blocks")
def test_a_quoted_field_across_blocks_is_one_field(write: Write) -> None:
    note = "x" * 50 + "\n" + "y" * 80
    lines = [f'{i},{10 + i},"{note if i == 25 else "foo"}",{20 + i}' for i in range(50)]
    recording = read(write("time,ng,note,itt\n" + "\n".join(lines) + "\n"))
    assert recording.channels["itt"].values.tolist() == [20.0 + i for i in range(50)]
    assert not recording.provenance.repairs


@pytest.mark.usefixtures("tiny_blocks")
@pytest.mark.parametrize("encoding", ["utf-16", "utf-8-sig", "latin-1"])
def test_encodings_in_blocks(encoding: str, write: Write) -> None:
    lines = [f"{i},{10 + i},{20 + i},°" for i in range(80)]
    recording = read(write("time,ng,itt (°C),é\n" + "\n".join(lines) + "\n", encoding=encoding))
    assert recording.channels["itt"].values.tolist() == [20.0 + i for i in range(80)]
    assert recording.channels["itt"].column == "itt (°C)"


def test_the_cutter_loses_and_doubles_nothing() -> None:
    text = b'a,"b\nc",d\r\ne,f,g\r\n"h\r\n",i,j\nk,l,m'
    for size in range(1, len(text) + 1):
        cutter = RecordCutter("x.csv", ",")
        raws = [text[i : i + size] for i in range(0, len(text), size)]
        got = b"".join(
            data for k, raw in enumerate(raws) for data, _, _ in cutter.cut(raw, last=k == len(raws) - 1)
        )
        assert got == text.replace(b"\r\n", b"\n")


def test_inch_marks_in_a_large_file_are_plain_characters(
    write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(source, "HEAD_BYTES", 1000)
    monkeypatch.setattr(source, "BLOCK_BYTES", 4000)
    monkeypatch.setattr(RecordCutter, "MAX_OPEN_BYTES", 3000)
    lines = [f"{i},{10 + i % 5},{20 + i % 7},none" for i in range(5000)]
    lines[2000] = '2000,10,20,6" pipe'
    lines[3000] = '3000,10,20,"a ""b"",\nc"'
    recording = read(write("time,ng,itt,note\n" + "\n".join(lines) + "\n"))
    assert recording.channels["ng"].time_s.size == 5000
    assert not [r for r in recording.provenance.repairs if "lines" in r]


def test_reading_a_large_file_does_not_import_pandas(write: Write) -> None:
    lines = [f"{i},{10 + i % 5},,{'ON' if i % 2 else 'OFF'}" for i in range(30_000)]
    path = write("time,ng,itt,starter\n" + "\n".join(lines) + "\n")
    code = (
        "import sys; from debrief.recording.reader import read; "
        f"read({str(path)!r}); print('pyarrow' in sys.modules, 'pandas' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "True False"


def test_an_open_quote_far_down_a_large_file_is_refused(
    write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(source, "HEAD_BYTES", 1000)
    lines = [f"{i},{10 + i % 5},{20 + i % 7}" for i in range(5000)]
    lines[3000] = '3000,"10,20'
    with pytest.raises(UserError, match=r"line 3002: a quotation mark"):
        read(write("time,ng,itt\n" + "\n".join(lines) + "\n"))


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_round_trip_through_blocks_of_any_size(
    data: st.DataObject, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    values = data.draw(st.lists(st.floats(-1e6, 1e6), min_size=20, max_size=60))
    monkeypatch.setattr(source, "HEAD_BYTES", data.draw(st.integers(120, 400)))
    monkeypatch.setattr(source, "BLOCK_BYTES", data.draw(st.integers(1, 300)))
    monkeypatch.setattr(source, "AT_ONCE_BYTES", data.draw(st.sampled_from([0, 1_000_000])))
    path = tmp_path / "flight.csv"
    path.write_text("time,fuel flow (kg/h)\n" + "".join(f"{i},{v!r}\n" for i, v in enumerate(values)))
    assert read(path).channels["fuel_flow"].values.tolist() == values


def test_a_header_that_is_repeated_all_along_does_not_make_numbers_texts(
    write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    header = "time,ng,itt (degC)\n"
    path = write(header + "".join(f"{i},50,{600 + i % 9}\n{header}" for i in range(2000)))
    made: list[object] = []
    plain = Table.add
    monkeypatch.setattr(Table, "add", lambda self, block: (made.extend(block.pieces), plain(self, block))[1])
    assert read(path).channels["itt"].values.size == 2000
    assert not any(isinstance(piece, TextPiece) for piece in made)


def test_a_file_that_cannot_be_read_any_more_is_told_so(
    write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(source, "HEAD_BYTES", 512)
    path = write("time,ng,itt,starter\n" + "\n".join(_lines(200)) + "\n")

    def broken(*_: object) -> bytes:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr(watched.os, "read", broken)
    with pytest.raises(UserError, match=r"^flight.csv cannot be read: input/output error\.$"):
        read(path)
