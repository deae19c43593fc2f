"""The dialogs that explain: why, the keys, what this program is."""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt, Signal, Slot
from PySide6.QtWidgets import QWidget

from debrief.analysis.model import Start
from debrief.gui.help.why import TextDialog, WhyDialog
from debrief.gui.lanes.time_above_panel import TimeAbovePanel
from debrief.gui.menus.actions import keys_html
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.words.cautions import CAUTION


class Explaining(QObject):
    """Opens the dialogs over a window.

    Signals
    -------
    definition_wanted : str, str
        What a number of the evidence means: group and name of its definition.
    """

    definition_wanted = Signal(str, str)

    def __init__(self, replay: Replay, theme: Theme, window: QWidget) -> None:
        super().__init__(window)
        self._replay = replay
        self._theme = theme
        self._window = window

    @Slot()
    def show_why(self) -> None:
        """Show the evidence behind the findings."""
        session = self._replay.session
        if session is not None:
            self._open(WhyDialog(session, self._theme, self._window))

    @Slot(object, str)
    def show_measure(self, start: Start, name: str) -> None:
        """Show the evidence behind one measure of a start."""
        session = self._replay.session
        # A click may also count as an activation: one dialog is enough.
        if session is not None and self._window.findChild(WhyDialog) is None:
            self._open(WhyDialog(session, self._theme, self._window, of=(start, name)))

    def _open(self, dialog: WhyDialog) -> None:
        dialog.definition_wanted.connect(self.definition_wanted)
        dialog.definition_wanted.connect(dialog.close)
        dialog.open()

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
        self._say("Keys", keys_html())

    def _say(self, title: str, html: str) -> None:
        TextDialog(title, html, self._theme, parent=self._window).open()
