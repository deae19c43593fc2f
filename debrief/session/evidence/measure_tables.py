"""The measures of a start in words, each beside what the profile says of it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

from debrief.analysis.model import Measure, Start
from debrief.profile.model import EngineProfile
from debrief.session.evidence.why import INSTANTS, LONG_TIMES
from debrief.session.texts.definitions import level_name, level_of, measure_title
from debrief.words.channels import USUAL_NAMES, ChannelNames
from debrief.words.engines import engine_named, measure_of_engine
from debrief.words.numbers import (
    beside,
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


@dataclass(frozen=True)
class _Rule:
    """A number of the profile beside which a measure is held: where it stands, its unit, and what it means."""

    table: Literal["start", "starter", "abort", "factors"]
    key: str
    unit: str
    word: str
    more: str = ""

    def value(self, profile: EngineProfile) -> float | None:
        """Return the number; None where the profile has none."""
        if self.table == "starter":
            return profile.starter.duty[0].run_s if profile.starter.duty else None
        found: float | None = getattr(getattr(profile, self.table), self.key)
        return found

    def words(self, profile: EngineProfile, text: str) -> str:
        """Return the number, as printed, with its unit and what it means."""
        return " ".join(
            part for part in (self.word, text, unit_words(profile.units.of(self.unit)), self.more) if part
        )


_RULES: Mapping[str, tuple[_Rule, ...]] = {
    "residual_itt_fuel_on": (_Rule("start", "max_residual_itt_c", "degC", "at most"),),
    "ng_at_fuel": (
        _Rule("start", "min_fuel_ng_pct", "%", "at least"),
        _Rule("start", "advised_fuel_ng_pct", "%", "advised"),
    ),
    "ng_rate_at_fuel": (_Rule("start", "stable_ng_rate_pct_per_s", "%/s", "at most"),),
    "fuel_to_light_off": (_Rule("start", "light_off_within_s", "s", "at most"),),
    "light_off_to_idle": (_Rule("start", "idle_within_s", "s", "at most"),),
    "rest_bus_volts": (_Rule("start", "min_bus_volts_before", "V", "at least"),),
    "min_bus_volts": (_Rule("start", "min_bus_volts", "V", "at least"),),
    "starter_total": (_Rule("starter", "duty", "s", "at most", "a run"),),
    "ng_at_starter_on": (_Rule("start", "max_engage_ng_pct", "%", "at most"),),
    "oat": (_Rule("factors", "oat_c", "degC", "a factor from"),),
    "density_altitude": (_Rule("factors", "density_altitude_ft", "ft", "a factor from"),),
    "headwind": (_Rule("factors", "tailwind_kt", "kt", "a factor from", "tailwind"),),
    "motored_after_cut": (
        _Rule("abort", "motor_for_s", "s", "at least"),
        _Rule("abort", "motor_until_itt_c", "degC", "until below"),
    ),
}
_ABORT = ("first_cue", "cue_to_cut", "motored_after_cut", "itt_at_starter_release")
"""Measures that are a moment of the recording, not a duration."""


@dataclass(frozen=True)
class MeasureRow:
    """One measure in words, with what the profile says of it (may be empty).

    `keys` are the key paths of the profile whose numbers stand in `profile`, or in the title. `alone` is what stands in a
    list of what is not known: there the reason is enough.
    """

    name: str
    title: str
    value: str
    profile: str
    known: bool
    alone: str
    keys: frozenset[str] = frozenset()


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


def start_rows(
    start: Start, profile: EngineProfile | None, names: ChannelNames = USUAL_NAMES
) -> tuple[MeasureRow, ...]:
    """Return the measures of a start that are not about an abort, in the order of the analysis."""
    own = names.of_engine(start.engine)
    wanted = [name for name in start.measures if not is_abort(name)]
    return tuple(_row(name, start.measures[name], profile, own) for name in wanted)


def abort_rows(
    start: Start, profile: EngineProfile | None, names: ChannelNames = USUAL_NAMES
) -> tuple[MeasureRow, ...]:
    """Return how the abort was flown; empty where nothing was cut."""
    own = names.of_engine(start.engine)
    wanted = sorted((name for name in start.measures if is_abort(name)), key=_abort_order)
    return tuple(_row(name, start.measures[name], profile, own) for name in wanted)


def flight_rows(measures: Mapping[str, Measure], names: ChannelNames = USUAL_NAMES) -> tuple[MeasureRow, ...]:
    """Return the measures of a whole recording."""
    named = {name: measure_of_engine(name) for name in measures}
    several = any(engine > 1 for _, engine in named.values())
    rows = []
    for name, measure in measures.items():
        own, engine = named[name]
        row = _row(own, measure, None, names.of_engine(engine))
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


def _row(name: str, measure: Measure, profile: EngineProfile | None, names: ChannelNames) -> MeasureRow:
    said = "" if profile is None else profile_words(name, profile)
    text, known = named_text(name, measure), measure.value is not None
    bounded = measure.low is not None and measure.high is not None
    alone = text if known or bounded or not measure.why else measure.why
    keys = frozenset[str]() if profile is None else _said_keys(name, profile)
    return MeasureRow(name, measure_title(name, names), text, said, known, alone, keys)


def profile_words(name: str, profile: EngineProfile) -> str:
    """Return what the profile says of a measure, such as ``at most 45 s a run``; empty where it says nothing."""
    allowed, _ = _allowed_above(name, profile)
    if allowed is not None:
        return "never" if allowed == 0 else f"at most {plain(allowed)} s"
    rules = ((rule, rule.value(profile)) for rule in _RULES.get(name, ()))
    return ", ".join(
        rule.words(profile, plain(value, profile.units.of(rule.unit)))
        for rule, value in rules
        if value is not None
    )


def _said_keys(name: str, profile: EngineProfile) -> frozenset[str]:
    """Return the key paths of the profile whose numbers stand in `profile_words`, or in the measure's title."""
    _, path = _allowed_above(name, profile)
    rules = (f"{rule.table}.{rule.key}" for rule in _RULES.get(name, ()) if rule.value(profile) is not None)
    return frozenset((path,) if path else rules)


def beside_profile(name: str, value: float, unit: str, profile: EngineProfile | None) -> tuple[str, str]:
    """Return a value without bounds, and what the profile says of it: each reads on its own side of the other."""
    if profile is None:
        return value_text(value, unit), ""
    level = next((rule.value(profile) for rule in _RULES.get(name, ())), _allowed_above(name, profile)[0])
    shown = value_text(value, unit) if level is None else beside(value, level, unit)
    return shown, profile_words(name, profile)


def _allowed_above(name: str, profile: EngineProfile) -> tuple[float | None, str]:
    """Return the seconds allowed above the level that a measure counts, [s], with their key path; None where it is no such measure."""
    for limit in profile.limits:
        if limit.channel == "itt" and limit.when == "start" and not limit.below:
            for number, row in enumerate(limit.allowed, start=1):
                if name == level_name("time_above", row.level, limit.unit):
                    return row.seconds, f"limits.{limit.id}.allowed[{number}]"
    return None, ""
