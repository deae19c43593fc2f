"""What of the time above a level is clear of the noise, so that the answer does not depend on how often was looked."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.signal.exceedance import Above
from debrief.analysis.signal.interval_sets import EMPTY, intersect, union
from debrief.analysis.signal.noise import above_all
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import FloatArray

BELOW = 1.8
"""A value so many deviations below a level is not beyond it; at two nothing is said, though the noise is an estimate."""

SINGLE = 3.0
"""Where no time is allowed, a reading is beyond a level by so many deviations."""


REJOIN_S = 2.0
"""Readings below the level for a shorter time are looked at with those around them."""


def clear_of_noise(trace: Trace, level: float, above: Above, allowed_s: float) -> Above:
    """Return the same with what noise leaves open: `low` and `high` widened by it, and in `clear` and `may` what decides.

    Parameters
    ----------
    trace : Trace
    level : float
        In the trace's unit.
    above : Above
        From `debrief.analysis.signal.exceedance.time_above`.
    allowed_s : float
        How long it may be above, [s].

    Notes
    -----
    Looked at are all stretches of 1, 2, 4, ... readings at or above the level, each with its mean. Where that is above
    the level by more than noise makes of any stretch of the recording, and half the readings are above, it was above:
    what lies in such stretches is `clear`. Where it is not even that far above a value 1.8 deviations below the
    level, it was not, and `may` leaves it out. Nothing changes where there is no noise. Where no time is
    allowed, a reading counts that is above by three deviations and by half a step of the recorder.
    """
    if not len(above.estimate):
        return above
    if allowed_s == 0:
        least = level + max(SINGLE * trace.noise, trace.half_resolution)
        return replace(above, clear=above.estimate[_has_reading(trace, above.estimate, least)])
    if trace.noise == 0:
        return above
    near, first, last = _near(trace, level)
    beyond, may_be = _scanned(trace, level, near, first, last)
    t, end = trace.time_s, trace.time_s.size - 1
    wide = union(np.column_stack((t[np.maximum(near[first] - 1, 0)], t[np.minimum(near[last] + 1, end)])))
    # Between two readings that both are below, by more than the noise: the tip of a peak.
    before = wide[:, 0].searchsorted(above.high[:, 1], side="right")
    alone = before == wide[:, 1].searchsorted(above.high[:, 0], side="left")
    sure = trace.values >= level + trace.doubt
    k = np.flatnonzero(sure[1:] & sure[:-1] & ~trace.gap)
    return replace(
        above,
        low=union(np.column_stack((t[k], t[k + 1]))),
        high=union(np.concatenate((wide, above.high))),
        clear=intersect(above.estimate, _around(trace, near[beyond])),
        may=union(np.concatenate((intersect(wide, _around(trace, near[may_be])), above.high[alone]))),
    )


def _has_reading(trace: Trace, rows: FloatArray, least: float) -> NDArray[np.bool_]:
    """Return of which of the rows a reading is that high."""
    high = trace.time_s[trace.values >= least]
    return high.searchsorted(rows[:, 1], side="right") > high.searchsorted(rows[:, 0], side="left")


def _near(trace: Trace, level: float) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """Return the readings at or above the level, as far as noise and step tell, that stand beside one above it.

    Returns
    -------
    near : (n,) int array
        Their index, and that of the readings in breaks too short to end a run.
    first, last : (k,) int array
        Of each stretch of them, without a gap, where it begins and ends in `near`.
    """
    t, v, gaps = trace.time_s, trace.values, np.concatenate(([0], np.cumsum(trace.gap)))
    index = np.flatnonzero(v > level - trace.doubt)
    apart = np.flatnonzero(
        (np.diff(t[index]) >= REJOIN_S) & (np.diff(index) > 1) | (np.diff(gaps[index]) > 0)
    )
    first = np.concatenate(([0], apart + 1)).astype(np.intp)
    last = np.concatenate((apart, [index.size - 1])).astype(np.intp)
    over = np.maximum.reduceat(v[index], first) > level - trace.half_resolution
    begin, end = index[first[over]], index[last[over]]
    length = end - begin + 1
    stop = np.cumsum(length)
    near = np.arange(int(stop[-1])) + np.repeat(begin - (stop - length), length)
    return near, stop - length, stop - 1


def _scanned(
    trace: Trace, level: float, near: NDArray[np.intp], first: NDArray[np.intp], last: NDArray[np.intp]
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which of the readings lie in a stretch that was beyond the level, and in one that may have been."""
    noise, worst = trace.noise_seen, above_all(trace.time_s.size)
    over = trace.values[near] - level
    sums = np.concatenate(([0.0], np.cumsum(over)))
    counts = np.concatenate(([0], np.cumsum(over > 0)))
    stretch = np.repeat(np.arange(first.size), last - first + 1)
    beyond, may_be = (np.zeros(near.size + 1, dtype=np.intp) for _ in range(2))
    rows = 1
    while rows <= int((last - first).max()) + 1:
        begin = np.flatnonzero(stretch[: near.size - rows + 1] == stretch[rows - 1 :])
        mean = (sums[begin + rows] - sums[begin]) / rows
        made = worst * noise.of_mean(rows)
        half = 2 * (counts[begin + rows] - counts[begin]) >= rows
        for marks, which in ((beyond, (mean > made) & half), (may_be, mean > made - BELOW * noise.deviation)):
            np.add.at(marks, begin[which], 1)
            np.add.at(marks, begin[which] + rows, -1)
        rows *= 2
    return np.cumsum(beyond)[:-1] > 0, np.cumsum(may_be)[:-1] > 0


def _around(trace: Trace, index: NDArray[np.intp]) -> FloatArray:
    """Return the stretches of these readings, out to those just outside, (m, 2)."""
    if not index.size:
        return EMPTY
    t, end = trace.time_s, trace.time_s.size - 1
    apart = np.flatnonzero((np.diff(index) > 1) | trace.gap[index[:-1]])
    first = np.maximum(index[np.concatenate(([0], apart + 1))] - 1, 0)
    last = np.minimum(index[np.concatenate((apart, [index.size - 1]))] + 1, end)
    return union(np.column_stack((t[first], t[last])))
