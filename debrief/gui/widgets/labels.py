"""Labels: what they show is never read as markup, and they give way where there is no room."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QLabel, QSizePolicy

from debrief.gui.background.guarded import guarded, painted
from debrief.gui.plain_text import plain_tip, with_short_words
from debrief.words.visible import visible


class PlainLabel(QLabel):
    """Shows a text as it is written, control characters as symbols; `role` is one of the style sheet's."""

    def __init__(self, text: str = "", *, role: str = "", wraps: bool = False) -> None:
        super().__init__()
        self.setTextFormat(Qt.TextFormat.PlainText)
        self.setWordWrap(wraps)
        if role:
            self.setProperty("role", role)
        self.setText(text)

    @guarded()
    def setText(self, text: str) -> None:
        """Show a text."""
        super().setText(visible(text, keep="\n"))


class ElidedLabel(PlainLabel):
    """One line; what does not fit is cut with an ellipsis and the tooltip has it whole.

    With `keeps_width` it takes the width of its text while there is room, else what the layout leaves.
    """

    def __init__(
        self,
        text: str = "",
        align: Qt.AlignmentFlag = Qt.AlignmentFlag.AlignLeft,
        mode: Qt.TextElideMode = Qt.TextElideMode.ElideRight,
        keeps_width: bool = False,
        role: str = "",
    ) -> None:
        super().__init__(text, role=role)
        self._keeps_width = keeps_width
        self._align = align
        self._mode = mode
        wide = QSizePolicy.Policy.Maximum if keeps_width else QSizePolicy.Policy.Ignored
        self.setSizePolicy(wide, QSizePolicy.Policy.Fixed)

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return the height of a line, and the width of the text where it is to keep it if it can."""
        metrics = self.fontMetrics()
        width = metrics.horizontalAdvance(self.text()) + 2 if self._keeps_width else 20
        return QSize(width, metrics.height() + 3)

    @guarded(QSize())
    def minimumSizeHint(self) -> QSize:
        """Return next to nothing."""
        return QSize(20, self.sizeHint().height())

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw as much as fits."""
        words = self.fontMetrics().elidedText(self.text(), self._mode, self.width())
        painter.setPen(self.palette().color(self.foregroundRole()))
        painter.drawText(self.rect(), self._align | Qt.AlignmentFlag.AlignVCenter, words)
        tip = plain_tip(self.text()) if words != self.text() else ""
        if tip != self.toolTip():
            self.setToolTip(tip)


class WrappedLabel(PlainLabel):
    """Wraps at words and is as narrow as the layout wants; the tooltip has a word whole that no line could hold."""

    def __init__(self, text: str = "", *, role: str = "") -> None:
        super().__init__(text, role=role, wraps=True)
        self.setMinimumWidth(1)
        self.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)

    @guarded()
    def setText(self, text: str) -> None:
        """Show a text."""
        whole = visible(text, keep="\n")
        words = with_short_words(whole)
        super().setText(words)
        if words != whole:
            self.setToolTip(plain_tip(whole))
