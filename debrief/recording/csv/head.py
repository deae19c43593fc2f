"""The head of a file as records, and which of them are headers, units and data."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain
from math import isfinite

from debrief.errors import UserError
from debrief.recording.csv.cells import is_plain_number, is_time_word, read_cell
from debrief.words.units import NO_UNIT, find_unit

MAX_LINE_BYTES = 256 * 1024
"""A line: 2,000 columns take some 20 kB. What is longer is never held whole, wherever it ends."""
MAX_HEAD_RECORDS = 160


MAX_JUDGED_RECORDS = 40


MAX_JUDGED_CELLS = 1200


MAX_HEADER_RECORDS = 120


MAX_LINES_IN_FIELD = 200


END_MARK = "\x1eend of records\x1e"
"""Stands alone after the last record, unless an open quotation mark swallows it."""


@dataclass(frozen=True)
class Record:
    """One record of the head: its fields and the line, from 1, on which it begins."""

    line: int
    fields: tuple[str, ...]


def never_closed(name: str, line: int) -> UserError:
    """Return the error for a quotation mark that opens a field and never closes it."""
    return UserError(
        f"{name}, line {line}: a quotation mark opens a field and is never closed; correct or remove it."
    )


def too_long(name: str, line: int) -> UserError:
    """Return the error for a line that no recorder writes."""
    return UserError(
        f"{name}, line {line}: the line is longer than {MAX_LINE_BYTES // 1024} kB; it is not a recording, or a "
        "quotation mark was never closed."
    )


def csv_error(name: str, line: int, error: csv.Error) -> UserError:
    """Return the csv module's complaint in words."""
    if "field larger" in str(error):
        return UserError(
            f"{name}, line {line}: a field is longer than {csv.field_size_limit():,} characters; it is not a "
            "recording, or a quotation mark was never closed."
        )
    return UserError(f"{name}, line {line}: {error}.")


def read_records(
    lines: Sequence[str], offset: int, delimiter: str, name: str, whole: bool
) -> tuple[list[Record], UserError | None]:
    """Return the records of the head, and what stopped the reading, if anything did."""
    out: list[Record] = []
    # Line by line, since the records that are looked at are rarely all.
    reader = csv.reader(chain((line + "\n" for line in lines), (END_MARK,)), delimiter=delimiter)
    before, line = 0, offset + 1
    try:
        for fields in reader:
            line = offset + before + 1
            before = reader.line_num
            if len(fields) == 1 and fields[0] == END_MARK:
                return out, None
            if offset + before - line > MAX_LINES_IN_FIELD:
                return out, never_closed(name, line)
            if fields and fields[-1].endswith(END_MARK):
                last = line + fields[-1].count("\n") >= offset + len(lines)
                cut = not whole or (last and not (lines and lines[-1] == ""))
                return out, None if cut else never_closed(name, line)
            if any(field.strip() for field in fields) or len(fields) > 1:
                out.append(Record(line, tuple(fields)))
            if len(out) >= MAX_HEAD_RECORDS:
                break
    except csv.Error as error:
        return out, csv_error(name, offset + before + 1, error)
    return out, None


def modal_width(widths: Sequence[int]) -> int:
    """Return the most frequent width, the largest of equally frequent ones; 0 without any."""
    if not widths:
        return 0
    counts = Counter(widths)
    top = max(counts.values())
    return max(width for width, count in counts.items() if count == top)


def is_value(cell: str, delimiter: str) -> bool:
    """Whether a cell is a number, a missing mark or a time in a file with this delimiter."""
    if _is_float(cell, "."):
        return True
    decimals = (".",) if delimiter == "," else (".", ",")
    return any(read_cell(cell, mark).kind != "word" for mark in decimals) or is_time_word(cell)


def is_data_cell(cell: str) -> bool:
    """Whether a cell can only be data: a number in either notation or a time."""
    if _is_float(cell, "."):
        return True
    return any(read_cell(cell, mark).kind in ("number", "infinite") for mark in ".,") or is_time_word(cell)


def is_header(fields: Sequence[str], width: int) -> bool:
    """Whether a record holds words only and enough of them to name columns."""
    filled = [cell for cell in fields if cell.strip()]
    if len(filled) < max(1, min(2, width)) or not width - 1 <= len(fields) <= width + 1:
        return False
    if len(filled) < 0.5 * min(len(fields), width):
        return False
    return not any(is_data_cell(cell) for cell in filled)


def is_units(fields: Sequence[str]) -> bool:
    """Whether most filled cells are units, so that the record is a row of units."""
    filled = [cell.strip() for cell in fields if cell.strip()]
    if not filled:
        return False
    units = [cell for cell in filled if _looks_like_unit(cell)]
    real = [cell for cell in units if find_unit(cell) is not None]
    return len(units) >= 0.6 * len(filled) and len(real) >= 1 and len(real) >= 0.3 * len(filled)


_TIME_FORMAT = re.compile(r"^[\[(]?(?:yyyy|dd|mm|hh|h|d|m)\b.*[:/.-].*", re.IGNORECASE)


def _looks_like_unit(cell: str) -> bool:
    if find_unit(cell) is not None or cell.casefold() in NO_UNIT:
        return True
    return (
        bool(_TIME_FORMAT.match(cell)) or (cell[:1] in "[({" and cell[-1:] in "])}") or cell.lower() == "utc"
    )


def _is_float(cell: str, decimal: str) -> bool:
    if decimal == ".":
        try:
            return isfinite(float(cell)) and "_" not in cell
        except ValueError:
            return False
    return is_plain_number(cell, decimal)


def some_of(records: Sequence[Record]) -> Sequence[Record]:
    """Return at most `MAX_JUDGED_RECORDS` records, evenly chosen."""
    return records[:: max(1, len(records) // MAX_JUDGED_RECORDS)]


def mostly_numbers(cells: Sequence[str], decimal: str) -> bool:
    """Whether nine of ten cells are bare numbers or missing, so that the quick parser may try the column."""
    if decimal == "." and are_floats(cells):
        return True
    plain = sum(_is_float(c, decimal) or read_cell(c, decimal).kind == "missing" for c in cells)
    return plain >= 0.9 * len(cells)


def are_floats(cells: Sequence[str]) -> bool:
    """Whether every cell is a number with a decimal point; many times as quick as one by one."""
    try:
        numbers = [float(cell) for cell in cells]
    except ValueError:
        return False
    return all(map(isfinite, numbers)) and not any("_" in cell for cell in cells)


def header_group(records: Sequence[Record], width: int) -> tuple[int, list[Record]]:
    """Return the index of the first data record and the header records right before it."""
    limit = min(len(records), MAX_HEADER_RECORDS)
    for index in range(limit):
        if not is_header(records[index].fields, width):
            continue
        if index and _is_same_kind(records[:index], records[index + 1 :], width):
            break  # data stand above it: a repeated header or a row of words in the middle
        stop = index + 1
        while stop < len(records) and stop - index < 3:
            fields = records[stop].fields
            if not is_header(fields, width) and not is_units(fields):
                break
            if tuple(fields) == tuple(records[index].fields):
                break
            stop += 1
        if not _fits_below(records, stop, width):
            continue
        group = list(records[index:stop])
        above = index - 1
        if above >= 0 and len(group) < 3 and _is_group_row(records[above].fields, width):
            group.insert(0, records[above])
        return stop, group
    first = 0
    while first < len(records) and len(records[first].fields) != width:
        first += 1
    return (first if first < len(records) else 0), []


def _fits_below(records: Sequence[Record], stop: int, width: int) -> bool:
    """Whether the record below a would-be header is like the later ones, unless no other header follows."""
    headers = {records[index].fields for index in range(stop)}
    later = [
        r
        for r in records[stop + 1 : stop + 40]
        if width <= len(r.fields) <= width + 1 and r.fields not in headers
    ]
    if stop >= len(records) or not later:
        return True
    first = records[stop]
    if width <= len(first.fields) <= width + 1 and _is_same_kind([first], later[1:] or later, width):
        return True
    return not any(is_header(r.fields, width) and r.fields not in headers for r in records[stop : stop + 40])


def _is_group_row(fields: Sequence[str], width: int) -> bool:
    """Whether a record is a row of group names over the header: as wide, words only, with blanks."""
    filled = [cell for cell in fields if cell.strip()]
    return (
        len(fields) in (width, width + 1)
        and len(filled) >= 2
        and not any(is_data_cell(cell) for cell in filled)
    )


def _is_title(fields: Sequence[str]) -> bool:
    """Whether a record is a line of a preamble that a spreadsheet filled up with delimiters: mostly blank, words first."""
    filled = [cell for cell in fields if cell.strip()]
    return len(filled) < 0.5 * len(fields) and bool(filled) and not is_data_cell(filled[0])


def _is_same_kind(above: Sequence[Record], below: Sequence[Record], width: int) -> bool:
    """Whether the records above a would-be header are data like those below it."""
    upper = [r for r in above if len(r.fields) == width and not _is_title(r.fields)]
    lower = [r for r in below[:20] if len(r.fields) == width]
    if not upper or not lower or len(upper) < 0.8 * len(above):
        return False
    same = 0
    for column in range(width):
        one = {is_data_cell(r.fields[column]) for r in upper if r.fields[column].strip()}
        two = {is_data_cell(r.fields[column]) for r in lower if r.fields[column].strip()}
        same += one == two or not one or not two
    return same >= 0.8 * width
