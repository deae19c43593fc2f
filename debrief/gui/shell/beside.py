"""The place of the panel: beside the pages, behind a border that can be moved."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QSplitter, QWidget

from debrief.analysis.model import Start
from debrief.gui.background.guarded import guarded
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.shell.replay_page import ReplayPage
from debrief.gui.shell.views import Views
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme

if TYPE_CHECKING:
    from debrief.gui.why.panel import WhyPanel

_BESIDE = ("replay", "starts", "flight", "report")
_WIDE_PAGE = 1150
"""A replay page of this width, [px at the usual text], has room for lanes and gauges; a narrower one gives the gauges'."""


_WITH_STORY = 1240
"""A window of this width, [px at the usual text], has room for story, lanes and panel."""


class Beside(QSplitter):
    """Holds the pages and, while it is open, the panel that explains; the panel is made when it is first wanted.

    Signals
    -------
    definition_wanted : str, str
        Group and name of an entry of the page of definitions.
    command_wanted : str
        A command of the menus that settles what is open.
    broken : BaseException
        A fault of the program while something was tried.
    """

    definition_wanted = Signal(str, str)
    command_wanted = Signal(str)
    broken = Signal(object)

    def __init__(
        self, views: Views, page: ReplayPage, replay: Replay, settings: Settings, theme: Theme
    ) -> None:
        super().__init__(Qt.Orientation.Horizontal)
        self._views = views
        self._page = page
        self._replay = replay
        self._settings = settings
        self._theme = theme
        self._panel: WhyPanel | None = None
        self._is_open = False
        self.setChildrenCollapsible(False)
        self.addWidget(views)
        self.setStretchFactor(0, 1)
        views.changed.connect(self._follow)
        self.splitterMoved.connect(self._moved)
        theme.changed.connect(self._make_room)

    @Slot()
    def toggle(self) -> None:
        """Explain what is chosen, else the verdict; from inside the panel close it."""
        if self._panel is not None and self._panel.isVisible() and self._panel.holds_focus:
            self.close_panel()
            return
        panel = self._opened()
        if panel is not None:
            panel.explain_chosen()
            panel.take_focus()

    @Slot()
    def explain_verdict(self) -> None:
        """Explain the verdict."""
        panel = self._opened()
        if panel is not None:
            panel.explain_verdict()

    @Slot(object, str)
    def explain_measure(self, start: Start | None, name: str) -> None:
        """Explain a measure of a start, or without one of the flight."""
        panel = self._opened()
        if panel is not None:
            panel.explain_measure(start, name)

    @Slot()
    def explain_finding(self) -> None:
        """Explain the chosen finding."""
        panel = self._opened()
        if panel is not None:
            panel.explain_chosen()

    @Slot()
    def close_panel(self) -> None:
        """Give the room back to the page."""
        self._is_open = False
        had_focus = self._panel is not None and self._panel.holds_focus
        self._follow()
        if had_focus and self._views.view == "replay":
            self._page.lanes.setFocus()

    def _opened(self) -> WhyPanel | None:
        """Return the panel, open; None without a recording."""
        if self._replay.session is None:
            return None
        if self._panel is None:
            from debrief.gui.why.panel import WhyPanel

            panel = self._panel = WhyPanel(self._replay, self._page.lanes, self._theme)
            panel.definition_wanted.connect(self.definition_wanted)
            panel.command_wanted.connect(self.command_wanted)
            panel.close_wanted.connect(self.close_panel)
            panel.broken.connect(self.broken)
            panel.hide()
            self.addWidget(panel)
        self._is_open = True
        if self._views.view not in _BESIDE:
            self._views.show_replay()
        self._follow()
        return self._panel

    @Slot()
    def _follow(self) -> None:
        """Show the panel where it is open and the page is one that it explains."""
        panel = self._panel
        if panel is None:
            return
        seen = self._is_open and self._replay.session is not None and self._views.view in _BESIDE
        if not seen:
            panel.hide()
        elif panel.isHidden():
            wanted = self._theme.px(self._settings.why_width)
            self._give_room(wanted)
            panel.show()
            self.setSizes([max(self.width() - wanted, 1), wanted])
        self._make_room()

    @Slot()
    def _make_room(self) -> None:
        """Let gauges, and where text is large the story, give way where they and the panel have no room together."""
        if self._panel is None:
            return
        self._give_room(None if self._panel.isHidden() else self.sizes()[1])

    def _give_room(self, panel: int | None) -> None:
        """Show what there is room for beside a panel of this width, or beside none, [px]."""
        # Not the own width: with all of it shown this may be wider than the window, which scrolls then.
        whole, px = self.window().width(), self._theme.px
        is_free = panel is None
        self._page.make_room(
            gauges=is_free or whole - (panel or 0) >= px(_WIDE_PAGE),
            story=is_free or whole >= px(_WITH_STORY),
        )

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Follow the window."""
        super().resizeEvent(event)
        self._make_room()

    @Slot(int, int)
    def _moved(self, place: int, index: int) -> None:
        self._settings.why_width = round(self.sizes()[1] / self._theme.scale)
        self._make_room()

    @guarded()
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Close the panel with Escape, wherever the key was not wanted for anything else."""
        if event.key() == Qt.Key.Key_Escape and self._panel is not None and self._panel.isVisible():
            if not self._panel.leave():
                self.close_panel()
            return
        super().keyPressEvent(event)

    def close_jobs(self) -> None:
        """End what is worked out in the background."""
        if self._panel is not None:
            self._panel.close_jobs()

    @property
    def panel(self) -> QWidget | None:
        """The panel; None before it was first wanted."""
        return self._panel
