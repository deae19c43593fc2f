"""What a quantity of the flight did, as means over some seconds: the same at any rate and in noise."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import FloatArray

STEP_S = 5.0
MOST_STEPS = 400_000
"""Of `STEP_S` in one recording: 23 days. A clock that runs wild may tell of centuries."""


@dataclass(frozen=True, eq=False)
class FlownLine:
    """A quantity over the recording, each value the mean of the samples of one step.

    Attributes
    ----------
    time_s, values : (n,) float array
        The middle of each step, [s], and the straight line through the means there.
    step_s : float
        Length of a step, [s].
    """

    time_s: FloatArray
    values: FloatArray
    step_s: float

    def at(self, time_s: float) -> float:
        """Return the value at an instant, the nearest one beyond the ends."""
        return float(np.interp(time_s, self.time_s, self.values))

    def between(self, begin: float, end: float) -> slice:
        """Return the slice of steps from `begin` to `end`, both included."""
        a, b = self.time_s.searchsorted((begin - 1e-9, end + 1e-9))
        return slice(int(a), int(b))


def line_of(trace: Trace, end_s: float) -> FlownLine:
    """Return the line of a channel over a recording of this length, [s]; across gaps it is straight.

    Notes
    -----
    The mean of the samples of a step stands at the mean of their times: a straight rise stays where it was,
    however the samples lie in the step.
    """
    step = max(STEP_S, end_s / MOST_STEPS)
    grid = np.arange(0.0, end_s + 0.5 * step, step)
    edge = trace.time_s.searchsorted(np.append(grid - 0.5 * step, np.inf))
    first, count = edge[:-1], np.diff(edge)
    some = np.flatnonzero(count)
    sums = [np.add.reduceat(each, first[some]) for each in (trace.time_s, trace.values)]
    when, what = (each / count[some] for each in sums)
    return FlownLine(grid, np.interp(grid, when, what), step)


def height_line(view: EngineView) -> FlownLine | None:
    """Return the height, [ft], above an unknown level: altitude, else what the vertical speed adds up to."""
    height, vs = view.height, view.trace("vs")
    if height is not None:
        return line_of(height, view.end_s)
    if vs is None:
        return None
    line = line_of(vs, view.end_s)
    rise = 0.5 * (line.values[1:] + line.values[:-1]) * line.step_s / 60.0
    return replace(line, values=np.concatenate(([0.0], np.cumsum(rise))))


def turning_points(values: FloatArray, least: float) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Return where values turn back by `least` or more: the index of each, and whether it is a high.

    Highs and lows alternate. The first and the last value are none: nobody knows what was before and after.
    """
    change = np.sign(np.diff(values))
    moves = np.flatnonzero(change)
    bends = moves[:-1][change[moves[1:]] != change[moves[:-1]]] + 1
    heights = values.tolist()
    high = low = direction = 0
    out: list[tuple[int, bool]] = []
    for k in [*bends.tolist(), len(heights) - 1] if heights else []:
        value = heights[k]
        if direction >= 0 and value > heights[high]:
            high = k
        if direction <= 0 and value < heights[low]:
            low = k
        if direction >= 0 and heights[high] - value >= least:
            out.append((high, True))
            direction, low = -1, k
        elif direction <= 0 and value - heights[low] >= least:
            out.append((low, False))
            direction, high = 1, k
    out = [one for one in out if 0 < one[0] < len(heights) - 1]
    return np.array([k for k, _ in out], dtype=np.intp), np.array([h for _, h in out], dtype=np.bool_)
