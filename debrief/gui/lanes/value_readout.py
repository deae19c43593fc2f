"""The values at the playhead, under the mouse and between the cursors, and where they are written."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import QPointF, QRect, QRectF
from PySide6.QtGui import QPainter

from debrief.gui.lanes.lane import Lane
from debrief.gui.lanes.lane_scene import Scene, measure_box
from debrief.gui.lanes.overlay_paint import (
    Tag,
    hover_time_box,
    measure_ground,
    paint_hover,
    paint_mark,
    paint_measures,
    paint_playhead,
    paint_stretch,
    paint_tag,
    playhead_bounds,
)
from debrief.gui.lanes.strip_layer import others_readout, paint_readouts, strip_readouts
from debrief.gui.lanes.trace import Trace
from debrief.gui.style.theme import Theme
from debrief.session.drawing.placing import Box
from debrief.session.lanes.value_layout import Standing, Wish, Word, stand
from debrief.words.numbers import clock_text, decimals_for, number

_LOW = 90
"""A lane is low below this height, [px at usual text size]."""


class Readout:
    """What moves over the lanes. Changes hand the rectangles to be painted anew to `repaint`.

    Parameters
    ----------
    scene : Scene
        Where everything lies.
    theme : Theme
    repaint : callable
        Takes the places that were covered and those that are covered now.
    """

    def __init__(self, scene: Scene, theme: Theme, repaint: Callable[[list[QRect]], None]) -> None:
        self._scene = scene
        self._theme = theme
        self._repaint = repaint
        self._time_s = 0.0
        self._mark_s: float | None = None
        self._head_x: float | None = None
        self._hover_x: float | None = None
        self._tags: list[Tag] | None = []
        self._of_strips: list[tuple[QRectF, str]] = []
        self._of_others: list[tuple[QRectF, str]] = []
        self._standings: list[Standing | None] = []
        self.hover_tags: list[Tag] = []
        self._hover_standings: list[Standing | None] = []
        self.measures: list[tuple[QRectF, str, str]] = []
        """Of each channel where its measures are written, the words, and the colour role."""
        self.extents: list[tuple[QRectF, str, str]] = []
        """The same of highest, lowest and mean between the cursors."""
        self.spoken: list[str] = []
        """What lies between the cursors in full, channel by channel, for who hears it."""

    def clear(self) -> None:
        """Show nothing, as when another recording comes."""
        self._head_x = self._hover_x = None
        self._tags, self.hover_tags, self.measures = [], [], []
        self._of_strips, self._of_others = [], []
        self._standings, self._hover_standings = [], []

    @property
    def tags(self) -> list[Tag]:
        """The values at the playhead; placed when they are asked for."""
        if self._tags is None:
            if self._head_x is None:
                self._tags, self._standings = [], []
            else:
                self._tags, self._standings = self._tags_at(self._time_s, self._head_x, self._standings)
        return self._tags

    @property
    def hidden_words(self) -> list[QRectF]:
        """Where words give way to the values at the playhead and under the mouse, [px]."""
        placed = (self._standings if self.tags else (), self._hover_standings if self.hover_tags else ())
        return [
            QRectF(box.left - 1, box.top - 1, box.width + 2, box.height + 2)
            for standings in placed
            for words, standing in zip(self._scene.words, standings, strict=False)
            if standing is not None
            for box in (words[index].box for index in standing.hidden)
        ]

    def show_at(self, time_s: float) -> None:
        """Move the playhead: only what it covered and covers now is painted anew."""
        if not self._scene.lanes:
            return
        before = self._bounds()
        self.stand_at(time_s)
        self._repaint([*before, *self._bounds()])

    def stand_at(self, time_s: float) -> None:
        """Move the playhead where everything is painted anew in any case."""
        scene = self._scene
        self._time_s = time_s
        x = scene.x_of(time_s)
        self._head_x = x if scene.plot_left - 1 <= x <= scene.plot_right + 1 else None
        self._of_strips = strip_readouts(scene, self._theme, time_s, x) if self._head_x is not None else []
        self._of_others = others_readout(scene, self._theme, time_s)
        self._tags = None
        self._measure()

    def replace_tags(self) -> None:
        """Place the values at the playhead anew: the words that they keep off have moved."""
        self._tags, self._standings = None, []
        self.hover_tags, self._hover_standings = [], []
        self._hover_x = None

    def measure_from(self, mark_s: float | None) -> None:
        """Measure from this time to the playhead, or no more."""
        self._mark_s = mark_s
        self._measure()

    def _measure(self) -> None:
        """Work out what lies between the mark and the playhead, channel by channel."""
        self.measures, self.extents, self.spoken = [], [], []
        if self._mark_s is None:
            return
        for lane in self._scene.lanes:
            for row, trace in enumerate(lane.traces):
                measured = trace.instrument.measured(self._mark_s, self._time_s)
                forms = measured.shorter if measured is not None else ("no data at one end",)
                self.spoken.append(f"{trace.plan.full_title}: {forms[0]}")
                if lane.shared:
                    forms = tuple(f"{trace.plan.symbol}: {form}" for form in forms)
                role = trace.role if lane.shared else "ink"
                ground, shown = measure_ground(self._theme, measure_box(self._theme, lane, row), forms)
                self.measures.append((ground, shown, role))
                self._measure_extent(lane, trace, row, role)

    def _measure_extent(self, lane: Lane, trace: Trace, row: int, role: str) -> None:
        """Work out highest, lowest and mean: written in the rows below the differences."""
        if self._mark_s is None:
            return
        found = trace.instrument.extent(self._mark_s, self._time_s)
        if found is None or abs(self._time_s - self._mark_s) < 1e-9:
            return
        forms = found.forms(self._scene.clock)
        self.spoken[-1] += f"; {forms[0]}"
        # Of a low lane as little is covered as can be.
        forms = forms if lane.rect.height() > self._theme.px(_LOW) else forms[2:]
        if lane.shared:
            forms = tuple(f"{trace.plan.symbol}: {form}" for form in forms)
        box = measure_box(self._theme, lane, row + len(lane.traces))
        if box.bottom() <= lane.rect.bottom():
            ground, shown = measure_ground(self._theme, box, forms)
            self.extents.append((ground, shown, role))

    def _measured_stretch(self) -> QRectF | None:
        """Return what lies between the cursors, as far as it is in view, [px]."""
        if self._mark_s is None or not self._scene.lanes:
            return None
        edges = self._scene.clipped(*sorted((self._mark_s, self._time_s)))
        if edges is None or edges[1] - edges[0] < 1:
            return None
        top, bottom = self._scene.lanes[0].rect.top(), self._scene.lanes[-1].rect.bottom()
        return QRectF(edges[0], top, edges[1] - edges[0], bottom - top)

    def hover(self, x: float | None) -> None:
        """Show the values under the mouse, unless it is over the playhead's own."""
        before = self._bounds()
        scene = self._scene
        inside = x is not None and scene.plot_left <= x <= scene.plot_right
        near = x is not None and self._head_x is not None and abs(x - self._head_x) < 6
        if x is None or not inside or near or not scene.lanes:
            self._hover_x, self.hover_tags, self._hover_standings = None, [], []
        else:
            self._hover_x = x
            keep_off = [_box(tag.box) for tag in self.tags if tag.box is not None]
            self.hover_tags, self._hover_standings = self._tags_at(
                scene.time_of(x), x, self._hover_standings, keep_off
            )
        self._repaint([*before, *self._bounds()])

    def _tags_at(
        self, time_s: float, x: float, before: Sequence[Standing | None] = (), keep_off: Sequence[Box] = ()
    ) -> tuple[list[Tag], list[Standing | None]]:
        """Return the values at a time, and where those of each lane stand."""
        scene = self._scene
        tags: list[Tag] = []
        standings: list[Standing | None] = []
        fixed = [
            Word(box, fixed=True)
            for box in (*(_box(ground) for ground, _, _ in (*self.measures, *self.extents)), *keep_off)
        ]
        height = float(self._theme.px(19))
        for place, lane in enumerate(scene.lanes):
            told = [self._told(lane, trace, time_s, x) for trace in lane.traces]
            words = scene.words[place] if place < len(scene.words) else []
            metrics = self._theme.metrics(12, bold=True)
            standing = stand(
                _box(lane.rect),
                x,
                [Wish(metrics.horizontalAdvance(text) + 12.0, point.y()) for point, text, _ in told],
                height,
                [*words, *fixed],
                before[place] if place < len(before) else None,
            )
            standings.append(standing)
            for trace, (point, text, there), box in zip(lane.traces, told, standing.boxes, strict=True):
                rect = None if box is None else QRectF(box.left, box.top, box.width, box.height)
                tags.append(Tag(trace.plan.name, trace.role, text, point, there, rect))
        return tags, standings

    def _told(self, lane: Lane, trace: Trace, time_s: float, x: float) -> tuple[QPointF, str, bool]:
        """Return where a channel's value lies, what is written of it, and whether there is one."""
        value = trace.instrument.value_at(time_s)
        channel = trace.plan.channel
        if value is None or channel is None:
            point, text = QPointF(x, lane.rect.center().y()), "no data"
        else:
            point, text = QPointF(x, trace.y_of(value)), number(value, decimals_for(channel.unit))
        if lane.shared:
            text = f"{trace.plan.symbol} {text}"
        return point, text, value is not None

    def spoken_at(self, time_s: float) -> str:
        """Return the time and the values then with their limits, as they are heard."""
        told = [
            trace.plan.spoken_at(time_s, trace.instrument.value_at(time_s))
            for lane in self._scene.lanes
            for trace in lane.traces
        ]
        return f"At {clock_text(time_s)}: {'; '.join(told)}." if told else ""

    def _bounds(self) -> list[QRect]:
        bounds = [box for box, _, _ in (*self.measures, *self.extents)]
        shade = self._measured_stretch()
        if shade is not None:
            bounds.append(shade)
        if self._head_x is not None:
            bounds += [playhead_bounds(self._scene, self._head_x), *(tag.bounds for tag in self.tags)]
            bounds += [box for box, _ in self._of_strips]
        if self._hover_x is not None:
            bounds += [playhead_bounds(self._scene, self._hover_x)]
            bounds += [hover_time_box(self._scene, self._theme, self._hover_x)]
            bounds += [tag.bounds for tag in self.hover_tags]
        bounds += [box for box, _ in self._of_others]
        bounds += self.hidden_words
        return [rect.toAlignedRect() for rect in bounds]

    def _words_standing(self) -> list[QRectF]:
        """Return where words are written now, [px]: not those that give way to a value."""
        hidden = self.hidden_words
        boxes = [
            QRectF(w.box.left, w.box.top, w.box.width, w.box.height) for of in self._scene.words for w in of
        ]
        standing = [box for box in boxes if not any(place.contains(box) for place in hidden)]
        return [*standing, *self._scene.ribbon_words]

    def paint(self, painter: QPainter) -> None:
        """Draw all of it."""
        scene, theme = self._scene, self._theme
        if self._hover_x is not None:
            paint_hover(painter, scene, theme, self._hover_x, self.hover_tags)
        if self._mark_s is not None and scene.begin_s <= self._mark_s <= scene.end_s:
            paint_mark(painter, scene, theme, scene.x_of(self._mark_s))
        shade = self._measured_stretch()
        if shade is not None:
            paint_stretch(painter, scene, theme, shade)
        if self._head_x is not None:
            paint_playhead(painter, scene, theme, self._head_x, self._words_standing())
        for box, words, role in (*self.measures, *self.extents):
            paint_measures(painter, theme, box, words, role)
        if self._head_x is not None:
            for tag in self.tags:
                paint_tag(painter, theme, tag)
            paint_readouts(painter, theme, self._of_strips)
        paint_readouts(painter, theme, self._of_others, "ground")


def _box(rect: QRectF) -> Box:
    return Box(rect.left(), rect.top(), rect.width(), rect.height())
