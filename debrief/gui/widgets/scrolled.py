"""A window's content that scrolls where it needs more than the window has."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, QPoint, QRect, Qt, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QApplication, QFrame, QScrollArea, QStackedWidget, QWidget

from debrief.gui.background.guarded import guarded

_MARGIN_PX = 8
"""Around what is scrolled to."""


class Scrolled(QScrollArea):
    """Gives its content the room there is, else the least that it needs, and scrolls.

    Qt's own way to resize the content asks for the height that wrapped words would like, not for the least, and
    would scroll where everything fits.

    Parameters
    ----------
    content : QWidget
        It must have a layout.
    """

    def __init__(self, content: QWidget, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setWidget(content)

    def _fit(self) -> None:
        content = self.widget()
        layout = content.layout() if content is not None else None
        if content is None or layout is None:
            return
        room = self.maximumViewportSize()
        least = layout.totalMinimumSize()
        width = max(room.width(), least.width())
        needed = _least_height(content, width)
        if needed > room.height():
            width = max(room.width() - self.verticalScrollBar().sizeHint().width(), least.width())
            needed = _least_height(content, width)
        content.resize(width, max(room.height(), needed))

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Follow the window."""
        super().resizeEvent(event)
        self._fit()

    @guarded(False)
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Follow what the content needs."""
        if watched is self.widget() and event.type() == QEvent.Type.LayoutRequest:
            self._fit()
        return super().eventFilter(watched, event)


def _least_height(content: QWidget, width: int) -> int:
    layout = content.layout()
    assert layout is not None
    least = layout.totalMinimumSize().height()
    return layout.totalMinimumHeightForWidth(width) if layout.hasHeightForWidth() else least


class FocusInView(QObject):
    """Scrolls to what a key has led to, in all windows: Qt does so only inside of one scrolled part."""

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        app = QApplication.instance()
        assert isinstance(app, QApplication)
        app.focusChanged.connect(self._moved)

    @Slot("QWidget*", "QWidget*")
    def _moved(self, old: QWidget | None, now: QWidget | None) -> None:
        if now is None or QApplication.mouseButtons() != Qt.MouseButton.NoButton:
            return  # what is clicked is seen, and must not move below the mouse
        above = now.parentWidget()
        while above is not None:
            content = above.widget() if isinstance(above, QScrollArea) else None
            if isinstance(above, QScrollArea) and content is not None:
                room = above.viewport().rect()
                place = QRect(now.mapTo(above.viewport(), QPoint(0, 0)), now.size())
                is_larger = place.width() > room.width() or place.height() > room.height()
                if not room.contains(place) and not (is_larger and room.intersects(place)):
                    # All of it: `ensureWidgetVisible` cares for the cursor of a field alone.
                    middle = now.mapTo(content, now.rect().center())
                    margins = now.width() // 2 + _MARGIN_PX, now.height() // 2 + _MARGIN_PX
                    above.ensureVisible(middle.x(), middle.y(), *margins)
            above = above.parentWidget()


class LowStack(QStackedWidget):
    """Pages of which one is seen; it asks for no more than the least height that they need.

    A stack of pages with wrapped words asks for their usual height: the window would scroll where they fit.
    """

    @guarded(False)
    def hasHeightForWidth(self) -> bool:
        """Return False."""
        return False

    @guarded(-1)
    def heightForWidth(self, width: int) -> int:
        """Return -1: none is wanted."""
        return -1
