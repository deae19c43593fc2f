"""The line of every key in a TOML file, which the standard reader does not tell."""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right

KeyPath = tuple[str | int, ...]
"""Keys from the top, with the position (from 0) inside arrays: ``("limits", 0, "allowed", 1, "above")``."""

_BLANKS = re.compile(r"[ \t]*")
_BETWEEN = re.compile(r"(?:[ \t\r\n]++|#[^\n]*+)*+")
_KEY_PART = re.compile(r'"(?:\\.|[^"\\]++)*+"|\'[^\']*+\'|[A-Za-z0-9_-]++')
_SCALAR = re.compile(
    r'"""(?:\\.|[^"\\]++|"(?!""(?!")))*+"""(?!")'
    r"|'''.*?'''(?!')"
    r'|"(?:\\.|[^"\\]++)*+"'
    r"|'[^']*'"
    r"|\d{4}-\d{2}-\d{2} \d{2}[^,\]}\s#]*"  # a date and a time with a blank between
    r"|[^,\]}\s#]+",
    re.DOTALL,
)


def key_lines(text: str) -> dict[KeyPath, int]:
    """Return the line, counted from 1, on which each key and each array element of a TOML text begins.

    Parameters
    ----------
    text : str
        Text that the standard TOML reader has accepted: nothing is checked again here.
    """
    scanner = _Scanner(text)
    scanner.document()
    return scanner.lines


class _Scanner:
    def __init__(self, text: str) -> None:
        self._text = text
        self._pos = 0
        self._starts = [0, *(m.end() for m in re.finditer("\n", text))]
        self._last_index: dict[KeyPath, int] = {}  # of each array of tables
        self.lines: dict[KeyPath, int] = {}

    def document(self) -> None:
        base: KeyPath = ()
        self._skip(_BETWEEN)
        while self._pos < len(self._text):
            if self._text.startswith("[[", self._pos):
                base = self._header(2)
            elif self._text.startswith("[", self._pos):
                base = self._header(1)
            else:
                self._key_value(base)
            self._skip(_BETWEEN)

    def _header(self, brackets: int) -> KeyPath:
        at = self._pos
        self._pos += brackets
        path: KeyPath = ()
        keys = self._key()
        for depth, key in enumerate(keys):
            path = (*path, key)
            self._record(path, at)
            if brackets == 2 and depth == len(keys) - 1:
                self._last_index[path] = self._last_index.get(path, -1) + 1
            if path in self._last_index:
                path = (*path, self._last_index[path])
                self._record(path, at)
        self._skip(_BLANKS)
        self._pos += brackets
        return path

    def _key(self) -> list[str]:
        parts = []
        while True:
            self._skip(_BLANKS)
            token = self._skip(_KEY_PART)
            parts.append(tomllib.loads(f"k = {token}")["k"] if token[0] in "\"'" else token)
            self._skip(_BLANKS)
            if not self._text.startswith(".", self._pos):
                return parts
            self._pos += 1

    def _key_value(self, base: KeyPath) -> None:
        at = self._pos
        path = base
        for key in self._key():
            path = (*path, key)
            self._record(path, at)
        self._pos += 1  # the equals sign
        self._skip(_BLANKS)
        self._value(path)

    def _value(self, path: KeyPath) -> None:
        opening = self._text[self._pos]
        if opening not in "[{":
            self._skip(_SCALAR)
            return
        self._pos += 1
        index = 0
        self._skip(_BETWEEN)
        while self._text[self._pos] not in "]}":
            if opening == "[":
                self._record((*path, index), self._pos)
                self._value((*path, index))
                index += 1
            else:
                self._key_value(path)
            self._skip(_BETWEEN)
            if self._text[self._pos] == ",":
                self._pos += 1
                self._skip(_BETWEEN)
        self._pos += 1

    def _record(self, path: KeyPath, position: int) -> None:
        self.lines.setdefault(path, bisect_right(self._starts, position))

    def _skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self._text, self._pos)
        if match is None:  # pragma: no cover - the text has been accepted before
            raise ValueError(f"not TOML at character {self._pos}")
        self._pos = match.end()
        return match.group()
