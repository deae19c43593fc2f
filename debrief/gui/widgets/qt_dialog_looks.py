"""Qt's own dialogs, for files, a channel, a printer: what they draw for light grounds alone, and boxes as everywhere else."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QGuiApplication, QIcon, QPainter, QPaintEvent, QPalette, QPen, QPixmap, QPolygonF
from PySide6.QtWidgets import QComboBox, QDialog, QToolButton, QWidget

from debrief.gui.background.guarded import guarded, painted, picture_of
from debrief.gui.style.theme import USUAL_TEXT
from debrief.gui.widgets.choice_boxes import ChoiceBox, paint_chevron

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


def dress_dialog(dialog: QDialog) -> None:
    """Draw the signs of its buttons in the colours of the text, and the mark of a list on its boxes to choose from.

    A dialog of the desktop has none of them.
    """
    palette = dialog.palette()
    for button in dialog.findChildren(QToolButton):
        if button.objectName() in _LINES:
            icon = QIcon()
            icon.addPixmap(_sign(button, palette, QPalette.ColorGroup.Normal), QIcon.Mode.Normal)
            icon.addPixmap(_sign(button, palette, QPalette.ColorGroup.Disabled), QIcon.Mode.Disabled)
            button.setIcon(icon)
    for box in dialog.findChildren(QComboBox):
        if not isinstance(box, ChoiceBox):
            _ListMark(box)


class _ListMark(QWidget):
    """Lies on a box that Qt made and draws what a `ChoiceBox` draws by itself: a style sheet has no lines for it."""

    def __init__(self, box: QComboBox) -> None:
        super().__init__(box)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents, True)
        self.resize(box.size())
        box.installEventFilter(self)
        self.show()

    @guarded(False)
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Follow the box."""
        if event.type() == QEvent.Type.Resize and isinstance(watched, QWidget):
            self.resize(watched.size())
        return False

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the mark."""
        # Not the own palette: the style sheet gives that one colour for both.
        group = QPalette.ColorGroup.Normal if self.isEnabled() else QPalette.ColorGroup.Disabled
        color = QGuiApplication.palette().color(group, QPalette.ColorRole.ButtonText)
        paint_chevron(painter, QRectF(self.rect()), color, self.font().pixelSize() / USUAL_TEXT)


def _sign(button: QToolButton, palette: QPalette, group: QPalette.ColorGroup) -> QPixmap:
    side = max(button.iconSize().height(), _SIDE)
    with picture_of(QSize(side, side), button.devicePixelRatioF()) as (picture, painter):
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.scale(side / _SIDE, side / _SIDE)
        painter.setPen(QPen(palette.color(group, QPalette.ColorRole.ButtonText), 2.0))
        for line in _LINES[button.objectName()]:
            painter.drawPolyline(QPolygonF([QPointF(x, y) for x, y in line]))
    return picture
