"""The kept flights of one engine, or all: a table to open one from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QModelIndex, Qt, Signal, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHeaderView, QTableView, QWidget

from debrief.gui.background.guarded import guarded
from debrief.gui.history.flight_list import FlightModel
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import PlainLabel
from debrief.gui.widgets.parts import column_layout
from debrief.gui.widgets.tables import dress, heading
from debrief.gui.widgets.whole_rows import WholeRows

if TYPE_CHECKING:
    from debrief.history.service.history_service import HistoryPage

_DATE, _STARTS, _FILE, _SENTENCE = 1, 2, 3, 4
_LEAST_SENTENCE, _LEAST_FILE, _SIGN, _PADDING = 200, 120, 24, 30
"""[px at the usual text]"""
_BELOW = "Enter or a double click opens the flight."
_TRENDS = "Choose an engine above to see its trends."


class FlightsPanel(QWidget):
    """A table of flights with what was found in each.

    Signals
    -------
    flight_chosen : str
        SHA-256 of the recording.
    """

    flight_chosen = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        left = column_layout(self, margins=(0, 0, 0, 0), spacing=6)
        left.addWidget(heading("Flights"))
        self._model = FlightModel(self._theme)
        self.table = QTableView()
        WholeRows(self.table, theme)
        self.table.setModel(self._model)
        dress(self.table, "Flights in the history")
        self.table.activated.connect(self._flight_chosen)
        left.addWidget(self.table, 1)
        self._below = PlainLabel(_BELOW, role="small")
        left.addWidget(self._below)

    def show_page(self, page: HistoryPage) -> None:
        """Show these flights."""
        chosen = self._model.flight(self.table.currentIndex().row())
        place = self.table.verticalScrollBar().value()
        self._model.show(page.flights, page.kept.sha256 if page.kept is not None else "")
        again = next((i for i, one in enumerate(page.flights) if chosen and one.sha256 == chosen.sha256), -1)
        if again >= 0:
            self.table.selectRow(again)
        self.table.verticalScrollBar().setValue(place)
        self._below.setText(_BELOW if page.engine is not None or not page.engines else f"{_BELOW} {_TRENDS}")
        self._fit_columns()

    def _wanted(self, column: int) -> int:
        """Return how wide a column's words are; its title and its sign have room as well."""
        metrics, title = self.table.fontMetrics(), self.table.horizontalHeader().sectionSizeHint(column)
        words = max(map(metrics.horizontalAdvance, self._model.longest(column)), default=0)
        sign = self._theme.px(_SIGN) if column == 0 else 0
        return max(title, words + sign + self._theme.px(_PADDING))

    def _fit_columns(self) -> None:
        """Give each column its words' room; what has none, the sentence first, is in the tool tip alone."""
        header, modes = self.table.horizontalHeader(), QHeaderView.ResizeMode
        wanted = [self._wanted(column) for column in range(_SENTENCE)]
        narrow = self.width() - sum(wanted) < self._theme.px(_LEAST_SENTENCE)
        self.table.setColumnHidden(_SENTENCE, narrow)
        room = self.width() - sum(wanted[:_FILE]) - self._theme.px(_LEAST_FILE)
        for column in (_STARTS, _DATE):
            self.table.setColumnHidden(column, room < 0)
            room += wanted[column] if room < 0 else 0
        elide = Qt.TextElideMode
        self.table.setTextElideMode(elide.ElideMiddle if narrow else elide.ElideRight)
        header.setStretchLastSection(False)  # the last one may be hidden
        for column, width in enumerate(wanted):
            header.setSectionResizeMode(column, modes.Fixed)
            self.table.setColumnWidth(column, width)
        header.setSectionResizeMode(_FILE if narrow else _SENTENCE, modes.Stretch)

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Show as many columns as there is room for."""
        super().resizeEvent(event)
        self._fit_columns()

    @Slot(QModelIndex)
    def _flight_chosen(self, index: QModelIndex) -> None:
        flight = self._model.flight(index.row())
        if flight is not None:
            self.flight_chosen.emit(flight.sha256)
