"""What lies under the traces: panels, tints, bands, grid, axes, limit lines, the ribbon."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QBrush, QPainter, QPainterStateGuard, QPen, QPolygonF

from debrief.gui.lanes.lane import Lane
from debrief.gui.lanes.lane_scene import AXIS_WIDTH, Scene, SpanInView
from debrief.gui.lanes.trace import Trace, draw_sign
from debrief.gui.style.theme import Theme
from debrief.session.drawing.axes import time_labels
from debrief.session.drawing.placing import rows_apart
from debrief.session.limits.lane_bands import BandShade
from debrief.words.colours import TINT_ROLE

_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_CENTRE = Qt.AlignmentFlag.AlignCenter


def band_polygon(scene: Scene, trace: Trace, shade: BandShade) -> QPolygonF:
    """Return a band as it lies in the view, [px]."""
    return QPolygonF([QPointF(scene.x_of(t), trace.y_of(v)) for t, v in shade.corners.tolist()])


class Layer:
    """Painted over the whole view, and only when the range or the size changes."""

    def __init__(self, scene: Scene, theme: Theme) -> None:
        self._scene = scene
        self._theme = theme


class Backdrop(Layer):
    """Under the traces: panels, tints, bands, grid, axis numbers, limit lines, ribbon."""

    def paint(self, painter: QPainter) -> None:
        """Draw everything that moves only when the range does."""
        scene, theme = self._scene, self._theme
        painter.fillRect(scene.size, theme.color("ground"))
        painter.setFont(theme.font(11))
        labels = time_labels(scene.begin_s, scene.end_s, self._time_tick_count(), scene.clock)
        ticks = [tick for tick, _ in labels]
        self._paint_ribbon(painter)
        spans = scene.visible_spans()
        for lane in scene.lanes:
            self._paint_lane(painter, lane, ticks, spans)
        painter.setPen(theme.color("muted"))
        last_right = -1e9
        for tick, text in labels:
            width = theme.metrics(11).horizontalAdvance(text) + 4
            x = scene.x_of(tick)
            box = QRectF(x - width / 2, scene.axis_top + 2, width, theme.px(16))
            box.moveLeft(min(max(box.left(), scene.plot_left - 20), scene.size.right() - width - 2))
            if box.left() > last_right + 8:
                painter.drawText(box, _CENTRE, text)
                last_right = box.right()

    def _time_tick_count(self) -> int:
        return max(2, int((self._scene.plot_right - self._scene.plot_left) / self._theme.px(90)))

    def _paint_ribbon(self, painter: QPainter) -> None:
        scene, theme = self._scene, self._theme
        metrics = theme.metrics(11)
        scene.ribbon_words.clear()
        for part in scene.ribbon:
            edges = scene.clipped(part.begin_s, part.end_s)
            if edges is None or edges[1] - edges[0] < 1:
                continue
            box = QRectF(edges[0], scene.ribbon_top, edges[1] - edges[0], scene.ribbon_height)
            painter.fillRect(box.adjusted(0.5, 0, -0.5, 0), theme.color("selection"))
            width = metrics.horizontalAdvance(part.word)
            if width + 6 <= box.width():
                middle = box.center().x()
                scene.ribbon_words.append(QRectF(middle - width / 2, box.top(), width, box.height()))
                painter.setPen(theme.color("ink"))
                painter.drawText(box, _CENTRE, part.word)

    def _paint_lane(
        self, painter: QPainter, lane: Lane, ticks: Sequence[float], spans: Sequence[SpanInView]
    ) -> None:
        scene, theme, rect = self._scene, self._theme, lane.rect
        painter.fillRect(rect, theme.color("panel"))
        if lane.recorded:
            # An arc is there all the time and lies under the findings; a band of a chart belongs to one of them.
            if scene.shows_bands:
                self._paint_bands(painter, lane, chart=False)
            self._paint_spans(painter, lane, spans)
            self._paint_unjudged(painter, lane)
            if scene.shows_bands:
                self._paint_bands(painter, lane, chart=True)
            painter.setPen(theme.color("grid"))
            painter.drawLines(
                [QLineF(scene.x_of(t), rect.top(), scene.x_of(t), rect.bottom()) for t in ticks]
            )
            self._paint_values(painter, lane)
            for place, trace in enumerate(lane.traces[1:]):
                self._paint_further_axis(painter, trace, place)
            for trace in lane.traces:
                self._paint_limits(painter, trace)
            dotted = QPen(theme.color("muted"), 1, Qt.PenStyle.DotLine)
            painter.setPen(dotted)
            for mark in scene.marks:
                if scene.begin_s <= mark.time_s <= scene.end_s:
                    x = scene.x_of(mark.time_s)
                    painter.drawLine(QLineF(x, rect.top(), x, rect.bottom()))
        painter.setPen(theme.color("hairline"))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(rect)

    def _paint_spans(self, painter: QPainter, lane: Lane, spans: Sequence[SpanInView]) -> None:
        top, height = lane.rect.top(), lane.rect.height()
        tints: dict[str, list[QRectF]] = {}
        for span, left, width in spans:
            if span.tints(lane.names):
                tints.setdefault(TINT_ROLE[span.severity], []).append(QRectF(left, top, width, height))
        painter.setPen(Qt.PenStyle.NoPen)
        # What is worse covers what is milder where the two meet.
        for role in reversed(TINT_ROLE.values()):
            if role in tints:
                painter.setBrush(self._theme.color(role))
                painter.drawRects(tints[role])

    def _paint_unjudged(self, painter: QPainter, lane: Lane) -> None:
        """Hatch what is not held against a level."""
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QBrush(self._theme.color("muted"), Qt.BrushStyle.BDiagPattern))
        for trace in lane.traces:
            for stretch in trace.plan.unjudged:
                edges = self._scene.clipped(stretch.begin_s, stretch.end_s)
                if edges is not None:
                    width = max(edges[1] - edges[0], 1.0)
                    painter.drawRect(QRectF(edges[0], lane.rect.top(), width, lane.rect.height()))

    def _paint_bands(self, painter: QPainter, lane: Lane, chart: bool) -> None:
        """Fill the bands with opaque tints, the worst last: it covers the milder one that it lies beyond."""
        scene, theme = self._scene, self._theme
        with QPainterStateGuard(painter):
            painter.setClipRect(lane.rect)
            for trace in lane.traces:
                for shade in trace.plan.bands:
                    seen = shade.end_s >= scene.begin_s and shade.begin_s <= scene.end_s
                    if not seen or (shade.kind == "chart") != chart:
                        continue
                    painter.setPen(QPen(theme.band_edge(shade.kind, shade.grade), 1))
                    painter.setBrush(theme.band_tint(shade.kind, shade.grade))
                    painter.drawPolygon(band_polygon(scene, trace, shade))

    def _paint_values(self, painter: QPainter, lane: Lane) -> None:
        theme, rect, trace = self._theme, lane.rect, lane.traces[0]
        height = theme.px(14)
        ys = [trace.y_of(value) for value, _ in trace.ticks]
        painter.setPen(theme.color("grid"))
        painter.drawLines([QLineF(rect.left(), y, rect.right(), y) for y in ys])
        painter.setPen(theme.color(trace.role if lane.shared else "muted"))
        # Numbers of the topmost and lowest tick stay inside their lane, so that lanes never touch.
        tops = [min(max(y - height / 2, rect.top() - 1), rect.bottom() - height + 1) for y in ys]
        for top, (_, text), is_written in zip(tops, trace.ticks, rows_apart(tops, height), strict=True):
            if is_written:
                painter.drawText(QRectF(0, top, rect.left() - 8, height), _RIGHT, text)

    def _paint_further_axis(self, painter: QPainter, trace: Trace, place: int) -> None:
        """Draw the axis of a further channel at the right, in its colour and under its sign."""
        theme, rect = self._theme, trace.rect
        height, width = theme.px(14), theme.px(AXIS_WIDTH)
        left = rect.right() + 3 + place * width
        painter.setPen(theme.color(trace.role))
        painter.drawLine(QLineF(left, rect.top(), left, rect.bottom()))
        free_from = rect.top() - 1
        if trace.sign:
            draw_sign(painter, trace.sign, left + 9, rect.top() + 7, theme, trace.role)
            free_from += 15
        ys = [trace.y_of(value) for value, _ in trace.ticks]
        tops = [min(y - height / 2, rect.bottom() - height + 1) for y in ys]
        written = rows_apart(tops, height)
        for y, top, (_, text), is_written in zip(ys, tops, trace.ticks, written, strict=True):
            if top < free_from or not is_written:
                continue
            painter.drawLine(QLineF(left, y, left + 3, y))
            painter.drawText(QRectF(left + 6, top, width - 8, height), _LEFT, text)

    def _paint_limits(self, painter: QPainter, trace: Trace) -> None:
        scene, theme = self._scene, self._theme
        for line in trace.lines:
            edges = scene.clipped(line.begin_s, line.end_s)
            if edges is None:
                continue
            painter.setPen(QPen(theme.color(line.severity), 1, Qt.PenStyle.DashLine))
            y = trace.y_of(line.level)
            painter.drawLine(QLineF(edges[0], y, edges[1], y))
