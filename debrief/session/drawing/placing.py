"""Where words go so that they never stand on each other, on screen and paper. Pure geometry, in whatever unit."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

_COLUMN = 48.0
"""Width of a column of places, [px]."""


@dataclass(frozen=True)
class Box:
    """A rectangle in pixels."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Right edge."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """Bottom edge."""
        return self.top + self.height

    def meets(self, other: Box, gap: float = 0.0) -> bool:
        """Return whether two boxes overlap or come closer than a gap."""
        # Asked thousands of times in a frame: the properties would cost more than the comparison.
        return (
            self.left < other.left + other.width + gap
            and other.left < self.left + self.width + gap
            and self.top < other.top + other.height + gap
            and other.top < self.top + self.height + gap
        )

    def within(self, other: Box) -> bool:
        """Return whether this box lies inside another."""
        return (
            self.left >= other.left - 0.5
            and self.right <= other.right + 0.5
            and self.top >= other.top - 0.5
            and self.bottom <= other.bottom + 0.5
        )


def rows_apart(heights: Iterable[float], least: float) -> list[bool]:
    """Return which numbers of an axis are written, from the lowest up: those at least so far above the one before."""
    written: list[bool] = []
    last = math.inf
    for height in heights:
        written.append(last - height >= least)
        last = height if written[-1] else last
    return written


class Placer:
    """Remembers what is taken inside an area and gives the first free place of those offered.

    Parameters
    ----------
    area : Box
        Nothing is placed outside.
    gap : float
        Least distance between two boxes, [px].
    """

    def __init__(self, area: Box, gap: float = 2.0) -> None:
        self._area = area
        self._gap = gap
        self._taken: list[Box] = []
        self._columns: dict[int, list[Box]] = {}

    @property
    def taken(self) -> tuple[Box, ...]:
        """All places that are taken."""
        return tuple(self._taken)

    def reserve(self, box: Box) -> None:
        """Mark a place as taken."""
        self._taken.append(box)
        for column in self._columns_of(box):
            self._columns.setdefault(column, []).append(box)

    def _columns_of(self, box: Box) -> range:
        """Return the columns of the area that a box lies in or near: of a thousand words few are near another."""
        area, gap = self._area, self._gap
        first = max(area.left, box.left - gap)
        last = min(area.right, box.left + box.width + gap)
        return range(int(first // _COLUMN), int(last // _COLUMN) + 1)

    def place(self, candidates: Iterable[Box], crosses: Callable[[Box], float] | None = None) -> Box | None:
        """Return the first candidate that is free and inside, and take it; None when none is.

        Parameters
        ----------
        candidates : iterable of Box
            In order of preference.
        crosses : callable, optional
            How much of what may be covered, such as a trace, runs through a box: the place with the least
            is taken, the first of those with as much.
        """
        found: Box | None = None
        least = math.inf
        for box in candidates:
            if not box.within(self._area) or self._is_taken(box):
                continue
            much = 0.0 if crosses is None else float(crosses(box))
            if much < least:
                found, least = box, much
            if least == 0.0:
                break
        if found is not None:
            self.reserve(found)
        return found

    def _is_taken(self, box: Box) -> bool:
        gap = self._gap
        return any(
            box.meets(other, gap)
            for column in self._columns_of(box)
            for other in self._columns.get(column, ())
        )


def spread(
    wanted: Sequence[float], each: float, low: float, high: float, order: Sequence[int] | None = None
) -> list[float]:
    """Return places none nearer than `each` to the next, as near to the wanted as can be, in the wanted's order.

    Parameters
    ----------
    wanted : sequence of float
        Where each would be alone.
    each : float
        Least distance.
    low, high : float
        The least and the greatest place; where there is no room for all between them, the last lie beyond.
    order : sequence of int, optional
        In which they are to stand from the least on; by what is wanted when not given.

    Notes
    -----
    Least squares: what is closer than it may be shares the way (pool adjacent violators). The places follow the
    wanted ones without a jump.
    """
    if order is None:
        order = sorted(range(len(wanted)), key=lambda index: wanted[index])
    pools: list[tuple[float, int]] = []
    for rank, index in enumerate(order):
        pools.append((wanted[index] - rank * each, 1))
        while len(pools) > 1 and pools[-2][0] >= pools[-1][0]:
            (a, m), (b, n) = pools[-2:]
            pools[-2:] = [((a * m + b * n) / (m + n), m + n)]
    most = high - (len(wanted) - 1) * each
    level = [min(max(place, low), max(most, low)) for place, count in pools for _ in range(count)]
    out = [0.0] * len(wanted)
    for rank, index in enumerate(order):
        out[index] = level[rank] + rank * each
    return out
