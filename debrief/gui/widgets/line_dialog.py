"""A dialog for one line of text that stays open, with the reason, until the answer can be used."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QLineEdit, QWidget

from debrief.errors import UserError
from debrief.gui.background.guarded import guarded
from debrief.gui.widgets.labels import PlainLabel
from debrief.gui.widgets.parts import column_layout, restyle


class LineDialog(QDialog):
    """Asks for a line of text.

    Parameters
    ----------
    parent : QWidget
    title, words : str
        Of the window, and the question.
    understood : callable
        Returns in words what an answer means, shown while it is typed.

        Raises ``UserError`` for one that cannot be used: it is shown, and the dialog stays.

    Signals
    -------
    answered : str
        The answer, which can be used.
    """

    answered = Signal(str)

    def __init__(self, parent: QWidget, title: str, words: str, understood: Callable[[str], str]) -> None:
        super().__init__(parent)
        self._understood = understood
        self.setWindowTitle(title)
        self.line = QLineEdit()
        self.line.setAccessibleName(title)
        self.told = PlainLabel(" ", role="muted", wraps=True)
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        column = column_layout(self, margins=(18, 16, 18, 14), spacing=10)
        question = PlainLabel(words, wraps=True)
        question.setMinimumWidth(440)
        # Room for a reason of two lines, so that nothing moves when it comes.
        self.told.setMinimumHeight(2 * self.fontMetrics().lineSpacing() + 6)
        for part in (question, self.line, self.told, buttons):
            column.addWidget(part)
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        self.line.textEdited.connect(self._typed)

    @Slot(str)
    def _typed(self, text: str) -> None:
        try:
            self._tell(self._understood(text), problem=False)
        except UserError:
            self._tell(" ", problem=False)  # half typed: no reproach before Enter

    def _tell(self, words: str, *, problem: bool) -> None:
        restyle(self.told, "role", "problem" if problem else "muted")
        self.told.setText(words)
        self.adjustSize()

    @guarded()
    def accept(self) -> None:
        """Take the answer, or say why not and stay."""
        try:
            self._understood(self.line.text())
        except UserError as error:
            self._tell(str(error), problem=True)
            self.line.setFocus()
            self.line.selectAll()
            return
        super().accept()
        self.answered.emit(self.line.text())
