"""The menu of a moment: what can be done at a row of the story, or at a place on the timeline."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QPoint, Signal, Slot
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QMenu, QWidget

from debrief.gui.plain_text import unmarked
from debrief.gui.replay.replay_controller import Replay
from debrief.words.visible import visible


class MomentMenu(QMenu):
    """Filled when it is offered.

    Signals
    -------
    why_wanted
        The finding that was chosen is to be explained.
    note_wanted
        A note is to be added where the playhead is.
    """

    why_wanted = Signal()
    note_wanted = Signal()

    def __init__(self, replay: Replay, parent: QWidget) -> None:
        super().__init__(parent)
        self._replay = replay
        self._time_s = 0.0
        self._row: int | None = None
        self.setAccessibleName("What can be done here")

    @Slot(object, object, float)
    def offer(self, place: QPoint, row: int | None, time_s: float) -> None:
        """Open it at a place of the screen for a row of the story, or for a time alone."""
        session = self._replay.session
        if session is None:
            return
        step = None if row is None else session.story[row]
        self._row, self._time_s = row, time_s if step is None else step.time_s
        clock = session.clock.text(self._time_s)
        self.clear()
        where = clock if step is None else f"{unmarked(step.title)}, {clock}"
        self._offer(f"&Go to {where}", self._go)
        self._offer("&Play from here", self._play)
        self._offer("&Zoom in here" if step is None else "&Zoom to it", self._zoom)
        if step is not None and step.event is not None:
            self._offer("&Why?", self._why)
        self.addSeparator()
        self._offer("&Measure from here", self._measure)
        self._offer("Add a &note here...", self._note)
        if step is not None:
            self._offer("&Copy", self._copy)
        self.addSeparator()
        self._offer("Whole &recording", self._replay.frame_all)
        self._offer("&Back to the range before", self._replay.frame_back)
        self.popup(place)

    def _offer(self, words: str, slot: Callable[[], object]) -> None:
        self.addAction(words).triggered.connect(slot)

    @Slot()
    def _go(self) -> None:
        if self._row is not None:
            self._replay.choose(self._row)
        else:
            self._replay.seek(self._time_s)

    @Slot()
    def _play(self) -> None:
        self._go()
        self._replay.pause()
        self._replay.toggle()

    @Slot()
    def _zoom(self) -> None:
        self._go()
        session = self._replay.session
        if session is None:
            return
        if self._row is not None:
            self._replay.frame(session.story[self._row].begin_s, session.story[self._row].end_s)
        else:
            self._replay.remember_frame()
            self._replay.zoom(0.25, self._time_s)

    @Slot()
    def _why(self) -> None:
        self._go()
        self.why_wanted.emit()

    @Slot()
    def _measure(self) -> None:
        self._replay.set_mark(self._time_s)

    @Slot()
    def _note(self) -> None:
        self._go()
        self.note_wanted.emit()

    @Slot()
    def _copy(self) -> None:
        session = self._replay.session
        if session is not None and self._row is not None:
            step = session.story[self._row]
            words = f"{session.clock.text(step.time_s)}  {step.title}" + (
                f": {step.detail}" if step.detail else ""
            )
            QGuiApplication.clipboard().setText(visible(words))
