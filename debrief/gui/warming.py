"""Prepares what is not shown yet while nobody waits, so that the first recording appears at once.

Styling a widget takes a millisecond and a page has a hundred of them: done when the page is first shown, the
event loop would stand still for it.
"""

from __future__ import annotations

import time

from PySide6.QtCore import QObject, QTimer, Slot
from PySide6.QtWidgets import QWidget

_SLICE_S = 0.004
_PAUSE_MS = 10


class Warming(QObject):
    """Styles the hidden widgets of a window, a few milliseconds at a time, until all are done."""

    def __init__(self, window: QWidget) -> None:
        super().__init__(window)
        self._waiting = [widget for widget in window.findChildren(QWidget) if not widget.isVisible()]
        self._timer = QTimer(self)
        self._timer.setInterval(_PAUSE_MS)
        self._timer.timeout.connect(self._go_on)
        self._timer.start()

    @property
    def done(self) -> bool:
        """Whether nothing is left."""
        return not self._waiting

    @Slot()
    def _go_on(self) -> None:
        end = time.perf_counter() + _SLICE_S
        while self._waiting and time.perf_counter() < end:
            self._waiting.pop(0).ensurePolished()
        if not self._waiting:
            self._timer.stop()
