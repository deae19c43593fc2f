"""Between a profile's file and the screen: what a field of the form shows, and what is written for it."""

from __future__ import annotations

import math
import re
from collections.abc import MutableMapping, Sequence
from typing import Any

from debrief.errors import UserError
from debrief.session.profiles.profile_fields import Column, Field

Row = tuple[str, ...]
Value = str | bool | tuple[Row, ...]
"""What a field holds on the screen: its text, a tick, or the texts of its rows."""


class FieldError(UserError):
    """What was typed cannot be written into the field; the file's text is as it was."""


def _number_text(value: Any) -> str:
    if isinstance(value, bool) or not isinstance(value, int | float):
        return str(value)
    return f"{value:.15g}"


def _pair_text(pair: Any) -> str:
    return " to ".join(_number_text(part) for part in pair) if isinstance(pair, list) else str(pair)


def shown_text(raw: Any, field: Field) -> str:
    """Return what a field of one line shows of a value of the file."""
    if field.kind in ("texts", "numbers"):
        return ", ".join(_number_text(item) for item in raw) if isinstance(raw, list) else str(raw)
    if field.kind == "spans":
        if not isinstance(raw, list):
            return str(raw)
        if field.key == "range":
            return _pair_text(raw)
        return ", ".join(_pair_text(pair) for pair in raw)
    return _number_text(raw)


def cell_text(row: Any, column: Column) -> str:
    """Return what a cell shows of a row of the file; empty where the key is absent."""
    raw = row.get(column.key) if isinstance(row, MutableMapping) else None
    if raw is None:
        return ""
    if column.kind == "points":
        return ", ".join(" at ".join(_number_text(part) for part in point) for point in raw)
    return _number_text(raw)


def level_point(row: Row, *, level: int = 0, seconds: int = 1) -> tuple[float, float] | None:
    """Return a typed row of a limit's table as (level, seconds), by the places of its cells; None where it is unreadable."""
    try:
        return float(number_of(row[level], "")), float(number_of(row[seconds], ""))
    except FieldError:
        return None


def level_text(value: float) -> str:
    """Return a drawn number as it is typed."""
    return f"{value:.12g}"


def finding_name(words: str) -> str:
    """Return words as the file names a finding of one's own: ``Gearbox hot`` is ``gearbox_hot``."""
    return "_".join(re.findall(r"[a-z0-9]+", words.casefold()))


def number_of(text: str, what: str) -> int | float:
    """Return a typed number; a comma may be its decimal sign.

    Raises
    ------
    FieldError
        It is none.
    """
    try:
        value = float(text.strip().replace(",", ".").replace("\N{MINUS SIGN}", "-"))
    except ValueError:
        raise FieldError(f'{what}: "{text.strip()}" is not a number.') from None
    if not math.isfinite(value):
        raise FieldError(f'{what}: "{text.strip()}" is not a number.')
    return int(value) if value.is_integer() and "." not in text and abs(value) < 1e15 else value


def _list_of(text: str) -> list[str]:
    return [part.strip() for part in text.replace(";", ",").split(",") if part.strip()]


def _pair(text: str, word: str, what: str) -> list[int | float]:
    parts = text.split(word)
    if len(parts) != 2:
        raise FieldError(f'{what}: write "{text.strip()}" as two numbers with "{word.strip()}" between.')
    return [number_of(part, what) for part in parts]


def made_of(field: Field, value: Value) -> Any:
    """Return what is written into the file, or None for an absent key."""
    if field.kind == "flag":
        return bool(value)
    if field.kind == "rows":
        return _made_rows(field, value if isinstance(value, tuple) else ())
    text = str(value)
    if field.kind not in ("text", "long_text"):
        text = text.strip()
    if not text.strip():
        return None
    match field.kind:
        case "number":
            return number_of(text, field.title)
        case "numbers":
            return [number_of(part, field.title) for part in _list_of(text)]
        case "texts":
            return _list_of(text)
        case "spans":
            pairs = [_pair(part, " to ", field.title) for part in _list_of(text)]
            if field.key == "range":
                if len(pairs) != 1:
                    raise FieldError(f"{field.title}: one pair is wanted, such as 0 to 1200.")
                return pairs[0]
            return pairs
        case _:
            return text


def _made_rows(field: Field, rows: Sequence[Row]) -> Any:
    import tomlkit

    made = tomlkit.array()
    count = 0
    for number, row in enumerate(rows, start=1):
        if not any(cell.strip() for cell in row):
            continue
        table = tomlkit.inline_table()
        for column, cell in zip(field.columns, row, strict=True):
            what = f"{field.title}, row {number}, {column.title.lower()}"
            if not cell.strip():
                continue
            if column.kind == "number":
                table[column.key] = number_of(cell, what)
            elif column.kind == "points":
                table[column.key] = [_pair(part, " at ", what) for part in _list_of(cell)]
            else:
                table[column.key] = cell.strip()
        made.append(table)
        count += 1
    if not count:
        return None
    if count > 2:
        made.multiline(True)
    return made
