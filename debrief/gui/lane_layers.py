"""What lies under and over the traces: grid, tints, limit lines, words, playhead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial

from PySide6.QtCore import QLineF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPen

from debrief.gui.lane import Lane
from debrief.gui.placing import Box, Placer
from debrief.gui.scale import tick_text, time_step, time_text, time_ticks, value_step, value_ticks
from debrief.gui.shapes import TINT_ROLE, draw_shape
from debrief.gui.theme import Theme
from debrief.session.lane_plan import Mark, RibbonPart, Span

_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_CENTRE = Qt.AlignmentFlag.AlignCenter


@dataclass
class Scene:
    """What the layers draw now; owned and filled by the view."""

    lanes: list[Lane] = field(default_factory=list)
    spans: Sequence[Span] = ()
    marks: Sequence[Mark] = ()
    ribbon: Sequence[RibbonPart] = ()
    begin_s: float = 0.0
    end_s: float = 1.0
    plot_left: float = 0.0
    plot_right: float = 1.0
    ribbon_top: float = 0.0
    ribbon_height: float = 0.0
    axis_top: float = 0.0
    size: QRectF = field(default_factory=QRectF)
    measuring: bool = False
    words: list[Box] = field(default_factory=list)
    """Where words stand now, so that the tags at the playhead keep off them."""

    def x_of(self, time_s: float) -> float:
        """Return the pixel of a time."""
        share = (time_s - self.begin_s) / (self.end_s - self.begin_s)
        return self.plot_left + share * (self.plot_right - self.plot_left)

    def time_of(self, x: float) -> float:
        """Return the time at a pixel, [s]."""
        share = (x - self.plot_left) / max(self.plot_right - self.plot_left, 1.0)
        return self.begin_s + share * (self.end_s - self.begin_s)

    def clipped(self, begin_s: float, end_s: float) -> tuple[float, float] | None:
        """Return the visible part of a stretch of time in pixels, or None."""
        if end_s < self.begin_s or begin_s > self.end_s:
            return None
        return self.x_of(max(begin_s, self.begin_s)), self.x_of(min(end_s, self.end_s))


def measure_box(theme: Theme, lane: QRectF) -> QRectF:
    """Return where a lane's measures are written: the free strip beside its title."""
    left = lane.left() + theme.px(170)
    return QRectF(left, lane.top() + 4, max(lane.right() - left - 6, 10), theme.px(19))


class _Layer:
    """Painted over the whole view, and only when the range or the size changes."""

    def __init__(self, scene: Scene, theme: Theme) -> None:
        self._scene = scene
        self._theme = theme


class Backdrop(_Layer):
    """Under the traces: panels, tints, grid, axis numbers, limit lines, ribbon."""

    def paint(self, painter: QPainter) -> None:
        """Draw everything that moves only when the range does."""
        scene, theme = self._scene, self._theme
        painter.fillRect(scene.size, theme.color("ground"))
        painter.setFont(theme.font(11))
        step = time_step(scene.end_s - scene.begin_s, self._time_tick_count())
        ticks = time_ticks(scene.begin_s, scene.end_s, self._time_tick_count())
        self._paint_ribbon(painter)
        for lane in scene.lanes:
            self._paint_lane(painter, lane, ticks)
        painter.setPen(theme.color("muted"))
        last_right = -1e9
        for tick in ticks:
            text = time_text(tick, step)
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
        for part in scene.ribbon:
            edges = scene.clipped(part.begin_s, part.end_s)
            if edges is None or edges[1] - edges[0] < 1:
                continue
            box = QRectF(edges[0], scene.ribbon_top, edges[1] - edges[0], scene.ribbon_height)
            painter.fillRect(box.adjusted(0.5, 0, -0.5, 0), theme.color("selection"))
            if metrics.horizontalAdvance(part.word) + 6 <= box.width():
                painter.setPen(theme.color("ink"))
                painter.drawText(box, _CENTRE, part.word)

    def _paint_lane(self, painter: QPainter, lane: Lane, ticks: Sequence[float]) -> None:
        scene, theme, rect = self._scene, self._theme, lane.rect
        painter.fillRect(rect, theme.color("panel"))
        if lane.recorded:
            for span in scene.spans:
                if not span.across and span.channel != lane.plan.name:
                    continue
                edges = scene.clipped(span.begin_s, span.end_s)
                if edges is None or span.end_s <= span.begin_s:
                    continue
                role = TINT_ROLE[span.severity]
                width = max(edges[1] - edges[0], 1.5)
                painter.fillRect(QRectF(edges[0], rect.top(), width, rect.height()), theme.color(role))
            painter.setPen(theme.color("grid"))
            painter.drawLines(
                [QLineF(scene.x_of(t), rect.top(), scene.x_of(t), rect.bottom()) for t in ticks]
            )
            self._paint_values(painter, lane)
            self._paint_limits(painter, lane)
            dotted = QPen(theme.color("muted"), 1, Qt.PenStyle.DotLine)
            painter.setPen(dotted)
            for mark in scene.marks:
                if scene.begin_s <= mark.time_s <= scene.end_s:
                    x = scene.x_of(mark.time_s)
                    painter.drawLine(QLineF(x, rect.top(), x, rect.bottom()))
        painter.setPen(theme.color("hairline"))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(rect)

    def _paint_values(self, painter: QPainter, lane: Lane) -> None:
        theme, rect = self._theme, lane.rect
        most = max(3, int(rect.height() / theme.px(30)))
        step = value_step(lane.high - lane.low, most)
        height = theme.px(14)
        for value in value_ticks(lane.low, lane.high, most):
            y = lane.y_of(value)
            painter.setPen(theme.color("grid"))
            painter.drawLine(QLineF(rect.left(), y, rect.right(), y))
            painter.setPen(theme.color("muted"))
            # Numbers of the topmost and lowest tick stay inside their lane, so that lanes never touch.
            top = min(max(y - height / 2, rect.top() - 1), rect.bottom() - height + 1)
            painter.drawText(QRectF(0, top, rect.left() - 8, height), _RIGHT, tick_text(value, step))

    def _paint_limits(self, painter: QPainter, lane: Lane) -> None:
        scene, theme = self._scene, self._theme
        for line in lane.plan.lines:
            edges = scene.clipped(line.begin_s, line.end_s)
            if edges is None or not lane.low <= line.level <= lane.high:
                continue
            painter.setPen(QPen(theme.color(line.severity), 1, Qt.PenStyle.DashLine))
            y = lane.y_of(line.level)
            painter.drawLine(QLineF(edges[0], y, edges[1], y))


class Labels(_Layer):
    """Over the traces: titles, limit names, event names, words of the marks; none on another."""

    def paint(self, painter: QPainter) -> None:
        """Place and draw the words."""
        words_lane = next(
            (lane for lane in self._scene.lanes if lane.recorded and lane.plan.name == "itt"), None
        )
        words_lane = words_lane or next((lane for lane in self._scene.lanes if lane.recorded), None)
        names = {lane.plan.name for lane in self._scene.lanes if lane.recorded}
        self._scene.words.clear()
        for lane in self._scene.lanes:
            rect = lane.rect
            if not lane.recorded:
                painter.setFont(self._theme.font(12))
                painter.setPen(self._theme.color("muted"))
                text = f"{lane.plan.title}: not recorded"
                painter.drawText(rect.adjusted(10, 0, -6, 0), _LEFT, text)
                continue
            placer = Placer(
                Box(rect.left() + 1, rect.top() + 1, rect.width() - 2, rect.height() - 2), gap=1.0
            )
            self._paint_title(painter, lane, placer)
            if self._scene.measuring:
                strip = measure_box(self._theme, rect)
                placer.reserve(Box(strip.left(), strip.top(), strip.width(), strip.height()))
            self._paint_limit_names(painter, lane, placer)
            mine = [
                span
                for span in self._scene.spans
                if span.channel == lane.plan.name or (span.channel not in names and lane is words_lane)
            ]
            self._paint_events(painter, lane, placer, mine)
            if lane is words_lane:
                self._paint_marks(painter, lane, placer)
            self._scene.words.extend(placer.taken)

    def _crosses_trace(self, lane: Lane, box: Box) -> bool:
        reach = lane.trace_between(self._scene.time_of(box.left - 2), self._scene.time_of(box.right + 2))
        return reach is not None and reach[0] <= box.bottom and reach[1] >= box.top

    def _crosses(self, lane: Lane, box: Box) -> bool:
        """Whether the trace or a limit line runs through a box."""
        if self._crosses_trace(lane, box):
            return True
        for line in lane.plan.lines:
            edges = self._scene.clipped(line.begin_s, line.end_s)
            if edges is None or edges[1] < box.left or edges[0] > box.right:
                continue
            if box.top + 1 < lane.y_of(line.level) < box.bottom - 1:
                return True
        return False

    def _text(self, painter: QPainter, box: Box, text: str, align: Qt.AlignmentFlag = _LEFT) -> None:
        painter.drawText(QRectF(box.left, box.top, box.width, box.height), align, text)

    def _paint_title(self, painter: QPainter, lane: Lane, placer: Placer) -> None:
        theme, rect, plan = self._theme, lane.rect, lane.plan
        height = theme.px(18)
        font = theme.font(13, bold=True)
        width = theme.metrics(13, bold=True).horizontalAdvance(plan.title) + 2
        small = theme.font(12)
        small_width = theme.metrics(12).horizontalAdvance(plan.label) + 2
        title = Box(rect.left() + 9, rect.top() + 5, width, height)
        label = Box(title.right + 7, title.top, small_width, height)
        placer.reserve(Box(title.left, title.top, label.right - title.left, height))
        painter.setFont(font)
        painter.setPen(theme.color(plan.role))
        self._text(painter, title, plan.title)
        painter.setFont(small)
        painter.setPen(theme.color("ink"))
        self._text(painter, label, plan.label)

    def _paint_limit_names(self, painter: QPainter, lane: Lane, placer: Placer) -> None:
        scene, theme, plan = self._scene, self._theme, lane.plan
        painter.setFont(theme.font(11))
        metrics = theme.metrics(11)
        height = theme.px(14)
        worst_first = sorted(plan.lines, key=lambda line: (line.severity != "limit", -line.level))
        named: set[tuple[str, int]] = set()
        for line in worst_first:
            edges = scene.clipped(line.begin_s, line.end_s)
            if edges is None or not lane.low <= line.level <= lane.high:
                continue
            width = metrics.horizontalAdvance(line.text) + 4
            key = (line.text, int(edges[1] // 200))
            if edges[1] - edges[0] < 6 or key in named:
                continue
            box = self._place_limit_name(lane, placer, line.level, edges, width, height)
            if box is None:
                continue
            named.add(key)
            # Words in the line have a ground of their own; over the trace it lets the trace through.
            over_trace = self._crosses_trace(lane, box)
            if over_trace or box.top < lane.y_of(line.level) < box.bottom - 2:
                ground = QRectF(box.left - 2, box.top, box.width + 4, box.height)
                color = QColor(theme.color(self._ground_at(lane, box)))
                color.setAlpha(190 if over_trace else 255)
                painter.fillRect(ground, color)
            painter.setPen(theme.color(line.severity))
            self._text(painter, box, line.text, _RIGHT)

    def _ground_at(self, lane: Lane, box: Box) -> str:
        """Return the colour role behind the middle of a box."""
        middle = self._scene.time_of(box.left + box.width / 2)
        for span in reversed(self._scene.spans):
            if span.begin_s <= middle <= span.end_s and (span.across or span.channel == lane.plan.name):
                return TINT_ROLE[span.severity]
        return "panel"

    def _place_limit_name(
        self,
        lane: Lane,
        placer: Placer,
        level: float,
        edges: tuple[float, float],
        width: float,
        height: float,
    ) -> Box | None:
        """Find a place above the line's right end, else in the line itself, else beside a short line."""
        y = lane.y_of(level)
        right = edges[1] - 4
        if edges[1] - edges[0] < width + 8:
            lefts = (edges[0] - 4 - width, edges[1] + 4)
            beside = [Box(left, y - height / 2, width, height) for left in lefts]
            beside += [Box(left, top, width, height) for top in (y - height, y + 1) for left in lefts]
            return placer.place(beside, partial(self._crosses_trace, lane))
        above = Box(right - width, y - height, width, height)
        if not self._crosses(lane, above):
            found = placer.place([above])
            if found is not None:
                return found
        steps = max(1, min(24, int((edges[1] - edges[0] - width) / 12)))
        within = [Box(right - width - 6 - i * 12, y - height / 2, width, height) for i in range(steps)]
        at_left = Box(edges[0] + 4, y - height, width, height)
        below = Box(right - width, y + 1, width, height)
        return placer.place([*within, at_left, below], partial(self._crosses_trace, lane))

    def _paint_events(self, painter: QPainter, lane: Lane, placer: Placer, spans: Sequence[Span]) -> None:
        scene, theme, rect = self._scene, self._theme, lane.rect
        font = theme.font(12, bold=True)
        metrics = theme.metrics(12, bold=True)
        height, icon = theme.px(16), theme.px(14)
        order = {"limit": 0, "possible": 1, "caution": 2, "note": 3}
        visible = [span for span in spans if span.label and scene.clipped(span.begin_s, span.end_s)]
        wanted = sum(metrics.horizontalAdvance(span.label) + icon + 8 for span in visible)
        # Where words for all would cover the lane, the shapes alone stand there; the story has the words.
        crowded = wanted > 0.8 * rect.width()
        for span in sorted(visible, key=lambda s: order[s.severity]):
            edges = scene.clipped(span.begin_s, span.end_s)
            if edges is None:
                continue
            words = "" if crowded else span.label
            width = metrics.horizontalAdvance(words) + icon + 4 if words else icon
            centre = (edges[0] + edges[1]) / 2
            left = min(max(centre - width / 2, rect.left() + 4), rect.right() - width - 4)
            # Below the trace there is room where a limit was passed upwards; the top comes last.
            rows = [rect.bottom() - (i + 1) * (height + 2) - 2 for i in range(1 if crowded else 4)]
            rows.append(rect.top() + theme.px(26))
            lefts = [left]
            if edges[1] - edges[0] < width:
                # A short stretch, such as a spike: its words may stand beside it, off the trace.
                aside = (edges[1] + 18, edges[0] - width - 18)
                lefts += [x for x in aside if rect.left() + 4 <= x <= rect.right() - width - 4]
            box = placer.place(
                [
                    *(Box(x, top, width, height) for x in lefts for top in rows[:-1]),
                    Box(left, rows[-1], width, height),
                ],
                partial(self._crosses_trace, lane),
            )
            if box is None:
                continue
            role = "caution" if span.severity == "caution" else "limit"
            draw_shape(painter, span.shape, box.left + icon / 2, box.top + height / 2, icon * 0.36, theme)
            if words:
                painter.setFont(font)
                painter.setPen(theme.color(role))
                self._text(painter, Box(box.left + icon + 2, box.top, box.width - icon, height), words)

    def _paint_marks(self, painter: QPainter, lane: Lane, placer: Placer) -> None:
        scene, theme, rect = self._scene, self._theme, lane.rect
        painter.setFont(theme.font(11))
        metrics = theme.metrics(11)
        height = theme.px(14)
        painter.setPen(theme.color("ink"))
        for mark in scene.marks:
            if not scene.begin_s <= mark.time_s <= scene.end_s:
                continue
            x = scene.x_of(mark.time_s)
            width = metrics.horizontalAdvance(mark.word) + 3
            # Right of its own line, at whatever height is free; left of it only where no other line is near,
            # whose word it would seem to be.
            most = max(4, int((rect.height() - theme.px(26)) / (height + 2)))
            tops = [rect.bottom() - (i + 1) * (height + 2) - 2 for i in range(most)]
            lefts = [x + 4] if x + 4 + width <= rect.right() - 2 else []
            others = [scene.x_of(other.time_s) for other in scene.marks if other is not mark]
            if not lefts or not any(x - width - 24 <= other < x for other in others):
                lefts.append(x - width - 3)
            box = placer.place(
                [Box(left, top, width, height) for left in lefts for top in tops],
                partial(self._crosses, lane),
            )
            if box is not None:
                self._text(painter, box, mark.word)
