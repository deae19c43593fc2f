"""What the table of the import dialog shows and takes: one row for each column of the file."""

from __future__ import annotations

from math import isfinite
from typing import Any

from PySide6.QtCore import QLocale, QObject, Qt, Signal

from debrief.gui.background.guarded import guarded, guarded_data
from debrief.gui.widgets.tables import Index, RowsModel
from debrief.session.importing.column_choices import choice_words, unit_choice_words, unit_choices
from debrief.session.importing.column_proposal import ColumnProposal
from debrief.session.importing.import_form import ImportForm

NAME, CHANNEL, UNIT, SURENESS, VALUES, TRACE = range(6)
HEADINGS = ("Column in the file", "Use as", "Unit", "How sure", "Values", "Trace")
_DISPLAY = Qt.ItemDataRole.DisplayRole
_SAID = Qt.ItemDataRole.AccessibleTextRole
_TIP = Qt.ItemDataRole.ToolTipRole


class ColumnsModel(RowsModel):
    """One row for each column of the file; channel and unit can be chosen.

    Signals
    -------
    form_changed : str
        A choice was made; with a sentence where it took a channel from another column.
    """

    form_changed = Signal(str)

    def __init__(self, form: ImportForm, parent: QObject | None = None) -> None:
        super().__init__(HEADINGS, form.proposal.columns, parent=parent)
        self.form = form
        self._columns = form.proposal.columns

    def proposal_of(self, row: int) -> ColumnProposal:
        """Return the proposal that a row shows."""
        return self._columns[row]

    @guarded(Qt.ItemFlag.NoItemFlags)
    def flags(self, index: Index) -> Qt.ItemFlag:
        """Return what can be done with a cell."""
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        return flags | Qt.ItemFlag.ItemIsEditable if self.can_choose(index) else flags

    def can_choose(self, index: Index) -> bool:
        """Return whether there is anything to choose in a cell."""
        if index.column() == UNIT:
            return len(unit_choices(self.form.channel(index.row()))) > 1
        return index.column() == CHANNEL

    @guarded_data
    def data(self, index: Index, role: int = _DISPLAY) -> Any:
        """Return words of a cell."""
        row, column = index.row(), index.column()
        if role == _DISPLAY:
            return self._words(row, column)
        if role == _SAID:
            is_range = column in (VALUES, TRACE)
            words = range_words(self._columns[row]) if is_range else self._words(row, column)
            return f"{self._name(row)}, {HEADINGS[column].lower()}: {words or 'none'}"
        if role == _TIP:
            if column in (VALUES, TRACE):
                return range_words(self._columns[row])
            if column == SURENESS:
                return self._columns[row].why or None
            return self._words(row, column) or None
        if role == Qt.ItemDataRole.EditRole:
            return self.form.channel(row) if column == CHANNEL else self.form.unit(row)
        return None

    def _name(self, row: int) -> str:
        return self._columns[row].name or f"Column {row + 1}, no name"

    def _words(self, row: int, column: int) -> str:
        channel, unit = self.form.channel(row), self.form.unit(row)
        if column == NAME:
            return self._name(row)
        if column == CHANNEL:
            return choice_words(channel)
        if column == UNIT:
            if channel:
                return unit_choice_words(unit, channel)
            return unit_choice_words(self._columns[row].unit, "time") if self._columns[row].unit else ""
        if column == SURENESS:
            return self.form.sureness(row)
        if column == VALUES:
            return short_range(self._columns[row])
        return ""

    @guarded(False)
    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        """Take a choice."""
        row = index.row()
        said = ""
        if index.column() == CHANNEL:
            if value == self.form.channel(row):
                return False
            said = self.form.assign(row, str(value))
        elif index.column() == UNIT:
            self.form.set_unit(row, str(value))
        self.tell_changed(said)
        return True

    def tell_changed(self, said: str = "") -> None:
        """Show the form anew."""
        self.dataChanged.emit(self.index(0, 0), self.index(self.rowCount() - 1, len(HEADINGS) - 1))
        self.form_changed.emit(said)


def _range(column: ColumnProposal) -> tuple[float, float] | None:
    lows, highs = filter(isfinite, column.low.tolist()), filter(isfinite, column.high.tolist())
    low, high = min(lows, default=None), max(highs, default=None)
    return None if low is None or high is None else (low, high)


def range_words(column: ColumnProposal) -> str:
    """Return from where to where a column's values run."""
    found = _range(column)
    if found is None:
        return "no numbers"
    return f"from {found[0]:.6g} to {found[1]:.6g}".replace("-", "\N{MINUS SIGN}")


def short_range(column: ColumnProposal) -> str:
    """Return from where to where a column's values run, as short as it is read; one number where it stands still."""
    found = _range(column)
    if found is None:
        return "no numbers"
    low, high = (_short(value) for value in found)
    return f"{low} to {high}" if found[0] != found[1] else f"{low} throughout"


def _short(value: float) -> str:
    """Return a number in three digits, and a large one whole."""
    return (f"{value:.3g}" if abs(value) < 1000 else f"{value:.0f}").replace("-", "\N{MINUS SIGN}")


def number_words(value: int) -> str:
    """Return a whole number with its thousands apart."""
    return QLocale.c().toString(value).replace(",", "\N{NARROW NO-BREAK SPACE}")
