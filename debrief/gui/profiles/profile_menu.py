"""The menu of engine profiles: those that ship, the user's own, and any file."""

from __future__ import annotations

from PySide6.QtCore import Signal, Slot
from PySide6.QtGui import QAction, QCursor
from PySide6.QtWidgets import QMenu, QWidget

from debrief.gui.plain_text import unmarked
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.widgets.asking import Asker, ask_for_profile
from debrief.profile.model import EngineProfile
from debrief.profile.naming import is_file_of, own_file


class ProfileMenu(QMenu):
    """Filled when it is opened, so that a profile added meanwhile is there.

    Signals
    -------
    profile_chosen : str
        Name or path of a profile.
    new_wanted
        A new profile is to be made.
    """

    profile_chosen = Signal(str)
    new_wanted = Signal()

    def __init__(self, replay: Replay, parent: QWidget, ask: Asker = ask_for_profile) -> None:
        super().__init__("Engine &profile", parent)
        self._replay = replay
        self._ask = ask
        self._new: QAction | None = None
        self.aboutToShow.connect(self.fill)
        self.triggered.connect(self._triggered)

    @Slot()
    def fill(self) -> None:
        """List the profiles that there are; the one in use is ticked."""
        from debrief.profile.loader import catalogue

        self.clear()
        session = self._replay.session
        current = None if session is None else session.profile
        found = False
        for stem, profile in catalogue():
            in_use = current is not None and _is_same(current, profile)
            self._offer(profile, stem, in_use)
            found = found or in_use
        if current is not None and current.path and not found:
            # From elsewhere: what is in use is always to be seen.
            self._offer(current, current.path, True)
        self.addSeparator()
        self.addAction("From a &file...").setData("")
        self._new = self.addAction("&New profile...")

    def _offer(self, profile: EngineProfile, data: str, in_use: bool) -> None:
        file = own_file(profile)
        action = self.addAction(unmarked(f"{profile.name}, from {file}" if file else profile.name))
        action.setData(data)
        action.setCheckable(True)
        action.setChecked(in_use)

    @Slot()
    def offer(self) -> None:
        """Open the menu where the mouse is."""
        self.popup(QCursor.pos())

    @Slot(QAction)
    def _triggered(self, action: QAction) -> None:
        if action is self._new:
            self.new_wanted.emit()
            return
        if action.data():
            self.profile_chosen.emit(str(action.data()))
            return
        parent = self.parentWidget()
        if parent is not None:
            self._ask(parent, "", self.profile_chosen.emit)


def _is_same(current: EngineProfile, profile: EngineProfile) -> bool:
    """Return whether both are of one file; a copy has its original's name, so that alone tells only without a file."""
    return is_file_of(current, profile.path) if current.path else current.name == profile.name
