"""One table of the flight: Enter or a double click leads to its moment or to what a measure was read from."""

from __future__ import annotations

from math import ceil

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHeaderView, QTableWidget, QTableWidgetItem, QWidget

from debrief.gui.plain_text import plain_tip
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.cells import WrappedCells
from debrief.gui.widgets.tables import LEFT, RIGHT, dress
from debrief.session.flight.flight_tables import FlightRow, FlightTable

_PADDING_PX = 30
"""Of a cell, on both sides together."""


class FlightTableView(QTableWidget):
    """Shows one table.

    Signals
    -------
    moment_wanted : float
        The replay is to show this moment, [s].
    why_wanted : str
        The evidence of this measure of the flight is to be shown.
    """

    moment_wanted = Signal(float)
    why_wanted = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._rows: tuple[FlightRow, ...] = ()
        dress(self, "Table of the flight")
        # Where large text leaves no room for all columns, they are scrolled to.
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
        self.setHorizontalScrollMode(QTableWidget.ScrollMode.ScrollPerPixel)
        self.itemActivated.connect(self._activated)

    def explained(self) -> tuple[str, str] | None:
        """Return the entry of the chosen measure."""
        row = self.currentRow()
        name = self._rows[row].measure if 0 <= row < len(self._rows) else ""
        return ("measure", name) if name else None

    def show_table(self, table: FlightTable) -> None:
        """Show a table from its first row; words wrap in the last column, numbers are never cut."""
        self.setAccessibleName(table.title)
        self._rows = table.rows
        vertical, header = self.verticalHeader(), self.horizontalHeader()
        vertical.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.clear()
        self.setColumnCount(len(table.columns))
        self.setRowCount(len(table.rows))
        cells = [[row.cells[position] for row in table.rows] for position in range(len(table.columns))]
        titles = [self._title(column.title, own) for column, own in zip(table.columns, cells, strict=True)]
        self.setHorizontalHeaderLabels(titles)
        last = len(table.columns) - 1
        for index, row in enumerate(table.rows):
            for position, text in enumerate(row.cells):
                item = QTableWidgetItem(text)
                item.setTextAlignment(RIGHT if table.columns[position].is_number else LEFT)
                item.setToolTip(plain_tip(text))
                self.setItem(index, position, item)
        for position, column in enumerate(table.columns):
            head = self.horizontalHeaderItem(position)
            if head is not None:
                head.setTextAlignment(RIGHT if column.is_number else LEFT)
        self.setWordWrap(True)
        self.setItemDelegate(WrappedCells(self, ()))
        for position in range(last):
            self.setColumnWidth(position, self._width(titles[position], cells[position]))
        header.setSectionResizeMode(last, QHeaderView.ResizeMode.Stretch)
        vertical.setMinimumSectionSize(self._theme.px(25))
        vertical.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        self.setMinimumHeight(header.sizeHint().height() + vertical.minimumSectionSize() + _PADDING_PX)
        if table.rows:
            self.setCurrentCell(0, 0)

    def _width(self, title: str, cells: list[str]) -> int:
        """Return the width of the longest line of a column: what would wrap is no wider than a third of the table."""
        return min(self._longest(title, *cells), self._theme.px(380)) + _PADDING_PX

    def _title(self, title: str, cells: list[str]) -> str:
        """Return a title with its unit below it where it is longer than what stands in its column."""
        is_short = "\n" in title or self._longest(title) <= self._longest("", *cells)
        return title if is_short else title.replace(", ", ",\n")

    def _longest(self, *texts: str) -> int:
        metrics = self._theme.metrics(13)
        return ceil(max(metrics.size(0, text).width() for text in texts))

    @Slot(QTableWidgetItem)
    def _activated(self, item: QTableWidgetItem) -> None:
        row = self._rows[item.row()]
        if row.measure:
            self.why_wanted.emit(row.measure)
        elif row.time_s is not None:
            self.moment_wanted.emit(row.time_s)
