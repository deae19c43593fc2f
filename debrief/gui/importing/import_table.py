"""The table of the import dialog: the columns of the file with what they are used as."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QModelIndex, Qt, Slot
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QComboBox, QHeaderView, QTableView, QWidget

from debrief.gui.background.guarded import guarded
from debrief.gui.importing.import_delegate import ChoiceDelegate
from debrief.gui.importing.import_model import CHANNEL, SURENESS, TRACE, UNIT, VALUES, ColumnsModel
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.choice_boxes import FixedHeader

_OPEN_KEYS = (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space, Qt.Key.Key_F2, Qt.Key.Key_F4)


class ColumnsTable(QTableView):
    """The columns of the file; Enter, Space or a click opens the list of a cell."""

    def __init__(self, model: ColumnsModel, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._choices = ChoiceDelegate(theme, self)
        self.setModel(model)
        self.setItemDelegate(self._choices)
        self.setAccessibleName("Columns of the file and what they are used as")
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)  # the keys below do
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setVerticalHeader(FixedHeader(Qt.Orientation.Vertical, self))
        self.verticalHeader().hide()
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        header.setSectionsClickable(False)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        self.clicked.connect(self._clicked)
        # A list that closes over the cell would take the focus with it. Later, since the view is still closing it.
        self._choices.closeEditor.connect(self._list_closed, Qt.ConnectionType.QueuedConnection)
        self.resize_rows()

    def resize_rows(self) -> None:
        """Set heights and widths by the size of text."""
        theme = self._theme
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.verticalHeader().setMinimumSectionSize(10)
        self.verticalHeader().setDefaultSectionSize(theme.px(28))
        self.setMinimumHeight(theme.px(28) * 4)
        header = self.horizontalHeader()
        room = self.viewport().width()
        for column, width, share in (
            (UNIT, 138, 0.14),
            (SURENESS, 230, 0.2),
            (VALUES, 150, 0.15),
            (TRACE, 150, 0.1),
        ):
            header.setSectionResizeMode(column, QHeaderView.ResizeMode.Fixed)
            header.resizeSection(column, round(min(theme.px(width), share * room)))

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Leave most of a narrow table to the names."""
        super().resizeEvent(event)
        self.resize_rows()

    @Slot(QModelIndex)
    def _clicked(self, index: QModelIndex) -> None:
        self.choose(index)

    @Slot()
    def _list_closed(self) -> None:
        if self.window().focusWidget() is None:
            self.setFocus()

    def choose(self, index: QModelIndex) -> None:
        """Open the list of a cell; of a cell without one, that of the channel."""
        if index.isValid():
            if not index.flags() & Qt.ItemFlag.ItemIsEditable:
                return
            self.setCurrentIndex(index)
            self.edit(index)
            combo = self.indexWidget(index)
            if isinstance(combo, QComboBox):
                combo.showPopup()

    @guarded()
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Open the list of the cell that has the focus."""
        if event.type() == QEvent.Type.KeyPress and event.key() in _OPEN_KEYS:
            index = self.currentIndex()
            if index.isValid() and not index.flags() & Qt.ItemFlag.ItemIsEditable:
                index = index.siblingAtColumn(CHANNEL)
            self.choose(index)
            event.accept()
            return
        super().keyPressEvent(event)
