"""The cells of the import dialog's table: the lists to choose from, and the traces."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QAbstractItemModel, QObject, QRectF, QSize, Qt, Slot
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QComboBox,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from debrief.gui.background.guarded import guarded, painted_cell
from debrief.gui.importing.import_model import CHANNEL, HEADINGS, TRACE, ColumnsModel
from debrief.gui.importing.traces import paint_trace
from debrief.gui.plain_text import entry
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.choice_boxes import ChoiceBox, paint_chevron
from debrief.gui.widgets.tables import Index
from debrief.session.importing.column_choices import (
    channel_choices,
    choice_words,
    unit_choice_words,
    unit_choices,
)


class ChoiceDelegate(QStyledItemDelegate):
    """Shows that a cell can be chosen, lets choose it, and draws the trace."""

    def __init__(self, theme: Theme, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._theme = theme

    @guarded()
    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        """Return the list of choices, open."""
        model = index.model()
        assert isinstance(model, ColumnsModel)
        combo = ChoiceBox(self._theme, parent)
        combo.setMaxVisibleItems(16)
        name = model.proposal_of(index.row()).name or f"column {index.row() + 1}"
        combo.setAccessibleName(f"{HEADINGS[index.column()]}, {entry(name)}")
        if index.column() == CHANNEL:
            for channel in channel_choices():
                combo.addItem(choice_words(channel), channel)
        else:
            channel = model.form.channel(index.row())
            if channel != "time" and not model.form.unit(index.row()):
                combo.addItem("choose", "")
            for unit in unit_choices(channel):
                combo.addItem(unit_choice_words(unit, channel), unit)
        combo.activated.connect(self._chosen)
        # Later, since the list closes before it says what was chosen.
        combo.popup_hidden.connect(self._given_up, Qt.ConnectionType.QueuedConnection)
        return combo

    @guarded()
    def setEditorData(self, editor: QWidget, index: Index) -> None:
        """Show what is chosen now, and the list."""
        assert isinstance(editor, QComboBox)
        editor.setCurrentIndex(max(0, editor.findData(index.data(Qt.ItemDataRole.EditRole))))

    @guarded()
    def setModelData(self, editor: QWidget, model: QAbstractItemModel, index: Index) -> None:
        """Take the choice."""
        assert isinstance(editor, QComboBox)
        model.setData(index, editor.currentData())

    @Slot()
    def _chosen(self) -> None:
        combo = self.sender()
        if isinstance(combo, QComboBox):
            self.commitData.emit(combo)
            self.closeEditor.emit(combo, QAbstractItemDelegate.EndEditHint.NoHint)

    @Slot()
    def _given_up(self) -> None:
        combo = self.sender()
        if isinstance(combo, QComboBox):
            self.closeEditor.emit(combo, QAbstractItemDelegate.EndEditHint.RevertModelCache)

    @guarded()
    def updateEditorGeometry(self, editor: QWidget, option: QStyleOptionViewItem, index: Index) -> None:
        """Fill the cell."""
        editor.setGeometry(option.rect)

    @guarded(QSize())
    def sizeHint(self, option: QStyleOptionViewItem, index: Index) -> QSize:
        """Return room for the words and the mark."""
        size = super().sizeHint(option, index)
        return QSize(size.width() + self._theme.px(18), size.height())

    @painted_cell
    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: Index) -> None:
        """Draw the cell."""
        model = index.model()
        assert isinstance(model, ColumnsModel)
        super().paint(painter, option, index)
        area: Any = option
        rect = QRectF(area.rect)
        if index.column() == TRACE:
            role = "speed" if model.form.channel(index.row()) else "muted"
            column = model.proposal_of(index.row())
            paint_trace(painter, rect.adjusted(8, 5, -8, -5), column, self._theme.color(role))
        elif model.can_choose(index):
            selected = bool(area.state & QStyle.StateFlag.State_Selected)
            paint_chevron(painter, rect, self._theme.color("ink" if selected else "muted"), self._theme.scale)
