"""Exceedances outside a start: each with its surroundings, its levels, and the raw samples."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from debrief.analysis.model import Assessment, Event
from debrief.profile.model import Limit
from debrief.recording.model import Channel, FloatArray
from debrief.report.blocks import (
    Block,
    Column,
    Dot,
    Heading,
    LaneChart,
    Notice,
    Paragraph,
    Row,
    Section,
    SideBySide,
    Table,
    TimeMark,
)
from debrief.report.charts.lane_traces import chart_blocks, lanes_of
from debrief.report.charts.ranges import apart_events
from debrief.report.content import phrases
from debrief.report.content.evidence_tables import Letters, flight_measured
from debrief.report.content.options import Reader
from debrief.session.evidence.deciding_samples import sample_decimals
from debrief.session.evidence.file_rows import file_rows
from debrief.session.evidence.measure_tables import flight_rows
from debrief.session.lanes.lane_events import ribbon
from debrief.session.texts.definitions import phase_title
from debrief.words.channels import base_name
from debrief.words.events import event_title, finding
from debrief.words.numbers import clock_text, number, plain, unit_words, value_text

CHART_MM = 80.0
MOST_PAGES = 20
_MOST_PHASES = 40
AROUND_S = 10.0
MOST_SAMPLES = 480
_SETS = 6
_IN_A_ROW = ((4, 18), (5, 15), (7, 11), (99, 7))
"""How many samples of an even clock stand in a row, by the signs of the longest."""
_SAME_TIME_S = 0.0005
"""Closer than the last printed decimal."""
_COMPANIONS = ("itt", "torque", "ng", "np", "oil_temp", "oil_press", "palt", "ias")


def summary_section(assessment: Assessment, reader: Reader, letters: Letters) -> Section | None:
    """Return the measures and phases of the whole recording; None where nothing is known of them.

    For a technician with what the measures were read from.
    """
    rows = [row for row in flight_rows(assessment.flight_measures, assessment.recording.names) if row.known]
    if not rows:
        return None
    phases = Table(
        (Column("phase", 0.34), Column("from", 0.22), Column("to", 0.22), Column("lasting", 0.22)),
        tuple(
            Row(
                (
                    phase_title(phase.name),
                    clock_text(phase.start_s),
                    clock_text(phase.end_s),
                    clock_text(phase.end_s - phase.start_s),
                )
            )
            for phase in assessment.phases
        ),
        dense=True,
        sets=3 if reader == "technician" else 1,
    )
    has_phases = 0 < len(assessment.phases) <= _MOST_PHASES
    if reader == "technician":
        told = flight_measured(assessment, letters)
        return Section("The whole recording", (*([phases] if has_phases else []), *told))
    measures = Table(
        (Column("measured over the whole recording", 0.56), Column("", 0.44)),
        tuple(Row((row.title, row.value)) for row in rows),
        dense=True,
    )
    return Section("The whole recording", (SideBySide((measures,), (phases,)) if has_phases else measures,))


def flight_sections(assessment: Assessment, reader: Reader) -> list[Section]:
    """Return a section for each exceedance outside a start."""
    events = apart_events(assessment)
    sections = [flight_section(assessment, event, reader) for event in events[:MOST_PAGES]]
    if len(events) > MOST_PAGES:
        left = Paragraph(
            f"{len(events) - MOST_PAGES} further exceedances have no page of their own here; all of them are "
            "in the table of events."
        )
        last = sections[-1]
        sections[-1] = Section(last.title, (*last.blocks, left), last.new_page, last.subtitle)
    return sections


def said_in_verdict(assessment: Assessment, event: Event) -> bool:
    """Whether the verdict has said what the event says in the same words."""
    return event.message.rstrip(".") in assessment.sentence


def flight_section(assessment: Assessment, event: Event, reader: Reader) -> Section:
    """Return the section of one exceedance outside a start."""
    blocks: list[Block] = (
        [] if said_in_verdict(assessment, event) else [Notice(event.message, finding(event).shown_as)]
    )
    chart = event_chart(assessment, event)
    if chart is not None:
        blocks += chart_blocks(chart)
    blocks += levels_table(event)
    blocks += at_the_peak(assessment, event)
    if reader == "technician":
        blocks += raw_samples(assessment, event)
    return Section(f"{event_title(event.kind)} at {clock_text(event.start_s)}", tuple(blocks))


def event_chart(assessment: Assessment, event: Event) -> LaneChart | None:
    """Return the surroundings of an event: its own channel first, then what else explains it."""
    if event.channel is None:
        return None
    own = base_name(event.channel)
    length = event.end_s - event.start_s
    around = max(30.0, 0.6 * length)
    begin = max(0.0, event.start_s - around)
    end = max(min(assessment.recording.duration_s, event.end_s + around), begin + 1.0)
    names = [own, *(name for name in _COMPANIONS if name != own)]
    recorded = [name for name in names if assessment.recording.get(name, event.engine) is not None][:5]
    if own not in recorded:
        return None
    peak = {} if event.peak_s is None or event.peak is None else {own: Dot(event.peak_s, event.peak)}
    channels = [(name, 2.2 if name == own else 1.0) for name in recorded]
    lanes = lanes_of(assessment, channels, event.engine, begin, end, dots=peak, of_finding=own)
    marks: tuple[TimeMark, ...] = ()
    if event.peak_s is not None and event.peak is not None:
        word = "lowest" if _is_minimum(assessment, event) else "peak"
        label = f"{word} {phrases.peak_value(event)} at {clock_text(event.peak_s)}"
        marks = (TimeMark(event.peak_s, label, finding(event).shown_as),)
    return LaneChart(begin, end, lanes, CHART_MM, marks=marks, ribbon=ribbon(assessment, event.engine))


def _limit_of(assessment: Assessment, event: Event) -> Limit | None:
    if assessment.profile is None:
        return None
    return next((limit for limit in assessment.profile.limits if limit.id == event.limit_id), None)


def _is_minimum(assessment: Assessment, event: Event) -> bool:
    limit = _limit_of(assessment, event)
    return limit is not None and limit.below


def levels_table(event: Event) -> list[Block]:
    """Return each level that was passed with its seconds, bounds and result."""
    if not event.levels:
        return []
    rows = tuple(
        Row(
            (
                phrases.level_words(level.level, event.unit, level.allowed_s),
                phrases.level_duration(level),
                f"{clock_text(level.start_s)} to {clock_text(level.end_s)}",
                phrases.RESULT_WORDS[level.result],
            )
        )
        for level in event.levels
    )
    columns = (
        Column("level and seconds allowed", 0.3),
        Column("beyond it (bounds)", 0.28),
        Column("first to last crossing", 0.24),
        Column("result", 0.18),
    )
    return [Heading("Every level"), Table(columns, rows, dense=True)]


def at_the_peak(assessment: Assessment, event: Event) -> list[Block]:
    """Return what else was recorded at the peak: the last sample of each channel up to then."""
    at = event.peak_s if event.peak_s is not None else event.start_s
    cells: list[tuple[str, str]] = []
    own = (
        event.channel if event.peak_s is not None else None
    )  # its value there is the peak, which is told already
    for name, channel in assessment.recording.channels.items():
        text = _held(channel, at)
        if text and name != own:
            cells.append((assessment.recording.names.words(name), text))
    if not cells:
        return []
    rows = tuple(Row(cell) for cell in cells)
    columns = (Column("channel", 0.6), Column("value", 0.4))
    title = "at the peak" if event.peak_s is not None else "at the beginning"
    return [Heading(f"All other values {title}, {clock_text(at)}"), Table(columns, rows, dense=True, sets=3)]


def _held(channel: Channel, time_s: float) -> str:
    """Return the last sample up to a moment with its age where it is old; empty without one."""
    index = int(np.searchsorted(channel.time_s, time_s + 1e-9, side="right")) - 1
    if index < 0:
        return ""
    value = float(channel.values[index])
    if channel.is_discrete:
        text = {0.0: "off", 1.0: "on"}.get(value, number(value, 0))
    else:
        text = value_text(value, channel.unit)
    age = time_s - float(channel.time_s[index])
    return f"{text} ({number(age, 1)} s before)" if age >= 2.0 else text


def raw_samples(assessment: Assessment, event: Event) -> list[Block]:
    """Return the samples as recorded from 10 s before the exceedance to 10 s after it.

    Notes
    -----
    What does not fit on two pages is not thinned out: then the stretch around the peak is printed, which
    is said, and the rest is in the recording under its hash.
    """
    if event.channel is None:
        return []
    channel = assessment.recording.get(base_name(event.channel), event.engine)
    if channel is None:
        return []
    begin, end = event.start_s - AROUND_S, event.end_s + AROUND_S
    rows = np.flatnonzero((channel.time_s >= begin) & (channel.time_s <= end))
    said = f"From {clock_text(max(begin, 0.0))} to {clock_text(end)}, as recorded."
    if rows.size > MOST_SAMPLES:
        middle = event.peak_s if event.peak_s is not None else event.start_s
        nearest = int(np.argmin(np.abs(channel.time_s[rows] - middle)))
        first = min(max(nearest - MOST_SAMPLES // 2, 0), rows.size - MOST_SAMPLES)
        said = f"{rows.size} samples in all; printed are the {MOST_SAMPLES} around the peak, as recorded."
        rows = rows[first : first + MOST_SAMPLES]
    if rows.size == 0:
        return []
    decimals = sample_decimals(channel)
    values = [number(float(channel.values[i]), decimals) for i in rows]
    in_file = file_rows(assessment.recording.lines, channel.time_s[rows].tolist())
    step = _even_step(channel.time_s[rows])
    if step is not None:
        before = "the row of the file and the time" if in_file else "the time"
        said += f" Before each line stands {before} of its first sample; the next is {plain(step)} s later."
        table = _rows_of_an_even_clock(channel.time_s[rows], values, unit_words(channel.unit), in_file)
    else:
        table = _each_with_its_time(channel.time_s[rows], values, unit_words(channel.unit), in_file)
    if in_file and step is None:
        said += " Before each sample stands its row of the file."
    title = (
        f"Raw samples: {assessment.recording.names.words(channel.name)}, {event_title(event.kind).lower()}"
    )
    return [Heading(title), Paragraph(said, "muted"), table]


def _rows_of_an_even_clock(
    times_s: FloatArray, values: list[str], unit: str, in_file: Sequence[int]
) -> Table:
    """Return samples at one distance in rows, each with the time of its first and, where it has one, its row of the file."""
    places = _time_decimals(times_s)
    longest = max(map(len, values))
    in_a_row = next(many for signs, many in _IN_A_ROW if longest <= signs)
    values = values + [""] * (-len(values) % in_a_row)
    columns = (Column("time", 2.0, right=True), Column(unit, 1.0, right=True))
    numbered = (Column("row", 1.3, right=True),) if in_file else ()
    return Table(
        (*numbered, *columns, *(Column("", 1.0, right=True) for _ in range(in_a_row - 1))),
        tuple(
            Row(
                (
                    *map(str, in_file[first : first + 1]),
                    clock_text(float(times_s[first]), places),
                    *values[first : first + in_a_row],
                )
            )
            for first in range(0, len(values), in_a_row)
        ),
        dense=True,
    )


def _each_with_its_time(times_s: FloatArray, values: list[str], unit: str, in_file: Sequence[int]) -> Table:
    places = _time_decimals(times_s)
    times = [clock_text(float(time_s), places) for time_s in times_s]
    columns = (Column("time", 1.6, right=True), Column(unit, 1.0, right=True))
    if in_file:
        cells = zip(map(str, in_file), times, values, strict=True)
        numbered = (Column("row", 1.1, right=True), *columns)
        return Table(numbered, tuple(map(Row, cells)), dense=True, sets=_SETS - 1)
    # Line by line, so that the samples stay in order where the table runs over a page.
    return Table(
        columns,
        tuple(map(Row, zip(times, values, strict=True))),
        dense=True,
        sets=_SETS,
    )


def _even_step(times_s: FloatArray) -> float | None:
    """Return the distance of samples that all have the same, to the digit that is printed; None where they have not."""
    if times_s.size < 3:
        return None
    step = round(float(times_s[-1] - times_s[0]) / (times_s.size - 1), 6)
    even = times_s[0] + step * np.arange(times_s.size)
    return step if step > 0 and np.all(np.abs(even - times_s) < _SAME_TIME_S) else None


def evidence_blocks(assessment: Assessment, event: Event) -> list[Block]:
    """Return what a technician checks an exceedance with: levels, other values, raw samples."""
    return [*levels_table(event), *at_the_peak(assessment, event), *raw_samples(assessment, event)]


def _time_decimals(times_s: FloatArray) -> int:
    """Return how many decimals tell the sample times, at most three."""
    for decimals in (1, 2):
        if np.all(np.abs(np.round(times_s, decimals) - times_s) < 1e-6):
            return decimals
    return 3
