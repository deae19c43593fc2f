"""What lies under and over the traces: grid, tints, limit lines, words, playhead."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QGraphicsItem, QGraphicsObject, QStyleOptionGraphicsItem, QWidget

from debrief.gui.lane import Lane
from debrief.gui.placing import Box, Placer
from debrief.gui.scale import tick_text, time_step, time_text, time_ticks, value_step, value_ticks
from debrief.gui.shapes import draw_shape
from debrief.gui.theme import Theme
from debrief.session.lane_plan import LevelLine, Mark, RibbonPart, Span

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


class _Layer(QGraphicsObject):
    """A cached picture as large as the view."""

    def __init__(self, scene: Scene, theme: Theme) -> None:
        super().__init__()
        self._scene = scene
        self._theme = theme
        self.setCacheMode(QGraphicsItem.CacheMode.DeviceCoordinateCache)
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)

    def boundingRect(self) -> QRectF:
        """Return the whole view."""
        return self._scene.size

    def resized(self) -> None:
        """Tell Qt before the size of the view changes."""
        self.prepareGeometryChange()


class Backdrop(_Layer):
    """Under the traces: panels, tints, grid, axis numbers, limit lines, ribbon."""

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
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
            width = QFontMetricsF(painter.font()).horizontalAdvance(text) + 4
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
        metrics = QFontMetricsF(painter.font())
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
                if span.severity == "caution" and span.channel != lane.plan.name:
                    continue
                edges = scene.clipped(span.begin_s, span.end_s)
                if edges is None:
                    continue
                role = "tint_caution" if span.severity == "caution" else "tint_limit"
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
        theme, rect, plan = self._theme, lane.rect, lane.plan
        most = max(2, int(rect.height() / theme.px(34)))
        step = value_step(plan.high - plan.low, most)
        height = theme.px(14)
        for value in value_ticks(plan.low, plan.high, most):
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
            if edges is None or not lane.plan.low <= line.level <= lane.plan.high:
                continue
            painter.setPen(QPen(theme.color(line.severity), 1, Qt.PenStyle.DashLine))
            y = lane.y_of(line.level)
            painter.drawLine(QLineF(edges[0], y, edges[1], y))


class Labels(_Layer):
    """Over the traces: titles, limit names, event names, words of the marks; none on another."""

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """Place and draw the words."""
        words_lane = next(
            (lane for lane in self._scene.lanes if lane.recorded and lane.plan.name == "itt"), None
        )
        words_lane = words_lane or next((lane for lane in self._scene.lanes if lane.recorded), None)
        names = {lane.plan.name for lane in self._scene.lanes if lane.recorded}
        for lane in self._scene.lanes:
            rect = lane.rect
            if not lane.recorded:
                painter.setFont(self._theme.font(12))
                painter.setPen(self._theme.color("muted"))
                text = f"{lane.plan.title}: not recorded"
                painter.drawText(rect.adjusted(10, 0, -6, 0), _LEFT, text)
                continue
            placer = Placer(Box(rect.left() + 1, rect.top() + 1, rect.width() - 2, rect.height() - 2))
            self._paint_title(painter, lane, placer)
            self._paint_limit_names(painter, lane, placer)
            mine = [
                span
                for span in self._scene.spans
                if span.channel == lane.plan.name or (span.channel not in names and lane is words_lane)
            ]
            self._paint_events(painter, lane, placer, mine)
            if lane is words_lane:
                self._paint_marks(painter, lane, placer)

    def _text(self, painter: QPainter, box: Box, text: str, align: Qt.AlignmentFlag = _LEFT) -> None:
        painter.drawText(QRectF(box.left, box.top, box.width, box.height), align, text)

    def _paint_title(self, painter: QPainter, lane: Lane, placer: Placer) -> None:
        theme, rect, plan = self._theme, lane.rect, lane.plan
        height = theme.px(18)
        font = theme.font(13, bold=True)
        width = QFontMetricsF(font).horizontalAdvance(plan.title) + 2
        small = theme.font(12)
        small_width = QFontMetricsF(small).horizontalAdvance(plan.label) + 2
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
        metrics = QFontMetricsF(painter.font())
        height = theme.px(14)
        worst_first = sorted(plan.lines, key=lambda line: (line.severity != "limit", -line.begin_s))
        named: set[tuple[str, int]] = set()
        for line in worst_first:
            edges = scene.clipped(line.begin_s, line.end_s)
            if edges is None or not plan.low <= line.level <= plan.high:
                continue
            width = metrics.horizontalAdvance(line.text) + 4
            key = (line.text, int(edges[1] // 200))
            if edges[1] - edges[0] < 6 or key in named:
                continue
            box = placer.place(self._limit_places(lane, line, edges, width, height))
            if box is not None:
                named.add(key)
                painter.setPen(theme.color(line.severity))
                self._text(painter, box, line.text, _RIGHT)

    def _limit_places(
        self, lane: Lane, line: LevelLine, edges: tuple[float, float], width: float, height: float
    ) -> list[Box]:
        y = lane.y_of(line.level)
        right = edges[1] - 4
        places = [Box(right - width, y - height, width, height), Box(right - width, y + 1, width, height)]
        # A stretch shorter than its name: the name stands beyond its end rather than nowhere.
        beyond = edges[1] + 4
        places += [Box(beyond, y - height, width, height), Box(beyond, y + 1, width, height)]
        if edges[1] - edges[0] < width + 8:
            return places[2:] + places[:2]
        return places

    def _paint_events(self, painter: QPainter, lane: Lane, placer: Placer, spans: Sequence[Span]) -> None:
        scene, theme, rect = self._scene, self._theme, lane.rect
        font = theme.font(12, bold=True)
        metrics = QFontMetricsF(font)
        height, icon = theme.px(16), theme.px(14)
        order = {"limit": 0, "possible": 1, "caution": 2, "note": 3}
        for span in sorted(spans, key=lambda s: order[s.severity]):
            edges = scene.clipped(span.begin_s, span.end_s)
            if edges is None or not span.label:
                continue
            width = metrics.horizontalAdvance(span.label) + icon + 4
            centre = (edges[0] + edges[1]) / 2
            left = min(max(centre - width / 2, rect.left() + 4), rect.right() - width - 4)
            rows = [rect.bottom() - (i + 1) * (height + 2) - 2 for i in range(4)]
            # Below the trace there is room where a limit was passed upwards; the top comes last.
            rows.append(rect.top() + theme.px(26))
            box = placer.place(Box(left, top, width, height) for top in rows)
            if box is None:
                continue
            role = "caution" if span.severity == "caution" else "limit"
            draw_shape(painter, span.shape, box.left + icon / 2, box.top + height / 2, icon * 0.36, theme)
            painter.setFont(font)
            painter.setPen(theme.color(role))
            self._text(painter, Box(box.left + icon + 2, box.top, box.width - icon, height), span.label)

    def _paint_marks(self, painter: QPainter, lane: Lane, placer: Placer) -> None:
        scene, theme, rect = self._scene, self._theme, lane.rect
        painter.setFont(theme.font(11))
        metrics = QFontMetricsF(painter.font())
        height = theme.px(14)
        painter.setPen(theme.color("ink"))
        for mark in scene.marks:
            if not scene.begin_s <= mark.time_s <= scene.end_s:
                continue
            x = scene.x_of(mark.time_s)
            width = metrics.horizontalAdvance(mark.word) + 3
            rows = [rect.bottom() - (i + 1) * (height + 2) - 2 for i in range(4)]
            places = [Box(left, top, width, height) for top in rows for left in (x + 4, x - width - 3)]
            box = placer.place(places)
            if box is not None:
                self._text(painter, box, mark.word)


class Playhead(QGraphicsObject):
    """The line at the present moment, with its handle; moved, never repainted."""

    _HALF = 8.0

    def __init__(self, scene: Scene, theme: Theme) -> None:
        super().__init__()
        self._scene = scene
        self._theme = theme
        self._top = 0.0
        self._bottom = 0.0
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)

    def set_extent(self, top: float, bottom: float) -> None:
        """Reach from one height to another, [px]."""
        self.prepareGeometryChange()
        self._top, self._bottom = top, bottom

    def boundingRect(self) -> QRectF:
        """Return a strip around the line."""
        return QRectF(-self._HALF, self._top - 10, 2 * self._HALF, self._bottom - self._top + 12)

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """Draw the line and the handle."""
        painter.setPen(QPen(self._theme.color("ink"), 1))
        painter.drawLine(QLineF(0, self._top, 0, self._bottom))
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(self._theme.color("ink"))
        top = self._top
        painter.drawPolygon(QPolygonF([QPointF(-6, top - 9), QPointF(6, top - 9), QPointF(0, top)]))


class ValueTag(QGraphicsObject):
    """A lane's value at the playhead: a dot on the trace and the number beside it."""

    def __init__(self, theme: Theme, role: str) -> None:
        super().__init__()
        self._theme = theme
        self._role = role
        self._text = ""
        self._on_trace = False
        self._to_left = False
        self._shift = 0.0
        self.setAcceptedMouseButtons(Qt.MouseButton.NoButton)

    def show_value(self, x: float, y: float, text: str, on_trace: bool, lane: QRectF) -> None:
        """Stand at a point with these words, inside the lane."""
        width = self._width(text)
        to_left = x + 10 + width > lane.right() - 2
        height = self._height()
        top = min(max(y - height / 2 - 4, lane.top() + 2), lane.bottom() - height - 2)
        shift = top - y
        if (text, to_left, on_trace, shift) != (self._text, self._to_left, self._on_trace, self._shift):
            self.prepareGeometryChange()
            self._text, self._to_left, self._on_trace, self._shift = text, to_left, on_trace, shift
            self.update()
        self.setPos(x, y)

    def _width(self, text: str) -> float:
        return QFontMetricsF(self._theme.font(12, bold=True)).horizontalAdvance(text) + 12

    def _height(self) -> float:
        return self._theme.px(19)

    def boundingRect(self) -> QRectF:
        """Return the dot and the box."""
        box = self._box()
        return box.united(QRectF(-5, -5, 10, 10)).adjusted(-2, -2, 2, 2)

    def _box(self) -> QRectF:
        width = self._width(self._text)
        left = -10 - width if self._to_left else 10
        return QRectF(left, self._shift, width, self._height())

    def paint(
        self, painter: QPainter, option: QStyleOptionGraphicsItem, widget: QWidget | None = None
    ) -> None:
        """Draw the dot, the box and the number."""
        theme = self._theme
        color = theme.color(self._role)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        if self._on_trace:
            painter.setPen(QPen(theme.color("panel"), 1.5))
            painter.setBrush(color)
            painter.drawEllipse(QPointF(0, 0), 4, 4)
        box = self._box()
        painter.setPen(QPen(color, 1))
        painter.setBrush(theme.color("panel"))
        painter.drawRoundedRect(box, 3, 3)
        painter.setFont(theme.font(12, bold=True))
        painter.drawText(box, _CENTRE, self._text)
