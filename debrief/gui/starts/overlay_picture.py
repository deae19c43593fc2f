"""The still part of the picture of two starts: legend, axis, marks, panes with their traces."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPainterPath, QPainterStateGuard, QPen, QPixmap

from debrief.gui.background.guarded import picture_of
from debrief.gui.style.theme import Theme
from debrief.session.charts.start_overlay import INSTANT_WORDS, Overlay, OverlayLane, OverlayTrace
from debrief.session.drawing.axes import nice_step, share_of, tick_text, ticks
from debrief.session.drawing.envelope import Drawn
from debrief.session.drawing.mark_names import place_names
from debrief.session.drawing.placing import Box
from debrief.words.channels import CHANNELS
from debrief.words.numbers import unit_words

_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_CENTRE = Qt.AlignmentFlag.AlignCenter
ROLES = {name: row.role for name, row in CHANNELS.items()}
_WEIGHTS = {"ng": 0.32, "itt": 0.42, "bus_volts": 0.26}
_DASHES = (5.0, 3.0)


class OverlayPicture:
    """Where everything lies for one size, and its picture.

    Parameters
    ----------
    overlay : Overlay
        Two starts that can be laid over each other.
    theme : Theme
    size : QSize
        Of the widget, [px].
    """

    def __init__(self, overlay: Overlay, theme: Theme, size: QSize) -> None:
        self._overlay = overlay
        self._theme = theme
        self._size = size

    def area(self) -> QRectF:
        """Return where the traces lie, [px]."""
        px = self._theme.px
        left, top = px(44), px(22) + 2 * px(16)
        return QRectF(
            left,
            top,
            max(self._size.width() - left - px(132), 40),
            max(self._size.height() - top - px(36), 60),
        )

    def panes(self) -> list[tuple[OverlayLane, QRectF]]:
        """Return each quantity with its pane, [px]."""
        overlay = self._overlay
        area, gap = self.area(), self._theme.px(6)
        room = area.height() - gap * (len(overlay.lanes) - 1)
        out, top = [], area.top()
        total = sum(_WEIGHTS[lane.name] for lane in overlay.lanes)
        for lane in overlay.lanes:
            height = room * _WEIGHTS[lane.name] / total
            out.append((lane, QRectF(area.left(), top, area.width(), height)))
            top += height + gap
        return out

    def x_of(self, time_s: float) -> float:
        """Return the pixel of a time from the instant on."""
        overlay, area = self._overlay, self.area()
        return area.left() + share_of(time_s, overlay.begin_s, overlay.end_s) * area.width()

    def time_at(self, x: float) -> float:
        """Return the time from the instant on at a pixel, [s]."""
        overlay, area = self._overlay, self.area()
        return overlay.begin_s + (x - area.left()) / area.width() * (overlay.end_s - overlay.begin_s)

    def pen(self, second: bool, role: str = "ink") -> QPen:
        """Return the pen of one start: solid for the first, dashed for the second."""
        pen = QPen(self._theme.color(role), 1.6)
        if second:
            pen.setDashPattern(_DASHES)
            pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        return pen

    def painted(self, ratio: float) -> QPixmap:
        """Return the picture for a screen with this many pixels to a unit."""
        overlay = self._overlay
        with picture_of(self._size, ratio) as (picture, painter):
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            self._paint_legend(painter, overlay)
            self._paint_axis(painter, overlay)
            for lane, rect in self.panes():
                self._paint_pane(painter, lane, rect)
            self._paint_marks(painter, overlay)
        return picture

    def _paint_legend(self, painter: QPainter, overlay: Overlay) -> None:
        theme, x = self._theme, 2.0
        height = theme.px(18)
        painter.setFont(theme.font(12, bold=True))
        metrics = theme.metrics(12, bold=True)
        room = (self._size.width() - 4) / 2 - theme.px(44)
        for side, second in ((overlay.first, False), (overlay.second, True)):
            painter.setPen(self.pen(second))
            painter.drawLine(QLineF(x, height / 2, x + theme.px(28), height / 2))
            x += theme.px(34)
            words = metrics.elidedText(side.label, Qt.TextElideMode.ElideMiddle, room)
            painter.setPen(theme.color("ink"))
            painter.drawText(QRectF(x, 0, room + 4, height), _LEFT, words)
            x += metrics.horizontalAdvance(words) + theme.px(22)

    def _paint_axis(self, painter: QPainter, overlay: Overlay) -> None:
        theme, area = self._theme, self.area()
        painter.setFont(theme.font(11))
        most = max(2, int(area.width() / theme.px(58)))
        step = nice_step(overlay.end_s - overlay.begin_s, most)
        for value in ticks(overlay.begin_s, overlay.end_s, most):
            x = self.x_of(value)
            painter.setPen(theme.color("grid"))
            for _, rect in self.panes():
                painter.drawLine(QLineF(x, rect.top(), x, rect.bottom()))
            painter.setPen(theme.color("muted"))
            box = QRectF(x - 30, area.bottom() + 2, 60, theme.px(15))
            painter.drawText(box, _CENTRE, tick_text(value, step))
        words = f"seconds from {INSTANT_WORDS[overlay.instant]}"
        painter.drawText(
            QRectF(area.left(), area.bottom() + theme.px(17), area.width(), theme.px(16)), _CENTRE, words
        )

    def _paint_pane(self, painter: QPainter, lane: OverlayLane, rect: QRectF) -> None:
        theme = self._theme
        painter.setFont(theme.font(11))
        most = max(2, int(rect.height() / theme.px(26)))
        step = nice_step(lane.range[1] - lane.range[0], most)
        height = theme.px(14)
        for value in ticks(*lane.range, most):
            y = y_of(lane, rect, value)
            painter.setPen(theme.color("grid"))
            painter.drawLine(QLineF(rect.left(), y, rect.right(), y))
            painter.setPen(theme.color("muted"))
            top = min(max(y - height / 2, rect.top() - 1), rect.bottom() - height + 1)
            painter.drawText(QRectF(0, top, rect.left() - 6, height), _RIGHT, tick_text(value, step))
        painter.setPen(theme.color("hairline"))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(rect)
        zero = self.x_of(0.0)
        painter.setPen(QPen(theme.color("muted"), 1))
        painter.drawLine(QLineF(zero, rect.top(), zero, rect.bottom()))
        with QPainterStateGuard(painter):
            painter.setClipRect(rect)
            paths = []
            for trace, second in ((lane.first, False), (lane.second, True)):
                if trace is not None:
                    painter.setPen(self.pen(second, "ink" if second else ROLES[lane.name]))
                    paths.append(self._path(lane, rect, trace))
                    painter.drawPath(paths[-1])
        self._paint_title(painter, lane, rect, paths)

    def _paint_title(
        self, painter: QPainter, lane: OverlayLane, rect: QRectF, paths: Sequence[QPainterPath]
    ) -> None:
        """Write the quantity in the corner that the traces leave free; they are never covered."""
        theme = self._theme
        words = f"{lane.symbol} {unit_words(lane.unit)}".strip()
        width, height = theme.metrics(12, bold=True).horizontalAdvance(words) + 4, theme.px(16)
        corners = [
            QRectF(left, top, width, height)
            for top in (rect.top() + 2, rect.bottom() - height - 2)
            for left in (rect.left() + 6, rect.right() - width - 6)
        ]
        box = min(corners, key=lambda corner: sum(_runs_through(path, corner) for path in paths))
        painter.setFont(theme.font(12, bold=True))
        painter.setPen(theme.color(ROLES[lane.name]))
        painter.drawText(box, _LEFT, words)
        if lane.problem:
            painter.setFont(theme.font(12))
            painter.setPen(theme.color("muted"))
            place = rect.adjusted(box.width() + 14, 0, -box.width() - 14, 0)
            said = theme.metrics(12).elidedText(lane.problem, Qt.TextElideMode.ElideRight, place.width())
            painter.drawText(place, _CENTRE, said)

    def _path(self, lane: OverlayLane, rect: QRectF, trace: OverlayTrace) -> QPainterPath:
        overlay = self._overlay
        drawn: Drawn = trace.envelope.view(overlay.begin_s, overlay.end_s, int(rect.width()))
        path = QPainterPath()
        joined = False
        for index in range(drawn.time_s.size):
            point = QPointF(
                self.x_of(float(drawn.time_s[index])), y_of(lane, rect, float(drawn.values[index]))
            )
            if joined:
                path.lineTo(point)
            else:
                path.moveTo(point)
                if not drawn.connect[index]:
                    path.lineTo(point + QPointF(1.0, 0.0))  # a sample alone between two gaps
            joined = bool(drawn.connect[index])
        return path

    def _paint_marks(self, painter: QPainter, overlay: Overlay) -> None:
        """Draw the named instants of either start in a row of its own, above the panes."""
        theme, area = self._theme, self.area()
        row = theme.px(16)
        painter.setFont(theme.font(11))
        for index, marks in enumerate(overlay.marks):
            top = theme.px(20) + index * row
            room = Box(area.left() - 2, top - 1, self._size.width() - area.left(), row + 2)
            painter.setPen(self.pen(index == 1))
            painter.drawLine(
                QLineF(area.left() - theme.px(30), top + row / 2, area.left() - 6, top + row / 2)
            )
            self._paint_mark_row(painter, marks, room, top, index == 1)

    def _paint_mark_row(
        self,
        painter: QPainter,
        marks: Sequence[tuple[float, str]],
        room: Box,
        top: float,
        second: bool,
    ) -> None:
        theme, row = self._theme, self._theme.px(16)
        dots = [(self.x_of(at), word) for at, word in marks]
        painter.setPen(QPen(theme.color("ink"), 1.2))
        painter.setBrush(theme.color("panel") if second else theme.color("ink"))
        for x, _ in dots:
            painter.drawEllipse(QPointF(x, top + row / 2), 3, 3)
        for words, box in place_names(dots, room, top, row, theme.metrics(11).horizontalAdvance):
            painter.drawText(QRectF(box.left, box.top, box.width, box.height), _LEFT, words)


def _runs_through(path: QPainterPath, box: QRectF) -> int:
    """Return how many of a trace's lines come into a box."""
    hits = 0
    for index in range(1, path.elementCount()):
        element, before = path.elementAt(index), path.elementAt(index - 1)
        if element.isLineTo():
            line = QRectF(QPointF(before.x, before.y), QPointF(element.x, element.y)).normalized()
            hits += line.adjusted(-1, -1, 1, 1).intersects(box)
    return hits


def y_of(lane: OverlayLane, rect: QRectF, value: float) -> float:
    """Return the pixel of a value in its pane."""
    return rect.bottom() - share_of(value, *lane.range) * rect.height()
