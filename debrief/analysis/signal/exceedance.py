"""The arithmetic of time above a level, with the bounds that sampling and resolution leave."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.signal.interval_sets import EMPTY, Window, group_edges, intersect, total_s, union
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import FloatArray

LEAST_SHARE = 0.5
"""Of a run of a limit so much is beyond the level at least; the rest are breaks that do not end it."""

TOLERANCE_S = 1e-9
"""Durations that differ by less compare as equal."""


@dataclass(frozen=True, eq=False)
class Above:
    """Where a trace is above a level: the estimate, the surely and the possibly above stretches.

    Attributes
    ----------
    estimate : (m, 2) float array
        Straight line between samples, crossings interpolated, nothing across a gap.
    low : (k, 2) float array
        Only stretches between neighbouring samples that are both above, by half a step of the recorder.
    high : (p, 2) float array
        Out to the samples just outside, across a gap with a sample above on a side, and those parts of
        other intervals in which the line is within half a step of the level or a tip may have passed it.
    clear, may : (q, 2), (r, 2) float array
        The estimate and the possibly above stretches as far as noise lets them be told: these decide.
    begins_above, ends_above : bool
        The recording's first or last sample is above: nobody knows for how long before or after.
    """

    estimate: FloatArray
    low: FloatArray
    high: FloatArray
    clear: FloatArray
    may: FloatArray
    begins_above: bool
    ends_above: bool
    first_s: float
    last_s: float

    def within(self, window: Window | FloatArray) -> Above:
        """Return the same, clipped: what is surely above to where it surely counts, what may be to where it may.

        Rows, (m, 2), in place of a window have edges that are known.
        """
        at = window if isinstance(window, Window) else Window.exactly(window)
        return Above(
            intersect(self.estimate, at.rows),
            intersect(self.low, at.inner),
            intersect(self.high, at.outer),
            intersect(self.clear, at.rows),
            intersect(self.may, at.outer),
            self.begins_above,
            self.ends_above,
            self.first_s,
            self.last_s,
        )

    def cut(self, begin: FloatArray, end: FloatArray) -> NDArray[np.bool_]:
        """Return for each stretch whether the recording's beginning or end cuts it."""
        out = np.zeros(begin.size, dtype=np.bool_)
        if self.begins_above:
            out |= begin <= self.first_s
        if self.ends_above:
            out |= end >= self.last_s
        return out


def time_above(trace: Trace, level: float) -> Above:
    """Return where the trace is above the level. Equal is not above.

    Parameters
    ----------
    trace : Trace
        n samples; fewer than one gives empty stretches.
    level : float
        In the trace's unit.

    Notes
    -----
    Rule: the signal is the straight line between neighbouring samples. One sample above with gaps on both
    sides gives a stretch of zero length: it was above, nobody knows for how long.
    """
    t, v = trace.time_s, trace.values
    if not t.size:
        return Above(EMPTY, EMPTY, EMPTY, EMPTY, EMPTY, False, False, 0.0, 0.0)
    first, last, end = float(t[0]), float(t[-1]), t.size - 1
    if trace.top <= level:
        return Above(EMPTY, EMPTY, EMPTY, EMPTY, EMPTY, False, False, first, last)
    above = v > level
    high_extra = _possible_between(trace, level)
    breaks = trace.gap_index
    starts, ends = _stretches(above, breaks)
    if not starts.size:
        high = union(high_extra)
        return Above(EMPTY, EMPTY, high, EMPTY, high, False, False, first, last)
    before = np.maximum(starts - 1, 0)
    after = np.minimum(ends + 1, end)
    estimate = _to_crossings(trace, level, above, starts, ends)
    if trace.half_resolution > 0:
        # Surely above: a reading half a step lower would be, too.
        sure = above & (v - trace.half_resolution >= level - 1e-9 * max(1.0, abs(level)))
        starts, ends = _stretches(sure, breaks)
    low = np.column_stack((t[starts], t[ends]))[ends > starts]
    wide = np.column_stack((t[before], t[after]))
    high = union(np.concatenate((wide, high_extra)))
    return Above(estimate, low, high, estimate, high, bool(above[0]), bool(above[-1]), first, last)


def stretches_above(trace: Trace, level: float) -> FloatArray:
    """Return the estimate of `time_above` alone, (m, 2): for what asks for no bounds it costs a tenth."""
    above = trace.values > level
    if not above.any():
        return EMPTY
    return _to_crossings(trace, level, above, *_stretches(above, trace.gap_index))


def _to_crossings(
    trace: Trace, level: float, above: NDArray[np.bool_], starts: NDArray[np.intp], ends: NDArray[np.intp]
) -> FloatArray:
    """Return the stretches of samples above, out to the crossings unless a gap or the recording's edge is in the way."""
    t, v, gap = trace.time_s, trace.values, trace.gap
    end = t.size - 1
    before = np.maximum(starts - 1, 0)
    after = np.minimum(ends + 1, end)
    estimate = np.array((t[starts], t[ends])).T
    crossed = (starts > 0) & ~above[before] & ~_at(gap, before)
    i, j = before[crossed], starts[crossed]
    estimate[crossed, 0] = t[i] + (level - v[i]) / (v[j] - v[i]) * (t[j] - t[i])
    crossed = (ends < end) & ~above[after] & ~_at(gap, ends)
    i, j = ends[crossed], after[crossed]
    estimate[crossed, 1] = t[i] + (level - v[i]) / (v[j] - v[i]) * (t[j] - t[i])
    return estimate


def _stretches(
    above: NDArray[np.bool_], breaks: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the first and the last sample of each stretch of samples above; `breaks` are the gaps.

    A stretch ends at a change, at a gap, or with the recording. Only the samples where something changes are
    looked at: an hour above costs no more than a second.
    """
    end = above.size - 1
    change = (above[1:] != above[:-1]).nonzero()[0]
    rises = ~above[change]
    up, down = change[rises], change[~rises]
    if not breaks.size:
        # Changes alternate: nothing is found twice and all is in order.
        return _with(up + 1, 0, bool(above[0]), first=True), _with(down, end, bool(above[end]), first=False)
    from_gap = breaks[above[breaks + 1]] + 1
    to_gap = breaks[above[breaks]]
    starts = np.unique(np.concatenate((up + 1, from_gap, [0] if above[0] else []))).astype(np.intp)
    ends = np.unique(np.concatenate((down, to_gap, [end] if above[end] else []))).astype(np.intp)
    return starts, ends


def _with(index: NDArray[np.intp], edge: int, wanted: bool, *, first: bool) -> NDArray[np.intp]:
    """Return the indices with that of the recording's edge before or behind them, where it is wanted."""
    if not wanted:
        return index
    return np.concatenate(([edge], index) if first else (index, [edge])).astype(np.intp)


def in_start(
    above: Above, window: Window | FloatArray, following: float | tuple[float, float] = np.inf
) -> Above:
    """Return what counts in a start window: a run in progress where the window ends counts to its end.

    Estimate, lower and upper bound are each lengthened from their own end of the window, to the opening of the
    `following` attempt at the latest (or between its two bounds, [s]).
    """
    at = window if isinstance(window, Window) else Window.exactly(window)
    low, high = following if isinstance(following, tuple) else (following, following)
    reach, widest = _lengthened(at.rows, above.estimate, high), _lengthened(at.outer, above.high, high)
    rows = intersect(above.estimate, reach)
    # The lower bound stays inside the estimate, and the estimate inside the upper bound.
    sure = intersect(intersect(above.low, _lengthened(at.inner, above.low, low)), rows)
    return Above(
        rows,
        sure,
        intersect(above.high, widest),
        intersect(above.clear, reach),
        intersect(above.may, widest),
        above.begins_above,
        above.ends_above,
        above.first_s,
        above.last_s,
    )


def _lengthened(window: FloatArray, runs_s: FloatArray, following: float) -> FloatArray:
    """Return the window's rows, and to its end a stretch that is under way where they end."""
    if not len(window):
        return window
    end = float(window[-1, 1])
    k = bisect_right(runs_s[:, 1], end)  # runs are in order and apart
    if k == len(runs_s) or not runs_s[k, 0] < end:
        return window
    return union(np.concatenate((window, [[end, min(float(runs_s[k, 1]), following)]])))


def _at(gap: NDArray[np.bool_], index: NDArray[np.intp]) -> NDArray[np.bool_]:
    """Return the gap flags of these intervals; an index past the last interval is no gap."""
    out = np.zeros(index.size, dtype=np.bool_)
    inside = index < gap.size
    out[inside] = gap[index[inside]]
    return out


def _possible_between(trace: Trace, level: float) -> FloatArray:
    """Return the parts of intervals with no sample above in which the peak may have passed the level."""
    t, v = trace.time_s, trace.values
    edge = level - trace.half_resolution
    out = []
    index, apex_t, apex_v = trace.tents
    if index.size:
        hit = (apex_v > edge) & (v[index] <= level) & (v[index + 1] <= level)
        k, x, y = index[hit], apex_t[hit], apex_v[hit]
        with np.errstate(divide="ignore", invalid="ignore"):  # a sample at the apex is past the edge
            rise = np.where(v[k] >= edge, 0.0, (edge - v[k]) / (y - v[k]))
            fall = np.where(v[k + 1] >= edge, 0.0, (edge - v[k + 1]) / (y - v[k + 1]))
        out.append(np.column_stack((t[k] + rise * (x - t[k]), t[k + 1] - fall * (t[k + 1] - x))))
    if trace.half_resolution > 0:
        near = np.flatnonzero((v > edge) & (v <= level))
        k = np.unique(np.concatenate((near - 1, near)))
        k = k[(k >= 0) & (k < t.size - 1)]
        k = k[(v[k] <= level) & (v[k + 1] <= level) & ~trace.gap[k]]
        if k.size:
            dt, dv = t[k + 1] - t[k], v[k + 1] - v[k]
            with np.errstate(divide="ignore", invalid="ignore"):
                part = np.clip((edge - v[k]) / dv, 0.0, 1.0)
            start = np.where(v[k] > edge, t[k], t[k] + part * dt)
            stop = np.where(v[k + 1] > edge, t[k + 1], t[k] + part * dt)
            out.append(np.column_stack((start, stop)))
    return np.concatenate(out) if out else EMPTY


@dataclass(frozen=True, eq=False)
class Run:
    """One run above a level after rejoining: its stretches, duration and bounds.

    `duration_high_s` is None where the recording's edge cuts the run. `measured` is False for a run that
    only the upper bound has. `clear_s` and `may_s` are the duration and its upper bound as far as noise lets them be
    told, which decide: None for `clear_s` where nothing is, for `may_s` where the recording's edge cuts it. `reach` is from where to where it may have been beyond the level, [s].
    """

    pieces: FloatArray
    duration_s: float
    duration_low_s: float
    duration_high_s: float | None
    measured: bool
    reach: tuple[float, float]
    clear_s: float | None
    may_s: float | None

    @property
    def start_s(self) -> float:
        """First crossing, [s]."""
        return float(self.pieces[0, 0])

    @property
    def end_s(self) -> float:
        """Last crossing, [s]."""
        return float(self.pieces[-1, 1])


def run_edges(
    rows: FloatArray, rejoin_s: float, share: float = 0.0
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return first and last row index of each run: a break shorter than `rejoin_s` does not end it, if that `share` counts."""
    first, last = group_edges(rows, rejoin_s)
    if not first.size or not share:
        return first, last
    broken = _lengths(rows, first) < share * (rows[last, 1] - rows[first, 0])
    if not broken.any():
        return first, last
    alone = np.repeat(broken, last - first + 1)
    begins = np.union1d(first, np.flatnonzero(alone)).astype(np.intp)
    return begins, np.concatenate((begins[1:] - 1, [len(rows) - 1])).astype(np.intp)


def runs(above: Above, rejoin_s: float, share: float = 0.0) -> list[Run]:
    """Return the unbroken runs, longest-run counting: breaks shorter than `rejoin_s` do not end a run.

    One of which less than that `share` is above is none: its stretches are told one by one.

    The time of a break is never counted. Estimate, lower and upper bound are each rejoined by their own
    breaks; a run's lower bound is the longest surely-above run inside it, its upper bound the whole
    possibly-above run around it. Breaks are longest for the lower bound and shortest for the upper, so each
    surely-above run lies inside one run, and each run inside one possibly-above run.
    """
    wide_first, wide_last = group_edges(above.high, rejoin_s)
    if not wide_first.size:
        return []
    wide_begin, wide_end = above.high[wide_first, 0], above.high[wide_last, 1]
    wide_s = _lengths(above.high, wide_first)
    cut = above.cut(wide_begin, wide_end)
    may_s = _held_by(above.may, wide_begin)
    may_cut = np.zeros(wide_first.size, dtype=np.bool_)
    if len(above.may):
        may_cut[_which(wide_begin, above.may[above.cut(above.may[:, 0], above.may[:, 1]), 0])] = True
    first, last = run_edges(above.estimate, rejoin_s, share)
    out: list[Run] = []
    used = np.zeros(wide_first.size, dtype=np.bool_)
    if first.size:
        begin = above.estimate[first, 0]
        length = _lengths(above.estimate, first)
        sure = np.zeros(first.size)
        low_first, _ = group_edges(above.low, rejoin_s)
        if low_first.size:
            inside = _which(begin, above.low[low_first, 0])
            np.maximum.at(sure, inside, _lengths(above.low, low_first))
        clear_s = _held_by(above.clear, begin)
        is_clear = np.zeros(first.size, dtype=np.bool_)
        is_clear[_which(begin, above.clear[:, 0])] = True
        around = _which(wide_begin, begin)
        used[around] = True
        out = [
            Run(
                above.estimate[i : j + 1],
                total,
                low,
                None if cut[k] else max(total, float(wide_s[k])),
                True,
                (float(wide_begin[k]), float(wide_end[k])),
                float(clear_s[n]) if is_clear[n] else None,
                None if may_cut[k] else float(may_s[k]),
            )
            for n, (i, j, total, low, k) in enumerate(
                zip(
                    first.tolist(),
                    last.tolist(),
                    length.tolist(),
                    sure.tolist(),
                    around.tolist(),
                    strict=True,
                )
            )
        ]
    for k in np.flatnonzero(~used).tolist():
        rows = above.high[wide_first[k] : wide_last[k] + 1]
        reach = (float(wide_begin[k]), float(wide_end[k]))
        high, may = None if cut[k] else float(wide_s[k]), None if may_cut[k] else float(may_s[k])
        out.append(Run(rows, 0.0, 0.0, high, False, reach, None, may))
    out.sort(key=lambda run: run.start_s)
    return out


def _which(begins: FloatArray, times_s: FloatArray) -> NDArray[np.intp]:
    """Return of each instant in which of the groups that begin at these it lies."""
    return np.maximum(np.searchsorted(begins, times_s, side="right") - 1, 0)


def _held_by(rows: FloatArray, begins: FloatArray) -> FloatArray:
    """Return the summed length of the rows in each of the groups that begin at these instants, [s]."""
    out = np.zeros(begins.size)
    if len(rows):
        np.add.at(out, _which(begins, rows[:, 0]), rows[:, 1] - rows[:, 0])
    return out


def _lengths(rows: FloatArray, first: NDArray[np.intp]) -> FloatArray:
    """Return the summed length of each group of rows, given where each begins, [s]."""
    return np.add.reduceat(rows[:, 1] - rows[:, 0], first)


def summed(above: Above) -> Run | None:
    """Return all stretches as one run whose durations are totals, or None when nothing is possible."""
    if not len(above.high):
        return None
    cut = bool(above.cut(above.high[:, 0], above.high[:, 1]).any())
    pieces = above.estimate if len(above.estimate) else above.high
    may_cut = len(above.may) and bool(above.cut(above.may[:, 0], above.may[:, 1]).any())
    return Run(
        pieces,
        total_s(above.estimate),
        total_s(above.low),
        None if cut else total_s(above.high),
        bool(len(above.estimate)),
        (float(above.high[0, 0]), float(above.high[-1, 1])),
        total_s(above.clear) if len(above.clear) else None,
        None if may_cut else total_s(above.may),
    )
