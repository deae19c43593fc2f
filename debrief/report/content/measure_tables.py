"""The measures of a start in words, each beside what the profile says of it."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from debrief.analysis.model import Measure, Start
from debrief.profile.model import EngineProfile
from debrief.session.evidence.why import INSTANTS, LONG_TIMES
from debrief.session.texts.definitions import level_name, level_of, measure_title
from debrief.words.engines import engine_named, measure_of_engine
from debrief.words.numbers import (
    bounded,
    bounds,
    clock_bounds,
    clock_text,
    decimals_for,
    duration_text,
    length_text,
    long_time_text,
    plain,
    unit_words,
    value_text,
)

_Reference = Callable[[EngineProfile], str]


def _at_least(key: str, unit: str) -> _Reference:
    return lambda profile: _said(getattr(profile.start, key), profile.units.of(unit), "min")


def _at_most(key: str, unit: str) -> _Reference:
    return lambda profile: _said(getattr(profile.start, key), profile.units.of(unit), "max")


def _said(value: float | None, unit: str, words: str) -> str:
    return "" if value is None else f"{words} {plain(value, unit)} {unit_words(unit)}".rstrip()


def _fuel_ng(profile: EngineProfile) -> str:
    least = _said(profile.start.min_fuel_ng_pct, "%", "min")
    advised = _said(profile.start.advised_fuel_ng_pct, "%", "advised")
    return ", ".join(part for part in (least, advised) if part)


def _factor(key: str, unit: str, more: str = "") -> _Reference:
    def said(profile: EngineProfile) -> str:
        words = _said(getattr(profile.factors, key), profile.units.of(unit), "from")
        return f"{words} {more}".rstrip() if words else ""

    return said


def _motoring(profile: EngineProfile) -> str:
    seconds = _said(profile.abort.motor_for_s, "s", "min")
    until = _said(profile.abort.motor_until_itt_c, profile.units.of("degC"), "until below")
    return ", ".join(part for part in (seconds, until) if part)


def _starter(profile: EngineProfile) -> str:
    if not profile.starter.duty:
        return ""
    return f"max {plain(profile.starter.duty[0].run_s)} s a run"


_REFERENCES: Mapping[str, _Reference] = {
    "residual_itt_fuel_on": _at_most("max_residual_itt_c", "degC"),
    "ng_at_fuel": _fuel_ng,
    "ng_rate_at_fuel": _at_most("stable_ng_rate_pct_per_s", "%/s"),
    "fuel_to_light_off": _at_most("light_off_within_s", "s"),
    "light_off_to_idle": _at_most("idle_within_s", "s"),
    "rest_bus_volts": _at_least("min_bus_volts_before", "V"),
    "min_bus_volts": _at_least("min_bus_volts", "V"),
    "starter_total": _starter,
    "ng_at_starter_on": _at_most("max_engage_ng_pct", "%"),
    "oat": _factor("oat_c", "degC"),
    "density_altitude": _factor("density_altitude_ft", "ft"),
    "headwind": _factor("tailwind_kt", "kt", "tailwind"),
    "motored_after_cut": _motoring,
}
_ABORT = ("first_cue", "cue_to_cut", "motored_after_cut", "itt_at_starter_release")
"""Measures that are a moment of the recording, not a duration."""


@dataclass(frozen=True)
class MeasureRow:
    """One measure in words, with what the profile says of it (may be empty).

    `alone` is what stands in a list of what is not known: there the reason is enough.
    """

    name: str
    title: str
    value: str
    profile: str
    known: bool
    alone: str


def measure_text(measure: Measure) -> str:
    """Return a measure with its bounds, or why it is not known."""
    unit = measure.unit
    if measure.value is None:
        why = f": {measure.why}" if measure.why else ""
        if measure.low is not None and measure.high is not None:
            decimals = decimals_for(unit)
            low, high = bounds(measure.low, measure.high, decimals)
            return f"between {low} and {high} {unit_words(unit)}".rstrip() + why
        return f"not known{why}"
    text = _valued(measure, unit)
    return ", ".join((text, *measure.marks))


def _valued(measure: Measure, unit: str) -> str:
    if unit == "s":
        return duration_text(measure.value, measure.low, measure.high)
    return bounded(value_text(measure.value, unit), measure.low, measure.high, decimals_for(unit))


def start_rows(start: Start, profile: EngineProfile | None) -> tuple[MeasureRow, ...]:
    """Return the measures of a start that are not about an abort, in the order of the analysis."""
    names = [name for name in start.measures if not is_abort(name)]
    return tuple(_row(name, start.measures[name], profile) for name in names)


def abort_rows(start: Start, profile: EngineProfile | None) -> tuple[MeasureRow, ...]:
    """Return how the abort was flown; empty where nothing was cut."""
    names = sorted((name for name in start.measures if is_abort(name)), key=_abort_order)
    return tuple(_row(name, start.measures[name], profile) for name in names)


def flight_rows(measures: Mapping[str, Measure]) -> tuple[MeasureRow, ...]:
    """Return the measures of a whole recording."""
    named = {name: measure_of_engine(name) for name in measures}
    several = any(engine > 1 for _, engine in named.values())
    rows = []
    for name, measure in measures.items():
        own, engine = named[name]
        row = _row(own, measure, None)
        rows.append(replace(row, title=f"{row.title}, {engine_named(engine)}") if several else row)
    return tuple(rows)


def is_abort(name: str) -> bool:
    """Whether a measure is about how an attempt was ended."""
    return name in _ABORT or name.startswith("cut_after_")


def _abort_order(name: str) -> tuple[int, float]:
    found = level_of(name)
    if found is not None:
        return 1, found[1]
    return 0 if name in ("first_cue", "cue_to_cut") else 2, float(_ABORT.index(name))


def named_text(name: str, measure: Measure) -> str:
    """Return a measure as printed; a moment as the clock shows it, hours of a flight in hours and minutes."""
    if name in LONG_TIMES and measure.value is not None:
        said = long_time_text(measure.value, measure.low, measure.high)
        return ", ".join((said, *measure.marks))
    if name in LONG_TIMES and measure.low is not None and measure.high is not None:
        # Both ends are known, the value between them is not: it is said in the same words.
        low, high = length_text(math.floor(measure.low)), length_text(math.ceil(measure.high))
        return f"between {low} and {high}" + (f": {measure.why}" if measure.why else "")
    if name not in INSTANTS or measure.value is None:
        return measure_text(measure)
    text = clock_text(measure.value)
    if measure.low is None or measure.high is None or measure.low == measure.high:
        return text
    low, high = clock_bounds(measure.low, measure.high)
    return text if low == high else f"{text} ({low} to {high})"


def _row(name: str, measure: Measure, profile: EngineProfile | None) -> MeasureRow:
    reference = _REFERENCES.get(name)
    said = "" if profile is None or reference is None else reference(profile)
    if profile is not None and name.startswith("time_above_"):
        said = _allowed_above(name, profile)
    text, known = named_text(name, measure), measure.value is not None
    bounded = measure.low is not None and measure.high is not None
    alone = text if known or bounded or not measure.why else measure.why
    return MeasureRow(name, measure_title(name), text, said, known, alone)


def _allowed_above(name: str, profile: EngineProfile) -> str:
    for limit in profile.limits:
        if limit.channel == "itt" and limit.when == "start" and not limit.below:
            for row in limit.allowed:
                if name == level_name("time_above", row.level, limit.unit):
                    return "never" if row.seconds == 0 else f"max {plain(row.seconds)} s"
    return ""
