"""The menu of engine profiles: those that ship, the user's own, and any file."""

from __future__ import annotations

from PySide6.QtCore import Signal, Slot
from PySide6.QtGui import QAction, QCursor
from PySide6.QtWidgets import QMenu, QWidget

from debrief.gui.asking import Asker, ask_for_profile
from debrief.gui.replay import Replay


class ProfileMenu(QMenu):
    """Filled when it is opened, so that a profile added meanwhile is there.

    Signals
    -------
    profile_chosen : str
        Name or path of a profile.
    """

    profile_chosen = Signal(str)

    def __init__(self, replay: Replay, parent: QWidget, ask: Asker = ask_for_profile) -> None:
        super().__init__("Engine &profile", parent)
        self._replay = replay
        self._ask = ask
        self.aboutToShow.connect(self.fill)
        self.triggered.connect(self._triggered)

    @Slot()
    def fill(self) -> None:
        """List the profiles that there are; the one in use is ticked."""
        from debrief.profile.loader import available

        self.clear()
        session = self._replay.session
        current = session.profile.name if session is not None and session.profile is not None else None
        for stem, name in available():
            action = self.addAction(name)
            action.setData(stem)
            action.setCheckable(True)
            action.setChecked(name == current)
        self.addSeparator()
        self.addAction("From a &file...").setData("")

    @Slot()
    def offer(self) -> None:
        """Open the menu where the mouse is."""
        self.popup(QCursor.pos())

    @Slot(QAction)
    def _triggered(self, action: QAction) -> None:
        if action.data():
            self.profile_chosen.emit(str(action.data()))
            return
        parent = self.parentWidget()
        if parent is not None:
            self._ask(parent, "", self.profile_chosen.emit)
