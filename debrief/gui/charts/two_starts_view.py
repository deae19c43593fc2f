"""Two starts over each other: solid and dashed traces in three panes, read out at one cursor."""

from __future__ import annotations

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPen
from PySide6.QtWidgets import QWidget

from debrief.gui.background.guarded import guarded
from debrief.gui.charts.chart_view import ChartView
from debrief.gui.charts.painted_chart import CENTRE, LEFT
from debrief.gui.style.theme import Theme
from debrief.session.charts.start_overlay import (
    TWO_STARTS,
    Overlay,
    OverlayLane,
    moment_words,
    overlay_chart,
    reading_words,
)
from debrief.session.charts.still_chart import StillChart, nothing

STEP_S, LARGE_STEP_S = 0.1, 1.0
_READINGS_PX = 132


class TwoStartsView(ChartView):
    """Ng, ITT and voltage of two starts on one axis of time that begins at an instant of both.

    Signals
    -------
    cursor_moved : float
        Where is read out, from the instant on, [s].
    """

    cursor_moved = Signal(float)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, TWO_STARTS, parent)
        self._overlay: Overlay | None = None
        self._cursor_s = 0.0
        self.setMinimumWidth(340)

    @property
    def overlay(self) -> Overlay | None:
        """What is laid over each other."""
        return self._overlay

    @property
    def cursor_s(self) -> float:
        """Where is read out, from the instant on, [s]."""
        return self._cursor_s

    def show_overlay(self, overlay: Overlay | None) -> None:
        """Show two starts, or why they cannot be shown; the cursor begins at the peak of the first."""
        self._overlay = overlay
        if overlay is not None and overlay.lanes:
            peaks = [at for at, word in overlay.marks[0] if word == "peak"]
            self._cursor_s = peaks[0] if peaks else 0.0
        nobody = "Choose another start to lay over this one."
        self.show_chart(nothing(TWO_STARTS, nobody) if overlay is None else overlay_chart(overlay))
        self._describe()

    def move_cursor(self, time_s: float) -> None:
        """Read out at another time from the instant on, [s]."""
        overlay = self._overlay
        if overlay is not None and overlay.lanes:
            self._cursor_s = min(max(time_s, overlay.begin_s), overlay.end_s)
            self._describe()
            self.cursor_moved.emit(self._cursor_s)
            self.viewport().update()

    def readings(self) -> list[tuple[str, str, str, str]]:
        """Return (quantity, first, second, first minus second) at the cursor, in words."""
        lanes = self._overlay.lanes if self._overlay is not None else ()
        return [(lane.symbol, *reading_words(lane, self._cursor_s)) for lane in lanes]

    def _describe(self) -> None:
        overlay = self._overlay
        if overlay is not None and not overlay.problem:
            parts = [f"{moment_words(overlay, self._cursor_s)}."]
            parts += [
                f"{name}: {overlay.first.name} {one}, {overlay.second.name} {two}, difference {between}."
                for name, one, two, between in self.readings()
            ]
            self.setAccessibleDescription(" ".join(parts))

    def right_margin(self, chart: StillChart) -> float:
        """Return the room for what is read out, [px]."""
        return float(self._theme.px(_READINGS_PX))

    def point_at(self, at: QPointF) -> None:
        """Move the cursor under the pointer."""
        area = self.area()
        if area.left() <= at.x() <= area.right():
            self.move_cursor(self.x_at(at.x()))

    @guarded()
    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take the keys, and read out there."""
        super().mousePressEvent(event)
        self.point_at(event.position())

    @guarded()
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Move the cursor: arrows by a tenth of a second, with Shift by a second; Home, End."""
        overlay, key = self._overlay, Qt.Key(event.key())
        step = LARGE_STEP_S if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else STEP_S
        moves = {Qt.Key.Key_Left: -step, Qt.Key.Key_Right: step}
        if overlay is not None and overlay.lanes and key in moves:
            # On whole steps, so that going there and back is the same reading.
            self.move_cursor(round((self._cursor_s + moves[key]) / STEP_S) * STEP_S)
        elif overlay is not None and overlay.lanes and key in (Qt.Key.Key_Home, Qt.Key.Key_End):
            self.move_cursor(overlay.begin_s if key == Qt.Key.Key_Home else overlay.end_s)
        else:
            super().keyPressEvent(event)

    def paint_reading(self, painter: QPainter, chart: StillChart) -> None:
        """Draw the cursor through all panes, and beside each what is read out there."""
        overlay, theme, px = self._overlay, self._theme, self._theme.px
        if overlay is None or not chart.panes:
            return
        whole = self.area().united(self.area(len(chart.panes) - 1))
        x = self.at(self._cursor_s, chart.panes[0].y.range[0]).x()
        is_shown = whole.left() - 1 <= x <= whole.right() + 1
        if is_shown:
            painter.setPen(QPen(theme.color("ink"), 1))
            painter.drawLine(QLineF(x, whole.top(), x, whole.bottom()))
        left = whole.right() + px(10)
        painter.setFont(theme.font(12, bold=True))
        painter.setPen(theme.color("ink"))
        room = QRectF(left, whole.top() - px(34), self.width() - left, px(32))
        words = moment_words(overlay, self._cursor_s)
        painter.drawText(room, int(LEFT) | int(Qt.TextFlag.TextWordWrap), words)
        for number, (lane, pane) in enumerate(zip(overlay.lanes, chart.panes, strict=True)):
            first, second, _ = lane.reading(self._cursor_s)
            for value, role, ground in ((first, pane.role, pane.role), (second, "ink", "panel")):
                if value is not None and is_shown:
                    painter.setPen(QPen(theme.color(role), 1.5))
                    painter.setBrush(theme.color(ground))
                    painter.drawEllipse(self.at(self._cursor_s, value, number), 3.5, 3.5)
            self._paint_values(painter, lane, pane.role, self.area(number), left)

    def _paint_values(
        self, painter: QPainter, lane: OverlayLane, role: str, area: QRectF, left: float
    ) -> None:
        line = float(self._theme.px(17))
        # In a low pane the difference alone, or both values: never one on another.
        rows = {0: (), 1: (2,), 2: (0, 1)}.get(int((area.height() + line / 3) // line), (0, 1, 2))
        top = area.center().y() - len(rows) * line / 2
        sample = self._theme.px(22)
        texts = reading_words(lane, self._cursor_s)
        for place, row in enumerate(rows):
            text = texts[row]
            y = top + place * line
            if row < 2:
                painter.setPen(self.pen("ink" if row else role, "dashed" if row else "solid", 1.6))
                painter.drawLine(QLineF(left, y + line / 2, left + sample, y + line / 2))
            else:
                self.write(painter, QRectF(left, y, sample, line), CENTRE, "\N{INCREMENT}", 12, "ink", True)
            box = QRectF(left + sample + 6, y, self.width() - left - sample - 8, line)
            self.write(painter, box, LEFT, text, 12, "ink", bold=row == 2)
