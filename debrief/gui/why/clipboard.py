"""Tables on the clipboard, for a spreadsheet and for a letter."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QMimeData
from PySide6.QtWidgets import QApplication


def copy_tables(text: str, html: str) -> None:
    """Put lines with tabs and the same as HTML on the clipboard."""
    data = QMimeData()
    data.setText(text)
    data.setHtml(html)
    QApplication.clipboard().setMimeData(data)
    app = QApplication.instance()
    if app is not None:
        app.aboutToQuit.connect(partial(_keep_text, text))


def _keep_text(text: str) -> None:
    """Leave the text alone there: data of Python's that outlives Python on the clipboard ends the program with a fault."""
    clipboard = QApplication.clipboard()
    if clipboard.text() == text:
        clipboard.setText(text)
