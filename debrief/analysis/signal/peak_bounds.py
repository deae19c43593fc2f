"""How high a signal may have gone between two of its samples, from the slopes on both sides."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.recording.model import FloatArray

Tents = tuple[NDArray[np.intp], FloatArray, FloatArray]

BACK = 6
"""How many samples on each side tell the slope."""

STEEPER = 2.0
"""A slope that grows toward the top is at most so much steeper inside the interval than beside it."""

SAME_SLOPE = 1.05
"""Slopes this near to each other are one straight line, whose end is at a sample."""

NOISE = 3.0
"""Movement within this many deviations of the noise is no slope."""

BLOCK = 16384

PART = 16384
"""So many intervals are looked at at once, which take some hundred numbers each: of ten hours of saw teeth, all would
take fifteen times the file."""

FEW = 2000
"""So many intervals are looked at from both sides at once."""

FAR = 2.0**0.5
"""Over more than one interval the noise of both ends counts."""


def tents(time_s: FloatArray, values: FloatArray, gap: NDArray[np.bool_], step: float, noise: float) -> Tents:
    """Return where slopes on both sides lead upward into an interval: interval index, apex time, apex value.

    Parameters
    ----------
    time_s, values : (n,) float array
    gap : (n - 1,) bool array
    step : float
        The recorder's step, [unit].
    noise : float
        Robust deviation of the noise, [unit].

    Notes
    -----
    Into the interval between two samples leads a line up from the left and one from the right. The slope of
    each is that of the two samples beside the interval; where it grew since the interval before, it grows by as
    much again, to the double at most. The slope over up to six samples counts as far as the noise may hide it in
    those two; at a smooth top, where neither side moved by more than the recorder's step and noise in its last
    interval, as far as the step may hide it, too. Where one side
    leads upward and the interval itself falls away from it more steeply than the other side tells, the change
    came within the interval: twice the interval's own slope stands for the other side. The lines' crossing is the
    apex if it lies inside.
    """
    none = (np.empty(0, dtype=np.intp), np.empty(0), np.empty(0))
    if values.size < 3:
        return none
    least = NOISE * noise
    index = _candidates(values, gap, least)
    if not index.size:
        return none
    # As many gaps before one sample as before another: none between them.
    gaps = np.concatenate(([0], np.cumsum(gap))) if gap.any() else None
    parts = [
        _crossings(time_s, values, gaps, index[begin : begin + PART], step, least)
        for begin in range(0, index.size, PART)
    ]
    if len(parts) == 1:
        return parts[0]
    found, apex_s, apex = zip(*parts, strict=True)
    return np.concatenate(found), np.concatenate(apex_s), np.concatenate(apex)


def _crossings(
    time_s: FloatArray,
    values: FloatArray,
    gaps: NDArray[np.intp] | None,
    index: NDArray[np.intp],
    step: float,
    least: float,
) -> Tents:
    """Return `tents` of these candidates, (k,); what is worked out for each takes some hundred numbers."""
    left, right = _slopes(time_s, values, gaps, index, least)
    # Rounding leaves so much more: 1e-9 of a step of exactly the recorder's.
    smooth = np.maximum(left.moved, right.moved) <= (step + least) * (1.0 + 1e-9)
    hidden = np.where(smooth, step + least, least)
    up, down = left.with_hidden(hidden), right.with_hidden(hidden)
    t, v = time_s[index], values[index]
    dt, dv = time_s[index + 1] - t, values[index + 1] - v
    own = dv / dt
    falls = (up > 0) & (dv < -least) & (-own > SAME_SLOPE * down)
    rises = (down > 0) & (dv > least) & (own > SAME_SLOPE * up)
    down = np.where(falls, -STEEPER * own, down)
    up = np.where(rises, STEEPER * own, up)
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        x = (dv + down * dt) / (up + down)
        good = np.isfinite(x) & (x > 0) & (x < dt)
        return index[good], (t + x)[good], (v + up * x)[good]


def _candidates(values: FloatArray, gap: NDArray[np.bool_], least: float) -> NDArray[np.intp]:
    """Return the intervals with a rise before and a fall after, or one of the two inside.

    A look at the lowest of the samples on each side, without slopes: most intervals are none.
    """
    out = []
    # In pieces that stay in the processor's cache, each with what the intervals at its ends look at.
    for begin in range(0, values.size - 1, BLOCK):
        first = max(begin - BACK, 0)
        found = first + np.flatnonzero(_in_piece(values[first : begin + BLOCK + BACK + 1], least))
        out.append(found[(found >= begin) & (found < begin + BLOCK)])
    index = out[0] if len(out) == 1 else np.concatenate(out)
    return index[~gap[index]]


def _in_piece(values: FloatArray, least: float) -> NDArray[np.bool_]:
    """Return what `_candidates` asks, (n - 1,), of samples that follow each other."""
    step = np.diff(values)
    steps_up, steps_down = step > least, step < -least
    far = FAR * least
    pairs = np.minimum(values[1:], values[:-1])
    fours = np.minimum(pairs[2:], pairs[:-2])
    sevens = np.minimum(fours[3:], fours[:-3])  # sevens[k] is the lowest of k .. k + 6
    rise = np.ones(values.size - 1, dtype=np.bool_)
    fall = np.ones(values.size - 1, dtype=np.bool_)
    if sevens.size > 1:
        # Where fewer samples lie on a side it is looked at all the same.
        rise[BACK:] = values[BACK:-1] - sevens[:-1] > far
        fall[: -BACK or None] = values[1:-BACK] - sevens[1:] > far
    before = np.concatenate(([False], steps_up[:-1]))
    after = np.concatenate((steps_down[1:], [False]))
    return (rise | before | steps_up) & (fall | after | steps_down)


@dataclass(frozen=True, eq=False)
class _Slope:
    """How the signal rose into samples from one side.

    Attributes
    ----------
    near : (k,) float array
        The slope of the last interval, grown as it grew before, [unit/s]; 0 where it did not rise.
    chord : (k,) float array
        The steepest slope over two to six intervals, [unit/s]; 0 where it did not rise.
    moved, took : (k,) float array
        The rise over the last interval, not below 0, [unit], and its length, [s].
    """

    near: FloatArray
    chord: FloatArray
    moved: FloatArray
    took: FloatArray

    def part(self, which: slice) -> _Slope:
        """Return those of some of the samples."""
        return _Slope(self.near[which], self.chord[which], self.moved[which], self.took[which])

    def with_hidden(self, hidden: FloatArray) -> FloatArray:
        """Return the slope where so much of the last movement, [unit], may not show."""
        return np.maximum(self.near, np.minimum(self.chord, (self.moved + hidden) / self.took))


def _slopes(
    t: FloatArray, v: FloatArray, gaps: NDArray[np.intp] | None, index: NDArray[np.intp], least: float
) -> tuple[_Slope, _Slope]:
    """Return how the signal rose into the intervals `index`, (k,), from the left and from the right.

    A few are looked at from both sides at once, since each look costs the same; many one side after the other,
    which keeps to the processor's cache.
    """
    at, way = (index, index + 1), np.array((-1, 1))
    if index.size > FEW:
        return _slope(t, v, gaps, at[0], way[:1], least), _slope(t, v, gaps, at[1], way[1:], least)
    both = _slope(t, v, gaps, np.concatenate(at), way.repeat(index.size), least)
    return both.part(slice(None, index.size)), both.part(slice(index.size, None))


def _slope(
    t: FloatArray,
    v: FloatArray,
    gaps: NDArray[np.intp] | None,
    at: NDArray[np.intp],
    way: NDArray[np.intp],
    least: float,
) -> _Slope:
    """Return how the signal rose into the samples `at`, (k,), each from the side that `way` (-1, 1) names."""
    to = at[:, None] + way[:, None] * np.arange(BACK + 1)
    inside = (to[:, 1:] >= 0) & (to[:, 1:] < t.size)
    to = np.minimum(np.maximum(to, 0), t.size - 1)
    if gaps is not None:
        before_each = gaps[to]
        inside &= before_each[:, 1:] == before_each[:, :1]
    at_t, at_v = t[to], v[to]
    away = np.where(inside, np.abs(at_t[:, 1:] - at_t[:, :1]), 1.0)
    rise = np.where(inside, at_v[:, :1] - at_v[:, 1:], 0.0)
    slope = np.where(rise > least, rise / away, 0.0)
    near, chord = slope[:, 0], np.where(rise > FAR * least, slope, 0.0)[:, 1:].max(axis=1)
    step = np.where(inside[:, 1], rise[:, 1] - rise[:, 0], 0.0)
    before = np.where(step > least, step / np.where(inside[:, 1], away[:, 1] - away[:, 0], 1.0), 0.0)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        grown = np.where(before > 0, np.minimum(np.maximum(near / before, 1.0), STEEPER), 1.0)
    moved, took = np.maximum(rise[:, 0], 0.0), away[:, 0]
    return _Slope(near * grown, chord, moved, took)
