"""What a recording uses of an engine's life: starts, flights, equivalent cycles, use of the hot section."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial

import numpy as np

from debrief.analysis.evidence.evidence_samples import Readings, beside, stretch
from debrief.analysis.evidence.measured import Measured
from debrief.analysis.flight.flight_measures import MOST_STRETCHES
from debrief.analysis.flight.landings import Landings
from debrief.analysis.limits.applicability import PLACE_UNKNOWN, PLACE_UNSEEN, Course
from debrief.analysis.model import Measure, Start
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import mask
from debrief.analysis.signal.point_readings import missing
from debrief.analysis.signal.traces import Trace
from debrief.profile.model import LifeRules
from debrief.recording.model import FloatArray
from debrief.words import numbers

KELVIN = 273.15
REFERENCE_LIFE_H = 1000.0
"""Of a profile that gives none."""
NO_HEIGHT = "no height was recorded"
HOT_SECTION = "sum of 10^((C + lg t) × (1 − Tr / T)) × Δt over the samples while running, T and Tr in kelvin, t in hours"


def life_use(
    view: EngineView,
    starts: Sequence[Start],
    lit: FloatArray,
    course: Course,
    landings: Landings | None,
    itt: Trace | None,
) -> dict[str, Measured]:
    """Return what one engine's recording counts of its life.

    Parameters
    ----------
    view : EngineView
    starts : sequence of Start
    lit : (m, 2) float array
        From light-off to fuel cut-off, [s].
    course : Course
    landings : Landings or None
        None where no channel tells whether it flew.
    itt : Trace or None
        Without the samples that cannot be believed; None where it was not recorded.
    """
    return {
        "starts_completed": _starts_completed(view, starts),
        "flights": _flights(view, course, landings),
        "touch_and_goes": _touch_and_goes(view, course, landings),
        "go_arounds": _go_arounds(view, course, landings),
        "equivalent_cycles": _equivalent_cycles(view, starts, lit, course, landings),
        "hot_section_use": _hot_section_use(view, course, itt),
    }


def _starts_completed(view: EngineView, starts: Sequence[Start]) -> Measured:
    """Return how many starts came to idle; those that the recording's edges leave open count for the upper bound."""
    came = [s for s in starts if s.outcome == "completed"]
    open_ones = sum(s.outcome in ("incomplete", "unknown") for s in starts)
    of = partial(Measured, formula="number of starts that came to idle", keys=("start.idle_ng_pct",))
    if view.idle_unseen is not None and starts:
        return of(Measure(None, "", float(len(came)), float(len(starts)), why=view.idle_unseen))
    count = float(len(came))
    return of(
        Measure(count, "", count, count + open_ones),
        read=partial(_idles, view, came) if came else tuple,
    )


def _flights(view: EngineView, course: Course, landings: Landings | None) -> Measured:
    of = partial(Measured, formula="stretches in the air, less those that a touch-and-go ended")
    if landings is None:
        return of(missing("", PLACE_UNKNOWN))
    touched = np.isin(landings.flights[:, 1], landings.touch_and_goes)
    begun = landings.flights[~np.concatenate(([False], touched[:-1]))[: touched.size]]
    count = float(len(landings.flights) - np.count_nonzero(touched))
    return of(_counted(count, count, course), read=partial(_wheels, view, begun, "lift-off", 0))


def _touch_and_goes(view: EngineView, course: Course, landings: Landings | None) -> Measured:
    of = partial(Measured, formula="number of touchdowns from which it took off without slowing to a taxi")
    if landings is None:
        return of(missing("", PLACE_UNKNOWN))
    count = float(len(landings.touch_and_goes))
    ended = landings.flights[np.isin(landings.flights[:, 1], landings.touch_and_goes)]
    return of(
        _counted(count, count + len(landings.either), course),
        read=partial(_wheels, view, ended, "touchdown", 1),
    )


def _go_arounds(view: EngineView, course: Course, landings: Landings | None) -> Measured:
    of = partial(Measured, formula="number of approaches from which it climbed away above the ground")
    if landings is None:
        return of(missing("", PLACE_UNKNOWN))
    height = next((name for name in ("palt", "altitude") if view.trace(name) is not None), None)
    if height is None:
        return of(missing("", NO_HEIGHT))
    lows = landings.go_arounds
    count = float(len(lows))

    def read() -> Readings:
        return tuple(x for at in lows[:MOST_STRETCHES] for x in beside(view, height, at, "the lowest point"))

    return of(_counted(count, count + len(landings.either), course), read=read)


def _counted(count: float, most: float, course: Course, more: float = 0.0) -> Measure:
    """Return a count, at least so many where it was not recorded whether it flew."""
    hidden = bool(len(course.unplaced))
    return Measure(count, "", count, None if hidden else most + more, why=PLACE_UNSEEN if hidden else None)


def _wheels(view: EngineView, flights: FloatArray, what: str, edge_of: int) -> Readings:
    """Return the samples beside each lift-off or touchdown."""
    name = "ias" if view.channel("weight_on_wheels") is None else "weight_on_wheels"
    out: Readings = ()
    for time_s in flights[:MOST_STRETCHES, edge_of].tolist():
        out += beside(view, name, time_s, what)
    return out


def _equivalent_cycles(
    view: EngineView, starts: Sequence[Start], lit: FloatArray, course: Course, landings: Landings | None
) -> Measured:
    """Return one cycle for each start that came to idle, and the profile's part for each further take-off before its shutdown.

    Of an engine that ran before the recording nobody knows how often it took off since its start: the first take-off
    counts for the upper bound alone, unless the recording begins in the air.
    """
    factor = view.profile.life.cycle_factor
    of = partial(
        Measured,
        formula="starts that came to idle + factor × further take-offs before the shutdown",
        keys=("life.cycle_factor",),
    )
    if factor is None:
        return of(missing("", "the profile gives no part of a cycle for each further take-off"))
    completed = _starts_completed(view, starts)
    begun = completed.measure
    if landings is None or begun.value is None:
        why = PLACE_UNKNOWN if landings is None else begun.why
        return of(Measure(None, "", begun.low, None, why=why), read=completed.read)
    lift_offs = landings.flights[:, 0]
    further, first = 0, 0
    for begin, end in lit.tolist():
        off = int(np.count_nonzero((lift_offs > max(begin, 0.0)) & (lift_offs < end)))
        aloft = bool(len(lift_offs)) and lift_offs[0] <= 0.0 and begin <= 0.0
        further += off if aloft else max(off - 1, 0)
        first += begin <= 0.0 and not aloft and off > 0
    count = begun.value + factor * further
    more = (begun.high or 0.0) - begun.value + factor * (first + len(landings.either))
    return of(
        _counted(count, count, course, more),
        read=lambda: completed.read() + _wheels(view, landings.flights, "lift-off", 0),
    )


def _idles(view: EngineView, came: Sequence[Start]) -> Readings:
    out: Readings = ()
    for start in came[:MOST_STRETCHES]:
        out += beside(view, "ng", start.idle_s, f"idle{view.in_start(start)}")
    return out


def _hot_section_use(view: EngineView, course: Course, itt: Trace | None) -> Measured:
    """Return for how long running at the reference ITT would have used the hot section as much, by Larson and Miller.

    Notes
    -----
    P = T (C + log10 t), T in kelvin and t in hours (Larson and Miller 1952): at T the life is as much shorter than `t` at the
    reference as 10^((C + log10 t)(1 - Tr/T)) is larger than one. Between two samples the mean of both counts; the bounds
    take the lower and the higher one, with half a step of the recorder. Starts are left out: in seconds the metal does not
    take on the temperature of the gas.
    """
    rules, itt_name = view.profile.life, view.names.itt
    of = partial(
        Measured,
        formula=f"{HOT_SECTION}; t {numbers.plain(_life_h(rules))} h",
        keys=("life.reference_itt_c", "life.larson_miller_c", "life.reference_life_h"),
    )
    if rules.reference_itt_c is None or rules.larson_miller_c is None:
        lacking = f"reference {itt_name}" if rules.reference_itt_c is None else "Larson-Miller constant"
        return of(missing("s", f"the profile gives no {lacking}"))
    if itt is None:
        return of(missing("s", view.missing_because("itt", itt_name)))
    running = course.running.rows
    if course.run_unseen is not None:
        return of(missing("s", course.run_unseen))
    if not len(running):
        return of(Measure(0.0, "s", 0.0, 0.0))
    steps = np.diff(itt.time_s)
    inside = mask(running, 0.5 * (itt.time_s[1:] + itt.time_s[:-1]))
    counted = inside & ~itt.gap
    if not counted.any():
        return of(missing("s", f"{itt_name} was not recorded while the engine ran"))

    def added(rates_before: FloatArray, rates_after: FloatArray) -> float:
        return float((0.5 * (rates_before + rates_after) * steps)[counted].sum())

    half = itt.half_resolution
    usual = relative_rate(itt.values, rules)
    least, most = (relative_rate(itt.values + sign * half, rules) if half else usual for sign in (-1.0, 1.0))
    lower, upper = np.minimum(least[:-1], least[1:]), np.maximum(most[:-1], most[1:])
    between, _, apex = itt.tents
    upper[between] = np.maximum(upper[between], relative_rate(apex + half, rules))
    value, low, high = added(usual[:-1], usual[1:]), added(lower, lower), added(upper, upper)
    if not math.isfinite(high):
        return of(
            missing("s", f"the reference {itt_name} and the constant of the profile give no finite number")
        )
    unseen = itt.unseen(running)
    hidden = bool(len(unseen))
    return of(
        Measure(
            value,
            "s",
            low,
            None if hidden else high,
            why=f"a gap in {itt_name} hides a part of it" if hidden else None,
        ),
        read=partial(_while_running, view, running),
    )


def relative_rate(itt_c: FloatArray, rules: LifeRules) -> FloatArray:
    """Return how much faster than at the reference the hot section is used at these temperatures, [degC]."""
    kelvin = np.maximum(itt_c + KELVIN, 1.0)
    reference = (rules.reference_itt_c or 0.0) + KELVIN
    power = ((rules.larson_miller_c or 0.0) + math.log10(_life_h(rules))) * (1.0 - reference / kelvin)
    return np.asarray(np.exp(math.log(10.0) * np.minimum(power, 300.0)))


def _life_h(rules: LifeRules) -> float:
    return REFERENCE_LIFE_H if rules.reference_life_h is None else rules.reference_life_h


def _while_running(view: EngineView, running: FloatArray) -> Readings:
    """Return the samples of each stretch of running, long ones by their hottest."""
    out: Readings = ()
    trace = view.trace("itt")
    for begin, end in running[:MOST_STRETCHES].tolist():
        top = None if trace is None else trace.highest(np.array([[begin, end]]))
        hottest = () if top is None or trace is None else (int(trace.time_s.searchsorted(top[0])),)
        out += stretch(view, "itt", begin, end, "while running", hottest)
    return out
