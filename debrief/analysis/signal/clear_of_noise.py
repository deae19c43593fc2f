"""What of the time above a level is clear of the noise, so that the answer does not depend on how often was looked."""

from __future__ import annotations

from dataclasses import dataclass, replace

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
    if trace.noise == 0:
        return replace(above, clear=_by_one_reading(trace, level, above)) if allowed_s == 0 else above
    near = _near(trace, level)
    wide = _out(trace, near.index[near.first], near.index[near.last])
    bounded = _widened(trace, level, above, wide)
    if allowed_s == 0:
        return replace(bounded, clear=_by_one_reading(trace, level, above))
    beyond, may_be = _scanned(trace, level, near)
    # Between two readings that both are below, by more than the noise: the tip of a peak.
    before = wide[:, 0].searchsorted(above.high[:, 1], side="right")
    alone = before == wide[:, 1].searchsorted(above.high[:, 0], side="left")
    may = intersect(wide, _around(trace, near.index[may_be]))
    return replace(
        bounded,
        clear=intersect(above.estimate, _around(trace, near.index[beyond])),
        may=union(np.concatenate((may, above.high[alone]))),
    )


def with_noise(trace: Trace, level: float, above: Above) -> Above:
    """Return the same with bounds that hold the noise as well; what decides stays."""
    if not len(above.estimate) or trace.noise == 0:
        return above
    near = _near(trace, level)
    return _widened(trace, level, above, _out(trace, near.index[near.first], near.index[near.last]))


def _widened(trace: Trace, level: float, above: Above, wide: FloatArray) -> Above:
    """Return the same with these stretches, (m, 2), as the upper bound, and a lower one clear of a reading's doubt."""
    sure = trace.values >= level + trace.doubt
    k = np.flatnonzero(sure[1:] & sure[:-1] & ~trace.gap)
    return replace(
        above,
        low=union(np.column_stack((trace.time_s[k], trace.time_s[k + 1]))),
        high=union(np.concatenate((wide, above.high))),
    )


def _by_one_reading(trace: Trace, level: float, above: Above) -> FloatArray:
    """Return the stretches above in which one reading is clear of the noise and of half a step of the recorder."""
    least = level + max(SINGLE * trace.noise, trace.half_resolution)
    high, rows = trace.time_s[trace.values >= least], above.estimate
    count = high.searchsorted(rows[:, 1], side="right") - high.searchsorted(rows[:, 0], side="left")
    return rows[count > 0]


@dataclass(frozen=True, eq=False)
class _Near:
    """The readings at or above a level, as far as noise and step tell, that stand beside one that may be above it.

    Attributes
    ----------
    index : (n,) int array
        Theirs, and that of the readings in breaks too short to end a run.
    first, last : (k,) int array
        Of each stretch of them, without a gap, where it begins and ends in `index`.
    """

    index: NDArray[np.intp]
    first: NDArray[np.intp]
    last: NDArray[np.intp]


def _near(trace: Trace, level: float) -> _Near:
    t, v, gaps = trace.time_s, trace.values, np.concatenate(([0], np.cumsum(trace.gap)))
    index = np.flatnonzero(v > level - trace.doubt)
    late = (np.diff(t[index]) >= REJOIN_S) & (np.diff(index) > 1)
    apart = np.flatnonzero(late | (np.diff(gaps[index]) > 0))
    first = np.concatenate(([0], apart + 1)).astype(np.intp)
    last = np.concatenate((apart, [index.size - 1])).astype(np.intp)
    over = np.maximum.reduceat(v[index], first) > level - trace.half_resolution
    begin, end = index[first[over]], index[last[over]]
    length = end - begin + 1
    stop = np.cumsum(length)
    whole = np.arange(int(stop[-1])) + np.repeat(begin - (stop - length), length)
    return _Near(whole, stop - length, stop - 1)


def _scanned(trace: Trace, level: float, near: _Near) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which of the readings lie in a stretch that was beyond the level, and in one that may have been."""
    noise, worst = trace.noise_seen, above_all(trace.time_s.size)
    over = trace.values[near.index] - level
    sums = np.concatenate(([0.0], np.cumsum(over)))
    counts = np.concatenate(([0], np.cumsum(over > 0)))
    lengths = near.last - near.first + 1
    stretch = np.repeat(np.arange(lengths.size), lengths)
    beyond, may_be = (np.zeros(near.index.size + 1, dtype=np.intp) for _ in range(2))
    rows = 1
    while rows <= int(lengths.max()):
        begin = np.flatnonzero(stretch[: stretch.size - rows + 1] == stretch[rows - 1 :])
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
    apart = np.flatnonzero((np.diff(index) > 1) | trace.gap[index[:-1]])
    first, last = np.concatenate(([0], apart + 1)), np.concatenate((apart, [index.size - 1]))
    return _out(trace, index[first], index[last])


def _out(trace: Trace, first: NDArray[np.intp], last: NDArray[np.intp]) -> FloatArray:
    """Return the stretches between these readings, out to those just outside, (m, 2)."""
    t, end = trace.time_s, trace.time_s.size - 1
    return union(np.column_stack((t[np.maximum(first - 1, 0)], t[np.minimum(last + 1, end)])))
