"""Where samples stand in their file, in words: the rows, as an editor counts them."""

from __future__ import annotations

from collections.abc import Sequence

from debrief.recording.file_lines import FileLines

_FEWEST_EVEN = 3
"""Fewer rows at one distance are named each."""


def file_rows(lines: FileLines | None, times_s: Sequence[float]) -> tuple[int, ...]:
    """Return the row of the file of each sample; nothing where one came from no row, as where channels were joined."""
    found = [None if lines is None else lines.line_at(time_s) for time_s in times_s]
    known = tuple(row for row in found if row is not None)
    return known if len(known) == len(found) else ()


def rows_words(rows: Sequence[int]) -> str:
    """Return rows in words.

    Examples
    --------
    >>> rows_words([168, 169, 170]), rows_words([12, 16, 20]), rows_words([7]), rows_words([7, 9])
    ('rows 168 to 170', 'rows 12 to 20, each 4th', 'row 7', 'rows 7, 9')
    """
    if not rows:
        return ""
    if len(rows) == 1:
        return f"row {rows[0]}"
    step = rows[1] - rows[0]
    if list(rows) == list(range(rows[0], rows[-1] + 1, max(step, 1))) and len(rows) >= _FEWEST_EVEN:
        each = "" if step == 1 else f", each {step}{_ordinal(step)}"
        return f"rows {rows[0]} to {rows[-1]}{each}"
    return f"rows {', '.join(map(str, rows))}"


def _ordinal(number: int) -> str:
    return "th" if 10 < number % 100 < 14 else {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th")
