"""Another window, or the command, may write to the history too: whoever shows something of it is told."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QTimer, Signal, Slot
from PySide6.QtWidgets import QWidget

from debrief.gui.background.guarded import guarded
from debrief.home import history_file

_EVERY_MS = 4000


class HistoryFollower(QObject):
    """Looks whether the history's file has changed: when its window is entered, and now and then.

    It asks the file system alone, a matter of microseconds; the history itself is read by who is told.

    Signals
    -------
    changed
        Somebody has written to the history since it was last looked at.
    """

    changed = Signal()

    def __init__(self, window: QWidget) -> None:
        super().__init__(window)
        self._window = window
        self._seen = _state()
        self._clock = QTimer(self)
        self._clock.timeout.connect(self.look)
        self._clock.start(_EVERY_MS)
        window.installEventFilter(self)

    @Slot()
    def look(self) -> None:
        """Tell it where the file is another than when it was last looked at."""
        state = _state()
        if state != self._seen:
            self._seen = state
            self.changed.emit()

    def close(self) -> None:
        """Look no more."""
        self._clock.stop()
        self._window.removeEventFilter(self)

    @guarded(False)
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Look when the window is entered."""
        if event.type() == QEvent.Type.WindowActivate:
            self.look()
        return False


def _state() -> tuple[tuple[int, int], ...]:
    """Return when the history and its log were written, and how long they are; nothing for what is not there."""
    found = []
    file = history_file()
    for part in (file, file.with_name(f"{file.name}-wal")):
        try:
            state = part.stat()
        except OSError:
            continue
        if state.st_size:
            found.append((state.st_mtime_ns, state.st_size))
    return tuple(found)
