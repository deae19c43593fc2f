"""Rainflow counting of cycles (ASTM E1049-85, 5.4.4)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from debrief.recording.model import FloatArray

FEW = 256
"""So few points are gone through one by one."""
LEAST_GAIN = 0.05
"""Of the points must be closed in one pass over all of them, else the rest is gone through one by one."""


def rainflow(values: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the ranges of the full cycles and those of the half cycles of a history, each in no order.

    Parameters
    ----------
    values : (n,) float array
        In order of time, without NaN. Times do not matter.

    Notes
    -----
    The standard goes from point to point: a range that is not larger than those before and after it is a full cycle,
    and its two points are taken out; what is left at the end are half cycles. Which closed range is taken out first
    does not matter, since it leaves those beside it as large as before, or larger. So all that are closed are taken
    out at once, again and again. Where ranges grow or shrink from one to the next that would take as many passes as there are
    points: these are gone through one by one.
    """
    points = turning_points(values)
    full = []
    while points.size > FEW:
        closed = _closed(np.abs(np.diff(points)))
        if closed.size < LEAST_GAIN * points.size:
            break
        full.append(np.abs(points[closed + 1] - points[closed]))
        keep = np.ones(points.size, dtype=np.bool_)
        keep[closed] = keep[closed + 1] = False
        points = points[keep]
    rest, halves = _one_by_one(points)
    return np.concatenate([*full, rest]), halves


def turning_points(values: FloatArray) -> FloatArray:
    """Return the first value, those at which it turns, and the last; a value that stays counts once."""
    if values.size < 2:
        return values[:0]
    moved = np.concatenate(([True], values[1:] != values[:-1]))
    values = values[moved]
    if values.size < 3:
        return values if values.size == 2 else values[:0]
    rises = values[1:] > values[:-1]
    turns = np.concatenate(([True], rises[1:] != rises[:-1], [True]))
    return values[turns]


def _closed(ranges: FloatArray) -> NDArray[np.intp]:
    """Return the index of ranges that are not larger than those beside them, no two of them neighbours."""
    closed = np.zeros(ranges.size, dtype=np.bool_)
    closed[1:-1] = (ranges[1:-1] <= ranges[:-2]) & (ranges[1:-1] <= ranges[2:])
    index = np.flatnonzero(closed)
    # Neighbours are equal: of a row of them every other one, from its first.
    begins = np.concatenate(([True], np.diff(index) > 1))
    place = np.arange(index.size)
    every_other = (place - np.maximum.accumulate(np.where(begins, place, 0))) % 2 == 0
    return np.asarray(index[every_other])


def _one_by_one(points: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the ranges of the full cycles and those of the half cycles of turning points."""
    full: list[float] = []
    left: list[float] = []
    for point in points.tolist():
        left.append(point)
        while len(left) > 3:
            before, middle, after = abs(left[-3] - left[-4]), abs(left[-2] - left[-3]), abs(point - left[-2])
            if middle > before or middle > after:
                break
            full.append(middle)
            del left[-3:-1]
    return np.array(full), np.abs(np.diff(np.array(left)))
