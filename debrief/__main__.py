"""The program's entries, the same for ``python -m debrief``: as light as can be, so that Ctrl-C is heard from the first."""

from __future__ import annotations

import os
import signal
import sys
from types import FrameType

INTERRUPTED = 130


def run() -> int:
    """Run the command ``debrief`` and return its exit code."""
    _listen()
    try:
        from debrief.cli import main

        return main()
    except KeyboardInterrupt:
        _leave()
    finally:
        # What is left is the interpreter's end, which would print a traceback.
        signal.signal(signal.SIGINT, signal.SIG_DFL)
    return INTERRUPTED


def run_window() -> int:
    """Show the window and return its exit code."""
    _listen()
    from debrief.gui.app import main

    # Until the window listens itself: Qt's loop runs no Python that could interrupt it.
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    return main()


def _listen() -> None:
    """Let Ctrl-C end the program at any moment with 130 and without a traceback, and keep the streams apart from files."""
    # A file that is opened while standard output is closed would get its number, and what is printed.
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
    # Where it is ignored, as behind nohup, it stays so.
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _interrupted)
        sys.unraisablehook = _unraisable


def _interrupted(_signal: int, frame: FrameType | None) -> None:
    """Interrupt what is done; where a module is being imported it is left at once, since not all of them can be left."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)  # who presses it twice does not want to wait
    while frame is not None:
        if frame.f_code.co_filename.startswith("<frozen importlib"):
            _leave()
        frame = frame.f_back
    raise KeyboardInterrupt


def _unraisable(caught: sys.UnraisableHookArgs) -> None:
    """End the program also where an interruption was caught in code that cannot pass it on."""
    if issubclass(caught.exc_type, KeyboardInterrupt):
        _leave()
    sys.__unraisablehook__(caught)


def _leave() -> None:
    try:
        os.write(2, b"debrief: interrupted\n")
    finally:
        os._exit(INTERRUPTED)


if __name__ == "__main__":
    sys.exit(run())
