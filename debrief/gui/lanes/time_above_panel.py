"""A small panel: how long a channel was above a level that is typed, over all, between the cursors or in a start."""

from __future__ import annotations

from PySide6.QtCore import QTimer, Slot
from PySide6.QtWidgets import QComboBox, QDialog, QGridLayout, QLineEdit, QWidget

from debrief.analysis.level_time import level_time
from debrief.analysis.signal.traces import Trace
from debrief.errors import UserError
from debrief.gui.plain_text import entry
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.choice_boxes import ChoiceBox
from debrief.gui.widgets.labels import PlainLabel
from debrief.gui.widgets.parts import restyle
from debrief.recording.model import Channel, names_of
from debrief.session.limits.typed_level import level_in, level_words
from debrief.words.numbers import unit_words
from debrief.words.starts import start_title

WHOLE, IN_VIEW, CURSORS = "whole", "view", "cursors"
_WAIT_MS = 80


class TimeAbovePanel(QDialog):
    """Stays open beside the lanes and follows cursors and view; it needs no profile and changes no verdict."""

    def __init__(self, replay: Replay, theme: Theme, channel: str, parent: QWidget) -> None:
        super().__init__(parent)
        self._replay = replay
        self._session = replay.session
        self._traces: dict[str, Trace] = {}
        self.setWindowTitle("Time above a level")
        self.channels = _named(ChoiceBox(theme), "Channel")
        self.level = QLineEdit()
        self.level.setAccessibleName("Level")
        self.where = _named(ChoiceBox(theme), "Where")
        self.told = PlainLabel(" ", wraps=True)
        self.told.setMinimumHeight(3 * self.fontMetrics().lineSpacing() + 8)
        self.told.setMinimumWidth(400)
        self._fill(channel)
        grid = QGridLayout(self)
        grid.setContentsMargins(18, 16, 18, 14)
        grid.setSpacing(10)
        self._unit = PlainLabel("", role="muted")
        for row, (words, part) in enumerate(
            (("Channel", self.channels), ("Above", self.level), ("Where", self.where))
        ):
            grid.addWidget(PlainLabel(words), row, 0)
            grid.addWidget(part, row, 1)
        grid.addWidget(self._unit, 1, 2)
        grid.addWidget(self.told, 3, 0, 1, 3)
        grid.setColumnStretch(1, 1)
        self._soon = QTimer(self, singleShot=True, interval=_WAIT_MS)
        self._soon.timeout.connect(self.count)
        self.channels.currentIndexChanged.connect(self.count)
        self.where.currentIndexChanged.connect(self.count)
        self.level.textEdited.connect(self.count)
        for moved in (replay.position_changed, replay.mark_changed, replay.frame_changed):
            moved.connect(self._moved)
        replay.session_changed.connect(self.close)
        replay.clock_changed.connect(self.count)
        self.level.setFocus()
        self.count()

    def _fill(self, channel: str) -> None:
        session = self._session
        if session is None:
            return
        for name in session.lane_choices():
            found = self._channel(name)
            if found is not None and found.values.size:
                self.channels.addItem(entry(session.names.words(name)), name)
        self.channels.setCurrentIndex(max(0, self.channels.findData(channel)))
        self.where.addItem("Whole recording", WHOLE)
        self.where.addItem("What is in view", IN_VIEW)
        self.where.addItem("Between the cursors", CURSORS)
        for start in session.assessment.starts:
            if start.engine == session.engine:
                title = start_title(start.number, session.assessment.start_count(start.engine))
                self.where.addItem(title, start.number)
        if self._replay.mark_s is not None:
            self.where.setCurrentIndex(self.where.findData(CURSORS))

    def _channel(self, name: str) -> Channel | None:
        assert self._session is not None
        recording = self._session.recording
        return recording.get(name, self._session.engine) or recording.unmapped.get(name)

    @Slot()
    def _moved(self) -> None:
        if self.where.currentData() in (CURSORS, IN_VIEW) and not self._soon.isActive():
            self._soon.start()

    def _between(self) -> tuple[float, float] | None:
        """Return between which moments it is counted; None while there is no second cursor."""
        session, where = self._session, self.where.currentData()
        assert session is not None
        if where == IN_VIEW:
            return session.framing.begin_s, session.framing.end_s
        if where == CURSORS:
            mark = self._replay.mark_s
            return (
                None
                if mark is None
                else (min(mark, self._replay.position_s), max(mark, self._replay.position_s))
            )
        for start in session.assessment.starts:
            if (start.engine, start.number) == (session.engine, where):
                return start.begin_s, start.window_end_s
        return 0.0, session.recording.duration_s

    @Slot()
    def count(self) -> None:
        """Count anew and show it."""
        name = self.channels.currentData()
        channel = None if self._session is None or name is None else self._channel(name)
        if channel is None:
            return
        self._unit.setText(unit_words(channel.unit))
        if not self.level.text().strip():
            self._tell("Type a level, such as 800.")
            return
        try:
            level = level_in(self.level.text(), channel)
        except UserError as error:
            self._tell(str(error), problem=True)
            return
        between = self._between()
        if between is None:
            self._tell("Set the second cursor with M, then move the playhead.")
            return
        trace = self._traces.setdefault(channel.name, Trace.of(channel))
        found = level_time(channel, level, *between, trace=trace)
        span = f"Between {self._replay.clock.text(between[0])} and {self._replay.clock.text(between[1])}"
        self._tell(f"{level_words(found, self._replay.clock, names_of([channel]))}.\n{span}.")

    def _tell(self, words: str, *, problem: bool = False) -> None:
        restyle(self.told, "role", "problem" if problem else "")
        self.told.setText(words)


def _named(box: QComboBox, name: str) -> QComboBox:
    box.setAccessibleName(name)
    return box
