"""Two starts over each other: solid and dashed traces in three panes, read out at one cursor."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import (
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPainterPath,
    QPaintEvent,
    QPen,
    QPixmap,
    QResizeEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from debrief.gui.placing import Box, Placer
from debrief.gui.scale import tick_text, value_step, value_ticks
from debrief.gui.theme import Theme
from debrief.session.envelope import Drawn
from debrief.session.start_overlay import INSTANT_WORDS, Overlay, OverlayLane, OverlayTrace, signed
from debrief.session.wording import number, unit_words, value_text

_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_CENTRE = Qt.AlignmentFlag.AlignCenter
_ROLES = {"ng": "speed", "itt": "temperature", "bus_volts": "voltage"}
_WEIGHTS = {"ng": 0.32, "itt": 0.42, "bus_volts": 0.26}
_DASHES = (5.0, 3.0)
STEP_S, LARGE_STEP_S = 0.1, 1.0


class OverlayChart(QWidget):
    """Ng, ITT and voltage of two starts on one axis of time that begins at an instant of both.

    Signals
    -------
    cursor_moved : float
        Where is read out, from the instant on, [s].
    """

    cursor_moved = Signal(float)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._overlay: Overlay | None = None
        self._cursor_s = 0.0
        self._picture: QPixmap | None = None
        self.setAccessibleName("Two starts laid over each other")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(340, 220)
        theme.changed.connect(self._changed)

    def sizeHint(self) -> QSize:
        """Return a comfortable size."""
        return QSize(640, 420)

    def show_overlay(self, overlay: Overlay | None) -> None:
        """Show two starts, or why they cannot be shown; the cursor begins at the peak of the first."""
        self._overlay = overlay
        if overlay is not None and overlay.lanes:
            peaks = [at for at, word in overlay.marks[0] if word == "peak"]
            self._cursor_s = peaks[0] if peaks else 0.0
        self._describe()
        self._changed()

    @property
    def cursor_s(self) -> float:
        """Where is read out, from the instant on, [s]."""
        return self._cursor_s

    def move_cursor(self, time_s: float) -> None:
        """Read out at another time from the instant on, [s]."""
        overlay = self._overlay
        if overlay is None or not overlay.lanes:
            return
        self._cursor_s = min(max(time_s, overlay.begin_s), overlay.end_s)
        self._describe()
        self.cursor_moved.emit(self._cursor_s)
        self.update()

    def readings(self) -> list[tuple[str, str, str, str]]:
        """Return (quantity, first, second, first minus second) at the cursor, in words."""
        if self._overlay is None:
            return []
        return [(lane.symbol, *_reading_words(lane, self._cursor_s)) for lane in self._overlay.lanes]

    def _describe(self) -> None:
        overlay = self._overlay
        if overlay is None or overlay.problem:
            self.setAccessibleDescription(overlay.problem if overlay is not None else "")
            return
        parts = [f"{_at_words(overlay, self._cursor_s)}."]
        parts += [
            f"{name}: {overlay.first.label} {one}, {overlay.second.label} {two}, difference {between}."
            for name, one, two, between in self.readings()
        ]
        self.setAccessibleDescription(" ".join(parts))

    @Slot()
    def _changed(self) -> None:
        self._picture = None
        self.update()

    # --- where things are -------------------------------------------------------------------------------

    def area(self) -> QRectF:
        """Return where the traces lie, [px]."""
        px = self._theme.px
        left, top = px(44), px(22) + 2 * px(16)
        return QRectF(
            left, top, max(self.width() - left - px(132), 40), max(self.height() - top - px(36), 60)
        )

    def panes(self) -> list[tuple[OverlayLane, QRectF]]:
        """Return each quantity with its pane, [px]."""
        overlay = self._overlay
        if overlay is None or not overlay.lanes:
            return []
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
        assert overlay is not None
        return area.left() + (time_s - overlay.begin_s) / (overlay.end_s - overlay.begin_s) * area.width()

    def _time_at(self, x: float) -> float:
        overlay, area = self._overlay, self.area()
        assert overlay is not None
        return overlay.begin_s + (x - area.left()) / area.width() * (overlay.end_s - overlay.begin_s)

    # --- events -----------------------------------------------------------------------------------------

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Read out under the mouse."""
        overlay = self._overlay
        if overlay is not None and overlay.lanes and self.area().contains(event.position()):
            self.move_cursor(self._time_at(event.position().x()))

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take the keys, and read out there."""
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        self.mouseMoveEvent(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move the cursor: arrows by a tenth of a second, with Shift by a second; Home, End."""
        overlay, key = self._overlay, event.key()
        if overlay is None or not overlay.lanes:
            super().keyPressEvent(event)
            return
        step = LARGE_STEP_S if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else STEP_S
        moves = {Qt.Key.Key_Left: -step, Qt.Key.Key_Right: step}
        ends = {Qt.Key.Key_Home: overlay.begin_s, Qt.Key.Key_End: overlay.end_s}
        if key in moves:
            # On whole steps, so that going there and back is the same reading.
            self.move_cursor(round((self._cursor_s + moves[Qt.Key(key)]) / STEP_S) * STEP_S)
        elif key in ends:
            self.move_cursor(ends[Qt.Key(key)])
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Show the focus."""
        super().focusInEvent(event)
        self.update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Show the focus."""
        super().focusOutEvent(event)
        self.update()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Draw anew."""
        super().resizeEvent(event)
        self._changed()

    # --- painting ---------------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the panes from the kept picture, then the cursor and what it reads."""
        painter = QPainter(self)
        overlay, theme = self._overlay, self._theme
        if overlay is None or overlay.problem:
            painter.setFont(theme.font(13))
            painter.setPen(theme.color("muted"))
            words = overlay.problem if overlay is not None else "Choose another start to lay over this one."
            place = QRectF(self.rect()).adjusted(20, 20, -20, -20)
            painter.drawText(place, int(_CENTRE) | int(Qt.TextFlag.TextWordWrap), words)
            return
        if self._picture is None:
            self._picture = self._painted(overlay)
        painter.drawPixmap(0, 0, self._picture)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        self._paint_cursor(painter, overlay)
        if self.hasFocus():
            painter.setPen(QPen(theme.color("ink"), 1))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.area())

    def _painted(self, overlay: Overlay) -> QPixmap:
        ratio = self.devicePixelRatioF()
        picture = QPixmap(self.size() * ratio)
        picture.setDevicePixelRatio(ratio)
        picture.fill(Qt.GlobalColor.transparent)
        painter = QPainter(picture)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        self._paint_legend(painter, overlay)
        self._paint_axis(painter, overlay)
        for lane, rect in self.panes():
            self._paint_pane(painter, lane, rect)
        self._paint_marks(painter, overlay)
        painter.end()
        return picture

    def _pen(self, second: bool, role: str = "ink") -> QPen:
        """Return the pen of one start: solid for the first, dashed for the second."""
        pen = QPen(self._theme.color(role), 1.6)
        if second:
            pen.setDashPattern(_DASHES)
            pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        return pen

    def _paint_legend(self, painter: QPainter, overlay: Overlay) -> None:
        theme, x = self._theme, 2.0
        height = theme.px(18)
        painter.setFont(theme.font(12, bold=True))
        metrics = theme.metrics(12, bold=True)
        room = (self.width() - 4) / 2 - theme.px(44)
        for side, second in ((overlay.first, False), (overlay.second, True)):
            painter.setPen(self._pen(second))
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
        step = value_step(overlay.end_s - overlay.begin_s, most)
        for value in value_ticks(overlay.begin_s, overlay.end_s, most):
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
        step = value_step(lane.range[1] - lane.range[0], most)
        height = theme.px(14)
        for value in value_ticks(*lane.range, most):
            y = _y_of(lane, rect, value)
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
        painter.save()
        painter.setClipRect(rect)
        paths = []
        for trace, second in ((lane.first, False), (lane.second, True)):
            if trace is not None:
                painter.setPen(self._pen(second, "ink" if second else _ROLES[lane.name]))
                paths.append(self._path(lane, rect, trace))
                painter.drawPath(paths[-1])
        painter.restore()
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
        painter.setPen(theme.color(_ROLES[lane.name]))
        painter.drawText(box, _LEFT, words)
        if lane.problem:
            painter.setFont(theme.font(12))
            painter.setPen(theme.color("muted"))
            place = rect.adjusted(box.width() + 14, 0, -box.width() - 14, 0)
            said = theme.metrics(12).elidedText(lane.problem, Qt.TextElideMode.ElideRight, place.width())
            painter.drawText(place, _CENTRE, said)

    def _path(self, lane: OverlayLane, rect: QRectF, trace: OverlayTrace) -> QPainterPath:
        overlay = self._overlay
        assert overlay is not None
        drawn: Drawn = trace.envelope.view(overlay.begin_s, overlay.end_s, int(rect.width()))
        path = QPainterPath()
        joined = False
        for index in range(drawn.time_s.size):
            point = QPointF(
                self.x_of(float(drawn.time_s[index])), _y_of(lane, rect, float(drawn.values[index]))
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
            placer = Placer(Box(area.left() - 2, top - 1, self.width() - area.left(), row + 2))
            painter.setPen(self._pen(index == 1))
            painter.drawLine(
                QLineF(area.left() - theme.px(30), top + row / 2, area.left() - 6, top + row / 2)
            )
            self._paint_mark_row(painter, marks, placer, top, index == 1)

    def _paint_mark_row(
        self,
        painter: QPainter,
        marks: Sequence[tuple[float, str]],
        placer: Placer,
        top: float,
        second: bool,
    ) -> None:
        theme, row = self._theme, self._theme.px(16)
        metrics = theme.metrics(11)
        for at, _ in marks:
            placer.reserve(Box(self.x_of(at) - 3, top + 3, 6, row - 6))
        for at, word in marks:
            x, y = self.x_of(at), top + row / 2
            painter.setPen(QPen(theme.color("ink"), 1.2))
            painter.setBrush(theme.color("panel") if second else theme.color("ink"))
            painter.drawEllipse(QPointF(x, y), 3, 3)
            width = metrics.horizontalAdvance(word) + 2
            box = placer.place([Box(x + 5, top, width, row), Box(x - 5 - width, top, width, row)])
            if box is not None:
                painter.setPen(theme.color("ink"))
                painter.drawText(QRectF(box.left, box.top, box.width, box.height), _LEFT, word)

    def _paint_cursor(self, painter: QPainter, overlay: Overlay) -> None:
        theme, area = self._theme, self.area()
        x = self.x_of(self._cursor_s)
        painter.setPen(QPen(theme.color("ink"), 1))
        painter.drawLine(QLineF(x, area.top(), x, area.bottom()))
        left = area.right() + theme.px(10)
        painter.setFont(theme.font(12, bold=True))
        at = QRectF(left, theme.px(20), self.width() - left, theme.px(30))
        painter.drawText(at, int(_LEFT) | int(Qt.TextFlag.TextWordWrap), _at_words(overlay, self._cursor_s))
        for lane, rect in self.panes():
            for trace, second in ((lane.first, False), (lane.second, True)):
                value = trace.value_at(self._cursor_s) if trace is not None else None
                if value is not None:
                    role = "ink" if second else _ROLES[lane.name]
                    painter.setPen(QPen(theme.color(role), 1.5))
                    painter.setBrush(theme.color("panel") if second else theme.color(role))
                    painter.drawEllipse(QPointF(x, _y_of(lane, rect, value)), 3.5, 3.5)
            self._paint_readings(painter, lane, rect, left)

    def _paint_readings(self, painter: QPainter, lane: OverlayLane, rect: QRectF, left: float) -> None:
        theme = self._theme
        line = min(theme.px(17), rect.height() / 3)
        words = _reading_words(lane, self._cursor_s)
        top = rect.top() + max(0.0, (rect.height() - 3 * line) / 2)
        sample = theme.px(22)
        for index, text in enumerate(words):
            y = top + index * line
            painter.setFont(theme.font(12, bold=index == 2))
            if index < 2:
                painter.setPen(self._pen(index == 1, "ink" if index else _ROLES[lane.name]))
                painter.drawLine(QLineF(left, y + line / 2, left + sample, y + line / 2))
            painter.setPen(theme.color("ink"))
            if index == 2:
                painter.drawText(QRectF(left, y, sample, line), _CENTRE, "\N{INCREMENT}")
            painter.drawText(
                QRectF(left + sample + 6, y, self.width() - left - sample - 8, line), _LEFT, text
            )


def _runs_through(path: QPainterPath, box: QRectF) -> int:
    """Return how many of a trace's lines come into a box."""
    hits = 0
    for index in range(1, path.elementCount()):
        element, before = path.elementAt(index), path.elementAt(index - 1)
        if element.isLineTo():
            line = QRectF(QPointF(before.x, before.y), QPointF(element.x, element.y)).normalized()
            hits += line.adjusted(-1, -1, 1, 1).intersects(box)
    return hits


def _y_of(lane: OverlayLane, rect: QRectF, value: float) -> float:
    low, high = lane.range
    return rect.bottom() - (value - low) / (high - low) * rect.height()


def _at_words(overlay: Overlay, time_s: float) -> str:
    words = INSTANT_WORDS[overlay.instant]
    if abs(time_s) < 0.05:
        return f"At {words}"
    way = "after" if time_s > 0 else "before"
    return f"{number(abs(time_s), 1)} s {way} {words}"


def _reading_words(lane: OverlayLane, time_s: float) -> tuple[str, str, str]:
    first, second, between = lane.reading(time_s)
    return (
        value_text(first, lane.unit),
        value_text(second, lane.unit),
        signed(between, lane.unit),
    )
