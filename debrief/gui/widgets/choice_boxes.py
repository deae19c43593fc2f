"""Boxes to choose from and to tick, seen in every theme, and headers of long tables."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QHelpEvent, QPainter, QPainterStateGuard, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QHeaderView,
    QStyle,
    QStyleOptionButton,
    QStyleOptionComboBox,
    QToolTip,
    QWidget,
)

from debrief.gui.background.guarded import guarded, painted_over
from debrief.gui.plain_text import plain_tip
from debrief.gui.style.theme import Theme


def paint_chevron(painter: QPainter, rect: QRectF, color: QColor, scale: float) -> None:
    """Draw the mark of a list at the right end of an area, at a scale of text."""
    x, y, half = rect.right() - max(1, round(12 * scale)), rect.center().y(), max(1, round(4 * scale))
    points = [QPointF(x - half, y - half / 2), QPointF(x, y + half / 2), QPointF(x + half, y - half / 2)]
    with QPainterStateGuard(painter):
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setPen(QPen(color, 1.4))
        painter.drawPolyline(QPolygonF(points))


class ChoiceBox(QComboBox):
    """A list of choices that shows that it is one in every theme.

    Signals
    -------
    popup_hidden
        The list was closed, with a choice or without one.
    """

    popup_hidden = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme

    def may_shrink(self, letters: int) -> None:
        """Let the box be narrower than its longest choice, down to some letters."""
        self.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.setMinimumContentsLength(letters)

    @guarded()
    def showPopup(self) -> None:
        """Open the list, as wide as its words."""
        view = self.view()
        view.setMinimumWidth(view.sizeHintForColumn(0) + self._theme.px(24))
        super().showPopup()
        view.installEventFilter(self)

    @guarded(False)
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Say when the list is hidden: Escape closes it past `hidePopup`."""
        if event.type() == QEvent.Type.Hide:
            self.popup_hidden.emit()
        return False

    @guarded()
    def initStyleOption(self, option: QStyleOptionComboBox) -> None:
        """Cut a choice for which there is no room with an ellipsis."""
        super().initStyleOption(option)
        control, field = QStyle.ComplexControl.CC_ComboBox, QStyle.SubControl.SC_ComboBoxEditField
        room = self.style().subControlRect(control, option, field, self).width()
        option.currentText = option.fontMetrics.elidedText(
            option.currentText,
            Qt.TextElideMode.ElideRight,
            room,
        )

    @guarded(False)
    def event(self, event: QEvent) -> bool:
        """Tell the choice whole where it is cut, and no tooltip of its own is asked for."""
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent) and not self.toolTip():
            option = QStyleOptionComboBox()
            self.initStyleOption(option)
            is_cut = option.currentText != self.currentText()
            QToolTip.showText(event.globalPos(), plain_tip(self.currentText() if is_cut else ""), self)
            return True
        return super().event(event)

    @painted_over(QComboBox.paintEvent)
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the mark on the box."""
        color = self._theme.color("ink" if self.isEnabled() else "muted")
        paint_chevron(painter, QRectF(self.rect()), color, self._theme.scale)


class TickBox(QCheckBox):
    """A check box whose box and tick are seen in every theme."""

    def __init__(self, words: str, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(words, parent)
        self._theme = theme

    @painted_over(QCheckBox.paintEvent)
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the tick in the box."""
        if not self.isChecked():
            return
        option = QStyleOptionButton()
        self.initStyleOption(option)
        box = QRectF(self.style().subElementRect(QStyle.SubElement.SE_CheckBoxIndicator, option, self))
        x, y, part = box.left(), box.top(), box.width() / 10
        tick = [QPointF(x + dx * part, y + dy * part) for dx, dy in ((2.4, 5.2), (4.3, 7.2), (7.8, 2.9))]
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setPen(QPen(self._theme.color("ink" if self.isEnabled() else "muted"), 2))
        painter.drawPolyline(QPolygonF(tick))


class FixedHeader(QHeaderView):
    """A header of one height that does not look at hundreds of its sections to find it."""

    def __init__(self, orientation: Qt.Orientation, parent: QWidget | None = None) -> None:
        super().__init__(orientation, parent)
        self._size = QSize(0, 0)
        self.setHighlightSections(False)
        self.setSectionsClickable(False)
        self.setTextElideMode(Qt.TextElideMode.ElideRight)

    def set_height(self, height: int) -> None:
        """Set the height."""
        self._size = QSize(0, height)
        self.setFixedHeight(height)

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return the height that was set."""
        return self._size
