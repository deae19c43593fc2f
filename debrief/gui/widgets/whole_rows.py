"""No half row at the lower edge of a list: a row that does not fit is not shown until it is scrolled to."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QPoint, Qt, Slot
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QAbstractItemView, QWidget

from debrief.gui.background.guarded import guarded, painted
from debrief.gui.style.theme import Theme


class WholeRows(QWidget):
    """Covers the row that the lower edge cuts; what is below it the scroll bar tells.

    Parameters
    ----------
    view : QAbstractItemView
        A list or table that scrolls; it owns this.
    theme : Theme
        Its ground is the panel's.
    """

    def __init__(self, view: QAbstractItemView, theme: Theme) -> None:
        super().__init__(view.viewport())
        self._view = view
        self._theme = theme
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents, True)
        view.verticalScrollBar().valueChanged.connect(self.follow)
        view.verticalScrollBar().rangeChanged.connect(self.follow)
        view.viewport().installEventFilter(self)
        theme.changed.connect(self.follow)
        view.ensurePolished()  # rows are measured now, and would keep the height that they had without a style
        self.follow()

    @guarded(False)
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Follow the size of the view, and its colours."""
        if event.type() in (QEvent.Type.Resize, QEvent.Type.Show, QEvent.Type.LayoutRequest):
            self.follow()
        return False

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Fill with the ground of the panel."""
        painter.fillRect(self.rect(), self._theme.color("panel"))

    @Slot()
    def follow(self) -> None:
        """Cover what is cut now."""
        view, port = self._view, self._view.viewport()
        height = port.height()
        rect = view.visualRect(view.indexAt(QPoint(1, height - 1)))
        # A row that is taller than the view, or the last one there is, stays as it is.
        is_cut = rect.isValid() and rect.bottom() >= height and rect.top() > 0
        if is_cut:
            self.setGeometry(0, rect.top(), port.width(), height - rect.top())
            self.raise_()
        self.setVisible(is_cut)
