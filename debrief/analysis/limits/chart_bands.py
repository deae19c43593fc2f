"""Which band of the manual's chart an event falls in, by the method that the profile states."""

from __future__ import annotations

import itertools
from collections.abc import Iterable

from debrief.profile.model import Band, Limit

OFF_CHART = "off the chart"


def base_level(limit: Limit) -> float | None:
    """Return the level above which the chart's seconds are counted, None for a limit without a chart."""
    if limit.below or limit.band_method is None or not limit.bands:
        return None
    return limit.allowed[0].level if limit.band_base is None else limit.band_base


def edge_level(band: Band, seconds: float) -> float | None:
    """Return the level of the band's lower edge at this many seconds, or None left of the band.

    The edge is straight between its points; right of the last point it goes on level up to the chart's
    own end, which `band_at` checks.
    """
    points = sorted(((s, level) for level, s in band.points), key=lambda p: (p[0], -p[1]))
    if seconds < points[0][0]:
        return None
    best: float | None = None
    for (s0, l0), (s1, l1) in itertools.pairwise(points):
        if s0 <= seconds <= s1:
            level = min(l0, l1) if s1 == s0 else l0 + (l1 - l0) * (seconds - s0) / (s1 - s0)
            best = level if best is None else min(best, level)
    if best is not None:
        return best
    return min(level for s, level in points if s == points[-1][0])


def edge_seconds(band: Band, level: float) -> float | None:
    """Return the shortest time at which a point of this level is in the band, [s], or None below it all."""
    points = sorted(((s, value) for value, s in band.points), key=lambda p: (p[0], -p[1]))
    if level >= points[0][1]:
        return points[0][0]
    for (s0, l0), (s1, l1) in itertools.pairwise(points):
        if l0 > level >= l1:
            return s1 if s1 == s0 else s0 + (l0 - level) / (l0 - l1) * (s1 - s0)
    return None


def past_edge(band: Band, level: float, seconds: float) -> tuple[float | None, float | None]:
    """Return how far a point lies beyond the band's lower edge: in its level's unit, and in seconds."""
    edge, time_s = edge_level(band, seconds), edge_seconds(band, level)
    return (
        None if edge is None else level - edge,
        None if time_s is None else seconds - time_s,
    )


def band_at(limit: Limit, level: float, seconds: float) -> str | None:
    """Return the worst band whose lower edge the point reaches, ``off the chart``, or None below all."""
    right = max(s for band in limit.bands for _, s in band.points)
    top = max(value for band in limit.bands for value, _ in band.points)
    found: str | None = None
    for band in limit.bands:
        edge = edge_level(band, seconds)
        if edge is not None and level >= edge:
            found = band.name
    if found is not None and (seconds > right or level > top):
        return OFF_CHART
    return found


def band_of(
    limit: Limit, peak: float, base_seconds: float, curve: Iterable[tuple[float, float]]
) -> str | None:
    """Return the band of one event by the profile's method; None without a method or below all bands.

    ``peak_vs_time_above``: the point (peak, time above `band_base`). ``curve``: the worst band that any
    point (level, time above it) of the time-at-temperature curve reaches.
    """
    if limit.band_method is None or not limit.bands:
        return None
    if limit.band_method == "peak_vs_time_above":
        return band_at(limit, peak, base_seconds)
    order = [None, *(band.name for band in limit.bands), OFF_CHART]
    return max((band_at(limit, level, seconds) for level, seconds in curve), key=order.index, default=None)
