"""The replay as an object with signals: the only place that moves the playhead and the time range."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from PySide6.QtCore import QObject, Qt, QTimer, Signal, Slot

from debrief.gui.background.turns import Turns
from debrief.gui.replay.comparison import Comparison
from debrief.session.lanes.lane_stack import LaneData, LaneStack
from debrief.session.lanes.pins import NotePin
from debrief.session.session import Session
from debrief.session.texts.story import start_frame
from debrief.words.clock import ELAPSED, Clock, TimeShown

_FRAME_MS = 15
_CALM_MS = 1000
"""With reduced motion playhead and pointers move once a second, [ms]."""
_FOLLOW_MARGIN = 0.02


class Replay(QObject):
    """Drives a session's playback and framing and tells the views.

    Attributes
    ----------
    turns : Turns
        What the views put off, each step in a turn of the event loop of its own.
    comparison : Comparison
        The start that lies behind the one on the table.

    Signals
    -------
    session_changed
        Another session, or none, is shown.
    position_changed : float
        The playhead, [s].
    frame_changed
        The range of time in view.
    selection_changed
        The chosen step of the story.
    playing_changed
        Playing, its rate or its loop.
    mark_changed
        The mark that is measured from.
    lanes_changed
        Lanes were added, removed or moved.
    layout_changed
        As `lanes_changed`, also for their heights: what is remembered.
    pins_changed
        Notes that are pinned to a time came, went or moved.
    clock_changed
        Moments are told in another way.
    told : str
        A word for the status beside the clock, such as that there is no further finding.
    """

    session_changed = Signal()
    position_changed = Signal(float)
    frame_changed = Signal()
    selection_changed = Signal()
    playing_changed = Signal()
    mark_changed = Signal()
    lanes_changed = Signal()
    layout_changed = Signal()
    pins_changed = Signal()
    clock_changed = Signal()
    told = Signal(str)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._session: Session | None = None
        self._mark_s: float | None = None
        self._pins: tuple[NotePin, ...] = ()
        self._time_shown: TimeShown = "elapsed"
        self.turns = Turns(self)
        self.lanes_changed.connect(self.layout_changed)
        self.comparison = Comparison(self)
        self.comparison.aligned.connect(self.told)
        # Before all views: they ask it what lies behind.
        self.position_changed.connect(self.comparison.move_to)
        self._timer = QTimer(self, timerType=Qt.TimerType.PreciseTimer, interval=_FRAME_MS)
        self._timer.timeout.connect(self._tick)

    @property
    def session(self) -> Session | None:
        """What is shown."""
        return self._session

    @property
    def position_s(self) -> float:
        """The playhead, [s]; 0 without a session."""
        return self._session.playback.position_s if self._session is not None else 0.0

    @property
    def mark_s(self) -> float | None:
        """Where measuring begins, [s]; it ends at the playhead. None: nothing is measured."""
        return self._mark_s

    def show_time(self, shown: TimeShown) -> None:
        """Tell the moments of this recording and of those to come so."""
        if shown == self._time_shown:
            return
        self._time_shown = shown
        if self._session is not None:
            self._session.show_time(shown)
            self.clock_changed.emit()

    @Slot(bool)
    def reduce_motion(self, reduced: bool) -> None:
        """Move playhead, pointers and numbers once a second while playing, or as smoothly as can be."""
        self._timer.setInterval(_CALM_MS if reduced else _FRAME_MS)

    @property
    def clock(self) -> Clock:
        """How moments of the recording are told."""
        return self._session.clock if self._session is not None else ELAPSED

    @property
    def pins(self) -> tuple[NotePin, ...]:
        """Notes that are pinned to a time, with the words that mark them."""
        return self._pins

    def show_pins(self, pins: tuple[NotePin, ...]) -> None:
        """Mark these notes in the views of time."""
        if pins != self._pins:
            self._pins = pins
            self.pins_changed.emit()

    def set_mark(self, time_s: float | None) -> None:
        """Measure from this time to the playhead, or no more."""
        if self._session is None:
            return
        self._mark_s = time_s
        self.mark_changed.emit()

    @Slot()
    def toggle_mark(self) -> None:
        """Begin measuring at the playhead, or end it."""
        self.set_mark(self.position_s if self._mark_s is None else None)

    def _change_lanes(self, change: Callable[[LaneStack], object]) -> None:
        if self._session is not None:
            change(self._session.lane_stack)
            self.lanes_changed.emit()

    def add_lane(self, lane: LaneData) -> None:
        """Show another lane below the others."""
        self._change_lanes(lambda lanes: lanes.add(lane))

    def join_lane(self, name: str, lane: LaneData) -> None:
        """Show a further channel in a lane; say so where it keeps a lane of its own."""
        if self._session is not None and self._session.lane_stack.join(name, lane):
            self.lanes_changed.emit()
            if lane.plan.name in self._session.lane_stack.names:
                self.told.emit(
                    f"{self._session.names.words(lane.plan.name)} keeps its own lane too: Lanes, Remove takes it away"
                )

    def part_lane(self, name: str, other: str) -> None:
        """Take a further channel out of a lane."""
        self._change_lanes(lambda lanes: lanes.part(name, other))

    def remove_lane(self, name: str) -> None:
        """Take a lane away."""
        self._change_lanes(lambda lanes: lanes.remove(name))

    def move_lane(self, name: str, direction: int) -> None:
        """Move a lane up (-1) or down (+1)."""
        self._change_lanes(lambda lanes: lanes.move(name, direction))

    def place_lane(self, name: str, index: int) -> None:
        """Put a lane at this place, counted without it."""
        self._change_lanes(lambda lanes: lanes.place(name, index))

    def resize_lanes(self, weights: Mapping[str, float]) -> None:
        """Remember the heights of lanes, which the view has already."""
        if self._session is not None:
            for name, weight in weights.items():
                self._session.lane_stack.resize(name, weight)
            self.layout_changed.emit()

    @Slot()
    def reset_lanes(self) -> None:
        """Show the usual lanes at their usual heights."""
        self._change_lanes(LaneStack.reset)

    def show(self, session: Session | None) -> None:
        """Show another session, or none."""
        self._timer.stop()
        self._session = session
        self._mark_s = None
        if session is not None:
            session.show_time(self._time_shown)
        self.comparison.show(session)
        self.session_changed.emit()
        self.frame_changed.emit()
        self.selection_changed.emit()
        self.position_changed.emit(self.position_s)
        self.playing_changed.emit()

    @Slot()
    def toggle(self) -> None:
        """Play or pause."""
        if self._session is None:
            return
        self._session.playback.toggle()
        self._after_playing()

    @Slot()
    def pause(self) -> None:
        """Stop time."""
        if self._session is not None and self._session.playback.playing:
            self._session.playback.pause()
            self._after_playing()

    @Slot(float)
    def set_rate(self, rate: float) -> None:
        """Change the speed."""
        if self._session is not None:
            self._session.playback.set_rate(rate)
            self.playing_changed.emit()

    @Slot()
    def faster(self) -> None:
        """Go to the next higher rate."""
        self._change_rate(1)

    @Slot()
    def slower(self) -> None:
        """Go to the next lower rate."""
        self._change_rate(-1)

    def _change_rate(self, step: int) -> None:
        if self._session is not None:
            self._session.playback.change_rate(step)
            self.playing_changed.emit()

    @Slot()
    def toggle_loop(self) -> None:
        """Repeat what is in view, or stop repeating."""
        session = self._session
        if session is None:
            return
        if session.playback.loop is None:
            session.playback.set_loop((session.framing.begin_s, session.framing.end_s))
        else:
            session.playback.set_loop(None)
        self.playing_changed.emit()
        self._moved()

    @Slot(float)
    def seek(self, time_s: float) -> None:
        """Move the playhead, as by dragging it: the range stays unless the playhead would leave it."""
        if self._session is None:
            return
        self._session.playback.seek(time_s)
        self._moved()

    @Slot()
    def step_forward(self) -> None:
        """Go to the next sample."""
        self._step(1)

    @Slot()
    def step_back(self) -> None:
        """Go to the sample before."""
        self._step(-1)

    def _step(self, samples: int) -> None:
        if self._session is None:
            return
        was_playing = self._session.playback.playing
        self._session.playback.step(samples)
        if was_playing:
            self._after_playing()
        self._moved()

    @Slot()
    def next_step(self) -> None:
        """Choose the next row of the story."""
        self._to_row(1, "last step")

    @Slot()
    def previous_step(self) -> None:
        """Choose the row of the story before."""
        self._to_row(-1, "first step")

    @Slot()
    def next_finding(self) -> None:
        """Choose the next finding."""
        self._to_row(1, "last finding", findings_only=True)

    @Slot()
    def previous_finding(self) -> None:
        """Choose the finding before."""
        self._to_row(-1, "first finding", findings_only=True)

    def _to_row(self, direction: int, at_end: str, findings_only: bool = False) -> None:
        if self._session is None:
            return
        index = self._session.row_beside(direction, findings_only)
        if index is not None:
            self.choose(index)
            return
        any_there = any(step.is_finding or not findings_only for step in self._session.story)
        self.told.emit(at_end if any_there else f"no {at_end.split()[-1]}")

    @Slot(int)
    def choose(self, index: int) -> None:
        """Choose a step of the story: the playhead goes there and the range shows it."""
        if self._session is None:
            return
        if self._session.choose(index) is None:
            return
        self.selection_changed.emit()
        self.frame_changed.emit()
        self._moved()

    @Slot()
    def to_begin(self) -> None:
        """Go to the first sample."""
        self.seek(0.0)

    @Slot()
    def to_end(self) -> None:
        """Go to the last sample."""
        if self._session is not None:
            self.seek(self._session.playback.duration_s)

    @Slot()
    def zoom_in(self) -> None:
        """Show half the time around the playhead."""
        self.zoom(0.5, None)

    @Slot()
    def zoom_out(self) -> None:
        """Show twice the time around the playhead."""
        self.zoom(2.0, None)

    def zoom(self, factor: float, about_s: float | None) -> None:
        """Zoom about a time, or about the playhead where it is in view, else about the middle."""
        if self._session is None:
            return
        framing = self._session.framing
        if about_s is None:
            about_s = self.position_s
            if not framing.begin_s <= about_s <= framing.end_s:
                about_s = (framing.begin_s + framing.end_s) / 2
        if framing.zoom(factor, about_s):
            self.frame_changed.emit()

    def pan(self, seconds: float) -> None:
        """Shift the range."""
        if self._session is not None and self._session.framing.pan(seconds):
            self.frame_changed.emit()

    def set_frame(self, begin_s: float, end_s: float) -> None:
        """Show exactly this range, as while an edge is dragged."""
        if self._session is not None and self._session.framing.set_edges(begin_s, end_s):
            self.frame_changed.emit()

    def frame(self, begin_s: float, end_s: float) -> None:
        """Show this range and remember where it came from."""
        if self._session is not None and self._session.framing.frame(begin_s, end_s):
            self.frame_changed.emit()

    @Slot()
    def remember_frame(self) -> None:
        """Note the present range before a drag or a wheel turn."""
        if self._session is not None:
            self._session.framing.remember()

    @Slot()
    def frame_selected(self) -> None:
        """Show the chosen step, or the last one before the playhead."""
        session = self._session
        if session is None:
            return
        index = session.step_in_play
        if index is not None:
            step = session.story[index]
            if session.framing.frame(step.begin_s, step.end_s):
                self.frame_changed.emit()

    @Slot()
    def frame_start(self) -> None:
        """Show the start at the playhead, or the last one before it, else the first."""
        session = self._session
        if session is None or not session.assessment.starts:
            return
        starts = session.assessment.starts
        before = [start for start in starts if start.begin_s <= self.position_s]
        if session.framing.frame(*start_frame(before[-1] if before else starts[0])):
            self.frame_changed.emit()

    @Slot()
    def frame_phase(self) -> None:
        """Show the part of the ribbon at the playhead."""
        session = self._session
        if session is None:
            return
        for part in session.prepared.ribbon:
            if part.begin_s <= self.position_s <= part.end_s:
                self.frame(part.begin_s, part.end_s)
                return

    @Slot()
    def frame_all(self) -> None:
        """Show the whole recording."""
        if self._session is not None and self._session.framing.frame_all():
            self.frame_changed.emit()

    @Slot()
    def frame_back(self) -> None:
        """Return to the range before."""
        if self._session is not None and self._session.framing.back():
            self.frame_changed.emit()

    @Slot()
    def frame_forward(self) -> None:
        """Undo going back."""
        if self._session is not None and self._session.framing.forward():
            self.frame_changed.emit()

    def stop(self) -> None:
        """End the timer and what was put off, as when the window closes."""
        self._timer.stop()
        self.turns.stop()

    def _after_playing(self) -> None:
        session = self._session
        if session is not None and session.playback.playing:
            if session.playback.loop is None:
                session.framing.include(session.playback.position_s)
            self._timer.start()
        else:
            self._timer.stop()
        self.playing_changed.emit()
        self._moved()

    def _moved(self) -> None:
        session = self._session
        if session is None:
            return
        position = session.playback.position_s
        if session.framing.include(position):
            self.frame_changed.emit()
        self.position_changed.emit(position)

    @Slot()
    def _tick(self) -> None:
        session = self._session
        if session is None:
            self._timer.stop()
            return
        if not session.playback.playing:
            self._after_playing()
            return
        framing = session.framing
        position = session.playback.position_s
        if position > framing.end_s - _FOLLOW_MARGIN * framing.span_s and not framing.shows_all:
            # Turn the page before the playhead reaches the edge: calmer than a scrolling picture.
            begin = position - 0.1 * framing.span_s
            if framing.set_edges(begin, begin + framing.span_s):
                self.frame_changed.emit()
        self._moved()
