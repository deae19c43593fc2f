"""A start told in words: moment by moment for a pilot, technique by technique for a student."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from debrief.analysis.model import Assessment, Event, Start
from debrief.report.blocks import Block, Column, Heading, Paragraph, Row, Table
from debrief.report.charts.ranges import chart_range
from debrief.report.content.reference_start import NONE_TO_COMPARE, Reference, Values, values_of
from debrief.session.comparing.difference_words import fuel_came, higher_words
from debrief.session.evidence.measure_tables import beside_profile
from debrief.session.texts.definitions import measure_title
from debrief.session.texts.plain_words import TITLE, WITHOUT_A_MEASURE, plain_words
from debrief.words.channels import base_name
from debrief.words.numbers import brief_duration, clock_text, number, plain, unit_words, value_text

# --- moment by moment ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Moment:
    time_s: float
    words: str
    ng: float | None = None
    itt: float | None = None


def moments_blocks(assessment: Assessment, start: Start, events: tuple[Event, ...]) -> list[Block]:
    """Return what happened second by second, with what was recorded at each moment."""
    # A shutdown after the flight is a fuel cut, too, and no moment of the start.
    _, end = chart_range(assessment, start)
    itt = assessment.names(start.engine).itt
    found = (moment for moment in _moments(itt, start, events) if moment.time_s <= end)
    moments = sorted(found, key=lambda moment: moment.time_s)
    if not moments:
        return []
    begin = moments[0].time_s
    rows = tuple(
        Row(
            (
                clock_text(moment.time_s),
                f"+{number(moment.time_s - begin, 1)} s",
                moment.words,
                _at(assessment, start, "ng", moment, moment.ng),
                _at(assessment, start, "itt", moment, moment.itt),
                _at(assessment, start, "bus_volts", moment, None),
            )
        )
        for moment in moments
    )
    columns = (
        Column("at", 0.11),
        Column("since first", 0.12),
        Column("what", 0.43),
        Column("Ng", 0.11, right=True),
        Column(itt, 0.12, right=True),
        Column("bus", 0.11, right=True),
    )
    note = Paragraph("Values are the last samples up to that moment, unless a measure says more.", "muted")
    return [Heading("Moments in order"), Table(columns, rows, dense=True), note]


def _moments(itt_name: str, start: Start, events: tuple[Event, ...]) -> list[_Moment]:
    out: list[_Moment] = []

    def add(time_s: float | None, words: str, ng: float | None = None, itt: float | None = None) -> None:
        if time_s is not None:
            out.append(_Moment(time_s, words, ng, itt))

    for index, run in enumerate(start.starter_runs, start=1):
        which = f" {index}" if len(start.starter_runs) > 1 else ""
        power = {"battery": ", from the battery", "external": ", from external power"}.get(run.power, "")
        add(run.start_s, f"Starter on{which}{power}")
        if run.end_s is not None:
            words = brief_duration(run.duration_s, run.duration_low_s, run.duration_high_s)
            add(run.end_s, f"Starter off{which}, after {words}")
    if not start.starter_runs:
        add(start.starter_on_s, "Starter on")
        add(start.starter_off_s, "Starter off")
    for index, period in enumerate(start.fuel_periods, start=1):
        which = f" {index}" if len(start.fuel_periods) > 1 else ""
        add(period.on_s, f"Fuel on{which}", ng=period.ng_at_fuel_pct)
        add(period.light_off_s, f"Light-off{which}")
        add(period.off_s, f"Fuel cut-off{which}")
    add(start.peak_itt_s, f"Peak {itt_name}", itt=start.peak_itt_c)
    for event in events:
        if base_name(event.channel or "") == "itt":
            for level in event.levels:
                if level.start_s is not None:
                    # The crossing lies between two samples: the level itself is the value there.
                    add(
                        level.start_s,
                        f"{itt_name} above {plain(level.level, event.unit)} {unit_words(event.unit)}",
                        itt=level.level,
                    )
    add(start.idle_s, "Idle")
    return out


def _at(assessment: Assessment, start: Start, name: str, moment: _Moment, told: float | None) -> str:
    """Return the value at a moment: what the assessment tells, else the last sample up to then."""
    channel = assessment.recording.get(name, start.engine)
    if channel is None:
        return "—"
    if told is not None:
        return value_text(told, channel.unit)
    index = int(np.searchsorted(channel.time_s, moment.time_s + 1e-9, side="right")) - 1
    if index < 0 or moment.time_s - float(channel.time_s[index]) > 2.0:
        return "—"
    return value_text(float(channel.values[index]), channel.unit)


# --- technique by technique ---------------------------------------------------------------------------

_COMPARED = ("ng_at_fuel", "residual_itt_fuel_on", "fuel_to_light_off", "peak_itt", "time_above_", "light_off_to_idle",
    "min_bus_volts")  # fmt: skip
"""In the order of a start."""


def plain_words_blocks(
    assessment: Assessment, start: Start, references: Sequence[Reference] = ()
) -> list[Block]:
    """Return what was done: beside what it is compared with in a table, else, and what is in no table, in sentences."""
    held = [one for one in references if one.values]
    rows = _compared_rows(assessment, start, held) if held else {}
    own = values_of(assessment, start)
    # Above them the page lists the findings.
    lines = plain_words(assessment, start, told={*WITHOUT_A_MEASURE, *(name for name in rows if name in own)})
    if not (lines or rows):
        return []
    said = [reference.said for reference in references] or [NONE_TO_COMPARE]
    blocks: list[Block] = [Heading(TITLE)]
    if rows:
        difference = _difference(assessment, start, held[0])
        blocks += [Paragraph(difference)] if difference else []
        shares = (0.33, 0.15, *(0.18 for _ in held), 0.24)
        titles = ("", "yours", *(one.column for one in held), "limit")
        columns = tuple(
            Column(title, share, right=0 < index < len(shares) - 1)
            for index, (title, share) in enumerate(zip(titles, shares, strict=True))
        )
        blocks.append(Table(columns, tuple(Row(cells) for cells in rows.values())))
    return [
        *blocks,
        *(Paragraph(line) for line in lines),
        *(Paragraph(line, "muted") for line in said),
    ]


def _compared_rows(
    assessment: Assessment, start: Start, held: Sequence[Reference]
) -> dict[str, tuple[str, ...]]:
    """Return by measure its row: title, this start, each reference, what the profile says.

    A time above a level in which none of them was is left out.
    """
    sides: list[Values] = [values_of(assessment, start), *(one.values for one in held)]
    known = dict.fromkeys(name for side in sides for name in side)
    names = [name for group in _COMPARED for name in known if name.startswith(group)]
    rows = {}
    for name in names:
        found = [side.get(name) for side in sides]
        if name.startswith("time_above_") and not any(one is not None and one[0] for one in found):
            continue
        cells, limit = [], ""
        for one in found:
            shown, words = "—", ""
            if one is not None:
                shown, words = beside_profile(name, *one, assessment.profile)
            cells.append(shown)
            limit = limit or words
        rows[name] = (measure_title(name, assessment.names(start.engine)), *cells, limit or "—")
    return rows


def _difference(assessment: Assessment, start: Start, other: Reference) -> str:
    """Return in a sentence what lies between a start and what it is compared with; empty where nothing is known of both."""
    own = values_of(assessment, start)

    def between(name: str) -> float | None:
        if name in own and name in other.values and own[name][1] == other.values[name][1]:
            return own[name][0] - other.values[name][0]
        return None

    seconds = None
    if other.start is not None:
        times = [_fuel_after_starter(one) for one in (start, other.start)]
        seconds = None if times[0] is None or times[1] is None else times[0] - times[1]
    fuel, peak = fuel_came(seconds, between("ng_at_fuel")), between("peak_itt")
    parts = [f"fuel {fuel}"] if fuel else []
    if peak is not None:
        parts.append(
            f"peak {assessment.names(start.engine).itt} was {higher_words(peak, own['peak_itt'][1])}"
        )
    than = "the reference start" if other.start is not None else "what is normal for this engine"
    return f"Compared with {than}, {'; '.join(parts)}." if parts else ""


def _fuel_after_starter(start: Start) -> float | None:
    on, fuel = start.starter_on_s, start.fuel_on_s
    return None if on is None or fuel is None else fuel - on
