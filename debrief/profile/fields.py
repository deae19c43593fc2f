"""Typed access to the tables of a profile, which refuses what it does not know in one clear sentence."""

from __future__ import annotations

import difflib
import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date, datetime
from typing import Any, NoReturn

from debrief.errors import UserError
from debrief.toml_lines import KeyPath
from debrief.words.visible import visible

LONGEST_TEXT = 1000

MOST_ROWS = 200
"""Rows of one list. A manual has a handful; each is worked out for each start."""

LARGEST, SMALLEST = 1e9, 1e-9
"""Between which the size of every number lies: what is outside is a slip, and arithmetic would overflow."""


class ProfileError(UserError):
    """A profile that is refused.

    Attributes
    ----------
    key : str
        Key path in the file, such as ``limits.itt-start.allowed[2].above`` (rows counted from 1); empty
        where the file as a whole is meant.
    line : int or None
        Line in the file, counted from 1.
    reason : str
        What is wrong and what to do, without the place.
    """

    def __init__(self, file_name: str, line: int | None, key: str, reason: str) -> None:
        place = file_name if line is None else f"{file_name}, line {line}"
        super().__init__(f"{place}: {key}: {reason}" if key else f"{place}: {reason}")
        self.key = key
        self.line = line
        self.reason = reason


class Source:
    """The file that is being read, to say where something stands."""

    def __init__(self, file_name: str, data: Mapping[str, Any], lines: Mapping[KeyPath, int]) -> None:
        self._file_name = file_name
        self._lines = lines
        self._ids: dict[int, str] = {}
        limits, taken = data.get("limits"), set()
        for index, limit in enumerate(limits if isinstance(limits, list) else ()):
            name = limit.get("id") if isinstance(limit, dict) else None
            if isinstance(name, str) and name and visible(name) not in taken:
                self._ids[index] = visible(name)
                taken.add(visible(name))

    def display(self, path: KeyPath) -> str:
        """Return the key path as printed; a limit goes by its id, other rows are counted from 1."""
        words = ""
        for depth, part in enumerate(path):
            if isinstance(part, str):
                words += f".{visible(part)}" if words else visible(part)
            elif depth == 1 and path[0] == "limits" and part in self._ids:
                words += f".{self._ids[part]}"
            else:
                words += f"[{part + 1}]"
        return words

    def line(self, path: KeyPath) -> int | None:
        """Return the line of what stands at this path; None for the file as a whole."""
        return self._lines.get(path)

    def refuse(self, path: KeyPath, reason: str) -> NoReturn:
        """Raise the refusal of what stands at this path."""
        raise ProfileError(self._file_name, self.line(path), self.display(path), reason)

    def all_lines(self) -> dict[str, int]:
        """Return the line of every key by its printed path."""
        return {self.display(path): line for path, line in self._lines.items()}


def did_you_mean(word: str, known: Collection[str]) -> str:
    """Return ``did you mean "..."?`` or, where nothing is near, the words that there are."""
    near = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    if near:
        return f'did you mean "{near[0]}"?'
    return "known here: " + ", ".join(sorted(known)) + "."


def kind_of(value: object) -> str:
    """Return in words what a TOML value is, with the value where it is short."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return f"the number {value:.15g}" if abs(value) < 1e15 else "a number"
    if isinstance(value, str):
        return f'the text "{value}"' if len(value) <= 40 else "a long text"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, Sequence):
        return "a list"
    return "a date or time"


class Table:
    """One table of the profile. Unknown keys are refused when it is made.

    Parameters
    ----------
    source : Source
        Where it stands.
    path : KeyPath
        Its own path.
    data : object
        What the file has there; refused when it is not a table.
    known : collection of str or None
        The keys that it may have; None when the caller checks them.
    """

    def __init__(self, source: Source, path: KeyPath, data: object, known: Collection[str] | None) -> None:
        self.source = source
        self.path = path
        if not isinstance(data, Mapping):
            source.refuse(path, f"must be a table, not {kind_of(data)}.")
        self._data: Mapping[str, Any] = data
        if known is not None:
            for key in data:
                if key not in known:
                    self.refuse(key, f"unknown key; {did_you_mean(key, known)}")

    def __contains__(self, key: str) -> bool:
        return key in self._data

    def __iter__(self) -> Iterator[str]:
        """Return the keys that the file has here, in its order."""
        return iter(self._data)

    def refuse(self, key: str | None, reason: str) -> NoReturn:
        """Raise the refusal of one key, or of the table when `key` is None."""
        self.source.refuse(self.path if key is None else (*self.path, key), reason)

    def need(self, *keys: str) -> None:
        """Refuse the table when it lacks one of these keys."""
        for key in keys:
            if key not in self._data:
                self.refuse(None, f'the key "{key}" is missing.')

    def raw(self, key: str) -> Any:
        """Return the value as the file has it, None when absent."""
        return self._data.get(key)

    def number(self, key: str, *, least: float | None = None, above: float | None = None) -> float | None:
        """Return a finite number, None when absent; refused below `least` or not above `above`."""
        if key not in self._data:
            return None
        return as_number(self.source, (*self.path, key), self._data[key], least=least, above=above)

    def needed_number(self, key: str, *, least: float | None = None, above: float | None = None) -> float:
        """Return a finite number; refused when it is absent, below `least` or not above `above`."""
        self.need(key)
        return as_number(self.source, (*self.path, key), self._data[key], least=least, above=above)

    def needed_text(self, key: str) -> str:
        """Return a text that is not blank; refused when it is absent."""
        self.need(key)
        return self.text(key) or ""

    def text(self, key: str) -> str | None:
        """Return a text that is not blank, None when absent."""
        if key not in self._data:
            return None
        value = self._data[key]
        if not isinstance(value, str):
            self.refuse(key, f"must be a text in quotes, not {kind_of(value)}.")
        if not value.strip():
            self.refuse(key, "is an empty text: fill it in, or leave the key out if it may be absent.")
        return as_text(self.source, (*self.path, key), value)

    def choice(self, key: str, options: Collection[str]) -> str | None:
        """Return one of these words, None when absent."""
        value = self.text(key)
        if value is not None and value not in options:
            self.refuse(key, f'"{value}" is not one of the words known here; {did_you_mean(value, options)}')
        return value

    def flag(self, key: str) -> bool | None:
        """Return true or false, None when absent."""
        value = self._data.get(key)
        if value is not None and not isinstance(value, bool):
            self.refuse(key, f"must be true or false without quotes, not {kind_of(value)}.")
        return value

    def date(self, key: str) -> str | None:
        """Return a date as YYYY-MM-DD, None when absent; the file has it with or without quotes."""
        value = self._data.get(key)
        if value is None:
            return None
        if isinstance(value, str):
            try:
                value = date.fromisoformat(value.strip())
            except ValueError:
                self.refuse(key, f'{kind_of(value)} is not a date: write it as "2026-11-30".')
        if not isinstance(value, date) or isinstance(value, datetime):
            self.refuse(key, f'must be a date, such as "2026-11-30", not {kind_of(value)}.')
        return value.isoformat()

    def texts(self, key: str, options: Collection[str] | None = None) -> tuple[str, ...]:
        """Return a list of texts, empty when absent."""
        out = []
        for index, value in enumerate(self.items(key)):
            path = (*self.path, key, index)
            if not isinstance(value, str) or not value.strip():
                self.source.refuse(path, f"must be a text in quotes, not {kind_of(value)}.")
            value = as_text(self.source, path, value)
            if options is not None and value not in options:
                self.source.refuse(
                    path, f'"{value}" is not one of the words known here; {did_you_mean(value, options)}'
                )
            out.append(value)
        return tuple(out)

    def items(self, key: str) -> list[Any]:
        """Return a list as the file has it, empty when absent."""
        value = self._data.get(key, [])
        if not isinstance(value, list):
            self.refuse(key, f"must be a list in square brackets, not {kind_of(value)}.")
        if len(value) > MOST_ROWS:
            self.refuse(key, f"has {len(value)} rows, may have {MOST_ROWS} at most.")
        return value

    def table(self, key: str, known: Collection[str] | None) -> Table | None:
        """Return the table under this key, None when absent."""
        if key not in self._data:
            return None
        return Table(self.source, (*self.path, key), self._data[key], known)

    def tables(self, key: str, known: Collection[str]) -> list[Table]:
        """Return the list of tables under this key, empty when absent."""
        return [
            Table(self.source, (*self.path, key, index), item, known)
            for index, item in enumerate(self.items(key))
        ]

    def pairs(self, key: str) -> list[tuple[float, float]]:
        """Return a list of pairs of numbers, empty when absent."""
        return [
            as_pair(self.source, (*self.path, key, index), item) for index, item in enumerate(self.items(key))
        ]


def as_text(source: Source, path: KeyPath, value: str) -> str:
    """Return a text as it is shown everywhere; one that is too long to be shown is refused."""
    if len(value) > LONGEST_TEXT:
        source.refuse(path, f"is a text of {len(value)} characters: {LONGEST_TEXT} is the most.")
    return visible(value)


def as_number(
    source: Source, path: KeyPath, value: object, *, least: float | None = None, above: float | None = None
) -> float:
    """Return a finite number; anything else that stands at `path` is refused."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        source.refuse(path, f"must be a number without quotes, not {kind_of(value)}.")
    try:
        number = float(value)
    except OverflowError:
        number = math.inf
    if not math.isfinite(number):
        source.refuse(path, "must be a finite number, not nan or infinity.")
    if abs(number) > LARGEST or 0 < abs(number) < SMALLEST:
        source.refuse(path, f"is {number:g}, which no engine has: its size must be between 1e-9 and 1e9.")
    if least is not None and number < least:
        source.refuse(path, f"is {number:g}, must not be less than {least:g}.")
    if above is not None and number <= above:
        source.refuse(path, f"is {number:g}, must be more than {above:g}.")
    return number


def as_pair(source: Source, path: KeyPath, value: object) -> tuple[float, float]:
    """Return two finite numbers; anything else that stands at `path` is refused."""
    if not isinstance(value, list) or len(value) != 2:
        source.refuse(path, "must be a pair of numbers, such as [400, 780].")
    return as_number(source, (*path, 0), value[0]), as_number(source, (*path, 1), value[1])
