"""The left side: the story, what contributed, the recording and the profile, and what was not judged."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QScrollArea, QWidget

from debrief.gui.background.guarded import guarded
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.story.plain_words_box import PlainWordsBox
from debrief.gui.story.story_facts import StoryFacts
from debrief.gui.story.story_list import StoryList
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import PlainLabel, WrappedLabel
from debrief.gui.widgets.parts import column_layout, set_ground

WIDTH = 292


class StoryPanel(QWidget):
    """Everything in words about the recording that is open.

    Signals
    -------
    profile_wanted
        The user asks to choose a profile.
    new_profile_wanted
        The user asks to make one.
    """

    profile_wanted = Signal()
    new_profile_wanted = Signal()

    def __init__(self, replay: Replay, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        set_ground(self, "story", "Story")
        outer = column_layout(self, margins=(0, 0, 1, 0))
        self._scroll = QScrollArea(widgetResizable=True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        outer.addWidget(self._scroll)
        inner = QWidget()
        inner.setObjectName("panel")
        column = column_layout(inner, margins=(8, 12, 6, 12), spacing=6)
        self._plain = PlainWordsBox(replay)
        column.addWidget(self._plain)
        heading = PlainLabel("What happened", role="heading")
        heading.setContentsMargins(10, 0, 0, 0)
        column.addWidget(heading)
        self.list = StoryList(replay, theme)
        self.list.row_shown.connect(self._show_row)
        column.addWidget(self.list)
        self._nothing = WrappedLabel(role="small")
        self._nothing.setContentsMargins(10, 0, 6, 6)
        column.addWidget(self._nothing)
        self.facts = StoryFacts(replay, theme)
        self.facts.profile_wanted.connect(self.profile_wanted)
        self.facts.new_profile_wanted.connect(self.new_profile_wanted)
        column.addWidget(self.facts)
        column.addStretch(1)
        self._scroll.setWidget(inner)
        replay.session_changed.connect(self._session_changed)
        replay.selection_changed.connect(self.facts.follow_choice)
        replay.selection_changed.connect(self._tell_start)
        replay.clock_changed.connect(self._clock_changed)
        theme.changed.connect(self._theme_changed)
        self._theme_changed()

    @Slot()
    def _theme_changed(self) -> None:
        self.setFixedWidth(self._theme.px(WIDTH))

    @Slot()
    def _show_row(self) -> None:
        """Scroll to the chosen row: now, and once what has grown in this turn of the event loop is laid out."""
        self._scroll_to_row()
        self._replay.turns.take(self._scroll_to_row)

    @Slot()
    def _scroll_to_row(self) -> None:
        inner, item = self._scroll.widget(), self.list.currentItem()
        if inner is None or item is None:
            return
        rect = self.list.visualItemRect(item)
        top = self.list.mapTo(inner, rect.topLeft())
        self._scroll.ensureVisible(top.x(), top.y() + rect.height() // 2, 0, rect.height() + 20)

    @Slot()
    def _session_changed(self) -> None:
        self._scroll.verticalScrollBar().setValue(0)
        session = self._replay.session
        empty = session is not None and not session.story
        self._nothing.setVisible(empty)
        if session is not None and empty:
            no_profile = "Nothing was judged: choose the engine's profile to see starts and limits."
            self._nothing.setText("No start found." if session.profile is not None else no_profile)
        self._tell_start()
        self.facts.fill()

    @Slot()
    def _clock_changed(self) -> None:
        self._tell_start()
        self.facts.fill()

    @Slot()
    def _tell_start(self) -> None:
        """Say the start of the chosen step in plain words, else the first that came to fuel."""
        session = self._replay.session
        start = None
        if session is not None:
            starts = [s for s in session.assessment.starts if s.engine == session.engine]
            fueled = next((s for s in starts if s.fuel_on_s is not None), None)
            start = session.chosen_start or fueled or next(iter(starts), None)
        self._plain.show_start(start)

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Open the plain words only where the story keeps most of the panel."""
        super().resizeEvent(event)
        self._plain.take_room(self.height())
