"""How a file is written: preamble, delimiter, decimal mark, header rows, units row, where the data begin."""

from __future__ import annotations

import csv
import hashlib
import itertools
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from debrief.errors import UserError
from debrief.recording.csv.head import (
    MAX_HEADER_RECORDS,
    MAX_JUDGED_CELLS,
    Record,
    are_floats,
    header_group,
    is_data_cell,
    is_header,
    is_units,
    is_value,
    modal_width,
    mostly_numbers,
    read_records,
    some_of,
    too_long,
)
from debrief.recording.csv.source import decoded
from debrief.words.visible import visible

MAX_COLUMNS = 2000
"""Recorders of whole aircraft write some hundred columns, few over a thousand. Each column costs a millisecond of
finding out what it is, whatever it holds."""
MAX_NAME_CHARS = 300
"""A column's name of all header rows together; those of recorders have up to some 80 characters."""
MAX_PREAMBLE_LINES = 1000
"""Recorders write some ten lines before the header, few over a hundred."""

DELIMITERS = (",", ";", "\t", "|")


DELIMITER_WORDS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "vertical bar"}


_COMMENT = ("#", "%", "//")


_KEY_VALUE = re.compile(r"^\s*([A-Za-z][\w .()'’-]{0,60}?)\s*[:=](.+)$")


_CELLS = re.compile(r"[,;\t|]")


_WEB_PAGE = re.compile(r"\s*(<!doctype html|<html)", re.IGNORECASE)


_SEPARATOR = re.compile(r"^\s*sep=(.)\s*$")


_DECIMAL_COMMA = re.compile(r"^[+-]?\d+,\d+(?:[eE][+-]?\d+)?$")


_DECIMAL_POINT = re.compile(r"^[+-]?\d+\.\d+(?:[eE][+-]?\d+)?$")


_THREE_DIGITS = re.compile(r"^[+-]?[1-9]\d{0,2}[.,]\d{3}$")


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
        One name per column (`column_name`): the header rows joined, or ``Column 1`` where there is no header.
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
    if _WEB_PAGE.match(text[:200]):
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
    if rest > MAX_PREAMBLE_LINES:
        raise UserError(
            f"{name} has more than {MAX_PREAMBLE_LINES:,} comment or blank lines before its data: it is not a recording."
        )
    if not any(line.strip() for line in body):
        raise UserError(f"{name} holds only comment lines and no data.")
    best = _best([d for d in DELIMITERS if d in text], body, rest, name, head_is_all)
    if best is None or best.score == 0:
        best = _best(DELIMITERS, body, rest, name, head_is_all)
        assert best is not None
    if best.width > MAX_COLUMNS:
        raise UserError(
            f"{name} has {best.width:,} columns, and at most {MAX_COLUMNS:,} are read: it is not a recording, or it has "
            "to be divided."
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
    if lines and _SEPARATOR.match(lines[0]) and index == 0:
        return False, 1
    return any_comment, index


def _candidate(lines: Sequence[str], offset: int, delimiter: str, name: str, whole: bool) -> _Candidate:
    records, problem = read_records(lines, offset, delimiter, name, whole)
    tail = records[len(records) // 2 :] or records
    width = modal_width([len(record.fields) for record in tail])
    if width < 2:
        return _Candidate(delimiter, tuple(records), width, 0.0, False, problem)
    modal = [record for record in records if len(record.fields) in (width, width + 1)]
    consistency = len(modal) / len(records)
    judged = known = 0
    for record in some_of(modal):
        cells = record.fields[: MAX_JUDGED_CELLS - judged]
        judged += len(cells)
        known += len(cells) if are_floats(cells) else sum(is_value(cell, delimiter) for cell in cells)
    score = consistency * (0.2 + known / max(judged, 1)) * (1.0 + min(width, 50) / 1000)
    header = width <= MAX_COLUMNS and any(
        is_header(record.fields, width) for record in records[:MAX_HEADER_RECORDS]
    )
    return _Candidate(delimiter, tuple(records), width, score, header, problem)


def _best(
    delimiters: Sequence[str], lines: Sequence[str], offset: int, name: str, whole: bool
) -> _Candidate | None:
    """Return the first of the best of these delimiters; None without any."""
    candidates = (_candidate(lines, offset, delimiter, name, whole) for delimiter in delimiters)
    return max(candidates, key=lambda candidate: candidate.score, default=None)


def _hash_header(lines: Sequence[str], rest: int, delimiter: str, width: int) -> list[Record]:
    """Return the header that stands behind a comment mark as the last comment lines, if there is one."""
    found: list[Record] = []
    for index in range(rest - 1, -1, -1):
        line = lines[index].strip()
        if not line:
            continue
        fields = next(csv.reader([line.lstrip("#%/ ")], delimiter=delimiter), [])
        if len(fields) != width or width < 2 or (not is_header(fields, width) and not is_units(fields)):
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
    first, group = header_group(records, width)
    data = records[first:]
    if not data and not head_is_all:
        line = records[-1].line + 1 if records else 1
        raise too_long(name, line)
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
        (record for record in reversed(group) if is_units(record.fields) and len(group) > 1), None
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
    long = next((column for column, text in enumerate(names) if len(text) > MAX_NAME_CHARS), None)
    if long is not None:
        raise UserError(
            f"{name}, line {header[-1].line}: the name of column {long + 1} has {len(names[long]):,} characters, and at "
            f"most {MAX_NAME_CHARS} are read; it is not a header, or a quotation mark was never closed."
        )
    units = tuple(_padded(units_row.fields, width)) if units_row else ("",) * width
    repeated = {record.fields for record in group}
    shape = some_of([r for r in data if len(r.fields) == width and r.fields not in repeated] or data)
    numeric = tuple(
        mostly_numbers([cell for record in shape for cell in record.fields[column : column + 1]], decimal)
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
        units=tuple(visible(cell.strip()) for cell in units),
        data_line=data[0].line,
        width=width,
        numeric=numeric,
        head_rows=tuple(data),
        decisions=tuple(decisions),
        questions=tuple(questions),
    )


def _data_width(data: Sequence[Record], group: Sequence[Record], width: int) -> int:
    """Return the fields per data record; the header breaks a tie, a trailing delimiter adds one."""
    counts = Counter(len(record.fields) for record in data)
    if group and counts.get(len(group[-1].fields), 0) >= 0.5 * len(data):
        return len(group[-1].fields)
    return counts.most_common(1)[0][0] if width > 1 else 1


def _decimal(data: Sequence[Record], delimiter: str) -> tuple[str, list[str]]:
    """Return the decimal mark by what the cells show, and a question where they do not settle it."""
    data = some_of(data)
    if not any("," in cell for record in data for cell in record.fields):
        return ".", []
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


def column_name(text: str) -> str:
    """Return what a column is called: as its header or a map says it, on one line and visible."""
    return visible(" ".join(text.split()))


def _names(header: Sequence[Record], width: int) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    if not header:
        return tuple(f"Column {i + 1}" for i in range(width)), ((),) * width
    rows = [_padded(record.fields, width) for record in header]
    if len(rows) > 1:
        rows[0] = _filled_right(rows[0], rows[1])
    names, alternatives = [], []
    for column in range(width):
        cells = [column_name(row[column]) for row in rows]
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
        cells = [cell.strip().strip('"').strip() for cell in _CELLS.split(line.lstrip("#%/ "))]
        cells = [cell for cell in cells if cell]
        if len(cells) > 1 and cells[0].endswith(":"):
            # "Date:,2031-03-12,Time:,10:14": each key with a colon, its value in the next cell.
            for key, value in itertools.pairwise(cells):
                if key.endswith(":") and not value.endswith(":"):
                    pairs.append((_key(key.rstrip(": ")), visible(value)))
            continue
        match = _KEY_VALUE.match(line.strip().strip('"').lstrip("#%/ ").rstrip(",;\t|"))
        if match is None:
            if len(cells) != 2 or is_data_cell(cells[0]):
                continue
            key, value = cells
        else:
            key, value = match.groups()
        pairs.append((_key(key), visible(value.strip().strip('"'))))
    return tuple(pairs)


def _key(text: str) -> str:
    return re.sub(r"[\s_]+", "-", text.strip().lower())
