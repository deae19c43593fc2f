"""How long something lasted, as a person types it."""

from __future__ import annotations

import re

from debrief.errors import UserError

EXAMPLES = "30 min, 1:30 (minutes and seconds), 2 h or 1800 (seconds)"
EXAMPLES_IN_MINUTES = "30 (minutes), 1 h 10, 90 s or 1:30 (minutes and seconds)"
LONGEST_S = 1e9
_SMALLER = {86400.0: 3600.0, 3600.0: 60.0, 60.0: 1.0}
"""The unit that a number without one has behind another: 1 h 10 is 1 h 10 min."""
_UNITS = {
    "": 1.0,
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds"), 1.0),
    **dict.fromkeys(("m", "min", "mins", "minute", "minutes"), 60.0),
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), 3600.0),
    **dict.fromkeys(("d", "day", "days"), 86400.0),
}
_NUMBER = r"\d+(?:[.,]\d+)?"
_PART = re.compile(rf"\s*({_NUMBER}(?:e\d+)?)\s*([a-z]*)\.?\s*,?")
_CLOCK = re.compile(rf"\s*(?:(\d+):)?(\d+):({_NUMBER})\s*(h|min|)\s*")


def seconds_of(text: str, in_minutes: bool = False) -> float:
    """Return the length of time that a text tells, [s].

    Parameters
    ----------
    text : str
        A number of seconds, or one with a unit (s, min, h, d), several such from the largest unit down, or a clock:
        ``m:ss``, ``h:mm:ss``, and ``h:mm h``. A decimal comma is understood. A last number without a unit has the next
        smaller one: ``1 h 10``.
    in_minutes : bool
        Whether a number alone is minutes, as where "min" stands behind the field.

    Raises
    ------
    UserError
        It tells none: what was written, and what would be understood.

    Examples
    --------
    >>> [seconds_of(text) for text in ("1800", "30 min", "1:30", "2 h", "1 h 30 min", "1,5h", "1:00:00", "1 h 10")]
    [1800.0, 1800.0, 90.0, 7200.0, 5400.0, 5400.0, 3600.0, 4200.0]
    >>> seconds_of("30", in_minutes=True)
    1800.0
    """
    low = text.strip().lower()
    clock = _CLOCK.fullmatch(low)
    seconds = _of_clock(*clock.groups()) if clock else _of_parts(low, 60.0 if in_minutes else 1.0)
    if seconds is None or not seconds < LONGEST_S:
        examples = EXAMPLES_IN_MINUTES if in_minutes else EXAMPLES
        raise UserError(f'"{text.strip()}" is no length of time: write {examples}.')
    return seconds


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _of_clock(hours: str | None, minutes: str, seconds: str, unit: str) -> float | None:
    last = _number(seconds)
    if last >= 60 or (hours is not None and (int(minutes) >= 60 or unit)):
        return None
    whole = int(hours or 0) * 3600.0 + int(minutes) * 60.0 + last
    return whole * 60.0 if unit == "h" else whole


def _of_parts(text: str, alone: float) -> float | None:
    """Return the sum of numbers with units; each unit is smaller than the one before, and only the last may have none.

    `alone` is the unit of a number without any, [s].
    """
    total, place, largest = 0.0, 0, float("inf")
    while place < len(text):
        part = _PART.match(text, place)
        unit = None if part is None else _UNITS.get(part[2])
        if part is not None and not part[2]:
            unit = _SMALLER.get(largest) if largest < float("inf") else alone
            # What goes on behind it, and 75 min behind an hour, are slips of the pen.
            if part.end() < len(text) or (unit and _number(part[1]) * unit >= largest):
                return None
        if part is None or unit is None or unit >= largest:
            return None
        total, place, largest = total + _number(part[1]) * unit, part.end(), unit
    return total if place else None
