"""The page of one start: what happened on one time axis, measures beside the profile, time at temperature."""

from __future__ import annotations

from collections.abc import Sequence

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
from debrief.report.charts.lane_traces import lanes_of
from debrief.report.charts.ranges import apart_events, chart_range
from debrief.report.content import phrases
from debrief.report.content.evidence_tables import measured_from
from debrief.report.content.flight_pages import evidence_blocks
from debrief.report.content.measure_tables import MeasureRow, abort_rows, start_rows
from debrief.report.content.options import Reader
from debrief.report.content.plain_words import moments_blocks, plain_words_blocks
from debrief.report.content.reference_start import Reference, references_for
from debrief.report.content.trend_pages import Usual
from debrief.session.charts.start_charts import UsualSpeeds, plane_chart, time_chart
from debrief.session.lanes.hand_strips import hand_strips
from debrief.session.lanes.lane_events import start_marks
from debrief.session.texts.plain_names import itt_unit, moment_of, no_factor, severity_words
from debrief.words.channels import base_name
from debrief.words.numbers import clock_text, value_text

CHART_MM = 96.0
_MOST_EVIDENCE = 6


def start_section(
    assessment: Assessment,
    start: Start,
    reader: Reader,
    usual: Sequence[Usual] = (),
    reference: Reference | None = None,
    usual_speeds: UsualSpeeds | None = None,
) -> Section:
    """Return the section of one start; a student's is compared with the reference that was named, if one was."""
    events = assessment.events_of(start)
    engine = f", engine {start.engine}" if assessment.recording.has_several_engines else ""
    headline = phrases.start_headline(start)
    blocks: list[Block] = [Paragraph(f"{headline[0].upper()}{headline[1:]}.")]
    if start.inferred:
        names = ", ".join(phrases.FIELD_WORDS.get(name, name) for name in start.inferred)
        blocks.append(Paragraph(f"Inferred, not recorded directly: {names}.", "small"))
    blocks += [Paragraph(note, "small") for note in start.notes]
    blocks.append(start_chart(assessment, start, events))
    if events:
        blocks += [Heading("Found in this start"), found_table(events)]
    if reader == "student":
        blocks += plain_words_blocks(assessment, start, references_for(assessment, start, usual, reference))
    elif reader == "pilot":
        blocks += moments_blocks(assessment, start, events)
    charts = [time_chart(assessment, start)]
    if start.light_off_s is not None:
        charts.append(plane_chart(assessment, start, usual_speeds))
    planes = [Still(chart) for chart in charts if not chart.problem]
    factors = _factors(assessment, start)
    abort = _abort(assessment, start) if reader != "student" else []
    if reader == "pilot" and planes and (factors or abort):
        blocks.append(SideBySide((planes[0],), (*factors, *abort)))
        factors, abort = [], []
    elif len(planes) == 2:
        blocks.append(SideBySide((planes[0],), (planes[1],)))
    else:
        blocks += planes
    if usual_speeds is not None and start.light_off_s is not None:
        blocks.append(Paragraph(usual_speeds.words, "small"))
    if factors and abort:
        blocks.append(SideBySide(tuple(factors), tuple(abort)))
    else:
        blocks += factors or abort
    if reader != "student":  # a student has read it in plain words
        blocks += _usual(start, usual)
    if reader == "technician":
        blocks += _measures(assessment, start)
        blocks += measured_from(assessment, start)
        blocks += _evidence(assessment, events)
    kind = "" if start.kind == "ground" else f" ({phrases.KIND_WORDS.get(start.kind, start.kind).lower()})"
    return Section(f"Start {start.number}{engine}: {phrases.outcome_words(start)}{kind}", tuple(blocks))


def found_table(events: tuple[Event, ...]) -> Table:
    """Return the short list of what was found in one start."""
    rows = tuple(
        Row((clock_text(moment_of(event)), f"{severity_words(event)}: {event.message}"), event.severity)
        for event in events
    )
    return Table((Column("at", 0.1), Column("what", 0.9)), rows, marked=True)


# --- the chart ----------------------------------------------------------------------------------------


def start_chart(assessment: Assessment, start: Start, events: tuple[Event, ...]) -> LaneChart:
    """Return the annotated chart of one start."""
    begin, end = chart_range(assessment, start)
    engine = start.engine
    peak = {}
    if start.peak_itt_s is not None and start.peak_itt_c is not None:
        peak["itt"] = Dot(start.peak_itt_s, start.peak_itt_c)
    channels = [("itt", 2.1), ("ng", 1.3), ("torque", 0.8), ("bus_volts", 0.9)]
    if assessment.recording.get("torque", engine) is None:
        del channels[2]
    lanes = lanes_of(assessment, channels, engine, begin, end, dots=peak)
    return LaneChart(
        begin,
        end,
        lanes,
        CHART_MM,
        strips=hand_strips(assessment, engine, begin, end),
        marks=_marks(start, events),
    )


def _marks(start: Start, events: tuple[Event, ...]) -> tuple[TimeMark, ...]:
    """Return the moments of a start with their names, in order of time."""
    peak_s = start.peak_itt_s
    hot: Weight | None = next(
        (
            event.severity
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
        Table(columns, rows),
    ]


def _abort(assessment: Assessment, start: Start) -> list[Block]:
    rows = abort_rows(start, assessment.profile)
    if not rows:
        return []
    columns = (Column("", 0.428), Column("measured", 0.41), Column("profile", 0.16))
    return [
        Heading("How the attempt was ended"),
        Table(columns, tuple(Row((row.title, row.value, row.profile or "—")) for row in rows)),
    ]


def _usual(start: Start, usual: Sequence[Usual]) -> list[Block]:
    """Return how the start compares with the engine's own history; what is outside comes first."""
    own = [line for line in usual if (line.engine, line.start_number) == (start.engine, start.number)]
    if not own:
        return []
    own.sort(key=lambda line: not line.outside)
    return [
        Heading("Compared with this engine's own history"),
        *(Paragraph(line.message, "small") for line in own),
        Paragraph("Usual is not a limit.", "muted"),
    ]


def _measures(assessment: Assessment, start: Start) -> list[Block]:
    rows = start_rows(start, assessment.profile)
    known = [row for row in rows if row.known]
    blocks: list[Block] = []
    if known:
        blocks += [Heading("Measured"), _measure_table(known)]
    unknown = [row for row in rows if not row.known]
    if unknown:
        said = "; ".join(f"{row.title}: {row.alone}" for row in unknown)
        blocks.append(Paragraph(f"Not known: {said}.", "muted"))
    return blocks


def _measure_table(rows: Sequence[MeasureRow]) -> Table:
    columns = (Column("", 0.36), Column("measured", 0.38), Column("profile", 0.26))
    return Table(
        columns, tuple(Row((row.title, row.value, row.profile or "—")) for row in rows), dense=True, sets=2
    )


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
