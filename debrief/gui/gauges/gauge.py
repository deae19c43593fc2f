"""One round gauge: arcs and red lines by the instrument-marking regulations, pointer, digits, extreme.

Green and yellow are arcs, limits are red radial lines (14 CFR 25.1549 (a) to (c)); a level that is
allowed only for a time in a start is a short red mark outside the arc, and only while a start limit
applies.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QPainter, QPainterPath, QPaintEvent, QPen, QPixmap, QPolygonF
from PySide6.QtWidgets import QWidget

from debrief.gui.background.guarded import guarded, painted, picture_of
from debrief.gui.gauges.instrument_widget import InstrumentWidget
from debrief.gui.style.theme import Theme
from debrief.session.drawing.axes import nice_step, tick_text, ticks
from debrief.session.limits.instrument_readings import Instrument
from debrief.words.numbers import unit_words

LARGE_LEAST, SMALL_LEAST = 122, 88
"""Least heights of a dial, [px at scale 1]."""
_NUMBERED = 88
"""Above this radius the numbers of a scale keep off the digits, [px at scale 1]."""

_BEGIN_DEG = 225.0
_SWEEP_DEG = 270.0
_LEAST_DIGITS = 10.0
_DIGITS_REACH = 0.66
"""How far from the middle the digits may reach, as a part of the radius: beyond is the pointer's."""
_OPENING = 0.76
"""How far below the middle the words stand, likewise."""


class GaugeWidget(InstrumentWidget):
    """One round gauge."""

    def __init__(
        self, instrument: Instrument, theme: Theme, large: bool, parent: QWidget | None = None
    ) -> None:
        super().__init__(instrument, theme, large, parent)
        self.restyle()

    def restyle(self) -> None:
        """Take the theme's colours and sizes: a dial grows with its words."""
        super().restyle()
        self.setMinimumSize(self._theme.px(90), self._theme.px(LARGE_LEAST if self._large else SMALL_LEAST))

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return a comfortable size."""
        return QSize(220, 200) if self._large else QSize(120, 124)

    def _angle(self, value: float) -> float:
        return _BEGIN_DEG - self._share(value) * _SWEEP_DEG

    def _geometry(self) -> tuple[QPointF, float]:
        """Return centre and radius, [px]."""
        theme = self._theme
        title_height = theme.px(17)
        foot = theme.px(16) * (2 if self._large else 1)
        width, height = float(self.width()), float(self.height())
        # The lower quarter of the circle is open: words use that room.
        radius = min(width / 2 - theme.px(12), (height - title_height - foot - theme.px(8)) / (1 + _OPENING))
        radius = max(radius, 18.0)
        return QPointF(width / 2, title_height + theme.px(6) + radius), radius

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the gauge: the scale from its picture, then what moves."""
        centre, radius = self._geometry()
        if self._scale is None:
            self._scale = self._draw_scale(centre, radius)
        painter.drawPixmap(0, 0, self._scale)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        if self._instrument.channel is not None and self._reading.extreme is not None:
            self._paint_extreme(painter, centre, radius, self._reading.extreme)
        digits = self._digits(radius)
        inner = math.hypot(*digits[1:]) / 2 + 3
        compared = pointer = QPolygonF()
        if self._compared is not None:
            # Hollow, and on the arc, where no digits come.
            middle, half = 0.92 * radius, max(6.5, radius * 0.13)
            reach = (middle - half, middle, middle + half)
            compared = self._blade(centre, self._compared, reach, max(4.0, radius * 0.075))
        if self._reading.value is not None:
            # It comes from the middle as far as the digits leave it free.
            wide = max(2.5, radius * 0.06)
            pointer = self._blade(centre, self._reading.value, (inner, inner, 0.86 * radius), wide)
        self._paint_numbers(painter, centre, radius, (compared, pointer))
        painter.setPen(QPen(self._theme.color("ink"), 1.4))
        painter.setBrush(self._theme.color("panel"))
        painter.drawPolygon(compared)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self._theme.color("ink"))
        painter.drawPolygon(pointer)
        self._paint_digits(painter, centre, radius, digits)
        self._paint_words(painter, centre, radius)
        self.paint_focus(painter)

    def _draw_scale(self, centre: QPointF, radius: float) -> QPixmap:
        theme = self._theme
        ratio = self.devicePixelRatioF()
        with picture_of(self.size(), ratio) as (picture, painter):
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            title = QRectF(0, 0, self.width(), theme.px(17))
            name = self._instrument.symbol
            theme.write(painter, title, name, 13 if self._large else 12, bold=True)
            self._paint_scale(painter, centre, radius, self._instrument.channel is not None)
        return picture

    def _paint_scale(self, painter: QPainter, centre: QPointF, radius: float, recorded: bool) -> None:
        theme, markings = self._theme, self._instrument.markings
        circle = QRectF(centre.x() - radius, centre.y() - radius, 2 * radius, 2 * radius)
        thick = max(3.0, radius * 0.055)
        pen = QPen(theme.color("hairline"), max(1.5, thick * 0.5))
        pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        painter.setPen(pen)
        painter.drawArc(circle, round((_BEGIN_DEG - _SWEEP_DEG) * 16), round(_SWEEP_DEG * 16))
        low, high = self._instrument.range
        if recorded:
            self._paint_ticks(painter, centre, radius)
        if markings is None or not recorded:
            return
        for role, arcs in (("normal", markings.green), ("caution", markings.yellow), ("limit", markings.red)):
            pen = QPen(theme.color(role), thick)
            pen.setCapStyle(Qt.PenCapStyle.FlatCap)
            painter.setPen(pen)
            for begin, end in arcs:
                a, b = self._angle(begin), self._angle(end)
                painter.drawArc(circle, round(b * 16), round((a - b) * 16))
        red = QPen(theme.color("limit"), max(2.5, radius * 0.04))
        red.setCapStyle(Qt.PenCapStyle.FlatCap)
        painter.setPen(red)
        for value in markings.red_lines:
            painter.drawLine(self._radial(centre, value, radius * 0.86, radius * 1.1))
        painter.setPen(QPen(theme.color("limit"), 1.5))
        for value in self._start_marks:
            if low <= value <= high:
                painter.drawLine(self._radial(centre, value, radius * 1.04, radius * 1.13))

    def _paint_ticks(self, painter: QPainter, centre: QPointF, radius: float) -> None:
        """Draw round values as ticks."""
        painter.setPen(QPen(self._theme.color("muted"), 1))
        for value in ticks(*self._instrument.range, self._tick_count(radius)):
            painter.drawLine(self._radial(centre, value, radius * 0.88, radius * 0.95))

    def _tick_count(self, radius: float) -> int:
        return 6 if radius > self._theme.px(_NUMBERED) else 5

    def _paint_numbers(
        self, painter: QPainter, centre: QPointF, radius: float, pointers: Sequence[QPolygonF]
    ) -> None:
        """Write the numbers of the scale where there is room for them; none that a pointer would run through."""
        theme = self._theme
        if radius <= theme.px(_NUMBERED) or self._instrument.channel is None:
            return
        low, high = self._instrument.range
        most = self._tick_count(radius)
        step, metrics = nice_step(high - low, most), theme.metrics(11)
        covered = QPainterPath()
        for pointer in pointers:
            covered.addPolygon(pointer)
        for value in ticks(low, high, most):
            place = self._radial(centre, value, 0.0, radius * 0.74).p2()
            text = tick_text(value, step)
            width = metrics.horizontalAdvance(text) + 2
            box = QRectF(place.x() - width / 2, place.y() - theme.px(7), width, theme.px(14))
            if not covered.intersects(box):
                theme.write(painter, box, text, 11, "muted")

    def _radial(self, centre: QPointF, value: float, inner: float, outer: float) -> QLineF:
        angle = math.radians(self._angle(value))
        x, y = math.cos(angle), -math.sin(angle)
        return QLineF(
            centre.x() + inner * x, centre.y() + inner * y, centre.x() + outer * x, centre.y() + outer * y
        )

    def _paint_extreme(self, painter: QPainter, centre: QPointF, radius: float, value: float) -> None:
        low, high = self._instrument.range
        if value < low + 0.01 * (high - low):
            # Nothing has moved yet: a mark at the very end of the scale would only cover the words.
            return
        angle = math.radians(self._angle(value))
        x, y = math.cos(angle), -math.sin(angle)
        size = max(4.5, radius * 0.075)
        tip = QPointF(centre.x() + radius * 1.05 * x, centre.y() + radius * 1.05 * y)
        back = QPointF(tip.x() + 1.5 * size * x, tip.y() + 1.5 * size * y)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self._theme.color("ink"))
        painter.drawPolygon(
            QPolygonF(
                [
                    tip,
                    QPointF(back.x() - 0.8 * size * y, back.y() + 0.8 * size * x),
                    QPointF(back.x() + 0.8 * size * y, back.y() - 0.8 * size * x),
                ]
            )
        )

    def _blade(
        self, centre: QPointF, value: float, reach: tuple[float, float, float], wide: float
    ) -> QPolygonF:
        """Return a blade from its inner end over its widest place to its tip, [px from the middle]."""
        angle = math.radians(self._angle(value))
        x, y = math.cos(angle), -math.sin(angle)
        inner, middle, tip = reach
        corners = ((inner, 0.0), (middle, wide), (tip, 0.6), (tip, -0.6), (middle, -wide))
        return QPolygonF(
            [QPointF(centre.x() + r * x - w * y, centre.y() + r * y + w * x) for r, w in corners]
        )

    def _digits(self, radius: float) -> tuple[float, float, float]:
        """Return the size of the digits at scale 1, and width and height of their box, [px].

        They stand in the middle, and no corner of them reaches farther than the pointer begins.
        """
        most = 30.0 if self._large else 18.0
        size = most if self._reading.value is not None else 12.0
        while True:
            metrics = self._theme.metrics(size, bold=self._reading.value is not None)
            width = metrics.horizontalAdvance(self.words) + self._theme.px(3)
            height = metrics.capHeight() + self._theme.px(6)
            if math.hypot(width, height) / 2 <= _DIGITS_REACH * radius or size <= _LEAST_DIGITS:
                return size, width, height
            size -= 1.0

    def _paint_digits(
        self, painter: QPainter, centre: QPointF, radius: float, digits: tuple[float, float, float]
    ) -> None:
        theme = self._theme
        size, width, height = digits
        box = QRectF(centre.x() - width / 2, centre.y() - height / 2, width, height)
        is_number = self._reading.value is not None
        if self.is_filled and is_number:
            theme.fill(painter, box.adjusted(-2, -0.15 * height, 2, 0.15 * height), "limit", 4)
        role = "muted" if not is_number else "on_limit" if self.is_filled else "ink"
        theme.write(painter, box.adjusted(0, -height, 0, height), self.words, size, role, bold=is_number)

    def _paint_words(self, painter: QPainter, centre: QPointF, radius: float) -> None:
        """Write unit and extreme where the circle opens, and below a large dial the seconds in use."""
        theme, width = self._theme, float(self.width())
        line_height = theme.px(16)
        line = QRectF(0, centre.y() + _OPENING * radius, width, line_height)
        unit = unit_words(self._instrument.unit)
        extremes = self.extreme_forms if self._reading.value is not None else ()
        forms = [f"{unit}{between}{words}" for words in extremes for between in (" · ", ", ")]
        theme.write(painter, line, self._fitting((*forms, *extremes[-1:], unit), width), 11, "muted")
        if self.used_words and self._large:
            line.translate(0, line_height)
            words = self._fitting(self.used_forms, width, bold=True)
            theme.write(painter, line, words, 11, "limit" if self.is_filled else "ink", bold=True)

    def _fitting(self, forms: Sequence[str], width: float, bold: bool = False) -> str:
        """Return the first of the forms that fits, else the last; the tip has all of it."""
        metrics = self._theme.metrics(11, bold)
        return next((words for words in forms if metrics.horizontalAdvance(words) + 2 <= width), forms[-1])
