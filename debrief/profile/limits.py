"""The limits and gauge markings of a profile: checked, and converted to the channels' own units."""

from __future__ import annotations

import re
from collections.abc import Mapping
from itertools import pairwise
from typing import cast

from debrief.profile.fields import Table, as_number, as_pair, did_you_mean
from debrief.profile.model import AllowedRow, Band, Count, Gauge, Limit, When, WhereCondition
from debrief.profile.units import Scale, to_canonical
from debrief.toml_lines import KeyPath
from debrief.words.channels import CANONICAL

WHEN = ("start", "running", "ground", "airborne", "any")
COUNT = ("total", "longest")
PHASES = (
    "off", "start", "ground", "takeoff", "climb", "cruise", "descent", "manoeuvring", "landing", "shutdown",
)  # fmt: skip
BAND_METHODS = ("peak_vs_time_above", "curve")

LIMIT_KEYS = (
    "id", "event", "channel", "when", "unit", "count", "rejoin_s", "allowed", "where", "phases",
    "after_takeoff_s", "outside_takeoff_s", "reference", "band_method", "band_base", "bands",
)  # fmt: skip
MOST_LEVELS = 500
"""Levels of all limits together: each is counted in each start."""

GAUGE_KEYS = ("unit", "range", "green", "yellow", "red", "red_lines")

_EVENT_NAME = re.compile(r"[a-z][a-z0-9_]*")

Points = tuple[tuple[float, float], ...]


class References:
    """What 100 % is, for limits and gauges in rpm or torque units."""

    def __init__(self, rpm: Mapping[str, float], torque: tuple[float, str] | None) -> None:
        self._rpm = rpm
        self._torque = torque

    def scale(self, table: Table, channel: str, key: str = "unit") -> Scale:
        """Return how values in the unit under this key become the channel's canonical unit; refused when they cannot."""
        scale, why = to_canonical(channel, table.needed_text(key), self._rpm, self._torque)
        if scale is None:
            table.refuse(key, why)
        return scale


def check_channel(table: Table, key: str | None, name: str) -> str:
    """Return the name when it is a canonical channel without an engine number; else it is refused."""
    base = name.partition(".")[0]
    if name != base and base in CANONICAL:
        table.refuse(key, f'write "{base}" without the engine number: each engine is judged by itself.')
    if name not in CANONICAL:
        table.refuse(key, f'"{name}" is not a channel known here; {did_you_mean(name, CANONICAL)}')
    return name


def read_gauges(table: Table | None, references: References) -> dict[str, Gauge]:
    """Return the gauges by channel, in canonical units."""
    gauges: dict[str, Gauge] = {}
    if table is None:
        return gauges
    for channel in table:
        check_channel(table, channel, channel)
        gauge = Table(table.source, (*table.path, channel), table.raw(channel), GAUGE_KEYS)
        gauges[channel] = _read_gauge(gauge, channel, references)
    return gauges


def _read_gauge(table: Table, channel: str, references: References) -> Gauge:
    table.need("unit", "range")
    scale = references.scale(table, channel)
    low, high = as_pair(table.source, (*table.path, "range"), table.raw("range"))
    if low >= high:
        table.refuse("range", f"must rise: {low:g} is not below {high:g}.")
    arcs: list[tuple[float, float, KeyPath]] = []
    colours: dict[str, tuple[tuple[float, float], ...]] = {}
    for colour in ("green", "yellow", "red"):
        pairs = table.pairs(colour)
        for index, (start, end) in enumerate(pairs):
            path = (*table.path, colour, index)
            if start >= end:
                table.source.refuse(path, f"an arc must rise: {start:g} is not below {end:g}.")
            if start < low or end > high:
                table.source.refuse(
                    path, f"the arc {start:g} to {end:g} is outside the range {low:g} to {high:g}."
                )
            for other_start, other_end, other in arcs:
                if start < other_end and other_start < end:
                    table.source.refuse(
                        path,
                        f"the arc {start:g} to {end:g} overlaps {table.source.display(other)}, "
                        f"{other_start:g} to {other_end:g}.",
                    )
            arcs.append((start, end, path))
        colours[colour] = tuple((scale(start), scale(end)) for start, end in pairs)
    red_lines = []
    for index, item in enumerate(table.items("red_lines")):
        path = (*table.path, "red_lines", index)
        mark = as_number(table.source, path, item)
        if not low <= mark <= high:
            table.source.refuse(path, f"the red line {mark:g} is outside the range {low:g} to {high:g}.")
        red_lines.append(scale(mark))
    return Gauge(
        channel=channel,
        unit=CANONICAL[channel],
        range=(scale(low), scale(high)),
        green=colours["green"],
        yellow=colours["yellow"],
        red=colours["red"],
        red_lines=tuple(red_lines),
    )


def read_limits(top: Table, references: References) -> tuple[Limit, ...]:
    """Return the limits in the file's order, in canonical units."""
    if isinstance(top.raw("limits"), Mapping):
        top.refuse("limits", "is one table: write [[limits]] with two brackets above each limit.")
    limits: list[Limit] = []
    first_lines: dict[str, int | None] = {}
    for table in top.tables("limits", LIMIT_KEYS):
        limit = _read_limit(table, references)
        if limit.id in first_lines:
            table.refuse("id", f'"{limit.id}" is used already, in the limit at line {first_lines[limit.id]}.')
        first_lines[limit.id] = table.source.line(table.path)
        limits.append(limit)
    levels = sum(len(limit.allowed) for limit in limits)
    if levels > MOST_LEVELS:
        top.refuse("limits", f"have {levels} levels in all, may have {MOST_LEVELS} at most.")
    return tuple(limits)


def _read_limit(table: Table, references: References) -> Limit:
    table.need("id", "event", "channel", "when", "unit", "count", "allowed")
    name = table.needed_text("id")
    event = table.needed_text("event")
    if not _EVENT_NAME.fullmatch(event):
        table.refuse("event", f'"{event}" must be small letters, digits and underscores, as in "hot_start".')
    channel = check_channel(table, "channel", table.needed_text("channel"))
    scale = references.scale(table, channel)
    when = cast(When, table.choice("when", WHEN))
    count = cast(Count, table.choice("count", COUNT))
    below, allowed = _read_allowed(table, scale)
    rejoin_s = table.number("rejoin_s", least=0.0)
    method = table.choice("band_method", BAND_METHODS)
    base = table.number("band_base")
    bands = _read_bands(table)
    if bands and below:
        table.refuse("bands", 'bands belong to a limit with "above"; this one has "below".')
    if method is not None and not bands:
        table.refuse("band_method", 'there is nothing to choose from: the key "bands" is missing.')
    if method == "peak_vs_time_above" and base is None:
        table.refuse("band_method", "needs band_base, the level whose time above is counted.")
    within = table.number("after_takeoff_s", above=0.0)
    outside = table.number("outside_takeoff_s", above=0.0)
    if within is not None and outside is not None and outside >= within:
        table.refuse(
            "outside_takeoff_s",
            f"is {outside:g}, must be below after_takeoff_s, {within:g}: between them the limit holds.",
        )
    return Limit(
        id=name,
        event=event,
        channel=channel,
        when=when,
        unit=CANONICAL[channel],
        count=count,
        allowed=allowed,
        below=below,
        rejoin_s=2.0 if rejoin_s is None else rejoin_s,
        where=tuple(
            _read_where(row, references) for row in table.tables("where", ("channel", "unit", *_COMPARE))
        ),
        phases=table.texts("phases", PHASES),
        after_takeoff_s=within,
        outside_takeoff_s=outside,
        reference=table.text("reference"),
        band_method=method,  # type: ignore[arg-type]
        band_base=None if base is None else scale(base),
        bands=tuple(
            Band(band.name, tuple((scale(level), seconds) for level, seconds in band.points), band.action)
            for band in bands
        ),
    )


def _read_allowed(table: Table, scale: Scale) -> tuple[bool, tuple[AllowedRow, ...]]:
    rows = table.tables("allowed", ("above", "below", "seconds", "severity"))
    if not rows:
        table.refuse("allowed", "must have at least one row, such as {above = 830, seconds = 5}.")
    below = "below" in rows[0]
    side, other = ("below", "above") if below else ("above", "below")
    out: list[AllowedRow] = []
    previous: tuple[float, float] | None = None
    for row in rows:
        if "above" in row and "below" in row:
            row.refuse(None, 'has both "above" and "below": a limit is a maximum or a minimum.')
        if other in row:
            row.refuse(
                other, f'the rows before have "{side}": "above" and "below" cannot be mixed in a limit.'
            )
        level = row.needed_number(side)
        seconds = row.needed_number("seconds", least=0.0)
        severity = row.choice("severity", ("limit", "caution")) or "limit"
        if previous is not None:
            if level <= previous[0] if not below else level >= previous[0]:
                order = "fall" if below else "rise"
                row.refuse(
                    side, f"levels must {order} from row to row: {level:g} comes after {previous[0]:g}."
                )
            if seconds >= previous[1]:
                row.refuse(
                    "seconds",
                    f"seconds must fall as the level gets worse: {seconds:g} comes after {previous[1]:g}.",
                )
        previous = (level, seconds)
        out.append(AllowedRow(scale(level), seconds, severity))  # type: ignore[arg-type]
    return below, tuple(out)


_COMPARE = ("above", "below", "equals")


def _read_where(row: Table, references: References) -> WhereCondition:
    channel = check_channel(row, "channel", row.needed_text("channel"))
    scale = references.scale(row, channel) if "unit" in row else float
    given = [key for key in _COMPARE if key in row]
    if len(given) != 1:
        row.refuse(None, 'must have exactly one of "above", "below" and "equals".')
    return WhereCondition(channel, **{given[0]: scale(row.needed_number(given[0]))})


def _read_bands(table: Table) -> list[Band]:
    bands: list[Band] = []
    for row in table.tables("bands", ("name", "points", "action")):
        row.need("name", "points")
        name = row.needed_text("name")
        if any(name == band.name for band in bands):
            row.refuse("name", f'"{name}" is used already by another band of this limit.')
        points = row.pairs("points")
        if len(points) < 2:
            row.refuse("points", "an edge needs at least two points, such as [[830, 20], [920, 6]].")
        for index, (level, seconds) in enumerate(points):
            if seconds < 0:
                row.source.refuse(
                    (*row.path, "points", index, 1), f"is {seconds:g}, must not be less than 0."
                )
            if index and (level < points[index - 1][0] or seconds > points[index - 1][1]):
                row.source.refuse(
                    (*row.path, "points", index),
                    "points must be sorted: the level rises and the seconds fall along an edge.",
                )
            if index and (level, seconds) == points[index - 1]:
                row.source.refuse((*row.path, "points", index), "is the same point as the one before.")
        if bands and not _is_beyond(tuple(points), bands[-1].points):
            row.refuse(
                "points",
                f'bands must be sorted, mildest first: "{name}" is not beyond "{bands[-1].name}" everywhere.',
            )
        bands.append(Band(name, tuple(points), row.text("action") or ""))
    return bands


def _is_beyond(worse: Points, milder: Points) -> bool:
    """Whether the edge of a worse band lies beyond that of a milder one wherever both are drawn."""
    low, high = max(worse[0][0], milder[0][0]), min(worse[-1][0], milder[-1][0])
    if low > high:
        return worse[0][0] > milder[-1][0]
    levels = {level for level, _ in (*worse, *milder) if low <= level <= high} | {low, high}
    pairs = [(_seconds(worse, level), _seconds(milder, level)) for level in sorted(levels)]
    never_inside = all(w[0] >= m[0] and w[1] >= m[1] for w, m in pairs)
    return never_inside and any(w != m for w, m in pairs)


def _seconds(edge: Points, level: float) -> tuple[float, float]:
    """Return the least and the most seconds of an edge at a level (they differ where it is vertical)."""
    found = [seconds for at, seconds in edge if at == level]
    for (a, at_a), (b, at_b) in pairwise(edge):
        if a < level < b:
            found.append(at_a + (at_b - at_a) * (level - a) / (b - a))
    return min(found), max(found)
