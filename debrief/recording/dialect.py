"""How a file is written: preamble, delimiter, decimal mark, header rows, units row, where the data begin."""

from __future__ import annotations

import csv
import hashlib
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

from debrief.errors import UserError
from debrief.recording.cells import is_plain_number, is_time_word, read_cell
from debrief.recording.source import decoded
from debrief.recording.units import NO_UNIT, find_unit

DELIMITERS = (",", ";", "\t", "|")
DELIMITER_WORDS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "vertical bar"}
MAX_HEAD_RECORDS = 160
MAX_JUDGED_RECORDS = 40
MAX_JUDGED_CELLS = 1200
MAX_HEADER_RECORDS = 120
MAX_LINES_IN_FIELD = 200
END_MARK = "\x1eend of records\x1e"
"""Stands alone after the last record, unless an open quotation mark swallows it."""
_COMMENT = ("#", "%", "//")
_KEY_VALUE = re.compile(r"^\s*([A-Za-z][\w .()-]{0,60}?)\s*[:=]\s*(.+?)\s*$")
_DECIMAL_COMMA = re.compile(r"^[+-]?\d+,\d+(?:[eE][+-]?\d+)?$")
_DECIMAL_POINT = re.compile(r"^[+-]?\d+\.\d+(?:[eE][+-]?\d+)?$")
_THREE_DIGITS = re.compile(r"^[+-]?[1-9]\d{0,2}[.,]\d{3}$")


@dataclass(frozen=True)
class Record:
    """One record of the head: its fields and the line, from 1, on which it begins."""

    line: int
    fields: tuple[str, ...]


@dataclass(frozen=True)
class Dialect:
    """How the file is written.

    Attributes
    ----------
    delimiter, decimal : str
    preamble : tuple of str
        Lines before the header, as found.
    values : tuple of (str, str)
        ``key: value`` pairs of the preamble, keys in lower case with dashes.
    header : tuple of Record
        Header rows in order (name rows only); empty where the file has none.
    units_row : Record or None
    names : tuple of str
        One name per column: the header rows joined, or ``Column 1`` where there is no header.
    alternatives : tuple of tuple of str
        Per column the header rows' cells one by one.
    units : tuple of str
        Per column the units row's cell; empty where there is none.
    data_line : int
        Line, from 1, on which the data begin.
    width : int
        Fields per data record.
    numeric : tuple of bool
        Per column whether the cells of the head are bare numbers or missing, nearly all.
    head_rows : tuple of Record
        The data records of the head, for evidence and preview.
    decisions, questions : tuple of str
    """

    delimiter: str
    decimal: str
    preamble: tuple[str, ...]
    values: tuple[tuple[str, str], ...]
    header: tuple[Record, ...]
    units_row: Record | None
    names: tuple[str, ...]
    alternatives: tuple[tuple[str, ...], ...]
    units: tuple[str, ...]
    data_line: int
    width: int
    numeric: tuple[bool, ...]
    head_rows: tuple[Record, ...]
    decisions: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()

    def value(self, *keys: str) -> str | None:
        """Return the preamble's value of the first of these keys that it has."""
        table = dict(self.values)
        return next((table[key] for key in keys if table.get(key)), None)

    @property
    def signature(self) -> str:
        """Identifies files of one recorder: the header and units rows, whatever the data are."""
        rows = [record.fields for record in self.header]
        if self.units_row is not None:
            rows.append(self.units_row.fields)
        if not rows:
            rows = [("no header", str(self.width))]
        text = "\x1e".join("\x1f".join(cell.strip() for cell in row) for row in rows)
        return hashlib.sha256(text.encode()).hexdigest()


def never_closed(name: str, line: int) -> UserError:
    """Return the error for a quotation mark that opens a field and never closes it."""
    return UserError(
        f"{name}, line {line}: a quotation mark opens a field and is never closed; correct or remove it."
    )


def csv_error(name: str, line: int, error: csv.Error) -> UserError:
    """Return the csv module's complaint in words."""
    if "field larger" in str(error):
        return UserError(
            f"{name}, line {line}: a field is longer than {csv.field_size_limit():,} characters; it is not a "
            "recording, or a quotation mark was never closed."
        )
    return UserError(f"{name}, line {line}: {error}.")


def detect(head: bytes, name: str, *, head_is_all: bool) -> Dialect:
    """Return the dialect that the head of a file shows.

    Parameters
    ----------
    head : bytes
        The first bytes, UTF-8 without BOM.
    name : str
        File name, for messages.
    head_is_all : bool
        Whether `head` is the whole file; otherwise its last line is cut and not looked at.

    Raises
    ------
    UserError
        Header only, one column, nothing but delimiters, a quotation mark that is never closed, a web page.
    """
    text = decoded(head)[0].replace("\r\n", "\n").replace("\r", "\n")
    if re.match(r"\s*(<!doctype html|<html)", text[:200], re.IGNORECASE):
        raise UserError(f"{name} is a web page, not a CSV file: download or export the recording itself.")
    if not text.strip():
        raise UserError(f"{name} holds only blank lines.")
    if not head_is_all and "\n" not in text:
        raise UserError(
            f"{name} has a first line of more than {len(head) // 1024} kB: it is not a recording."
        )
    lines = text.split("\n")
    if not head_is_all:
        lines = lines[:-1]
    comments, rest = _comment_lines(lines)
    body = lines[rest:]
    if not any(line.strip() for line in body):
        raise UserError(f"{name} holds only comment lines and no data.")
    best = max(
        (_candidate(body, rest, delimiter, name, head_is_all) for delimiter in DELIMITERS),
        key=lambda candidate: candidate.score,
    )
    if best.problem is not None:
        raise best.problem
    records = list(best.records)
    if comments and not best.header_found:
        records = [*_hash_header(lines, rest, best.delimiter, best.width), *records]
    return _finish(records, best, list(lines[:rest]), name, head_is_all)


@dataclass(frozen=True)
class _Candidate:
    delimiter: str
    records: tuple[Record, ...]
    width: int
    score: float
    header_found: bool
    problem: UserError | None


def _comment_lines(lines: Sequence[str]) -> tuple[bool, int]:
    """Return whether comment lines lead the file, and the index of the first other line that is not blank."""
    index, any_comment = 0, False
    while index < len(lines):
        line = lines[index].strip().strip('"')
        if line.startswith(_COMMENT):
            any_comment = True
        elif line:
            break
        index += 1
    if lines and re.match(r"^\s*sep=(.)\s*$", lines[0]) and index == 0:
        return False, 1
    return any_comment, index


def _records(
    lines: Sequence[str], offset: int, delimiter: str, name: str, whole: bool
) -> tuple[list[Record], UserError | None]:
    """Return the records of the head, and what stopped the reading, if anything did."""
    out: list[Record] = []
    reader = csv.reader(iter([*(line + "\n" for line in lines), END_MARK]), delimiter=delimiter)
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


def _candidate(lines: Sequence[str], offset: int, delimiter: str, name: str, whole: bool) -> _Candidate:
    records, problem = _records(lines, offset, delimiter, name, whole)
    tail = records[len(records) // 2 :] or records
    width = _modal_width([len(record.fields) for record in tail])
    if width < 2:
        return _Candidate(delimiter, tuple(records), width, 0.0, False, problem)
    modal = [record for record in records if len(record.fields) in (width, width + 1)]
    consistency = len(modal) / len(records)
    cells = [cell for record in _some(modal) for cell in record.fields][:MAX_JUDGED_CELLS]
    known = sum(1 for cell in cells if _is_value(cell, delimiter))
    score = consistency * (0.2 + known / max(len(cells), 1)) * (1.0 + min(width, 50) / 1000)
    header = any(_is_header(record.fields, width) for record in records[:MAX_HEADER_RECORDS])
    return _Candidate(delimiter, tuple(records), width, score, header, problem)


def _modal_width(widths: Sequence[int]) -> int:
    if not widths:
        return 0
    counts = Counter(widths)
    top = max(counts.values())
    return max(width for width, count in counts.items() if count == top)


def _is_value(cell: str, delimiter: str) -> bool:
    if _is_float(cell, "."):
        return True
    decimals = (".",) if delimiter == "," else (".", ",")
    return any(read_cell(cell, mark).kind != "word" for mark in decimals) or is_time_word(cell)


def _is_data_cell(cell: str) -> bool:
    """Whether a cell can only be data: a number in either notation or a time."""
    if _is_float(cell, "."):
        return True
    return any(read_cell(cell, mark).kind in ("number", "infinite") for mark in ".,") or is_time_word(cell)


def _is_header(fields: Sequence[str], width: int) -> bool:
    """Whether a record holds words only and enough of them to name columns."""
    filled = [cell for cell in fields if cell.strip()]
    if len(filled) < max(1, min(2, width)) or not width - 1 <= len(fields) <= width + 1:
        return False
    if len(filled) < 0.5 * min(len(fields), width):
        return False
    return not any(_is_data_cell(cell) for cell in filled)


def _is_units(fields: Sequence[str]) -> bool:
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


def _hash_header(lines: Sequence[str], rest: int, delimiter: str, width: int) -> list[Record]:
    """Return the header that stands behind a comment mark as the last comment lines, if there is one."""
    found: list[Record] = []
    for index in range(rest - 1, -1, -1):
        line = lines[index].strip()
        if not line:
            continue
        fields = next(csv.reader([line.lstrip("#%/ ")], delimiter=delimiter), [])
        if len(fields) != width or width < 2 or (not _is_header(fields, width) and not _is_units(fields)):
            break
        found.insert(0, Record(index + 1, tuple(fields)))
        if len(found) == 3:
            break
    return found


def _finish(
    records: list[Record], best: _Candidate, comments: list[str], name: str, head_is_all: bool
) -> Dialect:
    decisions: list[str] = []
    width, delimiter = best.width, best.delimiter
    if width < 2:
        delimiter, width = ",", 1
        records = [Record(r.line, (",".join(r.fields).strip(),)) for r in records]
    first, group = _header_group(records, width)
    data = records[first:]
    if not data and not head_is_all:
        line = records[-1].line + 1 if records else 1
        raise UserError(
            f"{name}, line {line}: the line is longer than 256 kB; it is not a recording, or a quotation mark was "
            "never closed."
        )
    if not data:
        raise UserError(f"{name} has a header but no data rows.")
    width = _data_width(data, group, width)
    if all(not any(cell.strip() for cell in record.fields) for record in data):
        raise UserError(f"{name} holds no value: every cell of its data rows is blank.")
    preamble = comments + [
        delimiter.join(record.fields) for record in records[: first - len(group)] if any(record.fields)
    ]
    decimal, questions = _decimal(data, delimiter)
    units_row = next(
        (record for record in reversed(group) if _is_units(record.fields) and len(group) > 1), None
    )
    header = [record for record in group if record is not units_row]
    if delimiter in DELIMITER_WORDS and width > 1:
        decisions.append(f"fields are separated by {DELIMITER_WORDS[delimiter]}")
    if decimal == ",":
        decisions.append("numbers have a decimal comma")
    if not header:
        decisions.append("the file has no header row; columns are named by their position")
    if units_row is not None:
        decisions.append(f"line {units_row.line} is a row of units")
    names, alternatives = _names(header, width)
    units = tuple(_padded(units_row.fields, width)) if units_row else ("",) * width
    shape = _some([record for record in data if len(record.fields) == width] or data)
    numeric = tuple(
        _mostly_numbers([cell for record in shape for cell in record.fields[column : column + 1]], decimal)
        for column in range(width)
    )
    return Dialect(
        delimiter=delimiter,
        decimal=decimal,
        preamble=tuple(line for line in preamble if line.strip()),
        values=_key_values(preamble),
        header=tuple(header),
        units_row=units_row,
        names=names,
        alternatives=alternatives,
        units=tuple(cell.strip() for cell in units),
        data_line=data[0].line,
        width=width,
        numeric=numeric,
        head_rows=tuple(data),
        decisions=tuple(decisions),
        questions=tuple(questions),
    )


def _is_float(cell: str, decimal: str) -> bool:
    if decimal == ".":
        try:
            return isfinite(float(cell)) and "_" not in cell
        except ValueError:
            return False
    return is_plain_number(cell, decimal)


def _some(records: Sequence[Record]) -> Sequence[Record]:
    """Return at most `MAX_JUDGED_RECORDS` records, evenly chosen."""
    return records[:: max(1, len(records) // MAX_JUDGED_RECORDS)]


def _mostly_numbers(cells: Sequence[str], decimal: str) -> bool:
    """Whether nine of ten cells are bare numbers or missing, so that the quick parser may try the column."""
    plain = sum(_is_float(c, decimal) or read_cell(c, decimal).kind == "missing" for c in cells)
    return plain >= 0.9 * len(cells)


def _header_group(records: Sequence[Record], width: int) -> tuple[int, list[Record]]:
    """Return the index of the first data record and the header records right before it."""
    limit = min(len(records), MAX_HEADER_RECORDS)
    for index in range(limit):
        if not _is_header(records[index].fields, width):
            continue
        if index and _is_same_kind(records[:index], records[index + 1 :], width):
            break  # data stand above it: a repeated header or a row of words in the middle
        stop = index + 1
        while stop < len(records) and stop - index < 3:
            fields = records[stop].fields
            if not _is_header(fields, width) and not _is_units(fields):
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
    return not any(_is_header(r.fields, width) and r.fields not in headers for r in records[stop : stop + 40])


def _is_group_row(fields: Sequence[str], width: int) -> bool:
    """Whether a record is a row of group names over the header: as wide, words only, with blanks."""
    filled = [cell for cell in fields if cell.strip()]
    return (
        len(fields) in (width, width + 1)
        and len(filled) >= 2
        and not any(_is_data_cell(cell) for cell in filled)
    )


def _is_same_kind(above: Sequence[Record], below: Sequence[Record], width: int) -> bool:
    """Whether the records above a would-be header are data like those below it."""
    upper = [r for r in above if len(r.fields) == width]
    lower = [r for r in below[:20] if len(r.fields) == width]
    if not upper or not lower or len(upper) < 0.8 * len(above):
        return False
    same = 0
    for column in range(width):
        one = {_is_data_cell(r.fields[column]) for r in upper if r.fields[column].strip()}
        two = {_is_data_cell(r.fields[column]) for r in lower if r.fields[column].strip()}
        same += one == two or not one or not two
    return same >= 0.8 * width


def _data_width(data: Sequence[Record], group: Sequence[Record], width: int) -> int:
    """Return the fields per data record; the header breaks a tie, a trailing delimiter adds one."""
    counts = Counter(len(record.fields) for record in data)
    if group and counts.get(len(group[-1].fields), 0) >= 0.5 * len(data):
        return len(group[-1].fields)
    return counts.most_common(1)[0][0] if width > 1 else 1


def _decimal(data: Sequence[Record], delimiter: str) -> tuple[str, list[str]]:
    """Return the decimal mark by what the cells show, and a question where they do not settle it."""
    data = _some(data)
    commas = [c for r in data for c in map(str.strip, r.fields) if _DECIMAL_COMMA.match(c)]
    if not commas:
        return ".", []
    points = [c for r in data for c in map(str.strip, r.fields) if _DECIMAL_POINT.match(c)]
    sure_commas = [c for c in commas if not _THREE_DIGITS.match(c)]
    sure_points = [c for c in points if not _THREE_DIGITS.match(c)]
    if sure_commas and len(sure_commas) >= len(sure_points):
        return ",", []
    if sure_points:
        return ".", []
    if points and not sure_points and not commas:
        return ".", []
    return ",", [
        f'"{commas[0]}" can be read with a decimal comma or with a comma between thousands; the decimal comma was '
        "taken. Write the file with a decimal point if that is wrong."
    ]


def _padded(fields: Sequence[str], width: int) -> list[str]:
    return [*fields[:width], *[""] * (width - len(fields))]


def _names(header: Sequence[Record], width: int) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    if not header:
        return tuple(f"Column {i + 1}" for i in range(width)), ((),) * width
    rows = [_padded(record.fields, width) for record in header]
    if len(rows) > 1:
        rows[0] = _filled_right(rows[0], rows[1])
    names, alternatives = [], []
    for column in range(width):
        cells = [" ".join(row[column].split()) for row in rows]
        filled = [cell for cell in cells if cell]
        unique = list(dict.fromkeys(filled))
        names.append(" ".join(unique) if unique else "")
        alternatives.append(tuple(unique) if len(unique) > 1 else ())
    return tuple(names), tuple(alternatives)


def _filled_right(top: list[str], below: list[str]) -> list[str]:
    """Return a row of group names with blanks taken from the left: a group's name stands over its first."""
    if sum(1 for cell in top if cell.strip()) > 0.8 * len(top):
        return top
    out, last = [], ""
    for cell, name in zip(top, below, strict=True):
        last = cell.strip() or (last if name.strip() else "")
        out.append(last)
    return out


def _key_values(preamble: Sequence[str]) -> tuple[tuple[str, str], ...]:
    pairs = []
    for line in preamble:
        match = _KEY_VALUE.match(line.strip().strip('"').lstrip("#%/ ").rstrip(",;\t|"))
        if match is None:
            parts = [
                part.strip().strip('"') for part in re.split(r"[,;\t|]", line.lstrip("#%/ ")) if part.strip()
            ]
            if len(parts) != 2 or _is_data_cell(parts[0]):
                continue
            key, value = parts[0].rstrip(":"), parts[1]
        else:
            key, value = match.groups()
        pairs.append((re.sub(r"[\s_]+", "-", key.strip().lower()), value.strip().strip('"')))
    return tuple(pairs)
