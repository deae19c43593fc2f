"""The recordings that were opened last: one list, shown in the menu and on the start page."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtGui import QIcon
from PySide6.QtWidgets import QMenu, QWidget

from debrief.gui.plain_text import plain_tip, unmarked
from debrief.gui.style.settings import Settings
from debrief.gui.style.shapes import shape_icon
from debrief.gui.style.theme import Theme
from debrief.session.recent_files import RecentFile, recent_file, with_newest
from debrief.session.session import Session


class RecentFiles(QObject):
    """The list, remembered.

    Signals
    -------
    changed
        It is another one.
    """

    changed = Signal()

    def __init__(self, settings: Settings, parent: QObject) -> None:
        super().__init__(parent)
        self._settings = settings

    @property
    def files(self) -> tuple[RecentFile, ...]:
        """The recordings, newest first."""
        return self._settings.recent

    def add(self, session: Session) -> None:
        """Put the recording on the table on top, with its verdict as it is now."""
        self._settings.remember_folder("recordings", session.path)
        self._keep(with_newest(self.files, recent_file(session)))

    def remove(self, path: str) -> None:
        """Take one recording off the list; its file stays."""
        self._keep(tuple(one for one in self.files if one.path != path))

    @Slot()
    def clear(self) -> None:
        """Take all off the list; the files stay."""
        self._keep(())

    def _keep(self, files: tuple[RecentFile, ...]) -> None:
        self._settings.recent = files
        self.changed.emit()


def sign_icon(file: RecentFile, is_there: bool, theme: Theme) -> QIcon:
    """Return the sign of a recording's verdict; of the same size and empty where it has none."""
    spec = file.finding if is_there else None
    return shape_icon("heading" if spec is None or spec.sign is None else spec.sign, theme)


class RecentMenu(QMenu):
    """Filled when it is opened: then it is looked whether the files are there.

    Signals
    -------
    file_wanted : str
        Open this recording, which may be missing.
    """

    file_wanted = Signal(str)

    def __init__(self, recent: RecentFiles, theme: Theme, parent: QWidget) -> None:
        super().__init__("Recen&t", parent)
        self._recent = recent
        self._theme = theme
        self.setToolTipsVisible(True)
        self.aboutToShow.connect(self.fill)
        recent.changed.connect(self._follow)
        self._follow()

    @Slot()
    def _follow(self) -> None:
        self.setEnabled(bool(self._recent.files))

    @Slot()
    def fill(self) -> None:
        """List the recordings; the first nine and the tenth have a digit as their key."""
        self.clear()
        for number, file in enumerate(self._recent.files, 1):
            there = file.is_there
            action = self.addAction(f"&{number % 10}  {unmarked(file.words(there))}")
            action.setIcon(sign_icon(file, there, self._theme))
            action.setToolTip(plain_tip(file.path))
            action.triggered.connect(partial(self.file_wanted.emit, file.path))
        self.addSeparator()
        self.addAction("C&lear the list", self._recent.clear)
