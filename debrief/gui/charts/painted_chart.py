"""The words of a still chart, what lies below its curves, and what is read out."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QLineF, QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterStateGuard, QPen, QPolygonF

from debrief.gui.background.guarded import guarded
from debrief.gui.charts.drawn_chart import DrawnChart
from debrief.session.charts.chart_words import LINE, View, place_words, thinned
from debrief.session.charts.still_chart import Pane, StillChart
from debrief.session.drawing.mark_names import place_names
from debrief.session.drawing.placing import Box
from debrief.words.visible import visible

LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
CENTRE = Qt.AlignmentFlag.AlignCenter
_WRAPPED = int(CENTRE) | int(Qt.TextFlag.TextWordWrap)


class PaintedChart(DrawnChart):
    """A chart with its words."""

    @guarded()
    def drawBackground(self, painter: QPainter, rect: QRectF | QRect) -> None:
        """Draw what lies below the curves: tints, grid, levels."""
        chart, theme = self._chart, self._theme
        painter.fillRect(rect, theme.color("panel"))
        if chart is None or chart.problem:
            return
        across = [chart.x.share(tick.value) for tick in self.shown_ticks()]
        with QPainterStateGuard(painter):
            for number, pane in enumerate(chart.panes):
                view, area = self.view(number), self.area(number)
                painter.setClipRect(area)
                painter.setPen(Qt.PenStyle.NoPen)
                for tint in pane.areas:
                    painter.setBrush(theme.color(tint.tint))
                    corners = view.at(chart.x.shares(tint.corners[:, 0]), pane.y.shares(tint.corners[:, 1]))
                    painter.drawPolygon(QPolygonF([QPointF(*corner) for corner in corners.tolist()]))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
                painter.setPen(theme.color("grid"))
                up = [pane.y.share(tick.value) for tick in self.shown_ticks(number)]
                for x, _ in view.at(np.array(across), np.zeros(len(across))).tolist():
                    painter.drawLine(QLineF(x, area.top(), x, area.bottom()))
                for _, y in view.at(np.zeros(len(up)), np.array(up)).tolist():
                    painter.drawLine(QLineF(area.left(), y, area.right(), y))
                for level in pane.levels:
                    painter.setPen(self.pen(level.role, level.style))
                    y = self.at(chart.x.range[0], level.value, number).y()
                    painter.drawLine(QLineF(area.left(), y, area.right(), y))
                painter.setClipping(False)
                painter.setPen(theme.color("hairline"))
                painter.drawRect(area)

    def paint_over(self, painter: QPainter, chart: StillChart) -> None:
        """Draw what lies over the curves: the words, and what is read out."""
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        self._paint_titles(painter, chart)
        if chart.problem:
            return
        self._paint_ticks(painter, chart)
        self._paint_instants(painter, chart)
        found: list[tuple[str, QRectF]] = []
        left_out: list[str] = []
        for number, pane in enumerate(chart.panes):
            placed, lacking = self._paint_words(painter, chart, pane, number)
            found += placed
            left_out += lacking
        self.words = tuple(found)
        self._paint_x_title(painter, chart, left_out)
        if not self._is_copied:
            self.paint_reading(painter, chart)
            if self.hasFocus():
                painter.setPen(QPen(self._theme.color("ink"), 2))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawRect(QRectF(self.viewport().rect()).adjusted(1, 1, -1, -1))

    def write(
        self, painter: QPainter, box: QRectF, flags: Qt.AlignmentFlag | int, words: str, size: float = 11,
        role: str = "muted", bold: bool = False,
    ) -> None:  # fmt: skip
        """Write words into a box, shortened where they are longer than it."""
        font = self._theme.font(size, bold)
        painter.setFont(font)
        painter.setPen(self._theme.color(role))
        metrics = self._theme.metrics(size, bold)
        painter.drawText(
            box, int(flags), metrics.elidedText(visible(words), Qt.TextElideMode.ElideRight, box.width() + 1)
        )

    def _paint_titles(self, painter: QPainter, chart: StillChart) -> None:
        px, width, top = self._theme.px, self.width() - 4, 0
        if self._is_titled:
            self.write(painter, QRectF(2, 0, width, px(20)), LEFT, chart.title, 13, "ink", bold=True)
            top = px(20)
        below = chart.problem or chart.subtitle
        self.write(painter, QRectF(2, top, width, px(18)), LEFT, below, 12)

    def _paint_ticks(self, painter: QPainter, chart: StillChart) -> None:
        theme, height = self._theme, self._theme.px(16)
        advance = theme.metrics(11).horizontalAdvance
        shown = self.shown_ticks()
        bottom = self.area(len(self._boxes) - 1).bottom()
        wide = [advance(tick.text) + 2 for tick in shown]
        # The outermost may stand inwards of their ticks rather than be cut.
        places = [self.at(tick.value, chart.panes[0].y.range[0]).x() for tick in shown]
        places = [min(max(x, w / 2 + 1), self.width() - w / 2 - 1) for x, w in zip(places, wide, strict=True)]
        for row in thinned(places, wide, theme.px(6)):
            box = QRectF(places[row] - wide[row] / 2, bottom + 3, wide[row], height)
            self.write(painter, box, CENTRE, shown[row].text)
        for number in range(len(self._boxes)):
            area, ticks = self.area(number), self.shown_ticks(number)
            ups = [self.at(chart.x.range[0], tick.value, number).y() for tick in ticks]
            # Between panes there is no room for half a number.
            over = height / 2 if len(self._boxes) == 1 else theme.px(3)
            low, high = area.top() - over + height / 2, area.bottom() + over - height / 2
            middles = [min(max(up, low), high) for up in ups]
            for row in thinned(middles, [float(theme.px(12))] * len(ups), 1.0):
                top = middles[row] - height / 2
                self.write(painter, QRectF(0, top, area.left() - 5, height), RIGHT, ticks[row].text)

    def _paint_x_title(self, painter: QPainter, chart: StillChart, left_out: list[str]) -> None:
        if not self._is_titled:
            return
        area, px = self.area(len(self._boxes) - 1), self._theme.px
        words = chart.x.titled
        if left_out:
            words += f"; tint without a name: {', '.join(left_out)}"
        box = QRectF(area.left(), area.bottom() + px(18), self.width() - area.left() - 2, px(18))
        self.write(painter, box, LEFT if left_out else CENTRE, words)

    def _paint_instants(self, painter: QPainter, chart: StillChart) -> None:
        """Draw the named instants of each start above the panes: a line as that of its curves, a tick below each name."""
        theme, area, px = self._theme, self.area(), self._theme.px
        end = min(self.width() - 2.0, area.right() + px(12))  # what is read out stands beside them
        painter.setFont(theme.font(11))
        for number, instants in enumerate(chart.instants):
            line = area.top() - self._instants_px * (len(chart.instants) - number - 1) - px(7)
            painter.setPen(self.pen("ink", instants.style, 1.6))
            painter.drawLine(QLineF(2, line, area.right(), line))
            places = sorted((self.at(x, chart.panes[0].y.range[0]).x(), word) for x, word in instants.marks)
            seen = [(x, word) for x, word in places if area.left() - 1 <= x <= area.right() + 1]
            painter.setPen(QPen(theme.color("ink"), 1.6))
            painter.drawLines([QLineF(x, line - px(3), x, line + px(3)) for x, _ in seen])
            marks = [(x, word) for x, word in seen if word]
            widths = [theme.metrics(11).horizontalAdvance(word) + 2.0 for _, word in marks]
            lefts = place_names([x for x, _ in marks], widths, 2.0, end, float(px(6)))
            for (x, word), wide, left in zip(marks, widths, lefts, strict=True):
                foot = line - (self._instants_px - px(19))
                painter.setPen(QPen(theme.color("muted"), 1.0))
                painter.drawLine(QLineF(left + wide / 2, foot, x, line - px(3)))
                painter.setPen(theme.color("ink"))
                painter.drawText(QRectF(left, foot - px(15), wide, px(15)), CENTRE, word)

    def _paint_words(
        self, painter: QPainter, chart: StillChart, pane: Pane, number: int
    ) -> tuple[list[tuple[str, QRectF]], tuple[str, ...]]:
        """Write the names inside a pane; return them with their places, and the names that found none."""
        theme, view, area = self._theme, self.view(number), self.area(number)
        scale = theme.px(LINE) / LINE
        small = View(
            Box(area.x() / scale, area.y() / scale, area.width() / scale, area.height() / scale),
            view.x,
            view.y,
        )

        def width_of(words: str, bold: bool) -> float:
            return theme.metrics(11, bold).horizontalAdvance(visible(words)) / scale

        margin = (self.width() - area.right()) / scale
        key = (area.x(), area.y(), area.width(), area.height(), *view.x, *view.y)
        known, placed, left_out = self._placed.get(number, ((), (), ()))
        if known != key:  # not at each move of the pointer
            placed, left_out = place_words(pane, small, chart.x.shares, margin, width_of)
            self._placed[number] = key, placed, left_out
        found = []
        for one in placed:
            box = QRectF(
                *(edge * scale for edge in (one.box.left, one.box.top, one.box.width, one.box.height))
            )
            painter.setFont(theme.font(11, one.bold))
            painter.setPen(theme.color(one.role))
            if one.leader is not None:
                painter.drawLine(QLineF(*(edge * scale for edge in one.leader)))
            if one.breaks_level:
                painter.fillRect(box.adjusted(-2, 1, 0, -1), theme.color("panel"))
            painter.drawText(box, LEFT, visible(one.text))
            found.append((one.text, box))
        if pane.problem:
            room = area.adjusted(theme.px(90), 0, -theme.px(90), 0)
            self.write(painter, room, CENTRE, pane.problem, 12)
        return found, left_out

    def paint_reading(self, painter: QPainter, chart: StillChart) -> None:
        """Draw what is read out: a square around the point, its words in a box beside it."""
        if self._current is None:
            return
        theme, px = self._theme, self._theme.px
        stop = self._stops[self._current]
        place = self.place_of(self._current)
        if not self.area(stop.pane).adjusted(-2, -2, 2, 2).contains(place):
            return
        painter.setPen(QPen(theme.color("ink"), 1.4))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(QRectF(place.x() - 6, place.y() - 6, 12, 12))
        words = visible(chart.reading(stop))
        metrics = theme.metrics(12)
        room = QRectF(0, 0, min(self.width() - px(16), px(360)), px(200))
        size = metrics.boundingRect(room, _WRAPPED, words)
        width, height = size.width() + px(14), size.height() + px(8)
        left = min(max(place.x() - width / 2, 2.0), self.width() - width - 2)
        above = place.y() - height - 12
        box = QRectF(left, above if above > 0 else place.y() + 12, width, height)
        painter.setPen(theme.color("hairline"))
        painter.setBrush(theme.color("panel"))
        painter.drawRect(box)
        painter.setFont(theme.font(12))
        painter.setPen(theme.color("ink"))
        painter.drawText(box, _WRAPPED, words)
