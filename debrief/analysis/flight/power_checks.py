"""The engine against the power check charts of its profile, in steady windows."""

from __future__ import annotations

import itertools
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace

from debrief.analysis.flight_model import PowerCheck, SteadyWindow
from debrief.profile.model import PowerChart

NO_POINTS = "the chart has no points around it"
NOT_RECORDED = "not recorded"
_WHERE = (
    ("torque", "torque"),
    ("pressure_altitude_ft", "pressure altitude"),
    ("oat_c", "outside air temperature"),
)
"""The fields of a window that a chart is read at, in words."""


def power_checks(windows: Sequence[SteadyWindow], charts: Sequence[PowerChart]) -> list[PowerCheck]:
    """Return each steady window against each chart."""
    return [power_check(window, chart) for window in windows for chart in charts]


def power_check(window: SteadyWindow, chart: PowerChart) -> PowerCheck:
    """Return one window against one chart: what was measured, what the chart allows, and the margin, or why there is none."""
    measured = window.itt if chart.channel == "itt" else window.ng
    found = PowerCheck(
        window.engine,
        chart.name,
        chart.channel,
        window.start_s,
        window.end_s,
        window.torque,
        window.pressure_altitude_ft,
        window.oat_c,
        measured,
        None,
        None,
        _unknown(window, chart) or _not_for(window, chart),
    )
    if found.why is not None or measured is None:
        return found
    allowed, why = read_chart(
        chart, (found.torque or 0.0, found.pressure_altitude_ft or 0.0, found.oat_c or 0.0)
    )
    return replace(found, allowed=allowed, margin=None if allowed is None else allowed - measured, why=why)


def _unknown(window: SteadyWindow, chart: PowerChart) -> str | None:
    """Return what of a window is not known that a chart needs, and why."""
    for name, words in (*_WHERE, (chart.channel, "")):
        if getattr(window, name) is None:
            told = window.why.get(name, NOT_RECORDED)
            return f"{words}: {told}" if words else told
    return None


def _not_for(window: SteadyWindow, chart: PowerChart) -> str | None:
    """Return why a chart that is for bleed or separator on or off is not for a window."""
    for words, wanted, was in (
        ("bleed", chart.bleed, window.bleed),
        ("separator", chart.separator, window.separator),
    ):
        if wanted is not None and was != (wanted == "on"):
            is_for = f"the chart is for {words} {wanted}"
            return f"{words} was not recorded, and {is_for}" if was is None else is_for
    return None


def read_chart(chart: PowerChart, at: tuple[float, float, float]) -> tuple[float | None, str | None]:
    """Return the highest value that a chart allows at a torque [%], pressure altitude [ft] and OAT [degC], or why it says none.

    Notes
    -----
    Along straight lines between the points of the field of the grid around it, in all three directions. Outside of the
    grid, and where a point that counts is not there, nothing is read: a chart is never extrapolated.
    """
    outside = [
        words
        for (_, words), values, value in zip(_WHERE, chart.axes, at, strict=True)
        if not values[0] <= value <= values[-1]
    ]
    if outside:
        return None, f"outside the chart: {' and '.join(outside)}"
    points = {(p.torque, p.pressure_altitude_ft, p.oat_c): p.highest for p in chart.points}
    sides = [_beside(values, value) for values, value in zip(chart.axes, at, strict=True)]
    total = 0.0
    for corner in itertools.product(*sides):
        weight = corner[0][1] * corner[1][1] * corner[2][1]
        if weight == 0.0:
            continue
        highest = points.get((corner[0][0], corner[1][0], corner[2][0]))
        if highest is None:
            return None, NO_POINTS
        total += weight * highest
    return total, None


def _beside(values: Sequence[float], value: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the neighbours of a value on an axis, each with the weight that it has there."""
    k = min(max(bisect_right(values, value) - 1, 0), len(values) - 2)
    low, high = values[k], values[k + 1]
    part = (value - low) / (high - low)
    return (low, 1.0 - part), (high, part)
