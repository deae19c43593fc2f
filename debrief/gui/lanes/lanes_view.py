"""The lanes: stacked traces over one time axis, with limits, events and the playhead."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from PySide6.QtCore import QEvent, QPoint, QPointF, QRect, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import (
    QContextMenuEvent,
    QFocusEvent,
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
    QRegion,
    QResizeEvent,
    QWheelEvent,
)
from PySide6.QtWidgets import QSizePolicy, QWidget

from debrief.gui.background.guarded import guarded, painted
from debrief.gui.lanes.lane import Lane
from debrief.gui.lanes.lane_arranging import arrange, lanes_of
from debrief.gui.lanes.lane_gestures import LaneGestures
from debrief.gui.lanes.lane_picture import LanePicture
from debrief.gui.lanes.lane_scene import Scene
from debrief.gui.lanes.lane_tips import tip_at
from debrief.gui.lanes.overlay_paint import paint_drop
from debrief.gui.lanes.value_readout import Readout
from debrief.gui.plain_text import plain_tip
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.session.drawing.axes import share_of
from debrief.session.limits.instrument_readings import discretes, switch_words
from debrief.session.texts.definitions_page import entry_of_channel

_KEYS = (
    "Traces over time. Left and right arrow step by sample, plus and minus zoom, E zooms to the event. "
    "Up and down arrow choose a lane: with Ctrl they move it, with Shift they change its height, "
    "Delete removes it, the menu key offers further channels."
)


@dataclass(frozen=True)
class Placed:
    """Where the trace of a channel lies: its lane in the view, [px], and the values at its lower and upper edge."""

    rect: QRectF
    low: float
    high: float

    def y_of(self, value: float) -> float:
        """Return the pixel height of a value."""
        return self.rect.bottom() - share_of(value, self.low, self.high) * self.rect.height()

    def value_at(self, y: float) -> float:
        """Return the value at a pixel height, within the lane."""
        share = (self.rect.bottom() - y) / max(self.rect.height(), 1.0)
        return self.low + min(max(share, 0.0), 1.0) * (self.high - self.low)


class LanesView(QWidget):
    """Traces of the recording; click or drag moves the playhead, the wheel zooms.

    Signals
    -------
    reduced_changed : bool
        Whether the picture leaves out samples (never an extreme) at this zoom.
    menu_wanted : QPoint, str or None
        The menu of lanes is wanted: where, and for which lane.
    lane_chosen : str or None
        The keyboard has chosen this lane.
    arranged
        Lanes, their places or their vertical ranges may have changed.
    switches_told : bool
        Whether every switch is read below the lanes now.
    """

    reduced_changed = Signal(bool)
    menu_wanted = Signal(object, object)
    lane_chosen = Signal(object)
    arranged = Signal()
    switches_told = Signal(bool)

    def __init__(self, replay: Replay, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self._content = Scene()
        self.is_reduced = False
        """Whether samples are left out of the picture now."""
        self._fits = False
        self._shown: tuple[float, float, bool, str | None] | None = None
        self.setObjectName("lanes")
        self.setAccessibleName("Lanes")
        self.setAccessibleDescription(_KEYS)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAttribute(Qt.WidgetAttribute.WA_OpaquePaintEvent, True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(320, 200)
        self._picture = LanePicture(self._content, theme)
        self.readout = Readout(self._content, theme, self._repaint)
        self._is_reached = False
        self._gestures = LaneGestures(self._content, replay, self)
        self._gestures.resized.connect(self._arrange)
        self._gestures.drop_changed.connect(self.update)
        self._gestures.chosen_changed.connect(self._chosen_changed)
        self._gestures.lane_menu_wanted.connect(self._offer_menu)
        replay.session_changed.connect(self._session_changed)
        replay.pins_changed.connect(self._lanes_changed)
        replay.lanes_changed.connect(self._lanes_changed)
        replay.frame_changed.connect(self._frame_changed)
        replay.position_changed.connect(self._position_changed)
        replay.mark_changed.connect(self._mark_changed)
        replay.clock_changed.connect(self._clock_changed)
        replay.comparison.changed.connect(self._lay_behind)
        theme.changed.connect(self._arrange)
        self.setMouseTracking(True)

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return a comfortable size."""
        return QSize(900, 560)

    def lane_names(self) -> list[str]:
        """Return the channels that the lanes are named after, from top to bottom."""
        return [lane.plan.name for lane in self._content.lanes]

    def placed(self, name: str) -> Placed | None:
        """Return where a channel's trace lies; None where no lane shows it."""
        for lane in self._content.lanes:
            for trace in lane.traces:
                if trace.plan.name == name:
                    return Placed(QRectF(lane.rect), trace.low, trace.high)
        return None

    def x_of(self, time_s: float) -> float:
        """Return the pixel of a time."""
        return self._content.x_of(time_s)

    @property
    def fits_heights(self) -> bool:
        """Whether the vertical ranges follow what is in view."""
        return self._fits

    @Slot()
    def toggle_fit(self) -> None:
        """Let the vertical ranges follow what is in view, or stand still."""
        self._fits = not self._fits
        self._frame_changed()

    @property
    def shows_bands(self) -> bool:
        """Whether the profile's bands are shaded."""
        return self._content.shows_bands

    def show_bands(self, shown: bool) -> None:
        """Shade the profile's bands, or not."""
        self._content.shows_bands = shown
        self._redraw()

    @property
    def shows_strips(self) -> bool:
        """Whether the strips of switches and levers are shown below the lanes."""
        return self._content.shows_strips

    def show_strips(self, shown: bool) -> None:
        """Show the strips of switches and levers, or not."""
        self._content.shows_strips = shown
        self._arrange()

    def keep_free(self, name: str | None, width: float = 0.0) -> None:
        """Write nothing at the right end of a channel's lane, so wide, [px]; None: everywhere again."""
        free = None if name is None else (name, width)
        if free != self._content.kept_free:
            self._content.kept_free = free
            self._redraw()

    @property
    def chosen_lane(self) -> Lane | None:
        """The lane that was chosen by keyboard, or None."""
        return next((x for x in self._content.lanes if x.plan.name == self._content.chosen), None)

    # --- what is shown ----------------------------------------------------------------------------

    def explained(self) -> tuple[str, str] | None:
        """Return the entry of the chosen lane's channel."""
        lane = self.chosen_lane
        return None if lane is None else entry_of_channel(lane.plan.name)

    @Slot()
    def _session_changed(self) -> None:
        self._content.chosen = None
        self._lanes_changed()

    @Slot()
    def _lanes_changed(self) -> None:
        content = self._content
        content.lanes = []
        content.measuring = self._replay.mark_s is not None
        self.readout.clear()
        self.readout.measure_from(self._replay.mark_s)
        session = self._replay.session
        if session is None:
            content.spans = content.labelled = content.marks = content.ribbon = content.strips = ()
            content.switches_at = None  # it holds the recording
            self._redraw()
            return
        prepared = session.prepared
        content.clock = session.clock
        content.lanes = lanes_of(content, session, self._theme, float(self.height()))
        if content.chosen not in self.lane_names():
            content.chosen = None
        content.spans = prepared.spans
        content.labelled = [span for span in prepared.spans if span.label]
        content.marks = (*prepared.marks, *self._replay.pins)
        content.ribbon = prepared.ribbon
        content.strips = prepared.strips
        content.switches_at = partial(discretes, session.assessment, engine=session.engine)
        self._lay_behind()

    def present(self, presenting: bool) -> None:
        """Show those lanes alone that a projector has room for, or all of them again."""
        self._content.presenting = presenting
        self._lanes_changed()

    @Slot()
    def _lay_behind(self) -> None:
        """Draw what is compared behind the traces."""
        for lane in self._content.lanes:
            lane.lay_behind(self._replay.comparison.shown)
        self._arrange()

    @Slot()
    def _arrange(self) -> None:
        """Give every lane its place; all share the left and right edge of the plot."""
        arrange(self._content, self._theme, float(self.width()), float(self.height()))
        self.switches_told.emit(self._content.others_row is not None)
        self._shown = None
        self._frame_changed()

    def _redraw(self) -> None:
        """Draw everything anew, in turns of the event loop of its own: the other views paint in this one."""
        self._picture.forget()
        self.arranged.emit()
        if self._replay.session is None or not self.isVisible():
            self.update()
        else:
            self._replay.turns.take(self._draw_traces, self._show_picture)

    def _draw_traces(self) -> None:
        self._picture.without_words(self.size(), self.devicePixelRatioF())

    def _show_picture(self) -> None:
        self._take_picture()
        # At once: what comes before the next turn of the event loop would ask for another picture.
        self.repaint()

    def _take_picture(self) -> QPixmap:
        """Return the still picture: what was drawn of it ahead, and the rest."""
        is_new = not self._picture.is_drawn
        picture = self._picture.whole(self.size(), self.devicePixelRatioF())
        if is_new:
            self.readout.replace_tags()
        return picture

    @Slot()
    def _frame_changed(self) -> None:
        session = self._replay.session
        if session is None:
            return
        content = self._content
        content.begin_s, content.end_s = session.framing.begin_s, session.framing.end_s
        # A finding may lie within a few degrees of its limit: its lane takes the heights of what is framed.
        fitted = session.fitted_channel
        shown = (content.begin_s, content.end_s, self._fits, fitted)
        if shown == self._shown:
            # Told again of what is shown already, as when a recording comes.
            self._position_changed(self._replay.position_s)
            return
        self._shown = shown
        for lane in content.lanes:
            chosen = fitted in lane.names
            lane.show_range(content.begin_s, content.end_s, self._fits or chosen, chosen and not self._fits)
        self._redraw()
        reduced = any(lane.reduced for lane in content.lanes)
        if reduced != self.is_reduced:
            self.is_reduced = reduced
            self.reduced_changed.emit(reduced)
        self.readout.stand_at(self._replay.position_s)

    @Slot(float)
    def _position_changed(self, time_s: float) -> None:
        self.readout.show_at(time_s)
        self._speak_measures()

    def _speak_measures(self) -> None:
        """Tell who hears the lanes what who sees them reads there: between the cursors, or how the switches stand."""
        spoken, content = self.readout.spoken, self._content
        said = f"Between the cursors: {'. '.join(spoken)}" if spoken else _KEYS
        if not spoken and content.others_row is not None and content.switches_at is not None:
            switches = content.switches_at(self._replay.position_s)
            said += f" Switches: {', '.join(f'{one.words} {switch_words(one)}' for one in switches)}."
        if said != self.accessibleDescription():
            self.setAccessibleDescription(said)

    @Slot()
    def _mark_changed(self) -> None:
        self._content.measuring = self._replay.mark_s is not None
        self.readout.measure_from(self._replay.mark_s)
        self._speak_measures()
        self._redraw()

    @Slot()
    def _clock_changed(self) -> None:
        self._content.clock = self._replay.clock
        self._mark_changed()

    @Slot()
    def _chosen_changed(self) -> None:
        chosen = self.chosen_lane
        if chosen is not None:
            self._replay.told.emit(f"lane {chosen.plan.title}")
        self.lane_chosen.emit(self._content.chosen)
        self.update()

    def _repaint(self, places: list[QRect]) -> None:
        if self._replay.turns.waits(self._show_picture):
            return  # all of it is painted when the picture is drawn
        dirty = QRegion()
        for rect in places:
            dirty += rect
        self.update(dirty)

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
