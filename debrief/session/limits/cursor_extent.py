"""What a trace did between two moments: its highest, its lowest and its mean, and how much of it nobody knows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.recording.model import Channel, FloatArray
from debrief.session.limits.cursor_measure import Breaks, interpolated
from debrief.words.clock import ELAPSED, Clock
from debrief.words.numbers import decimals_for, number, unit_words

_LEAST_UNKNOWN_S = 0.05
"""Less than is printed: a moment that nobody knows."""


@dataclass(frozen=True)
class Extent:
    """What is known of a stretch.

    Attributes
    ----------
    highest, highest_s, lowest, lowest_s : float
        Value and moment, [unit], [s]: of the samples and of both ends.
    mean : float
        Over the time that is known, [unit].
    unknown_s : float
        Across gaps, and before and after the samples, [s].
    """

    highest: float
    highest_s: float
    lowest: float
    lowest_s: float
    mean: float
    unknown_s: float
    unit: str

    def forms(self, clock: Clock = ELAPSED) -> tuple[str, ...]:
        """In words, ever shorter: with the moments, without, without the mean. What is not known is said in each."""
        decimals, unit = decimals_for(self.unit), unit_words(self.unit)
        highest, lowest, mean = (number(x, decimals) for x in (self.highest, self.lowest, self.mean))
        unknown = f"; {number(self.unknown_s, 1)} s not known" if self.unknown_s >= _LEAST_UNKNOWN_S else ""
        moments = [clock.text(x) for x in (self.highest_s, self.lowest_s)]
        return tuple(
            f"{words}{unknown}"
            for words in (
                f"highest {highest} at {moments[0]}, lowest {lowest} at {moments[1]}, mean {mean} {unit}".rstrip(),
                f"highest {highest}, lowest {lowest}, mean {mean} {unit}".rstrip(),
                f"{lowest} to {highest}, mean {mean}",
                f"{lowest} to {highest}",
            )
        )


@dataclass(frozen=True, eq=False)
class Sums:
    """What was known up to each sample: seconds, and value times seconds; made once, since a playhead asks each frame."""

    seconds: FloatArray
    area: FloatArray


def sums_of(channel: Channel, breaks: Breaks) -> Sums:
    """Return the sums of a channel with at least one sample."""
    low, high, seconds = channel.values[:-1], channel.values[1:], np.diff(channel.time_s)
    known = np.isfinite(low)
    if channel.is_discrete:
        middle = low
    else:
        known &= np.isfinite(high) & ~np.asarray(breaks[: low.size], dtype=np.bool_)
        middle = low / 2 + high / 2
    return Sums(
        np.r_[0.0, np.cumsum(np.where(known, seconds, 0.0))],
        np.r_[0.0, np.cumsum(np.where(known, middle, 0.0) * seconds)],
    )


def extent(channel: Channel, breaks: Breaks, sums: Sums, begin_s: float, end_s: float) -> Extent | None:
    """Return what a channel did between two moments in order; None where nothing is known of it there.

    Notes
    -----
    As everywhere the signal is a straight line between samples, a switch holds its value until the next, and nothing
    is claimed across a gap. The mean is that over time: closely sampled parts count no more than others.
    """
    first = int(np.searchsorted(channel.time_s, begin_s, side="left"))
    last = int(np.searchsorted(channel.time_s, end_s, side="right"))
    seconds = area = 0.0
    points: list[tuple[float, float]] = []
    for at in (begin_s, end_s):
        value = interpolated(channel, breaks, at)
        if value is not None:
            points.append((value, at))
    parts = [(begin_s, end_s)]
    if first < last:
        seconds = float(sums.seconds[last - 1] - sums.seconds[first])
        area = float(sums.area[last - 1] - sums.area[first])
        parts = [(begin_s, float(channel.time_s[first])), (float(channel.time_s[last - 1]), end_s)]
        inside = channel.values[first:last]
        if np.isfinite(inside).any():
            for index in (int(np.nanargmax(inside)), int(np.nanargmin(inside))):
                points.append((float(inside[index]), float(channel.time_s[first + index])))
    for a, b in parts:
        low, high = interpolated(channel, breaks, a), interpolated(channel, breaks, b)
        if b > a and low is not None and high is not None and b <= channel.time_s[-1]:
            seconds += b - a
            area += (b - a) * (low if channel.is_discrete else low / 2 + high / 2)
    if not points:
        return None
    highest, lowest = max(points), min(points)
    return Extent(
        highest=highest[0],
        highest_s=highest[1],
        lowest=lowest[0],
        lowest_s=lowest[1],
        mean=area / seconds if seconds > 0 else (highest[0] + lowest[0]) / 2,
        unknown_s=max(end_s - begin_s - seconds, 0.0),
        unit=channel.unit,
    )
