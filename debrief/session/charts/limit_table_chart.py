"""A limit's table of levels and seconds as a chart that is edited by its corners. Pure numbers and a description."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from debrief.analysis.model import TimeAbove
from debrief.profile.model import AllowedRow
from debrief.recording.model import FloatArray
from debrief.session.charts.start_charts import staircase
from debrief.session.charts.still_chart import Axis, Curve, Mark, Pane, StillChart
from debrief.session.drawing.axes import rounded_range
from debrief.words.channels import channel_symbol
from debrief.words.numbers import plain, unit_words
from debrief.words.units import BY_NAME, scale

TITLE = "Allowed in a start"

Point = tuple[float, float]
"""A level, and the seconds that it may be exceeded for."""

LEVEL_STEP, SECONDS_STEP = 5.0, 1.0
"""What a drawn corner is rounded to, and how far a key moves it."""

_EMPTY_C = (500.0, 1200.0)
"""What the axis of temperature shows while there is no level, [degC]: room to draw in, no limit of anything."""
_EMPTY_S = 30.0


def chart_ranges(points: Sequence[Point], unit: str, above: TimeAbove | None) -> tuple[Point, Point]:
    """Return the ranges of seconds and of levels that show all corners with room for more, and the start behind them."""
    levels = [level for level, _ in points]
    if above is not None and above.levels:
        levels.append(max(_levels(above, unit)))
    if not levels:
        low, high = scale(np.array(_EMPTY_C), BY_NAME["degC"], BY_NAME[unit]).tolist()
    else:
        low, high = min(levels), max(levels)
        room = max(0.35 * (high - low), 0.1 * abs(high), 1.0)
        low, high = low - room, high + room
    longest = max([_EMPTY_S / 1.5, *(seconds for _, seconds in points)]) * 1.5
    return rounded_range(0.0, longest, 6), rounded_range(low, high, 6)


def limit_table_chart(
    points: Sequence[Point],
    unit: str,
    above: TimeAbove | None = None,
    *,
    counts: str = "total",
    title: str = TITLE,
    ranges: tuple[Point, Point] | None = None,
) -> StillChart:
    """Return the table as the steps of what is allowed, with the open recording's start behind it.

    Parameters
    ----------
    points : sequence of (level, seconds)
        Rising in level.
    unit : str
        Of the levels: ``degC`` or ``degF``.
    above : TimeAbove, optional
        Of the start to show behind.
    counts : str
        ``total`` or ``longest``: which seconds of the start the limit counts.
    title : str
    ranges : optional
        To hold while a corner is moved; see `chart_ranges`.
    """
    (x_low, x_high), (y_low, y_high) = ranges if ranges is not None else chart_ranges(points, unit, above)
    curves: list[Curve] = []
    if above is not None and above.levels:
        seconds = np.asarray(above.longest_s if counts == "longest" else above.total_s)
        curves.append(Curve(seconds, _levels(above, unit), "temperature", thin=True))
    rows = [AllowedRow(level, seconds) for level, seconds in points]
    if rows:
        curves.append(Curve(*staircase(rows, x_high, y_high), "limit", "dashed", thin=True))
    marks = tuple(
        Mark(seconds, level, "limit", "hollow", corner_words((level, seconds), unit))
        for level, seconds in points
    )
    said = [f"{channel_symbol('itt')} in {unit_words(unit)}"]
    if len(curves) > bool(rows):
        said.append("line: open start")
    if rows:
        said.append("dashed: limit")
    return StillChart(
        title,
        "; ".join(said),
        Axis("seconds above", "s", (x_low, x_high)),
        (Pane(Axis(channel_symbol("itt"), unit, (y_low, y_high)), tuple(curves), marks=marks),),
        words="; ".join(mark.label for mark in marks) or "No level yet.",
    )


def corner_words(point: Point, unit: str) -> str:
    """Return a corner as it stands at its place."""
    level, seconds = point
    return f"{plain(level, unit)}, {'not at any time' if seconds == 0 else plain(seconds) + ' s'}"


def _levels(above: TimeAbove, unit: str) -> FloatArray:
    levels = np.asarray(above.levels)
    return levels if above.unit == unit else scale(levels, BY_NAME[above.unit], BY_NAME[unit])


# --- corners ----------------------------------------------------------------------------------------------------


def with_corner(
    points: Sequence[Point], level: float, seconds: float
) -> tuple[tuple[Point, ...], int] | None:
    """Return the corners with one more where it was drawn, and its place; None where there is no room for it.

    It is rounded, and kept between its neighbours: the seconds fall as the level rises.
    """
    level = _rounded(level, LEVEL_STEP)
    if any(level == known for known, _ in points):
        return None
    index = sum(known < level for known, _ in points)
    seconds_in = _between(
        points[index - 1][1] if index else None, points[index][1] if index < len(points) else None, seconds
    )
    if seconds_in is None:
        return None
    return (*points[:index], (level, seconds_in), *points[index:]), index


def moved_corner(points: Sequence[Point], index: int, level: float, seconds: float) -> tuple[Point, ...]:
    """Return the corners with one moved as far towards a place as its neighbours let it; it never passes them."""
    before, after = (
        points[index - 1] if index else None,
        points[index + 1] if index + 1 < len(points) else None,
    )
    low = before[0] + LEVEL_STEP if before is not None else -np.inf
    high = after[0] - LEVEL_STEP if after is not None else np.inf
    level = _rounded(level, LEVEL_STEP)
    level = points[index][0] if low > high else float(min(max(level, low), high))
    found = _between(before[1] if before else None, after[1] if after else None, seconds)
    moved = (level, points[index][1] if found is None else found)
    return (*points[:index], moved, *points[index + 1 :])


def without_corner(points: Sequence[Point], index: int) -> tuple[Point, ...]:
    """Return the corners without one."""
    return (*points[:index], *points[index + 1 :])


def _rounded(value: float, step: float) -> float:
    return round(value / step) * step


def _between(most: float | None, least: float | None, seconds: float) -> float | None:
    """Return seconds below `most` and above `least`, rounded where there is room; None where there is none."""
    high = np.inf if most is None else most - SECONDS_STEP
    low = 0.0 if least is None else least + SECONDS_STEP
    if low <= high:
        return float(min(max(_rounded(seconds, SECONDS_STEP), low), high))
    bottom = least if least is not None else 0.0
    return (most + bottom) / 2 if most is not None and most > bottom else None


def is_table(points: Sequence[Point]) -> bool:
    """Return whether the corners make a table: levels rise and seconds fall."""
    return all(a[0] < b[0] and a[1] > b[1] >= 0 for a, b in pairwise(points))
