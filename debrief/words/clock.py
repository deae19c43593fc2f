"""How a moment of a recording is told: elapsed since its first sample, in the recorder's local time, or in UTC.

The window alone has this choice. Paper, command line and files tell elapsed time with the start of the recording.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import Literal, get_args

from debrief.words.numbers import clock_bounds, clock_text

TimeShown = Literal["elapsed", "local", "utc"]
TIMES_SHOWN: tuple[TimeShown, ...] = get_args(TimeShown)
_WORDS: dict[TimeShown, str] = {"elapsed": "Elapsed time", "local": "Local time", "utc": "UTC"}
_NO_TIME_OF_DAY = "no date and time of day recorded"
_NO_ZONE = "time zone not recorded"
_NO_LOCAL = "this recording's clock is UTC"
_TOO_FAR = "not for this date"

_DAY_S = 86400


def time_choice(shown: TimeShown, why_not: str = "") -> str:
    """Return the words of a choice, with the reason where it cannot be had: ``UTC (time zone not recorded)``."""
    return f"{_WORDS[shown]} ({why_not})" if why_not else _WORDS[shown]


@dataclass(frozen=True)
class Clock:
    """Tells the moments of one recording.

    Attributes
    ----------
    start : datetime or None
        The recording's first sample, as its clock had it.
    duration_s : float
        Its length, [s].
    wanted : str
        What a person chose to read.
    """

    start: datetime | None = None
    duration_s: float = 0.0
    wanted: TimeShown = "elapsed"

    @property
    def shown(self) -> TimeShown:
        """What is told: elapsed time where the recording cannot be told as it is wanted."""
        return "elapsed" if self.why_not(self.wanted) else self.wanted

    def why_not(self, shown: TimeShown) -> str:
        """Return why the recording cannot be told so; empty where it can. No zone is guessed."""
        if shown == "elapsed":
            return ""
        if self.start is None:
            return _NO_TIME_OF_DAY
        if shown == "local":
            return _NO_LOCAL if _is_utc(self.start) else ""
        if self.start.tzinfo is None:
            return _NO_ZONE
        return "" if _in_utc(self.start) is not None else _TOO_FAR

    @property
    def beside(self) -> str:
        """What stands beside a time of day: ``UTC``, ``+01:00``, ``local, zone not recorded``; empty for elapsed time."""
        begin = self._begin
        return "" if begin is None else _zone_words(begin)

    @property
    def offset_s(self) -> float:
        """What the clock shows at the first sample, [s since midnight]; 0 for elapsed time."""
        begin = self._begin
        return 0.0 if begin is None else _second_of_day(begin)

    @property
    def begins(self) -> str:
        """Date and time of the first sample, with what stands beside it; empty where it is not known.

        In UTC only where moments are told so, else as the recorder's clock had it.
        """
        return self.date_text(seconds=False)

    def date_text(self, *, seconds: bool) -> str:
        """Return as `begins`, with or without the seconds."""
        begin = self._begin or self.start
        if begin is None:
            return ""
        time_of_day = f"{begin:%H:%M:%S}" if seconds else f"{begin:%H:%M}"
        return f"{begin:%d %b %Y}, {time_of_day} {_zone_words(begin)}"

    def text(self, time_s: float | None, decimals: int = 1) -> str:
        """Return a moment, [s from the first sample]: ``0:19.4`` elapsed, or ``23:59:59.4`` by the clock.

        In a recording of a day and more a time of day has its day: ``day 2 00:00:10.0``.
        """
        begin = self._begin
        if begin is None or time_s is None or not math.isfinite(time_s):
            return clock_text(time_s, decimals)
        return self._time_of_day(begin, time_s, decimals)

    def bounds(self, low_s: float, high_s: float, decimals: int = 1) -> tuple[str, str]:
        """Return two moments as the clock shows them, the earlier rounded down and the later up."""
        begin = self._begin
        if begin is None:
            return clock_bounds(low_s, high_s, decimals)
        return (
            self._time_of_day(begin, low_s, decimals, math.floor),
            self._time_of_day(begin, high_s, decimals, math.ceil),
        )

    def other(self, time_s: float) -> str:
        """Return the same moment told the other way: by the recorder's clock beside elapsed time, and elapsed beside that.

        Empty where the recording has no time of day.
        """
        if self._begin is not None:
            return f"{clock_text(time_s)} elapsed"
        if self.start is None:
            return ""
        return f"{self._time_of_day(self.start, time_s, 1)} {_zone_words(self.start)}"

    def widest(self) -> str:
        """Return a text as wide as that of any moment: the digits of a font are equally wide."""
        longest = max((self.text(0.0), self.text(self.duration_s)), key=len)
        return "".join("0" if c.isdigit() else c for c in longest)

    @property
    def _begin(self) -> datetime | None:
        """The first sample as a clock shows it that is read; None for elapsed time."""
        shown = self.shown
        if shown == "elapsed" or self.start is None:
            return None
        return _in_utc(self.start) if shown == "utc" else self.start

    def _time_of_day(
        self, begin: datetime, time_s: float, decimals: int, rounded: Callable[[float], int] = round
    ) -> str:
        scale = 10**decimals
        ticks = rounded(round((_second_of_day(begin) + time_s) * 1e6) * scale / 1_000_000)
        whole, part = divmod(ticks, scale)
        day, second = divmod(whole, _DAY_S)
        minutes, second = divmod(second, 60)
        tail = f".{part:0{decimals}d}" if decimals else ""
        which = f"day {day + 1} " if self.duration_s >= _DAY_S else ""
        return f"{which}{minutes // 60:02d}:{minutes % 60:02d}:{second:02d}{tail}"


ELAPSED = Clock()
"""For whom tells elapsed time only."""


def _in_utc(start: datetime) -> datetime | None:
    try:
        return start.astimezone(UTC)
    except OverflowError:  # the first or the last day that a date can have
        return None


def _is_utc(start: datetime) -> bool:
    return start.utcoffset() == timedelta(0)


def _second_of_day(moment: datetime) -> float:
    midnight = datetime.combine(moment.date(), time(), moment.tzinfo)
    return (moment - midnight).total_seconds()


def _zone_words(moment: datetime) -> str:
    offset = moment.utcoffset()
    if offset is None:
        return "local, zone not recorded"
    if not offset:
        return "UTC"
    hours, minutes = divmod(abs(offset) // timedelta(minutes=1), 60)
    return f"{'-' if offset < timedelta(0) else '+'}{hours:02d}:{minutes:02d}"
