"""A start told in words: moment by moment for a pilot, technique by technique for a student."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from debrief.analysis.model import Assessment, Event, Measure, Start
from debrief.profile.model import EngineProfile
from debrief.report.blocks import Block, Column, Heading, Paragraph, Row, Table
from debrief.report.charts.ranges import chart_range
from debrief.report.content.measure_tables import measure_text
from debrief.report.content.reference_start import NONE_TO_COMPARE, Reference
from debrief.session.texts.definitions import level_of
from debrief.session.texts.plain_names import itt_unit
from debrief.words.channels import base_name
from debrief.words.numbers import (
    beside,
    clock_text,
    duration_text,
    number,
    plain,
    reference_beside,
    unit_words,
    value_text,
)

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
    found = (moment for moment in _moments(start, events) if moment.time_s <= end)
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
        Column("ITT", 0.12, right=True),
        Column("bus", 0.11, right=True),
    )
    note = Paragraph("Values are the last samples up to that moment, unless a measure says more.", "muted")
    return [Heading("Moments in order"), Table(columns, rows), note]


def _moments(start: Start, events: tuple[Event, ...]) -> list[_Moment]:
    out: list[_Moment] = []

    def add(time_s: float | None, words: str, ng: float | None = None, itt: float | None = None) -> None:
        if time_s is not None:
            out.append(_Moment(time_s, words, ng, itt))

    for index, run in enumerate(start.starter_runs, start=1):
        which = f" {index}" if len(start.starter_runs) > 1 else ""
        power = {"battery": ", from the battery", "external": ", from external power"}.get(run.power, "")
        add(run.start_s, f"Starter on{which}{power}")
        if run.end_s is not None:
            words = duration_text(run.duration_s, run.duration_low_s, run.duration_high_s)
            add(run.end_s, f"Starter off{which}, after {words}")
    if not start.starter_runs:
        add(start.starter_on_s, "Starter on")
        add(start.starter_off_s, "Starter off")
    for index, period in enumerate(start.fuel_periods, start=1):
        which = f" {index}" if len(start.fuel_periods) > 1 else ""
        add(period.on_s, f"Fuel on{which}", ng=period.ng_at_fuel_pct)
        add(period.light_off_s, f"Light-off{which}")
        add(period.off_s, f"Fuel cut{which}")
    add(start.peak_itt_s, "Highest ITT", itt=start.peak_itt_c)
    for event in events:
        if base_name(event.channel or "") == "itt":
            for level in event.levels:
                if level.start_s is not None:
                    # The crossing lies between two samples: the level itself is the value there.
                    add(
                        level.start_s,
                        f"ITT above {plain(level.level, event.unit)} {unit_words(event.unit)}",
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


def plain_words(assessment: Assessment, start: Start, references: Sequence[Reference] = ()) -> list[Block]:
    """Return what was done, beside what the profile asks and what the references were like."""
    profile = assessment.profile
    lines = [
        line
        for line in (
            _fuel(start, profile, references),
            _stable(start, profile),
            _residual(start, profile, references),
            _light_off(start, profile, references),
            _peak(start, references),
            *_reaction(start),
            _motoring(start, profile),
            _idle(start, profile, references),
            _volts(start, profile, references),
        )
        if line
    ]
    if not lines:
        return []
    said = [reference.said for reference in references] or [NONE_TO_COMPARE]
    return [
        Heading("In plain words"),
        *(Paragraph(line) for line in lines),
        *(Paragraph(line, "muted") for line in said),
    ]


def _then(references: Sequence[Reference], measure: str) -> str:
    return "".join(reference.then(measure) for reference in references)


def _fuel(start: Start, profile: EngineProfile | None, references: Sequence[Reference]) -> str:
    value = start.ng_at_fuel_pct
    if value is None:
        return ""
    least = profile.start.min_fuel_ng_pct if profile is not None else None
    advised = profile.start.advised_fuel_ng_pct if profile is not None else None
    shown = beside(value, least, "%") if least is not None else value_text(value, "%")
    out = f"Fuel came in at {shown} Ng."
    if least is not None and value < least:
        out += f" The profile asks for at least {plain(least)} %: it came {number(least - value, 1)} % too early."
    elif advised is not None and value < advised:
        out += f" That is above the minimum and below the {plain(advised)} % that the profile advises."
    elif least is not None:
        out += f" The profile asks for at least {plain(least)} %."
    return out + _then(references, "ng_at_fuel")


def _stable(start: Start, profile: EngineProfile | None) -> str:
    if start.ng_stable_at_fuel is None:
        return ""
    rate = start.measures.get("ng_rate_at_fuel")
    slope = (
        f" (it gained {value_text(rate.value, '%/s')})" if rate is not None and rate.value is not None else ""
    )
    if start.ng_stable_at_fuel:
        return f"Ng had settled before fuel{slope}."
    return f"Ng was still rising when fuel came in{slope}."


def _residual(start: Start, profile: EngineProfile | None, references: Sequence[Reference]) -> str:
    most = profile.start.max_residual_itt_c if profile is not None else None
    if start.residual_itt_c is None or most is None or start.fuel_on_s is None:
        return ""
    unit = itt_unit(start)
    shown = beside(start.residual_itt_c, most, unit)
    out = f"ITT at fuel on was {shown}; the profile allows {reference_beside(start.residual_itt_c, most, unit)} {unit_words(unit)}."
    return out + _then(references, "residual_itt_fuel_on")


def _known(start: Start, name: str) -> Measure | None:
    measure = start.measures.get(name)
    return measure if measure is not None and measure.value is not None else None


def _light_off(start: Start, profile: EngineProfile | None, references: Sequence[Reference]) -> str:
    measure = _known(start, "fuel_to_light_off")
    if measure is None:
        return "No light-off was seen." if start.fuel_on_s is not None and start.light_off_s is None else ""
    within = profile.start.light_off_within_s if profile is not None else None
    allowed = f"; the profile allows {plain(within)} s" if within is not None else ""
    out = f"Light-off came {measure_text(measure)} after fuel{allowed}."
    return out + _then(references, "fuel_to_light_off")


def _peak(start: Start, references: Sequence[Reference]) -> str:
    if start.peak_itt_c is None:
        return ""
    out = f"The highest ITT was {value_text(start.peak_itt_c, itt_unit(start))}"
    if start.peak_itt_s is not None:
        out += f" at {clock_text(start.peak_itt_s)}"
    return out + "." + _then(references, "peak_itt")


def _reaction(start: Start) -> list[str]:
    """Return how long each level had been passed when fuel was cut."""
    crossed = sorted(
        (found[1], name)
        for name in start.measures
        if (found := level_of(name)) is not None and found[0] == "cut_after" and _known(start, name)
    )
    return [
        f"From the crossing of {plain(level, itt_unit(start))} {unit_words(itt_unit(start))} to the fuel cut "
        f"{measure_text(start.measures[name])} went by."
        for level, name in crossed
    ]


def _motoring(start: Start, profile: EngineProfile | None) -> str:
    measure = _known(start, "motored_after_cut")
    if measure is None:
        return ""
    wanted = profile.abort.motor_for_s if profile is not None else None
    asked = f"; the profile asks for {plain(wanted)} s" if wanted is not None else ""
    return f"After the fuel cut the starter motored for {measure_text(measure)}{asked}."


def _idle(start: Start, profile: EngineProfile | None, references: Sequence[Reference]) -> str:
    measure = _known(start, "light_off_to_idle")
    if measure is None:
        return ""
    within = profile.start.idle_within_s if profile is not None else None
    allowed = f"; the profile allows {plain(within)} s" if within is not None else ""
    out = f"Idle came {measure_text(measure)} after light-off{allowed}."
    return out + _then(references, "light_off_to_idle")


def _volts(start: Start, profile: EngineProfile | None, references: Sequence[Reference]) -> str:
    if start.min_bus_volts is None:
        return ""
    least = profile.start.min_bus_volts if profile is not None else None
    shown = (
        beside(start.min_bus_volts, least, "V") if least is not None else value_text(start.min_bus_volts, "V")
    )
    asked = f"; the profile asks for at least {plain(least)} V" if least is not None else ""
    out = f"The lowest voltage from 1 s after starter on was {shown}{asked}."
    return out + _then(references, "min_bus_volts")
