"""What is answered in the import dialog outlives the program: kept while one answers, and offered again."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtWidgets import QWidget

from debrief.gui.background.drafts import Draft, LeftDraft, left_drafts
from debrief.gui.plain_text import entry
from debrief.gui.widgets.labels import WrappedLabel
from debrief.gui.widgets.parts import made_button, row_layout
from debrief.session.importing.form_state import form_state, put_back
from debrief.session.importing.import_form import ImportForm


def left_for(signature: str) -> LeftDraft | None:
    """Return the answers that were left last for files with this header; the others stay for their time."""
    found = None
    for one in left_drafts():
        if one.kind == "columns" and one.text("signature") == signature:
            if found is not None:
                found.let_be()
            found = one
        else:
            one.let_be()
    return found


class LeftRow(QWidget):
    """Says at the top of the dialog that answers were left.

    Signals
    -------
    back_wanted
        They are to stand in the dialog again.
    discard_wanted
        They are not wanted any more.
    """

    back_wanted = Signal()
    discard_wanted = Signal()

    def __init__(self, path: str, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        row = row_layout(self, margins=(10, 6, 10, 6), spacing=6)
        words = f"The program ended before the columns of {entry(Path(path).name)} were opened."
        row.addWidget(WrappedLabel(words), 1)
        tip = "Enters what was answered then"
        self._back = made_button("&Bring back", self.back_wanted, name=tip, tip=tip)
        row.addWidget(self._back)
        tip = "Removes what was answered then"
        row.addWidget(made_button("&Discard", self.discard_wanted, name=tip, tip=tip))

    def take_focus(self) -> None:
        """Begin with it."""
        self._back.setFocus()


class KeptAnswers(QObject):
    """The answers of one dialog, kept while they are given, and those that were left before.

    Signals
    -------
    brought_back
        The form holds what was left.
    """

    brought_back = Signal()

    def __init__(self, form: ImportForm, left: LeftDraft | None, parent: QObject) -> None:
        super().__init__(parent)
        self._form = form
        self._left = left
        self._at_first = form.held
        self._draft = Draft("columns", self._unfinished, self)
        self._is_put_off = False
        self.row: LeftRow | None = None

    def touch(self) -> None:
        """Have the answers kept soon."""
        self._draft.touch()

    @property
    def is_touched(self) -> bool:
        """Whether anything was answered."""
        return self._form.held != self._at_first

    def _unfinished(self) -> Mapping[str, object] | None:
        return form_state(self._form) if self.is_touched else None

    def make_row(self) -> LeftRow | None:
        """Return what offers the answers that were left; None where there are none."""
        if self._left is not None:
            self.row = LeftRow(self._left.text("path"))
            self.row.back_wanted.connect(self.bring_back)
            self.row.discard_wanted.connect(self._discard)
        return self.row

    @Slot()
    def bring_back(self) -> None:
        """Let the form hold again what was left."""
        if self._left is not None:
            put_back(self._form, self._left.values)
            self._draft.keep()  # under its own name, before the other is removed
            self._discard()
            self.brought_back.emit()

    @Slot()
    def _discard(self) -> None:
        if self._left is not None:
            self._left.remove()
            self._left = None
        if self.row is not None:
            self.row.hide()
            self.row = None

    def put_off(self) -> None:
        """Have what was answered offered the next time, since the program ends."""
        self._draft.put_off()
        self._is_put_off = True

    def end(self) -> None:
        """Keep nothing of the answers, which were taken or given up; leave what was left before and not looked at."""
        if not self._is_put_off:
            self._draft.end()
        if self._left is not None:
            self._left.let_be()
            self._left = None
