"""Buttons, rows, columns and grounds, made in one call with what belongs to them."""

from __future__ import annotations

from typing import Any, TypeVar

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QBoxLayout, QHBoxLayout, QLayout, QPushButton, QVBoxLayout, QWidget

from debrief.gui.plain_text import plain_tip

_Box = TypeVar("_Box", bound=QBoxLayout)


def made_button(
    words: str, slot: Any = None, *, role: str = "", name: str = "", tip: str = "", checkable: bool = False
) -> QPushButton:
    """Return a button whose click calls a slot; `name` is what a screen reader says in place of its words."""
    button = QPushButton(words)
    button.setAutoDefault(False)  # in a dialog Enter is for the one button that says so
    button.setCheckable(checkable)
    if role:
        button.setProperty("role", role)
    if name:
        button.setAccessibleName(name)
    button.setToolTip(plain_tip(tip))
    if slot is not None:
        button.clicked.connect(slot)
    return button


def row_layout(
    owner: QWidget | None = None,
    *,
    margins: tuple[int, int, int, int] | None = None,
    spacing: int | None = None,
) -> QHBoxLayout:
    """Return a row, the layout of a widget where one is given; margins from the left by the top, [px]."""
    return _spaced(QHBoxLayout(owner) if owner is not None else QHBoxLayout(), margins, spacing)


def column_layout(
    owner: QWidget | None = None,
    *,
    margins: tuple[int, int, int, int] | None = None,
    spacing: int | None = None,
) -> QVBoxLayout:
    """Return a column as `row_layout` does a row."""
    return _spaced(QVBoxLayout(owner) if owner is not None else QVBoxLayout(), margins, spacing)


def _spaced(box: _Box, margins: tuple[int, int, int, int] | None, spacing: int | None) -> _Box:
    if margins is not None:
        box.setContentsMargins(*margins)
    if spacing is not None:
        box.setSpacing(spacing)
    return box


def set_ground(widget: QWidget, ground: str, name: str = "") -> None:
    """Give a widget one of the grounds of the style sheet, and what a screen reader calls it."""
    widget.setObjectName(ground)
    widget.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
    if name:
        widget.setAccessibleName(name)


def fit_to_screen(window: QWidget, width: int, height: int) -> None:
    """Give a window a size, [px], but no more than the screen has free."""
    room = (window.screen() or QGuiApplication.primaryScreen()).availableGeometry()
    window.resize(min(width, room.width() - 40), min(height, room.height() - 60))


def remove_parts(layout: QLayout, parts: list[Any]) -> None:
    """Take widgets out of a layout and out of sight at once, for good, and out of their list."""
    for part in parts:
        layout.removeWidget(part)
        part.hide()
        part.deleteLater()
    parts.clear()


def restyle(widget: QWidget, name: str, value: object) -> None:
    """Set a property that the style sheet asks for, with what follows from it."""
    widget.setProperty(name, value)
    widget.style().unpolish(widget)
    widget.style().polish(widget)
