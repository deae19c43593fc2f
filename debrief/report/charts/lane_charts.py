"""Charts as shapes: lanes over one time axis, and one quantity against another. No Qt."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

import numpy as np

from debrief.recording.model import FloatArray
from debrief.report import shapes as s
from debrief.report.blocks import Lane, LaneChart, LevelLine, TimeMark, Weight
from debrief.session.drawing.axes import time_labels
from debrief.session.drawing.envelope import Drawn
from debrief.session.drawing.mark_names import place_over_lines
from debrief.session.drawing.placing import Box, Placer, rows_apart, spread
from debrief.session.lanes.hand_strips import LeverStrip, Strip, SwitchStrip
from debrief.session.lanes.lane_range import value_ticks
from debrief.session.lanes.lane_words import Reach, name_places
from debrief.words.colours import COLOUR_ROLE, ON_PAPER, TINT_ROLE
from debrief.words.events import SIGNS
from debrief.words.numbers import plain, unit_words

WEIGHT_COLOUR = {weight: str(getattr(ON_PAPER, role)) for weight, role in COLOUR_ROLE.items()}
WEIGHT_TINT = {weight: str(getattr(ON_PAPER, role)) for weight, role in TINT_ROLE.items()}

_Place = Callable[[float], float]

_LEFT, _RIGHT_WITH_NUMBERS, _RIGHT = 12.0, 28.0, 4.0
_TITLE, _ROW, _BAR, _AXIS, _RIBBON = 4.4, 3.3, 3.6, 5.0, 4.2
DASH = (1.2, 0.9)
_LABEL_ROW, _OVER_LINE = 2.9, 2.4
_TICK_ROW = 4.5
_LEAST_ROW = 2.6
_NAME_ROW, _SIGN, _PIXEL = 3.0, 2.7, 0.2


def mark_shape(weight: Weight, x: float, y: float, size: float = 2.4) -> s.Mark:
    """Return the sign of a weight, whose shape tells it without colour."""
    return s.Mark(x, y, SIGNS[weight], WEIGHT_COLOUR[weight], size)


def lane_chart(chart: LaneChart, width: float, measurer: s.Measurer) -> list[s.Shape]:
    """Return the shapes of a lane chart whose upper left corner is at (0, 0).

    Parameters
    ----------
    chart : LaneChart
        Its `height_mm` is kept: lanes share what the labels leave.
    width : float
        [mm]
    measurer : Measurer
        For the labels.
    """
    out: list[s.Shape] = []
    numbers = any(lane.levels for lane in chart.lanes) or any(isinstance(x, LeverStrip) for x in chart.strips)
    left, right = _LEFT, width - (_RIGHT_WITH_NUMBERS if numbers else _RIGHT)
    scale = (right - left) / max(chart.end_s - chart.begin_s, 1e-9)

    def x_of(time_s: float) -> float:
        return left + (min(max(time_s, chart.begin_s), chart.end_s) - chart.begin_s) * scale

    y = 0.0
    if chart.ribbon:
        out += _ribbon(chart, x_of, y, measurer)
        y += _RIBBON + 0.8
    marks = [mark for mark in chart.marks if chart.begin_s <= mark.time_s <= chart.end_s]
    label_shapes, label_lines, label_height = _mark_labels(marks, x_of, y, width, measurer)
    out += label_shapes
    y += label_height
    if chart.signs:
        out += _signs(chart.signs, x_of, y + 1.8)
        y += 3.8
    bottom = chart.height_mm - _AXIS
    strips_height = sum(map(_strip_height, chart.strips)) + (1.0 if chart.strips else 0.0)
    titles = _TITLE * len(chart.lanes)
    filled = [lane for lane in chart.lanes if not lane.empty]
    room = max(bottom - y - strips_height - titles, 5.0 * len(filled))
    shares = sum(lane.share for lane in filled) or 1.0
    labels = time_labels(chart.begin_s, chart.end_s, max(3, int((right - left) / 20.0)))
    times = [time_s for time_s, _ in labels]
    # The lines of the marks lie under the traces and over the tints.
    lines = [x for x, _ in label_lines]
    tints: list[s.Shape] = []
    lanes: list[s.Shape] = []
    for lane in chart.lanes:
        # A lane without a trace is its words alone.
        height = 0.0 if lane.empty else room * lane.share / shares
        area = Box(left, y + _TITLE, right - left, height)
        tints += _tints(lane, chart, area, x_of)
        lanes += _lane(lane, chart, area, times, x_of, lines, measurer)
        y += _TITLE + height
    y += 1.0 if chart.strips else 0.0
    for strip in chart.strips:
        height = _strip_height(strip)
        area = Box(left, y, right - left, height)
        lanes += (
            _switch(strip, area, x_of) if isinstance(strip, SwitchStrip) else _lever(strip, chart, area, x_of)
        )
        y += height
    out += tints
    for mark, line in zip(marks, label_lines, strict=True):
        colour = WEIGHT_COLOUR[mark.weight] if mark.weight else s.MUTED
        out.append(s.Line(line[0], line[1], line[0], y, colour, 0.15, (0.5, 0.6)))
    out += lanes
    out.append(s.Line(left, y, right, y, s.MUTED, 0.2))
    out += _time_labels(labels, x_of, y, right, measurer)
    return out


def _strip_height(strip: Strip) -> float:
    return _BAR if isinstance(strip, SwitchStrip) else 2 * _BAR


def _switch(strip: SwitchStrip, area: Box, x_of: _Place) -> list[s.Shape]:
    """Return a bar where the switch was on, half as high in a middle position, a line where it was off."""
    middle = area.top + area.height / 2
    out: list[s.Shape] = [
        s.Text(area.left - 1.2, area.top + _BAR * 0.72, strip.words, s.AXIS, s.MUTED, "right")
    ]
    for held in strip.held:
        a, b = x_of(held.begin_s), x_of(held.end_s)
        if held.position is None:
            out.append(s.Line(a, middle, b, middle, s.MUTED, 0.15, (0.3, 0.9)))
        elif held.position == 0:
            out.append(s.Line(a, middle, b, middle, s.GRID, 0.15))
        else:
            height = _BAR * 0.6 * held.position / strip.highest
            out.append(s.Box(a, middle - height / 2, max(b - a, 0.25), height, fill=s.MUTED))
    return out


def _lever(strip: LeverStrip, chart: LaneChart, area: Box, x_of: _Place) -> list[s.Shape]:
    """Return the lever's small trace over the line of its lowest value, with the two values at its edges."""
    top, bottom = area.top + 0.6, area.bottom - 0.6

    def y_of(value: float) -> float:
        return bottom - (value - strip.low) / (strip.high - strip.low) * (bottom - top)

    drawn = strip.envelope.view(chart.begin_s, chart.end_s, 900)
    unit = unit_words(strip.channel.unit)
    out: list[s.Shape] = [
        *(
            s.Text(area.left - 1.2, area.top + (row + 0.72) * _BAR, word, s.AXIS, s.MUTED, "right")
            for row, word in enumerate(strip.words.split())
        ),
        s.Line(area.left, bottom, area.right, bottom, s.GRID, 0.15),
        s.Text(area.right + 0.8, top + 1.6, f"{plain(strip.high)} {unit}".rstrip(), s.AXIS, s.MUTED),
        s.Text(area.right + 0.8, bottom + 0.4, f"{plain(strip.low)} {unit}".rstrip(), s.AXIS, s.MUTED),
    ]
    return [*out, *_trace(drawn, chart.begin_s, chart.end_s, x_of, y_of, s.MUTED)]


def _time_labels(
    labels: Sequence[tuple[float, str]], x_of: _Place, y: float, right: float, measurer: s.Measurer
) -> list[s.Shape]:
    out: list[s.Shape] = []
    last = -1e9
    for time_s, text in labels:
        half = measurer.width_mm(text, s.AXIS) / 2
        x = x_of(time_s)
        out.append(s.Line(x, y, x, y + 0.8, s.MUTED, 0.2))
        if x - half > last and x + half < right + half + 1:
            out.append(s.Text(x, y + 3.4, text, s.AXIS, s.MUTED, "center"))
            last = x + half + 1.5
    return out


def _ribbon(chart: LaneChart, x_of: _Place, y: float, measurer: s.Measurer) -> list[s.Shape]:
    out: list[s.Shape] = []
    for index, part in enumerate(chart.ribbon):
        if part.end_s <= chart.begin_s or part.begin_s >= chart.end_s:
            continue
        a, b = x_of(part.begin_s), x_of(part.end_s)
        fill = s.TINT_NOTE if index % 2 else s.PANEL
        out.append(s.Box(a, y, max(b - a, 0.1), _RIBBON, fill=fill, stroke=s.HAIRLINE, stroke_width=0.1))
        if measurer.width_mm(part.word, s.AXIS) < b - a - 1.0:
            out.append(s.Text((a + b) / 2, y + _RIBBON * 0.69, part.word, s.AXIS, s.INK, "center"))
    return out


def _mark_labels(
    marks: Sequence[TimeMark], x_of: _Place, y: float, width: float, measurer: s.Measurer
) -> tuple[list[s.Shape], list[tuple[float, float]], float]:
    """Return the labels, where each mark's line begins, and the height they take."""
    if not marks:
        return [], [], 0.0
    positions = [x_of(mark.time_s) for mark in marks]
    widths = [measurer.width_mm(mark.label, s.LABEL) for mark in marks]
    places = place_over_lines(positions, widths, 0.0, width, gap=0.9)
    rows = max(place.row for place in places) + 1
    out: list[s.Shape] = []
    lines: list[tuple[float, float]] = []
    for mark, place, x in zip(marks, places, positions, strict=True):
        top = y + (rows - 1 - place.row) * _ROW
        colour = WEIGHT_COLOUR[mark.weight] if mark.weight else s.INK
        out.append(s.Text(place.left, top + _ROW * 0.74, mark.label, s.LABEL, colour))
        covers = place.left < x < place.left + measurer.width_mm(mark.label, s.LABEL)
        lines.append((x, top + _ROW if covers else top + 0.3))
    return out, lines, rows * _ROW + 0.4


def _signs(signs: Iterable[tuple[float, Weight]], x_of: _Place, y: float) -> list[s.Shape]:
    """Return the signs; the gravest are drawn last so that they stay visible where several meet."""
    order: dict[Weight, int] = {"note": 0, "caution": 1, "possible": 2, "limit": 3}
    return [
        mark_shape(weight, x_of(time_s), y)
        for time_s, weight in sorted(signs, key=lambda sign: (order[sign[1]], sign[0]))
    ]


def _tints(lane: Lane, chart: LaneChart, area: Box, x_of: _Place) -> list[s.Shape]:
    """Return the stretches of the findings."""
    out: list[s.Shape] = []
    # What is worse covers what is milder where the two meet.
    worst_last = list(reversed(TINT_ROLE))
    for span in sorted(lane.spans, key=lambda span: worst_last.index(span.severity)):
        if span.end_s >= chart.begin_s and span.begin_s <= chart.end_s:
            a, b = x_of(span.begin_s), x_of(span.end_s)
            if b - a < 0.5:
                middle = (a + b) / 2
                a, b = max(area.left, middle - 0.25), min(area.right, middle + 0.25)
            out.append(s.Box(a, area.top, b - a, area.height, fill=WEIGHT_TINT[span.severity]))
    for stretch in lane.unjudged:
        if stretch.end_s >= chart.begin_s and stretch.begin_s <= chart.end_s:
            a, b = x_of(stretch.begin_s), x_of(stretch.end_s)
            out.append(s.Box(a, area.top, max(b - a, 0.3), area.height, fill=s.HAIRLINE))
    return out


def _lane(
    lane: Lane,
    chart: LaneChart,
    area: Box,
    times: Sequence[float],
    x_of: _Place,
    lines: Sequence[float],
    measurer: s.Measurer,
) -> list[s.Shape]:
    left, top, right, bottom = area.left, area.top, area.right, area.bottom
    out: list[s.Shape] = []
    title_y = top - _TITLE + 3.4
    # The lines of the marks pass between the lanes; they do not run through the words.
    title_width = measurer.width_mm(lane.title, s.LABEL)
    empty_width = measurer.width_mm(lane.empty, s.AXIS) + 3.0 if lane.empty else 0.0
    out.append(s.Box(left, title_y - 2.6, title_width + empty_width + 0.6, 3.4, fill=s.PAPER))
    out.append(s.Text(left, title_y, lane.title, s.LABEL, lane.colour))
    if lane.empty:
        out.append(s.Text(left + title_width + 3.0, title_y, lane.empty, s.AXIS, s.MUTED))
        return out

    def y_of(value: float) -> float:
        return bottom - (value - lane.low) / (lane.high - lane.low) * (bottom - top)

    for time_s in times:
        x = x_of(time_s)
        out.append(s.Line(x, top, x, bottom, s.GRID, 0.12))
    ticks = value_ticks(lane.low, lane.high, max(3, int((bottom - top) / _TICK_ROW)))
    written = rows_apart((y_of(value) for value, _ in ticks), _LEAST_ROW)
    for (value, text), is_written in zip(ticks, written, strict=True):
        y = y_of(value)
        out.append(s.Line(left, y, right, y, s.GRID, 0.12))
        if is_written:
            out.append(s.Text(left - 1.2, y + 0.85, text, s.AXIS, s.MUTED, "right"))
    out.append(s.Line(left, top, left, bottom, s.HAIRLINE, 0.2))
    drawn = lane.trace
    xs, ys = (
        np.array([place(value) for value in values], dtype=np.float64)
        for place, values in ((x_of, drawn.time_s), (y_of, drawn.values))
    )
    reach = Reach(xs, ys, left, right - left, 1.0)
    placer = Placer(area, gap=0.3)
    out += _levels(lane.levels, chart, x_of, y_of, area, lines, reach, placer, measurer)
    out += _trace(lane.trace, chart.begin_s, chart.end_s, x_of, y_of, lane.colour)
    out += [
        s.Mark(x_of(dot.time_s), y_of(dot.value), dot.kind, lane.colour, 1.7)
        for dot in lane.dots
        if chart.begin_s <= dot.time_s <= chart.end_s
    ]
    out += _names(lane, area, x_of, y_of, lines, reach, placer, measurer)
    return out


def _names(
    lane: Lane,
    area: Box,
    x_of: _Place,
    y_of: _Place,
    lines: Sequence[float],
    reach: Reach,
    placer: Placer,
    measurer: s.Measurer,
) -> list[s.Shape]:
    """Return the findings' names, each with its sign, where nothing runs through them; else the sign alone."""
    if not lane.named:
        return []
    levels = [(x_of(one.begin_s), x_of(one.end_s), y_of(one.level)) for one in lane.levels]

    def is_free(box: Box, words: str) -> bool:
        if reach.crosses(box.left - 0.5, box.right + 0.5, box.top - 0.7, box.bottom + 0.7):
            return False
        # A sign alone may stand on the line of a moment, which often is its own.
        return not words or not (
            any(box.left - 0.4 < line < box.right + 0.4 for line in lines)
            or any(a <= box.right and b >= box.left and box.top < at < box.bottom for a, b, at in levels)
        )

    widths = [measurer.width_mm(span.label, s.LABEL) for span in lane.named]
    # Where words for all would cover the lane, the signs alone stand there; the table has the words.
    crowded = sum(widths) + _SIGN * len(widths) > 0.8 * area.width
    out: list[s.Shape] = []
    for span, width in zip(lane.named, widths, strict=True):
        edges = x_of(span.begin_s), x_of(span.end_s)
        for words, wide in ([] if crowded else [(span.label, width)]) + [("", 0.0)]:
            places = name_places(area, edges, _SIGN, wide, _NAME_ROW, area.top + 0.3, _PIXEL)
            free = {place.box: place for place in places if is_free(place.box, words)}
            box = placer.place(free)
            if box is None:
                continue
            middle = free[box].sign_left + _SIGN / 2
            out.append(mark_shape(span.severity, middle, box.top + _NAME_ROW / 2, 2.0))
            if words:
                colour = WEIGHT_COLOUR[span.severity]
                out.append(s.Text(free[box].words_left, box.top + _NAME_ROW * 0.77, words, s.LABEL, colour))
            break
    return out


def _levels(
    levels: Sequence[LevelLine],
    chart: LaneChart,
    x_of: _Place,
    y_of: _Place,
    area: Box,
    moments: Sequence[float],
    reach: Reach,
    placer: Placer,
    measurer: s.Measurer,
) -> list[s.Shape]:
    """Return the lines of the levels with their names: in the margin, or where a line ends before it, over its end."""
    top, right, bottom = area.top, area.right, area.bottom
    shown = [level for level in levels if top - 0.01 <= y_of(level.level) <= bottom + 0.01]
    out: list[s.Shape] = []
    for level in shown:
        y, colour = y_of(level.level), _level_colour(level)
        out.append(s.Line(x_of(level.begin_s), y, x_of(level.end_s), y, colour, 0.22, DASH))
    # A limit of starts has a line in each of them and one name; where there is no room for all names, the
    # gravest stay.
    named = list({(level.level, level.label): level for level in shown}.values())
    room = max(int((bottom - top + 2.0) / _LABEL_ROW) + 1, 1)
    named = sorted(named, key=lambda level: (level.severity != "limit", -level.level))[:room]
    lines = [
        Box(x_of(level.begin_s), y_of(level.level), x_of(level.end_s) - x_of(level.begin_s), 0.0)
        for level in shown
    ]
    beside: list[LevelLine] = []
    for level in named:
        begin, end, width = (
            x_of(level.begin_s),
            x_of(level.end_s) - 0.5,
            measurer.width_mm(level.label, s.AXIS),
        )
        box = Box(end - width, y_of(level.level) - _OVER_LINE, width, _OVER_LINE - 0.3)
        crossed = (
            any(box.meets(line) for line in lines)
            or any(box.left < x < box.right for x in moments)
            or reach.crosses(box.left, box.right, box.top, box.bottom)
        )
        if end > right - 2.0 or box.left < begin or crossed or placer.place([box]) is None:
            beside.append(level)
        else:
            out.append(s.Text(box.left, box.bottom - 0.2, level.label, s.AXIS, _level_colour(level)))
    named = beside
    places = spread([y_of(level.level) for level in named], _LABEL_ROW, top - 1.0, bottom + 1.0)
    for level, label_y in zip(named, places, strict=True):
        colour = _level_colour(level)
        out.append(s.Line(right + 0.3, y_of(level.level), right + 1.4, label_y, colour, 0.12))
        out.append(s.Text(right + 1.8, label_y + 0.85, level.label, s.AXIS, colour))
    return out


def _level_colour(level: LevelLine) -> str:
    return s.LIMIT if level.severity == "limit" else s.CAUTION


def _trace(
    trace: Drawn, begin_s: float, end_s: float, x_of: _Place, y_of: _Place, colour: str
) -> list[s.Shape]:
    """Return a polyline for each unbroken run; a lone sample becomes a dot."""
    out: list[s.Shape] = []
    if trace.time_s.size == 0:
        return out
    ends = np.flatnonzero(~trace.connect)
    first = 0
    for end in [*ends.tolist(), trace.time_s.size - 1]:
        if end < first:
            continue
        times, values = _cut(trace.time_s[first : end + 1], trace.values[first : end + 1], begin_s, end_s)
        first = end + 1
        if times.size == 0:
            continue
        points = np.column_stack([[x_of(t) for t in times], [y_of(v) for v in values]])
        if times.size == 1:
            out.append(s.Mark(float(points[0, 0]), float(points[0, 1]), "dot", colour, 0.6))
        else:
            out.append(s.Curve(points, colour, 0.32))
    return out


def _cut(
    times: FloatArray, values: FloatArray, begin_s: float, end_s: float
) -> tuple[FloatArray, FloatArray]:
    """Return the run inside the range, ending on its edges where the line crosses them."""
    inside = (times >= begin_s) & (times <= end_s)
    out_t, out_v = times[inside], values[inside]
    for edge, at_front in ((begin_s, True), (end_s, False)):
        crosses = times[0] < edge < times[-1]
        if crosses and not np.any(times == edge):
            value = np.interp(edge, times, values)
            if at_front:
                out_t, out_v = np.r_[edge, out_t], np.r_[value, out_v]
            else:
                out_t, out_v = np.r_[out_t, edge], np.r_[out_v, value]
    return out_t, out_v
