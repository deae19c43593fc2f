"""Two charts of one start: temperature against speed, and time above each temperature."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

import numpy as np

from debrief.analysis.model import Assessment, LevelResult, Start
from debrief.profile.model import AllowedRow, Limit
from debrief.recording.model import Channel, FloatArray
from debrief.session.charts.still_chart import (
    Area,
    Axis,
    Curve,
    Level,
    Mark,
    Pane,
    StillChart,
    joined,
    nothing,
)
from debrief.session.drawing.axes import rounded_range
from debrief.session.drawing.envelope import Envelope, gap_breaks
from debrief.session.drawing.least_span import least_span, widened
from debrief.session.lanes.lane_plan import plan_lane
from debrief.session.limits.cursor_measure import interpolated
from debrief.session.texts.definitions import level_name
from debrief.words.channels import base_name
from debrief.words.numbers import duration_text, number, plain, unit_words

PLANE = "Temperature against gas generator speed"
TIME_ABOVE = "Time above each temperature"
_COLUMNS = 1500
"""Of the envelope that is drawn of a long start: no extreme is left out."""


class UsualSpeeds(Protocol):
    """What is usual of ITT against Ng for the engine of one start, in the units to show."""

    @property
    def words(self) -> str:
        """How it was made, or why there is none."""

    @property
    def enough(self) -> bool:
        """Whether there is a band to draw."""

    @property
    def ng_pct(self) -> FloatArray:
        """Speeds, rising, [%]."""

    @property
    def low_c(self) -> FloatArray:
        """Lower edge there, in the unit of the chart."""

    @property
    def middle_c(self) -> FloatArray:
        """The median there."""

    @property
    def high_c(self) -> FloatArray:
        """Upper edge there."""


def plane_chart(assessment: Assessment, start: Start, usual: UsualSpeeds | None = None) -> StillChart:
    """Return ITT against Ng over a start attempt, over what is usual; says so where either was not recorded."""
    names = assessment.names(start.engine)
    itt, ng = assessment.recording.get("itt", start.engine), assessment.recording.get("ng", start.engine)
    curve = _speed_curve(assessment, start, itt, ng) if itt is not None and ng is not None else None
    if itt is None or ng is None or curve is None:
        return nothing(PLANE, f"{names.itt} or Ng is not recorded in this start.")
    marks = tuple(_moments(assessment, start, itt, ng))
    highest = float(np.nanmax(curve.y))
    lines = plan_lane(assessment, "itt", start.engine).lines_between(start.begin_s, _end_of_interest(start))
    levels = tuple(
        Level(line.level, line.text_apart, line.severity)
        for line in lines
        if line.when == "start" and line.level <= 1.6 * highest
    )
    low, high = min(0.0, float(np.nanmin(curve.y))), max([highest, *(one.value for one in levels)])
    if not levels:
        high = widened(low, high, least_span("itt", itt.unit))[1]
    fastest = float(np.nanmax(curve.x)) * 1.02
    said = ["dashed: allowed in a start"] if levels else []
    areas: tuple[Area, ...] = ()
    curves: tuple[Curve, ...] = (curve,)
    if usual is not None and usual.enough and itt.unit in ("degC", "degF") and ng.unit == "%":
        areas, edges = _usual_band(usual)
        curves = (*edges, curve)
        high, fastest = max(high, float(usual.high_c.max())), max(fastest, float(usual.ng_pct.max()))
        said.append("tint: normal range, no limit")
    words = [mark.label for mark in marks] + ([usual.words] if usual is not None else [])
    return StillChart(
        PLANE,
        "; ".join([f"{names.itt} in {unit_words(itt.unit)}", *said]),
        Axis("Ng", ng.unit, (0.0, rounded_range(0.0, max(fastest, 1.0), 6)[1])),
        (Pane(Axis(names.itt, itt.unit, rounded_range(low, high * 1.03, 6)), curves, areas, levels, marks),),
        words=", ".join(words),
    )


def _speed_curve(assessment: Assessment, start: Start, itt: Channel, ng: Channel) -> Curve | None:
    """Return ITT against Ng at the ITT samples, broken where a gap of either lies between two."""
    if ng.time_s.size < 2:
        return None
    begin, end = max(start.begin_s, float(ng.time_s[0])), min(_end_of_interest(start), float(ng.time_s[-1]))
    inside = (itt.time_s >= begin) & (itt.time_s <= end)
    times, values = itt.time_s[inside], itt.values[inside]
    if times.size < 2:
        return None
    drawn = Envelope(times, values, gap_breaks(times, assessment.starts)).view(begin, end, _COLUMNS)
    gaps = np.r_[gap_breaks(ng.time_s, assessment.starts), False]
    in_gap = gaps[np.searchsorted(ng.time_s, drawn.time_s, side="right") - 1]
    speeds = np.where(in_gap, np.nan, np.interp(drawn.time_s, ng.time_s, ng.values))
    if not (np.isfinite(speeds) & np.isfinite(drawn.values)).any():
        return None
    return Curve(*joined(drawn, speeds, float(np.nanmax(speeds))), "temperature")


def _moments(assessment: Assessment, start: Start, itt: Channel, ng: Channel) -> list[Mark]:
    """Return the named instants of the start that lie on the curve."""
    breaks = [gap_breaks(channel.time_s, assessment.starts) for channel in (ng, itt)]
    out = []
    for time_s, words in (
        (start.fuel_on_s, "fuel"),
        (start.light_off_s, "light-off"),
        (start.peak_itt_s, f"peak {number(start.peak_itt_c, 0)}"),
        (start.fuel_off_s, "fuel cut-off"),
        (start.idle_s, "idle"),
    ):
        if time_s is None or not start.begin_s <= time_s <= _end_of_interest(start):
            continue
        x, y = (interpolated(one, gap, time_s) for one, gap in zip((ng, itt), breaks, strict=True))
        if x is not None and y is not None:
            out.append(Mark(x, y, "temperature", "dot", words))
    return out


def _usual_band(usual: UsualSpeeds) -> tuple[tuple[Area, ...], tuple[Curve, ...]]:
    """Return the normal range as tints with its edges and its middle: it shows without colour as well.

    A speed that too few starts have breaks it.
    """
    areas: list[Area] = []
    curves: list[Curve] = []
    for part in np.split(np.arange(usual.ng_pct.size), np.flatnonzero(np.diff(usual.ng_pct) > 1.5) + 1):
        x, low, high = usual.ng_pct[part], usual.low_c[part], usual.high_c[part]
        areas.append(Area(np.column_stack([np.r_[x, x[::-1]], np.r_[high, low[::-1]]]), "selection"))
        curves += [Curve(x, edge, "muted", thin=True) for edge in (low, high)]
        curves.append(Curve(x, usual.middle_c[part], "muted", "dotted", thin=True))
    return tuple(areas), tuple(curves)


def time_chart(assessment: Assessment, start: Start) -> StillChart:
    """Return the seconds above each temperature of a start, what the profile allows and its bands.

    Notes
    -----
    The seconds are those that the limit counts: in total, or of the longest run. Beyond the end of the profile's own
    chart a point is in no band.
    """
    above = start.time_above
    if above is None or len(above.levels) < 2:
        return nothing(
            TIME_ABOVE, f"{assessment.names(start.engine).itt} never rose in this start, or was not recorded."
        )
    limit = next(iter(_start_limits(assessment, above.unit, base_name(above.channel))), None)
    longest = limit is not None and limit.count == "longest"
    levels, seconds = np.asarray(above.levels), np.asarray(above.longest_s if longest else above.total_s)
    rows = limit.allowed if limit is not None else ()
    bands = limit.bands if limit is not None else ()
    edges = [(s, level) for band in bands for level, s in band.points]
    marks = _passed_levels(assessment, start, limit, (levels, seconds)) if limit is not None else []
    # From a little below the mildest level: down there every start spends long, and it says nothing.
    named = [*(row.level for row in rows), *(level for _, level in edges), float(levels[-1])]
    low, high = min(named), max(named)
    room = least_span(above.channel, above.unit)
    low = rounded_range(low - max(0.35 * (high - low), room / 2), high)[0] if rows else 0.6 * high
    high = rounded_range(low, high + max(0.08 * (high - low), room / 20), 6)[1]
    chart_end = max([s for s, _ in edges], default=0.0)
    allowed = max([row.seconds for row in rows], default=0.0)
    passed = [mark.x for mark in marks if mark.x <= 3 * max(allowed, chart_end)]
    wide = max([5.0, chart_end, allowed * 1.25, *(1.05 * x for x in passed)])
    if not rows and (levels >= low).any():
        wide = max(10.0, float(seconds[levels >= low].max()))
    top = max([level for _, level in edges], default=high)
    areas = tuple(
        Area(_band_corners(band.points, chart_end, top), "tint_limit" if index else "tint_caution",
             f"band {band.name}", "limit" if index else "caution")
        for index, band in enumerate(bands)
    )  # fmt: skip
    x_range = (0.0, rounded_range(0.0, wide, 6)[1])
    curves = (
        [Curve(*staircase(limit.allowed, x_range[1], high), "limit", "dashed", thin=True)]
        if limit is not None
        else []
    )
    curves.append(Curve(seconds, levels, "temperature"))
    said = [f"line: {'longest' if longest else 'total'} seconds above"]
    said.append("dashed: allowed" if rows else "the profile has no start limit")
    said += ["tints: bands"] * bool(bands)
    said += ["diamond: too long"] * any(mark.shape == "diamond" for mark in marks)
    symbol = assessment.names(start.engine).symbol(above.channel)
    pane = Pane(Axis(symbol, above.unit, (low, high)), tuple(curves), areas, marks=tuple(marks))
    return StillChart(
        TIME_ABOVE,
        "; ".join([f"{symbol} in {unit_words(above.unit)}", *said]),
        Axis("seconds above", "s", x_range),
        (pane,),
        words=", ".join(mark.label for mark in marks),
    )


def _passed_levels(
    assessment: Assessment, start: Start, limit: Limit, curve: tuple[FloatArray, FloatArray]
) -> list[Mark]:
    """Return the profile's levels on the curve, each with its seconds; what was too long has another sign."""
    found: dict[float, LevelResult] = {
        one.level: one
        for event in assessment.events
        if event.limit_id == limit.id and (event.engine, event.start_number) == (start.engine, start.number)
        for one in event.levels
    }
    out = []
    for row in limit.allowed:
        result = found.get(row.level)
        measure = start.measures.get(level_name("time_above", row.level, limit.unit))
        if result is not None:
            seconds = result.duration_s
        elif measure is not None and limit.count == "total":
            seconds = measure.value or 0.0
        else:
            seconds = float(np.interp(row.level, *curve, right=0.0))
        if not seconds > 0:
            continue
        label = f"{duration_text(seconds)} above {plain(row.level, limit.unit)}"
        if result is not None and result.result in ("exceeded", "possible"):
            allowed = f", {'none' if row.seconds == 0 else plain(row.seconds) + ' s'} allowed"
            out.append(Mark(seconds, row.level, "limit", "diamond", label + allowed))
        else:
            out.append(Mark(seconds, row.level, "ink", "dot", label))
    return out


def staircase(allowed: Sequence[AllowedRow], x_high: float, y_high: float) -> tuple[FloatArray, FloatArray]:
    """Return the steps of what is allowed, from the mildest level up to `y_high`: right of them is more."""
    corners = [(x_high, allowed[0].level)] if allowed else []
    for index, row in enumerate(allowed):
        upper = allowed[index + 1].level if index + 1 < len(allowed) else y_high
        corners += [(row.seconds, row.level), (row.seconds, upper)]
    points = np.array(corners).reshape(-1, 2)
    return points[:, 0], points[:, 1]


def _band_corners(points: Sequence[tuple[float, float]], right: float, top: float) -> FloatArray:
    """Return a band's corners: its lower edge, level to the chart's right end, up and back."""
    edge = sorted(((seconds, level) for level, seconds in points), key=lambda p: (p[0], -p[1]))
    corners = [(edge[0][0], top), *edge, (right, edge[-1][1]), (right, top)]
    return np.array(corners)


def _start_limits(assessment: Assessment, unit: str, channel: str = "itt") -> Sequence[Limit]:
    profile = assessment.profile
    if profile is None:
        return ()
    return [
        one
        for one in profile.limits
        if one.when == "start" and one.channel == channel and one.unit == unit and not one.below
    ]


def _end_of_interest(start: Start) -> float:
    """Return where the picture of a start may end, [s]: idle and a little, or the whole run-down."""
    if start.outcome == "completed" and start.idle_s is not None:
        return min(start.end_s, start.idle_s + 5.0) if start.end_s > start.idle_s else start.idle_s + 5.0
    return start.end_s
