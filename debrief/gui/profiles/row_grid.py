"""Rows of small fields, such as a table of limits: an empty row is always at hand, and an emptied one is gone."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QEvent, QObject, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QGridLayout, QLineEdit, QWidget

from debrief.gui.background.guarded import guarded
from debrief.gui.plain_text import entry
from debrief.gui.profiles.undo_keys import leaves_undo
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.choice_boxes import ChoiceBox
from debrief.gui.widgets.labels import PlainLabel
from debrief.profile.fields import MOST_ROWS
from debrief.session.profiles.profile_cells import Row
from debrief.session.profiles.profile_fields import choice_words


class RowGrid(QWidget):
    """A grid of fields with titles above.

    Parameters
    ----------
    name : str
        What a screen reader calls it.
    titles : sequence of str
        Of the columns.
    labels : sequence of str
        Of the rows, where there is a fixed number of them.
    choices : callable
        Returns for a row and a column what can be chosen there, as the file has it; None where one types. The first is
        what is meant where nothing is chosen.

    Signals
    -------
    edited
        A person has changed it.
    """

    edited = Signal()

    def __init__(
        self,
        name: str,
        titles: Sequence[str],
        theme: Theme,
        labels: Sequence[str] = (),
        choices: Callable[[int, int], Sequence[str] | None] = lambda row, column: None,
    ) -> None:
        super().__init__()
        self._name = name
        self._titles = tuple(titles)
        self._theme = theme
        self._labels = tuple(labels)
        self._choices = choices
        self._cells: list[list[QLineEdit | ChoiceBox]] = []
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(8)
        self._grid.setVerticalSpacing(4)
        for column, title in enumerate(self._titles):
            self._grid.addWidget(PlainLabel(title, role="small"), 0, column + 1)
            self._grid.setColumnStretch(column + 1, 1)
        for _ in range(len(self._labels) or 1):
            self._add_row()
        self.setFocusProxy(self._cells[0][0])

    @property
    def rows(self) -> tuple[Row, ...]:
        """The texts; without rows where nothing was typed, unless each row has its own label."""
        found = tuple(tuple(_text(cell) for cell in cells) for cells in self._cells)
        typed = [self._is_typed(cells) for cells in self._cells]
        if self._labels:
            return found if any(typed) else ()
        return tuple(row for row, is_typed in zip(found, typed, strict=True) if is_typed)

    def _is_typed(self, cells: Sequence[QLineEdit | ChoiceBox]) -> bool:
        """Return whether a row says something: what can only be chosen counts unless it is as at first."""
        return any(
            cell.text().strip()
            if isinstance(cell, QLineEdit)
            else not self._labels and cell.currentIndex() > 0
            for cell in cells
        )

    def show_rows(self, rows: Sequence[Row]) -> None:
        """Show other texts; fields that have theirs already stay as they are."""
        if not self._labels:
            while len(self._cells) < min(len(rows) + 1, MOST_ROWS):
                self._add_row()
            while len(self._cells) > max(len(rows) + 1, 1):
                self._drop_row()
        for number, cells in enumerate(self._cells):
            texts = rows[number] if number < len(rows) else ("",) * len(self._titles)
            for cell, text in zip(cells, texts, strict=False):
                if isinstance(cell, ChoiceBox):
                    _choose(cell, text)
                elif cell.text() != text:
                    cell.setText(text)

    def _add_row(self) -> None:
        number = len(self._cells)
        label = self._labels[number] if self._labels else str(number + 1)
        heading = PlainLabel(label, role="" if self._labels else "muted")
        self._grid.addWidget(heading, number + 1, 0)
        spoken = label if self._labels else f"row {number + 1}"
        cells: list[QLineEdit | ChoiceBox] = []
        for column, title in enumerate(self._titles):
            cell = self._made_cell(number, column)
            cell.setAccessibleName(f"{self._name}, {spoken}, {title.lower()}")
            cell.installEventFilter(self)
            self._grid.addWidget(cell, number + 1, column + 1)
            before = cells[-1] if cells else self._cells[-1][-1] if self._cells else None
            if before is not None:
                # One that comes later would else be the last of the whole window.
                QWidget.setTabOrder(before, cell)
            cells.append(cell)
        self._cells.append(cells)
        if self.isVisible():
            for widget in (heading, *cells):
                widget.show()

    def _made_cell(self, row: int, column: int) -> QLineEdit | ChoiceBox:
        choices = self._choices(row, column)
        if choices is None:
            line = QLineEdit()
            line.textEdited.connect(self._edited)
            return line
        box = ChoiceBox(self._theme)
        box.may_shrink(4)
        for choice in choices:
            box.addItem(choice_words(choice) if choice else "", choice)
        box.currentIndexChanged.connect(self._edited)
        return box

    def _drop_row(self) -> None:
        cells = self._cells.pop()
        label = self._grid.itemAtPosition(len(self._cells) + 1, 0)
        for widget in (label.widget() if label is not None else None, *cells):
            if widget is not None:
                self._grid.removeWidget(widget)
                widget.hide()
                widget.deleteLater()

    @Slot()
    def _edited(self) -> None:
        if not self._labels and len(self._cells) < MOST_ROWS and self._is_typed(self._cells[-1]):
            self._add_row()
        self.edited.emit()

    @guarded(False)
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Up and down go to the row above and below; the keys of undo are left to the window."""
        if leaves_undo(event):
            return True
        if (
            event.type() == QEvent.Type.KeyPress
            and isinstance(event, QKeyEvent)
            and isinstance(watched, QLineEdit)
        ):
            step = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}.get(Qt.Key(event.key()))
            if step is not None:
                for number, cells in enumerate(self._cells):
                    if watched in cells and 0 <= number + step < len(self._cells):
                        self._cells[number + step][cells.index(watched)].setFocus()
                        return True
        return False


def _text(cell: QLineEdit | ChoiceBox) -> str:
    return cell.text() if isinstance(cell, QLineEdit) else str(cell.currentData() or "")


def _choose(box: ChoiceBox, text: str) -> None:
    box.blockSignals(True)
    if text and box.findData(text) < 0:
        box.addItem(entry(text), text)  # what the file has is shown, also where it is refused
    box.setCurrentIndex(max(0, box.findData(text)))
    box.blockSignals(False)
