"""Lanes of a report: the window's plan of each with the recorded samples of a stretch of time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from debrief.analysis.model import Assessment
from debrief.recording.model import Channel
from debrief.report.blocks import Block, Dot, Lane, LaneChart, LevelLine, Paragraph
from debrief.session.drawing.envelope import Drawn, Envelope, gap_breaks
from debrief.session.lanes.lane_events import event_spans
from debrief.session.lanes.lane_plan import plan_lane
from debrief.session.lanes.lane_words import named_in
from debrief.words.colours import ON_PAPER

COLUMNS = 900
"""Drawn columns across a lane: more than the printer can tell apart."""

_AROUND_S = 60.0
_OF_LANES = 0.7
"""About this share of a chart's height is its lanes'."""

NOT_RECORDED = "not recorded"
_NOT_DRAWN = Drawn(np.zeros(0), np.zeros(0), np.zeros(0, dtype=bool), reduced=False)


def trace_of(assessment: Assessment, channel: Channel | None, begin_s: float, end_s: float) -> Drawn:
    """Return what to draw of a channel between two times: real samples, every extreme among them."""
    if channel is None or channel.time_s.size == 0:
        return _NOT_DRAWN
    # Only what is near: a gap is told by the 60 s around it, and a flight of hours has many starts' charts.
    first = int(np.searchsorted(channel.time_s, begin_s - _AROUND_S))
    last = int(np.searchsorted(channel.time_s, end_s + _AROUND_S, side="right"))
    times, values = channel.time_s[first:last], channel.values[first:last]
    return Envelope(times, values, gap_breaks(times, assessment.starts)).view(begin_s, end_s, COLUMNS)


def lanes_of(
    assessment: Assessment,
    channels: Sequence[tuple[str, float]],
    engine: int,
    begin_s: float,
    end_s: float,
    *,
    dots: Mapping[str, Dot] = MappingProxyType({}),
    of_finding: str = "",
) -> tuple[Lane, ...]:
    """Return the lanes of channels over a stretch of time, as the window shows them there.

    Parameters
    ----------
    channels : sequence of (str, float)
        Canonical name without the engine's number, and share of the height.
    dots : mapping, optional
        The point of a channel's trace that is pointed at.
    of_finding : str
        The channel of the finding that is shown: as in the window its lane takes the range of the stretch.
    """
    spans = [s for s in event_spans(assessment, engine) if s.begin_s <= end_s and s.end_s >= begin_s]
    plans = [plan_lane(assessment, name, engine) for name, _ in channels]
    names = iter(named_in([(plan.name,) for plan in plans if plan.channel is not None], spans))
    lanes = []
    for plan, (name, share) in zip(plans, channels, strict=True):
        colour = str(getattr(ON_PAPER, plan.role))
        trace = trace_of(assessment, plan.channel, begin_s, end_s)
        named = next(names) if plan.channel is not None else []
        if trace.values.size == 0:
            empty = NOT_RECORDED if plan.channel is None else "nothing recorded in this stretch"
            lanes.append(Lane(plan.full_name, plan.full_title, colour, trace, 0.0, 1.0, share, empty=empty))
            continue
        low, high = plan.low, plan.high
        if name == of_finding:
            low, high = plan.closer(trace.within(begin_s, end_s), begin_s, end_s, only_twice=True)
        levels = tuple(
            LevelLine(line.level, line.text_apart, line.begin_s, line.end_s, line.severity)
            for line in plan.lines_between(begin_s, end_s)
            if low <= line.level <= high
        )
        tints = tuple(span for span in spans if span.tints((name,)))
        pointed = (dots[name],) if name in dots else ()
        lanes.append(
            Lane(
                plan.full_name,
                plan.full_title,
                colour,
                trace,
                low,
                high,
                share,
                levels,
                tints,
                tuple(named),
                pointed,
                plan.unjudged,
            )
        )
    return tuple(lanes)


def chart_blocks(chart: LaneChart) -> list[Block]:
    """Return a chart without the lanes that show nothing, and a sentence that names them; no chart without any lane.

    Notes
    -----
    What shows nothing was not recorded there, or was 0 throughout; a lane in which something was found stays.
    """
    kept, said = [], []
    for lane in chart.lanes:
        why = lane.empty
        if not why and not lane.named and not np.any(lane.trace.within(chart.begin_s, chart.end_s)):
            why = "0 throughout"
        if why:
            said.append(f"{lane.name} ({why})")
        else:
            kept.append(lane)
    words: list[Block] = [Paragraph(f"Not drawn: {'; '.join(said)}.", "muted")] if said else []
    if not kept:
        return words
    shares = sum(lane.share for lane in kept) / sum(lane.share for lane in chart.lanes)
    height = chart.height_mm * (1.0 - _OF_LANES * (1.0 - shares))
    return [replace(chart, lanes=tuple(kept), height_mm=height), *words]
