"""Sets of time intervals as (m, 2) float arrays, sorted and not overlapping."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.recording.model import FloatArray

EMPTY: FloatArray = np.empty((0, 2))
EMPTY.setflags(write=False)


def from_pairs(pairs: Iterable[tuple[float, float]]) -> FloatArray:
    """Return the union of (start, end) pairs; pairs that end before they start are dropped."""
    rows = [(a, b) for a, b in pairs if b >= a]
    return union(np.array(rows, dtype=np.float64).reshape(-1, 2))


def union(rows: FloatArray) -> FloatArray:
    """Return the rows sorted, with rows that touch or overlap merged. `rows` is (m, 2) in any order."""
    if len(rows) < 2 or bool((rows[1:, 0] > rows[:-1, 1]).all()):
        return rows  # most are apart and in order already
    rows = rows[np.argsort(rows[:, 0], kind="stable")]
    reach = np.maximum.accumulate(rows[:, 1])
    first = np.concatenate(([True], rows[1:, 0] > reach[:-1]))
    starts = rows[first, 0]
    last = np.concatenate((np.flatnonzero(first)[1:] - 1, [len(rows) - 1]))
    return np.column_stack((starts, reach[last]))


def intersect(a: FloatArray, b: FloatArray) -> FloatArray:
    """Return the stretches in both sets. A row of zero length inside the other set is kept."""
    if not len(a) or not len(b):
        return EMPTY
    if len(a) == 1 and len(b) == 1:
        return _both(*a[0].tolist(), *b[0].tolist())
    # One row among many, as each start has it: only those beside it are looked at.
    if len(b) == 1:
        a = a[bisect_left(a[:, 1], b[0, 0]) : bisect_right(a[:, 0], b[0, 1])]
    elif len(a) == 1:
        b = b[bisect_left(b[:, 1], a[0, 0]) : bisect_right(b[:, 0], a[0, 1])]
    # Every row of `a` that meets a row of `b`, as pairs of indices: no loop, so many rows cost little.
    low = a[:, 1].searchsorted(b[:, 0], side="left")
    count = np.maximum(a[:, 0].searchsorted(b[:, 1], side="right") - low, 0)
    total = int(count.sum())
    if not total:
        return EMPTY
    in_b = np.repeat(np.arange(len(b)), count)
    in_a = np.arange(total) - np.repeat(np.cumsum(count) - count, count) + np.repeat(low, count)
    rows, other = a[in_a], b[in_b]
    part = np.column_stack((np.maximum(rows[:, 0], other[:, 0]), np.minimum(rows[:, 1], other[:, 1])))
    # A row that only touches the other set shares no time with it; an instant inside it does.
    keep = (part[:, 1] > part[:, 0]) | (rows[:, 1] == rows[:, 0]) | (other[:, 1] == other[:, 0])
    return union(part[keep])


def _both(a0: float, a1: float, b0: float, b1: float) -> FloatArray:
    """Return `intersect` of two single rows, the commonest case, without the cost of arrays."""
    begin, end = max(a0, b0), min(a1, b1)
    if end > begin or (end == begin and (a0 == a1 or b0 == b1)):
        return np.array([[begin, end]])
    return EMPTY


def subtract(a: FloatArray, b: FloatArray) -> FloatArray:
    """Return the stretches of `a` that are not in `b`."""
    if not len(a) or not len(b):
        return a
    edges = np.concatenate(([-np.inf], b.ravel(), [np.inf])).reshape(-1, 2)
    out = intersect(a, edges)
    return out[out[:, 1] > out[:, 0]]


def total_s(rows: FloatArray) -> float:
    """Return the summed length, [s]."""
    return float((rows[:, 1] - rows[:, 0]).sum()) if len(rows) else 0.0


def contains(rows: FloatArray, time_s: float) -> bool:
    """Return whether the instant lies in one of the rows, edges included."""
    k = bisect_left(rows[:, 1], time_s)
    return k < len(rows) and bool(rows[k, 0] <= time_s)


def mask(rows: FloatArray, times_s: FloatArray) -> NDArray[np.bool_]:
    """Return for each instant whether it lies in one of the rows, edges included. `times_s` rises."""
    inside = np.zeros(times_s.size, dtype=np.bool_)
    if len(rows):
        low = np.searchsorted(times_s, rows[:, 0], side="left")
        high = np.searchsorted(times_s, rows[:, 1], side="right")
        for i, j in zip(low, high, strict=True):
            inside[i:j] = True
    return inside


def group_edges(rows: FloatArray, rejoin_s: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return first and last row index of each group; a break of `rejoin_s` or longer ends a group."""
    if not len(rows):
        none = np.empty(0, dtype=np.intp)
        return none, none
    breaks = np.flatnonzero(rows[1:, 0] - rows[:-1, 1] >= rejoin_s)
    return np.concatenate(([0], breaks + 1)), np.concatenate((breaks, [len(rows) - 1]))


@dataclass(frozen=True, eq=False)
class Window:
    """Where something held, as far as sampling tells: three sets, each inside the next.

    Attributes
    ----------
    inner : (k, 2) float array
        Where it surely held: from the latest beginning to the earliest end.
    rows : (m, 2) float array
        The estimate.
    outer : (n, 2) float array
        Where it may have held: from the earliest beginning to the latest end.
    """

    rows: FloatArray
    inner: FloatArray
    outer: FloatArray

    @classmethod
    def exactly(cls, rows: FloatArray) -> Window:
        """Return a window whose edges are known."""
        return cls(rows, rows, rows)

    @classmethod
    def between(cls, rows: FloatArray, inner: FloatArray, outer: FloatArray) -> Window:
        """Return a window from three sets that need not lie inside each other yet."""
        outer = union(np.concatenate((outer, rows))) if len(rows) else union(outer)
        return cls(rows, intersect(inner, rows), outer)

    def both(self, other: Window) -> Window:
        """Return where both held."""
        return Window(
            intersect(self.rows, other.rows),
            intersect(self.inner, other.inner),
            intersect(self.outer, other.outer),
        )

    def minus(self, other: Window) -> Window:
        """Return where this held and the other did not."""
        return Window(
            subtract(self.rows, other.rows),
            subtract(self.inner, other.outer),
            subtract(self.outer, other.inner),
        )

    def known(self, unknown: FloatArray) -> Window:
        """Return the same without the rows in which nothing is known: nothing is claimed there at all."""
        return Window(*(subtract(rows, unknown) for rows in (self.rows, self.inner, self.outer)))
