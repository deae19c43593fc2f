"""The first rows of the file in the import dialog, as they are written."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QObject, Qt
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView, QWidget

from debrief.gui.background.guarded import guarded_data
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.choice_boxes import FixedHeader
from debrief.gui.widgets.tables import Index, RowsModel
from debrief.session.importing.file_proposal import FileProposal

_NO_NAME = "(no name)"
_AT_ONCE = 60
_WIDEST = 240
_ROWS_BY_HEIGHT = ((740, 4), (540, 2), (0, 1))
"""Rows that are shown in a dialog of at least this height."""


class PreviewModel(RowsModel):
    """The cells of the first rows, as written."""

    def __init__(self, proposal: FileProposal, parent: QObject | None = None) -> None:
        super().__init__([name or _NO_NAME for name in proposal.names], proposal.preview, parent=parent)

    @guarded_data
    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> object:
        """Return a cell's text."""
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.ToolTipRole):
            row = self._rows[index.row()]
            return row[index.column()] if index.column() < len(row) else ""
        return None


class PreviewTable(QTableView):
    """The first rows of a file, not to be changed."""

    def __init__(self, proposal: FileProposal, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._proposal = proposal
        self._theme = theme
        self._shown = 1
        self.setAccessibleName("First rows of the file")
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectColumns)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setTabKeyNavigation(False)
        self.setWordWrap(False)
        self.verticalHeader().hide()
        self._header = header = FixedHeader(Qt.Orientation.Horizontal, self)
        self.setHorizontalHeader(header)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        header.setDefaultSectionSize(theme.px(110))
        self.setModel(PreviewModel(proposal, self))

    def fit_height(self, room: int) -> None:
        """Set the heights by the size of text; with fewer rows in a dialog of little height."""
        theme = self._theme
        self.verticalHeader().setMinimumSectionSize(10)
        self.verticalHeader().setDefaultSectionSize(theme.px(22))
        rows = next(count for height, count in _ROWS_BY_HEIGHT if room >= theme.px(height))
        self._shown = min(len(self._proposal.preview), rows)
        self._header.set_height(round(theme.metrics(13).height()) + theme.px(12))
        self._fit_rows()

    def _fit_rows(self) -> None:
        """Make room for whole rows, and for the scroll bar where there is one."""
        wide = self._header.length() > self.viewport().width()
        bar = self.horizontalScrollBar().sizeHint().height() if wide else 0
        rows = self._shown * self._theme.px(22)
        self.setFixedHeight(self._header.height() + rows + bar + 2 * self.frameWidth() + 1)

    def fit_widths(self) -> Iterator[None]:
        """Make each column as wide as what it holds, some of them a step."""
        metrics, header = self._theme.metrics(13), self._header
        rows = self._proposal.preview
        for number, name in enumerate(self._proposal.names):
            if number and number % _AT_ONCE == 0:
                yield
            texts = [name or _NO_NAME, *(row[number] for row in rows if number < len(row))]
            width = max(map(metrics.horizontalAdvance, texts)) + self._theme.px(30)
            header.resizeSection(number, round(min(width, self._theme.px(_WIDEST))))
        self._fit_rows()

    def show_column(self, number: int) -> None:
        """Mark a column and bring it into view."""
        self.scrollTo(self.model().index(0, number))
        self.selectColumn(number)
