"""A still chart as shapes of the paper: the description that the window draws too. No Qt."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from debrief.recording.model import FloatArray
from debrief.report import shapes as s
from debrief.report.charts.lane_charts import DASH
from debrief.session.charts.chart_words import LINE, View, place_words, thinned
from debrief.session.charts.still_chart import SIGN_SIZES, MarkShape, Pane, StillChart, Style
from debrief.session.drawing.mark_names import place_names
from debrief.session.drawing.placing import Box
from debrief.words.colours import ON_PAPER

_MM = 3.1 / LINE
"""Millimetres to a pixel of the window, by the height of a line of words."""
_BASE, _ROW, _GAP, _NUMBER, _LINE = 2.25, 3.4, 2.6, 2.6, 2.8
_INSTANTS, _TICK = 6.2, 0.7
"""Of a row of named instants: its height, and half of a tick."""
_DASHES: dict[Style, tuple[float, float] | None] = {"solid": None, "dashed": DASH, "dotted": (0.4, 0.6)}
_SIGNS: dict[MarkShape, s.MarkKind] = {
    "dot": "dot", "small_dot": "dot", "hollow": "circle", "triangle": "triangle", "small_triangle": "triangle",
    "diamond": "diamond", "ring": "circle",
}  # fmt: skip
Fit = Callable[[str, s.Style, float], str]
"""Returns a text as the fonts can show it, shortened to a width in mm."""
Wrap = Callable[[str, s.Style, float], list[str]]
"""Returns the lines of a text in a width in mm."""


def still_chart(
    chart: StillChart, width: float, height: float, measurer: s.Measurer, fit: Fit, wrap: Wrap
) -> list[s.Shape]:
    """Return the shapes of a chart whose upper left corner is at (0, 0), [mm]."""
    out: list[s.Shape] = [s.Text(0, 3.2, fit(chart.title, s.SMALL_BOLD, width), s.SMALL_BOLD)]
    below = chart.problem or chart.subtitle
    said = wrap(below, s.AXIS, width) if below else []
    out += [s.Text(0, 6.4 + number * _LINE, line, s.AXIS, s.MUTED) for number, line in enumerate(said)]
    if chart.problem:
        return out
    labels = [tick.text for pane in chart.panes for tick in pane.y.ticks()]
    beside = [one.label for pane in chart.panes for one in pane.levels if one.beside]
    left = 2.2 + max([6.0, *(measurer.width_mm(text, s.AXIS) for text in labels)])
    right = width - max([3.0, *(1.8 + measurer.width_mm(text, s.AXIS) for text in beside)])
    above = any(one.above and one.label for pane in chart.panes for one in pane.areas)
    top = (
        5.2
        + 3.2 * bool(said)
        + _LINE * max(len(said) - 1, 0)
        + _INSTANTS * len(chart.instants)
        + _ROW * above
    )
    out += _instants(chart, Box(left, top - 0.6, right - left, 0.0), measurer)
    room = height - 8.0 - top - _GAP * (len(chart.panes) - 1)
    left_out: list[str] = []
    shares = sum(pane.share for pane in chart.panes)
    for pane in chart.panes:
        area = Box(left, top, right - left, room * pane.share / shares)
        shapes, lacking = _pane(chart, pane, area, width - right, measurer, fit)
        out += shapes
        left_out += lacking
        top = area.bottom + _GAP
    return out + _x_words(chart, Box(left, top - _GAP, right - left, 0.0), width, left_out, measurer, fit)


def _instants(chart: StillChart, area: Box, measurer: s.Measurer) -> list[s.Shape]:
    """Return the rows of named instants: a line as that of its start's curves, with a tick below each name."""
    out: list[s.Shape] = []
    for number, row in enumerate(chart.instants):
        line = area.top - _INSTANTS * (len(chart.instants) - number - 1) - _TICK - 0.6
        out.append(s.Line(0.0, line, area.right, line, s.INK, 0.3, _DASHES[row.style]))
        places = sorted((area.left + chart.x.share(x) * area.width, word) for x, word in row.marks)
        out += [s.Line(x, line - _TICK, x, line + _TICK, s.INK, 0.35) for x, _ in places]
        marks = [(x, word) for x, word in places if word]
        words = [measurer.printable(word) for _, word in marks]
        widths = [measurer.width_mm(word, s.AXIS) for word in words]
        lefts = place_names([x for x, _ in marks], widths, 0.0, area.right, 1.8)
        for (x, _), word, wide, left in zip(marks, words, widths, lefts, strict=True):
            foot = line - _TICK - 1.5
            out += [
                s.Line(left + wide / 2, foot, x, line - _TICK, s.MUTED, 0.12),
                s.Text(left, foot - 0.6, word, s.AXIS),
            ]
    return out


def _pane(
    chart: StillChart, pane: Pane, area: Box, margin: float, measurer: s.Measurer, fit: Fit
) -> tuple[list[s.Shape], tuple[str, ...]]:
    view, right = View(area), area.right
    out: list[s.Shape] = []
    for tint in pane.areas:
        corners = view.at(chart.x.shares(tint.corners[:, 0]), pane.y.shares(tint.corners[:, 1]))
        out.append(s.Curve(corners, s.HAIRLINE, 0.0, fill=colour(tint.tint)))
    for tick in chart.x.ticks():
        x = area.left + chart.x.share(tick.value) * area.width
        out.append(s.Line(x, area.top, x, area.bottom, s.GRID, 0.12))
    ticks = pane.y.ticks()
    ups = [area.bottom - pane.y.share(tick.value) * area.height for tick in ticks]
    out += [s.Line(area.left, y, right, y, s.GRID, 0.12) for y in ups]
    for row in thinned(ups, [_NUMBER] * len(ups), 0.0):
        out.append(s.Text(area.left - 1.2, ups[row] + 0.85, ticks[row].text, s.AXIS, s.MUTED, "right"))
    out.append(s.Line(area.left, area.bottom, right, area.bottom, s.MUTED, 0.2))
    out.append(s.Line(area.left, area.top, area.left, area.bottom, s.HAIRLINE, 0.2))
    for level in pane.levels:
        share = pane.y.share(level.value)
        if 0.0 <= share <= 1.0:
            y = area.bottom - share * area.height
            out.append(s.Line(area.left, y, right, y, colour(level.role), 0.2, _DASHES[level.style]))
    for curve in pane.curves:
        shares = np.column_stack([chart.x.shares(curve.x), pane.y.shares(curve.y)])
        line = (colour(curve.role), 0.2 if curve.thin else 0.35)
        for run in inside(shares):
            out.append(s.Curve(view.at(run[:, 0], run[:, 1]), *line, dash=_DASHES[curve.style]))
    # Rings first: a sign stands in its ring.
    for mark in sorted(pane.marks, key=lambda mark: mark.shape != "ring"):
        across, up = chart.x.share(mark.x), pane.y.share(mark.y)
        if 0.0 <= across <= 1.0 and 0.0 <= up <= 1.0:
            ((x, y),) = view.at(np.array([across]), np.array([up])).tolist()
            out.append(s.Mark(x, y, _SIGNS[mark.shape], colour(mark.role), SIGN_SIZES[mark.shape] * _MM))
    small = View(Box(area.left / _MM, area.top / _MM, area.width / _MM, area.height / _MM))

    def width_of(text: str, bold: bool) -> float:
        return measurer.width_mm(measurer.printable(text), s.LABEL if bold else s.AXIS) / _MM

    placed, left_out = place_words(pane, small, chart.x.shares, margin / _MM, width_of)
    for one in placed:
        if one.leader is not None:
            x, y, to_x, to_y = (edge * _MM for edge in one.leader)
            out.append(s.Line(x, y, to_x, to_y, colour(one.role), 0.12))
        style = s.LABEL if one.bold else s.AXIS
        text = s.Text(
            one.box.left * _MM,
            one.box.top * _MM + _BASE,
            measurer.printable(one.text),
            style,
            colour(one.role),
        )
        patch = s.Box(
            text.x - 0.2, text.y - 1.9, measurer.width_mm(text.text, style) + 0.4, 2.5, fill=s.PAPER
        )
        if _is_crossed(out, patch):
            out.append(patch)
        out.append(text)
    if pane.problem:
        words = fit(pane.problem, s.AXIS, 0.6 * area.width)
        out.append(
            s.Text((area.left + right) / 2, area.top + area.height / 2, words, s.AXIS, s.MUTED, "center")
        )
    return out, left_out


def _x_words(
    chart: StillChart, area: Box, width: float, left_out: list[str], measurer: s.Measurer, fit: Fit
) -> list[s.Shape]:
    """Return the ticks' texts and the title of the x axis, with the names of tints that found no place."""
    shown = chart.x.ticks()
    wide = [measurer.width_mm(tick.text, s.AXIS) for tick in shown]
    places = [area.left + chart.x.share(tick.value) * area.width for tick in shown]
    # The outermost may stand inwards of their ticks rather than leave the chart.
    places = [min(max(x, w / 2), width - w / 2) for x, w in zip(places, wide, strict=True)]
    rows = thinned(places, wide, 1.2)
    out: list[s.Shape] = [
        s.Text(places[row], area.bottom + 3.4, shown[row].text, s.AXIS, s.MUTED, "center") for row in rows
    ]
    words = chart.x.titled + (f"; tint without a name: {', '.join(left_out)}" if left_out else "")
    out.append(
        s.Text(area.right, area.bottom + 6.5, fit(words, s.AXIS, area.width), s.AXIS, s.MUTED, "right")
    )
    return out


def colour(role: str) -> str:
    """Return the paper's colour of a role."""
    return str(getattr(ON_PAPER, role))


def inside(points: FloatArray) -> list[FloatArray]:
    """Return the parts of a line (n, 2) that lie between 0 and 1 on both axes; it breaks where a value is missing."""
    runs: list[list[tuple[float, float]]] = []
    for (x0, y0), (x1, y1) in zip(points[:-1].tolist(), points[1:].tolist(), strict=True):
        first, last = 0.0, 1.0
        for begin, end in ((x0, x1), (y0, y1)):
            if end == begin or not np.isfinite(end - begin):
                first, last = (first, last) if 0.0 <= begin <= 1.0 and np.isfinite(end) else (1.0, 0.0)
                continue
            enter, leave = sorted((edge - begin) / (end - begin) for edge in (0.0, 1.0))
            first, last = max(first, enter), min(last, leave)
        if first > last:
            continue
        a, b = ((x0 + t * (x1 - x0), y0 + t * (y1 - y0)) for t in (first, last))
        if first > 0.0 or not runs or runs[-1][-1] != a:
            runs.append([a])
        runs[-1].append(b)
    return [np.array(run) for run in runs]


def _is_crossed(shapes: list[s.Shape], box: s.Box) -> bool:
    """Whether a curve or a line other than the grid runs through a box."""
    left, top, right, bottom = box.x, box.y, box.x + box.width, box.y + box.height
    for shape in shapes:
        match shape:
            case s.Curve(points, fill=None):
                pass
            case s.Line(x1, y1, x2, y2) if shape.colour != s.GRID:
                points = np.array([[x1, y1], [x2, y2]])
            case _:
                continue
        shares = (points - (left, top)) / (right - left, bottom - top)
        ends = np.stack((shares[:-1], shares[1:]))
        near = np.all((ends.max(axis=0) >= 0.0) & (ends.min(axis=0) <= 1.0), axis=1)
        if any(inside(shares[first : first + 2]) for first in np.flatnonzero(near)):
            return True
    return False
