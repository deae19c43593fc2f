"""Parsing blocks of records with pyarrow; the result is that of `table.parse_tolerantly`, only sooner.

A block that pyarrow cannot take as it stands is cut into smaller ones, of which those that fail again are
read with the columns at fault as text, or handed to the tolerant parser. So one bad cell costs little.
"""

from __future__ import annotations

import csv
import re
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np

from debrief.recording.csv.cells import MISSING_MARKS
from debrief.recording.csv.csv_tolerant import Layout, long_line, parse_tolerantly
from debrief.recording.csv.line_index import breaks_of
from debrief.recording.csv.source import decoded
from debrief.recording.csv.table import Block, Piece, TextPiece
from debrief.recording.model import FloatArray

MAX_BAD_ROWS = 500
MAX_TEXT_COLUMNS = 6
PART_BYTES = 1024 * 1024
HEAD_LOOKED_AT = 64 * 1024
_COLUMN = re.compile(r"column #(\d+)")


LARGE_PAGE_BYTES = 2 * 1024 * 1024
MAX_AT_ONCE_BLOCKS = 8


class Unfit(Exception):
    """Raised where a block cannot be parsed as it was tried."""


PLAIN_NULLS = ["", "NaN", "nan"]


@cache
def null_values() -> list[str]:
    """Return the missing marks as pyarrow compares them: exactly, so in the usual ways of writing each."""
    out: list[str] = []
    for mark in sorted(MISSING_MARKS):
        out += [mark, mark.upper(), mark.capitalize(), mark.title()]
    return list(dict.fromkeys([*out, "NaN", "NaT", " ", "  "]))


def parse(
    data: bytes, first_line: int, layout: Layout, name: str, *, last: bool, line_ends: int | None = None
) -> list[Block]:
    """Return whole records parsed, as one block or several; see `records.parse_tolerantly` for the other arguments.

    Parameters
    ----------
    line_ends : int, optional
        Line feeds in the data, where they were counted already.

    Raises
    ------
    UserError
        As `records.parse_tolerantly`.
    """
    if not data.isascii():
        # pyarrow calls back with rows as text and cannot with bytes that are none.
        text, recoded = decoded(data)
        if recoded:
            blocks = parse(text.encode(), first_line, layout, name, last=last)
            blocks[0].recoded += recoded
            return blocks
    if layout.width < 2 or (last and not data.endswith(b"\n")):
        # A last line without an end may be cut short, which the tolerant parser knows to tell.
        at = data.rfind(b"\n") + 1
        if layout.width < 2 or at == 0 or b'"' in data[at:]:
            return [parse_tolerantly(data, first_line, layout, name, last=last)]
        line = first_line + data.count(b"\n", 0, at)
        return [
            *parse(data[:at], first_line, layout, name, last=False, line_ends=line_ends),
            parse_tolerantly(data[at:], line, layout, name, last=True),
        ]
    if b"\0" in data or _has_header(data, layout) or long_line(data, csv.field_size_limit()) is not None:
        return [parse_tolerantly(data, first_line, layout, name, last=last)]
    # Every cell is compared with every null value, so few of them read a tenth faster, where they suffice.
    for nulls in (null_values(),) if layout.marks else (PLAIN_NULLS, null_values()):
        try:
            return [_parse_whole(data, first_line, layout, 0, nulls, line_ends)]
        except Unfit:
            pass
    if layout.delimiter.encode() + b"+" in data and b'"' not in data:
        try:
            return [_parse_signed(data, first_line, layout)]
        except Unfit:
            pass
    parts = list(_parts(data))
    blocks, line = [], first_line
    for index, part in enumerate(parts):
        final = last and index == len(parts) - 1
        try:
            block = _parse_whole(part, line, layout, MAX_TEXT_COLUMNS, null_values())
        except Unfit:
            block = parse_tolerantly(part, line, layout, name, last=final)
        blocks.append(block)
        line += part.count(b"\n")
    return blocks


def give_back() -> None:
    """Return to the system what pyarrow keeps for a next file; without this it stays while the recording is open."""
    if "pyarrow" in sys.modules:
        import pyarrow as pa

        pa.default_memory_pool().release_unused()


def _parse_signed(data: bytes, first_line: int, layout: Layout) -> Block:
    """Return a block whose numbers may have a plus sign, which pyarrow refuses; text keeps it."""
    delimiter = layout.delimiter.encode()
    if re.search(b"(?:^|\n|" + re.escape(delimiter) + rb")\+(?![0-9.])", data):
        raise Unfit  # such as "+-5" or "+" alone, which is no number
    plain = data.replace(delimiter + b"+", delimiter).replace(b"\n+", b"\n").removeprefix(b"+")
    block = _parse_whole(plain, first_line, layout, 0, null_values())
    if not all(layout.numeric):
        told = _parse_whole(data, first_line, replace(layout, numeric=(False,) * layout.width), 0, [])
        pairs = zip(block.pieces, told.pieces, layout.numeric, strict=True)
        block.pieces = [number if numeric else text for number, text, numeric in pairs]
    return block


def has_marks(head: bytes, delimiter: str) -> bool:
    """Whether the head of a file holds a cell that is a missing mark other than nothing or NaN; costs little."""
    cells = set(head[:HEAD_LOOKED_AT].replace(b"\n", delimiter.encode()).split(delimiter.encode()))
    return not cells.isdisjoint(mark.encode() for mark in null_values() if mark not in PLAIN_NULLS)


def _has_header(data: bytes, layout: Layout, begin: int = 0) -> bool:
    return any(data.find(layout.delimiter.join(row).encode(), begin) >= 0 for row in layout.header_rows)


def _parts(data: bytes) -> Iterator[bytes]:
    """Yield smaller blocks of whole records; a text with quotation marks stays in one piece."""
    if b'"' in data or len(data) <= PART_BYTES:
        yield data
        return
    at = 0
    while at < len(data):
        end = data.rfind(b"\n", at, at + PART_BYTES) + 1 if at + PART_BYTES < len(data) else len(data)
        if end <= at:
            end = data.find(b"\n", at) + 1 or len(data)
        yield data[at:end]
        at = end


def parse_at_once(
    data: bytes, begin: int, first_line: int, line_ends: int, layout: Layout, name: str
) -> list[Block]:
    """Return the records of a whole file as pyarrow's own threads parse them, if nothing in it is odd.

    Parameters
    ----------
    data : bytes
        The file.
    begin, first_line : int
        Where the records begin in it, and on which line.
    line_ends : int
        Line feeds from there on.
    layout, name
        As for `parse`.

    Raises
    ------
    Unfit
        Something is odd; `parse` tells what.
    """
    end = data.rfind(b"\n") + 1
    tail = data[end:]  # perhaps cut short, which the tolerant parser knows to tell
    is_quoted = data.find(b'"', begin) >= 0
    odd = end <= begin or b'"' in tail or data.find(b"\0", begin) >= 0
    is_long = long_line(data, csv.field_size_limit(), begin) is not None
    if layout.width < 2 or odd or is_long or _has_header(data, layout, begin):
        raise Unfit
    for nulls in (null_values(),) if layout.marks else (PLAIN_NULLS, null_values()):
        try:
            block = _parse_at_once(
                memoryview(data)[begin:end], first_line, line_ends, layout, nulls, is_quoted
            )
        except Unfit:
            continue
        last = [parse_tolerantly(tail, first_line + line_ends, layout, name, last=True)] if tail else []
        return [block, *last]
    raise Unfit


def _parse_at_once(
    data: memoryview, first_line: int, line_ends: int, layout: Layout, nulls: list[str], is_quoted: bool
) -> Block:
    import pyarrow as pa
    from pyarrow import csv as arrow_csv

    names = [str(column) for column in range(layout.width)]
    # One block for each processor: more would cost more to put together.
    count = min(max(pa.cpu_count(), 2), MAX_AT_ONCE_BLOCKS)
    try:
        table = arrow_csv.read_csv(
            pa.BufferReader(pa.py_buffer(data)),
            read_options=arrow_csv.ReadOptions(
                column_names=names, block_size=max(len(data) // count + 1, HEAD_LOOKED_AT)
            ),
            parse_options=arrow_csv.ParseOptions(delimiter=layout.delimiter, newlines_in_values=is_quoted),
            convert_options=_conversion(names, layout.numeric, layout.decimal, nulls),
        )
    except pa.ArrowInvalid:
        raise Unfit from None
    if table.num_rows != line_ends:
        raise Unfit  # blank lines or line breaks in cells: where each row stands takes a closer look
    rooms = iter(_room(sum(layout.numeric), line_ends))
    pieces: list[Piece] = []
    for column, is_number in zip(table.columns, layout.numeric, strict=True):
        if is_number:
            piece, at = next(rooms), 0
            for chunk in column.chunks:
                piece[at : at + len(chunk)] = _floats(chunk)
                at += len(chunk)
            pieces.append(piece)
        else:
            pieces.append(_text(column.unify_dictionaries().chunks))
    breaks = np.zeros(1, dtype=np.int64), np.full(1, first_line, dtype=np.int64)
    return Block(pieces, line_ends, breaks)


def _room(columns: int, rows: int) -> FloatArray:
    """Return an array (columns, rows) that begins where a large page of the system may.

    So the system hands it out in a few large pages; a thousand small ones would take longer than to fill them.
    """
    count = 8 * columns * rows
    raw = np.empty(count + 2 * LARGE_PAGE_BYTES, dtype=np.uint8)  # what is never touched costs nothing
    begin = -raw.ctypes.data % LARGE_PAGE_BYTES
    return raw[begin : begin + count].view(np.float64).reshape(columns, rows)


def _conversion(names: list[str], numeric: Sequence[bool], decimal: str, nulls: list[str]) -> Any:
    """Return pyarrow's options for columns of numbers and of text."""
    import pyarrow as pa
    from pyarrow import csv as arrow_csv

    text = pa.dictionary(pa.int32(), pa.string())
    return arrow_csv.ConvertOptions(
        column_types={
            name: pa.float64() if number else text for name, number in zip(names, numeric, strict=True)
        },
        null_values=nulls,
        strings_can_be_null=False,
        decimal_point=decimal,
        check_utf8=True,
    )


def _parse_whole(
    data: bytes,
    first_line: int,
    layout: Layout,
    text_columns: int,
    nulls: list[str],
    line_ends: int | None = None,
) -> Block:
    """Return the block by pyarrow, with up to so many further columns as text; raise `Unfit` otherwise."""
    import pyarrow as pa
    from pyarrow import csv as arrow_csv

    names = [str(column) for column in range(layout.width)]
    numeric = list(layout.numeric)
    odd: list[tuple[int, str]] = []

    def on_invalid(row: Any) -> str:
        odd.append((row.actual_columns, row.text))
        return "skip" if len(odd) <= MAX_BAD_ROWS else "error"

    parse_options = arrow_csv.ParseOptions(
        delimiter=layout.delimiter, newlines_in_values=b'"' in data, invalid_row_handler=on_invalid
    )
    read_options = arrow_csv.ReadOptions(column_names=names, use_threads=False, block_size=len(data) + 16)
    for _ in range(text_columns + 1):
        odd.clear()
        try:
            table = arrow_csv.read_csv(
                pa.BufferReader(data),
                read_options=read_options,
                parse_options=parse_options,
                convert_options=_conversion(names, numeric, layout.decimal, nulls),
            )
            break
        except pa.ArrowInvalid as error:
            found = _COLUMN.search(str(error))
            column = int(found.group(1)) if found else -1
            if not 0 <= column < layout.width or not numeric[column]:
                raise Unfit from None
            numeric[column] = False
    else:
        raise Unfit
    bad, comments = _odd_rows(data, first_line, odd, layout)
    pieces: list[Piece] = []
    for column in range(layout.width):
        chunks = table.column(column).chunks
        chunk = chunks[0] if len(chunks) == 1 else table.column(column).combine_chunks()
        pieces.append(_floats(chunk) if numeric[column] else _text([chunk]))
    try:
        breaks = breaks_of(data, first_line, table.num_rows, bad, layout.delimiter, layout.width, line_ends)
    except csv.Error:
        raise Unfit from None  # a cell of many short lines that is too long: the tolerant parser tells which
    return Block(pieces, table.num_rows, breaks, bad, False, 0, comments)


def _text(chunks: list[Any]) -> TextPiece:
    """Return chunks of pyarrow's with one and the same dictionary as a piece."""
    codes = [np.frombuffer(c.indices.buffers()[1], np.int32, len(c), 4 * c.indices.offset) for c in chunks]
    return TextPiece(chunks[0].dictionary.to_pylist(), codes[0] if len(codes) == 1 else np.concatenate(codes))


def _floats(chunk: Any) -> FloatArray:
    """Return a float64 array of pyarrow's as one of numpy's, NaN where it has none.

    Its own conversion would import pandas, which takes longer than reading most recordings.
    """
    valid, data = chunk.buffers()
    values = np.frombuffer(data, dtype=np.float64, count=len(chunk), offset=8 * chunk.offset)
    if not chunk.null_count:
        return values
    bits = np.unpackbits(
        np.frombuffer(valid, dtype=np.uint8), count=chunk.offset + len(chunk), bitorder="little"
    )
    return np.where(bits[chunk.offset :].astype(bool), values, np.nan)


def _is_whole_line(data: bytes, begin: int, end: int) -> bool:
    return (begin == 0 or data[begin - 1] == 10) and (end == len(data) or data[end] == 10)


def _odd_rows(
    data: bytes, first_line: int, odd: list[tuple[int, str]], layout: Layout
) -> tuple[list[int], int]:
    """Return the lines of the rows with the wrong number of fields, and how many of them were comments."""
    bad: list[int] = []
    comments = 0
    at, line = 0, first_line
    for count, text in odd:
        if count == layout.width + 1 and text.rstrip().endswith(layout.delimiter):
            raise Unfit  # a trailing delimiter in some rows only: the row is good
        raw = text.encode()
        if not raw.strip():
            continue
        if b'"' in raw or b"\n" in raw:
            raise Unfit
        if raw.lstrip().startswith(b"#"):
            comments += 1
            continue
        found = data.find(raw, at)
        while found >= 0 and not _is_whole_line(data, found, found + len(raw)):
            found = data.find(raw, found + 1)
        if found < 0:
            raise Unfit
        line += data.count(b"\n", at, found)
        at = found + len(raw)
        bad.append(line)
    return bad, comments
