"""Cutting a file into blocks of whole records, and parsing them whatever they hold."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.errors import UserError
from debrief.recording.csv.cells import is_plain_number, read_cell
from debrief.recording.csv.head import (
    END_MARK,
    MAX_LINE_BYTES,
    MAX_LINES_IN_FIELD,
    csv_error,
    never_closed,
    too_long,
)
from debrief.recording.csv.line_index import breaks_of_lines
from debrief.recording.csv.source import decoded
from debrief.recording.csv.table import Block, Piece, TextPiece
from debrief.recording.model import FloatArray

COUNTED_BYTES = 64 * 1024


@dataclass(frozen=True)
class Layout:
    """What a block parser must know of the dialect."""

    delimiter: str
    decimal: str
    width: int
    numeric: tuple[bool, ...]
    header_rows: frozenset[tuple[str, ...]]
    marks: bool = True
    """Whether missing values are likely to be written as something else than nothing or NaN."""


class RecordCutter:
    """Cuts raw blocks at ends of records, so that each can be parsed by itself.

    A line break inside quotation marks does not end a record. As for the csv module, a mark opens a field
    only at the field's beginning; elsewhere, as in ``6" pipe``, it is a plain character.

    Parameters
    ----------
    name : str
        File name, for messages.
    delimiter : str
    """

    def __init__(self, name: str, delimiter: str) -> None:
        self._name = name
        self._delimiter = delimiter.encode()
        self._left = b""
        self._line = 1

    MAX_OPEN_BYTES = 1024 * 1024

    def cut(self, raw: bytes, *, last: bool) -> Iterator[tuple[bytes, int, int]]:
        """Yield ``(records, first line, line feeds)``; what is left waits for the next raw block."""
        held = b""
        if b"\r" in raw or self._left.endswith(b"\r"):
            raw, self._left = self._left + raw, b""
            if not last and raw.endswith(b"\r"):
                raw, held = raw[:-1], b"\r"
            raw = raw.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        if last:
            data = self._left + raw
            if data:
                yield self._counted(data)
            return
        if b'"' in raw or b'"' in self._left:
            raw, self._left = self._left + raw, b""
            end = self._end(raw)
        else:
            end = raw.rfind(b"\n") + 1
        if end <= 0:
            self._left += raw + held
        else:
            yield self._counted(b"".join([self._left, memoryview(raw)[:end]]))
            self._left = raw[end:] + held
        if len(self._left) > MAX_LINE_BYTES:
            self._check_left()

    def _check_left(self) -> None:
        """Refuse a record that does not end, so that it is never held whole."""
        left = self._left
        self._check_lines(left, self._line)
        if len(left) > self.MAX_OPEN_BYTES:
            raise self._never_closed(left)

    def _check_lines(self, data: bytes, line: int) -> None:
        begin = long_line(data, MAX_LINE_BYTES)
        if begin is not None:
            raise too_long(self._name, line + data.count(b"\n", 0, begin))

    def _counted(self, data: bytes) -> tuple[bytes, int, int]:
        first, count = self._line, _line_ends(data)
        self._check_lines(data, first)
        self._line += count
        return data, first, count

    def _end(self, data: bytes) -> int:
        """Return where the last record of data with quotation marks ends."""
        array = np.frombuffer(data, dtype=np.uint8)
        marks = np.flatnonzero(array == 34)
        opening = marks[::2]
        before = array[np.maximum(opening - 1, 0)]
        proper = np.all((opening == 0) | (before == self._delimiter[0]) | (before == 10) | (before == 34))
        final = data.rfind(b"\n")
        if proper and marks.size % 2 == 0 and final > marks[-1]:
            return final + 1
        ends = np.flatnonzero(array == 10)
        if proper:
            inside = np.searchsorted(marks, ends) & 1
        else:
            begins, closes = self._quoted(data, marks.tolist())
            inside = np.searchsorted(begins, ends) - np.searchsorted(closes, ends)
        outside = np.flatnonzero(inside == 0)
        return int(ends[outside[-1]]) + 1 if outside.size else 0

    def _quoted(self, data: bytes, marks: list[int]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Return where quoted fields begin and end, taking the marks one by one."""
        begins: list[int] = []
        closes: list[int] = []
        skip = -1
        for mark in marks:
            if mark == skip:
                continue
            if len(begins) == len(closes):
                if mark == 0 or data[mark - 1 : mark] in (self._delimiter, b"\n"):
                    begins.append(mark)
            elif data[mark + 1 : mark + 2] == b'"':
                skip = mark + 1
            else:
                closes.append(mark)
        return np.array(begins, dtype=np.int64), np.array(closes, dtype=np.int64)

    def _never_closed(self, data: bytes) -> UserError:
        return never_closed(self._name, self._line + data[: max(data.find(b'"'), 0)].count(b"\n"))


def long_line(data: bytes, limit: int, begin: int = 0) -> int | None:
    """Return where a line of more than `limit` bytes begins; None without one. Looks at one place per limit only."""
    at = begin
    while len(data) - at > limit:
        end = data.rfind(b"\n", at, at + limit + 1)
        if end < 0:
            return at
        at = end + 1
    return None


def _line_ends(data: bytes) -> int:
    """Return the number of line feeds: as `bytes.count`, but several times as quick where lines are short."""
    array = np.frombuffer(data, dtype=np.uint8)
    # In parts that stay in the processor's cache, with what the comparison makes of them.
    parts = range(0, array.size, COUNTED_BYTES)
    return sum(int(np.count_nonzero(array[at : at + COUNTED_BYTES] == 10)) for at in parts)


def parse_tolerantly(data: bytes, first_line: int, layout: Layout, name: str, *, last: bool) -> Block:
    """Parse whole records with the csv module; whatever the cells hold, nothing stops it.

    Raises
    ------
    UserError
        A quotation mark that is never closed, or a field beyond the csv module's limit.
    """
    text, recoded = decoded(data)
    width = layout.width
    rows: list[list[str]] = []
    lines: list[int] = []
    bad: list[int] = []
    headers = comments = 0
    reader = csv.reader(_lines(text), delimiter=layout.delimiter)
    before = 0
    ended = False
    line = first_line
    try:
        for fields in reader:
            line, after = first_line + before, first_line + reader.line_num - 1
            before = reader.line_num
            if len(fields) == 1 and fields[0] == END_MARK:
                ended = True
                break
            if after - line > MAX_LINES_IN_FIELD:
                raise never_closed(name, line)
            if len(fields) == width + 1 and not fields[-1].strip():
                fields = fields[:width]
            if len(fields) == width and not fields[-1].endswith(END_MARK):
                if layout.header_rows and tuple(fields) in layout.header_rows:
                    headers += 1
                elif width > 1 or fields[0].strip():
                    rows.append(fields)
                    lines.append(line)
            elif not fields or (len(fields) == 1 and not fields[0].strip()):
                continue
            elif fields[0].lstrip().startswith("#"):
                comments += 1
            else:
                bad.extend(range(line, after + 1))
    except csv.Error as error:
        raise csv_error(name, first_line + before, error) from None
    cut_last = False
    if last and not text.endswith("\n"):
        final = first_line + text.count("\n")
        if not ended:
            if line < final:
                raise never_closed(name, line)
            bad = [*(number for number in bad if number < final), final]
        cut_last = bool(bad) and bad[-1] == final
    elif not ended:
        raise never_closed(name, line)
    pieces = [_piece([row[i] for row in rows], layout, i) for i in range(width)]
    breaks = breaks_of_lines(np.array(lines, dtype=np.int64))
    return Block(pieces, len(rows), breaks, bad, cut_last, headers, comments, recoded)


def _lines(text: str) -> Iterator[str]:
    """Yield the lines, then a mark that stands alone unless an open quotation mark swallows it."""
    yield from io.StringIO(text, newline="\n")
    yield END_MARK


def _piece(cells: list[str], layout: Layout, column: int) -> Piece:
    if layout.numeric[column]:
        values = _floats(cells, layout.decimal)
        if values is not None:
            return values
    return TextPiece.of(cells)


def _floats(cells: list[str], decimal: str) -> FloatArray | None:
    """Return the cells as floats where each is a bare number or missing, else None."""
    out = np.empty(len(cells))
    for index, cell in enumerate(cells):
        if decimal == "." and "_" not in cell:
            try:
                out[index] = float(cell)
                continue
            except ValueError:
                pass
        if is_plain_number(cell, decimal):
            out[index] = float(cell.strip().replace(",", "."))
        else:
            found = read_cell(cell, decimal)
            if found.kind == "infinite":
                out[index] = np.inf
            elif found.kind == "missing":
                out[index] = np.nan
            else:
                return None
    return out
