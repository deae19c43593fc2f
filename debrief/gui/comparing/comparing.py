"""Comparing starts in the window: asks which, reads other recordings, and says what happened."""

from __future__ import annotations

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtWidgets import QWidget

from debrief.gui.comparing.choices import Choices
from debrief.gui.comparing.other_recordings import OtherRecordings
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.asking import Asker

NO_START = "This recording has no start to compare."


class Comparing(QObject):
    """Puts the parts of comparing together for the window.

    Signals
    -------
    told : str, bool, str
        A sentence for the user, whether it is a problem, and details to copy.
    progressed : Progress or None
        Of another recording that is read; None when it has ended.
    """

    told = Signal(str, bool, str)
    progressed = Signal(object)

    def __init__(self, replay: Replay, theme: Theme, ask: Asker, window: QWidget) -> None:
        super().__init__(window)
        self._replay = replay
        self._theme = theme
        self._ask = ask
        self._window = window
        self._others = OtherRecordings(self)
        self.jobs = self._others.jobs
        self._choices = Choices(replay, self._others, self)
        self._others.told.connect(self.told)
        self._others.progressed.connect(self.progressed)
        replay.comparison.told.connect(self._tell)

    @Slot()
    def choose(self) -> None:
        """Ask which start is compared with the one at the playhead."""
        from debrief.gui.comparing.compare_dialog import CompareDialog

        session = self._replay.session
        if session is None:
            return
        if not session.assessment.starts:
            self._tell(NO_START)
            return
        self._replay.pause()
        dialog = CompareDialog(self._replay, self._choices, self._theme, self._window)
        dialog.file_wanted.connect(self.ask_file)
        dialog.open()

    @Slot()
    def ask_file(self) -> None:
        """Ask for another recording, and lay its start behind."""
        session = self._replay.session
        if session is not None:
            self._ask(self._window, str(session.path.parent), self._choices.read)

    @Slot()
    def cancel(self) -> None:
        """Stop reading another recording."""
        self._others.cancel()

    def close(self) -> None:
        """Stop everything and wait for it."""
        self._others.close()

    @Slot(str)
    def _tell(self, words: str) -> None:
        self.told.emit(words, False, "")
