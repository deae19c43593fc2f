"""The titles of the lanes, by which they are taken and moved."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QColor, QPainter

from debrief.gui.lanes.lane import Lane
from debrief.gui.lanes.lane_layers import Layer
from debrief.gui.lanes.lane_scene import Scene
from debrief.gui.lanes.trace import draw_sign
from debrief.session.drawing.placing import Box, Placer
from debrief.words.colours import TINT_ROLE
from debrief.words.numbers import unit_words

_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_GRIP = 20
_GROUND_ALPHA = 225
"""Of 255: the trace is still seen to go on behind a name."""


def ground_at(scene: Scene, lane: Lane, box: Box) -> str:
    """Return the colour role behind the middle of a box."""
    middle = scene.time_of(box.left + box.width / 2)
    for span in reversed(scene.spans):
        if span.begin_s <= middle <= span.end_s and span.tints(lane.names):
            return TINT_ROLE[span.severity]
    return "panel"


class Titles(Layer):
    """Names of the channels in their colours behind the dots that a lane is taken by."""

    def _paint_grip(self, painter: QPainter, left: float, middle: float) -> None:
        """Draw the dots that a lane is taken by."""
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self._theme.color("muted"))
        dots = [QRectF(left + x, middle + y - 1, 2, 2) for x in (0, 4) for y in (-4, 0, 4)]
        painter.drawRects(dots)

    def paint_slim(self, painter: QPainter, lane: Lane) -> None:
        """Say of a lane that nothing of it was recorded."""
        theme, rect = self._theme, lane.rect
        painter.setFont(theme.font(12))
        text = "; ".join(f"{plan.title}: not recorded" for plan in lane.missing)
        self._paint_grip(painter, rect.left() + 8, rect.center().y())
        painter.setPen(theme.color("muted"))
        text = theme.metrics(12).elidedText(text, Qt.TextElideMode.ElideRight, rect.width() - _GRIP - 8)
        painter.drawText(rect.adjusted(_GRIP, 0, -6, 0), _LEFT, text)
        width = theme.metrics(12).horizontalAdvance(text) + _GRIP
        self._scene.handles[lane.plan.name] = QRectF(rect.left(), rect.top(), width, rect.height())

    def _title_parts(self, lane: Lane) -> Iterator[tuple[str, bool, str, str]]:
        """Yield text, whether it is bold, colour role and sign of each part of a title."""
        for trace in lane.traces:
            plan = trace.plan
            if trace.sign and plan.channel is not None:
                # Of a further channel the symbol is enough: several have to stand in one row.
                yield plan.symbol, True, trace.role, trace.sign
                yield unit_words(plan.channel.unit), False, "ink", ""
                continue
            yield plan.title, True, trace.role, trace.sign
            if plan.label != plan.title:
                yield plan.label, False, "ink", ""
        for missing in lane.missing:
            yield f"{missing.title}: not recorded", False, "muted", ""

    def paint(self, painter: QPainter, lane: Lane, placer: Placer) -> None:
        """Draw the names of the channels in their colours, in a second row where there is no room."""
        theme, rect = self._theme, lane.rect
        height = theme.px(18)
        left, top = rect.left() + _GRIP, rect.top() + 5
        right = left
        self._paint_grip(painter, rect.left() + 8, top + height / 2)
        for text, bold, role, sign in self._title_parts(lane):
            size = 13 if bold else 12
            metrics = theme.metrics(size, bold)
            before = (10 if bold and left > rect.left() + _GRIP else 0) + (14 if sign else 0)
            room = rect.right() - rect.left() - _GRIP - 8
            width = metrics.horizontalAdvance(text) + 2
            if width > room - before:
                text = metrics.elidedText(text, Qt.TextElideMode.ElideRight, room - before)
                width = metrics.horizontalAdvance(text) + 2
            if left + before + width > rect.right() - 6 and left > rect.left() + _GRIP:
                left, top = rect.left() + _GRIP, top + height
                before = 14 if sign else 0
            box = Box(left + before - (14 if sign else 0), top, width + (14 if sign else 0), height)
            self._paint_ground(painter, lane, box)
            if sign:
                draw_sign(painter, sign, left + before - 8, top + height / 2, theme, role)
            painter.setFont(theme.font(size, bold=bold))
            painter.setPen(theme.color(role))
            painter.drawText(QRectF(left + before, top, width, height), _LEFT, text)
            left += before + width + 7
            right = max(right, left)
        placer.reserve(
            Box(rect.left() + 6, rect.top() + 5, right - rect.left() - 6, top + height - rect.top() - 5)
        )
        self._scene.handles[lane.plan.name] = QRectF(
            rect.left(), rect.top(), right - rect.left(), top + height - rect.top()
        )

    def _paint_ground(self, painter: QPainter, lane: Lane, box: Box) -> None:
        """Give a name that a trace runs through the ground of its lane; no moment's dotted line runs through it."""
        if lane.crossed(box.left - 2, box.right + 2, box.top, box.bottom):
            color = QColor(self._theme.color(ground_at(self._scene, lane, box)))
            color.setAlpha(_GROUND_ALPHA)
            # As far as the next of its words: no piece of the trace stands between them.
            painter.fillRect(QRectF(box.left - 1, box.top, box.width + 8, box.height), color)
        for mark in self._scene.marks:
            x = self._scene.x_of(mark.time_s)
            if box.left - 1 <= x <= box.right + 1:
                strip = Box(x - 1.5, box.top, 3.0, box.height)
                ground = self._theme.color(ground_at(self._scene, lane, strip))
                painter.fillRect(QRectF(strip.left, strip.top, strip.width, strip.height), ground)
