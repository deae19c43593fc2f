"""What no page may show: texts that touch, that are cut by the paper's edge, or that a line runs through."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from debrief.recording.model import FloatArray
from debrief.report.pdf.layout import MARGIN_X, Pages
from debrief.report.shapes import GRID, MM_PER_PT, PAPER, Box, Curve, Line, Mark, Measurer, Shape, Text

SLACK_MM = 0.12
_FINE_MM = 0.15
_FRAME_MM = 21.5


def text_box(text: Text, measurer: Measurer) -> tuple[float, float, float, float]:
    """Return left, top, right and bottom of a text, [mm], without the room for line spacing."""
    width = measurer.width_mm(text.text, text.style)
    left = {"left": text.x, "right": text.x - width, "center": text.x - width / 2}[text.align]
    size = text.style.size_pt * MM_PER_PT
    return left, text.y - 0.76 * size, left + width, text.y + 0.22 * size


def faults(pages: Pages, measurer: Measurer) -> list[str]:
    """Return a sentence for each pair of texts that touch and each text that leaves the paper."""
    out = []
    for number, page in enumerate(pages.pages, start=1):
        boxes = [(shape.text, text_box(shape, measurer)) for shape in page if isinstance(shape, Text)]
        for text, (left, top, right, bottom) in boxes:
            if (
                left < MARGIN_X - 3.5
                or right > pages.width - MARGIN_X + 3.5
                or top < 5
                or bottom > pages.height - 4
            ):
                out.append(f"page {number}: {text!r} leaves the page at {left:.1f}..{right:.1f}, {top:.1f}")
        boxes.sort(key=lambda item: item[1][1])
        for index, (text, box) in enumerate(boxes):
            for other, other_box in boxes[index + 1 :]:
                if other_box[1] > box[3]:
                    break
                wide = min(box[2], other_box[2]) - max(box[0], other_box[0])
                high = min(box[3], other_box[3]) - max(box[1], other_box[1])
                if wide > SLACK_MM and high > SLACK_MM:
                    out.append(f"page {number}: {text!r} touches {other!r}")
    return out


def struck(pages: Pages, measurer: Measurer) -> list[str]:
    """Return a sentence for each text on which a trace, a sign or a line other than the grid lies."""
    out = []
    for number, page in enumerate(pages.pages, start=1):
        fine = [(index, _fine(points)) for index, points in _drawn(page)]
        if not fine:
            continue
        points = np.vstack([points for _, points in fine])
        order = np.concatenate([np.full(len(points), index) for index, points in fine])
        by_height = np.argsort(points[:, 1])
        points, order = points[by_height], order[by_height]
        covers = [(i, s) for i, s in enumerate(page) if isinstance(s, Box) and s.fill == PAPER]
        for index, text in enumerate(page):
            if not isinstance(text, Text):
                continue
            left, top, right, bottom = text_box(text, measurer)
            first, last = np.searchsorted(points[:, 1], [top + 0.15, bottom - 0.3])
            (x, y), drawn = points[first:last].T, order[first:last]
            hit = (x > left + 0.15) & (x < right - 0.15)
            for cover, box in covers if hit.any() else ():
                # The line was painted over before the words came.
                under = (drawn < cover) & (cover < index)
                inside = (x > box.x) & (x < box.x + box.width) & (y > box.y) & (y < box.y + box.height)
                hit &= ~(under & inside)
            if hit.any():
                out.append(f"page {number}: a line runs through {text.text!r}")
    return out


def _drawn(page: Sequence[Shape]) -> Iterator[tuple[int, FloatArray]]:
    for index, shape in enumerate(page):
        if isinstance(shape, Curve) and shape.fill is None:
            yield index, shape.points
        elif isinstance(shape, Mark):
            yield index, np.array([[shape.x, shape.y], [shape.x, shape.y]])
        elif isinstance(shape, Line) and shape.colour != GRID:
            yield index, np.array([[shape.x1, shape.y1], [shape.x2, shape.y2]])


def _fine(points: FloatArray) -> FloatArray:
    along = np.r_[0.0, np.cumsum(np.hypot(*np.diff(points, axis=0).T))]
    at = np.linspace(0.0, along[-1], max(2, int(along[-1] / _FINE_MM)))
    return np.column_stack([np.interp(at, along, points[:, 0]), np.interp(at, along, points[:, 1])])


def filled(pages: Pages) -> list[float]:
    """Return how far down each page its words reach, from 0 to 1."""
    room = pages.height - 2 * _FRAME_MM
    out = []
    for page in pages.pages:
        words = (shape.y for shape in page if isinstance(shape, Text))
        body = [y - _FRAME_MM for y in words if _FRAME_MM < y < pages.height - _FRAME_MM]
        out.append(max(body, default=0.0) / room)
    return out
