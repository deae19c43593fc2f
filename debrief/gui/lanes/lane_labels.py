"""The words over the traces: titles, names of limits and bands, findings, marks; none on another."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import partial

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPolygonF

from debrief.gui.lanes.lane import Lane
from debrief.gui.lanes.lane_layers import Layer, band_polygon
from debrief.gui.lanes.lane_scene import Scene, measure_box
from debrief.gui.lanes.lane_titles import Titles, ground_at
from debrief.gui.lanes.trace import Trace
from debrief.gui.style.shapes import draw_shape
from debrief.gui.style.theme import Theme
from debrief.session.drawing.mark_names import names_beside_lines
from debrief.session.drawing.placing import Box, Placer
from debrief.session.lanes.lane_events import Span
from debrief.session.lanes.lane_words import name_places, named_in
from debrief.session.lanes.value_layout import Word
from debrief.words.colours import COLOUR_ROLE

_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter

WORD_GAP = 2.0
"""Between two words, [px]: each can be taken away with the pixel around it and touch no other."""


class Labels(Layer):
    """Over the traces."""

    def __init__(self, scene: Scene, theme: Theme) -> None:
        super().__init__(scene, theme)
        self._titles = Titles(scene, theme)
        self._lines: dict[str, tuple[list[float], list[tuple[float, float]]]] = {}
        self._moments: list[float] = []
        self._signs: dict[Box, tuple[Box, Box]] = {}

    def paint(self, painter: QPainter) -> None:
        """Place and draw the words."""
        scene = self._scene
        self._lines.clear()
        self._signs.clear()
        self._moments = sorted(mark.time_s for mark in scene.marks)
        drawn = [lane for lane in scene.lanes if lane.recorded]
        words_lane = next((lane for lane in drawn if "itt" in lane.names), drawn[0] if drawn else None)
        findings = iter(named_in([lane.names for lane in drawn], scene.labelled))
        scene.words.clear()
        scene.named.clear()
        scene.handles.clear()
        for lane in scene.lanes:
            rect = lane.rect
            if not lane.recorded:
                self._titles.paint_slim(painter, lane)
                scene.words.append([])
                continue
            width = scene.written_to(lane) - rect.left()
            placer = Placer(Box(rect.left() + 1, rect.top() + 1, width - 2, rect.height() - 2), gap=WORD_GAP)
            self._titles.paint(painter, lane, placer)
            fixed = placer.taken
            strips = self._reserve_measures(lane, placer) if scene.measuring else ()
            # Where there is no room for all, what was found is named before what was allowed.
            self._paint_events(painter, lane, placer, next(findings))
            for trace in lane.traces:
                self._paint_limit_names(painter, lane, trace, placer)
            if lane is words_lane:
                self._paint_marks(painter, lane, placer)
            if scene.shows_bands:
                self._paint_band_names(painter, lane, placer)
            # Of a strip for measures the values keep off what is written only.
            scene.words.append(list(self._words_of(placer, fixed, strips)))

    def _words_of(self, placer: Placer, fixed: Sequence[Box], strips: Sequence[Box]) -> Iterator[Word]:
        for box in placer.taken:
            sign, words = self._signs.get(box, (None, box))
            if sign is not None:
                yield Word(sign, fixed=True)
            if words.width > 0 and box not in strips:
                yield Word(words, fixed=box in fixed)

    def _reserve_measures(self, lane: Lane, placer: Placer) -> tuple[Box, ...]:
        strips = []
        for row in range(2 * len(lane.traces)):
            strip = measure_box(self._theme, lane, row)
            if strip.bottom() > lane.rect.bottom():
                break
            strips.append(Box(strip.left(), strip.top(), strip.width(), strip.height()))
            placer.reserve(strips[-1])
        return tuple(strips)

    def _crosses_trace(self, lane: Lane, box: Box) -> bool:
        return lane.crossed(box.left - 2, box.right + 2, box.top, box.bottom)

    def _crosses(self, lane: Lane, box: Box) -> float:
        """Return how much runs through a box: a trace counts most, then a limit line, then a moment's."""
        much = 4.0 if self._crosses_trace(lane, box) else 0.0
        if self._crosses_line(lane, box):
            much += 2.0
        return much + (1.0 if self._crosses_mark(box) else 0.0)

    def _crosses_line(self, lane: Lane, box: Box) -> bool:
        heights, edges = self._lines_of(lane)
        near = edges[bisect_right(heights, box.top + 1) : bisect_left(heights, box.bottom - 1)]
        return any(right >= box.left and left <= box.right for left, right in near)

    def _lines_of(self, lane: Lane) -> tuple[list[float], list[tuple[float, float]]]:
        """Return the height of each limit's line in view, in order, and its ends, [px]: asked for at each word."""
        known = self._lines.get(lane.plan.name)
        if known is None:
            found = sorted(
                (trace.y_of(line.level), edges)
                for trace in lane.traces
                for line in trace.lines
                if (edges := self._scene.clipped(line.begin_s, line.end_s)) is not None
            )
            known = self._lines[lane.plan.name] = ([y for y, _ in found], [edges for _, edges in found])
        return known

    def _crosses_mark(self, box: Box) -> bool:
        first, last = self._scene.time_of(box.left - 1), self._scene.time_of(box.right + 1)
        return bisect_right(self._moments, first) < bisect_left(self._moments, last)

    def _is_over_band(self, lane: Lane, box: Box) -> bool:
        """Whether a band's tint is behind a box: coloured words are not legible enough on it."""
        scene = self._scene
        if not scene.shows_bands:
            return False
        first, last = scene.time_of(box.left), scene.time_of(box.right)
        return any(
            shade.begin_s <= last
            and shade.end_s >= first
            and trace.y_of(shade.highest) < box.bottom
            and trace.y_of(shade.lowest) > box.top
            for trace in lane.traces
            for shade in trace.plan.bands
        )

    def _paint_ground(self, painter: QPainter, lane: Lane, box: Box) -> None:
        """Give a word that something runs through, or a band lies behind, a ground; a trace shows through it."""
        over_trace = self._crosses_trace(lane, box)
        through = over_trace or self._crosses_line(lane, box) or self._crosses_mark(box)
        if not (through or self._is_over_band(lane, box)):
            return
        color = QColor(self._theme.color(ground_at(self._scene, lane, box)))
        color.setAlpha(190 if over_trace else 255)
        painter.fillRect(QRectF(box.left - 1, box.top, box.width + 2, box.height), color)

    def _text(self, painter: QPainter, box: Box, text: str, align: Qt.AlignmentFlag = _LEFT) -> None:
        painter.drawText(QRectF(box.left, box.top, box.width, box.height), align, text)

    # --- bands ------------------------------------------------------------------------------------

    def _paint_band_names(self, painter: QPainter, lane: Lane, placer: Placer) -> None:
        """Name each band once, inside its tint and off everything else; not at all where there is no room."""
        scene, theme = self._scene, self._theme
        painter.setFont(theme.font(11))
        metrics, height = theme.metrics(11), float(theme.px(14))
        for trace in lane.traces:
            seen = [s for s in trace.plan.bands if s.end_s >= scene.begin_s and s.begin_s <= scene.end_s]
            named: set[str] = set()
            shapes = [(shade, band_polygon(scene, trace, shade)) for shade in seen[:12]]
            for index, (shade, polygon) in enumerate(shapes):
                if shade.text in named:
                    continue
                text = f"{trace.plan.symbol} {shade.text}" if lane.shared else shade.text
                width = metrics.horizontalAdvance(text) + 4
                covering = [other for _, other in shapes[index + 1 :]]
                places = list(self._inside(lane, polygon, covering, width, height))
                places = [place for place in places if not self._crosses_trace(lane, place)]
                box = placer.place(places, partial(self._crosses, lane))
                if box is None:
                    continue
                named.add(shade.text)
                # A limit line may run behind the word: it has a ground of its own.
                ground = QRectF(box.left, box.top + 1, box.width + 2, box.height - 2)
                painter.fillRect(ground, theme.band_tint(shade.kind, shade.grade))
                painter.setPen(theme.color("ink"))
                self._text(painter, box, text, _RIGHT)

    def _inside(
        self, lane: Lane, polygon: QPolygonF, covering: Sequence[QPolygonF], width: float, height: float
    ) -> Iterator[Box]:
        """Yield places for a word that lie in a polygon and in none of those that cover it."""
        bounds = polygon.boundingRect().intersected(lane.rect)
        rule = Qt.FillRule.OddEvenFill
        steps = min(8, int((bounds.width() - width) / 30) + 1)
        # The letters are lower than their line: a band a little lower than that has room for them too.
        height = min(height, max(bounds.height() - 1, 0.75 * height))
        rows = min(6, int(bounds.height() / height))
        for step in range(steps):
            left = bounds.right() - width - 4 - step * max(30.0, (bounds.width() - width) / 8)
            for row in range(rows):
                top = bounds.top() + 1 + row * (bounds.height() - 2 - height) / max(rows - 1, 1)
                corners = [
                    QPointF(x, y)
                    for x in (left, left + width)
                    for y in (top + 1, top + height / 2, top + height - 1)
                ]
                if not all(polygon.containsPoint(corner, rule) for corner in corners):
                    continue
                if not any(other.containsPoint(c, rule) for other in covering for c in corners):
                    yield Box(left, top, width, height)

    # --- limits, findings, marks ------------------------------------------------------------------

    def _paint_limit_names(self, painter: QPainter, lane: Lane, trace: Trace, placer: Placer) -> None:
        scene, theme, plan = self._scene, self._theme, trace.plan
        painter.setFont(theme.font(11))
        metrics = theme.metrics(11)
        height = theme.px(14)
        worst_first = sorted(trace.lines, key=lambda line: (line.severity != "limit", -line.level))
        named: set[tuple[str, int]] = set()
        stretches = [
            ends for line in trace.lines if (ends := scene.clipped(line.begin_s, line.end_s)) is not None
        ]
        for line in worst_first:
            edges = scene.clipped(line.begin_s, line.end_s)
            if edges is None:
                continue
            edges = edges[0], min(edges[1], scene.written_to(lane))
            words = f"{plan.symbol} {line.text}" if lane.shared else line.text
            width = metrics.horizontalAdvance(words) + 4
            key = (line.text, int(edges[1] // 200))
            if edges[1] - edges[0] < 6 or key in named:
                continue
            box = self._place_limit_name(
                lane, placer, trace.y_of(line.level), edges, width, height, stretches
            )
            if box is None:
                continue
            named.add(key)
            scene.named.append((plan.name, line.text))
            self._paint_ground(painter, lane, box)
            painter.setPen(theme.color(line.severity))
            self._text(painter, box, words, _RIGHT)

    def _place_limit_name(
        self,
        lane: Lane,
        placer: Placer,
        y: float,
        edges: tuple[float, float],
        width: float,
        height: float,
        stretches: Sequence[tuple[float, float]],
    ) -> Box | None:
        """Find a place above the line's right end, else in the line itself.

        A name ends with its line: beyond, the level does not apply. That of a line too short for it stands
        before the line where no other level of the channel is drawn, as before a start; else there is none.
        """
        right = edges[1] - 4
        if edges[1] - edges[0] < width + 8:
            over = Box(edges[1] - width, y - height, width, height)
            if edges[1] - edges[0] >= width:
                return placer.place([over, replace(over, top=y + 1)], partial(self._crosses, lane))
            left = edges[0] - 4 - width
            if any(ends != edges and ends[0] < edges[0] and ends[1] > left for ends in stretches):
                return None
            tops = (y - height / 2, y - height, y + 1)
            return placer.place([Box(left, top, width, height) for top in tops], partial(self._crosses, lane))
        above = Box(right - width, y - height, width, height)
        if not self._crosses(lane, above):
            found = placer.place([above])
            if found is not None:
                return found
        # Along the whole line: a level that is drawn is named wherever there is any room for its words.
        steps = max(1, int((edges[1] - edges[0] - width - 8) / 12))
        within = [Box(right - width - 6 - i * 12, y - height / 2, width, height) for i in range(steps)]
        ends = [
            Box(x, top, width, height) for top in (y - height, y + 1) for x in (right - width, edges[0] + 4)
        ]
        # What was exceeded is to be seen whole: rather than over the trace there, the name stands close by.
        near = [
            Box(box.left, top, width, height)
            for top in (y - height, y + 1, y - height - 5, y + 6)
            for box in within[::3]
        ]
        return placer.place([*within, *ends, *near], partial(self._crosses_trace_or_mark, lane))

    def _crosses_trace_or_mark(self, lane: Lane, box: Box) -> float:
        """Return how much runs through a box that stands in its own limit line."""
        much = 1.0 if self._crosses_mark(box) else 0.0
        if self._crosses_trace(lane, box):
            much += 4.0 if self._is_in_finding(box) else 2.0
        return much

    def _is_in_finding(self, box: Box) -> bool:
        """Whether a part of a box lies in the tinted stretch of a finding."""
        scene = self._scene
        first, last = scene.time_of(box.left), scene.time_of(box.right)
        return any(span.begin_s < last and span.end_s > first for span in scene.spans)

    def _paint_events(self, painter: QPainter, lane: Lane, placer: Placer, spans: Sequence[Span]) -> None:
        scene, theme, rect = self._scene, self._theme, lane.rect
        font = theme.font(12, bold=True)
        metrics = theme.metrics(12, bold=True)
        height, icon = float(theme.px(16)), float(theme.px(14))
        visible = [span for span in spans if scene.clipped(span.begin_s, span.end_s)]
        widths = [metrics.horizontalAdvance(span.label) + 4 for span in visible]
        # Where words for all would cover the lane, the shapes alone stand there; the story has the words.
        crowded = sum(widths) + len(visible) * (icon + 4) > 0.8 * rect.width()
        area = Box(rect.left() + 1, rect.top() + 1, rect.width() - 2, rect.height() - 2)
        for span, width in zip(visible, widths, strict=True):
            edges = scene.clipped(span.begin_s, span.end_s)
            if edges is None:
                continue
            for words, wide in ([] if crowded else [(span.label, width)]) + [("", 0.0)]:
                top = rect.top() + theme.px(26)
                places = {p.box: p for p in name_places(area, edges, icon, wide, height, top)}
                box = placer.place(places, partial(self._crosses, lane))
                if box is None:
                    continue
                self._paint_ground(painter, lane, box)
                place = places[box]
                middle = place.sign_left + icon / 2
                # The words give way to a value at the playhead, the sign never.
                self._signs[box] = (
                    Box(place.sign_left, box.top, icon - WORD_GAP, height),
                    Box(place.words_left + WORD_GAP, box.top, wide - WORD_GAP, height),
                )
                draw_shape(painter, span.shape, middle, box.top + height / 2, icon * 0.36, theme)
                if words:
                    painter.setFont(font)
                    painter.setPen(theme.color(COLOUR_ROLE[span.severity]))
                    self._text(painter, Box(place.words_left + WORD_GAP, box.top, wide, height), words)
                break

    def _paint_marks(self, painter: QPainter, lane: Lane, placer: Placer) -> None:
        """Name the moments beside their dotted lines, at whatever height is free."""
        scene, theme, rect = self._scene, self._theme, lane.rect
        painter.setFont(theme.font(11))
        metrics = theme.metrics(11)
        height = theme.px(14)
        seen = [mark for mark in scene.marks if scene.begin_s <= mark.time_s <= scene.end_s]
        most = max(4, int((rect.height() - theme.px(26)) / (height + 2)))
        tops = [rect.bottom() - (i + 1) * (height + 2) - 2 for i in range(most)]
        for name in names_beside_lines(
            [(scene.x_of(mark.time_s), mark.word) for mark in seen],
            rect.left() + 2,
            rect.right() - 2,
            lambda words: metrics.horizontalAdvance(words) + 3,
        ):
            box = placer.place(
                [Box(left, top, name.width, height) for left in name.lefts for top in tops],
                partial(self._crosses, lane),
            )
            if box is not None:
                self._paint_ground(painter, lane, box)
                painter.setPen(theme.color("ink"))
                self._text(painter, box, name.words)
