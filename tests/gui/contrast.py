"""How well one colour is told from another."""

from __future__ import annotations

from PySide6.QtGui import QColor


def linear(text: str) -> list[float]:
    """Return red, green and blue of a colour in linear sRGB, 0 to 1."""
    color = QColor(text)
    parts = (color.redF(), color.greenF(), color.blueF())
    return [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]


def contrast(first: str, second: str) -> float:
    """Return the contrast ratio of two colours, 1 to 21, as WCAG 2.x defines it by their relative luminance."""

    def luminance(text: str) -> float:
        red, green, blue = linear(text)
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    bright, dim = sorted((luminance(first), luminance(second)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)
