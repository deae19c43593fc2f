"""How well one colour is told from another."""

from __future__ import annotations

from PySide6.QtGui import QColor


def contrast(first: str, second: str) -> float:
    """Return the WCAG contrast ratio of two colours, 1 to 21."""

    def luminance(text: str) -> float:
        color = QColor(text)
        parts = []
        for value in (color.redF(), color.greenF(), color.blueF()):
            parts.append(value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4)
        return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]

    bright, dim = sorted((luminance(first), luminance(second)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)
