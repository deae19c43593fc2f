"""Two starts over each other: solid and dashed traces in three panes, read out at one cursor."""

from __future__ import annotations

from PySide6.QtCore import QLineF, QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import (
    QFocusEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
    QResizeEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from debrief.gui.background.guarded import guarded, painted
from debrief.gui.starts.overlay_picture import ROLES, OverlayPicture, y_of
from debrief.gui.style.theme import Theme
from debrief.session.charts.start_overlay import INSTANT_WORDS, Overlay, OverlayLane, signed
from debrief.words.numbers import number, value_text

_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_CENTRE = Qt.AlignmentFlag.AlignCenter
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
        self._laid_out: OverlayPicture | None = None
        self.setAccessibleName("Two starts laid over each other")
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(340, 220)
        theme.changed.connect(self._changed)

    @guarded(QSize())
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
        self._picture = self._laid_out = None
        self.update()

    # --- where things are -------------------------------------------------------------------------------

    def area(self) -> QRectF:
        """Return where the traces lie, [px]; empty without any."""
        place = self._place()
        return place.area() if place is not None else QRectF()

    def _place(self) -> OverlayPicture | None:
        """Return where everything lies now; None while there is nothing to lay over."""
        overlay = self._overlay
        if overlay is None or not overlay.lanes:
            return None
        if self._laid_out is None:
            self._laid_out = OverlayPicture(overlay, self._theme, self.size())
        return self._laid_out

    # --- events -----------------------------------------------------------------------------------------

    @guarded()
    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Read out under the mouse."""
        place = self._place()
        if place is not None and place.area().contains(event.position()):
            self.move_cursor(place.time_at(event.position().x()))

    @guarded()
    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take the keys, and read out there."""
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        self.mouseMoveEvent(event)

    @guarded()
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

    @guarded()
    def focusInEvent(self, event: QFocusEvent) -> None:
        """Show the focus."""
        super().focusInEvent(event)
        self.update()

    @guarded()
    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Show the focus."""
        super().focusOutEvent(event)
        self.update()

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Draw anew."""
        super().resizeEvent(event)
        self._changed()

    # --- painting ---------------------------------------------------------------------------------------

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the panes from the kept picture, then the cursor and what it reads."""
        overlay, theme = self._overlay, self._theme
        if overlay is None or overlay.problem:
            painter.setFont(theme.font(13))
            painter.setPen(theme.color("muted"))
            words = overlay.problem if overlay is not None else "Choose another start to lay over this one."
            middle = QRectF(self.rect()).adjusted(20, 20, -20, -20)
            painter.drawText(middle, int(_CENTRE) | int(Qt.TextFlag.TextWordWrap), words)
            return
        place = self._place()
        if place is None:
            return
        if self._picture is None:
            self._picture = place.painted(self.devicePixelRatioF())
        painter.drawPixmap(0, 0, self._picture)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        self._paint_cursor(painter, overlay, place)
        if self.hasFocus():
            painter.setPen(QPen(theme.color("ink"), 1))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(self.area())

    def _paint_cursor(self, painter: QPainter, overlay: Overlay, place: OverlayPicture) -> None:
        theme, area = self._theme, place.area()
        x = place.x_of(self._cursor_s)
        painter.setPen(QPen(theme.color("ink"), 1))
        painter.drawLine(QLineF(x, area.top(), x, area.bottom()))
        left = area.right() + theme.px(10)
        painter.setFont(theme.font(12, bold=True))
        at = QRectF(left, theme.px(20), self.width() - left, theme.px(30))
        painter.drawText(at, int(_LEFT) | int(Qt.TextFlag.TextWordWrap), _at_words(overlay, self._cursor_s))
        for lane, rect in place.panes():
            for trace, second in ((lane.first, False), (lane.second, True)):
                value = trace.value_at(self._cursor_s) if trace is not None else None
                if value is not None:
                    role = "ink" if second else ROLES[lane.name]
                    painter.setPen(QPen(theme.color(role), 1.5))
                    painter.setBrush(theme.color("panel") if second else theme.color(role))
                    painter.drawEllipse(QPointF(x, y_of(lane, rect, value)), 3.5, 3.5)
            self._paint_readings(painter, lane, rect, left, place)

    def _paint_readings(
        self, painter: QPainter, lane: OverlayLane, rect: QRectF, left: float, place: OverlayPicture
    ) -> None:
        theme = self._theme
        line = min(theme.px(17), rect.height() / 3)
        words = _reading_words(lane, self._cursor_s)
        top = rect.top() + max(0.0, (rect.height() - 3 * line) / 2)
        sample = theme.px(22)
        for index, text in enumerate(words):
            y = top + index * line
            painter.setFont(theme.font(12, bold=index == 2))
            if index < 2:
                painter.setPen(place.pen(index == 1, "ink" if index else ROLES[lane.name]))
                painter.drawLine(QLineF(left, y + line / 2, left + sample, y + line / 2))
            painter.setPen(theme.color("ink"))
            if index == 2:
                painter.drawText(QRectF(left, y, sample, line), _CENTRE, "\N{INCREMENT}")
            painter.drawText(
                QRectF(left + sample + 6, y, self.width() - left - sample - 8, line), _LEFT, text
            )


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
