"""The dialogs over the window: time above a level, the keys, what this program is."""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt, Slot
from PySide6.QtWidgets import QMainWindow

from debrief.gui.help.text_dialog import TextDialog
from debrief.gui.lanes.time_above_panel import TimeAbovePanel
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.words.cautions import CAUTION


class Explaining(QObject):
    """Opens the dialogs over a window."""

    def __init__(self, replay: Replay, theme: Theme, window: QMainWindow) -> None:
        super().__init__(window)
        self._replay = replay
        self._theme = theme
        self._window = window

    @Slot(str)
    def show_time_above(self, channel: str) -> None:
        """Ask for a level, and say how long this channel was above it; ITT where none is named."""
        if self._replay.session is not None:
            panel = TimeAbovePanel(self._replay, self._theme, channel or "itt", self._window)
            panel.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
            panel.show()

    @Slot()
    def show_about(self) -> None:
        """Say what the program is."""
        from debrief import __version__

        self._say("Turbine Debrief", f"<p>Turbine Debrief {__version__}</p><p>{CAUTION}</p>")

    @Slot()
    def show_keys(self) -> None:
        """List the keys."""
        from debrief.gui.help.keys_dialog import KeysDialog

        KeysDialog(self._window, self._theme).open()

    def _say(self, title: str, html: str) -> None:
        TextDialog(title, html, self._theme, parent=self._window).open()
