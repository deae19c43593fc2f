"""Round steps for axes, and the words at their ticks. Pure numbers."""

from __future__ import annotations

import math

import numpy as np

from debrief.recording.model import FloatArray
from debrief.report.charts.axes import LEAST_SPAN, multiples_within
from debrief.words.cautions import clock_text, number

_TIME_STEPS_S = (0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800)
_FAR = 1000.0
_MANTISSAS = (1.0, 2.0, 5.0, 10.0)


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


def value_step(span: float, most: int) -> float:
    """Return a step of 1, 2 or 5 times a power of ten that gives at most this many steps in a span."""
    if not LEAST_SPAN < span < math.inf:
        return 1.0
    raw = span / max(most, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    return next(m * power for m in _MANTISSAS if m * power >= raw * (1 - 1e-9))


def value_ticks(low: float, high: float, most: int) -> tuple[float, ...]:
    """Return round values within a range, at most about this many."""
    return multiples_within(low, high, value_step(high - low, most))


def tick_text(value: float, step: float) -> str:
    """Return a tick's number with as many decimals as its step needs."""
    return number(value, max(0, -math.floor(math.log10(step) + 1e-9)) if step < 1 else 0)


def time_step(span_s: float, most: int) -> float:
    """Return a step of time that gives at most this many steps in a span, [s]."""
    raw = span_s / max(most, 1)
    days = _TIME_STEPS_S[-1] * max(1.0, value_step(span_s / _TIME_STEPS_S[-1], most))
    return next((float(step) for step in _TIME_STEPS_S if step >= raw), days)


def time_ticks(begin_s: float, end_s: float, most: int) -> tuple[float, ...]:
    """Return round times within a range, [s]."""
    return multiples_within(begin_s, end_s, time_step(end_s - begin_s, most))


def time_text(time_s: float, step_s: float) -> str:
    """Return a tick's time as a clock."""
    return clock_text(time_s, 1 if step_s < 1 else 0)
