"""Whether a date can be that of a recording: not one that reads two ways, of an unset clock, or yet to come."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta

from debrief.recording.clock.time_cell import day_month_pair

FIRST = date(1981, 1, 1)
"""No flight was recorded as text by a clock that was set before; counters of seconds begin at 1970 or 1980."""
YET_TO_COME = timedelta(days=3653)
"""So far ahead no clock is set that was ever set. Nearer dates are those of invented flights."""
_RESET = (date(2000, 1, 1), date(2000, 1, 2))
"""Where a clock begins that lost its battery."""
_SHORT_YEAR = re.compile(r"^\s*\d{1,2}[-/.]\d{1,2}[-/.]\d{2}(?!\d)")


def today() -> date:
    """Return the date of today in UTC."""
    return datetime.now(UTC).date()


def reads_two_ways(text: str) -> tuple[str, str] | None:
    """Return the two dates, in ISO 8601, that a date such as ``03/04/2023`` may be; None where it is one only.

    Between points the day stands first.
    """
    first_word = text.strip().replace("T", " ").partition(" ")[0].rstrip(",")
    pair = day_month_pair(first_word)
    if pair is None:
        return None
    first, between, second = pair
    if between == "." or first == second or not (1 <= first <= 12 and 1 <= second <= 12):
        return None
    year = re.split(r"[-/]", first_word)[2]
    year = year if len(year) == 4 else f"20{year}"
    return f"{year}-{second:02d}-{first:02d}", f"{year}-{first:02d}-{second:02d}"


def not_a_start(text: str) -> str:
    """Return why a text that can be read as an instant tells no sure date; empty where it does.

    The reason goes on after the text: ``could be 3 April or 4 March``.
    """
    two = reads_two_ways(text)
    if two is not None:
        return f"could be {two[0]} or {two[1]}"
    if _SHORT_YEAR.match(text):
        return "has a year of two digits"
    return ""


def impossible(day: date) -> str:
    """Return why no recording can be of a date; empty where one can."""
    if day < FIRST or day in _RESET:
        return "is where a clock begins that was not set"
    if day > today() + YET_TO_COME:
        return "is yet to come"
    return ""
