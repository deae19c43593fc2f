"""What lies between two moments of a trace: difference, rate, and time beyond the level that applies."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.recording.model import Channel, FloatArray
from debrief.words.cautions import bounds, decimals_for, number, plain, unit_words
from debrief.words.events import event_title

_PIECE = 1 << 15

Breaks = NDArray[np.bool_]


@dataclass(frozen=True)
class Beyond:
    """Time beyond one level of a limit, between two moments and inside the limit's own windows.

    Attributes
    ----------
    limit_id, event : str
        Whose level it is, and the kind of finding that it makes.
    level : float
        [unit of the channel]
    below : bool
        Whether the limit is a minimum.
    seconds : float or None
        None while they are still counted, [s].
    bounds : (float, float) or None
        Least and most that it may have been, as the analysis bounds it; None where they were not worked out, [s].
    unit : str or None
        Of the level; it decides how a converted one is rounded.
    """

    limit_id: str
    event: str
    level: float
    below: bool
    seconds: float | None
    bounds: tuple[float, float] | None = None
    unit: str | None = None

    @property
    def words(self) -> str:
        """The level, whose it is, and the seconds."""
        title = event_title(self.event)
        whose = f"{title[:1].lower()}{title[1:]}"
        head = f"{'below' if self.below else 'above'} {plain(self.level, self.unit)} ({whose})"
        if self.seconds is None:
            return f"{head} counting"
        if self.bounds is None:
            return f"{head} for {number(self.seconds, 1)} s"
        least, most = bounds(*self.bounds, 1)
        return f"{head} for {number(self.seconds, 1)} s [{least} to {most}]"


@dataclass(frozen=True)
class Measured:
    """Measured between two moments of one channel.

    Attributes
    ----------
    duration_s : float
        Seconds from the mark to the other moment; negative when that lies before.
    difference : float
        Value there minus value at the mark, [unit].
    rate : float or None
        Difference a second, [unit/s]; None for no duration.
    unit : str
        Of the channel.
    limit : Beyond or None
        Seconds beyond the nearest level that applies between the two moments; None where none does.
    """

    duration_s: float
    difference: float
    rate: float | None
    unit: str
    limit: Beyond | None = None

    @property
    def words(self) -> str:
        """The measures in one line, such as ``+812 °C, +262 °C/s, above 830 (hot start) for 3.1 s``."""
        return ", ".join(self._parts)

    @property
    def shorter(self) -> tuple[str, ...]:
        """The line in ever shorter forms, where there is less room: without the rate, then one part alone."""
        first = self._parts[0]
        if self.limit is None:
            return (self.words, first)
        return (self.words, f"{first}, {self.limit.words}", self.limit.words)

    @property
    def _parts(self) -> list[str]:
        decimals = decimals_for(self.unit)
        unit = unit_words(self.unit)
        parts = [f"{_signed(self.difference, decimals)} {unit}".rstrip()]
        if self.rate is not None:
            parts.append(f"{_signed(self.rate, decimals + 1)} {unit}/s")
        if self.limit is not None:
            parts.append(self.limit.words)
        return parts


def interpolated(channel: Channel, breaks: Breaks, time_s: float) -> float | None:
    """Return the channel's value at a moment: held for a discrete, else on the line between samples.

    Returns None before the first sample, after the last, across a gap, and where a sample is not known.
    """
    value = _interpolated(channel, breaks, time_s)
    return value if value is not None and math.isfinite(value) else None


def _interpolated(channel: Channel, breaks: Breaks, time_s: float) -> float | None:
    times, values = channel.time_s, channel.values
    index = int(np.searchsorted(times, time_s + 1e-9, side="right")) - 1
    if index < 0:
        return None
    if index == times.size - 1:
        return float(values[-1]) if channel.is_discrete or time_s <= times[-1] + 1e-9 else None
    if channel.is_discrete:
        return float(values[index])
    if time_s <= times[index] + 1e-9:
        return float(values[index])
    if breaks[index]:
        return None
    share = (time_s - times[index]) / (times[index + 1] - times[index])
    before, after = float(values[index]), float(values[index + 1])
    return before + float(share) * (after - before)


class AboveLevel:
    """Seconds above one level from the first sample on, so that any two moments are told apart at once.

    Parameters
    ----------
    channel : Channel
        The trace.
    breaks : (n - 1,) bool array
        Where a gap follows a sample; across it nothing is counted.
    level : float
        Equal is not above.

    Notes
    -----
    Over a long recording counting takes some hundredths of a second; moving the second moment does not.
    """

    def __init__(self, channel: Channel, breaks: Breaks, level: float) -> None:
        self._time_s, self._values = channel.time_s, channel.values - level
        self._joined = ~breaks
        above = np.zeros(channel.time_s.size)
        # In pieces that fit the processor's cache: over one long array each step would wait for the memory.
        for first in range(0, max(above.size - 1, 0), _PIECE):
            rows = slice(first, min(first + _PIECE, above.size - 1))
            above[rows.start + 1 : rows.stop + 1] = self._above_between(rows)
        self._until = np.cumsum(above, out=above)

    def _above_between(self, rows: slice) -> FloatArray:
        """Return the seconds above between each of these samples and the next."""
        time_s, values = (a[rows.start : rows.stop + 1] for a in (self._time_s, self._values))
        v0, v1 = values[:-1], values[1:]
        rise = np.abs(v1 - v0)
        share = (np.maximum(v0, 0.0) + np.maximum(v1, 0.0)) / np.where(rise > 0, rise, 1.0)
        # A line wholly above, or wholly below.
        share = np.where((v0 > 0) != (v1 > 0), share, (v0 > 0).astype(np.float64))
        return np.asarray(share * np.diff(time_s) * self._joined[rows])

    def _until_s(self, time_s: float) -> float:
        times, values = self._time_s, self._values
        index = int(np.searchsorted(times, time_s, side="right")) - 1
        if index < 0 or times.size < 2:
            return 0.0
        if index >= times.size - 1:
            return float(self._until[-1])
        if not self._joined[index]:
            return float(self._until[index])
        t0, t1, v0, v1 = times[index], times[index + 1], values[index], values[index + 1]
        if v0 > 0 and v1 > 0:
            above = time_s - t0
        elif v0 <= 0 and v1 <= 0:
            above = 0.0
        else:
            cross = t0 + (t1 - t0) * v0 / (v0 - v1)
            above = min(time_s, cross) - t0 if v0 > 0 else max(time_s - cross, 0.0)
        return float(self._until[index] + above)

    def between(self, first_s: float, second_s: float) -> float:
        """Return the seconds above the level between two moments, in any order, [s]."""
        return abs(self._until_s(second_s) - self._until_s(first_s))


def rows_between(channel: Channel, first_s: float, second_s: float) -> int:
    """Return how many samples lie between two moments."""
    rows = np.searchsorted(channel.time_s, (first_s, second_s))
    return abs(int(rows[1]) - int(rows[0]))


def measure(
    channel: Channel, breaks: Breaks, mark_s: float, other_s: float, limit: Beyond | None = None
) -> Measured | None:
    """Return what lies between two moments, in any order, [s]; None where either has no value.

    `limit` are the seconds beyond the level that applies, if one does.
    """
    first = interpolated(channel, breaks, mark_s)
    second = interpolated(channel, breaks, other_s)
    if first is None or second is None:
        return None
    duration = other_s - mark_s
    return Measured(
        duration_s=duration,
        difference=second - first,
        rate=(second - first) / duration if abs(duration) > 1e-9 else None,
        unit=channel.unit,
        limit=limit,
    )


def _signed(value: float, decimals: int) -> str:
    text = number(value, decimals)
    return text if text.startswith("\N{MINUS SIGN}") else f"+{text}"
