"""One small editor for each kind of field of a profile; all tell what a person made of it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QLineEdit, QPlainTextEdit, QSizePolicy, QWidget

from debrief.gui.plain_text import entry, plain_tip
from debrief.gui.profiles.row_grid import RowGrid
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.choice_boxes import ChoiceBox, TickBox
from debrief.gui.widgets.parts import column_layout
from debrief.session.profiles.profile_cells import Row, Value, finding_name
from debrief.session.profiles.profile_fields import Field, choice_words

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
        self._theme = theme
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
            self._make_long(str(value))
        elif field.kind == "rows":
            self._make_rows(value if isinstance(value, tuple) else ())
        else:
            self._make_line(str(value))
        self.widget.setAccessibleName(field.title)
        self.widget.setAccessibleDescription(field.hint)
        self.widget.setToolTip(plain_tip(field.hint))
        column.addWidget(self.widget)
        # Taller than what stands in it, it keeps that beside the label.
        column.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.setFocusProxy(self.widget)

    @property
    def value(self) -> Value:
        """What stands in it now."""
        return self._read()

    def show_rows(self, rows: tuple[Row, ...]) -> None:
        """Show other rows, of a field that has them."""
        if isinstance(self.widget, RowGrid):
            self.widget.show_rows(rows)

    def _make_line(self, text: str) -> None:
        line = QLineEdit(text, placeholderText=self.field.hint or NOT_GIVEN)
        line.textEdited.connect(self.edited)
        self.widget, self._read = line, line.text

    def _make_long(self, text: str) -> None:
        box = QPlainTextEdit(text, placeholderText=self.field.hint, tabChangesFocus=True)
        box.setFixedHeight(self._theme.px(64))
        box.textChanged.connect(self.edited)
        self.widget, self._read = box, box.toPlainText

    def _make_flag(self, on: bool) -> None:
        tick = TickBox(self.field.hint, self._theme)
        tick.setChecked(on)
        tick.toggled.connect(self.edited)
        self.widget, self._read = tick, tick.isChecked

    def _make_choice(self, text: str) -> None:
        box = ChoiceBox(self._theme)
        box.may_shrink(12)
        entries = ["", *self.field.choices]
        if text not in entries:
            entries.append(text)  # what the file has is shown, also where it is refused
        for one in entries:
            box.addItem(entry(choice_words(one)), one)
        box.setCurrentIndex(entries.index(text))
        if self.field.key == "event":
            self._let_type(box)
        else:
            box.currentIndexChanged.connect(self.edited)
            self._read = lambda: str(box.currentData())
        self.widget = box

    def _let_type(self, box: ChoiceBox) -> None:
        """Let a finding of one's own be typed in words, where none of those known fits."""
        box.setEditable(True)
        box.setInsertPolicy(ChoiceBox.InsertPolicy.NoInsert)
        box.currentTextChanged.connect(self.edited)

        def read() -> Value:
            place = box.findText(box.currentText(), Qt.MatchFlag.MatchFixedString)
            return str(box.itemData(place)) if place >= 0 else finding_name(box.currentText())

        self._read = read

    def _make_rows(self, rows: tuple[Row, ...]) -> None:
        columns = self.field.columns
        grid = RowGrid(
            self.field.title,
            [column.title for column in columns],
            self._theme,
            choices=lambda row, column: columns[column].choices or None,
        )
        grid.show_rows(rows)
        grid.edited.connect(self.edited)
        self.widget, self._read = grid, lambda: grid.rows
