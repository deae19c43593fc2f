"""Qt's own file dialog, where the desktop has none: its pictures are made for light grounds, and lost on dark ones."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QSize
from PySide6.QtGui import QIcon, QPainter, QPalette, QPen, QPixmap, QPolygonF
from PySide6.QtWidgets import QFileDialog, QToolButton

from debrief.gui.background.guarded import picture_of

_SIDE = 16
_LINES = {
    "backButton": (((10, 3), (5, 8), (10, 13)),),
    "forwardButton": (((6, 3), (11, 8), (6, 13)),),
    "toParentButton": (((3, 8), (8, 3), (13, 8)), ((8, 3), (8, 14))),
    "newFolderButton": (
        ((1, 13), (1, 3), (6, 3), (8, 5), (14, 5), (14, 13), (1, 13)),
        ((5, 9), (10, 9)),
        ((7.5, 6.5), (7.5, 11.5)),
    ),
    "listModeButton": tuple(((x, y), (x + 4, y)) for x in (2, 10) for y in (4, 8, 12)),
    "detailModeButton": tuple(((2, y), (14, y)) for y in (4, 8, 12)),
}
"""Of each of its buttons by name: lines in a square of 16."""


def dress_file_dialog(dialog: QFileDialog) -> None:
    """Draw the signs of its buttons in the colours of the text; a dialog of the desktop has none of them."""
    palette = dialog.palette()
    for button in dialog.findChildren(QToolButton):
        if button.objectName() in _LINES:
            icon = QIcon()
            icon.addPixmap(_sign(button, palette, QPalette.ColorGroup.Normal), QIcon.Mode.Normal)
            icon.addPixmap(_sign(button, palette, QPalette.ColorGroup.Disabled), QIcon.Mode.Disabled)
            button.setIcon(icon)


def _sign(button: QToolButton, palette: QPalette, group: QPalette.ColorGroup) -> QPixmap:
    side = max(button.iconSize().height(), _SIDE)
    with picture_of(QSize(side, side), button.devicePixelRatioF()) as (picture, painter):
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.scale(side / _SIDE, side / _SIDE)
        painter.setPen(QPen(palette.color(group, QPalette.ColorRole.ButtonText), 2.0))
        for line in _LINES[button.objectName()]:
            painter.drawPolyline(QPolygonF([QPointF(x, y) for x, y in line]))
    return picture
