"""The lanes: stacked traces over one time axis, with limits, events and the playhead."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPoint, QPointF, QRectF, Qt, Slot
from PySide6.QtGui import (
    QContextMenuEvent,
    QFocusEvent,
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QWidget

from debrief.gui.background.guarded import guarded, painted
from debrief.gui.lanes.lane_tips import tip_at
from debrief.gui.lanes.overlay_paint import paint_drop
from debrief.gui.lanes.shown_lanes import ShownLanes
from debrief.gui.plain_text import plain_tip
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme


class LanesView(ShownLanes):
    """Traces of the recording; click or drag moves the playhead, the wheel zooms."""

    def __init__(self, replay: Replay, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(replay, theme, parent)
        self._gestures.lane_menu_wanted.connect(self._offer_menu)
        self.setMouseTracking(True)

    # --- painting ---------------------------------------------------------------------------------

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Copy the still picture and draw the playhead over it.

        Traces, grid and words are painted once for each range; while playing only a strip of that
        picture is copied, so that no curve is drawn for a moving line.
        """
        before = self._picture.before(self.size(), self.devicePixelRatioF())
        waits = self._replay.turns.waits(self._show_picture)
        if before is not None and waits and event.rect() != self.rect():
            # A part that something lay over: it is painted with the rest when the new picture is there.
            painter.setClipRegion(event.region())
            painter.drawPixmap(0, 0, before)
            return
        picture = self._take_picture()
        wordless = self._picture.without_words(self.size(), self.devicePixelRatioF())
        painter.setClipRegion(event.region())
        painter.drawPixmap(0, 0, picture)
        ratio = wordless.devicePixelRatio()
        for place in self.readout.hidden_words:
            whole = QRectF(place.toAlignedRect())
            pixels = QRectF(whole.topLeft() * ratio, whole.size() * ratio)
            painter.drawPixmap(whole, wordless, pixels)
        self.readout.paint(painter)
        chosen = self.chosen_lane
        if self.hasFocus() and (chosen is not None or self._is_reached):
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
            painter.setPen(QPen(self._theme.color("ink"), 2))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            whole = QRectF(self.rect()).adjusted(1, 1, -1, -1)
            painter.drawRect(chosen.rect if chosen is not None else whole)
        drop = self._gestures.drop_y
        if drop is not None:
            paint_drop(painter, self._content, self._theme, drop)

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Arrange the lanes anew."""
        super().resizeEvent(event)
        if self._content.presenting:
            self._lanes_changed()
        else:
            self._arrange()

    @guarded()
    def focusInEvent(self, event: QFocusEvent) -> None:
        """Show the chosen lane; all of them where a key has led here, not where the page gives them the keys."""
        super().focusInEvent(event)
        self._is_reached = event.reason() in (
            Qt.FocusReason.TabFocusReason,
            Qt.FocusReason.BacktabFocusReason,
            Qt.FocusReason.ShortcutFocusReason,
        )
        self.update()

    @guarded()
    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Show no chosen lane."""
        super().focusOutEvent(event)
        self.update()

    # --- mouse and keys ---------------------------------------------------------------------------

    @guarded()
    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Scrub with the left button, take a title or a border; pan with the others."""
        self.readout.hover(None)
        shape = self._gestures.press(event)
        if shape is not None:
            self.setCursor(shape)
        event.accept()

    @guarded()
    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Go on with the drag, or show the values under the mouse."""
        if self._gestures.dragging:
            self._gestures.move(event.position())
        else:
            self.setCursor(self._gestures.cursor_at(event.position()))
            self.readout.hover(event.position().x())
        event.accept()

    @guarded()
    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """End the drag."""
        self._gestures.release(event)
        self.setCursor(self._gestures.cursor_at(event.position()))
        event.accept()

    @guarded()
    def leaveEvent(self, event: QEvent) -> None:
        """End the read-out under the mouse."""
        self.readout.hover(None)
        super().leaveEvent(event)

    @guarded(False)
    def event(self, event: QEvent) -> bool:
        """Say under the mouse what has no room, and what a line or a shade is."""
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            self.setToolTip(plain_tip(tip_at(self._content, QPointF(event.pos()))))
        return super().event(event)

    @guarded()
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Choose and change lanes."""
        if not self._gestures.key(event):
            super().keyPressEvent(event)

    @guarded()
    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Offer the menu of the chosen lane; a click of the mouse is seen when it is let go."""
        if event.reason() == QContextMenuEvent.Reason.Keyboard:
            lane = self.chosen_lane
            place = lane.rect.topLeft() + QPointF(20, 24) if lane is not None else QPointF(60, 60)
            self.menu_wanted.emit(self.mapToGlobal(place.toPoint()), self._content.chosen)
        event.accept()

    @Slot(object)
    def _offer_menu(self, point: QPointF) -> None:
        self.menu_wanted.emit(self.mapToGlobal(point.toPoint()), self._gestures.lane_at(point))

    @guarded()
    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Frame the part of the ribbon, or choose the finding, that was double-clicked."""
        point = event.position()
        session = self._replay.session
        event.accept()
        if session is None:
            return
        time_s = self._content.time_of(point.x())
        if self._gestures.in_ribbon(point):
            for part in self._content.ribbon:
                if part.begin_s <= time_s <= part.end_s:
                    self._replay.frame(part.begin_s, part.end_s)
                    return
            return
        index = session.finding_at(time_s, self._gestures.lane_at(point))
        if index is not None:
            self._replay.choose(index)

    @guarded()
    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom about the mouse; with Shift, or sideways, pan."""
        session = self._replay.session
        if session is None:
            return
        delta: QPoint = event.angleDelta()
        shifted = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if shifted or abs(delta.x()) > abs(delta.y()):
            steps = (delta.x() or delta.y()) / 120
            self._replay.pan(-steps * 0.1 * session.framing.span_s)
        elif delta.y():
            self._replay.zoom(0.8 ** (delta.y() / 120), self._gestures.time_at(event.position()))
        event.accept()
