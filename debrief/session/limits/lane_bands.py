"""The profile's bands as areas of a lane: at which level and from which moment each of them begins.

A band of a time-at-temperature chart is no height alone: the longer the value has been above the chart's
base, the lower the band begins. In a lane its lower edge therefore falls while seconds are used up, and
there is no band before the first of them. A gauge's yellow and red arcs are heights, while the engine runs.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from debrief.analysis.limits.chart_bands import edge_level, edge_seconds
from debrief.analysis.limits.counted_runs import Unit, counted_above
from debrief.analysis.model import Assessment, CountedRuns, LimitResult, Start
from debrief.analysis.signal.interval_sets import Window, from_pairs, intersect
from debrief.analysis.signal.traces import Trace
from debrief.profile.model import Band, Limit
from debrief.recording.model import Channel, FloatArray
from debrief.session.drawing.envelope import gap_breaks
from debrief.session.limits.limit_clock import LimitWindow, results_of, running_windows, windows_of
from debrief.words.channels import base_name

_LEVELS = 96
_STEP_S = 1e-6

Kind = Literal["chart", "caution", "limit"]


@dataclass(frozen=True, eq=False)
class BandShade:
    """One area of a lane.

    Attributes
    ----------
    text : str
        What it is called, such as ``band II``.
    kind : str
        ``chart``: a band of the profile's chart; ``caution`` and ``limit``: a yellow or red arc.
    grade : float
        From 0, the mildest band of its chart, to 1, the worst.
    corners : (n, 2) float array
        The polygon: time [s] and level [unit of the channel].
    """

    text: str
    kind: Kind
    grade: float
    corners: FloatArray

    @cached_property
    def begin_s(self) -> float:
        """Left end, [s]."""
        return float(self.corners[:, 0].min())

    @cached_property
    def end_s(self) -> float:
        """Right end, [s]."""
        return float(self.corners[:, 0].max())

    @cached_property
    def lowest(self) -> float:
        """Lower end, [unit of the channel]."""
        return float(self.corners[:, 1].min())

    @cached_property
    def highest(self) -> float:
        """Upper end, [unit of the channel]."""
        return float(self.corners[:, 1].max())


def band_shades(assessment: Assessment, channel: Channel, engine: int = 1) -> tuple[BandShade, ...]:
    """Return the bands that the profile names for a channel, where they apply, mildest first."""
    profile = assessment.profile
    if profile is None or channel.is_discrete or channel.values.size == 0:
        return ()
    found = list(_arcs(assessment, channel, engine))
    trace = Trace.of(channel, gap_breaks(channel.time_s, assessment.starts))
    for limit in profile.limits:
        same = limit.channel == base_name(channel.name) and limit.unit == channel.unit
        if not same or limit.below or limit.band_method is None or not limit.bands:
            continue
        windows = np.array(windows_of(assessment, limit, engine)).reshape(-1, 2)
        starts = {start.number: start for start in assessment.starts if start.engine == engine}
        for result in results_of(assessment, limit, engine):
            found += _chart(limit, trace, result, windows, starts)
    return tuple(found)


def _arcs(assessment: Assessment, channel: Channel, engine: int) -> Sequence[BandShade]:
    gauges = assessment.profile.gauges if assessment.profile is not None else {}
    gauge = gauges.get(base_name(channel.name))
    if gauge is None or gauge.unit != channel.unit:
        return ()
    kinds: tuple[tuple[Kind, str, tuple[tuple[float, float], ...]], ...] = (
        ("caution", "yellow arc", gauge.yellow),
        ("limit", "red arc", gauge.red),
    )
    return [
        BandShade(text, kind, 0.0, np.array([(a, low), (a, high), (b, high), (b, low)], dtype=np.float64))
        for kind, text, arcs in kinds
        for low, high in arcs
        for a, b in running_windows(assessment, engine)
    ]


def _chart(
    limit: Limit, trace: Trace, result: LimitResult, windows: FloatArray, starts: Mapping[int, Start]
) -> Sequence[BandShade]:
    """Return the bands of each start, or of each stretch of running, in which the chart's base was passed.

    `windows` (m, 2) are those of the result with the runs that went on, [s].
    """
    counted = result.base
    if counted is None:
        return ()
    top = max(level for band in limit.bands for level, _ in band.points)
    right = max(seconds for band in limit.bands for _, seconds in band.points)
    shades = []
    for number, runs in _runs(counted):
        until = runs[-1][1]
        if limit.count == "total":
            # A sum goes on until its window's end; of an unbroken run nothing is left when it has ended.
            until = max([until, *windows[windows[:, 0] <= until, 1][-1:].tolist()])
        for index, band in enumerate(limit.bands):
            if limit.band_method == "curve":
                unit = _unit(result, number, (runs[0][0], until), starts)
                left = _left_edge(limit, band, top, trace, (runs[0][0], until), unit)
                corners = [*left, (until, left[-1][1]), (until, left[0][1])] if left else []
            else:
                edge = _falling_edge(band, runs, until, right)
                corners = [*edge, (edge[-1][0], top), (edge[0][0], top)] if edge else []
            if corners:
                grade = index / max(len(limit.bands) - 1, 1)
                text = f"band {band.name}"
                shades.append(BandShade(text, "chart", grade, np.array(corners, dtype=np.float64)))
    return shades


def _runs(counted: CountedRuns) -> Iterator[tuple[int, list[tuple[float, float, float]]]]:
    """Yield of each sum or unbroken run its start, with begin, end and seconds used before of each stretch."""
    rows = zip(
        counted.run.tolist(), counted.start_number.tolist(), counted.pieces.tolist(),
        counted.used_before_s.tolist(), strict=True,
    )  # fmt: skip
    for (_, number), together in itertools.groupby(rows, key=lambda row: row[:2]):
        yield number, [(begin, end, before) for _, _, (begin, end), before in together]


def _unit(result: LimitResult, number: int, stretch: LimitWindow, starts: Mapping[int, Start]) -> Unit:
    """Return what the analysis counted by itself: the start of this number, or a stretch of a limit for none."""
    rows = from_pairs((w.start_s, w.end_s) for w in result.windows if (w.start_number or 0) == number)
    if not number:
        return Unit(None, Window.exactly(intersect(rows, np.array([stretch]))))
    following = starts.get(number + 1)
    until = np.inf if following is None else following.begin_s
    return Unit(number, Window.exactly(rows), (until, until))


def _falling_edge(
    band: Band, runs: Sequence[tuple[float, float, float]], until: float, right: float
) -> list[tuple[float, float]]:
    """Return the band's lower edge over time while the seconds above the base add up."""
    bends = sorted({seconds for _, seconds in band.points} | {right})
    edge: list[tuple[float, float]] = []
    used = 0.0
    for begin, end, before in runs:
        used = before + end - begin
        inside = [bend + step for bend in bends for step in (-_STEP_S, 0.0)]
        for seconds in (before, *(s for s in inside if before < s < used), used):
            level = edge_level(band, seconds)
            if level is not None and seconds <= right:
                edge.append((begin + seconds - before, level))
    if edge and used <= right and until > edge[-1][0]:
        edge.append((until, edge[-1][1]))
    return edge


def _left_edge(
    limit: Limit, band: Band, top: float, trace: Trace, stretch: LimitWindow, unit: Unit
) -> list[tuple[float, float]]:
    """Return from which moment each level is in the band: when its own seconds above it are used up."""
    bottom = min(level for level, _ in band.points)
    levels = np.linspace(bottom, top, _LEVELS)
    part = trace.clip(*stretch)
    left: list[tuple[float, float]] = []
    reached = False
    for low, high in itertools.pairwise(levels.tolist()):
        allowed = edge_seconds(band, low)
        moment = stretch[1]
        if allowed is not None:
            counted = counted_above(limit, part, low, [unit])
            for (begin, end), before in zip(
                counted.pieces.tolist(), counted.used_before_s.tolist(), strict=True
            ):
                if before + end - begin >= allowed:
                    moment = max(begin, begin + allowed - before)
                    reached = True
                    break
        left += [(moment, low), (moment, high)]
    return left if reached else []
