"""A start in plain words: what was done, each beside its limit; for a student's paper and the story of the replay."""

from __future__ import annotations

from collections.abc import Container

from debrief.analysis.model import Assessment, Measure, Start
from debrief.profile.model import EngineProfile
from debrief.session.texts.definitions import level_of
from debrief.session.texts.plain_names import FROM_ONE_SECOND, after_words, bound_words, fuel_words, itt_unit
from debrief.words.clock import ELAPSED, Clock
from debrief.words.numbers import (
    beside,
    brief_duration,
    number,
    plain,
    reference_beside,
    unit_words,
    value_text,
)
from debrief.words.sampling import is_coarse, reading_text

TITLE = "In plain words"


def plain_words(
    assessment: Assessment, start: Start, told: Container[str] = (), clock: Clock = ELAPSED
) -> tuple[str, ...]:
    """Return what was done in a start, a sentence or two for each thing, in the order of a start.

    Parameters
    ----------
    told : container of str
        Measures, and kinds of findings, of which something else tells already.

    Notes
    -----
    Nothing is said of what was not measured, and no limit where the profile has none. Bounds are left to "why?".
    """
    profile, itt = assessment.profile, assessment.names(start.engine).itt
    lines = (
        ("ng_at_fuel", _fuel(start, profile)),
        ("ng_rate_at_fuel", _stable(start)),
        ("residual_itt_fuel_on", _residual(start, profile, itt)),
        ("fuel_to_light_off", _light_off(start, profile)),
        ("peak_itt", _peak(start, clock, itt)),
        *(("cut_after", line) for line in _reaction(start, itt)),
        ("motored_after_cut", _motoring(start, profile)),
        ("light_off_to_idle", _idle(start, profile)),
        ("min_bus_volts", _volts(start, profile)),
        *(
            (event.kind, event.message)
            for event in assessment.events_of(start)
            if event.kind in WITHOUT_A_MEASURE
        ),
    )
    return tuple(line for measure, line in lines if line and measure not in told)


WITHOUT_A_MEASURE = frozenset(
    ("hung_start", "burning_after_cut", "fuel_after_cut", "fuel_reintroduced", "starter_overrun")
)
"""Findings that no sentence about a measure tells."""


def _duration(measure: Measure) -> str:
    value, low, high = measure.value, measure.low, measure.high
    coarse = value is not None and is_coarse(value, low, high, "s")
    words = (
        reading_text(value, low, high, "s")
        if value is not None and coarse
        else brief_duration(value, low, high)
    )
    return ", ".join((words, *measure.marks))


def _limit(value: float | None, unit: str, word: str = "limit") -> str:
    return "" if value is None else f"; the {word} is {plain(value, unit)} {unit_words(unit)}"


def _fuel(start: Start, profile: EngineProfile | None) -> str:
    value = start.ng_at_fuel_pct
    if value is None:
        return ""
    least = profile.start.min_fuel_ng_pct if profile is not None else None
    advised = profile.start.advised_fuel_ng_pct if profile is not None else None
    out = f"Fuel came in at {fuel_words(start)} Ng"
    found = _known(start, "ng_at_fuel")
    if found is not None and is_coarse(value, found.low, found.high, "%"):
        out += _limit(least, "%", "minimum")
    elif least is not None:
        out = f"Fuel came in at {beside(value, least, '%')} Ng"
        if value < least:
            missing = number(least - value, 1)
            far = "just" if missing == number(0.0, 1) else f"{missing} % Ng"
            out += f", {far} below the minimum of {plain(least)} %"
        elif advised is not None and value < advised:
            out += f", above the minimum of {plain(least)} % and below the advised {plain(advised)} %"
        else:
            out += _limit(least, "%", "minimum")
    return f"{out}."


def _stable(start: Start) -> str:
    if start.ng_stable_at_fuel is None:
        return ""
    rate = start.measures.get("ng_rate_at_fuel")
    slope = f" by {value_text(rate.value, '%/s')}" if rate is not None and rate.value is not None else ""
    if start.ng_stable_at_fuel:
        return "Ng had settled before fuel."
    return f"Ng was still rising{slope} when fuel came in."


def _residual(start: Start, profile: EngineProfile | None, itt: str) -> str:
    most = profile.start.max_residual_itt_c if profile is not None else None
    value = start.residual_itt_c
    if value is None or most is None or start.fuel_on_s is None:
        return ""
    unit = itt_unit(start)
    limit = f"{reference_beside(value, most, unit)} {unit_words(unit)}"
    return f"{itt} at fuel on was {beside(value, most, unit)}; the limit is {limit}."


def _known(start: Start, name: str) -> Measure | None:
    measure = start.measures.get(name)
    return measure if measure is not None and measure.value is not None else None


def _light_off(start: Start, profile: EngineProfile | None) -> str:
    measure = _known(start, "fuel_to_light_off")
    if measure is None:
        return "No light-off was seen." if start.fuel_on_s is not None and start.light_off_s is None else ""
    within = profile.start.light_off_within_s if profile is not None else None
    came = ", ".join((after_words(start, "fuel_to_light_off", "fuel"), *measure.marks))
    return f"Light-off came {came}{_limit(within, 's')}."


def _peak(start: Start, clock: Clock, itt: str) -> str:
    if start.peak_itt_c is None:
        return ""
    out = f"Peak {itt} was {bound_words(start, 'peak_itt')}{value_text(start.peak_itt_c, itt_unit(start))}"
    if start.peak_itt_s is not None:
        out += f" at {clock.text(start.peak_itt_s)}"
    return f"{out}."


def _reaction(start: Start, itt: str) -> list[str]:
    """Return how long after each level was passed fuel was cut."""
    crossed = {
        found[1]: measure
        for name in start.measures
        if (found := level_of(name)) is not None and found[0] == "cut_after"
        if (measure := _known(start, name)) is not None
    }
    unit = itt_unit(start)
    return [
        f"Fuel was cut {_duration(measure)} after {itt} passed {plain(level, unit)} {unit_words(unit)}."
        for level, measure in sorted(crossed.items())
    ]


def _motoring(start: Start, profile: EngineProfile | None) -> str:
    measure = _known(start, "motored_after_cut")
    if measure is None or measure.value is None:
        return ""
    least = profile.abort.motor_for_s if profile is not None else None
    if measure.value < 0.05 and measure.high is not None:
        did = "the engine was not motored"
    else:
        did = f"the engine was motored for {_duration(measure)}"
    return f"After the fuel cut-off {did}{_limit(least, 's', 'minimum')}."


def _idle(start: Start, profile: EngineProfile | None) -> str:
    measure = _known(start, "light_off_to_idle")
    if measure is None:
        return ""
    within = profile.start.idle_within_s if profile is not None else None
    came = ", ".join((after_words(start, "light_off_to_idle", "light-off"), *measure.marks))
    return f"Idle came {came}{_limit(within, 's')}."


def _volts(start: Start, profile: EngineProfile | None) -> str:
    value = start.min_bus_volts
    if value is None:
        return ""
    least = profile.start.min_bus_volts if profile is not None else None
    shown = beside(value, least, "V") if least is not None else value_text(value, "V")
    at_most = bound_words(start, "min_bus_volts")
    return f"Lowest voltage was {at_most}{shown} {FROM_ONE_SECOND}{_limit(least, 'V', 'minimum')}."
