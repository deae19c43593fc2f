"""What stands first on a paper: the verdict, and the picture of the whole recording."""

from __future__ import annotations

from collections.abc import Sequence

from debrief.analysis.model import Assessment
from debrief.analysis.verdict import footnotes, next_step
from debrief.report.blocks import LaneChart, Notice, TimeMark
from debrief.report.charts.lane_traces import lanes_of
from debrief.report.content.budget import MOST_MARKS, signs_apart
from debrief.session.lanes.lane_events import ribbon
from debrief.words.events import finding, headline
from debrief.words.starts import start_title

OVERVIEW_MM = 42.0
OVERVIEW_LANES = (("itt", 1.4), ("ng", 1.0))
"""Channels of the small picture of the whole recording, each with its share of the height."""


def overview_chart(
    assessment: Assessment, channels: Sequence[tuple[str, float]] = OVERVIEW_LANES
) -> LaneChart:
    """Return the picture of the whole recording with its marks and the limits where they apply."""
    begin, end = 0.0, max(assessment.recording.duration_s, 1.0)
    engines = assessment.recording.engines
    lanes = tuple(lane for engine in engines for lane in lanes_of(assessment, channels, engine, begin, end))
    several = assessment.recording.has_several_engines
    marks = tuple(
        TimeMark(
            start.begin_s,
            start_title(start.number, assessment.start_count(start.engine)).lower()
            + (f", engine {start.engine}" if several else ""),
        )
        for start in (assessment.starts if len(assessment.starts) <= MOST_MARKS else ())
    )
    signs = signs_apart(
        [(event.start_s, finding(event).shown_as or "note") for event in assessment.events], end
    )
    parts = ribbon(assessment, engines[0] if len(engines) == 1 else None)
    if len(parts) > MOST_MARKS:
        parts = ()
    height = OVERVIEW_MM * (1.0 + 0.6 * (len(engines) - 1))
    return LaneChart(begin, end, lanes, height, marks=marks, signs=signs, ribbon=parts)


def verdict_notice(assessment: Assessment) -> Notice:
    """Return the verdict with what follows from it and what is open."""
    lines: list[str] = []
    lines += filter(None, [next_step(assessment.events, assessment.profile)])
    if assessment.profile is not None:
        lines += filter(None, [footnotes(assessment.not_judged, assessment.recording.has_several_engines)])
    return Notice(assessment.sentence, headline(assessment.verdict, assessment.events).shown_as, tuple(lines))
