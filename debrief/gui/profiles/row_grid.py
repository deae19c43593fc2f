"""Rows of small fields, such as a table of limits: an empty row is always at hand, and an emptied one is gone."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QObject, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QGridLayout, QLineEdit, QWidget

from debrief.gui.background.guarded import guarded
from debrief.gui.profiles.undo_keys import leaves_undo
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.choice_boxes import ChoiceBox
from debrief.gui.widgets.labels import PlainLabel
from debrief.session.profiles.profile_cells import Row
from debrief.words.numbers import unit_words

MOST_ROWS = 30


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
    units : sequence of sequence of str
        For each of these rows the choices of the last column.

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
        units: Sequence[Sequence[str]] = (),
    ) -> None:
        super().__init__()
        self._name = name
        self._titles = tuple(titles)
        self._theme = theme
        self._labels = tuple(labels)
        self._units = units
        self._lines: list[list[QLineEdit]] = []
        self._boxes: list[ChoiceBox] = []
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(8)
        self._grid.setVerticalSpacing(4)
        self._headings = list(self._titles)
        for column, title in enumerate(self._titles):
            label = PlainLabel(title, role="small")
            self._grid.addWidget(label, 0, column + 1)
            self._grid.setColumnStretch(column + 1, 1)
        for _ in range(len(self._labels) or 1):
            self._add_row()
        self.setFocusProxy(self._lines[0][0])

    @property
    def rows(self) -> tuple[Row, ...]:
        """The texts; without the empty rows, unless each row has its own label."""
        found = tuple(tuple(cell.text() for cell in row) for row in self._lines)
        if self._boxes:
            found = tuple((*row, self._boxes[n].currentData() or "") for n, row in enumerate(found))
            typed = any(cell.strip() for row in found for cell in row)
            return found if typed else ()
        return tuple(row for row in found if any(cell.strip() for cell in row))

    def show_rows(self, rows: Sequence[Row]) -> None:
        """Show other texts; fields that have theirs already stay as they are."""
        if not self._labels:
            while len(self._lines) < min(len(rows) + 1, MOST_ROWS):
                self._add_row()
            while len(self._lines) > max(len(rows) + 1, 1):
                self._drop_row()
        for number, lines in enumerate(self._lines):
            texts = rows[number] if number < len(rows) else ("",) * len(self._titles)
            for line, text in zip(lines, texts, strict=False):
                if line.text() != text:
                    line.setText(text)
            if self._boxes:
                box = self._boxes[number]
                box.blockSignals(True)
                box.setCurrentIndex(max(0, box.findData(texts[-1])))
                box.blockSignals(False)

    def _add_row(self) -> None:
        number = len(self._lines)
        row = number + 1
        label = self._labels[number] if self._labels else str(row)
        heading = PlainLabel(label, role="" if self._labels else "muted")
        self._grid.addWidget(heading, row, 0)
        if self.isVisible():
            heading.show()
        spoken = label if self._labels else f"row {row}"
        count = len(self._titles) - (1 if self._units else 0)
        lines: list[QLineEdit] = []
        for column in range(count):
            line = QLineEdit()
            line.setAccessibleName(f"{self._name}, {spoken}, {self._titles[column].lower()}")
            line.textEdited.connect(self._edited)
            line.installEventFilter(self)
            self._grid.addWidget(line, row, column + 1)
            before = lines[-1] if lines else self._lines[-1][-1] if self._lines else None
            if before is not None:
                # One that comes later would else be the last of the whole window.
                QWidget.setTabOrder(before, line)
            if self.isVisible():
                line.show()
            lines.append(line)
        self._lines.append(lines)
        if self._units:
            box = ChoiceBox(self._theme)
            for place, unit in enumerate(self._units[number]):
                # The first is what is meant where nothing is chosen.
                box.addItem(unit_words(unit), unit if place else "")
            box.setAccessibleName(f"{self._name}, {spoken}, unit")
            box.currentIndexChanged.connect(self._edited)
            self._grid.addWidget(box, row, count + 1)
            self._boxes.append(box)

    def _drop_row(self) -> None:
        lines = self._lines.pop()
        row = len(self._lines) + 1
        label = self._grid.itemAtPosition(row, 0)
        for widget in (label.widget() if label is not None else None, *lines):
            if widget is not None:
                self._grid.removeWidget(widget)
                widget.hide()
                widget.deleteLater()

    @Slot()
    def _edited(self) -> None:
        if not self._labels and len(self._lines) < MOST_ROWS and any(one.text() for one in self._lines[-1]):
            self._add_row()
        self.edited.emit()

    @guarded(False)
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Up and down go to the row above and below."""
        if leaves_undo(event):
            return True
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            step = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}.get(Qt.Key(event.key()))
            if step is not None:
                for number, lines in enumerate(self._lines):
                    if watched in lines and 0 <= number + step < len(self._lines):
                        self._lines[number + step][lines.index(watched)].setFocus()
                        return True
        return False
