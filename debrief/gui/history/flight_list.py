"""The kept flights as a list that makes its cells only where they are seen: a history may hold thousands."""

from __future__ import annotations

from heapq import nlargest

from PySide6.QtCore import Qt
from PySide6.QtGui import QIcon

from debrief.gui.background.guarded import guarded_data
from debrief.gui.style.shapes import shape_icon
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.tables import RIGHT, Index, RowsModel
from debrief.history.model import Flight
from debrief.words.events import Sign

TITLES = ("Verdict", "Date", "Starts", "File", "What was found")
_STARTS = 2
_MEASURED = 8


class FlightModel(RowsModel):
    """Rows are flights, columns are `TITLES`."""

    def __init__(self, theme: Theme) -> None:
        super().__init__(TITLES, numbers=(_STARTS,))
        self._theme = theme
        self._own = ""
        self._icons: dict[Sign, QIcon] = {}
        self._longest: dict[int, list[str]] = {}

    def show(self, flights: tuple[Flight, ...], own_sha256: str) -> None:
        """Show these flights; the open one is named."""
        self.beginResetModel()
        self._rows = flights
        self._longest.clear()
        self._own = own_sha256
        self._icons.clear()
        self.endResetModel()

    def flight(self, row: int) -> Flight | None:
        """Return the flight of a row, or None."""
        flight: Flight | None = self._rows[row] if 0 <= row < len(self._rows) else None
        return flight

    @guarded_data
    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Return what one cell shows."""
        flight = self.flight(index.row())
        if flight is None:
            return None
        column = index.column()
        match role:
            case Qt.ItemDataRole.DisplayRole:
                return self._words(flight, column)
            case Qt.ItemDataRole.DecorationRole if column == 0:
                return self._sign(flight.finding.sign)
            case Qt.ItemDataRole.TextAlignmentRole if column == _STARTS:
                return RIGHT
            case Qt.ItemDataRole.ToolTipRole:
                day, starts = (
                    self._words(flight, 1),
                    f"{flight.starts} start{'' if flight.starts == 1 else 's'}",
                )
                where = f"{flight.path or flight.file_name}{self._own_words(flight)}"
                tip = f"{flight.sentence}\n{day}, {starts}\n{where}"
                return f"{tip}\nNot trended: {flight.untrended}." if flight.untrended else tip
        return None

    def longest(self, column: int) -> list[str]:
        """Return the longest words of a column, by letters: its width is that of one of them."""
        if column not in self._longest:
            words = {self._words(flight, column) for flight in self._rows}
            self._longest[column] = nlargest(_MEASURED, words, key=len)
        return self._longest[column]

    def _words(self, flight: Flight, column: int) -> str:
        match column:
            case 0:
                return flight.listed
            case 1:
                return flight.start[:10] if flight.start else "undated"
            case 2:
                return str(flight.starts)
            case 3:
                return flight.file_name + self._own_words(flight)
            case _:
                return flight.sentence

    def _own_words(self, flight: Flight) -> str:
        return " (this one)" if flight.sha256 == self._own else ""

    def _sign(self, sign: Sign | None) -> QIcon | None:
        if sign is not None and sign not in self._icons:
            self._icons[sign] = shape_icon(sign, self._theme)
        return None if sign is None else self._icons[sign]
