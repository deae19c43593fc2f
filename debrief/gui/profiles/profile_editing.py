"""The profile editor and the wizard beside the window: one of each at a time, never closed over unsaved changes."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

from PySide6.QtCore import QObject, Qt, Signal, Slot
from PySide6.QtWidgets import QWidget
from shiboken6 import isValid

from debrief.analysis.model import TimeAbove
from debrief.errors import UserError
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.asking import Askers

if TYPE_CHECKING:
    from debrief.gui.importing.import_dialog import ImportDialog
    from debrief.gui.profiles.profile_editor import ProfileEditor
    from debrief.gui.profiles.profile_wizard import ProfileWizard

_Window = TypeVar("_Window", bound=QWidget)


class ProfileEditing(QObject):
    """Opens the editor on the profile in use, else on an empty one; and the wizard that makes a new one.

    Signals
    -------
    use_wanted : str
        Path of a saved profile that the open recording is to be assessed with.
    told : str, bool
        A sentence for the user, and whether it is a problem.
    """

    use_wanted = Signal(str)
    told = Signal(str, bool)

    def __init__(self, replay: Replay, theme: Theme, askers: Askers, window: QWidget) -> None:
        super().__init__(window)
        self._replay = replay
        self._theme = theme
        self._askers = askers
        self._window = window
        self._editor: ProfileEditor | None = None
        self._wizard: ProfileWizard | None = None

    @property
    def editor(self) -> ProfileEditor | None:
        """The editor, while it is open."""
        return _open(self._editor)

    @property
    def wizard(self) -> ProfileWizard | None:
        """The wizard, while it is open."""
        return _open(self._wizard)

    @Slot()
    def show(self) -> None:
        """Bring the editor to the front."""
        from debrief.gui.profiles.profile_editor import ProfileEditor

        editor = self.editor
        if editor is None:
            editor = self._editor = ProfileEditor(
                self._theme, self._window, self._askers, self._start_behind()
            )
            session = self._replay.session
            if session is not None and session.profile is not None and session.profile.path:
                editor.open_path(session.profile.path)
            editor.use_wanted.connect(self.use_wanted)
            editor.show()
        editor.activateWindow()

    def bring_back(self, path: str, text: str) -> bool:
        """Go on with a profile that was not saved; return whether it could be shown."""
        self.show()
        try:
            if self._editor is not None:
                self._editor.bring_back(path, text)
        except UserError as error:
            self.told.emit(str(error), True)
            return False
        return True

    @Slot()
    def make_new(self) -> None:
        """Make a profile, which the open recording is assessed with as soon as it is finished."""
        wizard = self.wizard
        if wizard is None:
            wizard = self._made_wizard(self._window, self._replay.session is not None)
            wizard.saved.connect(self._finished)
            wizard.show()
        wizard.activateWindow()

    @Slot(object)
    def make_new_for(self, dialog: ImportDialog) -> None:
        """Make a profile for the file that is about to be opened: it is chosen there."""
        wizard = self._made_wizard(dialog, False)
        wizard.setWindowModality(Qt.WindowModality.WindowModal)
        wizard.saved.connect(dialog.fields.take_profile)
        wizard.show()

    def _made_wizard(self, parent: QWidget, is_used: bool) -> ProfileWizard:
        from debrief.gui.profiles.profile_wizard import ProfileWizard

        self._wizard = ProfileWizard(self._theme, parent, self._start_behind(), is_used)
        return self._wizard

    def _start_behind(self) -> TimeAbove | None:
        """Return the time above each temperature of the start that is looked at, else of the first that has any."""
        session = self._replay.session
        if session is None:
            return None
        step = session.story[session.selected] if session.selected is not None else None
        starts = [one for one in session.assessment.starts if one.time_above is not None]
        chosen = [one for one in starts if step is not None and one.number == step.start_number]
        return next((one.time_above for one in (*chosen, *starts)), None)

    @Slot(str)
    def _finished(self, path: str) -> None:
        if self._replay.session is not None:
            self.use_wanted.emit(path)
        else:
            self.told.emit(f"Saved: {path}. It is offered wherever a profile is chosen.", False)

    def may_close(self) -> bool:
        """Return whether the window may close; what has unsaved changes asks first."""
        for one in (self.wizard, self.editor):
            if one is not None:
                one.close()
        return self.wizard is None and self.editor is None


def _open(window: _Window | None) -> _Window | None:
    return window if window is not None and isValid(window) and window.isVisible() else None
