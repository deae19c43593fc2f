"""The shapes that stand beside the colours: diamond, hollow diamond, triangle, circle."""

from __future__ import annotations

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QIcon, QPainter, QPainterStateGuard, QPen, QPolygonF

from debrief.gui.background.guarded import picture_of
from debrief.gui.style.theme import Theme
from debrief.session.texts.story import Shape

SHAPE_ROLE = {"diamond": "limit", "hollow_diamond": "limit", "triangle": "caution", "circle": "muted"}


def draw_pin(painter: QPainter, x: float, y: float, size: float, theme: Theme) -> None:
    """Draw the sign of a note centred at a point, a sheet with a line: no finding has this shape."""
    with QPainterStateGuard(painter):
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setPen(QPen(theme.color("ink"), 1.2))
        painter.setBrush(theme.color("panel"))
        painter.drawRect(QRectF(x - 0.8 * size, y - size, 1.6 * size, 2 * size))
        for part in (-0.35, 0.25):
            line = y + part * size
            painter.drawLine(QPointF(x - 0.4 * size, line), QPointF(x + 0.4 * size, line))


def draw_shape(
    painter: QPainter, shape: Shape, x: float, y: float, size: float, theme: Theme, ground: str = "panel"
) -> None:
    """Draw a shape centred at a point; `size` is about its half width, [px]."""
    if shape == "heading":
        return
    with QPainterStateGuard(painter):
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        color = theme.color(SHAPE_ROLE[shape])
        pen = QPen(color, 1.6)
        pen.setJoinStyle(Qt.PenJoinStyle.MiterJoin)
        painter.setPen(pen)
        painter.setBrush(color)
        if shape in ("diamond", "hollow_diamond"):
            if shape == "hollow_diamond":
                painter.setBrush(theme.color(ground))
            painter.drawPolygon(
                QPolygonF(
                    [QPointF(x, y - size), QPointF(x + size, y), QPointF(x, y + size), QPointF(x - size, y)]
                )
            )
        elif shape == "triangle":
            painter.drawPolygon(
                QPolygonF(
                    [
                        QPointF(x, y - size),
                        QPointF(x + size, y + 0.75 * size),
                        QPointF(x - size, y + 0.75 * size),
                    ]
                )
            )
        else:
            painter.setBrush(theme.color(ground))
            radius = size * 0.75
            painter.drawEllipse(QRectF(x - radius, y - radius, 2 * radius, 2 * radius))


def shape_icon(shape: Shape, theme: Theme) -> QIcon:
    """Return a shape for a cell of a table or an entry of a menu, the same where the row is selected."""
    with picture_of(QSize(20, 20)) as (picture, painter):
        draw_shape(painter, shape, 10, 10, 6.0, theme)
    icon = QIcon(picture)
    icon.addPixmap(picture, QIcon.Mode.Selected)
    return icon
