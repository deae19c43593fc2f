"""What nobody caught, and the signals that ask the program to end."""

from __future__ import annotations

import signal
import socket
import sys
import threading
from types import FrameType, TracebackType
from typing import Self

from PySide6.QtCore import QObject, QSocketNotifier, QTimer, Signal, Slot
from PySide6.QtWidgets import QWidget

from debrief.gui.background.error_words import Repeats, told_of

_ASK_TO_END = (signal.SIGINT, signal.SIGTERM)


class LastNet(QObject):
    """While it is entered, what nobody caught in any thread is logged and told; the program goes on.

    A slot of a timer can fail many times a second: what only goes on is neither logged nor told again.

    Signals
    -------
    told : str, bool, str
        As of `MessageBar.tell`. To be connected so that it waits for the next turn of the event loop: it may come
        from another thread, or from the midst of painting.
    """

    told = Signal(str, bool, str)

    def __init__(self) -> None:
        super().__init__()
        self._repeats = Repeats()
        self._before = (sys.excepthook, threading.excepthook, sys.unraisablehook)

    def __enter__(self) -> Self:
        self._before = (sys.excepthook, threading.excepthook, sys.unraisablehook)
        sys.excepthook = self._caught
        threading.excepthook = self._caught_in_thread
        sys.unraisablehook = self._caught_at_the_end_of_an_object
        return self

    def __exit__(self, *_: object) -> None:
        sys.excepthook, threading.excepthook, sys.unraisablehook = self._before

    def _caught(self, kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        if isinstance(error, KeyboardInterrupt):
            self._before[0](kind, error, trace)
        elif not self._repeats.goes_on(error):
            words, details = told_of(error)
            self.told.emit(words, True, details)

    def _caught_in_thread(self, caught: threading.ExceptHookArgs) -> None:
        if caught.exc_value is not None:
            self._caught(caught.exc_type, caught.exc_value, caught.exc_traceback)

    def _caught_at_the_end_of_an_object(self, caught: sys.UnraisableHookArgs) -> None:
        if caught.exc_value is not None and not self._repeats.goes_on(caught.exc_value):
            told_of(caught.exc_value)


class EndBySignal(QObject):
    """While it is entered, Ctrl-C in the terminal or the end of the desktop closes the window as its button does.

    A second signal ends the program at once.

    Parameters
    ----------
    window : QWidget
        What is closed: it stops its jobs, writes its notes, and asks for what is not saved.

    Attributes
    ----------
    code : int
        Exit code of a program that was ended by a signal, as of a shell; 0 where none came.
    """

    def __init__(self, window: QWidget) -> None:
        super().__init__(window)
        self.code = 0
        self._window = window
        # Python serves a signal when it runs next, and it does not run while Qt waits: a byte wakes it.
        self._read, self._write = socket.socketpair()
        self._write.setblocking(False)
        self._notifier = QSocketNotifier(self._read.fileno(), QSocketNotifier.Type.Read, self)
        self._notifier.activated.connect(self._woken)

    def __enter__(self) -> Self:
        self._before = {number: signal.signal(number, self._asked) for number in _ASK_TO_END}
        signal.set_wakeup_fd(self._write.fileno(), warn_on_full_buffer=False)
        return self

    def __exit__(self, *_: object) -> None:
        signal.set_wakeup_fd(-1)
        for number, before in self._before.items():
            signal.signal(number, before)
        self._notifier.setEnabled(False)
        self._read.close()
        self._write.close()

    @Slot()
    def _woken(self) -> None:
        self._read.recv(64)

    def _asked(self, number: int, frame: FrameType | None) -> None:
        for one in _ASK_TO_END:
            signal.signal(one, signal.SIG_DFL)
        self.code = 128 + number
        QTimer.singleShot(0, self._window, self._window.close)
