"""Cells of tables: wrapped at words and as tall as that needs, or edited."""

from __future__ import annotations

from collections.abc import Collection

from PySide6.QtCore import QLocale, QModelIndex, QPersistentModelIndex, QRect, QSize, Qt
from PySide6.QtWidgets import QStyledItemDelegate, QStyleOptionViewItem, QTableWidget

from debrief.gui.background.guarded import guarded
from debrief.words.visible import visible

_MOST_KEPT = 2000


class PlainCells(QStyledItemDelegate):
    """Shows control characters of cells that are edited as symbols; what is edited stays as it is."""

    @guarded("")
    def displayText(self, value: object, locale: QLocale | QLocale.Language) -> str:
        """Return what is shown of a cell."""
        return visible(super().displayText(value, locale))


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
        self._kept: dict[tuple[str, int, int], QSize] = {}

    @guarded(QSize())
    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        """Return the size of a cell at its column's width; that of a value is never wrapped."""
        text = str(index.data(Qt.ItemDataRole.DisplayRole) or "")
        whole = index.column() in self._whole
        width = 0 if whole else max(self._table.columnWidth(index.column()) - 30, 20)
        # Asked for each cell several times while a table is laid out; measuring words takes long.
        key = (text, width, self._table.font().pixelSize())
        size = self._kept.get(key)
        if size is None:
            if len(self._kept) > _MOST_KEPT:
                self._kept.clear()
            size = self._kept[key] = self._measured(text, width)
        return size

    def _measured(self, text: str, width: int) -> QSize:
        metrics = self._table.fontMetrics()
        if not width:
            return QSize(metrics.horizontalAdvance(text) + 28, metrics.height() + 10)
        room = QRect(0, 0, width, 2000)
        return QSize(width, metrics.boundingRect(room, int(Qt.TextFlag.TextWordWrap), text).height() + 10)
