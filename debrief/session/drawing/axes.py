"""The scales of charts and gauges: steps, ticks and ranges that are round. Pure numbers, the same on screen and paper."""

from __future__ import annotations

import math
import sys

import numpy as np

from debrief.recording.model import FloatArray
from debrief.words.clock import ELAPSED, Clock
from debrief.words.numbers import number

_TIME_STEPS_S = (
    0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0,
    14400.0, 28800.0, 86400.0,
)  # fmt: skip
_FAR = 1000.0

LEAST_SPAN = 1e-290
"""Below, the steps of a scale could not be told from 0."""
_LEAST_SHARE = 1e-12
"""Of the values: a smaller span has no round numbers of its own."""
_MOST_TICKS = 2000
_MOST_STEPS = 2.0**53
"""Beyond, the numbers of a float lie farther apart than the steps."""


def nice_step(span: float, count: int) -> float:
    """Return a step of 1, 2 or 5 times a power of ten that divides the span into about `count` parts."""
    if not LEAST_SPAN < span < math.inf:
        return 1.0
    raw = span / max(count, 1)
    power: float = 10.0 ** math.floor(math.log10(raw))
    for factor in (1.0, 2.0, 5.0, 10.0):
        if raw <= factor * power * (1 + 1e-9):
            return factor * power
    return 10.0 * power


def ticks(low: float, high: float, count: int) -> tuple[float, ...]:
    """Return round values inside [low, high], about `count` of them."""
    return multiples_within(low, high, nice_step(high - low, count))


def time_step(span_s: float, count: int) -> float:
    """Return a step of time that a clock shows, which gives at most `count` steps in a span, [s]."""
    raw = span_s / max(count, 1)
    days = _TIME_STEPS_S[-1] * max(1.0, nice_step(span_s / _TIME_STEPS_S[-1], count))
    return next((step for step in _TIME_STEPS_S if step >= raw), days)


def time_ticks(low_s: float, high_s: float, count: int, offset_s: float = 0.0) -> tuple[float, ...]:
    """Return times inside the range at round seconds, minutes or hours of a clock that shows `offset_s` at time 0."""
    step = time_step(high_s - low_s, count)
    shown = multiples_within(low_s + offset_s, high_s + offset_s, step)
    return tuple(at - offset_s for at in shown) if offset_s else shown


def multiples_within(low: float, high: float, step: float) -> tuple[float, ...]:
    """Return the multiples of a step in a range; none where there would be no end of them, or no telling them apart."""
    if not (
        step > 0 and (high - low) / step <= _MOST_TICKS and max(abs(low), abs(high)) / step < _MOST_STEPS
    ):
        return ()
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return tuple(index * step for index in range(first, last + 1))


def rounded_range(low: float, high: float, count: int = 4) -> tuple[float, float]:
    """Return a range around the values that ends at round numbers; never empty."""
    if not (math.isfinite(low) and math.isfinite(high)):
        return 0.0, 1.0
    if high - low <= max(LEAST_SPAN, _LEAST_SHARE * max(abs(low), abs(high))):
        pad = max(abs(high) * 0.05, 1.0)
        low, high = max(low - pad, -sys.float_info.max), min(high + pad, sys.float_info.max)
    if not high - low < math.inf:
        return low, high  # as wide as numbers go
    step = nice_step(high - low, count)
    return math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step


def share_of(value: float, low: float, high: float) -> float:
    """Return where a value lies on a scale, 0 at its low end, 1 at its high one; far outside, no farther than it matters.

    Notes
    -----
    Halves, since the difference of two very large numbers is too large. Qt takes long for lines that lead far away.
    """
    half = high / 2 - low / 2
    share = (value / 2 - low / 2) / half if half > 0 else 0.5
    return min(max(share, -_FAR), _FAR)


def shares_of(values: FloatArray, low: float, high: float) -> FloatArray:
    """Return as `share_of` for each value; NaN stays NaN."""
    half = high / 2 - low / 2
    with np.errstate(over="ignore", invalid="ignore"):
        shares: FloatArray = np.clip((values / 2 - low / 2) / (half if half > 0 else np.inf), -_FAR, _FAR)
    return shares


def tick_text(value: float, step: float) -> str:
    """Return a tick's number with as many decimals as its step needs."""
    return number(value, max(0, -math.floor(math.log10(step) + 1e-9)) if step < 1 else 0)


def time_labels(
    low_s: float, high_s: float, count: int, clock: Clock = ELAPSED
) -> tuple[tuple[float, str], ...]:
    """Return the ticks of a range of time, each with its time as the clock shows it."""
    decimals = 1 if time_step(high_s - low_s, count) < 1 else 0
    found = time_ticks(low_s, high_s, count, clock.offset_s)
    return tuple((time_s, clock.text(time_s, decimals)) for time_s in found)
