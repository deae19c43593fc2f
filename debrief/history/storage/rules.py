"""Kinds of values that a column of the history may hold, and JSON from a source that may hold anything."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from debrief.history.model import LONGEST_NOTE
from debrief.history.usual.kept_curves import are_curves

LONGEST_SHOWN = 40
"""Characters of a value that a message repeats."""
_FIRST_EPOCH_S = datetime(1900, 1, 1, tzinfo=UTC).timestamp()
_LAST_EPOCH_S = datetime(2200, 1, 1, tzinfo=UTC).timestamp()
_HIGHEST_NG_PCT = 200


@dataclass(frozen=True)
class Rule:
    """What one column may hold: `words` say it after "must be"."""

    fits: Callable[[Any], bool]
    words: str
    longest: int | None = None
    """Of a text that may be cut, in characters."""


def number(low: float, high: float, words: str = "") -> Rule:
    """Return the rule of a number within a range."""
    # A NaN fails both comparisons, and True is no number.
    return Rule(
        lambda value: type(value) in (float, int) and low <= value <= high,
        words or f"a number from {low:g} to {high:g}",
    )


def whole(low: int, high: int) -> Rule:
    """Return the rule of a whole number within a range."""
    return Rule(
        lambda value: type(value) is int and low <= value <= high, f"a whole number from {low} to {high}"
    )


def is_storable(value: str) -> bool:
    """Whether a database can hold a text: no NUL, no half of a character."""
    return "\x00" not in value and (value.isascii() or not re.search("[\ud800-\udfff]", value))


def text(longest: int) -> Rule:
    """Return the rule of a text that may be cut."""
    return Rule(
        lambda value: type(value) is str and len(value) <= longest and is_storable(value),
        f"a text of at most {longest} characters",
        longest,
    )


def pattern(expression: str, words: str) -> Rule:
    """Return the rule of a text that matches as a whole."""
    matches = re.compile(expression).fullmatch
    return Rule(lambda value: type(value) is str and matches(value) is not None, words)


def one_of(*values: str) -> Rule:
    """Return the rule of a text that is one of these."""
    known = frozenset(values)
    return Rule(lambda value: type(value) is str and value in known, f"one of {', '.join(values)}")


def _is_instant(value: object) -> bool:
    if type(value) is not str or len(value) > 40:
        return False
    try:
        datetime.fromisoformat(value)
    except ValueError:
        return False
    return True


def _is_trace(value: object) -> bool:
    if type(value) is not str or len(value) > 20_000:
        return False
    parsed = parsed_or_none(value)
    if not isinstance(parsed, list) or len(parsed) != 2 or not all(isinstance(part, list) for part in parsed):
        return False
    percents, values = parsed
    return (
        len(percents) == len(values)
        and all(type(one) is int and 0 <= one <= _HIGHEST_NG_PCT for one in percents)
        and all(type(one) in (int, float) and -300 <= one <= 10_000 for one in values)
    )


def _is_curves(value: object) -> bool:
    return type(value) is str and len(value) <= 200_000 and are_curves(parsed_or_none(value))


_ONE_VERSION = "[0-9]{1,9}-[0-9a-f]{12}"
SHA256 = pattern("[0-9a-f]{64}", "64 hexadecimal digits")
ID = pattern("[0-9A-Za-z-]{1,36}", "letters, digits and hyphens, at most 36")
INSTANT = Rule(_is_instant, "an instant such as 2031-05-04T09:30:00+00:00")
EPOCH = number(_FIRST_EPOCH_S, _LAST_EPOCH_S, "seconds since 1970 that lie between the years 1900 and 2200")
SECONDS = number(-1e9, 1e9)
TRUTH = Rule(lambda value: type(value) in (bool, int) and value in (0, 1), "true or false")
COUNT = whole(0, 2**62)
ENGINE = whole(1, 9999)
START = whole(1, 2**31 - 1)
VERSION = pattern(f"({_ONE_VERSION})?", "the number and mark of a change, as 3-9f1c22ab04de")
VERSIONS = pattern(f"({_ONE_VERSION}( {_ONE_VERSION}){{0,99999}})?", "numbers and marks of changes")
NAME = text(400)
# Of what an index holds; four bytes a character, and PostgreSQL's index has room for 2,700 bytes a row.
ENGINE_NAME = text(420)
PATH = text(20_000)
SENTENCE = text(100_000)
WORDS = text(LONGEST_NOTE)
FILE = replace(text(1 << 26), longest=None)
TRACE = Rule(_is_trace, f"ITT at whole percents of Ng from 0 to {_HIGHEST_NG_PCT}")

CURVES = Rule(
    _is_curves, "the traces of a start: its frame, its moments, and times and values of each channel"
)


def parsed_or_none(text: str) -> object:
    """Return JSON as values; None where it is none, or holds numbers that JSON has not."""
    try:
        return parsed_json(text)
    except ValueError:
        return None


_MOST_PARTS = 500_000
_LEAST_OF_A_PART = 32
"""Characters: of what the program writes a row has many more. An empty one of two characters takes 72 bytes."""


def parsed_json(text: str) -> object:
    """Return JSON as values.

    Raises
    ------
    ValueError
        It is no JSON: also where a number is not finite, it is nested without an end, or it is so dense that it
        would take far more memory than its length.
    """
    parts = text.count("{") + text.count("[")
    if parts > _MOST_PARTS and parts * _LEAST_OF_A_PART > len(text):
        raise ValueError("more rows and lists than any flight has")
    try:
        return json.loads(text, parse_constant=_refused, parse_float=_finite)
    except RecursionError:
        raise ValueError("nested too deeply") from None


class NoNumber(ValueError):
    """A number that is not finite, in words."""


def _refused(name: str) -> float:
    raise NoNumber(f"{name} is no number of JSON")


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise NoNumber(f"{text[:LONGEST_SHOWN]} is too large a number")
    return value
