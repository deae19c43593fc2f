"""Where the words of a still chart stand: none on another, none on a curve, each at what it names. Pure geometry.

All lengths are in pixels of a text line of `LINE`: the paper, which has millimetres, scales them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from debrief.recording.model import FloatArray
from debrief.session.charts.still_chart import Area, Pane
from debrief.session.drawing.placing import Box, Placer, spread

LINE = 14.0
"""Height of a line of words."""
Width = Callable[[str, bool], float]
"""Of words, plain or bold."""


@dataclass(frozen=True)
class Placed:
    """Words with their place, from the left edge of their box; `bold` as they were measured.

    `leader` leads from the point that they name to a box that does not stand at it: x, y to x, y. `breaks_level`
    says that levels run through the box and no curve does: they are not drawn behind the words.
    """

    text: str
    box: Box
    role: str
    bold: bool = False
    leader: tuple[float, float, float, float] | None = None
    breaks_level: bool = False


@dataclass(frozen=True, eq=False)
class View:
    """The shown part of a pane: where it lies, and which part of its axes it is, as shares."""

    area: Box
    x: tuple[float, float] = (0.0, 1.0)
    y: tuple[float, float] = (0.0, 1.0)

    def at(self, x: FloatArray, y: FloatArray) -> FloatArray:
        """Return the places (n, 2) of points that are given as shares of both axes (n,)."""
        across = (x - self.x[0]) / (self.x[1] - self.x[0])
        up = (y - self.y[0]) / (self.y[1] - self.y[0])
        return np.column_stack(
            [self.area.left + across * self.area.width, self.area.bottom - up * self.area.height]
        )


def place_words(
    pane: Pane, view: View, shares: Callable[[FloatArray], FloatArray], margin: float, width: Width
) -> tuple[tuple[Placed, ...], tuple[str, ...]]:
    """Return the words of a pane with their places, and the names of tints that found none.

    Parameters
    ----------
    pane : Pane
    view : View
    shares : callable
        Of the x axis.
    margin : float
        Room right of the area, for the names that stand beside.
    width : callable

    Notes
    -----
    First the marks', which have only their point to stand at; then the levels' and the tints'. A name beside the
    chart keeps to its height as well as it can.
    """
    area = view.area
    # Letters are lower than their box: at the top it may begin a little above the frame.
    placer = Placer(Box(area.left + 1, area.top - 2, area.width - 2, area.height + 1))
    pieces = [_pieces(view, shares(curve.x), pane.y.shares(curve.y)) for curve in pane.curves]
    lines: FloatArray = np.vstack([np.zeros((0, 4)), *pieces])
    heights = [float(view.at(np.zeros(1), np.array([pane.y.share(one.value)]))[0, 1]) for one in pane.levels]
    out = _label_of_pane(pane, placer, area, lines, heights, width) + _names_of_marks(
        pane, view, shares, placer, lines, heights, width
    )
    shown = [
        (level, height)
        for level, height in zip(pane.levels, heights, strict=True)
        if level.label and area.top - 1 <= height <= area.bottom + 1
    ]
    outside = [(level, height - LINE / 2) for level, height in shown if level.beside]
    tops = spread([top for _, top in outside], LINE, area.top - LINE, area.bottom)
    for (level, _), top in zip(outside, tops, strict=True):
        out.append(Placed(level.label, Box(area.right + 5, top, margin - 5, LINE), level.role))
    for level, height in shown:
        if not level.beside:
            wide = width(level.label, False) + 3
            lefts = _steps(area.right - 4 - wide, area.left + 4)
            # In its own line, which it breaks, where others are too near above and below.
            spots = [Box(left, height + off, wide, LINE) for off in (-LINE, 1.0, -LINE / 2) for left in lefts]

            def crossed(box: Box, own: float = height) -> float:
                return 2.0 * _is_crossed(lines, box) + _struck(heights, box) - _is_in_line(own, box) / 2

            box = placer.place(spots, crossed)
            if box is not None:
                out.append(Placed(level.label, box, level.role))
    names, left_out = _names_of_areas(pane.areas, view, shares, pane, placer, lines, heights, width)
    return tuple(_breaking(one, area, lines, heights) for one in (*out, *names)), left_out


def _breaking(one: Placed, area: Box, lines: FloatArray, heights: Sequence[float]) -> Placed:
    is_struck = one.box.left < area.right and _struck(heights, one.box) > 0
    return replace(one, breaks_level=is_struck and not _is_crossed(lines, one.box))


def _label_of_pane(
    pane: Pane, placer: Placer, area: Box, lines: FloatArray, heights: Sequence[float], width: Width
) -> list[Placed]:
    """Return the quantity's name in the corner that the curves leave free, and the levels if one does."""
    if not pane.label:
        return []
    wide = width(pane.label, True) + 4
    corners = [
        Box(left, top, wide, LINE + 2)
        for top in (area.top + 1, area.bottom - LINE - 3)
        for left in (area.left + 6, area.right - wide - 6)
    ]
    box = placer.place(corners, lambda box: _crossing(lines, box).sum() + _struck(heights, box) / 100)
    return [Placed(pane.label, box, pane.role, True)] if box is not None else []


def _names_of_marks(
    pane: Pane,
    view: View,
    shares: Callable[[FloatArray], FloatArray],
    placer: Placer,
    lines: FloatArray,
    heights: Sequence[float],
    width: Width,
) -> list[Placed]:
    marks = [mark for mark in pane.marks if mark.label and isfinite(mark.x) and isfinite(mark.y)]
    if not marks:
        return []
    places = view.at(
        shares(np.array([mark.x for mark in marks])), pane.y.shares(np.array([mark.y for mark in marks]))
    )
    for x, y in places.tolist():
        placer.reserve(Box(x - 4, y - 4, 8, 8))
    out = []
    for mark, (x, y) in zip(marks, places.tolist(), strict=True):
        wide = width(mark.label, True) + 3
        spots = [
            Box(left, y + shift, wide, LINE)
            # All places on the right first: the words of one instant after another are read in their order.
            for left in (x + 8, x - 8 - wide)
            for shift in (-LINE - 2, 1 - LINE, 3, -LINE / 2, -2 * LINE, LINE, -3 * LINE, 2 * LINE)
        ]
        spots += [Box(x - wide / 2, y + shift, wide, LINE) for shift in (-LINE - 6, 6)]
        spots += [
            Box(left, y + shift * LINE, wide, LINE)
            for shift in (-3, 2, -4, 3, -5, 4)
            for left in (x - wide / 2, x + 24, x - 24 - wide, x + 56, x - 56 - wide)
        ]
        is_inside = view.area.left - 1 <= x <= view.area.right + 1
        box = placer.place(
            spots, lambda box: 2.0 * min(8, int(_crossing(lines, box).sum())) + _struck(heights, box)
        )
        if box is not None and is_inside:
            out.append(Placed(mark.label, box, mark.role, True, _leader(x, y, box)))
    return out


def _leader(x: float, y: float, box: Box) -> tuple[float, float, float, float] | None:
    to_x, to_y = min(max(x, box.left), box.right), min(max(y, box.top), box.bottom)
    if max(abs(to_x - x), abs(to_y - y)) < LINE:
        return None
    return x, y, to_x, to_y


def _names_of_areas(
    areas: Sequence[Area],
    view: View,
    shares: Callable[[FloatArray], FloatArray],
    pane: Pane,
    placer: Placer,
    lines: FloatArray,
    heights: Sequence[float],
    width: Width,
) -> tuple[list[Placed], tuple[str, ...]]:
    """Return each tint's name inside the part of it that later ones do not hide, off all lines; or over the chart."""
    area = view.area
    corners = [view.at(shares(one.corners[:, 0]), pane.y.shares(one.corners[:, 1])) for one in areas]
    out = _names_above(areas, corners, area, width)
    left_out: list[str] = []
    for number, (one, polygon) in enumerate(zip(areas, corners, strict=True)):
        if not one.label or one.above:
            continue
        wide = width(one.label, False) + 3
        low = np.maximum(polygon.min(axis=0), (area.left, area.top))
        high = np.minimum(polygon.max(axis=0), (area.right, area.bottom))
        free = _free(polygon, corners[number + 1 :], low, high, wide)
        box = placer.place(box for box in free if not _is_crossed(lines, box) and not _struck(heights, box))
        if box is not None:
            out.append(Placed(one.label, box, one.role))
        else:
            left_out.append(one.label)
    return out, tuple(left_out)


def _steps(high: float, low: float, step: float = 24.0) -> list[float]:
    """Return places from the high end down to the low one."""
    return [high - step * i for i in range(1 + max(0, min(400, int((high - low) / step))))]


def _names_above(
    areas: Sequence[Area], corners: Sequence[FloatArray], area: Box, width: Width
) -> list[Placed]:
    """Return the names over the chart in the order of their tints: each begins at its own, or left of the next."""
    out = []
    end = area.right
    for one, polygon in sorted(
        zip(areas, corners, strict=True), key=lambda pair: -float(pair[1][:, 0].min())
    ):
        begin = max(float(polygon[:, 0].min()), area.left)
        if one.above and one.label and begin < area.right and polygon[:, 0].max() > area.left:
            wide = width(one.label, True) + 3
            left = min(begin, end - wide)
            if left >= area.left:
                out.append(Placed(one.label, Box(left, area.top - LINE - 3, wide, LINE), one.role, True))
                end = left - LINE / 2
    return out


def _free(
    polygon: FloatArray, later: Sequence[FloatArray], low: FloatArray, high: FloatArray, wide: float
) -> Iterator[Box]:
    """Give the boxes that lie in a polygon and in none that is drawn over it, from the lower right corner on."""
    tops = np.linspace(high[1] - LINE - 2, low[1] + 1, 24)
    lefts = np.linspace(high[0] - wide - 3, low[0] + 3, 32)
    top, left = (grid.ravel() for grid in np.meshgrid(tops, lefts, indexing="ij"))
    edges = np.column_stack([left, top, left + wide, top + LINE])
    free = _holds(polygon, edges).all(axis=1)
    for other in later:
        free &= ~_holds(other, edges).any(axis=1)
    for row in np.flatnonzero(free).tolist():
        yield Box(float(left[row]), float(top[row]), wide, LINE)


def _holds(polygon: FloatArray, edges: FloatArray) -> NDArray[np.bool_]:
    """Return whether each corner (n, 4) of boxes (n, 4) lies in a polygon: by the edges that a ray crosses."""
    corners = edges[:, [[0, 1], [2, 1], [0, 3], [2, 3]]]
    x, y = corners[..., 0, np.newaxis], corners[..., 1, np.newaxis]
    x0, y0 = polygon[:, 0], polygon[:, 1]
    x1, y1 = np.roll(x0, -1), np.roll(y0, -1)
    crosses = (y0 > y) != (y1 > y)
    slope = (x1 - x0) / np.where(y1 == y0, 1.0, y1 - y0)
    inside: NDArray[np.bool_] = np.count_nonzero(crosses & (x < x0 + (y - y0) * slope), axis=-1) % 2 == 1
    return inside


def _pieces(view: View, x: FloatArray, y: FloatArray) -> FloatArray:
    """Return the pieces of a curve, (n, 4): left, top, right, bottom of each; none where a value is missing.

    Notes
    -----
    A long piece is cut, so that its bounds are near to it.
    """
    points = view.at(x, y)
    if len(points) < 2:
        return np.zeros((0, 4))
    lines = np.hstack([points[:-1], points[1:]])
    low, high = np.minimum(lines[:, :2], lines[:, 2:]), np.maximum(lines[:, :2], lines[:, 2:])
    area = view.area
    near = (low <= (area.right, area.bottom)).all(axis=1) & (high >= (area.left, area.top)).all(axis=1)
    lines = lines[near]  # not those with NaN
    parts = np.clip(np.abs(lines[:, 2:] - lines[:, :2]).max(axis=1) / 6.0, 1, 200).astype(int)
    rows = np.repeat(np.arange(len(lines)), parts)
    begin = (np.arange(rows.size) - np.repeat(np.cumsum(parts) - parts, parts)) / parts[rows]
    way = lines[rows, 2:] - lines[rows, :2]
    first = lines[rows, :2] + way * begin[:, np.newaxis]
    second = first + way / parts[rows][:, np.newaxis]
    return np.hstack([np.minimum(first, second), np.maximum(first, second)])


def _crossing(lines: FloatArray, box: Box) -> NDArray[np.bool_]:
    inside_x = (lines[:, 0] < box.right) & (lines[:, 2] > box.left)
    inside: NDArray[np.bool_] = inside_x & (lines[:, 1] < box.bottom) & (lines[:, 3] > box.top)
    return inside


def _is_crossed(lines: FloatArray, box: Box) -> bool:
    return bool(_crossing(lines, box).any())


def _struck(heights: Sequence[float], box: Box) -> int:
    """Return how many levels run through a box."""
    return sum(box.top + 1 < height < box.bottom - 1 for height in heights)


def _is_in_line(height: float, box: Box) -> bool:
    """Return whether the words stand in the middle of their own level."""
    return abs(box.top + box.height / 2 - height) < 0.5


def thinned(places: Sequence[float], lengths: Sequence[float], gap: float) -> list[int]:
    """Return which texts along an axis can stand without touching: all, or every second, third and so on.

    Parameters
    ----------
    places, lengths : sequence of float
        Middle and length of each, in order.
    gap : float
        Kept free between two.
    """
    count = len(places)
    for every in range(1, count):
        rows = range(0, count, every)
        if all(abs(places[b] - places[a]) >= (lengths[a] + lengths[b]) / 2 + gap for a, b in pairwise(rows)):
            return list(rows)
    return [0] if count else []
