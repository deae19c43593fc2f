"""The page of the replay: story and notes, lanes, gauges, timeline and the row of playing."""

from __future__ import annotations

from PySide6.QtCore import Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QStyle, QWidget

from debrief.gui.background.guarded import guarded
from debrief.gui.comparing.compared_bar import ComparedBar
from debrief.gui.gauges.gauge_column import GaugePanel
from debrief.gui.gauges.gauge_menu import GaugeMenu
from debrief.gui.lanes.lanes_view import LanesView
from debrief.gui.notes.notebook import Notebook
from debrief.gui.notes.notes_panel import NotesPanel
from debrief.gui.replay.moment_menu import MomentMenu
from debrief.gui.replay.playback_bar import PlaybackBar
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.replay.timeline import Timeline
from debrief.gui.story.story_panel import StoryPanel
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.parts import column_layout, row_layout, set_ground

GAUGES_WIDTH, PRESENTED_WIDTH = 272, 240
_GAUGES_SHARE = 0.165
"""Of the width of a wide window."""
_LEAST_GAUGES = 200
"""Narrower dials could not be read, [px at the usual text]."""


class ReplayPage(QWidget):
    """Lays the parts out; each of them listens to the replay by itself.

    Attributes
    ----------
    story, notes, lanes, gauges, compared_bar, timeline, playback_bar
        The parts.
    moment_menu, gauge_menu
        What is offered at a row of the story or a place of the timeline, and for a gauge.
    """

    def __init__(
        self,
        replay: Replay,
        notebook: Notebook,
        settings: Settings,
        theme: Theme,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._theme = theme
        self._replay = replay
        self._is_presenting = False
        self.story = StoryPanel(replay, theme)
        self.notes = NotesPanel(replay, notebook, settings, theme)
        self.lanes = LanesView(replay, theme)
        self.gauges = GaugePanel(replay, theme)
        self.compared_bar = ComparedBar(replay, theme)
        self.timeline = Timeline(replay, theme)
        self.playback_bar = PlaybackBar(replay, theme)
        self.moment_menu = MomentMenu(replay, self)
        self.moment_menu.note_wanted.connect(self.notes.ask_new)
        for part in (self.story.list, self.timeline):
            part.menu_wanted.connect(self.moment_menu.offer)
        self.gauge_menu = GaugeMenu(replay, self)
        self.gauges.menu_wanted.connect(self.gauge_menu.offer)
        self.lanes.switches_told.connect(self.gauges.leave_out_switches)
        self.lanes.reduced_changed.connect(self.playback_bar.show_reduced)
        self._lay_out()
        theme.changed.connect(self._theme_changed)
        replay.comparison.changed.connect(self._fit_gauges)
        self._theme_changed()

    def _lay_out(self) -> None:
        row = row_layout(self, margins=(0, 0, 0, 0), spacing=0)
        self._left = QWidget()
        left = column_layout(self._left, margins=(0, 0, 0, 0), spacing=0)
        left.addWidget(self.story, 1)
        left.addWidget(self.notes)
        row.addWidget(self._left)
        right = column_layout(spacing=0)
        upper = row_layout(spacing=0)
        # Over the lanes alone: the dials keep their height when a start is compared.
        compared = column_layout(spacing=0)
        compared.addWidget(self.compared_bar)
        compared.addWidget(self.lanes, 1)
        upper.addLayout(compared, 1)
        upper.addWidget(self.gauges)
        right.addLayout(upper, 1)
        self._bottom = bottom = QWidget()
        set_ground(bottom, "bottom")
        lower = column_layout(bottom, margins=(0, 3, 0, 0), spacing=6)
        lower.addWidget(self.timeline)
        lower.addWidget(self.playback_bar)
        right.addWidget(bottom)
        row.addLayout(right, 1)

    def appear_in_turns(self) -> None:
        """Paint the parts one after the other, the lanes first."""
        self._replay.turns.appear(self.lanes, self.story, self.gauges, self._bottom)

    def make_room(self, *, gauges: bool, story: bool) -> None:
        """Show gauges, story and notes, or give their room to the lanes."""
        self.gauges.setVisible(gauges)
        self._left.setVisible(story)

    def present(self, presenting: bool) -> None:
        """Show the lanes and the main gauge alone, or all parts again."""
        self._is_presenting = presenting
        for part in (self.story, self.notes, self._bottom):
            part.setVisible(not presenting)
        self.gauges.present(presenting)
        self.lanes.present(presenting)
        self.compared_bar.present(presenting)
        self._theme_changed()

    @Slot()
    def _theme_changed(self) -> None:
        self._fit_gauges()

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Let the dials grow with the window."""
        super().resizeEvent(event)
        self._fit_gauges()

    @Slot()
    def _fit_gauges(self) -> None:
        if self._is_presenting:
            width = self._theme.px(PRESENTED_WIDTH)
        else:
            wanted = max(self._theme.px(GAUGES_WIDTH), round(_GAUGES_SHARE * self.width()))
            width = max(min(wanted, self._room_for_gauges()), self._theme.px(_LEAST_GAUGES))
        if width != self.gauges.maximumWidth():
            self.gauges.setFixedWidth(width)

    def _room_for_gauges(self) -> int:
        """Return what the story, and the lanes with the bar of a comparison, leave, [px]."""
        # Not the own width: with all of it shown this may be wider than the window, which scrolls then.
        whole = self.window().width() - self.style().pixelMetric(QStyle.PixelMetric.PM_ScrollBarExtent)
        lanes = self.lanes.minimumWidth()
        if not self.compared_bar.isHidden():
            lanes = max(lanes, self.compared_bar.minimumSizeHint().width())
        return whole - self.story.minimumWidth() - lanes
