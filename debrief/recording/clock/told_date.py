"""The date that a preamble tells of a recording whose rows have the time of day alone."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from debrief.recording.clock.start_dates import impossible, not_a_start
from debrief.recording.clock.time_cell import read_stamp
from debrief.recording.csv.dialect import Dialect
from debrief.recording.lexicon import load, squeeze

_DAY_FIRST = re.compile(
    r"^(\d{1,2})\.?[\s-]*(?:de\s+|di\s+)?([^\W\d_]{3,})\.?,?[\s-]*(?:de\s+|del\s+)?(\d{4})$"
)
_MONTH_FIRST = re.compile(r"^([^\W\d_]{3,})\.?\s+(\d{1,2})(?:st|nd|rd|th)?,?\s+(\d{4})$")
_LEAST_DIGITS = 3
"""What has fewer is no date at all, as under a key such as ``Day``."""


@dataclass(frozen=True)
class ToldDate:
    """What a preamble says of the date.

    Attributes
    ----------
    key, text : str
        As found in the file; empty where it says nothing of it.
    day : str
        The date, as it can be read beside clock times; empty where it cannot be used.
    problem : str
        Why it cannot be used, as the end of a sentence; empty where it can.
    """

    key: str = ""
    text: str = ""
    day: str = ""
    problem: str = ""

    def unused(self) -> str:
        """Return what must be said where no row has a time of day to go with it; empty where nothing was told."""
        if not self.text:
            return ""
        why = self.problem or "does not tell at what time the first row was"
        return f'the preamble\'s {self.key} "{self.text}" {why}; it was not used'


NO_DATE = ToldDate()
"""Nothing is told."""


def told_date(dialect: Dialect) -> ToldDate:
    """Return the date that the preamble tells under a name of the date, in English or another language.

    Of a date with a time of day only the date counts: it may be that of the export.
    """
    names = load().date_of_file
    key, text = next(((k, v) for k, v in dialect.values if squeeze(k) in names and v.strip()), ("", ""))
    text = text.strip()
    if sum(map(str.isdigit, text)) < _LEAST_DIGITS:
        return NO_DATE
    day = _in_numbers(text) or text.partition("T")[0].split()[0].rstrip(",")
    stamps = [read_stamp(day, month_first=order) for order in (False, True)]
    days = [stamp.day for stamp in stamps if stamp is not None and stamp.day is not None]
    problem = "is not a date that is known" if not days else not_a_start(day) or impossible(days[0])
    return ToldDate(key, text, "" if problem else day, problem)


def _in_numbers(text: str) -> str:
    """Return a date with a month's name, in any language of the lexicon, as ``2031-03-12``; empty where it is none."""
    found = _DAY_FIRST.match(text)
    day, month, year = found.groups() if found else ("", "", "")
    if found is None and (found := _MONTH_FIRST.match(text)) is not None:
        month, day, year = found.groups()
    number = month_of(month) if month else None
    return f"{year}-{number:02d}-{int(day):02d}" if number is not None else ""


def month_of(word: str) -> int | None:
    """Return the month, from 1, that a name or its first three letters and more mean; None where it could be two.

    Examples
    --------
    >>> month_of("März"), month_of("fév"), month_of("dez"), month_of("jui"), month_of("diciembre")
    (3, 2, 12, None, 12)
    """
    asked = _folded(word)
    found = {
        number
        for number, names in enumerate(load().months, 1)
        for name in names
        if len(asked) >= 3 and _folded(name).startswith(asked)
    }
    return found.pop() if len(found) == 1 else None


def _folded(text: str) -> str:
    parts = unicodedata.normalize("NFKD", text.casefold().replace("ae", "a"))
    return "".join(sign for sign in parts if not unicodedata.combining(sign))
