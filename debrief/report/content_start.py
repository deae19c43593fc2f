"""The page of one start: what happened on one time axis, measures beside the profile, time at temperature."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from debrief.analysis.model import Assessment, Event, Start, TimeAbove
from debrief.profile.model import Limit
from debrief.recording.model import FloatArray
from debrief.report import phrases
from debrief.report import shapes as s
from debrief.report.axes import nice_step, rounded_range
from debrief.report.blocks import (
    Area,
    Block,
    Column,
    Dot,
    Heading,
    LaneChart,
    LevelLine,
    Paragraph,
    Plane,
    PlaneLine,
    PlanePoint,
    Row,
    Section,
    SideBySide,
    Table,
    TimeMark,
    Weight,
)
from debrief.report.content_flight import evidence_blocks
from debrief.report.measures import MeasureRow, abort_rows, start_rows
from debrief.report.options import Reader
from debrief.report.traces import bars_of, event_spans, lane_of, limit_levels
from debrief.session.applies import windows_of
from debrief.session.wording import (
    SEVERITY_WORDS,
    clock_text,
    duration_text,
    plain,
    unit_words,
    value_text,
)

CHART_MM = 96.0
_RUNNING_SHARE = 0.2  # a running limit is drawn when it applies in at least this part of the chart


def start_section(assessment: Assessment, start: Start, reader: Reader) -> Section:
    """Return the section of one start."""
    events = events_of(assessment, start)
    engine = f", engine {start.engine}" if len({x.engine for x in assessment.starts}) > 1 else ""
    headline = phrases.start_headline(start)
    blocks: list[Block] = [Paragraph(f"{headline[0].upper()}{headline[1:]}.")]
    if start.inferred:
        names = ", ".join(phrases.FIELD_WORDS.get(name, name) for name in start.inferred)
        blocks.append(Paragraph(f"Inferred, not recorded directly: {names}.", "small"))
    blocks += [Paragraph(note, "small") for note in start.notes]
    blocks.append(start_chart(assessment, start, events))
    if events:
        blocks += [Heading("Found in this start"), found_table(events)]
    planes = [
        x for x in (time_at_temperature(assessment, start, events), speed_plane(assessment, start)) if x
    ]
    if len(planes) == 2:
        blocks.append(SideBySide((planes[0],), (planes[1],)))
    else:
        blocks += planes
    factors, abort = _factors(start), _abort(assessment, start)
    if factors and abort:
        blocks.append(SideBySide(tuple(factors), tuple(abort)))
    else:
        blocks += factors or abort
    blocks += _measures(assessment, start, reader)
    if reader == "technician":
        blocks += _evidence(assessment, events)
    kind = "" if start.kind == "ground" else f" ({phrases.KIND_WORDS.get(start.kind, start.kind).lower()})"
    return Section(f"Start {start.number}{engine}: {phrases.outcome_words(start)}{kind}", tuple(blocks))


def events_of(assessment: Assessment, start: Start) -> tuple[Event, ...]:
    """Return the events of one start."""
    return tuple(
        event
        for event in assessment.events
        if event.start_number == start.number and event.engine == start.engine
    )


def found_table(events: tuple[Event, ...]) -> Table:
    """Return the short list of what was found in one start."""
    rows = tuple(
        Row((clock_text(event.start_s), f"{SEVERITY_WORDS[event.severity]}: {event.message}"), event.severity)
        for event in events
    )
    return Table((Column("at", 0.1), Column("what", 0.9)), rows, marked=True)


# --- the chart ----------------------------------------------------------------------------------------


def chart_range(assessment: Assessment, start: Start) -> tuple[float, float]:
    """Return the stretch that the start's chart shows: all its moments with a little around them."""
    moments = [start.starter_off_s, start.fuel_off_s, start.idle_s, start.peak_itt_s, start.light_off_s]
    moments += [event.end_s for event in events_of(assessment, start)]
    begin = max(0.0, start.begin_s - 4.0)
    last = max([start.begin_s + 10.0, *(m for m in moments if m is not None)])
    end = last + max(4.0, 0.08 * (last - begin))
    following = [
        x.begin_s for x in assessment.starts if x.engine == start.engine and x.begin_s > start.begin_s
    ]
    end = min(end, assessment.recording.duration_s, *(following or [end]))
    return begin, max(end, begin + 1.0)


def start_chart(assessment: Assessment, start: Start, events: tuple[Event, ...]) -> LaneChart:
    """Return the annotated chart of one start."""
    begin, end = chart_range(assessment, start)
    engine = start.engine
    levels = {
        name: _levels(assessment, name, engine, begin, end) for name in ("itt", "ng", "torque", "bus_volts")
    }
    profile = assessment.profile
    if profile is not None:
        rules = profile.start
        fuel = start.fuel_on_s if start.fuel_on_s is not None else end
        if rules.min_fuel_ng_pct is not None:
            levels["ng"] += (
                LevelLine(
                    rules.min_fuel_ng_pct, f"{plain(rules.min_fuel_ng_pct)}: fuel", begin, fuel, "caution"
                ),
            )
        if rules.idle_ng_pct is not None:
            label = f"{plain(rules.idle_ng_pct)}: idle"
            levels["ng"] += (LevelLine(rules.idle_ng_pct, label, begin, end, "caution"),)
        if rules.min_bus_volts is not None and start.starter_on_s is not None:
            off = start.starter_off_s if start.starter_off_s is not None else end
            label = f"{plain(rules.min_bus_volts)}: lowest"
            levels["bus_volts"] += (
                LevelLine(rules.min_bus_volts, label, start.starter_on_s + 1.0, off, "caution"),
            )
    peak: tuple[Dot, ...] = ()
    if start.peak_itt_s is not None and start.peak_itt_c is not None:
        peak = (Dot(start.peak_itt_s, start.peak_itt_c),)
    names = [("itt", 2.1), ("ng", 1.3)]
    if assessment.recording.get("torque", engine) is not None:
        names.append(("torque", 0.8))
    names.append(("bus_volts", 0.9))
    lanes = tuple(
        lane_of(
            assessment,
            name,
            engine,
            begin,
            end,
            levels=levels[name],
            spans=event_spans(events, name, begin, end),
            dots=peak if name == "itt" else (),
            share=share,
            from_zero=name in ("itt", "ng", "torque"),
        )
        for name, share in names
    )
    return LaneChart(
        begin,
        end,
        lanes,
        CHART_MM,
        bars=bars_of(assessment, engine, begin, end),
        marks=_marks(start, events),
    )


def _marks(start: Start, events: tuple[Event, ...]) -> tuple[TimeMark, ...]:
    """Return the moments of a start with their names, in order of time."""
    hot: Weight | None = next(
        (e.severity for e in events if e.channel == "itt" and e.severity in ("limit", "possible")), None
    )
    found: list[TimeMark] = []

    def add(time_s: float | None, words: str, field: str, weight: Weight | None = None) -> None:
        if time_s is not None:
            inferred = " (inferred)" if field in start.inferred else ""
            found.append(TimeMark(time_s, f"{words} {clock_text(time_s)}{inferred}", weight))

    add(start.starter_on_s, "starter on", "starter_on_s")
    add(start.starter_off_s, "starter off", "starter_off_s")
    if start.fuel_periods:
        several = len(start.fuel_periods) > 1
        for index, period in enumerate(start.fuel_periods, start=1):
            which = f" {index}" if several else ""
            source = "fuel_on_s"
            add(period.on_s, f"fuel{which}", source)
            add(period.light_off_s, f"light-off{which}", "light_off_s")
            add(period.off_s, f"fuel cut{which}", "fuel_off_s")
    else:
        add(start.fuel_on_s, "fuel", "fuel_on_s")
        add(start.light_off_s, "light-off", "light_off_s")
        add(start.fuel_off_s, "fuel cut", "fuel_off_s")
    if start.peak_itt_c is not None:
        add(start.peak_itt_s, f"peak {value_text(start.peak_itt_c, 'degC')}", "peak_itt_c", hot)
    add(start.idle_s, "idle", "idle_s")
    return tuple(sorted(found, key=lambda mark: mark.time_s))


def _levels(
    assessment: Assessment, channel: str, engine: int, begin_s: float, end_s: float
) -> tuple[LevelLine, ...]:
    """Return the levels of the limits that apply in a stretch, each where it applies."""
    profile = assessment.profile
    recorded = assessment.recording.get(channel, engine)
    if profile is None or recorded is None:
        return ()
    out: list[LevelLine] = []
    for limit in profile.limits:
        if limit.channel != channel or limit.unit != recorded.unit:
            continue
        for a, b in windows_of(assessment, limit, engine):
            a, b = max(a, begin_s), min(b, end_s)
            if b <= a or (limit.when != "start" and b - a < _RUNNING_SHARE * (end_s - begin_s)):
                continue
            out += limit_levels(limit, a, b, words="" if limit.when == "start" else " run")
    return tuple(out)


# --- planes -------------------------------------------------------------------------------------------


def start_limit(assessment: Assessment, above: TimeAbove) -> Limit | None:
    """Return the start limit that the time-at-level curve is held against."""
    if assessment.profile is None:
        return None
    for limit in assessment.profile.limits:
        if limit.when == "start" and limit.channel == above.channel and not limit.below:
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
        said.append("tints: bands of the profile's chart")
    return Plane(
        "Time above each temperature",
        "; ".join(said),
        "seconds above",
        f"{above.channel.upper() if above.channel == 'itt' else above.channel}, {unit_words(above.unit)}",
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
                    label = f"{duration_text(level.duration_s)} above {plain(level.level)}, {allowed}"
                point = PlanePoint(level.duration_s, level.level, label, "limit")
                if point not in out:
                    out.append(point)
    return tuple(out)


def speed_plane(assessment: Assessment, start: Start) -> Plane | None:
    """Return temperature against gas generator speed through one start that lit."""
    itt = assessment.recording.get("itt", start.engine)
    ng = assessment.recording.get("ng", start.engine)
    if start.light_off_s is None or itt is None or ng is None or ng.time_s.size < 2 or ng.unit != "%":
        return None
    begin, end = chart_range(assessment, start)
    lane = lane_of(assessment, "itt", start.engine, begin, end)
    times, values = lane.trace.time_s, lane.trace.values
    inside = (times >= max(begin, float(ng.time_s[0]))) & (times <= min(end, float(ng.time_s[-1])))
    if inside.sum() < 2:
        return None
    speeds = np.interp(times[inside], ng.time_s, ng.values)
    points = np.column_stack([speeds, values[inside]])
    levels = tuple(
        LevelLine(level.level, level.label, 0.0, 0.0, level.severity)
        for level in _levels(assessment, "itt", start.engine, begin, end)
        if " run" not in level.label
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
    return Plane(
        "Temperature against gas generator speed",
        "dashed: levels of the start limit" if levels else "",
        "Ng, %",
        f"ITT, {unit_words(itt.unit)}",
        (0.0, rounded_range(0.0, max(float(points[:, 0].max()), 10.0))[1]),
        rounded_range(0.0, highest * 1.03),
        (PlaneLine(points, s.TEMPERATURE),),
        points=tuple(named),
        levels=levels,
    )


# --- tables -------------------------------------------------------------------------------------------


def _factors(start: Start) -> list[Block]:
    if not start.factors:
        return []
    rows = tuple(
        Row((phrases.factor_title(factor), phrases.factor_value(factor), phrases.factor_reference(factor)))
        for factor in start.factors
    )
    columns = (Column("", 0.5), Column("measured", 0.25), Column("reference", 0.25))
    return [
        Heading("Contributing factors"),
        Paragraph("Present and outside the reference; not proven to be the cause.", "muted"),
        Table(columns, rows),
    ]


def _abort(assessment: Assessment, start: Start) -> list[Block]:
    rows = abort_rows(start, assessment.profile)
    if not rows:
        return []
    columns = (Column("", 0.42), Column("measured", 0.36), Column("profile", 0.22))
    return [
        Heading("How the attempt was ended"),
        Table(columns, tuple(Row((row.title, row.value, row.profile or "—")) for row in rows)),
    ]


def _measures(assessment: Assessment, start: Start, reader: Reader) -> list[Block]:
    rows = start_rows(start, assessment.profile)
    known = [row for row in rows if row.known]
    blocks: list[Block] = []
    if known:
        half = -(-len(known) // 2)
        blocks += [
            Heading("Measured"),
            SideBySide((_measure_table(known[:half]),), (_measure_table(known[half:]),)),
        ]
    unknown = [row for row in rows if not row.known]
    if unknown and reader == "technician":
        said = "; ".join(f"{row.title}: {row.value.removeprefix('not known: ')}" for row in unknown)
        blocks += [Heading("Not known"), Paragraph(f"{said}.", "small")]
    return blocks


def _measure_table(rows: Sequence[MeasureRow]) -> Table:
    columns = (Column("", 0.36), Column("measured", 0.38), Column("profile", 0.26))
    return Table(columns, tuple(Row((row.title, row.value, row.profile or "—")) for row in rows), dense=True)


def _evidence(assessment: Assessment, events: tuple[Event, ...]) -> list[Block]:
    """Return levels, other values at the peak and raw samples of what was exceeded in a start."""
    out: list[Block] = []
    for event in events:
        if event.severity in ("limit", "possible") and event.levels:
            out += evidence_blocks(assessment, event)
    return out
