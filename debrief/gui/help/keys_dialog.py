"""The page of keys: made of the entries of the menus themselves and of the keys of the parts; searched by words or keys."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import QAction, QKeySequence, QResizeEvent
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QHeaderView,
    QLineEdit,
    QMainWindow,
    QMenu,
    QTableWidgetItem,
)

from debrief.gui.background.guarded import guarded
from debrief.gui.menus.own_keys import OWN_KEYS
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.parts import column_layout, fit_to_screen
from debrief.gui.widgets.tables import made_table

_TITLES = ("Keys", "What they do", "Where")
_BETWEEN = 6
_PARTS = (0.27, 0.45, 0.28)


@dataclass(frozen=True)
class KeyRow:
    """One row of the page."""

    keys: str
    words: str
    place: str


def key_rows(window: QMainWindow) -> list[KeyRow]:
    """Return all keys: those of the menus first, as they are now, then those of the parts."""
    rows = [
        KeyRow(_native(action.shortcuts()), _plain(action.text()), f"Menu {place}")
        for place, action in _entries(window)
        if action.shortcuts()
    ]
    for own in OWN_KEYS:
        keys = _native([QKeySequence(key) for key in own.keys]) if own.module else ", ".join(own.keys)
        rows.append(KeyRow(keys, own.words, own.place))
    return rows


def _entries(window: QMainWindow) -> Iterator[tuple[str, QAction]]:
    """Yield the entries of the menus, also those of the menus in them, each with the names of its menus."""
    waiting = [("", action) for action in window.menuBar().actions()]
    while waiting:
        place, action = waiting.pop(0)
        menu = action.menu()
        if isinstance(menu, QMenu):
            inside = f"{place}, {_plain(action.text())}" if place else _plain(action.text())
            waiting[:0] = [(inside, one) for one in menu.actions()]
        else:
            yield place, action


def _native(keys: list[QKeySequence]) -> str:
    return ", ".join(key.toString(QKeySequence.SequenceFormat.NativeText) for key in keys)


def _plain(text: str) -> str:
    # An undo says what it undoes; the page says what the key is for.
    return text.replace("&", "").rstrip(".").partition(":")[0]


class KeysDialog(QDialog):
    """All keys in one table; what is typed narrows it. The window behind stays usable."""

    def __init__(self, window: QMainWindow, theme: Theme) -> None:
        super().__init__(window)
        self.setWindowTitle("Keys")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
        fit_to_screen(self, theme.px(760), theme.px(560))
        column = column_layout(self, margins=(14, 14, 14, 12), spacing=8)
        self.field = QLineEdit(placeholderText="Search: a word or a key", clearButtonEnabled=True)
        self.field.setAccessibleName("Search the keys")
        column.addWidget(self.field)
        self.table = made_table("All keys", _TITLES)
        rows = self._rows = key_rows(window)
        self.table.setRowCount(len(rows))
        for number, row in enumerate(rows):
            for place, text in enumerate((row.keys, row.words, row.place)):
                self.table.setItem(number, place, QTableWidgetItem(text))
        self.table.setWordWrap(True)
        self.table.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        column.addWidget(self.table, 1)
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.close)
        column.addWidget(buttons)
        self.field.textChanged.connect(self._search)
        self.field.setFocus()

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the width among the columns, whatever the size of text: what is longer wraps."""
        super().resizeEvent(event)
        layout = self.layout()
        if layout is not None:
            layout.activate()
        room = self.table.viewport().width()
        for column, part in enumerate(_PARTS):
            self.table.setColumnWidth(column, int(part * room))
        self.table.resizeRowsToContents()
        for row in range(self.table.rowCount()):
            self.table.setRowHeight(row, self.table.rowHeight(row) + _BETWEEN)

    @Slot(str)
    def _search(self, text: str) -> None:
        """Show the rows that have all the words; a key alone is looked for among the keys."""
        words = text.casefold().split()
        for number, row in enumerate(self._rows):
            whole = f"{row.keys} {row.words} {row.place}".casefold()
            keys = [key.strip() for key in row.keys.casefold().split(", ")]
            hit = all(word in (keys if len(word) == 1 else whole) for word in words)
            self.table.setRowHidden(number, not hit)
