"""After a program that did not end as it should: what was being written is offered again."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QObject, Qt, Slot
from PySide6.QtWidgets import QMessageBox, QWidget

from debrief.gui.background.drafts import LeftDraft, left_drafts
from debrief.gui.importing.importer import Importer
from debrief.gui.notes.notes_panel import NotesPanel
from debrief.gui.plain_text import entry, shortened
from debrief.gui.profiles.profile_editing import ProfileEditing
from debrief.gui.shell.open_jobs import Desk
from debrief.gui.widgets.message_bar import MessageBar
from debrief.session.session import Session

_MOST_LISTED = 5


class Unsaved(QObject):
    """Asks once, and brings back: a profile into the editor, a note into its dialog over its recording, columns into theirs.

    Answers about columns are offered there as well, whenever a file of their kind is asked about.
    """

    def __init__(
        self,
        window: QWidget,
        desk: Desk,
        notes: NotesPanel,
        editing: ProfileEditing,
        importer: Importer,
        messages: MessageBar,
    ) -> None:
        super().__init__(window)
        self._window = window
        self._desk = desk
        self._notes = notes
        self._editing = editing
        self._importer = importer
        self._messages = messages
        self._left: list[LeftDraft] = []
        self._waiting: list[LeftDraft] = []
        desk.opened.connect(self._opened)

    def offer(self) -> None:
        """Ask what becomes of what was left; Escape leaves it for the next time."""
        self._left = left_drafts()
        if not self._left:
            return
        box = QMessageBox(self._window)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
        box.setWindowTitle("Not saved")
        box.setTextFormat(Qt.TextFormat.PlainText)
        lines = [_words(one) for one in self._left]
        if len(lines) > _MOST_LISTED:
            lines[_MOST_LISTED:] = [f"and {len(lines) - _MOST_LISTED} more"]
        box.setText("\n".join(["The program ended before this was saved:", "", *lines]))
        back = box.addButton("&Bring back", QMessageBox.ButtonRole.AcceptRole)
        back.clicked.connect(self._bring_back)
        box.addButton("&Discard", QMessageBox.ButtonRole.DestructiveRole).clicked.connect(self._discard)
        later = box.addButton("&Later", QMessageBox.ButtonRole.RejectRole)
        later.clicked.connect(self._later)
        box.setDefaultButton(back)
        box.setEscapeButton(later)
        box.open()

    @Slot()
    def _later(self) -> None:
        for one in self._left:
            one.let_be()
        self._left = []

    @Slot()
    def _discard(self) -> None:
        for one in self._left:
            one.remove()
        self._left = []

    @Slot()
    def _bring_back(self) -> None:
        left, self._left = self._left, []
        profiles = [one for one in left if one.kind == "profile"]
        self._waiting = [one for one in left if one.kind == "note"]
        # The editor holds one profile, the table one recording: the others are offered the next time.
        for one in profiles[:1]:
            if self._editing.bring_back(one.text("path"), one.text("text")):
                one.remove()
            else:
                one.let_be()
        columns = [one for one in left if one.kind == "columns"]
        for one in (*profiles[1:], *self._waiting[1:], *columns):
            one.let_be()
        self._waiting = self._waiting[:1]
        for one in self._waiting:
            path = one.text("path")
            if Path(path).is_file():
                self._desk.open(Path(path))
            else:
                words = (
                    f"{Path(path).name} is not there any more; the note on it can be copied from the details."
                )
                self._messages.tell(words, True, one.text("text"))
                one.let_be()
                self._waiting = []
        path_of_columns = Path(columns[-1].text("path")) if columns and not self._waiting else None
        if path_of_columns is not None and path_of_columns.is_file():
            self._importer.bring_back(path_of_columns)
            self._desk.open(path_of_columns)

    @Slot(object)
    def _opened(self, session: Session) -> None:
        waiting, self._waiting = self._waiting, []
        for one in waiting:
            if str(session.path.resolve()) != one.text("path"):
                one.let_be()
                continue
            time_s = one.values.get("time_s")
            self._notes.bring_back(
                one.text("text"),
                one.text("author"),
                float(time_s) if isinstance(time_s, int | float) else None,
                one.text("event_kind") or None,
            )
            one.remove()


def _words(one: LeftDraft) -> str:
    name = entry(Path(one.text("path")).name)
    if one.kind == "profile":
        return f"Engine profile: {name or 'a new one'}"
    if one.kind == "columns":
        return f"Columns of {name}"
    said = shortened(entry(one.text("text")), 60)
    return f"Note on {name}: {said}"
