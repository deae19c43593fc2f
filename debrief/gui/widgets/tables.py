"""Tables and headings that look alike wherever they stand."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QEvent, QModelIndex, QObject, QPersistentModelIndex, Qt
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QLabel, QSizePolicy, QTableView, QTableWidget

from debrief.gui.background.guarded import guarded, guarded_data
from debrief.gui.widgets.labels import PlainLabel

Index = QModelIndex | QPersistentModelIndex
LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_ROOT = QModelIndex()
_ROW_MARGIN_PX = 9
"""Of a row, above and below its words."""


class RowsModel(QAbstractTableModel):
    """Rows under titles, made into cells only where they are seen; what a cell shows is the subclass's."""

    def __init__(
        self,
        titles: Sequence[str],
        rows: Sequence[Any] = (),
        numbers: Sequence[int] = (),
        parent: QObject | None = None,
    ) -> None:
        super().__init__(parent)
        self._titles = titles
        self._rows = rows
        self._numbers = numbers
        """Columns that stand on the right."""

    @guarded(0)
    def rowCount(self, parent: Index = _ROOT) -> int:
        """Return how many rows there are."""
        return 0 if parent.isValid() else len(self._rows)

    @guarded(0)
    def columnCount(self, parent: Index = _ROOT) -> int:
        """Return how many columns there are."""
        return 0 if parent.isValid() else len(self._titles)

    @guarded_data
    def headerData(
        self, section: int, orientation: Qt.Orientation, role: int = Qt.ItemDataRole.DisplayRole
    ) -> object:
        """Return the title of a column."""
        if orientation == Qt.Orientation.Horizontal:
            if role == Qt.ItemDataRole.DisplayRole:
                return self._titles[section]
            if role == Qt.ItemDataRole.TextAlignmentRole:
                return RIGHT if section in self._numbers else LEFT
        return None


def heading(words: str) -> QLabel:
    """Return a heading."""
    label = PlainLabel(words, role="heading")
    label.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
    return label


class RowHeights(QObject):
    """Gives the rows of a table the height of a line of its text, whatever size that has.

    Parameters
    ----------
    table : QTableView
        All its rows are of one height; it owns this.
    """

    def __init__(self, table: QTableView) -> None:
        super().__init__(table)
        self._table = table
        table.installEventFilter(self)
        self._fit()

    @guarded(False)
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Follow the font."""
        if event.type() in (QEvent.Type.FontChange, QEvent.Type.StyleChange, QEvent.Type.Show):
            self._fit()
        return False

    def _fit(self) -> None:
        rows, height = self._table.verticalHeader(), self._table.fontMetrics().height() + _ROW_MARGIN_PX
        if rows.defaultSectionSize() != height:
            rows.setMinimumSectionSize(min(height, rows.minimumSectionSize()))
            rows.setDefaultSectionSize(height)


def made_table(name: str, titles: tuple[str, ...]) -> QTableWidget:
    """Return an empty table with these titles."""
    table = QTableWidget(columnCount=len(titles))
    table.setHorizontalHeaderLabels(list(titles))
    dress(table, name)
    return table


def dress(table: QTableView, name: str) -> None:
    """Let a table look like all others here: rows are chosen, nothing is edited, no lines."""
    table.setAccessibleName(name)
    table.verticalHeader().hide()
    table.setShowGrid(False)
    table.setWordWrap(False)
    table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
    table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    table.setTabKeyNavigation(False)
    table.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    RowHeights(table)
    header = table.horizontalHeader()
    header.setHighlightSections(False)
    header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
    header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
    # The width follows the rows in view: all of thousands would take too long.
    header.setResizeContentsPrecision(0)
    header.setStretchLastSection(True)
    header.setMinimumSectionSize(36)
    header.setSectionResizeMode(0, QHeaderView.ResizeMode.Fixed)
    table.setColumnWidth(0, 40)
