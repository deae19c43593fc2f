"""What the report says: from an assessment, notes and options to content. No Qt, no places on paper."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TypeVar

from debrief.analysis.model import Assessment, Event, LeftOut, Start
from debrief.errors import UserError
from debrief.report.blocks import (
    Block,
    Column,
    Heading,
    Pairs,
    Paragraph,
    ReportContent,
    Row,
    Section,
    SideBySide,
    Weight,
)
from debrief.report.charts.lane_traces import chart_blocks
from debrief.report.charts.ranges import apart_events, chart_range
from debrief.report.content import phrases
from debrief.report.content.appendix import appendix
from debrief.report.content.budget import table, with_pages
from debrief.report.content.closing_pages import Note, closing_section, notes_section, quality_section
from debrief.report.content.evidence_tables import NO_LETTERS, formula_letters
from debrief.report.content.flight_pages import MOST_PAGES, flight_sections, said_in_verdict, summary_section
from debrief.report.content.flight_told import flight_told
from debrief.report.content.options import Reader, ReportOptions
from debrief.report.content.origin import origin_section
from debrief.report.content.overview import overview_chart, verdict_notice
from debrief.report.content.reference_start import Reference
from debrief.report.content.start_pages import start_section
from debrief.report.content.student_page import student_sections
from debrief.report.content.trend_pages import Usual, UsualPlanes, trend_section
from debrief.session.charts.trend_chart import TrendValues
from debrief.session.texts.plain_names import moment_of, severity_words
from debrief.session.texts.recording_kind import recording_word
from debrief.words.cautions import CAUTION, NOT_APPROVED
from debrief.words.events import event_title, finding
from debrief.words.numbers import clock_text
from debrief.words.starts import start_title

_MOST_OF_IT = 0.38
"""A start that takes this share of a recording has one chart with it."""
_FOR: dict[Reader, str] = {
    "pilot": "for the pilot",
    "student": "for the student",
    "technician": "for the technician",
}
Found = TypeVar("Found", Event, LeftOut)


def build(
    assessment: Assessment,
    options: ReportOptions,
    notes: Sequence[Note] = (),
    usual: Sequence[Usual] = (),
    trends: Sequence[TrendValues] = (),
    reference: Reference | None = None,
    planes: UsualPlanes | None = None,
) -> ReportContent:
    """Return the content of a report.

    Parameters
    ----------
    assessment : Assessment
        What was found.
    options : ReportOptions
        Which part, for whom, on which paper.
    notes : sequence of Note
        Printed where there are any.
    usual : sequence of Usual
        How unusual each start is for its engine.
    trends : sequence of TrendValues
        The engine's own history.
    reference : Reference, optional
        The start that a student's starts are compared with, where the user named one.
    planes : mapping, optional
        What is usual of ITT against Ng for the engine of each start.

    Raises
    ------
    UserError
        The start that was selected is not in this recording.
    """
    selection = options.selection
    starts = assessment.starts
    if selection.start is not None:
        starts = tuple(start for start in starts if start.number == selection.start)
        if not starts:
            raise UserError(_no_such_start(assessment, selection.start))
    elif selection.exceedances_only:
        starts = tuple(
            start
            for start in starts
            if any(event.severity in ("limit", "possible") for event in assessment.events_of(start))
        )
    events = _selected(assessment.events, options)
    starts, left_out = with_pages(assessment, starts)
    if options.reader == "student":
        return _paper(
            assessment, student_sections(assessment, options, starts, notes, usual, reference), one_page=True
        )
    letters = formula_letters(assessment, starts) if options.reader == "technician" else NO_LETTERS
    speeds = planes or {}
    stretch = _one_chart(assessment, starts, options)
    told = len(assessment.starts) > 1 or not starts
    sections = [_summary(assessment, options, left_out, has_chart=stretch is None, has_starts=told)]
    if assessment.profile is not None:
        beside = _selected(assessment.left_out, options)
        sections.append(_events_section(assessment, options, events, beside))
    origin = origin_section(assessment, options.reader)
    if options.reader == "technician" and stretch is None:
        sections.append(origin)  # below the table, where a start's chart would not fit
    sections += [
        start_section(
            assessment,
            start,
            options.reader,
            usual,
            speeds.get((start.engine, start.number)),
            letters=letters,
            stretch=stretch,
            told=told,
        )
        for start in starts
    ]
    if options.selection.start is None:
        sections += flight_sections(assessment, options.reader)
    over_time = trend_section(assessment, trends)
    if over_time is not None and not selection.exceedances_only:
        sections.append(over_time)
    whole = summary_section(assessment, options.reader, letters) if selection.start is None else None
    told_flight = flight_told(assessment) if options.reader == "technician" and whole is not None else None
    sections += [one for one in (told_flight, whole, quality_section(assessment)) if one]
    if origin not in sections:
        sections.append(origin)
    noted = notes_section(tuple(notes), assessment)
    if noted is not None:
        sections.append(noted)
    sections.append(closing_section(assessment, options))
    if options.reader == "technician":
        sections.append(appendix(assessment.profile, letters))
    return _paper(assessment, sections)


def _paper(assessment: Assessment, sections: Sequence[Section], *, one_page: bool = False) -> ReportContent:
    """Return sections with what stands on every page."""
    profile = assessment.profile
    provenance = assessment.recording.provenance
    short_hash = f"SHA-256 {provenance.sha256[:16]}…" if provenance.sha256 else ""
    return ReportContent(
        title=f"Engine debrief {assessment.recording.identity.aircraft or ''} {provenance.file_name}".strip(),
        sections=tuple(sections),
        head_left=f"{phrases.who(assessment)}, {provenance.file_name}",
        head_right=short_hash,
        warning=NOT_APPROVED if profile is not None and not profile.approved_data else "",
        caution=CAUTION,
        program=phrases.PROGRAM,
        one_page=one_page,
    )


def _one_chart(
    assessment: Assessment, starts: Sequence[Start], options: ReportOptions
) -> tuple[float, float] | None:
    """Return the whole recording where a start's chart of all of it can stand for both; else None."""
    recording = assessment.recording
    if len(assessment.starts) != 1 or len(starts) != 1 or recording.has_several_engines:
        return None
    begin, end = chart_range(assessment, starts[0])
    return (0.0, recording.duration_s) if end - begin >= _MOST_OF_IT * recording.duration_s else None


def _no_such_start(assessment: Assessment, number: int) -> str:
    have = ", ".join(str(start.number) for start in assessment.starts)
    held = f"it holds {have}" if have else "it holds no start"
    return f"There is no start {number} in this recording; {held}."


def _selected(found: tuple[Found, ...], options: ReportOptions) -> tuple[Found, ...]:
    selection = options.selection
    if selection.start is not None:
        return tuple(one for one in found if one.start_number == selection.start)
    if selection.exceedances_only:
        return tuple(one for one in found if one.severity in ("limit", "possible"))
    return found


# --- the first page -----------------------------------------------------------------------------------


def _summary(
    assessment: Assessment,
    options: ReportOptions,
    left_out: Sequence[Block],
    *,
    has_chart: bool,
    has_starts: bool,
) -> Section:
    identity, provenance = assessment.recording.identity, assessment.recording.provenance
    left = [
        ("Registration", _told(identity.aircraft, identity.aircraft_source)),
        ("Engine", _engine(assessment)),
        ("Profile", phrases.profile_line(assessment)),
    ]
    right = [
        ("Recorded", f"{phrases.when(assessment)}; {phrases.recorded_line(assessment)}"),
        ("File", provenance.file_name or "not known"),  # a path can tell private things
    ]
    if options.printed_on is not None:
        right.append(("Printed", options.printed_on.isoformat()))
    blocks: list[Block] = [
        SideBySide((Pairs(tuple(left), label_mm=22.0),), (Pairs(tuple(right), label_mm=18.0),)),
        Pairs((("SHA-256", provenance.sha256 or "not known"),), label_mm=22.0),
        verdict_notice(assessment),
    ]
    if options.selection.words:
        blocks.append(Paragraph(options.selection.words, "bold"))
    blocks += left_out
    if has_chart:
        blocks += chart_blocks(overview_chart(assessment))
    if has_starts:
        blocks += _starts_table(assessment)
    return Section(
        "Engine debrief", tuple(blocks), subtitle=f"{provenance.file_name}, {_FOR[options.reader]}"
    )


def _told(value: str | None, source: str | None) -> str:
    if value is None:
        return "not recorded"
    return f"{value} ({phrases.SOURCE_WORDS.get(source, source)})" if source else value


def _engine(assessment: Assessment) -> str:
    identity = assessment.recording.identity
    model = identity.engine_model or "model not recorded"
    serial = (
        f"serial {_told(identity.engine_serial, identity.engine_serial_source)}"
        if identity.engine_serial
        else "serial not recorded"
    )
    further = (f", engine {n} serial {text}" for n, text in identity.engine_serials.items())
    return f"{model}, {serial}{''.join(further)}"


def _starts_table(assessment: Assessment) -> list[Block]:
    if not assessment.starts:
        words = (
            "No start: the recording begins with the engine running."
            if assessment.began_running
            else "No start was found in this recording."
        )
        return [Paragraph(words)]
    several = assessment.recording.has_several_engines
    rows = [
        Row(
            (
                str(start.number),
                (f"Engine {start.engine}. " if several else "")
                + f"{phrases.outcome_words(start)}. {_capital(phrases.start_headline(start))}.",
            ),
            _gravest(assessment.events_of(start)),
        )
        for start in assessment.starts
    ]
    return [
        Heading("Starts"),
        *table((Column("no.", 0.06), Column("outcome", 0.94)), rows, "starts", marked=True),
    ]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _gravest(events: Sequence[Event]) -> Weight | None:
    for weight in ("limit", "possible", "caution", "note"):
        if any(finding(event).shown_as == weight for event in events):
            return weight
    return None


# --- the table of events ------------------------------------------------------------------------------


def _events_section(
    assessment: Assessment, options: ReportOptions, events: Sequence[Event], left_out: Sequence[LeftOut]
) -> Section:
    if not events:
        return Section("Events", (Paragraph("No event was found in what was recorded."),))
    several = assessment.recording.has_several_engines
    whole = recording_word(assessment)
    apart = () if options.selection.start is not None else apart_events(assessment)[:MOST_PAGES]
    told = {id(event) for event in apart}
    rows = []
    for event in events:
        number = event.start_number
        place = whole if number is None else start_title(number, assessment.start_count(event.engine)).lower()
        if several:
            place += f", engine {event.engine}"
        reference = f" Profile: {event.reference}." if event.reference else ""
        # What the verdict, or a section of its own, says in the same words is not said again.
        message = "" if said_in_verdict(assessment, event) or id(event) in told else event.message
        # What was not said of a suspect sensor elsewhere is in the message.
        suspect = " Sensor suspect." if event.sensor_suspect and not message else ""
        detail = " ".join([message + suspect + reference, *phrases.band_lines(event)]).strip()
        rows.append(
            Row(
                (
                    clock_text(moment_of(event)),
                    event_title(event.kind),
                    place,
                    severity_words(event)
                    + ("" if event.certain or event.severity == "possible" else ", not certain"),
                    phrases.event_value(event),
                    phrases.event_limit(event),
                    phrases.event_duration(event),
                ),
                finding(event).shown_as,
                detail,
            )
        )
    columns = (
        Column("at", 0.09),
        Column("event", 0.18),
        Column("in", 0.1),
        Column("result", 0.16),
        Column("extreme", 0.11, right=True),
        Column("limit", 0.16, right=True),
        Column("beyond it (bounds)", 0.2, right=True),
    )
    legend = Paragraph(
        "Diamond: exceeded, or a failed start. Hollow diamond: possibly so. Triangle: procedure or caution. Circle: note.",
        "muted",
    )
    blocks: list[Block] = [legend, *table(columns, rows, "events", marked=True)]
    more = sum(one.count for one in left_out)
    if more:
        words = (
            f"{more} more events were counted and are listed nowhere, since there are so many of their kind."
        )
        blocks.append(Paragraph(words, "bold"))
    return Section("Events", tuple(blocks))
