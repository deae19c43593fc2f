"""Round steps for axes, and the words at their ticks. Pure numbers."""

from __future__ import annotations

import math

from debrief.session.wording import clock_text, number

_TIME_STEPS_S = (0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 28800)
_MANTISSAS = (1.0, 2.0, 5.0, 10.0)


def value_step(span: float, most: int) -> float:
    """Return a step of 1, 2 or 5 times a power of ten that gives at most this many steps in a span."""
    if not span > 0:
        return 1.0
    raw = span / max(most, 1)
    power = 10.0 ** math.floor(math.log10(raw))
    return next(m * power for m in _MANTISSAS if m * power >= raw * (1 - 1e-9))


def value_ticks(low: float, high: float, most: int) -> tuple[float, ...]:
    """Return round values within a range, at most about this many."""
    step = value_step(high - low, most)
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return tuple(i * step for i in range(first, last + 1))


def tick_text(value: float, step: float) -> str:
    """Return a tick's number with as many decimals as its step needs."""
    return number(value, max(0, -math.floor(math.log10(step) + 1e-9)) if step < 1 else 0)


def time_step(span_s: float, most: int) -> float:
    """Return a step of time that gives at most this many steps in a span, [s]."""
    raw = span_s / max(most, 1)
    return next((float(step) for step in _TIME_STEPS_S if step >= raw), float(_TIME_STEPS_S[-1]))


def time_ticks(begin_s: float, end_s: float, most: int) -> tuple[float, ...]:
    """Return round times within a range, [s]."""
    step = time_step(end_s - begin_s, most)
    first = math.ceil(begin_s / step - 1e-9)
    last = math.floor(end_s / step + 1e-9)
    return tuple(i * step for i in range(first, last + 1))


def time_text(time_s: float, step_s: float) -> str:
    """Return a tick's time as a clock."""
    return clock_text(time_s, 1 if step_s < 1 else 0)
