"""Two pictures of one start as values: temperature against speed, and time above each temperature."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from debrief.analysis.model import Assessment, Start
from debrief.profile.model import Limit
from debrief.recording.model import FloatArray
from debrief.session.drawing.envelope import gap_breaks
from debrief.session.drawing.least_span import least_span, widened
from debrief.session.limits.instrument_readings import nice_range
from debrief.session.texts.definitions import level_name
from debrief.session.texts.plain_names import itt_unit
from debrief.words.numbers import number, plain


@dataclass(frozen=True)
class PointMark:
    """A named point of a chart."""

    x: float
    y: float
    word: str
    exceeded: bool = False


@dataclass(frozen=True, eq=False)
class PlaneChart:
    """ITT against Ng.

    Attributes
    ----------
    x, y : (n,) float array
        Ng and ITT at the ITT samples, in their units; NaN between two stretches that a gap separates.
    x_unit, y_unit : str
        Units.
    x_range, y_range : (float, float)
        Round numbers that hold everything.
    marks : tuple of PointMark
        Fuel, light-off, peak, fuel cut, idle.
    levels : tuple of (float, str)
        Start limits of the profile with their names.
    """

    x: FloatArray
    y: FloatArray
    x_unit: str
    y_unit: str
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    marks: tuple[PointMark, ...]
    levels: tuple[tuple[float, str], ...]


@dataclass(frozen=True, eq=False)
class TimeChart:
    """Seconds above each temperature of one start, beside what the profile allows.

    Attributes
    ----------
    seconds, levels : (n,) float array
        The curve: total seconds above each level.
    allowed : tuple of (float, float)
        (level, seconds) as the profile allows, mildest first; empty without a start limit.
    bands : tuple of (str, tuple of (float, float))
        Name and lower edge, as (seconds, level), of the bands of the manual's chart.
    unit : str
        Of the levels.
    x_range, y_range : (float, float)
        Round numbers that hold what matters, [s] and [unit].
    marks : tuple of PointMark
        The levels of the profile on the curve, with their seconds.
    """

    seconds: FloatArray
    levels: FloatArray
    allowed: tuple[tuple[float, float], ...]
    bands: tuple[tuple[str, tuple[tuple[float, float], ...]], ...]
    unit: str
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    marks: tuple[PointMark, ...]

    @property
    def band_end(self) -> tuple[float, float]:
        """Where the profile's own chart ends, [s] and [unit]: beyond it a point is in no band, it is off the chart."""
        points = [point for _, edge in self.bands for point in edge]
        if not points:
            return self.x_range[1], self.y_range[1]
        return max(seconds for seconds, _ in points), max(level for _, level in points)


def plane_chart(assessment: Assessment, start: Start) -> PlaneChart | None:
    """Return ITT against Ng over a start attempt; None where either was not recorded."""
    itt, ng = assessment.recording.get("itt", start.engine), assessment.recording.get("ng", start.engine)
    if itt is None or ng is None or ng.time_s.size < 2:
        return None
    inside = (itt.time_s >= start.begin_s) & (itt.time_s <= _end_of_interest(start))
    times, y = itt.time_s[inside], itt.values[inside]
    inside_ng = (times >= ng.time_s[0]) & (times <= ng.time_s[-1])
    times, y = times[inside_ng], y[inside_ng]
    if times.size < 2:
        return None
    x = np.interp(times, ng.time_s, ng.values)
    gaps = gap_breaks(ng.time_s, assessment.starts)
    in_gap = np.r_[gaps, False][np.clip(np.searchsorted(ng.time_s, times, side="right") - 1, 0, gaps.size)]
    x = np.where(in_gap, np.nan, x)
    if not np.isfinite(x).any():
        return None
    marks = [
        PointMark(float(np.interp(t, times, np.nan_to_num(x))), float(np.interp(t, times, y)), word)
        for t, word in (
            (start.fuel_on_s, "fuel"),
            (start.light_off_s, "light-off"),
            (start.peak_itt_s, f"peak {number(start.peak_itt_c, 0)}"),
            (start.fuel_off_s, "fuel cut"),
            (start.idle_s, "idle"),
        )
        if t is not None and times[0] <= t <= times[-1]
    ]
    levels = tuple(
        (
            row.level,
            f"{plain(row.level, limit.unit)}: {'never' if row.seconds == 0 else plain(row.seconds) + ' s'}",
        )
        for limit in _start_limits(assessment, itt.unit)
        for row in limit.allowed
        if row.level <= 1.6 * float(y.max())
    )
    highest = max([float(y.max()), *(level for level, _ in levels)])
    if not levels:
        highest = widened(min(0.0, float(y.min())), highest, least_span("itt", itt.unit))[1]
    return PlaneChart(
        x, y, ng.unit, itt.unit,
        nice_range(0.0, float(np.nanmax(x)) * 1.02), nice_range(min(0.0, float(y.min())), highest * 1.05),
        tuple(marks), levels,
    )  # fmt: skip


def time_chart(assessment: Assessment, start: Start) -> TimeChart | None:
    """Return the seconds above each temperature of a start attempt; None where it was not worked out."""
    table = start.time_above
    if table is None or len(table.levels) < 2:
        return None
    limits = _start_limits(assessment, table.unit)
    allowed = tuple((row.level, row.seconds) for limit in limits[:1] for row in limit.allowed)
    bands = tuple(
        (band.name, tuple((seconds, level) for level, seconds in band.points))
        for limit in limits[:1]
        for band in limit.bands
    )
    levels, seconds = np.array(table.levels), np.array(table.total_s)
    marks = []
    passed = {
        found.level
        for event in assessment.events
        if limits and event.limit_id == limits[0].id and event.start_number == start.number
        for found in event.levels
        if event.engine == start.engine and found.result in ("exceeded", "possible")
    }
    for level, _ in allowed:
        measure = start.measures.get(level_name("time_above", level, itt_unit(start)))
        if measure is not None and measure.value:
            marks.append(
                PointMark(
                    measure.value,
                    level,
                    f"{number(measure.value, 1)} s above {plain(level, itt_unit(start))}",
                    level in passed,
                )
            )
    # From a little below the mildest level: down there every start spends long, and it says nothing.
    bottom = min([level for level, _ in allowed], default=float(levels[0]))
    bottom = min(bottom, float(levels[-1])) * 0.85
    edges = [(level, s) for _, edge in bands for s, level in edge]
    top = max([float(levels[-1]), *(level for level, _ in (*allowed, *edges))])
    longest = [s for _, s in (*allowed, *edges)]
    shown = seconds[levels >= bottom]
    wide = max(
        [*longest, min(float(shown.max()) if shown.size else 1.0, 2 * max(longest, default=60.0)), 5.0]
    )
    return TimeChart(
        seconds, levels, allowed, bands, table.unit, (0.0, nice_range(0.0, wide * 1.05)[1]),
        (bottom, nice_range(0.0, top * 1.03)[1]), tuple(marks),
    )  # fmt: skip


def _start_limits(assessment: Assessment, unit: str) -> Sequence[Limit]:
    profile = assessment.profile
    if profile is None:
        return ()
    return [x for x in profile.limits if x.when == "start" and x.channel == "itt" and x.unit == unit]


def _end_of_interest(start: Start) -> float:
    """Return where the picture of a start may end, [s]: idle and a little, or the whole run-down."""
    if start.outcome == "completed" and start.idle_s is not None:
        return min(start.end_s, start.idle_s + 5.0) if start.end_s > start.idle_s else start.idle_s + 5.0
    return start.end_s
