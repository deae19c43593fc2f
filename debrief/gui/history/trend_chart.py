"""One measure of one engine over its starts or flights: usual band, moving average, control limits, shifts."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import (
    QFocusEvent,
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
    QPixmap,
    QPolygonF,
    QResizeEvent,
)
from PySide6.QtWidgets import QToolTip, QWidget

from debrief.gui.background.guarded import guarded, painted, picture_of
from debrief.gui.plain_text import plain_tip
from debrief.gui.style.theme import Theme
from debrief.history.trends.series import Point, Trend
from debrief.session.drawing.axes import rounded_range, share_of, ticks
from debrief.session.texts.definitions import measure_title
from debrief.words.numbers import decimals_for, number, unit_words, value_text
from debrief.words.visible import visible

_REACH_PX = 14.0
_MANY = 200
"""Starts from which the points are drawn smaller."""


class TrendChart(QWidget):
    """A chart to look at and to choose a start in.

    Signals
    -------
    point_chosen : str
        SHA-256 of the recording to open.
    """

    point_chosen = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._trend: Trend | None = None
        self._own = ""
        self._current: int | None = None
        self._range = (0.0, 1.0)
        self._plot_of = (0, 0, 0)
        self._plot_rect = QRectF()
        self._picture: QPixmap | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setMinimumHeight(170)
        self.setAccessibleName("Trend")
        theme.changed.connect(self._changed)

    @property
    def trend(self) -> Trend | None:
        """What is drawn."""
        return self._trend

    @property
    def current(self) -> int | None:
        """Index of the point under the mouse or the keys, or None."""
        return self._current

    def show_trend(self, trend: Trend | None, own_sha256: str = "") -> None:
        """Draw a trend; the starts of the open recording are named."""
        self._trend = trend
        self._own = own_sha256
        self._current = None
        self._range = _y_range(trend) if trend is not None else (0.0, 1.0)
        self.setAccessibleName(f"Trend. {visible(trend.words)}" if trend is not None else "Trend")
        self._changed()

    def place_of(self, index: int) -> QPointF:
        """Return where a point is drawn, [px]."""
        assert self._trend is not None
        return QPointF(self._x(index), self._y(self._trend.points[index].value))

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return a size in which a year of starts can be read."""
        return QSize(560, 300)

    # --- where things are -------------------------------------------------------------------------------

    def _plot(self) -> QRectF:
        px = self._theme.px
        key = (self.width(), self.height(), px(100))
        if key != self._plot_of:  # asked for each point
            self._plot_of = key
            self._plot_rect = QRectF(self.rect()).adjusted(px(58), px(24), -px(74), -px(40))
        return self._plot_rect

    def _x(self, index: int) -> float:
        plot = self._plot()
        count = len(self._trend.points) if self._trend is not None else 1
        return plot.left() + (index + 0.5) / max(count, 1) * plot.width()

    def _left_of(self, index: int) -> float:
        plot = self._plot()
        count = len(self._trend.points) if self._trend is not None else 1
        return plot.left() + index / max(count, 1) * plot.width()

    def _y(self, value: float) -> float:
        plot = self._plot()
        return plot.bottom() - share_of(value, *self._range) * plot.height()

    def _nearest(self, at: QPointF) -> int | None:
        trend = self._trend
        if trend is None or not trend.points:
            return None
        plot = self._plot()
        column = int((at.x() - plot.left()) / max(plot.width(), 1.0) * len(trend.points))
        # Only neighbours in time can be within reach.
        reach = 1 + int(_REACH_PX * len(trend.points) / max(plot.width(), 1.0))
        near = range(max(0, column - reach), min(len(trend.points), column + reach + 1))
        found = [((self.place_of(i) - at).manhattanLength(), i) for i in near]
        distance, index = min(found, default=(_REACH_PX, -1))
        return index if distance < _REACH_PX else None

    @Slot()
    def _changed(self) -> None:
        self._picture = None
        self.update()

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Draw anew."""
        self._changed()
        super().resizeEvent(event)

    # --- events -----------------------------------------------------------------------------------------

    @guarded()
    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Show which point is meant."""
        self._choose(self._nearest(event.position()))
        self.setCursor(
            Qt.CursorShape.PointingHandCursor if self._current is not None else Qt.CursorShape.ArrowCursor
        )

    @guarded()
    def leaveEvent(self, event: QEvent) -> None:
        """Mean no point any more."""
        if not self.hasFocus():
            self._choose(None)

    @guarded()
    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Open the flight of the point."""
        index = self._nearest(event.position())
        if index is not None and event.button() == Qt.MouseButton.LeftButton:
            self._choose(index)
            self._open()

    @guarded()
    def focusInEvent(self, event: QFocusEvent) -> None:
        """Begin at the last point when reached by keys."""
        if event.reason() in (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason):
            self._step(0)
        super().focusInEvent(event)

    @guarded()
    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Mean no point any more."""
        self._choose(None)
        super().focusOutEvent(event)

    @guarded()
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go from start to start, and open one."""
        key = event.key()
        if key == Qt.Key.Key_Left:
            self._step(-1)
        elif key == Qt.Key.Key_Right:
            self._step(1)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self._open()
        else:
            super().keyPressEvent(event)

    @guarded(False)
    def event(self, event: QEvent) -> bool:
        """Say which start a point is."""
        if isinstance(event, QHelpEvent) and self._trend is not None:
            index = self._nearest(QPointF(event.pos()))
            words = point_words(self._trend, self._trend.points[index]) if index is not None else ""
            QToolTip.showText(event.globalPos(), plain_tip(words), self)
            return True
        return super().event(event)

    def _step(self, by: int) -> None:
        if self._trend is not None and self._trend.points:
            last = len(self._trend.points) - 1
            index = last if self._current is None else min(max(self._current + by, 0), last)
            self._choose(index)

    def _choose(self, index: int | None) -> None:
        if index == self._current:
            return
        self._current = index
        if index is not None and self._trend is not None:
            self.setAccessibleDescription(visible(point_words(self._trend, self._trend.points[index])))
        self.update()

    def _open(self) -> None:
        if self._current is not None and self._trend is not None:
            self.point_chosen.emit(self._trend.points[self._current].sha256)

    # --- drawing ----------------------------------------------------------------------------------------

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw from the back to the front: band, shifts, grid, limits, average, points, words."""
        trend = self._trend
        if trend is None or not trend.points:
            return
        if self._picture is None:
            self._picture = self._drawn(trend)
        painter.drawPixmap(0, 0, self._picture)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        self._draw_current(painter, trend)
        if self.hasFocus():
            painter.setPen(QPen(self._theme.color("muted"), 1, Qt.PenStyle.DotLine))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(QRectF(self.rect()).adjusted(1, 1, -2, -2))

    def _drawn(self, trend: Trend) -> QPixmap:
        """Return everything but what follows the mouse."""
        ratio = self.devicePixelRatioF()
        with picture_of(self.size(), ratio, self._theme.color("panel")) as (picture, painter):
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            self._draw_ground(painter, trend)
            self._draw_points(painter, trend)
            self._draw_control(painter, trend)
        return picture

    def _draw_ground(self, painter: QPainter, trend: Trend) -> None:
        theme, plot, band = self._theme, self._plot(), trend.band
        for shift, _ in trend.changes:
            left = self._left_of(trend.charted[shift.since])
            right = self._left_of(trend.charted[shift.until] + 1)
            painter.fillRect(
                QRectF(left, plot.top(), right - left, plot.height()), theme.color("tint_caution")
            )
            painter.setPen(theme.color("caution"))
            painter.setFont(theme.font(12, bold=True))
            size = f"shifted {value_text(abs(shift.size), trend.unit)} {'up' if shift.size > 0 else 'down'}"
            width = theme.metrics(12, bold=True).horizontalAdvance(size)
            at = min(left, plot.right() - width)
            painter.drawText(QPointF(max(plot.left(), at), plot.top() - theme.px(7)), size)
        if band.low is not None and band.high is not None:
            top, bottom = self._y(band.high), self._y(band.low)
            begin = plot.left()
            tint = theme.color("selection")
            for shift, _ in trend.changes:
                # Beside the shifts the band is a tint; across them only its edges go on.
                end = self._left_of(trend.charted[shift.since])
                painter.fillRect(QRectF(begin, top, max(0.0, end - begin), bottom - top), tint)
                begin = self._left_of(trend.charted[shift.until] + 1)
            painter.fillRect(QRectF(begin, top, max(0.0, plot.right() - begin), bottom - top), tint)
            painter.setPen(theme.color("hairline"))
            for y in (top, bottom):
                painter.drawLine(QPointF(plot.left(), y), QPointF(plot.right(), y))
        painter.setFont(theme.font(11))
        metrics = theme.metrics(11)
        low, high = self._range
        for value in ticks(low, high, max(4, int(plot.height() / theme.px(40)))):
            y = self._y(value)
            painter.setPen(theme.color("grid"))
            painter.drawLine(QPointF(plot.left(), y), QPointF(plot.right(), y))
            painter.setPen(theme.color("muted"))
            words = _tick_words(value, high - low)
            place = QPointF(plot.left() - theme.px(7) - metrics.horizontalAdvance(words), y + theme.px(4))
            painter.drawText(place, words)
        painter.setPen(theme.color("hairline"))
        painter.drawLine(plot.bottomLeft(), plot.bottomRight())
        painter.setPen(theme.color("muted"))
        y = plot.bottom() + theme.px(17)
        right_of_last = -1.0
        for index in _dated(
            len(trend.points), plot.width(), metrics.horizontalAdvance("2031-04-01 ") + theme.px(8)
        ):
            words = trend.points[index].date
            width = metrics.horizontalAdvance(words)
            left = min(max(self._x(index) - width / 2, 0.0), self.width() - width)
            if left >= right_of_last:
                painter.drawText(QPointF(left, y), words)
                right_of_last = left + width + theme.px(8)
        many = len(trend.points)
        words = f"{many} {trend.band.counted(many, completed=True)} in order of time"
        painter.drawText(QPointF(plot.left(), plot.bottom() + theme.px(34)), words)

    def _draw_control(self, painter: QPainter, trend: Trend) -> None:
        theme, plot, band = self._theme, self._plot(), trend.band
        painter.setFont(theme.font(11))
        metrics = theme.metrics(11)
        labels: list[tuple[float, str]] = []
        if band.centre is not None:
            y = self._y(band.centre)
            painter.setPen(QPen(theme.color("muted"), 1, Qt.PenStyle.DashLine))
            painter.drawLine(QPointF(plot.left(), y), QPointF(plot.right(), y))
            labels.append((y, "usual"))
        if band.low is not None and band.high is not None:
            decimals = decimals_for(trend.unit)
            labels += [(self._y(edge), number(edge, decimals)) for edge in (band.low, band.high)]
        average = trend.average
        if average is not None and average.values.size:
            speed = theme.color("speed")
            at = [self._x(index) for index in trend.charted]
            for limit in (average.lower, average.upper):
                painter.setPen(QPen(speed, 1, Qt.PenStyle.DotLine))
                line = [QPointF(x, self._y(y)) for x, y in zip(at, limit.tolist(), strict=True)]
                painter.drawPolyline(QPolygonF(line))
            painter.setPen(QPen(speed, 1.6))
            line = [QPointF(x, self._y(y)) for x, y in zip(at, average.values.tolist(), strict=True)]
            painter.drawPolyline(QPolygonF(line))
        painter.setPen(theme.color("muted"))
        last = float("inf")
        for y, words in sorted(labels, reverse=True):
            # Edges of a narrow band push each other apart rather than overlap.
            place = min(y + theme.px(4), last - metrics.height())
            painter.drawText(QPointF(plot.right() + theme.px(6), place), words)
            last = place

    def _draw_points(self, painter: QPainter, trend: Trend) -> None:
        """Draw all points of one look in one go: an engine may have thousands of starts."""
        theme = self._theme
        many = len(trend.points) > _MANY
        radius, half = (2.0, theme.px(3)) if many else (3.2, theme.px(5))
        plain, own = QPolygonF(), []
        triangles, left_out = QPainterPath(), QPainterPath()
        for index, point in enumerate(trend.points):
            place = self.place_of(index)
            if point.excluded is not None:
                left_out.addEllipse(place, radius, radius)
            elif point.outside:
                x, y = place.x(), place.y()
                corners = [
                    QPointF(x, y - half),
                    QPointF(x + half, y + 0.75 * half),
                    QPointF(x - half, y + 0.75 * half),
                ]
                triangles.addPolygon(QPolygonF([*corners, corners[0]]))
            else:
                plain.append(place)
            if point.sha256 == self._own:
                own.append(place)
        # Triangles in a crowd touch: each keeps its own ground.
        triangles.setFillRule(Qt.FillRule.WindingFill)
        dots = QPen(theme.color("ink"), 2 * radius)
        dots.setCapStyle(Qt.PenCapStyle.RoundCap)
        painter.setPen(dots)
        painter.drawPoints(plain)
        painter.setPen(QPen(theme.color("muted"), 1.2))
        painter.setBrush(theme.color("panel"))
        painter.drawPath(left_out)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(theme.color("caution"))
        painter.drawPath(triangles)
        painter.setPen(QPen(theme.color("ink"), 1.4))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        for place in own:
            painter.drawEllipse(place, theme.px(8), theme.px(8))

    def _draw_current(self, painter: QPainter, trend: Trend) -> None:
        if self._current is None:
            return
        theme, point = self._theme, trend.points[self._current]
        place = self.place_of(self._current)
        painter.setPen(QPen(theme.color("ink"), 1.4))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(QRectF(place.x() - 6, place.y() - 6, 12, 12))
        words = f"{point.date}  {value_text(point.value, trend.unit)}"
        metrics = theme.metrics(12, bold=True)
        width, height = metrics.horizontalAdvance(words) + theme.px(12), metrics.height() + theme.px(6)
        left = min(max(place.x() - width / 2, 0.0), self.width() - width)
        top = place.y() - height - 10 if place.y() - height - 10 > 0 else place.y() + 12
        box = QRectF(left, top, width, height)
        painter.setPen(theme.color("hairline"))
        painter.setBrush(theme.color("panel"))
        painter.drawRect(box)
        painter.setPen(theme.color("ink"))
        painter.setFont(theme.font(12, bold=True))
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, words)


def point_words(trend: Trend, point: Point) -> str:
    """Return which start a point is, with its value, and what is special about it."""
    which = f", start {point.start_number}" if point.start_number else ""
    words = (
        f"{point.date}, {point.file_name}{which}: "
        f"{measure_title(trend.measure)} {value_text(point.value, trend.unit)}"
    )
    if point.excluded is not None:
        return f"{words}. Left out of the usual band: {point.excluded}"
    return f"{words}. Outside the usual band" if point.outside else words


def axis_title(trend: Trend) -> str:
    """Return the measure with its unit."""
    unit = unit_words(trend.unit)
    return f"{measure_title(trend.measure)}, {unit}" if unit else measure_title(trend.measure)


def _y_range(trend: Trend) -> tuple[float, float]:
    values = [point.value for point in trend.points]
    values += [edge for edge in (trend.band.low, trend.band.high) if edge is not None]
    if not values:
        return 0.0, 1.0
    low, high = min(values), max(values)
    pad = 0.06 * (high - low)
    return rounded_range(low - pad, high + pad, 5)


def _tick_words(value: float, span: float) -> str:
    decimals = 0 if span >= 5 else 1 if span >= 0.5 else 2 if span >= 0.05 else 4
    return number(value, decimals)


def _dated(count: int, width: float, label: float) -> list[int]:
    """Return which points get their date: the first, the last, and as many between as there is room for."""
    parts = max(1, min(count - 1, int(width / (1.6 * label)))) if count > 1 else 0
    return sorted({round(index * (count - 1) / parts) for index in range(parts + 1)}) if parts else [0]
