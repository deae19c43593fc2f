"""What moves over the traces: the playhead with its values, the measuring mark, the read-out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen, QPolygonF

from debrief.gui.lanes.lane_scene import Scene
from debrief.gui.style.theme import Theme

_SHADE = 24
"""Of 255: so much of the ink that every colour above it keeps its contrast."""

_CENTRE = Qt.AlignmentFlag.AlignCenter


@dataclass(frozen=True)
class Tag:
    """A lane's value at the playhead: a dot on the trace and the number in a box beside it.

    Without a box there was no room for the number.
    """

    name: str
    role: str
    text: str
    point: QPointF
    on_trace: bool
    box: QRectF | None

    @property
    def bounds(self) -> QRectF:
        """What it covers, [px]."""
        dot = QRectF(self.point.x() - 6, self.point.y() - 6, 12, 12)
        return (dot if self.box is None else self.box.united(dot)).adjusted(-2, -2, 2, 2)


def playhead_bounds(scene: Scene, x: float) -> QRectF:
    """Return what the line at the present moment and its handle cover, [px]."""
    return QRectF(x - 8, scene.ribbon_top - 12, 16, scene.axis_top - scene.ribbon_top + 14)


def _paint_upright(painter: QPainter, x: float, top: float, bottom: float, words: Sequence[QRectF]) -> None:
    """Draw an upright line beneath the words in its way: it leaves them out."""
    in_way = sorted((box.top(), box.bottom()) for box in words if box.left() - 2 <= x <= box.right() + 2)
    for begin, end in in_way:
        if begin > top:
            painter.drawLine(QLineF(x, top, x, min(begin, bottom)))
        top = max(top, end)
    if top < bottom:
        painter.drawLine(QLineF(x, top, x, bottom))


def paint_playhead(
    painter: QPainter, scene: Scene, theme: Theme, x: float, words: Sequence[QRectF] = ()
) -> None:
    """Draw the line at the present moment with its handle, beneath the words in its way."""
    top = scene.ribbon_top - 1
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    painter.setPen(QPen(theme.color("ink"), 1))
    _paint_upright(painter, x, top, scene.axis_top - 2, words)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(theme.color("ink"))
    painter.drawPolygon(QPolygonF([QPointF(x - 6, top - 9), QPointF(x + 6, top - 9), QPointF(x, top)]))


def paint_mark(painter: QPainter, scene: Scene, theme: Theme, x: float) -> None:
    """Draw the line that measuring begins at."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    painter.setPen(QPen(theme.color("ink"), 1, Qt.PenStyle.DashDotLine))
    painter.drawLine(QLineF(x, scene.ribbon_top, x, scene.axis_top - 2))


def paint_stretch(painter: QPainter, scene: Scene, theme: Theme, shade: QRectF) -> None:
    """Shade what lies between the cursors; traces and words stay legible through it."""
    color = QColor(theme.color("ink"))
    color.setAlpha(_SHADE)
    for lane in scene.lanes:
        painter.fillRect(lane.rect.intersected(shade), color)


def measure_ground(theme: Theme, box: QRectF, forms: Sequence[str]) -> tuple[QRectF, str]:
    """Return where measures are written, at the right of a box, and the longest of their forms that fits."""
    metrics = theme.metrics(12, bold=True)
    words = next((form for form in forms if metrics.horizontalAdvance(form) + 10 <= box.width()), forms[-1])
    text = theme.metrics(12, bold=True).elidedText(words, Qt.TextElideMode.ElideRight, box.width())
    width = theme.metrics(12, bold=True).horizontalAdvance(text) + 10
    return QRectF(box.right() - width, box.top(), width, box.height()), text


def paint_measures(painter: QPainter, theme: Theme, ground: QRectF, text: str, role: str) -> None:
    """Write a channel's measures."""
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(theme.color("selection"))
    painter.drawRect(ground)
    painter.setFont(theme.font(12, bold=True))
    painter.setPen(theme.color(role))
    painter.drawText(ground, _CENTRE, text)


def paint_drop(painter: QPainter, scene: Scene, theme: Theme, y: float) -> None:
    """Draw where a lane that is being dragged would come to lie."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    painter.fillRect(
        QRectF(scene.plot_left - 6, y - 2, scene.plot_right - scene.plot_left + 12, 4), theme.color("ink")
    )
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    painter.setPen(Qt.PenStyle.NoPen)
    painter.setBrush(theme.color("ink"))
    for x, to in ((scene.plot_left - 6, 9), (scene.plot_right + 6, -9)):
        painter.drawPolygon(QPolygonF([QPointF(x, y - 6), QPointF(x, y + 6), QPointF(x + to, y)]))


def hover_time_box(scene: Scene, theme: Theme, x: float) -> QRectF:
    """Return where the time under the mouse stands: below the line, within the axis, [px]."""
    width = theme.metrics(12).horizontalAdvance(scene.clock.text(scene.time_of(x))) + 10
    left = min(max(x - width / 2, scene.plot_left), scene.plot_right - width)
    return QRectF(left, scene.axis_top, width, theme.px(17))


def paint_hover(painter: QPainter, scene: Scene, theme: Theme, x: float, tags: Sequence[Tag]) -> None:
    """Draw the line under the mouse with its time and the values there, quieter than the playhead."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    painter.setPen(QPen(theme.color("hairline"), 1))
    painter.drawLine(QLineF(x, scene.ribbon_top + scene.ribbon_height, x, scene.axis_top - 2))
    box = hover_time_box(scene, theme, x)
    painter.fillRect(box, theme.color("ground"))
    theme.write(painter, box, scene.clock.text(scene.time_of(x)), 12)
    painter.setFont(theme.font(11))
    for tag in tags:
        if tag.box is None:
            continue
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(theme.color("panel"))
        painter.drawRect(tag.box)
        painter.setPen(theme.color(tag.role))
        painter.drawText(tag.box, _CENTRE, tag.text)


def paint_tag(painter: QPainter, theme: Theme, tag: Tag) -> None:
    """Draw the dot, the box and the number."""
    color = theme.color(tag.role)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
    if tag.on_trace:
        painter.setPen(QPen(theme.color("panel"), 1.5))
        painter.setBrush(color)
        painter.drawEllipse(tag.point, 4, 4)
    if tag.box is None:
        return
    painter.setPen(QPen(color, 1))
    painter.setBrush(theme.color("panel"))
    painter.drawRoundedRect(tag.box, 3, 3)
    painter.setFont(theme.font(12, bold=True))
    painter.drawText(tag.box, _CENTRE, tag.text)
