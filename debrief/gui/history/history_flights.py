"""The kept flights of one engine, or all: a table to open one from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QModelIndex, Signal, Slot
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

_NARROW = 600
_SENTENCE, _FILE = 4, 3


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
        left.addWidget(PlainLabel("Enter or a double click opens the flight.", role="small"))

    def show_page(self, page: HistoryPage) -> None:
        """Show these flights."""
        self._model.show(page.flights, page.kept.sha256 if page.kept is not None else "")
        self.table.setColumnWidth(0, self._theme.px(180))
        self._fit_columns()

    def _fit_columns(self) -> None:
        """Leave the sentence to the tool tip where there is no room for both it and the file's name."""
        narrow = self.width() < self._theme.px(_NARROW)
        modes = QHeaderView.ResizeMode
        self.table.setColumnHidden(_SENTENCE, narrow)
        header = self.table.horizontalHeader()
        header.setStretchLastSection(False)  # the last one may be hidden
        header.setSectionResizeMode(_FILE, modes.Stretch if narrow else modes.ResizeToContents)
        header.setSectionResizeMode(_SENTENCE, modes.Stretch)

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
