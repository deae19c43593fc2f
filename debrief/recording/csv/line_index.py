"""On which line of the file each row stands; found only as far as it is not simply the next line."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from debrief.recording.csv.source import decoded

MAX_LISTED_LINES = 10

Ints = NDArray[np.int64]
Breaks = tuple[Ints, Ints]
"""Rows, from 0, and their lines, from 1, where the lines do not simply go on; the rows between them do."""


def breaks_of_lines(lines: Ints) -> Breaks:
    """Return the breaks of rows that stand on these lines."""
    rows = np.flatnonzero(np.diff(lines, prepend=-1) != 1).astype(np.int64)
    return rows, lines[rows]


def breaks_of(
    data: bytes,
    first_line: int,
    rows: int,
    bad: Sequence[int],
    delimiter: str,
    width: int,
    line_ends: int | None = None,
) -> Breaks:
    """Return the breaks of a block whose rows were parsed without counting lines.

    Parameters
    ----------
    data : bytes
        Whole records.
    first_line : int
        Line of the first, from 1.
    rows : int
        How many rows were found.
    bad : sequence of int
        Lines of the records with the wrong number of fields, each one line long.
    delimiter, width : str, int
        Of the file.
    line_ends : int, optional
        Line feeds in the data, where they were counted already.

    Notes
    -----
    Nearly always every line is a row or bad, which a count of the line ends shows. Blank lines are found
    without parsing; only where that does not explain it, as with line breaks inside quotation marks, the csv
    module goes through the block once more.
    """
    array = np.frombuffer(data, dtype=np.uint8)
    open_end = int(bool(data) and not data.endswith(b"\n"))
    count = (int(np.count_nonzero(array == 10)) if line_ends is None else line_ends) + open_end
    if count == rows + len(bad):
        if not bad:
            return np.zeros(1, dtype=np.int64), np.full(1, first_line, dtype=np.int64)
        return breaks_of_lines(_without(np.arange(first_line, first_line + count), bad))
    ends = np.flatnonzero(array == 10)
    ends = np.append(ends, array.size) if open_end else ends
    filled = np.flatnonzero(np.diff(ends, prepend=-1) > 1).astype(np.int64) + first_line
    if filled.size == rows + len(bad):
        return breaks_of_lines(_without(filled, bad))
    return breaks_of_lines(np.fromiter(_row_lines(data, first_line, delimiter, width), dtype=np.int64))


def _without(lines: Ints, bad: Sequence[int]) -> Ints:
    return lines[~np.isin(lines, np.array(bad, dtype=np.int64))] if bad else lines


def _row_lines(data: bytes, first_line: int, delimiter: str, width: int) -> Iterator[int]:
    """Yield the line of each record that has the right number of fields, as the csv module reads it."""
    text, _ = decoded(data)
    reader = csv.reader(io.StringIO(text, newline="\n"), delimiter=delimiter)
    before = 0
    for fields in reader:
        line, before = first_line + before, reader.line_num
        if len(fields) == width + 1 and not fields[-1].strip():
            fields = fields[:width]
        if len(fields) == width and (width > 1 or fields[0].strip()):
            yield line


class LineBook:
    """Finds the line of the file on which a row of the whole table stands."""

    def __init__(self) -> None:
        self._rows: list[Ints] = []
        self._lines: list[Ints] = []
        self._kept: Ints | None = None

    def add(self, first_row: int, breaks: Breaks) -> None:
        """Take the breaks of the block that begins at a row."""
        self._rows.append(breaks[0] + first_row)
        self._lines.append(breaks[1])

    def keep(self, mask: NDArray[np.bool_]) -> None:
        """Keep only the rows where the mask holds; from then on rows are counted among those."""
        kept = np.flatnonzero(mask).astype(np.int64)
        self._kept = kept if self._kept is None else self._kept[kept]

    def breaks(self) -> Breaks:
        """Return the breaks of the rows that were kept."""
        starts, lines = np.concatenate(self._rows), np.concatenate(self._lines)
        if self._kept is None:
            return starts, lines
        at = np.searchsorted(starts, self._kept, side="right") - 1
        return breaks_of_lines(lines[at] + self._kept - starts[at])

    def told(self, rows: NDArray[np.int64]) -> str:
        """Return the lines of rows for a sentence, as ``line 3, 5 and 7 more``."""
        listed = ", ".join(map(str, self.lines_of(rows[:MAX_LISTED_LINES])))
        more = f" and {rows.size - MAX_LISTED_LINES} more" if rows.size > MAX_LISTED_LINES else ""
        return f"line {listed}{more}"

    def lines_of(self, rows: NDArray[np.int64]) -> list[int]:
        """Return the line, from 1, of each row, from 0."""
        original = np.asarray(rows) if self._kept is None else self._kept[rows]
        starts, lines = np.concatenate(self._rows), np.concatenate(self._lines)
        at = np.searchsorted(starts, original, side="right") - 1
        return [int(line) for line in lines[at] + original - starts[at]]
