"""A page of the wizard: the question, its place in a manual, fields, and what is wrong with what was typed."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QApplication, QFormLayout, QHBoxLayout, QLineEdit, QWidget

from debrief.gui.plain_text import plain_tip
from debrief.gui.profiles.row_grid import RowGrid
from debrief.gui.profiles.undo_keys import UndoKeys
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.choice_boxes import ChoiceBox, TickBox
from debrief.gui.widgets.labels import PlainLabel, WrappedLabel
from debrief.gui.widgets.parts import column_layout, made_button, restyle, row_layout
from debrief.session.profiles.profile_cells import Value
from debrief.session.profiles.profile_fields import choice_words
from debrief.session.profiles.wizard import Wizard
from debrief.session.profiles.wizard_pages import RUNNING, RUNNING_ROWS, UNITS, Page, Quantity, Question
from debrief.words.channels import within_sentence
from debrief.words.numbers import unit_words

_WIDEST = 860
_UNIT_WORDS = {"s": "seconds", "min": "minutes"}


class AnswerPage(QWidget):
    """The fields of one page of the wizard, over its answers.

    Signals
    -------
    edited
        An answer was changed.
    """

    edited = Signal()

    def __init__(self, wizard: Wizard, page: Page, theme: Theme, keys: UndoKeys) -> None:
        super().__init__()
        self.setObjectName("panel")
        self._wizard = wizard
        self._page = page
        self._theme = theme
        self._refills: list[Callable[[], None]] = []
        self._told: dict[str, WrappedLabel] = {}
        self._asked: dict[str, QWidget] = {}
        column = column_layout(self, margins=(18, 14, 18, 14), spacing=6)
        column.addWidget(self._title())
        column.addWidget(WrappedLabel(f"In the manual: {within_sentence(page.place)}", role="muted"))
        if page.judges:
            column.addWidget(
                WrappedLabel(f"Without it cannot be judged: {', '.join(page.judges)}.", role="muted")
            )
        if page.note:
            column.addWidget(WrappedLabel(page.note, role="muted"))
        column.addSpacing(6)
        for quantity in page.quantities:
            column.addLayout(self._unit_row(quantity))
        form = QFormLayout()
        form.setHorizontalSpacing(14)
        form.setVerticalSpacing(7)
        form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        form.setFieldGrowthPolicy(QFormLayout.FieldGrowthPolicy.ExpandingFieldsGrow)
        for question in page.questions:
            self._add(form, question)
        column.addLayout(form)
        if any(one.suggested for one in page.questions):
            row = row_layout(spacing=8)
            row.addWidget(made_button("Fill in what is &common", self._suggest))
            row.addWidget(
                WrappedLabel("Rules of reading that fit most engines; look at each.", role="small"), 1
            )
            column.addLayout(row)
        column.addStretch(1)
        keys.watch(self)
        theme.changed.connect(self._dress)
        self._dress()

    @Slot()
    def _dress(self) -> None:
        # On a wide screen a number does not stand in a field as wide as the window.
        self.setMaximumWidth(self._theme.px(_WIDEST))

    def _title(self) -> PlainLabel:
        title = PlainLabel(self._page.title, role="title", wraps=True)
        title.setMinimumWidth(1)
        return title

    @property
    def page(self) -> Page:
        """Which page it is."""
        return self._page

    # --- the fields -------------------------------------------------------------------------------------

    def _unit_row(self, quantity: Quantity) -> QHBoxLayout:
        row = row_layout(spacing=8)
        box = ChoiceBox(self._theme)
        name = {"temperature": "Temperatures in", "speed": "Ng in", "time": "Times in"}[quantity]
        for unit in UNITS[quantity]:
            box.addItem(_UNIT_WORDS.get(unit, unit_words(unit)), unit)
        box.setAccessibleName(name)
        label = PlainLabel(name, role="small")
        label.setBuddy(box)
        row.addWidget(label)
        row.addWidget(box)
        row.addStretch(1)

        def refill() -> None:
            box.blockSignals(True)
            box.setCurrentIndex(box.findData(self._wizard.unit(self._page, quantity)))
            box.blockSignals(False)

        def chosen() -> None:
            self._wizard.choose_unit(self._page, quantity, box.currentData())
            self.edited.emit()

        refill()
        box.currentIndexChanged.connect(chosen)
        self._refills.append(refill)
        return row

    def _add(self, form: QFormLayout, question: Question) -> None:
        field = question.field
        widget, refill = self._made(question)
        widget.setAccessibleName(field.title)
        widget.setAccessibleDescription(field.hint)
        if field.hint and field.kind != "flag":
            widget.setToolTip(plain_tip(field.hint))
        refill()
        self._refills.append(refill)
        told = WrappedLabel(role="problem")
        told.hide()
        holder = QWidget()
        column = column_layout(holder, margins=(0, 0, 0, 0), spacing=2)
        column.addWidget(widget)
        column.addWidget(told)
        label = PlainLabel(field.title, wraps=field.kind == "rows")
        label.setBuddy(widget)
        if field.kind == "rows":
            form.addRow(label)
            form.addRow(holder)
        else:
            form.addRow(label, holder)
        self._told[question.key], self._asked[question.key] = told, holder

    def _made(self, question: Question) -> tuple[QWidget, Callable[[], None]]:
        field, value = question.field, partial(self._wizard.value, question)
        if field.kind == "flag":
            tick = TickBox(field.hint, self._theme)

            def show_tick() -> None:
                tick.blockSignals(True)
                tick.setChecked(bool(value()))
                tick.blockSignals(False)

            tick.toggled.connect(lambda on: self._answer(question, on))
            return tick, show_tick
        if field.kind == "choice":
            box = ChoiceBox(self._theme)
            box.may_shrink(12)
            entries = field.choices if value() else ("", *field.choices)
            for one in entries:
                box.addItem(choice_words(one), one)

            def show_choice() -> None:
                box.blockSignals(True)
                box.setCurrentIndex(max(0, box.findData(value())))
                box.blockSignals(False)

            box.currentIndexChanged.connect(lambda: self._answer(question, box.currentData()))
            return box, show_choice
        if field.kind == "rows":
            is_running = question.key == RUNNING
            grid = RowGrid(
                field.title,
                [column.title for column in field.columns],
                self._theme,
                [row[2] for row in RUNNING_ROWS] if is_running else (),
                _running_units if is_running else (lambda row, column: None),
            )

            def show_rows() -> None:
                rows = value()
                grid.show_rows(rows if isinstance(rows, tuple) else ())

            grid.edited.connect(lambda: self._answer(question, grid.rows))
            return grid, show_rows
        line = QLineEdit(placeholderText=field.hint)

        def show_text() -> None:
            if line.text() != value():
                line.setText(str(value()))

        line.textEdited.connect(lambda text: self._answer(question, text))
        return line, show_text

    def _answer(self, question: Question, value: Value) -> None:
        self._wizard.answer(self._page, question, value)
        self.edited.emit()

    @Slot()
    def _suggest(self) -> None:
        self._wizard.suggest(self._page)
        self.refill()
        self.edited.emit()

    # --- what is shown ----------------------------------------------------------------------------------

    def refill(self) -> None:
        """Show the answers as they are now."""
        for refill in self._refills:
            refill()

    def tell(self, problems: Mapping[str, str]) -> None:
        """Say what is wrong below its field; softly while it is still being typed."""
        focus = QApplication.focusWidget()
        for key, label in self._told.items():
            words = problems.get(key, "")
            typing = focus is not None and self._asked[key].isAncestorOf(focus)
            role = "muted" if typing else "problem"
            if label.property("role") != role:
                restyle(label, "role", role)
            label.setText(words)
            label.setVisible(bool(words))

    def take_focus(self, key: str = "") -> None:
        """Put the focus into the field of a key, or into the first."""
        asked = self._asked.get(key) or next(iter(self._asked.values()))
        first = next(
            (one for one in asked.findChildren(QWidget) if one.focusPolicy() & Qt.FocusPolicy.TabFocus), None
        )
        if first is not None:
            first.setFocus(Qt.FocusReason.OtherFocusReason)


def _running_units(row: int, column: int) -> tuple[str, ...] | None:
    return RUNNING_ROWS[row][3] if column == 4 else None
