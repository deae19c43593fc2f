"""How far sampling and resolution leave a value or an instant of a start open."""

from __future__ import annotations

import numpy as np

from debrief.analysis.signal.traces import Trace


def bounded(trace: Trace, begin: float, end: float, least: float = -np.inf) -> tuple[float, float] | None:
    """Return the lowest and highest value that the trace may have had between two instants.

    Samples inside, the ends interpolated, and where the slopes beside an interval lead beyond its samples the
    crossing of those slopes; wider by the doubt of a reading, but not below the
    `least` that there can be. None where an end lies in a gap or outside the samples:
    nothing is claimed about what the signal did there.
    """
    near = trace.clip(begin, end)
    first, last = near.at(begin), near.at(end)
    if first is None or last is None:
        return None
    inside = [*near.values[near.between(begin, end)].tolist(), first, last]
    low, high = min(inside), max(inside)
    for part, sign in ((near, 1.0), (near.negated(), -1.0)):
        index, _, apex = part.tents
        within = (part.time_s[index + 1] > begin) & (part.time_s[index] < end)
        if within.any():
            top = sign * float(apex[within].max())
            low, high = min(low, top), max(high, top)
    return max(low - trace.doubt, min(low, least)), high + trace.doubt


def _prolonged(ng: Trace, before_s: float, until_s: float) -> tuple[float, float] | None:
    """Return the last sample up to an instant, and where its slope leads by another; None if untold."""
    k = int(np.searchsorted(ng.time_s, before_s + 1e-9, side="right")) - 1
    if k < 1 or ng.gap[k - 1]:
        return None
    slope = (ng.values[k] - ng.values[k - 1]) / (ng.time_s[k] - ng.time_s[k - 1])
    return float(ng.values[k]), float(ng.values[k] + slope * (until_s - ng.time_s[k]))


def coasted(ng: Trace, before_s: float, on_s: float) -> float | None:
    """Return how low Ng may have been when the starter engaged, between two of its samples; None if untold.

    Ng falls until the starter takes it up again, which may have been just before the second sample: the
    run-down before the first is prolonged to there.
    """
    found = _prolonged(ng, before_s, on_s)
    return None if found is None else max(min(found), 0.0)


def driven(ng: Trace, last_on_s: float, off_s: float) -> float | None:
    """Return how high Ng may have been when the starter let go, as `coasted` does for its engagement."""
    found = _prolonged(ng, last_on_s, off_s)
    return None if found is None else max(found)


def light_off_bounds(itt: Trace, light_off_s: float) -> tuple[float, float]:
    """Return between which samples it lit: from one before the last that had not risen to the next.

    One sample earlier, since the first of the rise hides in the recorder's step and noise; earlier still where
    the last two steps of the recorder already led up to it.
    """
    t, v = itt.time_s, itt.values
    found = max(int(np.searchsorted(t, light_off_s + 1e-9, side="right")) - 1, 0)
    k = found
    while (
        k > 0
        and v[k - 1] < v[k]
        and v[found] - v[k - 1] <= max(4.0 * itt.half_resolution, 2.0 * itt.doubt) + 1e-9
    ):
        k -= 1
    return float(t[max(k - 1, 0)]), float(t[min(found + 1, t.size - 1)])


def idle_bounds(ng: Trace, idle_s: float, level: float) -> tuple[float, float]:
    """Return between which samples Ng reached idle: surely below before it, surely at idle after it.

    Surely means by the doubt of a reading.
    """
    t, v, half = ng.time_s, ng.values, ng.doubt
    k = int(np.searchsorted(t, idle_s, side="left"))
    below = np.flatnonzero(v[:k] < level - half)
    reached = np.flatnonzero(v[k:] >= level + half)
    low = float(t[below[-1]]) if below.size else idle_s
    high = float(t[k + int(reached[0])]) if reached.size else idle_s
    return low, high


def earliest_idle(ng: Trace, idle_s: float, level: float) -> float:
    """Return when idle may have been reached at the earliest where a gap hides whether it was held, else `idle_s`."""
    low, _ = idle_bounds(ng, idle_s, level)
    first, last = (int(np.searchsorted(ng.time_s, x)) for x in (low, idle_s))
    return low if ng.gap[first:last].any() else idle_s
