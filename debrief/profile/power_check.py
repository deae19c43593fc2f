"""The power check charts of a profile: points of the manual's chart on a grid, checked and in the channels' own units."""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from typing import Literal

from debrief.profile.fields import Table
from debrief.profile.limits import References
from debrief.profile.model import PowerChart, PowerPoint
from debrief.profile.units import Scale
from debrief.words.channels import CANONICAL

POWER_CHECK_KEYS = ("name", "reference", "bleed", "separator", "torque_unit", "unit", "points")
WHERE = ("torque", "pressure_altitude_ft", "oat_c")
"""The keys of a point that say where it is."""
HIGHEST: tuple[Literal["itt"], Literal["ng"]] = ("itt", "ng")
"""The keys of a point that say the highest value there: one of them, the same in all points of a chart."""
SWITCHED = ("on", "off")
_ABSOLUTE_ZERO_C = -273.15


def read_power_checks(top: Table, references: References) -> tuple[PowerChart, ...]:
    """Return the power check charts in the file's order, in canonical units."""
    if isinstance(top.raw("power_check"), Mapping):
        top.refuse(
            "power_check", "is one table: write [[power_check]] with two brackets above each power check."
        )
    charts: list[PowerChart] = []
    for table in top.tables("power_check", POWER_CHECK_KEYS):
        chart = _read_chart(table, references)
        if any(chart.name == other.name for other in charts):
            table.refuse("name", f'"{chart.name}" is used already by another power check.')
        charts.append(chart)
    return tuple(charts)


def _read_chart(table: Table, references: References) -> PowerChart:
    table.need("name", "points")
    rows = table.tables("points", (*WHERE, *HIGHEST))
    channel = _channel_of(table, rows)
    torque_scale = references.scale(table, "torque", "torque_unit") if "torque_unit" in table else float
    scale = references.scale(table, channel) if "unit" in table else float
    points: list[PowerPoint] = []
    taken: dict[tuple[float, ...], int] = {}
    for number, row in enumerate(rows, start=1):
        point = _read_point(row, channel, torque_scale, scale)
        place = (point.torque, point.pressure_altitude_ft, point.oat_c)
        if place in taken:
            row.refuse(None, f"is at the same torque, altitude and OAT as point {taken[place]}.")
        taken[place] = number
        points.append(point)
    bleed, separator = (table.choice(key, SWITCHED) for key in ("bleed", "separator"))
    chart = PowerChart(
        table.needed_text("name"),
        channel,
        CANONICAL[channel],
        tuple(points),
        table.text("reference"),
        bleed,  # type: ignore[arg-type]
        separator,  # type: ignore[arg-type]
    )
    _check_grid(table, chart)
    return chart


def _channel_of(table: Table, rows: Sequence[Table]) -> Literal["itt", "ng"]:
    """Return what all points give the highest value of."""
    found = None
    for row in rows:
        given = [key for key in HIGHEST if key in row]
        if len(given) != 1:
            row.refuse(
                None, 'must have one of "itt" and "ng": the highest value that the chart allows there.'
            )
        if found is not None and given[0] != found:
            row.refuse(given[0], f'the points before have "{found}": one power check has one of them.')
        found = given[0]
    if found is None:
        table.refuse(
            "points",
            "must have points, such as {torque = 80, pressure_altitude_ft = 2000, oat_c = 15, itt = 690}.",
        )
    return found


def _read_point(row: Table, channel: str, torque_scale: Scale, scale: Scale) -> PowerPoint:
    return PowerPoint(
        torque_scale(row.needed_number("torque", above=0.0)),
        row.needed_number("pressure_altitude_ft"),
        row.needed_number("oat_c", above=_ABSOLUTE_ZERO_C),
        scale(row.needed_number(channel)),
    )


def _check_grid(table: Table, chart: PowerChart) -> None:
    """Refuse points between which nothing can be read: it takes two of each, and the corners of a field of the grid."""
    axes = chart.axes
    for values, what in zip(axes, ("torques", "pressure altitudes", "temperatures"), strict=True):
        if len(values) < 2:
            table.refuse(
                "points", f"must be at two {what} or more: between them it is read along straight lines."
            )
    there = {(p.torque, p.pressure_altitude_ft, p.oat_c) for p in chart.points}
    fields = itertools.product(*(itertools.pairwise(values) for values in axes))
    if not any(all(corner in there for corner in itertools.product(*field)) for field in fields):
        table.refuse(
            "points",
            "must lie on a grid: the same torques, pressure altitudes and temperatures, with a point at each "
            "combination of two neighbours at least.",
        )
