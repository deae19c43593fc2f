"""The strips of switches and levers below the lanes: painted into the still picture, read at the playhead."""

from __future__ import annotations

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterStateGuard, QPen, QPolygonF

from debrief.gui.lanes.lane_layers import Layer
from debrief.gui.lanes.lane_scene import Scene
from debrief.gui.style.theme import Theme
from debrief.session.lanes.hand_strips import SWITCHES, LeverStrip, Strip, SwitchStrip
from debrief.session.limits.instrument_readings import switch_words

_SWITCH_ROW, _LEVER_ROW = 15, 28
_LANE_LEAST = 62
_ABOVE = 4.0
_SHORT = {**SWITCHES, "weight_on_wheels": "on wheels"}
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_CENTRE = Qt.AlignmentFlag.AlignCenter


def row_height(theme: Theme, strip: Strip) -> int:
    """Return the height of a strip, [px]."""
    return theme.px(_SWITCH_ROW if isinstance(strip, SwitchStrip) else _LEVER_ROW)


def place_strips(scene: Scene, theme: Theme, room: float) -> float:
    """Give the strips their places above the axis of time; return the height that they take, [px].

    Of a low view they take what the lanes can spare: the first stay.
    """
    scene.strip_rows, scene.others_row = [], None
    if scene.presenting or not (scene.shows_strips and scene.strips):
        return 0.0
    spare = room - sum(theme.px(_LANE_LEAST) for lane in scene.lanes if lane.recorded)
    heights: list[int] = []
    for strip in scene.strips:
        height = row_height(theme, strip)
        if sum(heights) + height + _ABOVE > spare:
            break
        heights.append(height)
    line = theme.px(_SWITCH_ROW)
    if len(heights) < len(scene.strips) or sum(heights) + line + _ABOVE > spare:
        line = 0
    top = scene.axis_top - sum(heights) - line - 1
    for strip, height in zip(scene.strips, heights, strict=False):
        scene.strip_rows.append(
            (strip, QRectF(scene.plot_left, top, scene.plot_right - scene.plot_left, height))
        )
        top += height
    if line:
        scene.others_row = QRectF(scene.plot_left, top, scene.plot_right - scene.plot_left, line)
    return sum(heights) + line + _ABOVE if heights else 0.0


def strip_readouts(scene: Scene, theme: Theme, time_s: float, x: float) -> list[tuple[QRectF, str]]:
    """Return what each strip says at a moment, and where: right of the playhead, left of it at the edge."""
    metrics = theme.metrics(11)
    out = []
    for strip, row in scene.strip_rows:
        words = strip.at(time_s)
        width, height = metrics.horizontalAdvance(words) + 8, min(row.height(), float(theme.px(14)))
        left = x + 6 if x + 6 + width <= row.right() else x - 6 - width
        out.append((QRectF(left, row.center().y() - height / 2, width, height), words))
    return out


def others_readout(scene: Scene, theme: Theme, time_s: float) -> list[tuple[QRectF, str]]:
    """Return what the switches without a strip say at a moment, in one line: they were never on, or no hand moves them."""
    row = scene.others_row
    if row is None or scene.switches_at is None:
        return []
    named = {strip.name for strip, _ in scene.strip_rows}
    others = [switch for switch in scene.switches_at(time_s) if switch.name not in named]
    words = ", ".join(f"{_SHORT.get(one.name, one.words.lower())} {switch_words(one)}" for one in others)
    words = theme.metrics(11).elidedText(words, Qt.TextElideMode.ElideRight, row.width() - 8)
    words = words[:1].upper() + words[1:]
    width = theme.metrics(11).horizontalAdvance(words) + 8
    return [(QRectF(row.left(), row.top() + 1, width, row.height() - 1), words)] if words else []


def paint_readouts(
    painter: QPainter, theme: Theme, readouts: list[tuple[QRectF, str]], ground: str = "panel"
) -> None:
    """Write what the strips say at the playhead."""
    painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
    painter.setFont(theme.font(11))
    for box, words in readouts:
        painter.fillRect(box, theme.color(ground))
        painter.setPen(theme.color("ink"))
        painter.drawText(box, _CENTRE, words)


class StripLayer(Layer):
    """Names in the margin, bars where a switch was on, the small trace of a lever."""

    def paint(self, painter: QPainter) -> None:
        """Draw the strips that have a place."""
        scene, theme = self._scene, self._theme
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
        for strip, row in scene.strip_rows:
            painter.fillRect(row, theme.color("panel"))
            painter.setFont(theme.font(11))
            painter.setPen(theme.color("muted"))
            words = strip.words.replace(" lever", "\nlever")
            painter.drawText(QRectF(0, row.top(), row.left() - 5, row.height()), _RIGHT, words)
            if isinstance(strip, SwitchStrip):
                self._paint_switch(painter, strip, row)
            else:
                self._paint_lever(painter, strip, row)
        painter.setPen(theme.color("hairline"))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        if scene.strip_rows:
            painter.drawRect(scene.strip_rows[0][1].united(scene.strip_rows[-1][1]))

    def _paint_switch(self, painter: QPainter, strip: SwitchStrip, row: QRectF) -> None:
        scene, theme = self._scene, self._theme
        middle = row.center().y()
        off, unknown, bars = [], [], []
        for held in strip.held:
            edges = scene.clipped(held.begin_s, held.end_s)
            if edges is None:
                continue
            line = QLineF(edges[0], middle, edges[1], middle)
            if held.position is None:
                unknown.append(line)
            elif held.position == 0:
                off.append(line)
            else:
                height = 0.55 * row.height() * held.position / strip.highest
                bars.append(
                    QRectF(edges[0], middle - height / 2, max(edges[1] - edges[0], 1.0), max(height, 2.0))
                )
        painter.setPen(QPen(theme.color("hairline"), 1))
        painter.drawLines(off)
        painter.setPen(QPen(theme.color("muted"), 1, Qt.PenStyle.DotLine))
        painter.drawLines(unknown)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(theme.color("muted"))
        painter.drawRects(bars)

    def _paint_lever(self, painter: QPainter, strip: LeverStrip, row: QRectF) -> None:
        scene, theme = self._scene, self._theme
        top, bottom = row.top() + 3, row.bottom() - 3
        drawn = strip.envelope.view(scene.begin_s, scene.end_s, int(row.width()))
        painter.setPen(QPen(theme.color("grid"), 1))
        painter.drawLine(QLineF(row.left(), bottom, row.right(), bottom))
        with QPainterStateGuard(painter):
            painter.setClipRect(row)
            painter.setPen(QPen(theme.color("ink"), 1))
            span = max(strip.high - strip.low, 1e-9)
            points = [
                QPointF(scene.x_of(t), bottom - (v - strip.low) / span * (bottom - top))
                for t, v in zip(drawn.time_s.tolist(), drawn.values.tolist(), strict=True)
            ]
            first = 0
            for index, joined in enumerate([*drawn.connect[:-1].tolist(), False] if points else []):
                if not joined:
                    painter.drawPolyline(QPolygonF(points[first : index + 1]))
                    first = index + 1
