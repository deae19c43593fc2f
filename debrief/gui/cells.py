"""Cells of tables that wrap at words and are as tall as that needs."""

from __future__ import annotations

from collections.abc import Collection

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QSize, Qt
from PySide6.QtWidgets import QStyledItemDelegate, QStyleOptionViewItem, QTableWidget


class WrappedCells(QStyledItemDelegate):
    """Gives wrapped cells the height that they need: Qt's own counts without the padding.

    Parameters
    ----------
    table : QTableWidget
        It must wrap words.
    whole : collection of int
        Columns of values, which are never wrapped: they ask for their full width.
    """

    def __init__(self, table: QTableWidget, whole: Collection[int]) -> None:
        super().__init__(table)
        self._table = table
        self._whole = whole

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        """Return the size of a cell at its column's width; that of a value is never wrapped."""
        text = str(index.data(Qt.ItemDataRole.DisplayRole) or "")
        metrics = self._table.fontMetrics()
        if index.column() in self._whole:
            return QSize(metrics.horizontalAdvance(text) + 28, metrics.height() + 10)
        room = QRect(0, 0, max(self._table.columnWidth(index.column()) - 30, 20), 2000)
        return QSize(
            room.width(), metrics.boundingRect(room, int(Qt.TextFlag.TextWordWrap), text).height() + 10
        )
