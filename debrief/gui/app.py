"""The program with a window: sets Qt up, opens what was named, and catches what nobody caught."""

from __future__ import annotations

import logging
import logging.handlers
import sys
from collections.abc import Sequence
from io import TextIOWrapper
from pathlib import Path

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QIcon, QPainter, QPen
from PySide6.QtWidgets import QApplication

from debrief.gui.background.guarded import picture_of
from debrief.gui.background.interpreter import calm_interpreter, put_aside
from debrief.gui.background.last_net import EndBySignal, LastNet
from debrief.gui.shell.window import Window
from debrief.gui.style.palettes import qt_color
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from debrief.home import home
from debrief.output.private import open_private, private_folder, tidy_home
from debrief.words.clean import in_lines
from debrief.words.colours import DARK


def main(argv: Sequence[str] | None = None) -> int:
    """Show the window until it is closed; return the exit code.

    Parameters
    ----------
    argv : sequence of str, optional
        A recording, and one that is compared with it; ``sys.argv[1:]`` if not given.
    """
    arguments = list(sys.argv[1:] if argv is None else argv)
    app = make_app()
    settings = Settings()
    theme = Theme(settings.theme, settings.scale)
    theme.apply()
    window = Window(theme, settings)
    theme.use_turns(window.replay.turns)
    _log_to_file()
    with LastNet() as net, EndBySignal(window) as ending:
        net.told.connect(window.messages.tell, Qt.ConnectionType.QueuedConnection)
        window.show()
        calm_interpreter()
        window.desk.opened.connect(put_aside)
        if arguments:
            window.open_files(arguments)
        window.unsaved.offer()
        return app.exec() or ending.code


def make_app() -> QApplication:
    """Return the application, made if there is none yet."""
    app = QApplication.instance()
    if isinstance(app, QApplication):
        return app
    app = QApplication(["turbine-debrief"])
    app.setApplicationName("Turbine Debrief")
    app.setDesktopFileName("turbine-debrief")
    app.setStyle("Fusion")
    app.setWindowIcon(make_icon())
    return app


def make_icon() -> QIcon:
    """Return the program's sign: a gauge whose pointer stands at its red line."""
    icon = QIcon()
    for side in (16, 32, 64, 128):
        with picture_of(QSize(side, side)) as (picture, painter):
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            painter.scale(side / 64, side / 64)
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(qt_color(DARK, "panel"))
            painter.drawRoundedRect(QRectF(0, 0, 64, 64), 12, 12)
            dial = QRectF(11, 13, 42, 42)
            for begin, sweep, role in ((225, -190, "normal"), (35, -80, "hairline")):
                pen = QPen(qt_color(DARK, role), 6)
                pen.setCapStyle(Qt.PenCapStyle.FlatCap)
                painter.setPen(pen)
                painter.drawArc(dial, begin * 16, sweep * 16)
            painter.setPen(QPen(qt_color(DARK, "limit"), 6))
            painter.drawLine(QPointF(45, 25), QPointF(55, 18))
            pen = QPen(qt_color(DARK, "ink"), 5)
            pen.setCapStyle(Qt.PenCapStyle.RoundCap)
            painter.setPen(pen)
            painter.drawLine(QPointF(32, 34), QPointF(43, 26))
        icon.addPixmap(picture)
    return icon


class _CleanFormatter(logging.Formatter):
    """Writes no password, and nothing that acts on the terminal that shows the log."""

    def format(self, record: logging.LogRecord) -> str:
        return in_lines(super().format(record))


class _PrivateFileHandler(logging.handlers.RotatingFileHandler):
    """Keeps the log for the user alone."""

    def _open(self) -> TextIOWrapper:
        return open_private(Path(self.baseFilename))


def _log_to_file() -> None:
    """Log faults to the user's folder; without it to nowhere, which must not stop the program."""
    logger = logging.getLogger("debrief")
    if any(isinstance(h, logging.handlers.RotatingFileHandler) for h in logger.handlers):
        return
    tidy_home()
    try:
        private_folder(home() / "logs")
        handler = _PrivateFileHandler(
            home() / "logs" / "debrief.log", maxBytes=500_000, backupCount=2, encoding="utf-8", delay=True
        )
    except OSError:
        return
    handler.setFormatter(_CleanFormatter("%(asctime)s %(levelname)s %(name)s: %(message)s"))
    logger.addHandler(handler)


if __name__ == "__main__":
    sys.exit(main())
