"""What the table of the import dialog shows and takes: one row for each column of the file."""

from __future__ import annotations

from math import isfinite
from typing import Any

from PySide6.QtCore import QLocale, QObject, Qt, Signal

from debrief.gui.background.guarded import guarded, guarded_data
from debrief.gui.widgets.tables import Index, RowsModel
from debrief.session.importing.column_proposal import ColumnProposal
from debrief.session.importing.import_form import ImportForm, choice_words, unit_choice_words, unit_choices

NAME, CHANNEL, UNIT, SURENESS, TRACE = range(5)
HEADINGS = ("Column in the file", "Use as", "Unit", "How sure", "Trace")
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
            words = self._words(row, column) if column != TRACE else range_words(self._columns[row])
            return f"{self._name(row)}, {HEADINGS[column].lower()}: {words or 'none'}"
        if role == _TIP:
            if column == TRACE:
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


def range_words(column: ColumnProposal) -> str:
    """Return from where to where a column's values run."""
    if not column.low.size:
        return "no numbers"
    low = min(v for v in column.low.tolist() if isfinite(v))
    high = max(v for v in column.high.tolist() if isfinite(v))
    return f"from {low:.6g} to {high:.6g}".replace("-", "\N{MINUS SIGN}")


def number_words(value: int) -> str:
    """Return a whole number with its thousands apart."""
    return QLocale.c().toString(value).replace(",", "\N{NARROW NO-BREAK SPACE}")
