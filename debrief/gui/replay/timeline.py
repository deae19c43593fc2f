"""The timeline: the whole recording in small, the framed part as a window, the findings, the playhead."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QEvent, QLineF, QPointF, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import (
    QContextMenuEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
    QPolygonF,
    QResizeEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from debrief.gui.background.guarded import guarded, painted, picture_of
from debrief.gui.plain_text import plain_tip
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.shapes import draw_pin, draw_shape
from debrief.gui.style.theme import MARGIN, Theme
from debrief.gui.widgets.spoken import value_changed
from debrief.gui.widgets.tables import RIGHT
from debrief.session.drawing.axes import shares_of
from debrief.words.colours import TINT_ROLE
from debrief.words.numbers import clock_text

_GRIP = 6.0
_MARKS = 16


class Timeline(QWidget):
    """Drag the framed window or its edges, click to move the playhead, a mark to go to a finding.

    Signals
    -------
    menu_wanted : QPoint, int or None, float
        Where on the screen a menu is asked for, of which row of the story, and the time there, [s].
    """

    menu_wanted = Signal(object, object, float)

    def __init__(self, replay: Replay, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self._picture: QPixmap | None = None
        self._drag: str | None = None
        self._drag_from = 0.0
        self._drag_range = (0.0, 0.0)
        self._head_x = -1.0
        self._hover_x: float | None = None
        self.setFocusPolicy(Qt.FocusPolicy.TabFocus)
        self.setObjectName("timeline")
        self.setAccessibleName("Timeline of the whole recording")
        self.setMouseTracking(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Maximum)
        replay.session_changed.connect(self._content_changed)
        replay.frame_changed.connect(self._frame_changed)
        replay.selection_changed.connect(self.update)
        replay.pins_changed.connect(self._content_changed)
        replay.position_changed.connect(self._position_changed)
        theme.changed.connect(self._content_changed)

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return a low strip."""
        return QSize(600, self._theme.px(66))

    @guarded(QSize())
    def minimumSizeHint(self) -> QSize:
        """Return a strip that is lower still: it gives way before anything leaves the window."""
        return QSize(200, self._theme.px(34))

    def area(self) -> QRectF:
        """Return where the trace lies, [px]."""
        left = self._theme.px(MARGIN)
        top = self._theme.px(_MARKS)
        return QRectF(left, top, self.width() - left - self._theme.px(16), self.height() - top - 4)

    def x_of(self, time_s: float) -> float:
        """Return the pixel of a time."""
        session = self._replay.session
        area = self.area()
        duration = session.framing.duration_s if session is not None else 1.0
        return area.left() + time_s / duration * area.width()

    def time_of(self, x: float) -> float:
        """Return the time at a pixel, [s], within the recording."""
        session = self._replay.session
        area = self.area()
        duration = session.framing.duration_s if session is not None else 1.0
        return min(max((x - area.left()) / max(area.width(), 1.0), 0.0), 1.0) * duration

    @Slot()
    def _content_changed(self) -> None:
        self._picture = None
        self._speak(self._replay.position_s)
        self.update()

    @Slot()
    def _frame_changed(self) -> None:
        self.update()

    @Slot(float)
    def _position_changed(self, time_s: float) -> None:
        self._speak(time_s)
        x = self.x_of(time_s)
        if abs(x - self._head_x) < 0.2:
            return
        for place in (self._head_x, x):
            self.update(int(place) - 8, 0, 17, self.height())

    def _speak(self, time_s: float) -> None:
        """Tell where the playhead stands, as a slider tells its value."""
        session = self._replay.session
        whole = "" if session is None else f" of {clock_text(session.playback.duration_s)}"
        said = "" if session is None else f"Playhead at {clock_text(time_s)}{whole}"
        if said != self.accessibleDescription():
            self.setAccessibleDescription(said)
            value_changed(self, time_s)

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Draw the trace anew."""
        super().resizeEvent(event)
        self._picture = None

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the trace from its picture, then what moves."""
        session = self._replay.session
        if session is None:
            return
        theme, area = self._theme, self.area()
        framing = session.framing
        left, right = self.x_of(framing.begin_s), self.x_of(framing.end_s)
        painter.fillRect(area, theme.color("ground"))
        window = QRectF(left, area.top(), max(right - left, 3.0), area.height())
        painter.fillRect(window, theme.color("selection"))
        if self._picture is None:
            self._picture = self._draw_picture()
        painter.drawPixmap(0, 0, self._picture)
        painter.setPen(QPen(theme.color("muted"), 1))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(window)
        loop = session.playback.loop
        if loop is not None:
            painter.setPen(QPen(theme.color("ink"), 2))
            y = area.bottom() + 1.5
            painter.drawLine(QLineF(self.x_of(loop[0]), y, self.x_of(loop[1]), y))
        x = self.x_of(self._replay.position_s)
        # What is drawn now is what the next move has to wipe out, also after a change of size.
        self._head_x = x
        painter.setPen(QPen(theme.color("ink"), 1))
        painter.drawLine(QLineF(x, area.top() - 3, x, area.bottom()))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setBrush(theme.color("ink"))
        painter.setPen(Qt.PenStyle.NoPen)
        bottom = area.bottom() + 4
        painter.drawPolygon(
            QPolygonF([QPointF(x - 5, bottom), QPointF(x + 5, bottom), QPointF(x, bottom - 7)])
        )
        self._paint_hover(painter)
        if self.hasFocus():
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.setPen(QPen(theme.color("ink"), 2))
            painter.drawRect(area.adjusted(-3, -3, 3, 2))

    def _paint_hover(self, painter: QPainter) -> None:
        """Draw a line under the mouse, with its time beside it."""
        x = self._hover_x
        if x is None:
            return
        theme, area = self._theme, self.area()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        painter.setPen(QPen(theme.color("muted"), 1))
        painter.drawLine(QLineF(x, area.top(), x, area.bottom()))
        words = self._replay.clock.text(self.time_of(x))
        width = theme.metrics(12).horizontalAdvance(words) + 8
        left = x + 3 if x + 3 + width <= area.right() else x - 3 - width
        box = QRectF(left, area.top() + 1, width, theme.px(17))
        painter.fillRect(box, theme.color("panel"))
        theme.write(painter, box, words, 12)

    def _draw_picture(self) -> QPixmap:
        """Return trace, tints and marks of the whole recording as a picture."""
        ratio = self.devicePixelRatioF()
        session = self._replay.session
        assert session is not None
        theme, area = self._theme, self.area()
        with picture_of(self.size(), ratio) as (picture, painter):
            self._draw_spans(painter, area)
            lanes = {lane.plan.name: lane for lane in session.prepared.lanes if lane.envelope is not None}
            lane = lanes.get("itt") or next(iter(lanes.values()), None)
            if lane is not None and lane.envelope is not None:
                plan = lane.plan
                drawn = lane.envelope.view(0.0, session.framing.duration_s, int(area.width()))
                x = area.left() + shares_of(drawn.time_s, 0.0, session.framing.duration_s) * area.width()
                y = area.bottom() - 3 - shares_of(drawn.values, plan.low, plan.high) * (area.height() - 6)
                painter.setPen(QPen(theme.color(plan.role), 1))
                painter.drawPath(pg.arrayToQPath(x, y, drawn.connect.astype(np.int32), finiteCheck=False))
                beside = QRectF(0, area.top(), area.left() - 8, area.height())
                theme.write(
                    painter, beside, session.names.symbol(plan.name), 12, plan.role, bold=True, flags=RIGHT
                )
            painter.setPen(theme.color("hairline"))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawRect(area)
            self._draw_marks(painter)
        return picture

    def _draw_spans(self, painter: QPainter, area: QRectF) -> None:
        session = self._replay.session
        assert session is not None
        scale = area.width() / session.framing.duration_s
        last: dict[str, float] = {}
        for span in session.prepared.spans:
            role = TINT_ROLE[span.severity]
            left = area.left() + span.begin_s * scale
            right = max(area.left() + span.end_s * scale, left + 1.5)
            # Of hundreds of stretches between which no pixel lies each pixel is filled once.
            if span.end_s > span.begin_s and right > last.get(role, -1.0) + 0.5:
                painter.fillRect(
                    QRectF(left, area.top(), right - left, area.height()), self._theme.color(role)
                )
                last[role] = right

    def _draw_marks(self, painter: QPainter) -> None:
        session = self._replay.session
        assert session is not None
        order = {"circle": 0, "triangle": 1, "hollow_diamond": 2, "diamond": 3}
        findings = [s for s in session.story if s.is_finding]
        near, y, size = self._theme.px(10), self._theme.px(7), self._theme.px(5)
        for pin in self._replay.pins:
            x = self.x_of(pin.time_s)
            # Beside a finding that it is pinned to, neither hides the other.
            beside = any(abs(self.x_of(step.time_s) - x) < near for step in findings)
            draw_pin(painter, x + near if beside else x, y, size, self._theme)
        for step in sorted(findings, key=lambda s: order.get(s.shape, 0)):
            draw_shape(
                painter, step.shape, self.x_of(step.time_s), self._theme.px(7), self._theme.px(5), self._theme
            )

    def _mark_at(self, point: QPointF) -> int | None:
        session = self._replay.session
        if session is None or point.y() > self.area().top():
            return None
        near = [
            (abs(self.x_of(step.time_s) - point.x()), index)
            for index, step in enumerate(session.story)
            if step.is_finding
        ]
        near = [pair for pair in near if pair[0] <= 8]
        return min(near)[1] if near else None

    def _zone(self, point: QPointF) -> str:
        """Return what a press here would do."""
        session = self._replay.session
        if session is None:
            return "none"
        framing = session.framing
        left, right = self.x_of(framing.begin_s), self.x_of(framing.end_s)
        x = point.x()
        if abs(x - self.x_of(self._replay.position_s)) <= 5 and point.y() > self.area().bottom() - 8:
            return "scrub"
        if not framing.shows_all:
            if abs(x - left) <= _GRIP:
                return "begin"
            if abs(x - right) <= _GRIP:
                return "end"
            if left < x < right:
                return "window"
        return "scrub"

    @guarded()
    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of a mark, an edge, the window or the playhead."""
        session = self._replay.session
        if session is None or event.button() != Qt.MouseButton.LeftButton:
            return
        point = event.position()
        mark = self._mark_at(point)
        if mark is not None:
            self._replay.choose(mark)
            return
        self._hover(None)
        self._drag = self._zone(point)
        self._drag_from = point.x()
        self._drag_range = (session.framing.begin_s, session.framing.end_s)
        if self._drag == "scrub":
            self._replay.seek(self.time_of(point.x()))
        else:
            self._replay.remember_frame()

    @guarded()
    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Go on with the drag, or show what would be taken."""
        session = self._replay.session
        if session is None:
            return
        point = event.position()
        if self._drag is None:
            zone = self._zone(point)
            shape = {"begin": Qt.CursorShape.SizeHorCursor, "end": Qt.CursorShape.SizeHorCursor,
                     "window": Qt.CursorShape.OpenHandCursor}.get(zone, Qt.CursorShape.ArrowCursor)  # fmt: skip
            if self._mark_at(point) is not None:
                shape = Qt.CursorShape.PointingHandCursor
            self.setCursor(shape)
            self.setToolTip(plain_tip(self._words_at(point)))
            self._hover(point.x())
            return
        moved = self.time_of(point.x()) - self.time_of(self._drag_from)
        begin, end = self._drag_range
        if self._drag == "scrub":
            self._replay.seek(self.time_of(point.x()))
        elif self._drag == "window":
            self._replay.set_frame(begin + moved, end + moved)
        elif self._drag == "begin":
            self._replay.set_frame(min(begin + moved, end - 0.5), end)
        elif self._drag == "end":
            self._replay.set_frame(begin, max(end + moved, begin + 0.5))

    def _words_at(self, point: QPointF) -> str:
        session = self._replay.session
        index = self._mark_at(point)
        if session is None:
            return ""
        if index is not None:
            return session.story[index].spoken(session.clock)
        pinned = [
            f"{pin.word}: {pin.text}"
            for pin in self._replay.pins
            if abs(self.x_of(pin.time_s) - point.x()) <= 8
        ]
        if pinned and point.y() <= self.area().top():
            return "\n".join(pinned)
        return ""

    def _hover(self, x: float | None) -> None:
        """Show the time under the mouse; none where it is beside the line, or drags something."""
        area = self.area()
        inside = x is not None and area.left() <= x <= area.right()
        if (x if inside else None) != self._hover_x:
            self._hover_x = x if inside else None
            self.update()

    @guarded()
    def leaveEvent(self, event: QEvent) -> None:
        """Take the time under the mouse away."""
        self._hover(None)
        super().leaveEvent(event)

    @guarded()
    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Ask for the menu of the mark or the time under the mouse, or by the keys of the playhead."""
        session = self._replay.session
        if session is None:
            return
        if event.reason() == QContextMenuEvent.Reason.Keyboard:
            time_s = self._replay.position_s
            place = QPointF(self.x_of(time_s), self.area().center().y()).toPoint()
            row = session.step_in_play
            at_row = row is not None and abs(session.story[row].time_s - time_s) < 1e-6
            self.menu_wanted.emit(self.mapToGlobal(place), row if at_row else None, time_s)
            return
        point = QPointF(event.pos())
        self.menu_wanted.emit(event.globalPos(), self._mark_at(point), self.time_of(point.x()))

    @guarded()
    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """End the drag; a click into the window that did not move it sets the playhead."""
        if self._drag == "window" and abs(event.position().x() - self._drag_from) < 3:
            self._replay.seek(self.time_of(event.position().x()))
        self._drag = None
