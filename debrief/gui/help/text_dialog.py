"""A window of words that scroll."""

from __future__ import annotations

import re

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QDialogButtonBox, QTextBrowser, QVBoxLayout, QWidget

from debrief.gui.plain_text import titled
from debrief.gui.style.theme import Theme
from debrief.words.visible import visible

_UNIT = re.compile(r"(?<=\d) (?=(?:°[CF]|%|mΩ|[a-zA-Z]{1,3}(?:/h|/s|/min)?)(?![\w/]))")
"""Between a number and a short word such as its unit: no line ends there."""


class TextDialog(QDialog):
    """Shows words that scroll, with Close always in view; the window behind stays usable."""

    def __init__(
        self, title: str, html: str, theme: Theme, name: str = "", parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle(titled(title))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
        free = self.screen().availableGeometry()
        self.resize(min(theme.px(640), free.width() - 40), min(theme.px(520), free.height() - 80))
        column = QVBoxLayout(self)
        self.text = QTextBrowser()
        self.text.setAccessibleName(name or title)
        self.text.setHtml(_UNIT.sub("\N{NO-BREAK SPACE}", visible(html, keep="\n")))
        column.addWidget(self.text)
        # A few words need no large window.
        document = self.text.document().clone(self)
        document.setTextWidth(self.width() - theme.px(60))
        self.resize(self.width(), min(self.height(), int(document.size().height()) + theme.px(96)))
        buttons = QDialogButtonBox(QDialogButtonBox.StandardButton.Close)
        buttons.rejected.connect(self.close)
        column.addWidget(buttons)
