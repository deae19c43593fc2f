"""The profile editor beside the window: one at a time, and never closed over unsaved changes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtWidgets import QWidget
from shiboken6 import isValid

from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.asking import Askers

if TYPE_CHECKING:
    from debrief.gui.profiles.profile_editor import ProfileEditor


class ProfileEditing(QObject):
    """Opens the editor on the profile in use, else on an empty one.

    Signals
    -------
    use_wanted : str
        Path of a saved profile that the open recording is to be assessed with.
    """

    use_wanted = Signal(str)

    def __init__(self, replay: Replay, theme: Theme, askers: Askers, window: QWidget) -> None:
        super().__init__(window)
        self._replay = replay
        self._theme = theme
        self._askers = askers
        self._window = window
        self._editor: ProfileEditor | None = None

    @property
    def editor(self) -> ProfileEditor | None:
        """The editor, while it is open."""
        editor = self._editor
        return editor if editor is not None and isValid(editor) and editor.isVisible() else None

    @Slot()
    def show(self) -> None:
        """Bring the editor to the front."""
        from debrief.gui.profiles.profile_editor import ProfileEditor

        editor = self.editor
        if editor is None:
            editor = self._editor = ProfileEditor(self._theme, self._window, self._askers)
            session = self._replay.session
            if session is not None and session.profile is not None and session.profile.path:
                editor.open_path(session.profile.path)
            editor.use_wanted.connect(self.use_wanted)
            editor.show()
        editor.activateWindow()

    def may_close(self) -> bool:
        """Return whether the window may close; an editor with unsaved changes asks first."""
        editor = self.editor
        if editor is None:
            return True
        editor.close()
        return self.editor is None
