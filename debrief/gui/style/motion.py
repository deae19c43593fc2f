"""Reduced motion of what Qt moves by itself: carets that blink, menus and boxes that slide or fade."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication

_EFFECTS = (
    Qt.UIEffect.UI_AnimateMenu,
    Qt.UIEffect.UI_FadeMenu,
    Qt.UIEffect.UI_AnimateCombo,
    Qt.UIEffect.UI_AnimateTooltip,
    Qt.UIEffect.UI_FadeTooltip,
    Qt.UIEffect.UI_AnimateToolBox,
)


class Effects:
    """Takes motion away and gives back what the desktop had."""

    def __init__(self) -> None:
        self._had: list[Qt.UIEffect] | None = None
        self._flash_ms = 0

    def reduce(self, reduced: bool) -> None:
        """Let nothing blink, slide or fade, or all that did again."""
        if reduced == (self._had is not None):
            return
        if reduced:
            self._had = [effect for effect in _EFFECTS if QApplication.isEffectEnabled(effect)]
            self._flash_ms = QGuiApplication.styleHints().cursorFlashTime()
            QApplication.setCursorFlashTime(0)
            for effect in self._had:
                QApplication.setEffectEnabled(effect, False)
            return
        QApplication.setCursorFlashTime(self._flash_ms)
        for effect in self._had or ():
            QApplication.setEffectEnabled(effect, True)
        self._had = None
