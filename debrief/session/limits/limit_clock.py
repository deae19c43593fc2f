"""When each limit of the profile applies, and how much of what it allows has been used at a moment.

The verdict is the analysis's alone. This module only answers what the replay asks on the way there:
which lines to draw where, and whether the limit that applies is exceeded at the playhead.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.model import Assessment
from debrief.profile.model import AllowedRow, Limit
from debrief.recording.model import Channel, FloatArray
from debrief.session.drawing.envelope import gap_breaks

LimitWindow = tuple[float, float]
Windows = tuple[LimitWindow, ...]

_NOT_RUNNING = ("off", "start", "shutdown")
_TOLERANCE_S = 1e-9


@dataclass(frozen=True)
class LimitState:
    """One level of a limit at one moment.

    Attributes
    ----------
    limit : Limit
        Whose level it is.
    row : AllowedRow
        The level and its seconds.
    used_s : float
        Seconds beyond it so far, in this attempt (total) or this run (longest), [s].
    exceeded : bool
        Whether more was used than is allowed.
    """

    limit: Limit
    row: AllowedRow
    used_s: float
    exceeded: bool


def windows_of(assessment: Assessment, limit: Limit, engine: int = 1) -> Windows:
    """Return the stretches in which a limit applied, as the analysis judged them, in order, [s]."""
    return tuple(
        (w.start_s, w.end_s)
        for result in assessment.limits
        if result.id == limit.id and result.engine == engine
        for w in result.windows
    )


def running_windows(assessment: Assessment, engine: int = 1) -> Windows:
    """Return the stretches in which the engine runs and no start limit applies, [s].

    They are those of a limit for the running engine; without one the phases tell.
    """
    profile = assessment.profile
    for limit in () if profile is None else profile.limits:
        if limit.when == "running" and not (limit.where or limit.phases or limit.after_takeoff_s is not None):
            return windows_of(assessment, limit, engine)
    stretches: list[LimitWindow] = []
    begin = 0.0
    resting = [p for p in assessment.phases if p.name in _NOT_RUNNING]
    for start_s, end_s in [*((p.start_s, p.end_s) for p in resting), (assessment.recording.duration_s,) * 2]:
        if start_s > begin:
            stretches.append((begin, start_s))
        begin = max(begin, end_s)
    return tuple(stretches) if assessment.phases else ()


def runs_beyond(
    time_s: FloatArray,
    values: FloatArray,
    breaks: NDArray[np.bool_],
    level: float,
    below: bool,
    begin_s: float,
    end_s: float,
) -> tuple[FloatArray, FloatArray]:
    """Return begins and ends of the stretches beyond a level inside a window, [s].

    The signal is a straight line between samples; equal is not beyond; across a gap nothing is claimed.

    Parameters
    ----------
    time_s, values : (n,) float array
        The channel; increasing times.
    breaks : (n - 1,) bool array
        Where a gap follows a sample.
    level : float
        The level; `below` turns the direction.
    begin_s, end_s : float
        The window, [s].

    Returns
    -------
    begins, ends : (m,) float array
    """
    first = max(0, int(np.searchsorted(time_s, begin_s, side="right")) - 1)
    last = min(time_s.size, int(np.searchsorted(time_s, end_s, side="left")) + 1)
    t, v = time_s[first:last], values[first:last] - level
    if below:
        v = -v
    if t.size < 2:
        return np.zeros(0), np.zeros(0)
    joined = ~breaks[first : last - 1]
    t0, t1, v0, v1 = t[:-1], t[1:], v[:-1], v[1:]
    over = joined & ((v0 > 0) | (v1 > 0))
    t0, t1, v0, v1 = t0[over], t1[over], v0[over], v1[over]
    slope = np.where(v1 == v0, 1.0, v1 - v0)
    cross = t0 - v0 * (t1 - t0) / slope
    begins = np.where(v0 > 0, t0, cross)
    ends = np.where(v1 > 0, t1, cross)
    begins, ends = np.maximum(begins, begin_s), np.minimum(ends, end_s)
    keep = ends > begins
    begins, ends = begins[keep], ends[keep]
    if begins.size == 0:
        return begins, ends
    new = np.r_[True, begins[1:] > ends[:-1] + _TOLERANCE_S]
    return begins[new], ends[np.r_[np.flatnonzero(new)[1:] - 1, ends.size - 1]]


@dataclass(frozen=True, eq=False)
class RowClock:
    """The runs beyond one level of a limit.

    Attributes
    ----------
    limit, row
        Whose level it is, and the level.
    begins, ends : (n,) float array
        Of each run, [s].
    before : (n,) float array
        Seconds used before each run in the same sum: the window, or the run that it goes on with, [s].
    """

    limit: Limit
    row: AllowedRow
    begins: FloatArray
    ends: FloatArray
    before: FloatArray


class LimitClock:
    """How much of each allowance of one channel is used at any moment.

    Parameters
    ----------
    assessment : Assessment
        Whose profile and starts decide when limits apply.
    channel : Channel
        The channel, as scaled by the profile.
    base : str
        Its name without the engine number.
    engine : int
        The engine.
    """

    def __init__(self, assessment: Assessment, channel: Channel, base: str, engine: int = 1) -> None:
        self._rows: list[RowClock] = []
        profile = assessment.profile
        if profile is None:
            return
        breaks = gap_breaks(channel.time_s, assessment.starts)
        for limit in profile.limits:
            if limit.channel != base or limit.unit != channel.unit:
                continue
            windows = windows_of(assessment, limit, engine)
            for row in limit.allowed:
                self._rows.append(row_clock(limit, row, channel, breaks, windows))

    def states(self, time_s: float) -> tuple[LimitState, ...]:
        """Return the levels that the value is beyond at this moment, mildest first."""
        found = []
        for row in self._rows:
            index = int(np.searchsorted(row.begins, time_s + _TOLERANCE_S, side="right")) - 1
            if index < 0 or time_s > row.ends[index] + _TOLERANCE_S:
                continue
            used = float(row.before[index] + max(0.0, min(time_s, row.ends[index]) - row.begins[index]))
            exceeded = used > row.row.seconds + _TOLERANCE_S or row.row.seconds == 0
            found.append(LimitState(row.limit, row.row, used, exceeded))
        return tuple(found)


def row_clock(
    limit: Limit, row: AllowedRow, channel: Channel, breaks: NDArray[np.bool_], windows: Windows
) -> RowClock:
    """Return the runs of a channel beyond a level in these windows, with what was used before each."""
    begins: list[FloatArray] = []
    ends: list[FloatArray] = []
    before: list[FloatArray] = []
    for window in windows:
        a, b = runs_beyond(channel.time_s, channel.values, breaks, row.level, limit.below, *window)
        if a.size == 0:
            continue
        lengths = b - a
        earlier = np.r_[0.0, np.cumsum(lengths)[:-1]]
        if limit.count == "longest":
            fresh = np.r_[True, a[1:] - b[:-1] >= limit.rejoin_s]
            offset = np.maximum.accumulate(np.where(fresh, earlier, 0.0))
            earlier = earlier - offset
        begins.append(a)
        ends.append(b)
        before.append(earlier)
    if not begins:
        nothing = np.zeros(0)
        return RowClock(limit, row, nothing, nothing, nothing)
    return RowClock(limit, row, np.concatenate(begins), np.concatenate(ends), np.concatenate(before))
