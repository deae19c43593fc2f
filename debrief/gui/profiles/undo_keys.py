"""Undo and redo by keys in a window whose fields would else keep these keys for themselves."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import QWidget

from debrief.gui.background.guarded import guarded

_REDO = ("Ctrl+Shift+Z", "Ctrl+Y")


class UndoKeys(QObject):
    """Makes the shortcuts of a window; a field that is watched leaves them to it, so that one order holds for all edits."""

    def __init__(self, window: QWidget, undo: Callable[[], object], redo: Callable[[], object]) -> None:
        super().__init__(window)
        QShortcut(QKeySequence("Ctrl+Z"), window).activated.connect(undo)
        for keys in _REDO:
            QShortcut(QKeySequence(keys), window).activated.connect(redo)

    def watch(self, field: QWidget) -> None:
        """Have a field, and what lies in it, leave the keys to the window."""
        for one in (field, *field.findChildren(QWidget)):
            one.installEventFilter(self)

    @guarded(False)
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Keep a field from taking the keys."""
        return leaves_undo(event)


def leaves_undo(event: QEvent) -> bool:
    """Return whether an event asks a field for the keys of undo or redo, which it is then not to have."""
    if event.type() != QEvent.Type.ShortcutOverride or not isinstance(event, QKeyEvent):
        return False
    if not any(QKeySequence(event.keyCombination()) == QKeySequence(keys) for keys in ("Ctrl+Z", *_REDO)):
        return False
    event.ignore()
    return True
