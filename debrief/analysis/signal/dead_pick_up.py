"""A speed pick-up that reads nothing below some speed: what it reads as zero is a speed that it does not see."""

from __future__ import annotations

import numpy as np

from debrief.analysis.signal.sampling_bounds import bounded
from debrief.analysis.signal.traces import Trace

JUMP_WITHIN_S = 2.0
STEADY_OVER_S = 0.5
TIMES = 3.0
"""A starter speeds a gas generator up the fastest from rest, but not by so many times the rate just after; common practice, no source."""

MOST_JUMPS = 1000
"""So many are looked at; what shows more is no pick-up that is dead at low speed alone."""

MOST_PCT = 20.0
"""No pick-up of use is dead up to a higher speed; a jump to more is a signal that was lost; common practice, no source."""


def nothing(ng: Trace) -> float:
    """Return up to which reading of Ng the recorder does not tell it from zero, [%]: a step, or its noise."""
    return max(2.0 * ng.half_resolution, 3.0 * ng.noise)


def unseen_below(ng: Trace) -> float | None:
    """Return the speed up to which the pick-up reads nothing, [%]; None where it shows no such jump.

    Notes
    -----
    From nothing, within a sample or two, to a speed that Ng goes on from at a third of that rate at most.
    """
    t, v = ng.time_s, ng.values
    zero = v <= nothing(ng)
    unsure = 4.0 * ng.doubt + 2.0 * ng.half_resolution
    left = np.flatnonzero(zero[:-1] & ~zero[1:] & ~ng.gap)
    # Noise about zero leaves it thousands of times and goes nowhere.
    left = left[np.maximum(v[left + 1], v[np.minimum(left + 2, v.size - 1)]) > unsure][:MOST_JUMPS]
    found = []
    for k in left.tolist():
        for to in (k + 1, k + 2):
            after = max(int(np.searchsorted(t, t[min(to, t.size - 1)] + STEADY_OVER_S)), to + 1)
            if after >= t.size or t[to] - t[k] > JUMP_WITHIN_S or ng.gap[k:after].any():
                break
            rate = max(float(v[after] - v[to]) / float(t[after] - t[to]), 0.0)
            jump = float(v[to])
            least = TIMES * rate * float(t[to] - t[k]) + unsure
            if least < jump <= MOST_PCT and bool((v[to : after + 1] > 0.5 * jump).all()):
                found.append(jump)
                break
    return max(found, default=None)


def speed_at(ng: Trace, unseen_pct: float | None, time_s: float) -> float | None:
    """Return Ng at an instant, [%]; None where the pick-up may not see it."""
    value = ng.at(time_s)
    if value is None or unseen_pct is None:
        return value
    k = int(np.searchsorted(ng.time_s, time_s, side="right"))
    beside = ng.values[max(k - 1, 0) : k + (1 if ng.time_s[k - 1] < time_s else 0)]
    return None if bool((beside <= nothing(ng)).any()) else value


def speed_between(
    ng: Trace, unseen_pct: float | None, begin: float, end: float
) -> tuple[float, float] | None:
    """Return the lowest and highest Ng between two instants, [%], as `bounded` does: of nothing read any speed up to it."""
    bounds = bounded(ng, begin, end, 0.0)
    if bounds is None or unseen_pct is None or bounds[0] > nothing(ng):
        return bounds
    return 0.0, max(bounds[1], unseen_pct)


def unseen_words(unseen_pct: float) -> str:
    """Return why a speed is not known."""
    return f"the speed pick-up reads nothing below {unseen_pct:.1f} %"
