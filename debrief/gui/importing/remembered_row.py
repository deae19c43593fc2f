"""What is remembered for a kind of file, at the top of the import dialog: said, offered, and forgotten."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QWidget

from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import PlainLabel, WrappedLabel
from debrief.gui.widgets.parts import made_button, row_layout
from debrief.session.importing.import_form import ImportForm
from debrief.session.importing.remembered_words import remembered_words

STATE_WORDS = {"open": "To answer", "proposed": "Proposed", "settled": "Settled", "forgotten": "Forgotten"}
"""How far something in the list of questions is answered."""


def state_mark() -> PlainLabel:
    """Return a label that has room for each of the words, so that nothing moves with them."""
    mark = PlainLabel("", role="small")
    mark.setFixedWidth(max(map(mark.fontMetrics().horizontalAdvance, STATE_WORDS.values())) + 4)
    mark.setAlignment(Qt.AlignmentFlag.AlignTop)
    return mark


class RememberedRow(QWidget):
    """What is remembered and since when; profile, aircraft and engine are offered where nobody names them.

    Signals
    -------
    answered : str
        The form has taken the offer, or not.
    forget_wanted
        It is to be forgotten.
    """

    answered = Signal(str)
    forget_wanted = Signal()

    def __init__(self, form: ImportForm, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._form = form
        self._is_forgotten = False
        self._is_offer = form.proposal.offer.names_an_engine
        row = row_layout(self, margins=(0, 0, 0, 0), spacing=6)
        self._mark = state_mark()
        self._mark.setAlignment(Qt.AlignmentFlag.AlignVCenter)
        row.addWidget(self._mark)
        words = remembered_words(form.proposal.kept, dict(form.proposal.profiles))
        self._label = WrappedLabel(f"{words} The same engine again?" if self._is_offer else words)
        row.addWidget(self._label, 1)
        tip = "Enters profile, aircraft and engine as they are remembered"
        self._use = made_button("Use them", self._taken, name=tip, tip=tip, checkable=True)
        tip = "Leaves profile, aircraft and engine as they are below"
        self._other = made_button("Not this time", self._declined, name=tip, tip=tip, checkable=True)
        tip = "Forgets all that is remembered for this kind of file"
        self._forget = made_button("Forget", self.forget_wanted, name=tip, tip=tip)
        for button in (self._use, self._other, self._forget):
            button.setVisible(self._is_offer or button is self._forget)
            row.addWidget(button)
        self.show_form()

    def focus_first(self) -> bool:
        """Give the focus to the offer; return whether there is one."""
        if self._is_offer:
            self._use.setFocus()
        return self._is_offer

    def show_form(self) -> None:
        """Show whether the offer is taken."""
        taken, declined = self._form.is_offer_taken, self._form.is_offer_declined
        self._use.setChecked(taken)
        self._other.setChecked(declined and not taken)
        state = "forgotten" if self._is_forgotten else "settled" if taken or declined else "open"
        words = STATE_WORDS[state] if self._is_offer or self._is_forgotten else ""
        self._mark.setText(words)
        self._label.setAccessibleName(f"{words}: {self._label.text()}" if words else self._label.text())

    def tell_forgotten(self) -> None:
        """Show that it is forgotten; what was entered of it stays."""
        self._is_forgotten = True
        self._forget.setEnabled(False)
        self.show_form()

    @Slot()
    def _taken(self) -> None:
        if self._form.is_offer_taken:
            self._form.decline_offer()
        else:
            self._form.take_offer()
        self.answered.emit("")

    @Slot()
    def _declined(self) -> None:
        self._form.decline_offer()
        self.answered.emit("")
