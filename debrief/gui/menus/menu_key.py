"""Shift+F10 asks for a menu where the keyboard has no key for it; Qt knows it on some systems only."""

from __future__ import annotations

from PySide6.QtCore import Slot
from PySide6.QtGui import QContextMenuEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QApplication, QWidget


class MenuKey(QShortcut):
    """Asks what has the keys for its menu, as the menu key does."""

    def __init__(self, window: QWidget) -> None:
        super().__init__(QKeySequence("Shift+F10"), window)
        self.activated.connect(self._ask)

    @Slot()
    def _ask(self) -> None:
        widget = QApplication.focusWidget()
        if widget is not None:
            place = widget.rect().center()
            event = QContextMenuEvent(QContextMenuEvent.Reason.Keyboard, place, widget.mapToGlobal(place))
            QApplication.sendEvent(widget, event)
