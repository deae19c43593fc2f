"""The lanes: stacked traces over one time axis, with limits, events and the playhead."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPoint, QPointF, QRect, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QMouseEvent, QPainter, QPaintEvent, QPixmap, QRegion, QResizeEvent, QWheelEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from debrief.gui.lane import Lane
from debrief.gui.lane_layers import Backdrop, Labels, Scene, measure_box
from debrief.gui.lane_moving import (
    Tag,
    make_tag,
    paint_hover,
    paint_mark,
    paint_measures,
    paint_playhead,
    paint_tag,
    playhead_bounds,
)
from debrief.gui.replay import Replay
from debrief.gui.theme import Theme
from debrief.session.readings import Instrument
from debrief.session.wording import decimals_for, number

_GAP = 8
_SLIM = 26


class LanesView(QWidget):
    """Traces of the recording; click or drag moves the playhead, the wheel zooms.

    Signals
    -------
    reduced_changed : bool
        Whether the picture leaves out samples (never an extreme) at this zoom.
    menu_wanted : QPoint, str or None
        A click with another button: where, and on which lane.
    """

    reduced_changed = Signal(bool)
    menu_wanted = Signal(object, object)

    def __init__(self, replay: Replay, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self._content = Scene()
        self._tags: list[Tag] = []
        self._head_x: float | None = None
        self._hover_x: float | None = None
        self._hover_tags: list[Tag] = []
        self._measures: list[tuple[QRectF, str]] = []
        self._picture: QPixmap | None = None
        self._read: dict[str, Instrument] = {}
        self._reduced = False
        self._weights: dict[str, float] = {}
        self._fits = False
        self._drag: str | None = None
        self._drag_from = QPointF()
        self._drag_range = (0.0, 0.0)
        self._drag_border = 0
        self.setObjectName("lanes")
        self.setAccessibleName("Lanes")
        self.setAccessibleDescription(
            "Traces over time. Left and right arrow step by sample, plus and minus zoom, F frames the event."
        )
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent, True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(320, 200)
        self._backdrop = Backdrop(self._content, theme)
        self._labels = Labels(self._content, theme)
        replay.session_changed.connect(self._session_changed)
        replay.lanes_changed.connect(self._session_changed)
        replay.frame_changed.connect(self._frame_changed)
        replay.position_changed.connect(self._position_changed)
        replay.mark_changed.connect(self._mark_changed)
        theme.changed.connect(self._theme_changed)
        self.setMouseTracking(True)

    def sizeHint(self) -> QSize:
        """Return a comfortable size."""
        return QSize(900, 560)

    def lane_names(self) -> list[str]:
        """Return the channels of the lanes from top to bottom."""
        return [lane.plan.name for lane in self._content.lanes]

    def x_of(self, time_s: float) -> float:
        """Return the pixel of a time."""
        return self._content.x_of(time_s)

    @property
    def is_reduced(self) -> bool:
        """Whether samples are left out of the picture now."""
        return self._reduced

    @property
    def fits_heights(self) -> bool:
        """Whether the vertical ranges follow what is in view."""
        return self._fits

    @Slot()
    def toggle_fit(self) -> None:
        """Let the vertical ranges follow what is in view, or stand still."""
        self._fits = not self._fits
        self._frame_changed()

    @Slot()
    def _session_changed(self) -> None:
        self._content.lanes = []
        self._content.measuring = self._replay.mark_s is not None
        self._tags = []
        self._head_x = None
        self._hover_x = None
        self._measures = []
        self._read = {}
        session = self._replay.session
        if session is None:
            self._content.spans = self._content.marks = self._content.ribbon = ()
            self._redraw()
            return
        prepared = session.prepared
        for data in session.lanes:
            lane = Lane(data.plan, data.envelope, self._theme, self._weights.get(data.plan.name))
            self._content.lanes.append(lane)
            self._read[data.plan.name] = data.instrument
        self._content.spans = prepared.spans
        self._content.marks = prepared.marks
        self._content.ribbon = prepared.ribbon
        self._arrange()

    def _arrange(self) -> None:
        """Give every lane its place; all share the left and right edge of the plot."""
        theme, content = self._theme, self._content
        width, height = float(self.width()), float(self.height())
        content.size = QRectF(0, 0, width, height)
        content.plot_left = float(theme.px(52))
        content.plot_right = max(width - theme.px(16), content.plot_left + 10)
        content.ribbon_height = float(theme.px(18))
        content.ribbon_top = 12.0
        top = content.ribbon_top + content.ribbon_height + 6
        content.axis_top = height - theme.px(20)
        slim = float(theme.px(_SLIM))
        lanes = content.lanes
        free = content.axis_top - top - _GAP * max(len(lanes) - 1, 0) - 2
        free -= slim * sum(not lane.recorded for lane in lanes)
        weights = sum(lane.weight for lane in lanes if lane.recorded) or 1.0
        for lane in lanes:
            tall = max(free * lane.weight / weights, 20.0) if lane.recorded else slim
            lane.place(
                QRectF(content.plot_left, round(top), content.plot_right - content.plot_left, round(tall))
            )
            top += tall + _GAP
        self._frame_changed()

    def _redraw(self) -> None:
        self._picture = None
        self.update()

    @Slot()
    def _frame_changed(self) -> None:
        session = self._replay.session
        if session is None:
            return
        content = self._content
        content.begin_s, content.end_s = session.framing.begin_s, session.framing.end_s
        # A finding may lie within a few degrees of its limit: its lane takes the heights of what is framed.
        fitted = session.fitted_channel
        for lane in content.lanes:
            chosen = lane.plan.name == fitted
            lane.show_range(content.begin_s, content.end_s, self._fits or chosen, chosen and not self._fits)
        self._redraw()
        reduced = any(lane.reduced for lane in content.lanes)
        if reduced != self._reduced:
            self._reduced = reduced
            self.reduced_changed.emit(reduced)
        self._position_changed(self._replay.position_s)

    @Slot(float)
    def _position_changed(self, time_s: float) -> None:
        """Move the playhead: only what it covered and covers now is painted anew."""
        content = self._content
        if not content.lanes:
            return
        before = self._moving_bounds()
        x = content.x_of(time_s)
        inside = content.plot_left - 1 <= x <= content.plot_right + 1
        self._head_x = x if inside else None
        self._tags = self._tags_at(time_s, x) if inside else []
        self._measure(time_s)
        self._update(before)

    @Slot()
    def _mark_changed(self) -> None:
        self._content.measuring = self._replay.mark_s is not None
        self._measure(self._replay.position_s)
        self._redraw()

    def _measure(self, time_s: float) -> None:
        """Work out what lies between the mark and the playhead, lane by lane."""
        mark = self._replay.mark_s
        self._measures = []
        if mark is None:
            return
        for lane in self._content.lanes:
            if lane.recorded:
                measured = self._read[lane.plan.name].measured(mark, time_s)
                words = measured.words if measured is not None else "no data at one end"
                self._measures.append((lane.rect, words))

    def _update(self, before: list[QRect]) -> None:
        """Repaint what moving things covered before and cover now."""
        dirty = QRegion()
        for rect in (*before, *self._moving_bounds()):
            dirty += rect
        self.update(dirty)

    def _tags_at(self, time_s: float, x: float) -> list[Tag]:
        tags = []
        words = self._content.words
        for lane in self._content.lanes:
            channel = lane.plan.channel
            if channel is None or not lane.recorded:
                continue
            value = self._read[lane.plan.name].value_at(time_s)
            if value is None:
                point, text = QPointF(x, lane.rect.center().y()), "no data"
            else:
                point = QPointF(x, lane.y_of(value))
                text = number(value, decimals_for(channel.unit))
            on_trace = value is not None
            tags.append(make_tag(self._theme, lane.plan.role, text, point, on_trace, lane.rect, words))
        return tags

    def _moving_bounds(self) -> list[QRect]:
        bounds = [measure_box(self._theme, lane) for lane, _ in self._measures]
        if self._head_x is not None:
            bounds += [playhead_bounds(self._content, self._head_x), *(tag.bounds for tag in self._tags)]
        if self._hover_x is not None:
            bounds += [playhead_bounds(self._content, self._hover_x)]
            bounds += [tag.bounds for tag in self._hover_tags]
        return [rect.toAlignedRect() for rect in bounds]

    def _hover(self, x: float | None) -> None:
        """Show the values under the mouse, unless it is over the playhead's own."""
        before = self._moving_bounds()
        content = self._content
        inside = x is not None and content.plot_left <= x <= content.plot_right
        near = x is not None and self._head_x is not None and abs(x - self._head_x) < 6
        if x is None or not inside or near or not content.lanes:
            self._hover_x, self._hover_tags = None, []
        else:
            self._hover_x = x
            self._hover_tags = self._tags_at(content.time_of(x), x)
        self._update(before)

    def measured_words(self) -> list[str]:
        """Return what is measured between the mark and the playhead, lane by lane."""
        return [words for _, words in self._measures]

    def hover_words(self) -> list[str]:
        """Return the values under the mouse, lane by lane."""
        return [tag.text for tag in self._hover_tags]

    def tag_words(self) -> dict[str, str]:
        """Return the values shown at the playhead by colour role."""
        return {tag.role: tag.text for tag in self._tags}

    def paintEvent(self, event: QPaintEvent) -> None:
        """Copy the still picture and draw the playhead over it.

        Traces, grid and words are painted once for each range; while playing only a strip of that
        picture is copied, so that no curve is drawn for a moving line.
        """
        if self._picture is None:
            ratio = self.devicePixelRatioF()
            picture = QPixmap(self.size() * ratio)
            picture.setDevicePixelRatio(ratio)
            painter = QPainter(picture)
            self._backdrop.paint(painter)
            for lane in self._content.lanes:
                lane.paint(painter)
            self._labels.paint(painter)
            painter.end()
            self._picture = picture
            if self._head_x is not None:
                # The words have been placed anew: the tags keep off them.
                self._tags = self._tags_at(self._replay.position_s, self._head_x)
        painter = QPainter(self)
        painter.setClipRegion(event.region())
        painter.drawPixmap(0, 0, self._picture)
        if self._hover_x is not None:
            paint_hover(painter, self._content, self._theme, self._hover_x, self._hover_tags)
        mark = self._replay.mark_s
        if mark is not None and self._content.begin_s <= mark <= self._content.end_s:
            paint_mark(painter, self._content, self._theme, self._content.x_of(mark))
        for rect, words in self._measures:
            paint_measures(painter, self._theme, rect, words)
        if self._head_x is not None:
            paint_playhead(painter, self._content, self._theme, self._head_x)
            for tag in self._tags:
                paint_tag(painter, self._theme, tag)

    @Slot()
    def _theme_changed(self) -> None:
        self._arrange()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Arrange the lanes anew."""
        super().resizeEvent(event)
        self._arrange()

    def _is_handle(self, point: QPointF) -> bool:
        return point.y() < self._content.ribbon_top + self._content.ribbon_height + 4

    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Scrub with the left button; pan with the others; Shift and drag frames a range."""
        if self._replay.session is None:
            return
        point = event.position()
        self._hover(None)
        self._drag_from = point
        framing = self._replay.session.framing
        self._drag_range = (framing.begin_s, framing.end_s)
        if event.button() == Qt.MouseButton.LeftButton:
            shifted = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
            self._drag = "frame" if shifted else "scrub"
            border = self._border_at(point)
            if border is not None:
                self._drag = "resize"
                self._drag_border = border
                return
            if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
                self._replay.set_mark(self._time_at(point))
            if self._drag == "scrub":
                self._replay.seek(self._time_at(point))
        else:
            self._drag = "pan"
            self._replay.remember_frame()
            self.setCursor(Qt.CursorShape.ClosedHandCursor)
        event.accept()

    def _border_at(self, point: QPointF) -> int | None:
        """Return the index of the lane above the gap at a point, where both its lanes can be resized."""
        lanes = self._content.lanes
        for index in range(len(lanes) - 1):
            above, below = lanes[index], lanes[index + 1]
            in_gap = above.rect.bottom() - 1 <= point.y() <= below.rect.top() + 1
            if in_gap and above.recorded and below.recorded:
                return index
        return None

    def _resize_lanes(self, y: float) -> None:
        """Move the border between two lanes; the others keep their heights."""
        above, below = self._content.lanes[self._drag_border : self._drag_border + 2]
        together = above.rect.height() + below.rect.height()
        height = min(max(y - above.rect.top() - _GAP / 2, 40.0), together - 40.0)
        weight = above.weight + below.weight
        above.weight = self._weights[above.plan.name] = weight * height / together
        below.weight = self._weights[below.plan.name] = weight - above.weight
        self._arrange()

    def lane_at(self, point: QPointF) -> str | None:
        """Return the channel of the lane at a point, or None."""
        return next((lane.plan.name for lane in self._content.lanes if lane.rect.contains(point)), None)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Go on with the drag."""
        if self._drag == "scrub":
            self._replay.seek(self._time_at(event.position()))
        elif self._drag == "pan":
            begin, end = self._drag_range
            width = self._content.plot_right - self._content.plot_left
            moved = (event.position().x() - self._drag_from.x()) / width * (end - begin)
            self._replay.set_frame(begin - moved, end - moved)
        elif self._drag == "resize":
            self._resize_lanes(event.position().y())
        elif self._drag is None:
            over_border = self._border_at(event.position()) is not None
            self.setCursor(Qt.CursorShape.SizeVerCursor if over_border else Qt.CursorShape.ArrowCursor)
            self._hover(event.position().x())
        event.accept()

    def leaveEvent(self, event: QEvent) -> None:
        """End the read-out under the mouse."""
        self._hover(None)
        super().leaveEvent(event)

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """End the drag."""
        if self._drag == "frame":
            first, last = sorted((self._time_at(self._drag_from), self._time_at(event.position())))
            if abs(event.position().x() - self._drag_from.x()) > 4:
                self._replay.frame(first, last)
        elif self._drag == "pan":
            self.unsetCursor()
            if (event.position() - self._drag_from).manhattanLength() < 4:
                self.menu_wanted.emit(event.globalPosition().toPoint(), self.lane_at(event.position()))
        self._drag = None
        event.accept()

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Frame the part of the ribbon, or choose the finding, that was double-clicked."""
        point = event.position()
        session = self._replay.session
        if session is not None and not self._is_handle(point):
            index = session.finding_at(self._content.time_of(point.x()), self.lane_at(point))
            if index is not None:
                self._replay.choose(index)
        if self._is_handle(point):
            time_s = self._content.time_of(point.x())
            for part in self._content.ribbon:
                if part.begin_s <= time_s <= part.end_s:
                    self._replay.frame(part.begin_s, part.end_s)
                    break
        event.accept()

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
            self._replay.zoom(0.8 ** (delta.y() / 120), self._time_at(event.position()))
        event.accept()

    def _time_at(self, point: QPointF) -> float:
        x = min(max(point.x(), self._content.plot_left), self._content.plot_right)
        return self._content.time_of(x)
