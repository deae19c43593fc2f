"""Takes keys out of a TOML document, checks them, and names the key path and line of what is wrong."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from debrief.errors import UserError
from debrief.toml_lines import key_lines


class Tables:
    """Takes keys out of a table, checks them, and names the key path and line of what is wrong."""

    def __init__(self, path: Path, text: str) -> None:
        self.path = path
        self._text = text

    def line_of(self, where: str) -> int | None:
        """Return the line of a key path such as ``recorder.columns[3].header``, or of what holds it."""
        lines = key_lines(self._text.replace("\r\n", "\n"))
        path = tuple(int(part) if part.isdecimal() else part for part in re.findall(r"[^.\[\]]+", where))
        while path and path not in lines:
            path = path[:-1]
        return lines.get(path)

    def refuse(self, where: str, why: str) -> UserError:
        """Return the error for a key path."""
        line = self.line_of(where)
        place = f"line {line}, {where}" if line is not None else where
        return UserError(f"{self.path.name}: {place}: {why}")

    def known(self, table: Mapping[str, Any], where: str, allowed: tuple[str, ...]) -> None:
        """Refuse a key that is not one of those allowed."""
        for key in table:
            if key not in allowed:
                path = f"{where}.{key}" if where else key
                raise self.refuse(path, f"unknown key; known here: {', '.join(allowed)}.")

    def number(
        self,
        table: Mapping[str, Any],
        where: str,
        key: str,
        default: float | None = None,
        low: float = -math.inf,
        high: float = math.inf,
    ) -> float:
        """Return a finite number in a range; the default where the key is absent."""
        path = f"{where}.{key}" if where else key
        if key not in table:
            if default is None:
                raise self.refuse(where or key, f"{key} is missing.")
            return default
        value = table[key]
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise self.refuse(path, f"must be a number, not {value!r}.")
        if not low <= value <= high:
            raise self.refuse(path, f"{value:g} is outside {low:g} to {high:g}.")
        return float(value)

    def text(self, table: Mapping[str, Any], where: str, key: str, default: str | None = None) -> str:
        """Return a text without line breaks."""
        path = f"{where}.{key}" if where else key
        if key not in table:
            if default is None:
                raise self.refuse(where or key, f"{key} is missing.")
            return default
        value = table[key]
        if not isinstance(value, str):
            raise self.refuse(path, f"must be a text, not {value!r}.")
        return value

    def choice(
        self,
        table: Mapping[str, Any],
        where: str,
        key: str,
        allowed: tuple[str, ...],
        default: str | None = None,
    ) -> str:
        """Return a text that is one of those allowed."""
        value = self.text(table, where, key, default)
        if value not in allowed:
            path = f"{where}.{key}" if where else key
            raise self.refuse(path, f"{value!r} is not one of {', '.join(allowed)}.")
        return value

    def flag(self, table: Mapping[str, Any], where: str, key: str) -> bool:
        """Return a true or false; absent is false."""
        value = table.get(key, False)
        if not isinstance(value, bool):
            raise self.refuse(f"{where}.{key}", f"must be true or false, not {value!r}.")
        return value

    def table(self, parent: Mapping[str, Any], where: str, key: str) -> Mapping[str, Any]:
        """Return a sub-table; absent is empty."""
        value = parent.get(key, {})
        if not isinstance(value, Mapping):
            raise self.refuse(f"{where}.{key}" if where else key, "must be a table.")
        return value

    def tables(self, parent: Mapping[str, Any], where: str, key: str) -> list[Mapping[str, Any]]:
        """Return an array of tables; absent is empty."""
        value = parent.get(key, [])
        if not isinstance(value, list) or not all(isinstance(item, Mapping) for item in value):
            raise self.refuse(f"{where}.{key}" if where else key, "must be a list of tables.")
        return value
