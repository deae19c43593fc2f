"""One vertical tape: the same markings, words and rules as the dial, in a narrow column."""

from __future__ import annotations

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen, QPixmap, QPolygonF
from PySide6.QtWidgets import QWidget

from debrief.gui.background.guarded import guarded, painted, picture_of
from debrief.gui.gauges.instrument_widget import InstrumentWidget
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.tables import RIGHT
from debrief.session.drawing.axes import nice_step, tick_text, ticks
from debrief.session.limits.instrument_readings import Instrument
from debrief.words.numbers import unit_words


class TapeWidget(InstrumentWidget):
    """Scale on the left, strip of the markings, pointer from the right, digits above."""

    def __init__(
        self, instrument: Instrument, theme: Theme, large: bool, parent: QWidget | None = None
    ) -> None:
        super().__init__(instrument, theme, large, parent)
        self.setMinimumSize(54, 130)

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return a comfortable size."""
        return QSize(60, 220)

    def _strip(self) -> QRectF:
        """Return the strip of the markings, [px]."""
        px = self._theme.px
        # Room for the widest number of the scale on the left, for the pointer on the right.
        longest = max((f"{value:g}" for value in self._instrument.range), key=len)
        left = max(self.width() * 0.5, self._theme.metrics(11).horizontalAdvance(longest) + 10)
        return QRectF(left, px(58), px(6), max(self.height() - px(66), 20))

    def _y(self, value: float) -> float:
        strip = self._strip()
        return strip.bottom() - self._share(value) * strip.height()

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the tape: the scale from its picture, then what moves."""
        if self._scale is None:
            self._scale = self._draw_scale()
        theme = self._theme
        painter.drawPixmap(0, 0, self._scale)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        reading, strip = self._reading, self._strip()
        if reading.extreme is not None:
            self._paint_triangle(painter, strip.right() + 3, self._y(reading.extreme), 4.0, hollow=True)
        if self._compared is not None:
            self._paint_diamond(painter, QPointF(strip.center().x(), self._y(self._compared)), 5.5)
        if reading.value is not None:
            y = self._y(reading.value)
            painter.setPen(QPen(theme.color("ink"), 2))
            painter.drawLine(QLineF(strip.left() - 2, y, strip.right() + 2, y))
            self._paint_triangle(painter, strip.right() + 2, y, 6.0, hollow=False)
        self._paint_digits(painter)
        self.paint_focus(painter)

    def _paint_triangle(self, painter: QPainter, x: float, y: float, size: float, hollow: bool) -> None:
        theme = self._theme
        painter.setPen(QPen(theme.color("ink"), 1.2))
        painter.setBrush(theme.color("panel" if hollow else "ink"))
        corners = [QPointF(x, y), QPointF(x + 1.6 * size, y - size), QPointF(x + 1.6 * size, y + size)]
        painter.drawPolygon(QPolygonF(corners))

    def _paint_diamond(self, painter: QPainter, middle: QPointF, size: float) -> None:
        """Draw the sign of a compared start: hollow, on the strip."""
        painter.setPen(QPen(self._theme.color("ink"), 1.3))
        painter.setBrush(self._theme.color("panel"))
        ways = ((0.0, -size), (1.3 * size, 0.0), (0.0, size), (-1.3 * size, 0.0))
        painter.drawPolygon(QPolygonF([QPointF(middle.x() + x, middle.y() + y) for x, y in ways]))

    def _draw_scale(self) -> QPixmap:
        theme, strip = self._theme, self._strip()
        ratio = self.devicePixelRatioF()
        with picture_of(self.size(), ratio) as (picture, painter):
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            title = QRectF(0, 0, self.width(), theme.px(17))
            name = self._instrument.symbol
            metrics = theme.metrics(12, bold=True)
            words = metrics.elidedText(name, Qt.TextElideMode.ElideRight, self.width())
            theme.write(painter, title, words, 12, bold=True)
            painter.fillRect(strip, theme.color("hairline"))
            if self._instrument.channel is not None:
                self._paint_markings(painter, strip)
        return picture

    def _paint_markings(self, painter: QPainter, strip: QRectF) -> None:
        theme, markings = self._theme, self._instrument.markings
        low, high = self._instrument.range
        most = max(3, int(strip.height() / theme.px(30)))
        step = nice_step(high - low, most)
        for value in ticks(low, high, most):
            y = self._y(value)
            painter.setPen(QPen(theme.color("muted"), 1))
            painter.drawLine(QLineF(strip.left() - 5, y, strip.left() - 1, y))
            box = QRectF(0, y - theme.px(7), strip.left() - 7, theme.px(14))
            theme.write(painter, box, tick_text(value, step), 11, "muted", flags=RIGHT)
        if markings is None:
            return
        for role, bars in (("normal", markings.green), ("caution", markings.yellow), ("limit", markings.red)):
            for begin, end in bars:
                top, bottom = self._y(end), self._y(begin)
                painter.fillRect(QRectF(strip.left(), top, strip.width(), bottom - top), theme.color(role))
        painter.setPen(QPen(theme.color("limit"), 3))
        for value in markings.red_lines:
            painter.drawLine(QLineF(strip.left() - 4, self._y(value), strip.right() + 4, self._y(value)))
        painter.setPen(QPen(theme.color("limit"), 1.5))
        for value in self._start_marks:
            if low <= value <= high:
                painter.drawLine(QLineF(strip.right() + 1, self._y(value), strip.right() + 6, self._y(value)))

    def _paint_digits(self, painter: QPainter) -> None:
        theme = self._theme
        plain_words = self._reading.value is None
        box = QRectF(1, theme.px(18), self.width() - 2, theme.px(21))
        if plain_words:
            # Two lines in place of the digits: "not recorded" is wider than a tape.
            first, _, second = self.words.partition(" ")
            for words, top in ((first, 18), (second, 31)):
                theme.write(painter, QRectF(0, theme.px(top), self.width(), theme.px(14)), words, 11, "muted")
            return
        if self.is_filled:
            width = theme.metrics(14, bold=True).horizontalAdvance(self.words) + 8
            tag = QRectF(box.center().x() - width / 2, box.top() + 1, width, box.height() - 2)
            theme.fill(painter, tag, "limit", 3)
        theme.write(painter, box, self.words, 14, "on_limit" if self.is_filled else "ink", bold=True)
        unit = QRectF(0, theme.px(38), self.width(), theme.px(14))
        theme.write(painter, unit, unit_words(self._instrument.unit), 11, "muted")
