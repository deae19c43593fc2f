"""One quantity against another as shapes, with every label where it hides least. No Qt."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from debrief.recording.model import FloatArray
from debrief.report import shapes as s
from debrief.report.blocks import Plane
from debrief.report.charts.lane_charts import DASH, WEIGHT_COLOUR, WEIGHT_TINT
from debrief.session.drawing.axes import ticks
from debrief.session.drawing.placing import spread
from debrief.words.numbers import plain

_MARK, _SMALL_MARK, _MANY = 1.8, 0.9, 60
"""Size of a point's sign, [mm], and above how many points it is smaller."""
_AROUND = ((0.0, 0.0), (1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0))


def plane(chart: Plane, width: float, measurer: s.Measurer) -> list[s.Shape]:
    """Return the shapes of a plane whose upper left corner is at (0, 0); it is `height_mm` high."""
    out: list[s.Shape] = [s.Text(0, 3.2, chart.title, s.SMALL_BOLD)]
    y = 3.2
    if chart.subtitle:
        out.append(s.Text(0, y + 3.2, chart.subtitle, s.AXIS, s.MUTED))
        y += 3.2
    out.append(s.Text(0, y + 3.4, chart.y_title, s.AXIS, s.MUTED))
    top = y + 5.2
    left, right = 10.0, width - (16.0 if chart.levels else 3.0)
    bottom = chart.height_mm - 8.0
    (x0, x1), (y0, y1) = chart.x_range, chart.y_range

    def x_of(value: float) -> float:
        return left + (min(max(value, x0), x1) - x0) / (x1 - x0) * (right - left)

    def y_of(value: float) -> float:
        return bottom - (min(max(value, y0), y1) - y0) / (y1 - y0) * (bottom - top)

    def mapped(points: FloatArray) -> FloatArray:
        return np.column_stack([[x_of(x) for x in points[:, 0]], [y_of(v) for v in points[:, 1]]])

    for area in chart.areas:
        out.append(s.Curve(mapped(area.points), s.HAIRLINE, 0.0, fill=WEIGHT_TINT[area.weight]))
    for value in ticks(x0, x1, max(2, int((right - left) / 12))):
        x = x_of(value)
        out.append(s.Line(x, top, x, bottom, s.GRID, 0.12))
        out.append(s.Text(x, bottom + 3.0, plain(value), s.AXIS, s.MUTED, "center"))
    for value in ticks(y0, y1, max(2, int((bottom - top) / 8))):
        y = y_of(value)
        out.append(s.Line(left, y, right, y, s.GRID, 0.12))
        out.append(s.Text(left - 1.2, y + 0.85, plain(value), s.AXIS, s.MUTED, "right"))
    out.append(s.Line(left, bottom, right, bottom, s.MUTED, 0.2))
    out.append(s.Line(left, top, left, bottom, s.HAIRLINE, 0.2))
    out.append(s.Text(right, bottom + 6.2, chart.x_title, s.AXIS, s.MUTED, "right"))
    shown = [level for level in chart.levels if y0 <= level.level <= y1]
    places = spread([y_of(level.level) for level in shown], 2.8, top, bottom)
    for level, label_y in zip(shown, places, strict=True):
        colour = s.LIMIT if level.severity == "limit" else s.CAUTION
        out.append(s.Line(left, y_of(level.level), right, y_of(level.level), colour, 0.2, DASH))
        out.append(s.Text(right + 1.0, label_y + 0.85, level.label, s.AXIS, colour))
    for line in chart.lines:
        dash = DASH if line.dashed else None
        out.append(s.Curve(mapped(line.points), line.colour, line.width, dash=dash))
    taken: list[tuple[float, float, float, float]] = []
    obstacles = [_fine(mapped(line.points)) for line in chart.lines if not line.dashed]
    dashed = [_fine(mapped(line.points)) for line in chart.lines if line.dashed]
    dashed += [_fine(np.array([[left, y_of(level.level)], [right, y_of(level.level)]])) for level in shown]
    size = _MARK if len(chart.points) <= _MANY else _SMALL_MARK
    marks = np.array([[x_of(point.x), y_of(point.y)] for point in chart.points]).reshape(-1, 2)
    obstacles.append(np.vstack([marks + np.array(shift) * size / 2 for shift in _AROUND]))
    for point in chart.points:
        x, y = x_of(point.x), y_of(point.y)
        colour = WEIGHT_COLOUR[point.weight] if point.weight else s.INK
        out.append(s.Mark(x, y, point.kind, colour, _MARK if point.label else size))
        if point.label:
            spot = _beside(
                point.label, x, y, (left, top, right, bottom), [*obstacles, *dashed], taken, measurer
            )
            out += _leader(x, y, spot, measurer.width_mm(point.label, s.LABEL), colour)
            out.append(s.Text(spot[0], spot[1], point.label, s.LABEL, colour))
    areas = [(area.label, mapped(area.points), WEIGHT_COLOUR[area.weight]) for area in chart.areas]
    named, left_out = _area_labels(areas, [*obstacles, *dashed], taken, measurer)
    out += named
    notes = [chart.note] if chart.note else []
    if left_out:
        notes.append(f"tint without a name: {', '.join(left_out)}")
    if notes:
        room = right - left - measurer.width_mm(chart.x_title, s.AXIS) - 4.0
        out.append(s.Text(left, bottom + 6.2, _cut("; ".join(notes), room, measurer), s.AXIS, s.MUTED))
    return out


def _cut(text: str, room: float, measurer: s.Measurer) -> str:
    """Return a text that fits, with an ellipsis where it was cut."""
    cut = len(text)
    while cut > 1 and measurer.width_mm(text[:cut] + ("…" if cut < len(text) else ""), s.AXIS) > room:
        cut -= 1
    return text if cut == len(text) else text[:cut].rstrip() + "…"


def _area_labels(
    areas: Sequence[tuple[str, FloatArray, str]],
    obstacles: Sequence[FloatArray],
    taken: list[tuple[float, float, float, float]],
    measurer: s.Measurer,
) -> tuple[list[s.Shape], list[str]]:
    """Return each area's name inside the part of it that later areas do not hide, and the names without room.

    Notes
    -----
    A name on which a line lies could not be read, so it is not put there.
    """
    out: list[s.Shape] = []
    left_out: list[str] = []
    for index, (label, points, colour) in enumerate(areas):
        width = measurer.width_mm(label, s.LABEL)
        low, high = points.min(axis=0), points.max(axis=0)
        xs = np.linspace(high[0] - width / 2 - 1.0, low[0] + width / 2 + 1.0, 24)
        ys = np.linspace(low[1] + 2.6, high[1] - 1.0, 16)
        x, y = (grid.ravel() for grid in np.meshgrid(xs, ys))
        boxes = np.column_stack([x - width / 2 - 0.8, y - 2.4, x + width / 2 + 0.8, y + 0.8])
        free = _holds(points, boxes, all_corners=True)
        for _, later, _ in areas[index + 1 :]:
            free &= ~_holds(later, boxes, all_corners=False)
        best, best_cost = None, 1e9
        if not label:
            continue
        for k in np.flatnonzero(free):
            box = (float(boxes[k, 0]), float(boxes[k, 1]), float(boxes[k, 2]), float(boxes[k, 3]))
            if any(_touch(box, other) for other in taken):
                continue
            cost = float(high[0] - x[k])
            if cost < best_cost and not any(_crossings(line, box) for line in obstacles):
                best, best_cost = (float(x[k]), float(y[k]), box), cost
        if best is not None:
            taken.append(best[2])
            out.append(s.Text(best[0], best[1], label, s.LABEL, colour, "center"))
        else:
            left_out.append(label)
    return out, left_out


def _holds(polygon: FloatArray, boxes: FloatArray, *, all_corners: bool) -> NDArray[np.bool_]:
    """Return for each box (n, 4) whether all, or any, of its corners lie in a polygon.

    Notes
    -----
    By counting the edges that a ray to the right crosses.
    """
    corners = boxes[:, [[0, 1], [2, 1], [0, 3], [2, 3]]]
    x, y = corners[..., 0, np.newaxis], corners[..., 1, np.newaxis]
    x0, y0 = polygon[:, 0], polygon[:, 1]
    x1, y1 = np.roll(x0, -1), np.roll(y0, -1)
    crosses = (y0 > y) != (y1 > y)
    slope = (x1 - x0) / np.where(y1 == y0, 1.0, y1 - y0)
    inside = np.count_nonzero(crosses & (x < x0 + (y - y0) * slope), axis=-1) % 2 == 1
    found: NDArray[np.bool_] = inside.all(axis=1) if all_corners else inside.any(axis=1)
    return found


def _beside(
    label: str,
    x: float,
    y: float,
    area: tuple[float, float, float, float],
    obstacles: Sequence[FloatArray],
    taken: list[tuple[float, float, float, float]],
    measurer: s.Measurer,
) -> tuple[float, float]:
    """Return where a point's label has its left end and base line: the free place that crosses least."""
    width = measurer.width_mm(label, s.LABEL)
    candidates = [
        (x + dx if dx > 0 else x + dx - width, y + dy)
        for dy in (0.8, -1.8, 3.4, -4.6, 6.2, -8.0, 9.5, -11.0, -15.0)
        for dx in (1.6, -1.6, 5.0, -5.0, 10.0, -10.0)
    ]
    candidates += [(x - width / 2, y - 2.2), (x - width / 2, y + 4.0)]
    best, best_cost = candidates[0], 1e9
    for left, base in candidates:
        box = (left - 0.4, base - 2.1, left + width + 0.4, base + 0.7)
        outside = max(0, area[0] - box[0]) + max(0, box[2] - area[2])
        outside += max(0, area[1] - box[1]) + max(0, box[3] - area[3])
        hits = sum(_crossings(points, box) for points in obstacles)
        overlaps = sum(_touch(box, other) for other in taken)
        cost = 100 * outside + 50 * overlaps + 4 * hits + 0.3 * (abs(left - x) + abs(base - y))
        if cost < best_cost:
            best, best_cost = (left, base), cost
    taken.append((best[0] - 0.4, best[1] - 2.1, best[0] + width + 0.4, best[1] + 0.7))
    return best


def _leader(x: float, y: float, spot: tuple[float, float], width: float, colour: str) -> list[s.Shape]:
    """Return a hairline from a point to its label where that stands too far off to be read as its own."""
    to_x = min(max(x, spot[0]), spot[0] + width)
    to_y = spot[1] + 0.7 if y > spot[1] else spot[1] - 2.1
    if abs(to_x - x) < 3.0 and abs(to_y - y) < 3.0:
        return []
    return [s.Line(x, y, to_x, to_y, colour, 0.12)]


def _touch(a: tuple[float, float, float, float], b: tuple[float, float, float, float]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def _fine(points: FloatArray) -> FloatArray:
    """Return points along a polyline no further apart than half a millimetre."""
    if len(points) < 2:
        return points
    lengths = np.hypot(*np.diff(points, axis=0).T)
    along = np.r_[0.0, np.cumsum(lengths)]
    at = np.linspace(0.0, along[-1], max(2, int(along[-1] / 0.5)))
    return np.column_stack([np.interp(at, along, points[:, 0]), np.interp(at, along, points[:, 1])])


def _crossings(fine: FloatArray, box: tuple[float, float, float, float]) -> int:
    """Return how many of a polyline's fine points lie in a box, at most 20."""
    x, y = fine[:, 0], fine[:, 1]
    return min(20, int(np.count_nonzero((x > box[0]) & (x < box[2]) & (y > box[1]) & (y < box[3]))))
