"""What lies in a table or an export that is there already, read line by line: whether it is as written, and what it holds.

Everything stricter than a foreign program would write is on purpose: what is in doubt is not replaced.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

from debrief.errors import UserError

LONGEST_LINE = 1 << 28
"""Of an export, in characters."""

Held = tuple[str, object]
"""What it is, as a noun, and its key."""

_SHA = re.compile("[0-9a-f]{64}")
_STARTS = ["engine", "date_utc", "file", "sha256", "start", "kind", "outcome", "power", "excluded"]
_MEASURED = ("_s", "_c", "_pct", "_volts")
"""The ends of the names of columns that have numbers with a fraction."""


class NotAsWritten(Exception):
    """A file is not, or not only, what the program wrote; the text says where."""


def check_all_is_kept(named: Path, old: Path, new: Path, held: Callable[[Path], Iterator[Held]]) -> None:
    """Refuse to let an export take the place of one that holds something more.

    Parameters
    ----------
    named : Path
        The older one as the person calls it.
    old, new : Path
    held : callable
        Gives what one of them holds.

    Raises
    ------
    UserError
        The older one holds more, is damaged, or somebody changed it.
    """
    here = set(held(new))
    try:
        lost = Counter(one[0] for one in held(old) if one not in here)
    except NotAsWritten as error:
        raise UserError(
            f"{named} is damaged or was changed since it was written ({error}), so it stays as it is: give another name."
        ) from None
    if lost:
        counts = [f"{count} {noun}{'' if count == 1 else 's'}" for noun, count in lost.items()]
        raise UserError(
            f"{' and '.join(counts)} {'is' if lost.total() == 1 else 'are'} only in {named}, which stays as it is: "
            "give another name."
        )


def flights_held(path: Path) -> Iterator[Held]:
    """Give the flights, notes and actions of maintenance of an export of a history."""
    for number, text in enumerate(_lines(path), start=1):
        try:
            line = json.loads(text)
            if json.dumps(line) + "\n" != text:
                raise ValueError("formatted otherwise")
            if number == 1:
                yield from (("maintenance action", row["action_id"]) for row in line["maintenance"])
                continue
            yield "flight", line["recording"]["sha256"]
            yield from (("note", row["note_id"]) for row in line["notes"])
        except (ValueError, TypeError, KeyError, RecursionError):
            raise NotAsWritten(f"line {number}") from None


def starts_held(path: Path) -> Iterator[Held]:
    """Give the starts of a table of a history's starts."""
    for number, row in enumerate(_rows(path), start=1):
        if number == 1:
            wide, named = len(row), row[len(_STARTS) :]
            fits = row[: len(_STARTS)] == _STARTS and named == sorted(set(named))
        else:
            fits = len(row) == wide and _SHA.fullmatch(row[3]) is not None and row[4].isdecimal()
            fits = fits and all(map(_is_number, row[len(_STARTS) :]))
        if not fits:
            raise NotAsWritten(f"row {number}")
        if number > 1:
            yield "start", (row[3], row[4])


def is_report_table(path: Path) -> bool:
    """Whether each row of a table of starts and events is as the program writes it."""
    try:
        rows = _rows(path)
        columns = next(rows, [])
        first = dict(zip(columns, next(rows, []), strict=True))
        if first.get("row") != "recording":
            return False
        common = [
            name
            for name in ("file", "sha256", "aircraft", "engine_serial", "profile", "approved_data")
            if name in first
        ]
        order = ["start", "event"]
        for cells in rows:
            row = dict(zip(columns, cells, strict=True))
            if row["row"] not in order:
                return False
            order = order[order.index(row["row"]) :]  # no start after an event
            if any(row[name] != first[name] for name in common):
                return False
            if not all(_is_number(cell) for name, cell in row.items() if name.endswith(_MEASURED)):
                return False
    except (NotAsWritten, ValueError):
        return False
    return True


def _is_number(cell: str) -> bool:
    """Whether a cell is empty or a number as Python writes it: a spreadsheet saves 15.0 as 15."""
    try:
        return not cell or repr(float(cell)) == cell
    except ValueError:
        return False


def _rows(path: Path) -> Iterator[list[str]]:
    """Give the rows of a table that are written as the program writes them: quotes, commas, ends of lines."""
    read: list[str] = []

    def lines() -> Iterator[str]:
        for text in _lines(path):
            read.append(text)
            yield text

    number = 0
    try:
        for number, row in enumerate(csv.reader(lines(), strict=True), start=1):
            out = io.StringIO()
            csv.writer(out).writerow(row)
            if out.getvalue() != "".join(read):
                raise NotAsWritten(f"row {number}")
            read.clear()
            yield row
    except csv.Error:
        raise NotAsWritten(f"row {number + 1}") from None


def _lines(path: Path) -> Iterator[str]:
    """Give lines, none of them longer than any that is written."""
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            while text := file.readline(LONGEST_LINE):
                yield text
    except UnicodeDecodeError:
        raise NotAsWritten("what is no text") from None
