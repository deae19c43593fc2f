"""The program with a window: sets Qt up, opens what was named, and catches what nobody caught."""

from __future__ import annotations

import logging
import logging.handlers
import sys
from collections.abc import Sequence
from types import TracebackType

from PySide6.QtWidgets import QApplication

from debrief.gui.settings import Settings
from debrief.gui.theme import Theme
from debrief.gui.window import Window
from debrief.home import home


def main(argv: Sequence[str] | None = None) -> int:
    """Show the window until it is closed; return the exit code.

    Parameters
    ----------
    argv : sequence of str, optional
        At most one path of a recording; ``sys.argv[1:]`` if not given.
    """
    arguments = list(sys.argv[1:] if argv is None else argv)
    app = make_app()
    settings = Settings()
    theme = Theme(settings.theme, settings.scale)
    theme.apply()
    window = Window(theme, settings)
    _log_to_file()
    hook = sys.excepthook

    def caught(kind: type[BaseException], error: BaseException, trace: TracebackType | None) -> None:
        if isinstance(error, KeyboardInterrupt):
            hook(kind, error, trace)
            return
        window.tell_bug(error)

    sys.excepthook = caught
    try:
        window.show()
        if arguments:
            window.open_path(arguments[0])
        return app.exec()
    finally:
        sys.excepthook = hook


def make_app() -> QApplication:
    """Return the application, made if there is none yet."""
    app = QApplication.instance()
    if isinstance(app, QApplication):
        return app
    app = QApplication(["turbine-debrief"])
    app.setApplicationName("Turbine Debrief")
    app.setDesktopFileName("turbine-debrief")
    app.setStyle("Fusion")
    return app


def _log_to_file() -> None:
    """Log faults to the user's folder; without it to nowhere, which must not stop the program."""
    logger = logging.getLogger("debrief")
    if any(isinstance(h, logging.handlers.RotatingFileHandler) for h in logger.handlers):
        return
    try:
        folder = home() / "logs"
        folder.mkdir(parents=True, exist_ok=True)
        handler = logging.handlers.RotatingFileHandler(
            folder / "debrief.log", maxBytes=500_000, backupCount=2, encoding="utf-8", delay=True
        )
    except OSError:
        return
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    logger.addHandler(handler)


if __name__ == "__main__":
    sys.exit(main())
