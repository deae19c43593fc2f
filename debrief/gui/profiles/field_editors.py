"""One small editor for each kind of field of a profile; all tell what a person made of it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QHBoxLayout,
    QHeaderView,
    QLineEdit,
    QPlainTextEdit,
    QSizePolicy,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

from debrief.gui.plain_text import plain_tip
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.cells import PlainCells
from debrief.gui.widgets.parts import column_layout, made_button
from debrief.session.profiles.profile_fields import Field
from debrief.session.profiles.profile_form import Value

NOT_GIVEN = "not given"


class FieldEditor(QWidget):
    """Holds the widget of one field.

    Signals
    -------
    edited
        A person has changed it.
    """

    edited = Signal()

    def __init__(self, field: Field, value: Value, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.field = field
        # What is left over goes below the last field, not between them.
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Maximum)
        column = column_layout(self, margins=(0, 0, 0, 0), spacing=4)
        self._read: Callable[[], Value]
        self.widget: QWidget
        if field.kind == "flag":
            self._make_flag(bool(value))
        elif field.kind == "choice":
            self._make_choice(str(value))
        elif field.kind == "long_text":
            self._make_long(str(value), theme)
        elif field.kind == "rows":
            self._make_rows(value if isinstance(value, tuple) else (), theme)
        else:
            self._make_line(str(value))
        self.widget.setAccessibleName(field.title)
        self.widget.setAccessibleDescription(field.hint)
        self.widget.setToolTip(plain_tip(field.hint))
        column.addWidget(self.widget)
        # Taller than what stands in it, it keeps that beside the label.
        column.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.setFocusProxy(self.widget)
        if field.kind == "rows":
            column.addLayout(self._row_buttons())

    @property
    def value(self) -> Value:
        """What stands in it now."""
        return self._read()

    def _make_line(self, text: str) -> None:
        line = QLineEdit(text, placeholderText=self.field.hint or NOT_GIVEN)
        line.textEdited.connect(self.edited)
        self.widget, self._read = line, line.text

    def _make_long(self, text: str, theme: Theme) -> None:
        box = QPlainTextEdit(text, placeholderText=self.field.hint, tabChangesFocus=True)
        box.setFixedHeight(theme.px(64))
        box.textChanged.connect(self.edited)
        self.widget, self._read = box, box.toPlainText

    def _make_flag(self, on: bool) -> None:
        tick = QCheckBox(self.field.hint)
        tick.setChecked(on)
        tick.toggled.connect(self.edited)
        self.widget, self._read = tick, tick.isChecked

    def _make_choice(self, text: str) -> None:
        box = QComboBox()
        entries = ["", *self.field.choices]
        if text not in entries:
            entries.append(text)  # what the file has is shown, also where it is refused
        for entry in entries:
            box.addItem(entry or NOT_GIVEN, entry)
        box.setCurrentIndex(entries.index(text))
        box.currentIndexChanged.connect(self.edited)
        self.widget, self._read = box, lambda: str(box.currentData())

    # --- rows -------------------------------------------------------------------------------------------

    def _make_rows(self, rows: tuple[tuple[str, ...], ...], theme: Theme) -> None:
        table = QTableWidget(0, len(self.field.columns))
        table.setHorizontalHeaderLabels([column.title for column in self.field.columns])
        table.verticalHeader().hide()
        table.setTabKeyNavigation(False)
        table.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        table.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        header = table.horizontalHeader()
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)
        # Five short titles beside each other: with the usual padding they were cut.
        header.setStyleSheet("QHeaderView::section { padding: 6px 4px; }")
        table.verticalHeader().setDefaultSectionSize(theme.px(28))
        table.setItemDelegate(PlainCells(table))
        self._table = table
        for row in rows:
            self._append(row)
        table.itemChanged.connect(self._cell_changed)
        self.widget, self._read = table, self._rows
        self._fit()

    def _row_buttons(self) -> QHBoxLayout:
        row = QHBoxLayout()
        for words, slot in (("Add a row", self._add_row), ("Remove the row", self._remove_row)):
            row.addWidget(made_button(words, slot, role="flat", name=f"{words}: {self.field.title}"))
        row.addStretch(1)
        return row

    def _append(self, cells: tuple[str, ...]) -> None:
        self._table.blockSignals(True)
        row = self._table.rowCount()
        self._table.insertRow(row)
        for index, text in enumerate(cells):
            item = QTableWidgetItem(text)
            item.setToolTip(plain_tip(self.field.hint))
            self._table.setItem(row, index, item)
        self._table.blockSignals(False)

    def _rows(self) -> tuple[tuple[str, ...], ...]:
        table = self._table
        rows = []
        for row in range(table.rowCount()):
            items = [table.item(row, column) for column in range(table.columnCount())]
            cells = tuple(item.text() if item is not None else "" for item in items)
            if any(cell.strip() for cell in cells):
                rows.append(cells)
        return tuple(rows)

    def _fit(self) -> None:
        table = self._table
        header = table.horizontalHeader().sizeHint().height()
        row = table.verticalHeader().defaultSectionSize()
        table.setFixedHeight(header + row * max(1, min(table.rowCount(), 6)) + 4)

    @Slot()
    def _add_row(self) -> None:
        self._append(("",) * len(self.field.columns))
        self._fit()
        self._table.setCurrentCell(self._table.rowCount() - 1, 0)
        self._table.setFocus()

    @Slot()
    def _remove_row(self) -> None:
        if self._table.rowCount():
            current = self._table.currentRow()
            self._table.removeRow(current if current >= 0 else self._table.rowCount() - 1)
            self._fit()
            self.edited.emit()

    @Slot(QTableWidgetItem)
    def _cell_changed(self, item: QTableWidgetItem) -> None:
        self.edited.emit()
