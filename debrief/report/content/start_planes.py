"""Two charts of a start: time above each temperature, and temperature against gas generator speed."""

from __future__ import annotations

import numpy as np

from debrief.analysis.model import Assessment, Event, Start, TimeAbove
from debrief.profile.model import Limit
from debrief.recording.model import FloatArray
from debrief.report import shapes as s
from debrief.report.blocks import Area, LevelLine, Plane, PlaneLine, PlanePoint, Weight
from debrief.report.charts.lane_traces import trace_of
from debrief.report.content.trend_pages import UsualSpeeds
from debrief.session.drawing.axes import nice_step, rounded_range
from debrief.session.lanes.lane_plan import plan_lane
from debrief.words.channels import base_name, channel_symbol
from debrief.words.numbers import duration_text, plain, unit_words


def start_limit(assessment: Assessment, above: TimeAbove) -> Limit | None:
    """Return the start limit that the time-at-level curve is held against."""
    if assessment.profile is None:
        return None
    for limit in assessment.profile.limits:
        if limit.when == "start" and limit.channel == base_name(above.channel) and not limit.below:
            return limit
    return None


def time_at_temperature(assessment: Assessment, start: Start, events: tuple[Event, ...]) -> Plane | None:
    """Return the chart of time above each temperature, with what the profile allows and its bands."""
    above = start.time_above
    if above is None or len(above.levels) < 2:
        return None
    limit = start_limit(assessment, above)
    levels = np.asarray(above.levels)
    counted = np.asarray(above.longest_s if limit is not None and limit.count == "longest" else above.total_s)
    top = float(levels[-1])
    allowed = limit.allowed if limit is not None else ()
    bands = limit.bands if limit is not None else ()
    edges = [level for band in bands for level, _ in band.points]
    seconds = [sec for band in bands for _, sec in band.points]
    lowest = min([row.level for row in allowed] + edges + [top])
    high = max([row.level for row in allowed] + edges + [top])
    if not allowed:
        lowest = 0.6 * top
    y_low, _ = rounded_range(lowest - max(0.35 * (high - lowest), 100.0), high)
    y_high = high + max(0.08 * (high - y_low), 10.0)
    step = nice_step(y_high - y_low, 6)
    y_high = float(np.ceil(y_high / step) * step)
    shown = levels >= y_low
    if not shown.any():
        shown = levels >= levels[0]
        y_low = float(np.floor(levels[0] / step) * step)
    chart_right = max([*seconds, *(row.seconds for row in allowed), 0.0])
    x_high = max(chart_right * 1.25 if not seconds else chart_right, 10.0)
    if not allowed:
        x_high = max(10.0, float(counted[shown].max()))
    _, x_high = rounded_range(0.0, x_high)
    curve = _within(np.column_stack([counted[shown], levels[shown]]), x_high)
    lines = [PlaneLine(curve, s.TEMPERATURE)]
    if allowed:
        lines.insert(0, PlaneLine(_steps(limit, x_high, y_high), s.LIMIT, dashed=True, width=0.25))
    top_of_chart = max(edges, default=y_high)
    areas = tuple(
        Area(_band_area(band.points, chart_right, top_of_chart), band.name, _band_weight(index))
        for index, band in enumerate(bands)
    )
    count = "longest" if limit is not None and limit.count == "longest" else "total"
    said = [f"line: {count} seconds above"]
    if allowed:
        said.append("dashed: allowed")
    if bands:
        said.append("tints: the profile's bands")
    return Plane(
        "Time above each temperature",
        "; ".join(said),
        "seconds above",
        f"{channel_symbol(above.channel)}, {unit_words(above.unit)}",
        (0.0, x_high),
        (y_low, y_high),
        tuple(lines),
        areas,
        _time_points(limit, start, events, x_high),
    )


def _band_weight(index: int) -> Weight:
    return "caution" if index == 0 else "limit"


def _within(points: FloatArray, x_high: float) -> FloatArray:
    """Return the part of a falling curve that lies left of the chart's edge, ending on it."""
    inside = points[:, 0] <= x_high
    if inside.all() or not inside.any():
        return points[inside] if inside.any() else points[-1:]
    first = int(np.flatnonzero(inside)[0])
    out = points[first:]
    if first > 0:
        (x0, y0), (x1, y1) = points[first - 1], points[first]
        y = y0 + (y1 - y0) * (x0 - x_high) / (x0 - x1)
        out = np.vstack([[x_high, y], out])
    return np.asarray(out, dtype=np.float64)


def _steps(limit: Limit | None, x_high: float, y_high: float) -> FloatArray:
    """Return the staircase of what is allowed, from the highest level to the lowest."""
    assert limit is not None
    points: list[tuple[float, float]] = []
    rows = sorted((row for row in limit.allowed if row.severity == "limit"), key=lambda row: -row.level)
    above = y_high
    for index, row in enumerate(rows):
        points += [(row.seconds, above), (row.seconds, row.level)]
        above = row.level
        right = rows[index + 1].seconds if index + 1 < len(rows) else x_high
        points.append((right, row.level))
    return np.asarray(points or [(0.0, y_high), (0.0, y_high)], dtype=np.float64)


def _band_area(points: tuple[tuple[float, float], ...], right: float, top: float) -> FloatArray:
    """Return a band's corners: its lower edge, level to the chart's right end, up and back."""
    edge = sorted(((seconds, level) for level, seconds in points), key=lambda p: (p[0], -p[1]))
    corners = [(edge[0][0], top), *edge]
    if edge[-1][0] < right:
        corners.append((right, edge[-1][1]))
    corners.append((right, top))
    return np.asarray(corners, dtype=np.float64)


def _time_points(
    limit: Limit | None, start: Start, events: tuple[Event, ...], x_high: float
) -> tuple[PlanePoint, ...]:
    """Return the levels that were passed too long, the gravest named, and the point that decides the band."""
    out: list[PlanePoint] = []
    if limit is None:
        return ()
    for event in events:
        if event.limit_id != limit.id:
            continue
        for level in event.levels:
            if level.result in ("exceeded", "possible") and level.duration_s <= x_high:
                allowed = "none allowed" if level.allowed_s == 0 else f"{plain(level.allowed_s)} s allowed"
                label = ""
                if event.level == level.level:
                    label = (
                        f"{duration_text(level.duration_s)} above {plain(level.level, event.unit)}, {allowed}"
                    )
                point = PlanePoint(level.duration_s, level.level, label, "limit")
                if point not in out:
                    out.append(point)
    return tuple(out)


def speed_plane(
    assessment: Assessment, start: Start, span: tuple[float, float], usual: UsualSpeeds | None = None
) -> Plane | None:
    """Return temperature against gas generator speed through one start that lit, over the engine's usual band."""
    itt = assessment.recording.get("itt", start.engine)
    ng = assessment.recording.get("ng", start.engine)
    if start.light_off_s is None or itt is None or ng is None or ng.time_s.size < 2 or ng.unit != "%":
        return None
    begin, end = span
    trace = trace_of(assessment, itt, begin, end)
    times, values = trace.time_s, trace.values
    inside = (times >= max(begin, float(ng.time_s[0]))) & (times <= min(end, float(ng.time_s[-1])))
    if inside.sum() < 2:
        return None
    speeds = np.interp(times[inside], ng.time_s, ng.values)
    points = np.column_stack([speeds, values[inside]])
    levels = tuple(
        LevelLine(line.level, line.text_apart, 0.0, 0.0, line.severity)
        for line in plan_lane(assessment, "itt", start.engine).lines_between(begin, end)
        if line.when == "start"
    )
    highest = max([float(values[inside].max()), *(level.level for level in levels)])
    named = []
    for time_s, words in (
        (start.fuel_on_s, "fuel"),
        (start.peak_itt_s, "peak"),
        (start.fuel_off_s, "fuel cut"),
        (start.idle_s, "idle"),
    ):
        if time_s is not None and begin <= time_s <= end:
            x = float(np.interp(time_s, ng.time_s, ng.values))
            y = float(np.interp(time_s, itt.time_s, itt.values))
            named.append(PlanePoint(x, y, words))
    fastest = max(float(points[:, 0].max()), 10.0)
    lines: tuple[PlaneLine, ...] = (PlaneLine(points, s.TEMPERATURE),)
    areas: tuple[Area, ...] = ()
    said = ["dashed: levels of the start limit"] if levels else []
    if usual is not None and usual.enough:
        areas, edges = _usual_band(usual)
        lines = (*edges, *lines)
        highest, fastest = max(highest, float(usual.high_c.max())), max(fastest, float(usual.ng_pct.max()))
        said.append("tint: usual, no limit")
    return Plane(
        "Temperature against gas generator speed",
        "; ".join(said),
        "Ng, %",
        f"ITT, {unit_words(itt.unit)}",
        (0.0, rounded_range(0.0, fastest)[1]),
        rounded_range(0.0, highest * 1.03),
        lines,
        areas=areas,
        points=tuple(named),
        levels=levels,
    )


def _usual_band(usual: UsualSpeeds) -> tuple[tuple[Area, ...], tuple[PlaneLine, ...]]:
    """Return the usual band as tints with their edges and its middle dashed; a speed that too few have breaks it."""
    areas: list[Area] = []
    lines: list[PlaneLine] = []
    gaps = np.flatnonzero(np.diff(usual.ng_pct) > 1.5) + 1
    for part in np.split(np.arange(usual.ng_pct.size), gaps):
        low, middle, high = (
            np.column_stack([usual.ng_pct[part], edge[part]])
            for edge in (usual.low_c, usual.middle_c, usual.high_c)
        )
        areas.append(Area(np.vstack([high, low[::-1]]), "", "note"))
        lines += [PlaneLine(edge, s.MUTED, width=0.12) for edge in (low, high)]
        lines.append(PlaneLine(middle, s.MUTED, dashed=True, width=0.15))
    return tuple(areas), tuple(lines)
