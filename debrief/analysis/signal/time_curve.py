"""The time-at-temperature curve: how long a trace was above every level, in total and in one run."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.model import TimeAbove
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import FloatArray

CURVE_BLOCK = 1_000_000
"""How many numbers the curve looks at in one go."""

CURVE_LEVELS = 40
"""How many levels share the samples that the curve looks at: higher ones have fewer."""


def time_above_curve(
    trace: Trace, windows: FloatArray, channel: str, unit: str, least: float, run_on_s: float = -np.inf
) -> TimeAbove:
    """Return total and longest time above every level where the answer bends.

    Parameters
    ----------
    windows : (m, 2) float array
        Where the trace counts.
    least : float
        Levels below this are left out.
    run_on_s : float
        Until when a run under way where the last window ends goes on counting, at each level to its own end, [s].

    Notes
    -----
    For a piecewise-linear signal the total time above is itself piecewise linear in the level, with bends
    only at sample values. At most 200 levels are kept, evenly among the sample values; between them the
    straight line is exact up to the bends left out. The longest time is that of one unbroken run.
    """
    t, v, gap = _inside(trace, windows, run_on_s)
    if v.size and not v.max() >= least:
        return TimeAbove(channel, unit, (), (), ())
    on = trace.values[trace.between(windows[-1, 1], run_on_s)] if v.size else v
    levels = np.unique(np.concatenate((v[v >= least], on[on >= least])))
    if levels.size > 200:
        levels = np.unique(levels[np.linspace(0, levels.size - 1, 200).astype(int)])
    if not levels.size:
        return TimeAbove(channel, unit, (), (), ())
    totals, longest = np.zeros(levels.size), np.zeros(levels.size)
    block = max(1, min(CURVE_LEVELS, CURVE_BLOCK // t.size))
    for k in range(0, levels.size, block):
        level = levels[k : k + block]
        # Samples with none above the lowest of these levels beside them add nothing: they are left out.
        hot = v > level[0]
        kept = hot.copy()
        kept[1:] |= hot[:-1]
        kept[:-1] |= hot[1:]
        index = kept.nonzero()[0]
        if not index.size:
            continue  # the highest level of all
        totals[k : k + block], longest[k : k + block] = _above_levels(
            t[index], v[index], gap[index[:-1]], level
        )
    return TimeAbove(channel, unit, tuple(levels.tolist()), tuple(totals.tolist()), tuple(longest.tolist()))


def _above_levels(
    t: FloatArray, v: FloatArray, gap: NDArray[np.bool_], levels: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return total and longest time above each level, [s], of samples that follow each other.

    Between two that do not, none of the levels is passed: what lay between was left out.
    """
    level = levels[:, None]
    steps = np.where(gap, 0.0, np.diff(t))
    low, high = np.minimum(v[:-1], v[1:]), np.maximum(v[:-1], v[1:])
    # A level stretch is all above or not at all: as a slope so steep that nothing lies between.
    steep = steps / np.maximum(high - low, 1e-12 * np.maximum(1.0, np.abs(high)))
    at_gap = np.concatenate(([True], gap)) | np.concatenate((gap, [True]))
    summed_s = np.zeros((levels.size, t.size))
    part = summed_s[:, 1:]
    np.subtract(high, level, out=part)
    part *= steep
    np.maximum(part, 0.0, out=part)
    np.minimum(part, steps, out=part)
    np.cumsum(part, axis=1, out=part)
    total = summed_s[:, -1].copy()
    # A run lies between two samples that are not above, or that a gap or an edge cuts.
    breaks = (v <= level) | at_gap
    since = np.where(breaks, summed_s, 0.0)
    np.maximum.accumulate(since, axis=1, out=since)
    part -= since[:, :-1]
    return total, part.max(axis=1, initial=0.0)


def _inside(
    trace: Trace, windows: FloatArray, run_on_s: float
) -> tuple[FloatArray, FloatArray, NDArray[np.bool_]]:
    """Return times, values and gaps of the trace inside the windows, its straight lines cut at their edges.

    Behind the last window, to `run_on_s`, stands the lowest that it has been since: that is above a level just as long
    as a run under way at the window's end goes on.
    """
    times: list[float] = []
    values: list[float] = []
    gaps: list[bool] = []
    for begin, end in windows:
        part = trace.between(begin, end)
        t, v = trace.time_s[part].tolist(), trace.values[part].tolist()
        g = trace.gap[part.start : max(part.stop - 1, part.start)].tolist()
        first, last = trace.at(begin), trace.at(end)
        if first is not None and (not t or t[0] > begin):
            t, v, g = [float(begin), *t], [first, *v], [False, *g] if t else []
        if last is not None and t and t[-1] < end:
            t, v, g = [*t, float(end)], [*v, last], [*g, False]
        if times and t:
            gaps.append(True)
        times, values, gaps = times + t, values + v, gaps + g
    if times and run_on_s > times[-1] == windows[-1, 1]:
        t_on, lowest = _lowest_since(trace, times[-1], run_on_s)
        times, values, gaps = [*times, *t_on], [*values, *lowest], gaps + [False] * t_on.size
    return np.array(times), np.array(values), np.array(gaps, dtype=np.bool_)


def _lowest_since(trace: Trace, begin_s: float, end_s: float) -> tuple[FloatArray, FloatArray]:
    """Return time and value of the corners behind `begin_s` of the lowest value since then, to `end_s` or a gap.

    None where nothing is under way: in a gap, or at the first sample behind one.
    """
    first, last = (int(trace.time_s.searchsorted(x, side="right")) for x in (begin_s, end_s))
    value = trace.at(begin_s)
    if value is None or (trace.time_s[first - 1] == begin_s and (first == 1 or trace.gap[first - 2])):
        return np.empty(0), np.empty(0)
    gaps = trace.gap_index[trace.gap_index.searchsorted(first - 1) :]
    stop = min([last, *(gaps[:1] + 1).tolist()])
    edge = trace.at(end_s) if stop == last else None
    t = np.concatenate(([begin_s], trace.time_s[first:stop], [] if edge is None else [end_s]))
    v = np.concatenate(([value], trace.values[first:stop], [] if edge is None else [edge]))
    low = np.minimum.accumulate(v)
    # Between two samples it falls below the lowest only from where the line passes that.
    k = np.flatnonzero(low[1:] < low[:-1])
    passed = t[k] + (v[k] - low[k]) / (v[k] - v[k + 1]) * (t[k + 1] - t[k])
    return np.insert(t, k + 1, passed)[1:], np.insert(low, k + 1, low[k])[1:]
