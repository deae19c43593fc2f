"""Things in a row that goes on below where it has no more room."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QLayout, QLayoutItem, QWidget

from debrief.gui.background.guarded import guarded


class FlowLayout(QLayout):
    """Puts its widgets beside each other, each as wide as it wants, and begins a new row where the width ends."""

    def __init__(self, spacing: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._items: list[QLayoutItem] = []
        self.setSpacing(spacing)
        self.setContentsMargins(0, 0, 0, 0)

    @guarded()
    def addItem(self, item: QLayoutItem) -> None:
        """Take a thing."""
        self._items.append(item)

    @guarded(0)
    def count(self) -> int:
        """Return how many there are."""
        return len(self._items)

    @guarded()
    def itemAt(self, index: int) -> QLayoutItem | None:
        """Return one of them."""
        return self._items[index] if 0 <= index < len(self._items) else None

    @guarded()
    def takeAt(self, index: int) -> QLayoutItem | None:
        """Give one of them back."""
        return self._items.pop(index) if 0 <= index < len(self._items) else None

    @guarded(Qt.Orientation(0))
    def expandingDirections(self) -> Qt.Orientation:
        """Return none: it is as high as its rows."""
        return Qt.Orientation(0)

    @guarded(True)
    def hasHeightForWidth(self) -> bool:
        """Return that a narrow one is higher."""
        return True

    @guarded(0)
    def heightForWidth(self, width: int) -> int:
        """Return how high the rows are in a width."""
        return self._placed(QRect(0, 0, width, 0), is_moved=False)

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return the size of the largest thing, which always has to fit."""
        return self.minimumSize()

    @guarded(QSize())
    def minimumSize(self) -> QSize:
        """Return the size of the largest thing."""
        size = QSize()
        for item in self._items:
            size = size.expandedTo(item.minimumSize())
        return size

    @guarded()
    def setGeometry(self, rect: QRect) -> None:
        """Put the things where they belong."""
        super().setGeometry(rect)
        self._placed(rect, is_moved=True)

    def _placed(self, rect: QRect, *, is_moved: bool) -> int:
        """Place all in rows and return the height of these, [px]."""
        x, y, high = rect.x(), rect.y(), 0
        for item in self._items:
            size = item.sizeHint()
            width = min(size.width(), rect.width())
            if x > rect.x() and x + width > rect.x() + rect.width():
                x, y, high = rect.x(), y + high + self.spacing(), 0
            if is_moved:
                item.setGeometry(QRect(QPoint(x, y), QSize(width, size.height())))
            x += width + self.spacing()
            high = max(high, size.height())
        return y + high - rect.y()
