"""The small traces of columns in the import dialog: in the table, and on the answers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import isfinite

import numpy as np
from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QIcon, QPainter, QPainterStateGuard, QPen, QPixmap, QPolygonF

from debrief.gui.style.theme import Theme
from debrief.recording.model import frozen
from debrief.session.importing.column_proposal import ColumnProposal

_ROOM = 5
"""Between a trace and the words beside it, [px]."""


def paint_trace(painter: QPainter, area: QRectF, column: ColumnProposal, color: QColor) -> None:
    """Draw lowest to highest of each stretch, joined; a stretch without values is left out."""
    held = [
        (i, a, b)
        for i, (a, b) in enumerate(zip(column.low.tolist(), column.high.tolist(), strict=True))
        if isfinite(a)
    ]
    if not held:
        return
    bottom, top = min(a for _, a, _ in held), max(b for _, _, b in held)
    across = area.width() / max(column.low.size - 1, 1)
    up = area.height() / (top - bottom) if top > bottom else 0.0
    base = area.bottom() if up else area.center().y()
    points = []
    for i, low, high in held:
        x = area.left() + i * across
        points.append(QPointF(x, base - (low - bottom) * up))
        points.append(QPointF(x, base - (high - bottom) * up))
    with QPainterStateGuard(painter):
        painter.setClipRect(area.adjusted(-2, -2, 2, 2))
        painter.setPen(QPen(color, 1))
        painter.drawPolyline(QPolygonF(points))


def joined_trace(columns: Sequence[ColumnProposal]) -> ColumnProposal:
    """Return what several probes show together: from the lowest to the highest of them, so that their spread is seen."""
    sizes = {column.low.size for column in columns if column.low.size}
    if len(columns) == 1 or len(sizes) != 1:
        return columns[0]
    held = [column for column in columns if column.low.size]
    lows, highs = (np.array([getattr(column, end) for column in held]) for end in ("low", "high"))
    return replace(columns[0], low=frozen(np.fmin.reduce(lows)), high=frozen(np.fmax.reduce(highs)))


def trace_size(theme: Theme) -> QSize:
    """Return the size of a trace on an answer with the room between it and the words, [px]."""
    return QSize(theme.px(44) + _ROOM, theme.px(14))


def trace_icon(column: ColumnProposal, theme: Theme) -> QIcon:
    """Return a column's trace as an icon that can be seen on an answer, chosen or not."""
    icon = QIcon()
    size = trace_size(theme)
    for state, role in ((QIcon.State.Off, "speed"), (QIcon.State.On, "panel")):
        picture = QPixmap(size * 2)
        picture.setDevicePixelRatio(2.0)
        picture.fill(Qt.GlobalColor.transparent)
        with QPainter(picture) as painter:
            area = QRectF(1, 1, size.width() - 2 - _ROOM, size.height() - 2)
            paint_trace(painter, area, column, theme.color(role))
        for mode in (QIcon.Mode.Normal, QIcon.Mode.Active, QIcon.Mode.Selected):
            icon.addPixmap(picture, mode, state)
    return icon
