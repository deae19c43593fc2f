"""Going through a window by Tab, and whether one sees where one is. No test module."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray
from PySide6.QtCore import QPoint, QRect, Qt
from PySide6.QtGui import QImage
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QWidget

MOST_STOPS = 400
AROUND_PX = 4
SEEN = 12
"""So many pixels at least tell that a part has the keys, each by the contrast that WCAG 2.x asks of what is no text."""


def to_be_reached(root: QWidget) -> set[QWidget]:
    """Return what Tab has to come to."""
    return {
        one
        for one in root.findChildren(QWidget)
        if one.isVisible()
        and one.isEnabled()
        and one.window() is root
        and one.focusPolicy() & Qt.FocusPolicy.TabFocus
        and one.focusProxy() is None
        and not _comes_by_arrow(one)
    }


def _comes_by_arrow(widget: QWidget) -> bool:
    """Whether it is one of several of which one alone is on: Tab comes to that one, the arrow keys to the others."""
    if not isinstance(widget, QAbstractButton) or widget.isChecked():
        return False
    group = widget.group()
    return group is not None and group.exclusive() and group.checkedButton() is not None


def stops(root: QWidget, back: bool = False) -> Iterator[QWidget]:
    """Press Tab, or Shift and Tab, until it comes round; give what has the keys at each stop, while it has them."""
    root.activateWindow()
    QApplication.processEvents()
    modifiers = Qt.KeyboardModifier.ShiftModifier if back else Qt.KeyboardModifier.NoModifier
    key = Qt.Key.Key_Backtab if back else Qt.Key.Key_Tab
    first: QWidget | None = None
    for _ in range(MOST_STOPS):
        here = QApplication.focusWidget()
        QTest.keyClick(here if here is not None else root, key, modifiers)
        QApplication.processEvents()
        now = QApplication.focusWidget()
        if now is None or now is here:
            raise AssertionError(f"the keys stay in {here!r}")
        if now is first:
            return
        first = first or now
        yield now
    raise AssertionError("Tab does not come round")


def picture(widget: QWidget) -> NDArray[np.float64]:
    """Return the relative luminance (WCAG 2.x) of each pixel of a widget and of what lies just around it."""
    root = widget.window()
    rect = QRect(widget.mapTo(root, QPoint(0, 0)), widget.size()).adjusted(
        -AROUND_PX, -AROUND_PX, AROUND_PX, AROUND_PX
    )
    return picture_of(root, rect.intersected(root.rect()))


def picture_of(widget: QWidget, part: QRect) -> NDArray[np.float64]:
    """Return the relative luminance (WCAG 2.x) of each pixel of a part of a widget."""
    if part.isEmpty():
        return np.zeros((0, 0))
    image = widget.grab(part).toImage().convertToFormat(QImage.Format.Format_RGB32)
    rows = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.bytesPerLine() // 4, 4)
    parts = rows[:, : image.width(), 2::-1] / 255.0
    linear = np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)
    return np.asarray(linear @ np.array([0.2126, 0.7152, 0.0722]))


def told_apart(one: NDArray[np.float64], other: NDArray[np.float64]) -> int:
    """Return how many pixels differ by a contrast of 3:1 at least."""
    if one.shape != other.shape:
        return one.size
    ratio = (np.maximum(one, other) + 0.05) / (np.minimum(one, other) + 0.05)
    return int((ratio >= 3.0).sum())
