"""What is shown over the window while files are dragged over it: where they go, and what becomes of them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import QMimeData, QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from debrief.gui.background.guarded import painted
from debrief.gui.plain_text import with_short_words
from debrief.gui.style.theme import Theme
from debrief.words.visible import visible

_EDGE = 14.0


def files_in(data: QMimeData) -> list[str]:
    """Return the paths of the files that are dragged."""
    return [url.toLocalFile() for url in data.urls() if url.isLocalFile()]


def drop_words(files: Sequence[str]) -> str:
    """Return what dropping these files does."""
    names = [visible(Path(file).name) for file in files[:2]]
    if len(files) == 2:
        return f"Drop to open {names[0]} and compare it with {names[1]}"
    more = f"; the {len(files) - 1} others can be added to the history" if len(files) > 2 else ""
    return f"Drop to open {names[0]}{more}"


class DropTarget(QWidget):
    """A frame over all of its parent with words in it; hidden until files come."""

    def __init__(self, theme: Theme, parent: QWidget) -> None:
        super().__init__(parent)
        self._theme = theme
        self._words = ""
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents, True)
        self.hide()

    def show_files(self, files: Sequence[str]) -> None:
        """Say what becomes of these files; without any it is hidden."""
        self._words = drop_words(files) if files else ""
        self.setAccessibleName(self._words)
        self.setVisible(bool(files))
        parent = self.parentWidget()
        if files and parent is not None:
            self.setGeometry(parent.rect())
            self.raise_()

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Dim what is below and draw the frame and the words."""
        theme = self._theme
        ground = theme.color("ground")
        ground.setAlphaF(0.8)
        painter.fillRect(self.rect(), ground)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setPen(QPen(theme.color("ink"), 3, Qt.PenStyle.DashLine))
        frame = QRectF(self.rect()).adjusted(_EDGE, _EDGE, -_EDGE, -_EDGE)
        painter.drawRoundedRect(frame, 10, 10)
        flags = int(Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap)
        room = frame.adjusted(_EDGE, _EDGE, -_EDGE, -_EDGE)
        theme.write(painter, room, with_short_words(self._words), 22, bold=True, flags=flags)
