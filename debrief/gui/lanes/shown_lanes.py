"""What the lanes show of a recording, kept as the replay, the range and the looks change; drawn by `LanesView`."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

from PySide6.QtCore import QRect, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import QPixmap, QRegion
from PySide6.QtWidgets import QSizePolicy, QWidget

from debrief.gui.background.guarded import guarded
from debrief.gui.lanes.lane import Lane
from debrief.gui.lanes.lane_arranging import arrange, lanes_of
from debrief.gui.lanes.lane_gestures import LaneGestures
from debrief.gui.lanes.lane_picture import LanePicture
from debrief.gui.lanes.lane_scene import Scene
from debrief.gui.lanes.value_readout import Readout
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


class ShownLanes(QWidget):
    """Traces of the recording as they lie in the view; they are not touched here.

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
        replay.session_changed.connect(self._session_changed)
        replay.pins_changed.connect(self._lanes_changed)
        replay.lanes_changed.connect(self._lanes_changed)
        replay.frame_changed.connect(self._frame_changed)
        replay.position_changed.connect(self._position_changed)
        replay.mark_changed.connect(self._mark_changed)
        replay.clock_changed.connect(self._clock_changed)
        replay.comparison.changed.connect(self._lay_behind)
        theme.changed.connect(self._arrange)

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
        """Tell who hears the lanes what who sees them reads there: values, between the cursors, or switches."""
        spoken, content = self.readout.spoken, self._content
        said = f"Between the cursors: {'. '.join(spoken)} " if spoken else ""
        said += f"{self.readout.spoken_at(self._replay.position_s)} {'' if spoken else _KEYS}".strip()
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
