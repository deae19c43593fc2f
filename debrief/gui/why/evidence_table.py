"""One table of the panel, as tall as its rows; a row leads to a moment of the recording."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QSize, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHeaderView, QSizePolicy, QTableWidget, QTableWidgetItem

from debrief.gui.background.guarded import guarded
from debrief.gui.plain_text import entry
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.tables import LEFT, RIGHT, dress
from debrief.session.evidence.why_page import WhyTable

_ROW = 24
_CLOSE = (
    "QTableView {{ font-size: {size}px; }} QTableView::item {{ padding: 1px 2px; }}"
    "QHeaderView::section {{ padding: 3px 3px; font-size: {size}px; }}"
)
"""The panel is narrow: cells stand closer than in other tables."""


class EvidenceTable(QTableWidget):
    """Shows a table of `why_page`; a click or Enter takes a row.

    Signals
    -------
    row_taken : WhyRow
        The row that was clicked, or on which Enter was pressed.
    """

    row_taken = Signal(object)

    def __init__(self, table: WhyTable, theme: Theme) -> None:
        super().__init__(len(table.rows), len(table.head))
        self._rows = table.rows
        self.setHorizontalHeaderLabels(list(table.head))
        dress(self, table.title)
        self.setStyleSheet(_CLOSE.format(size=theme.px(12)))
        self.setAccessibleDescription("A click or Enter moves the playhead to the row's time")
        self.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.verticalHeader().setDefaultSectionSize(theme.px(_ROW))
        header = self.horizontalHeader()
        header.setResizeContentsPrecision(-1)
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setStretchLastSection(True)
        for column in table.numbers:
            title = QTableWidgetItem(table.head[column])
            title.setTextAlignment(RIGHT)
            self.setHorizontalHeaderItem(column, title)
        for place, row in enumerate(table.rows):
            for column, text in enumerate(row.cells):
                item = QTableWidgetItem(entry(text))
                item.setTextAlignment(RIGHT if column in table.numbers and len(row.cells) > 1 else LEFT)
                self.setItem(place, column, item)
            if len(row.cells) == 1 < len(table.head):
                self.setSpan(place, 0, 1, len(table.head))
        height = header.sizeHint().height() + theme.px(_ROW) * len(table.rows) + 4
        self.setFixedHeight(height)
        self.clicked.connect(self._clicked)

    @guarded(QSize())
    def minimumSizeHint(self) -> QSize:
        """Return the width of the columns: no cell is cut, the panel scrolls where it is narrower."""
        header = self.horizontalHeader()
        columns = (
            max(self.sizeHintForColumn(place), header.sectionSizeHint(place))
            for place in range(self.columnCount())
        )
        return QSize(sum(columns), self.height())

    @Slot(QModelIndex)
    def _clicked(self, index: QModelIndex) -> None:
        self.row_taken.emit(self._rows[index.row()])

    @guarded()
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Take the chosen row with Enter."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.currentRow() >= 0:
            self.row_taken.emit(self._rows[self.currentRow()])
            return
        if event.key() == Qt.Key.Key_Escape:
            event.ignore()  # it is for the panel
            return
        super().keyPressEvent(event)
