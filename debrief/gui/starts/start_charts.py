"""Charts of one start: temperature against speed, and time above each temperature."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from math import isfinite
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPainterStateGuard, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from debrief.gui.background.guarded import guarded, painted
from debrief.gui.style.shapes import draw_shape
from debrief.gui.style.theme import Theme
from debrief.session.charts.start_charts import PlaneChart, PointMark, TimeChart
from debrief.session.drawing.axes import nice_step, share_of, shares_of, tick_text, ticks
from debrief.session.drawing.placing import Box, Placer
from debrief.session.limits.instrument_readings import nice_range
from debrief.words.numbers import unit_words

if TYPE_CHECKING:
    from debrief.history.usual.start_traces import UsualPlane

_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_CENTRE = Qt.AlignmentFlag.AlignCenter


class _Chart(QWidget):
    """Title, axes and grid; what is inside is painted by the subclass."""

    title = ""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._is_blank = False
        self._x_range = (0.0, 1.0)
        self._y_range = (0.0, 1.0)
        self.setAccessibleName(self.title)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(220, 190)
        theme.changed.connect(self.update)

    def clear(self) -> None:
        """Show nothing at all until there is a chart, or none to show."""
        self._is_blank = True
        self.update()

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return a comfortable size."""
        return QSize(420, 340)

    def area(self) -> QRectF:
        """Return where the points lie, [px]."""
        px = self._theme.px
        return QRectF(px(46), px(44), max(self.width() - px(58), 20), max(self.height() - px(84), 20))

    def at(self, x: float, y: float) -> QPointF:
        """Return the pixel of a point."""
        area = self.area()
        across, up = share_of(x, *self._x_range), share_of(y, *self._y_range)
        return QPointF(area.left() + across * area.width(), area.bottom() - up * area.height())

    def _paint_frame(self, painter: QPainter, subtitle: str, x_words: str) -> Placer:
        theme, area = self._theme, self.area()
        px = theme.px
        painter.setFont(theme.font(13, bold=True))
        painter.setPen(theme.color("ink"))
        painter.drawText(QRectF(2, 0, self.width() - 4, px(20)), _LEFT, self.title)
        painter.setFont(theme.font(12))
        painter.setPen(theme.color("muted"))
        words = painter.fontMetrics().elidedText(subtitle, Qt.TextElideMode.ElideRight, self.width() - 6)
        painter.drawText(QRectF(2, px(20), self.width() - 4, px(18)), _LEFT, words)
        painter.setFont(theme.font(11))
        most_x, most_y = max(2, int(area.width() / px(58))), max(2, int(area.height() / px(34)))
        step = nice_step(self._x_range[1] - self._x_range[0], most_x)
        for value in ticks(*self._x_range, most_x):
            x = self.at(value, self._y_range[0]).x()
            painter.setPen(theme.color("grid"))
            painter.drawLine(QLineF(x, area.top(), x, area.bottom()))
            painter.setPen(theme.color("muted"))
            painter.drawText(QRectF(x - 30, area.bottom() + 2, 60, px(16)), _CENTRE, tick_text(value, step))
        step = nice_step(self._y_range[1] - self._y_range[0], most_y)
        for value in ticks(*self._y_range, most_y):
            y = self.at(self._x_range[0], value).y()
            painter.setPen(theme.color("grid"))
            painter.drawLine(QLineF(area.left(), y, area.right(), y))
            painter.setPen(theme.color("muted"))
            painter.drawText(QRectF(0, y - px(8), area.left() - 6, px(16)), _RIGHT, tick_text(value, step))
        painter.setPen(theme.color("muted"))
        painter.drawText(QRectF(area.left(), area.bottom() + px(17), area.width(), px(18)), _CENTRE, x_words)
        painter.setPen(theme.color("hairline"))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(area)
        # Letters are lower than their box: at the top it may begin a little above the frame.
        return Placer(Box(area.left() + 1, area.top() - 2, area.width() - 2, area.height() + 1))

    def _paint_nothing(self, painter: QPainter, words: str) -> None:
        theme = self._theme
        painter.setFont(theme.font(13, bold=True))
        painter.setPen(theme.color("ink"))
        painter.drawText(QRectF(2, 0, self.width() - 4, theme.px(20)), _LEFT, self.title)
        painter.setFont(theme.font(12))
        painter.setPen(theme.color("muted"))
        painter.drawText(QRectF(2, theme.px(20), self.width() - 4, theme.px(18)), _LEFT, words)

    def _paint_marks(
        self,
        painter: QPainter,
        placer: Placer,
        marks: Sequence[PointMark],
        lines: np.ndarray,
        role: str,
        bold: bool,
    ) -> None:
        """Draw the marks and their words: right of the point where they can be, and off the curve."""
        theme = self._theme
        height = theme.px(15)
        marks = [mark for mark in marks if isfinite(mark.x) and isfinite(mark.y)]
        for mark in marks:
            point = self.at(mark.x, mark.y)
            placer.reserve(Box(point.x() - 4, point.y() - 4, 8, 8))
            if mark.exceeded:
                draw_shape(painter, "diamond", point.x(), point.y(), 5, theme)
                continue
            painter.setPen(QPen(theme.color("panel"), 1))
            painter.setBrush(theme.color(role))
            painter.drawEllipse(point, 4, 4)
        for mark in marks:
            point = self.at(mark.x, mark.y)
            heavy = bold or mark.exceeded
            width = theme.metrics(11, heavy).horizontalAdvance(mark.word) + 3
            places = [
                Box(left, point.y() + shift, width, height)
                # All places on the right first: the words of one instant after another are read in their order.
                for left in (point.x() + 8, point.x() - 8 - width)
                for shift in (-height - 2, 1 - height, 3, -height / 2, -2 * height, height, -3 * height)
            ]
            box = placer.place(places, partial(_is_crossed, lines))
            if box is not None:
                painter.setFont(theme.font(11, heavy))
                painter.setPen(theme.color("limit" if mark.exceeded else role))
                painter.drawText(QRectF(box.left, box.top, box.width, box.height), _LEFT, mark.word)

    def _paint_line(self, painter: QPainter, x: np.ndarray, y: np.ndarray, role: str) -> np.ndarray:
        """Draw the curve; return its pieces as drawn, (n, 4): from x, y to x, y, [px]."""
        lines = self._pieces(x, y)
        with QPainterStateGuard(painter):
            painter.setClipRect(self.area())
            painter.setPen(QPen(self._theme.color(role), 1.5))
            painter.drawLines([QLineF(*line) for line in lines.tolist()])
        return lines

    def _pieces(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Return the pieces of a curve, (n, 4): from x, y to x, y, [px]; none where a value is missing."""
        good = np.isfinite(x) & np.isfinite(y)
        area = self.area()
        left = area.left() + shares_of(x, *self._x_range) * area.width()
        top = area.bottom() - shares_of(y, *self._y_range) * area.height()
        lines: np.ndarray = np.column_stack((left[:-1], top[:-1], left[1:], top[1:]))[good[:-1] & good[1:]]
        return lines


def _is_crossed(lines: np.ndarray, box: Box) -> bool:
    """Return whether a piece of a curve may run through a box: its pieces are short, so their bounds will do."""
    left, right = np.minimum(lines[:, 0], lines[:, 2]), np.maximum(lines[:, 0], lines[:, 2])
    top, bottom = np.minimum(lines[:, 1], lines[:, 3]), np.maximum(lines[:, 1], lines[:, 3])
    inside_x = (left < box.left + box.width) & (right > box.left)
    return bool((inside_x & (top < box.top + box.height) & (bottom > box.top)).any())


class PlaneChartView(_Chart):
    """ITT against Ng, with the start limits dashed and the engine's own usual band shaded."""

    title = "Temperature against gas generator speed"

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, parent)
        self._chart: PlaneChart | None = None
        self._usual: UsualPlane | None = None
        self.named_levels: dict[str, Box] = {}
        """Where each level's name stands, as painted last."""

    def show_chart(self, chart: PlaneChart | None, usual: UsualPlane | None = None) -> None:
        """Show another start, or none; the usual band only where there is one in the chart's units."""
        self._chart = chart
        self._is_blank = False
        fits = usual is not None and usual.enough and chart is not None
        self._usual = (
            usual
            if fits and chart is not None and chart.y_unit in ("degC", "degF") and chart.x_unit == "%"
            else None
        )
        if chart is not None:
            self._x_range, self._y_range = chart.x_range, chart.y_range
            words = [mark.word for mark in chart.marks]
            if self._usual is not None:
                band = self._usual
                self._x_range = nice_range(0.0, max(chart.x_range[1], float(band.ng_pct.max())))
                self._y_range = nice_range(chart.y_range[0], max(chart.y_range[1], float(band.high_c.max())))
            self.setAccessibleDescription(", ".join([*words, usual.words if usual is not None else ""]))
        self.update()

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the chart."""
        chart = self._chart
        if self._is_blank:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        if chart is None:
            self._paint_nothing(painter, "ITT or Ng is not recorded in this start.")
            return
        subtitle = f"ITT in {unit_words(chart.y_unit)}; dashed: what the profile allows in a start"
        if self._usual is not None:
            subtitle = f"ITT in {unit_words(chart.y_unit)}; dashed: allowed; shaded: usual"
            self._paint_usual(painter, self._usual)
        placer = self._paint_frame(painter, subtitle, f"Ng {unit_words(chart.x_unit)}")
        self._paint_levels(painter, chart)
        lines = self._paint_line(painter, chart.x, chart.y, "temperature")
        self._paint_marks(painter, placer, chart.marks, lines, "temperature", bold=True)
        # Last: a level's name has the whole of its line to stand at, an instant's only its dot.
        self._name_levels(painter, placer, chart, lines)

    def _paint_levels(self, painter: QPainter, chart: PlaneChart) -> None:
        """Draw what is allowed as dashed lines."""
        area = self.area()
        painter.setPen(QPen(self._theme.color("limit"), 1, Qt.PenStyle.DashLine))
        for level, _ in chart.levels:
            y = self.at(chart.x_range[0], level).y()
            painter.drawLine(QLineF(area.left(), y, area.right(), y))

    def _name_levels(self, painter: QPainter, placer: Placer, chart: PlaneChart, pieces: np.ndarray) -> None:
        """Name each level above its line, else below it, off the curve and the other lines where that can be."""
        theme, area, height = self._theme, self.area(), self._theme.px(14)
        heights = [self.at(chart.x_range[0], level).y() for level, _ in chart.levels]

        def crossed(box: Box) -> float:
            through = sum(box.top + 2 < y < box.bottom - 2 for y in heights)
            return 2.0 * _is_crossed(pieces, box) + through

        self.named_levels.clear()
        painter.setFont(theme.font(11))
        painter.setPen(theme.color("limit"))
        for (_, words), y in zip(chart.levels, heights, strict=True):
            width = theme.metrics(11).horizontalAdvance(words) + 4
            steps = max(1, int((area.width() - width - 8) / 24))
            lefts = [area.right() - 4 - width - 24 * i for i in range(steps)]
            places = [Box(left, top, width, height) for top in (y - height, y + 1) for left in lefts]
            box = placer.place(places, crossed)
            if box is not None:
                self.named_levels[words] = box
                painter.drawText(QRectF(box.left, box.top, box.width, box.height), _RIGHT, words)

    def _paint_usual(self, painter: QPainter, band: UsualPlane) -> None:
        """Shade the usual band, with its edges and its middle dotted: it shows without colour as well."""
        with QPainterStateGuard(painter):
            painter.setClipRect(self.area())
            # A speed that too few starts have breaks the band.
            for part in np.split(np.arange(band.ng_pct.size), np.flatnonzero(np.diff(band.ng_pct) > 1.5) + 1):
                low, middle, high = (
                    [self.at(float(band.ng_pct[i]), float(edge[i])) for i in part]
                    for edge in (band.low_c, band.middle_c, band.high_c)
                )
                painter.setPen(Qt.PenStyle.NoPen)
                painter.setBrush(self._theme.color("selection"))
                painter.drawPolygon(QPolygonF([*high, *reversed(low)]))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.setPen(QPen(self._theme.color("muted"), 1))
                painter.drawPolyline(QPolygonF(low))
                painter.drawPolyline(QPolygonF(high))
                painter.setPen(QPen(self._theme.color("muted"), 1, Qt.PenStyle.DotLine))
                painter.drawPolyline(QPolygonF(middle))


def time_legend(chart: TimeChart) -> str:
    """Return what line, dashes, tints and diamonds of the chart stand for."""
    parts = ["line: recorded"]
    parts.append("dashed: allowed" if chart.allowed else "the profile has no start limit")
    if chart.bands:
        parts.append("tints: bands")
    if any(mark.exceeded for mark in chart.marks):
        parts.append("diamond: too long")
    return "; ".join(parts)


class TimeChartView(_Chart):
    """Seconds above each temperature: the curve must stay left of and below the steps."""

    title = "Time above each temperature"

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, parent)
        self._chart: TimeChart | None = None

    def show_chart(self, chart: TimeChart | None) -> None:
        """Show another start, or none."""
        self._chart = chart
        self._is_blank = False
        if chart is not None:
            self._x_range, self._y_range = chart.x_range, chart.y_range
            self.setAccessibleDescription(", ".join(mark.word for mark in chart.marks))
        self.update()

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the chart."""
        chart = self._chart
        if self._is_blank:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        if chart is None:
            self._paint_nothing(painter, "ITT never rose in this start, or was not recorded.")
            return
        painter.setClipRect(self.area())
        self._tint_bands(painter, chart)
        painter.setClipping(False)
        placer = self._paint_frame(
            painter, time_legend(chart), f"seconds above; ITT in {unit_words(chart.unit)}"
        )
        self._paint_allowed(painter, chart)
        self._name_bands(painter, placer, chart)
        lines = self._paint_line(painter, chart.seconds, chart.levels, "temperature")
        self._paint_marks(painter, placer, chart.marks, lines, "ink", bold=False)

    def _paint_allowed(self, painter: QPainter, chart: TimeChart) -> None:
        """Draw the staircase of what is allowed: right of it is more."""
        if not chart.allowed:
            return
        right, top = chart.x_range[1], chart.y_range[1]
        with QPainterStateGuard(painter):
            painter.setClipRect(self.area().adjusted(0, 0, 1, 1))
            corners = [self.at(right, chart.allowed[0][0])]
            for index, (level, seconds) in enumerate(chart.allowed):
                upper = chart.allowed[index + 1][0] if index + 1 < len(chart.allowed) else top
                corners += [self.at(seconds, level), self.at(seconds, upper)]
            painter.setPen(QPen(self._theme.color("limit"), 1, Qt.PenStyle.DashLine))
            painter.drawPolyline(QPolygonF(corners))

    def _edge(self, chart: TimeChart, edge: Sequence[tuple[float, float]]) -> list[QPointF]:
        points = sorted(edge, key=lambda point: (point[0], -point[1]))
        return [self.at(*point) for point in points] + [self.at(chart.band_end[0], points[-1][1])]

    def _tint_bands(self, painter: QPainter, chart: TimeChart) -> None:
        """Tint the bands of the profile's chart, as the paper does: the mildest in the caution's tint."""
        painter.setPen(Qt.PenStyle.NoPen)
        for index, (_, edge) in enumerate(chart.bands):
            line = self._edge(chart, edge)
            top = self.at(0.0, chart.band_end[1]).y()
            corners = [QPointF(line[0].x(), top), *line, QPointF(line[-1].x(), top)]
            painter.setBrush(self._theme.color("tint_limit" if index else "tint_caution"))
            painter.drawPolygon(QPolygonF(corners))

    def _name_bands(self, painter: QPainter, placer: Placer, chart: TimeChart) -> None:
        theme = self._theme
        with QPainterStateGuard(painter):
            painter.setClipRect(self.area())
            painter.setPen(theme.color("ink"))
            for name, edge in chart.bands:
                words = f"band {name}"
                width = theme.metrics(11).horizontalAdvance(words) + 4
                end = self._edge(chart, edge)[-1]
                box = placer.place([Box(end.x() - width - 4 - 20 * i, end.y() - theme.px(16), width, theme.px(14))
                                    for i in range(6)])  # fmt: skip
                if box is not None:
                    painter.setFont(theme.font(11))
                    painter.drawText(QRectF(box.left, box.top, box.width, box.height), _RIGHT, words)
