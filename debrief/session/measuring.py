"""What lies between two moments of a trace: difference, rate, and time above where it began."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.recording.model import Channel
from debrief.session.applies import runs_beyond
from debrief.session.wording import decimals_for, number, unit_words

Breaks = NDArray[np.bool_]


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
    level : float
        Value at the mark, [unit].
    above_s : float
        Seconds between the two moments above that level, [s].
    unit : str
        Of the channel.
    """

    duration_s: float
    difference: float
    rate: float | None
    level: float
    above_s: float
    unit: str

    @property
    def words(self) -> str:
        """The measures in one line, such as ``+812 °C, +262 °C/s, above 275 for 3.1 s``."""
        decimals = decimals_for(self.unit)
        unit = unit_words(self.unit)
        parts = [f"{_signed(self.difference, decimals)} {unit}".rstrip()]
        if self.rate is not None:
            parts.append(f"{_signed(self.rate, decimals + 1)} {unit}/s")
        parts.append(f"above {number(self.level, decimals)} for {number(self.above_s, 1)} s")
        return ", ".join(parts)


def interpolated(channel: Channel, breaks: Breaks, time_s: float) -> float | None:
    """Return the channel's value at a moment: held for a discrete, else on the line between samples.

    Returns None before the first sample, after the last, and across a gap.
    """
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
    return float(values[index] + share * (values[index + 1] - values[index]))


def measure(channel: Channel, breaks: Breaks, mark_s: float, other_s: float) -> Measured | None:
    """Return what lies between two moments, or None where either has no value.

    Parameters
    ----------
    channel : Channel
        The trace.
    breaks : (n - 1,) bool array
        Where a gap follows a sample; across it nothing is counted.
    mark_s, other_s : float
        The two moments, in any order, [s].
    """
    first = interpolated(channel, breaks, mark_s)
    second = interpolated(channel, breaks, other_s)
    if first is None or second is None:
        return None
    begin, end = sorted((mark_s, other_s))
    begins, ends = runs_beyond(channel.time_s, channel.values, breaks, first, False, begin, end)
    duration = other_s - mark_s
    return Measured(
        duration_s=duration,
        difference=second - first,
        rate=(second - first) / duration if abs(duration) > 1e-9 else None,
        level=first,
        above_s=float((ends - begins).sum()),
        unit=channel.unit,
    )


def _signed(value: float, decimals: int) -> str:
    text = number(value, decimals)
    return text if text.startswith("\N{MINUS SIGN}") else f"+{text}"
