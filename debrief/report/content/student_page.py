"""The student's paper: one page about one start, beside another that it is compared with."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from debrief.analysis.model import Assessment, Event, Start
from debrief.report.blocks import (
    Block,
    Column,
    Heading,
    Paragraph,
    Row,
    Section,
    SideBySide,
    Still,
    Table,
)
from debrief.report.charts.lane_traces import chart_blocks
from debrief.report.content import phrases
from debrief.report.content.closing_pages import Note, notes_section, signature_blocks
from debrief.report.content.flight_pages import said_in_verdict
from debrief.report.content.options import ReportOptions
from debrief.report.content.overview import overview_chart, verdict_notice
from debrief.report.content.plain_words import plain_words_blocks
from debrief.report.content.reference_start import Reference, references_for
from debrief.report.content.start_pages import start_chart, start_heading
from debrief.report.content.trend_pages import Usual
from debrief.session.charts.start_charts import plane_chart, time_chart
from debrief.session.charts.start_overlay import overlay, overlay_chart, start_levels
from debrief.session.charts.still_chart import StillChart
from debrief.session.comparing.start_curves import INSTANTS, start_curves
from debrief.session.texts.plain_names import moment_of, severity_words
from debrief.session.texts.recording_kind import recording_word
from debrief.words.events import finding
from debrief.words.numbers import clock_text
from debrief.words.starts import start_title

_CHART_MM, _BESIDE_MM = 74.0, 72.0
_GRAVITY = {"limit": 3, "possible": 2, "caution": 1, "note": 0}
_MOST_ROWS = 8


def student_sections(
    assessment: Assessment,
    options: ReportOptions,
    starts: Sequence[Start],
    notes: Sequence[Note],
    usual: Sequence[Usual],
    reference: Reference | None,
) -> list[Section]:
    """Return what stands on the one page: of several starts that with the gravest finding, the first of them.

    The others are named with how they ended; each has a page of its own where it is selected.
    """
    start = _that_matters(assessment, starts)
    blocks: list[Block] = [verdict_notice(assessment)]
    if options.selection.words:
        blocks.append(Paragraph(options.selection.words, "bold"))
    blocks += _found(assessment, start)
    if start is None:
        blocks += chart_blocks(overview_chart(assessment))
        title = "Engine debrief"
    else:
        blocks += _start_blocks(assessment, start, references_for(assessment, start, usual, reference))
        title = start_heading(assessment, start)
    others = [one for one in assessment.starts if one is not start]
    if others:
        said = "; ".join(
            f"start {one.number}, {phrases.outcome_words(one).lower()}" for one in others[:_MOST_ROWS]
        )
        more = f" and {len(others) - _MOST_ROWS} more" if len(others) > _MOST_ROWS else ""
        blocks.append(Paragraph(f"Other starts: {said}{more}.", "small"))
    noted = notes_section(tuple(notes), assessment)
    if noted is not None:
        blocks += [Heading(noted.title), *noted.blocks]
    subtitle = f"{phrases.who(assessment)}; {phrases.when(assessment)}; for the student"
    return [Section(title, (*blocks, *_foot(assessment, options)), subtitle=subtitle)]


def _that_matters(assessment: Assessment, starts: Sequence[Start]) -> Start | None:
    def gravity(start: Start) -> tuple[int, bool]:
        worst = max((_GRAVITY[event.severity] for event in assessment.events_of(start)), default=-1)
        return worst, start.outcome != "motoring"

    return max(starts, key=gravity, default=None)


def _found(assessment: Assessment, start: Start | None) -> list[Block]:
    """Return what was found in the start and outside any, as far as the verdict has not said it in the same words."""
    word = recording_word(assessment)
    rows = [
        Row(
            (
                clock_text(moment_of(event)),
                f"{severity_words(event)}{'' if event.start_number else f' in the {word}'}: {event.message}",
            ),
            finding(event).shown_as,
        )
        for event in assessment.events
        if _is_told(event, start) and not said_in_verdict(assessment, event)
    ]
    if not rows:
        return []
    blocks: list[Block] = [
        Table((Column("at", 0.1), Column("found", 0.9)), tuple(rows[:_MOST_ROWS]), marked=True)
    ]
    if len(rows) > _MOST_ROWS:
        blocks.append(Paragraph(f"And {len(rows) - _MOST_ROWS} more, which the other papers list.", "small"))
    return blocks


def _is_told(event: Event, start: Start | None) -> bool:
    own = start is not None and (event.start_number, event.engine) == (start.number, start.engine)
    return own or event.start_number is None


def _start_blocks(assessment: Assessment, start: Start, references: Sequence[Reference]) -> list[Block]:
    chart = start_chart(assessment, start, assessment.events_of(start))
    words = plain_words_blocks(assessment, start, references)
    beside = [_beside(assessment, start, one) for one in references]
    stills = [one for one in beside if one is not None]
    if not stills:
        charts = [time_chart(assessment, start)]
        if start.light_off_s is not None:
            charts.insert(0, plane_chart(assessment, start))
        stills = [Still(one, _BESIDE_MM) for one in charts if not one.problem]
    return [
        *chart_blocks(replace(chart, height_mm=_CHART_MM)),
        SideBySide(tuple(words), tuple(stills[:1])),
    ]


def _beside(assessment: Assessment, start: Start, reference: Reference) -> Still | None:
    """Return the chart of the start and the one that it is compared with, at the first instant that both have."""
    if reference.start is None or reference.assessment is None or reference.start is start:
        return None
    here = reference.sha256 == assessment.recording.provenance.sha256
    name = f"start {reference.start.number}" if here else ""
    own = start_title(start.number, assessment.start_count(start.engine)).lower()
    mine = start_curves(assessment, start, own).shown(assessment.units)
    other = start_curves(reference.assessment, reference.start, name).shown(assessment.units)
    levels = start_levels(assessment, start)
    for instant in INSTANTS:
        shown = overlay(mine, other, instant, levels)
        if not shown.problem:
            return Still(_names_outside(overlay_chart(shown)), _BESIDE_MM)
    return None


def _names_outside(chart: StillChart) -> StillChart:
    """Return a chart with the names of its levels beside it: on half a page they would lie on the traces."""
    panes = (
        replace(pane, levels=tuple(replace(level, beside=True) for level in pane.levels))
        for pane in chart.panes
    )
    return replace(chart, panes=tuple(panes))


def _foot(assessment: Assessment, options: ReportOptions) -> tuple[Block, ...]:
    provenance, profile = assessment.recording.provenance, assessment.profile
    made = f"File {provenance.file_name or 'not known'}, SHA-256 {provenance.sha256 or 'not known'}."
    if profile is not None:
        made += f" Profile {phrases.profile_line(assessment)}, SHA-256 {profile.sha256 or 'not known'}."
    if options.printed_on is not None:
        made += f" Printed {options.printed_on.isoformat()}."
    return (*signature_blocks(), Paragraph(made, "fine"))
