"""One start: what happened on one time axis, measures beside the profile, time at temperature."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from debrief.analysis.model import Assessment, Event, Start
from debrief.report.blocks import (
    Block,
    Column,
    Dot,
    Heading,
    LaneChart,
    Paragraph,
    Row,
    Section,
    SideBySide,
    Still,
    Table,
    TimeMark,
    Weight,
)
from debrief.report.charts.lane_traces import chart_blocks, lanes_of
from debrief.report.charts.ranges import apart_events, chart_range
from debrief.report.content import phrases
from debrief.report.content.evidence_tables import ABORT_TITLE, NO_LETTERS, Letters, measured
from debrief.report.content.flight_pages import evidence_blocks
from debrief.report.content.options import Reader
from debrief.report.content.plain_words import moments_blocks
from debrief.report.content.trend_pages import Usual
from debrief.session.charts.start_charts import UsualSpeeds, plane_chart, time_chart
from debrief.session.evidence.measure_tables import abort_rows
from debrief.session.lanes.hand_strips import hand_strips
from debrief.session.lanes.lane_events import ribbon, start_marks
from debrief.session.texts.plain_names import itt_unit, no_factor
from debrief.words.cautions import RANGE_COUNTS
from debrief.words.channels import base_name
from debrief.words.events import finding
from debrief.words.numbers import clock_text, value_text
from debrief.words.starts import start_title

CHART_MM = 84.0
_STILL_MM = 52.0
_MOST_EVIDENCE = 6


def start_section(
    assessment: Assessment,
    start: Start,
    reader: Reader,
    usual: Sequence[Usual] = (),
    usual_speeds: UsualSpeeds | None = None,
    *,
    letters: Letters = NO_LETTERS,
    stretch: tuple[float, float] | None = None,
    told: bool = False,
) -> Section:
    """Return the section of one start for a pilot or a technician.

    Parameters
    ----------
    letters : mapping
        Of the formulas that stand once on the paper.
    stretch : (float, float), optional
        What the chart is to show, [s]: the whole recording, where it holds little else.
    told : bool
        Whether the table of starts has told what happened.
    """
    events = assessment.events_of(start)
    headline = phrases.start_headline(start)
    blocks: list[Block] = [] if told else [Paragraph(f"{headline[0].upper()}{headline[1:]}.")]
    small: list[str] = [*start.notes]
    if start.inferred:
        names = phrases.inferred_words(start, assessment)
        small.insert(0, f"Inferred, not recorded directly: {names}.")
    if small:
        blocks.append(Paragraph(" ".join(small), "small"))
    chart = start_chart(assessment, start, events, stretch)
    if stretch is not None:
        chart = replace(chart, ribbon=ribbon(assessment, start.engine))
    blocks += chart_blocks(chart)
    if reader == "pilot":
        blocks += moments_blocks(assessment, start, events)
    factors = _factors(assessment, start)
    abort = _abort(assessment, start) if reader == "pilot" else []
    charts = [time_chart(assessment, start)]
    if start.light_off_s is not None:
        charts.append(plane_chart(assessment, start, usual_speeds))
    planes = [Still(chart, _STILL_MM) for chart in charts if not chart.problem]
    beside = [*factors, *abort]
    if planes and beside and (reader == "pilot" or len(planes) == 1):
        blocks.append(SideBySide((planes[0],), tuple(beside)))
    elif planes:
        blocks += [SideBySide((planes[0],), tuple(planes[1:])), *beside]
    else:
        blocks += beside
    if usual_speeds is not None and start.light_off_s is not None:
        blocks.append(Paragraph(usual_speeds.words, "small"))
    blocks += _usual(start, usual)
    if reader == "technician":
        blocks += measured(assessment, start, letters)
        blocks += _evidence(assessment, events)
    return Section(start_heading(assessment, start), tuple(blocks))


def start_heading(assessment: Assessment, start: Start) -> str:
    """Return a start's number where there are several, engine, and how it went."""
    engine = f", engine {start.engine}" if assessment.recording.has_several_engines else ""
    kind = "" if start.kind == "ground" else f" ({phrases.KIND_WORDS.get(start.kind, start.kind).lower()})"
    title = start_title(start.number, assessment.start_count(start.engine))
    return f"{title}{engine}: {phrases.how_it_went(assessment.events_of(start), start)}{kind}"


# --- the chart ----------------------------------------------------------------------------------------


def lanes_of_start(assessment: Assessment, engine: int) -> list[tuple[str, float]]:
    """Return the channels of a start's chart, each with its share of the height."""
    channels = [("itt", 2.1), ("ng", 1.3), ("torque", 0.8), ("bus_volts", 0.9)]
    if assessment.recording.get("torque", engine) is None:
        del channels[2]
    return channels


def start_chart(
    assessment: Assessment,
    start: Start,
    events: tuple[Event, ...],
    stretch: tuple[float, float] | None = None,
) -> LaneChart:
    """Return the annotated chart of one start, over its own moments or a stretch that holds them."""
    begin, end = stretch or chart_range(assessment, start)
    engine = start.engine
    peak = {}
    if start.peak_itt_s is not None and start.peak_itt_c is not None:
        peak["itt"] = Dot(start.peak_itt_s, start.peak_itt_c)
    lanes = lanes_of(assessment, lanes_of_start(assessment, engine), engine, begin, end, dots=peak)
    return LaneChart(
        begin,
        end,
        lanes,
        CHART_MM,
        strips=hand_strips(assessment, engine, begin, end),
        marks=marks_of(start, events),
    )


def marks_of(start: Start, events: tuple[Event, ...]) -> tuple[TimeMark, ...]:
    """Return the moments of a start with their names, in order of time."""
    peak_s = start.peak_itt_s
    hot: Weight | None = next(
        (
            finding(event).shown_as
            for event in events
            if event.severity in ("limit", "possible")
            and base_name(event.channel or "") == "itt"
            and peak_s is not None
            and event.start_s <= peak_s <= event.end_s
        ),
        None,
    )
    peak = f"peak {value_text(start.peak_itt_c, itt_unit(start))}" if start.peak_itt_c is not None else ""
    return tuple(
        TimeMark(
            mark.time_s,
            f"{peak if mark.kind == 'peak' else mark.word} {clock_text(mark.time_s)}"
            + (" (inferred)" if mark.inferred else ""),
            hot if mark.kind == "peak" else None,
        )
        for mark in start_marks(start)
    )


# --- tables -------------------------------------------------------------------------------------------


def _factors(assessment: Assessment, start: Start) -> list[Block]:
    if not start.factors:
        none = no_factor(assessment, start)
        return [Heading("Contributing factors"), Paragraph(none, "muted")] if none else []
    rows = tuple(
        Row((phrases.factor_title(factor), phrases.factor_value(factor), phrases.factor_reference(factor)))
        for factor in start.factors
    )
    columns = (Column("", 0.5), Column("measured", 0.25), Column("reference", 0.25))
    return [
        Heading("Contributing factors"),
        Paragraph("Present and outside the reference; not proven to be the cause.", "muted"),
        Table(columns, rows, dense=True),
    ]


def _abort(assessment: Assessment, start: Start) -> list[Block]:
    rows = abort_rows(start, assessment.profile, assessment.recording.names)
    if not rows:
        return []
    columns = (Column("", 0.428), Column("measured", 0.41), Column("profile", 0.16))
    return [
        Heading(ABORT_TITLE),
        Table(columns, tuple(Row((row.title, row.value, row.profile or "—")) for row in rows), dense=True),
    ]


def _usual(start: Start, usual: Sequence[Usual]) -> list[Block]:
    """Return how the start compares with the engine's own history; what is outside comes first."""
    own = [line for line in usual if (line.engine, line.start_number) == (start.engine, start.number)]
    if not own:
        return []
    own.sort(key=lambda line: not line.outside)
    return [
        Heading("Compared with this engine's own history"),
        *(Paragraph(line.said, "small") for line in own),
        Paragraph(f"The normal range is not a limit. {RANGE_COUNTS}", "muted"),
    ]


def _evidence(assessment: Assessment, events: tuple[Event, ...]) -> list[Block]:
    """Return levels, other values at the peak and raw samples of what was exceeded in a start."""
    elsewhere = {id(event) for event in apart_events(assessment)}
    exceeded = [
        event
        for event in events
        if event.severity in ("limit", "possible") and event.levels and id(event) not in elsewhere
    ]
    out: list[Block] = []
    for event in exceeded[:_MOST_EVIDENCE]:
        out += evidence_blocks(assessment, event)
    if len(exceeded) > _MOST_EVIDENCE:
        left = len(exceeded) - _MOST_EVIDENCE
        out.append(Paragraph(f"The samples of {left} more events of this start are not printed.", "muted"))
    return out
