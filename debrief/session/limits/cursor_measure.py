"""What lies between two moments of a trace: difference, rate, and time beyond the level that applies."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.recording.model import Channel
from debrief.words.channels import within_sentence
from debrief.words.events import event_title
from debrief.words.numbers import bounds, decimals_for, number, plain, signed, unit_words

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
    seconds : float
        As the analysis counted them, [s].
    bounds : (float, float)
        Least and most that it may have been, as the analysis bounds it, [s].
    unit : str or None
        Of the level; it decides how a converted one is rounded.
    """

    limit_id: str
    event: str
    level: float
    below: bool
    seconds: float
    bounds: tuple[float, float]
    unit: str | None = None

    @property
    def words(self) -> str:
        """The level, whose it is, and the seconds."""
        whose = within_sentence(event_title(self.event))
        head = f"{'below' if self.below else 'above'} {plain(self.level, self.unit)} ({whose})"
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
        parts = [f"{signed(self.difference, decimals)} {unit}".rstrip()]
        if self.rate is not None:
            parts.append(f"{signed(self.rate, decimals + 1)} {unit}/s")
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
