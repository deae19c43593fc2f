"""Gas generator speeds of one start attempt: at fuel, motored, at engagement and release."""

from __future__ import annotations

from functools import partial

from debrief.analysis.evidence.evidence_samples import Readings, stretch
from debrief.analysis.evidence.measured import LINE, Measured
from debrief.analysis.measures.start_context import RISE, StartContext
from debrief.analysis.model import Measure
from debrief.analysis.signal.dead_pick_up import nothing, speed_at, speed_between, unseen_words
from debrief.analysis.signal.interval_sets import from_pairs
from debrief.analysis.signal.point_readings import FUEL_BEFORE, STARTER_BEFORE, missing, slope
from debrief.analysis.signal.sampling_bounds import bounded, coasted, driven, light_off_bounds
from debrief.analysis.signal.traces import DOUBT, Trace

NOT_HERE = "not in this attempt"


def speeds(c: StartContext) -> dict[str, Measured]:
    """Return the speeds at fuel, motored, at engagement and at release."""
    return {
        "ng_at_fuel": Measured(
            _at_fuel(c),
            LINE,
            ("start.min_fuel_ng_pct", "start.advised_fuel_ng_pct"),
            partial(_fuel_samples, c),
        ),
        "ng_rate_at_fuel": _rate_at_fuel(c),
        "max_motoring_ng": _motored(c),
        "ng_acceleration": _acceleration(c),
        "starter_cutout_ng": _cutout(c),
        "ng_at_starter_on": _engaged(c),
    }


def _lacking(c: StartContext, unit: str = "%") -> Measure:
    return missing(unit, c.view.missing_because("ng", "Ng") if c.view.trace("ng") is None else NOT_HERE)


def _at_fuel(c: StartContext) -> Measure:
    fuel, period = c.fuel, c.period
    if c.view.trace("ng") is None or fuel is None or period is None:
        return _lacking(c)
    if period.ng_at_fuel_high_pct is None:
        return missing("%", FUEL_BEFORE if fuel.began_inside else "no Ng sample where fuel came")
    between = period.ng_at_fuel_low_pct, period.ng_at_fuel_high_pct
    if fuel.source == "light_off":
        why = "no fuel signal: fuel came between the engagement and the light-off"
        return Measure(None, "%", *between, True, why)
    unseen = c.view.ng_unseen_below
    known = period.ng_at_fuel_pct is not None or unseen is None
    return Measure(period.ng_at_fuel_pct, "%", *between, why=None if known else unseen_words(unseen or 0.0))


def _fuel_samples(c: StartContext) -> Readings:
    fuel = c.fuel
    if fuel is None:
        return ()
    if fuel.source == "light_off":
        low = fuel.on_s if fuel.on_low_s is None else fuel.on_low_s
        return c.at("ng", low, "the engagement") + c.at("ng", fuel.on_s, "light-off")
    return c.fuel_on() + c.at("ng", fuel.on_s, "fuel on")


def _rate_at_fuel(c: StartContext) -> Measured:
    ng, fuel, over = c.view.trace("ng"), c.fuel, c.view.profile.start.stable_for_s
    of = partial(
        Measured,
        formula="least-squares slope of all samples of the stretch",
        keys=("start.stable_ng_rate_pct_per_s", "start.stable_for_s"),
    )
    if ng is not None and fuel is not None and fuel.began_inside:
        return of(missing("%/s", FUEL_BEFORE))
    if ng is None or fuel is None or fuel.source == "light_off" or over is None:
        return of(_lacking(c, "%/s"))
    begin, end = fuel.on_s - over - 1e-9, fuel.on_s
    fitted, unseen = slope(ng, begin, end), c.view.ng_unseen_below
    if unseen is not None and speed_at(ng, unseen, begin) is None:
        return of(missing("%/s", unseen_words(unseen)))
    if fitted is None:
        return of(missing("%/s", "fewer than three Ng samples just before fuel"))
    # It came between the last sample without and the first with it: so the stretch may end sooner.
    sooner = None if fuel.on_low_s is None else slope(ng, fuel.on_low_s - over - 1e-9, fuel.on_low_s)
    either = [fitted] if sooner is None else [fitted, sooner]
    low, high = (
        op(rate + sign * DOUBT * error for rate, error in either) for op, sign in ((min, -1), (max, 1))
    )
    return of(
        Measure(fitted[0], "%/s", low, high),
        read=lambda: c.fuel_on() + stretch(c.view, "ng", begin, end, "just before fuel"),
    )


def _engaged(c: StartContext) -> Measured:
    """Return Ng when the starter engaged: it may have run down until between two samples."""
    ng, on, before_s = c.view.trace("ng"), c.on_s, c.on_low_s
    of = partial(Measured, formula=LINE, keys=("start.max_engage_ng_pct",))
    if ng is None or on is None:
        return of(_lacking(c))
    if before_s is None and not c.attempt.starter_inferred:
        return of(missing("%", STARTER_BEFORE))
    unseen = c.view.ng_unseen_below
    value, bounds = (
        speed_at(ng, unseen, on),
        speed_between(ng, unseen, on if before_s is None else before_s, on),
    )
    if bounds is not None and value is None and unseen is not None:
        return of(Measure(None, "%", *bounds, c.attempt.starter_inferred, unseen_words(unseen)))
    if bounds is None or value is None:
        return of(_lacking(c))
    least = None if before_s is None else coasted(ng, before_s, on)
    low = bounds[0] if least is None else min(bounds[0], max(least - ng.doubt, 0.0))
    return of(
        Measure(value, "%", low, bounds[1], c.attempt.starter_inferred),
        read=lambda: c.starter_on() + c.at("ng", on, "starter on"),
    )


def _motored(c: StartContext) -> Measured:
    """Return the highest Ng that the starter alone turned it to: until it lit, or the starter let go.

    Where ITT cannot show when it lit, only until fuel came is sure.
    """
    ng, on, attempt = c.view.trace("ng"), c.on_s, c.attempt
    of = partial(Measured, formula="highest sample")
    if ng is None or on is None:
        return of(_lacking(c))
    released_s = None if attempt.starter_inferred else attempt.runs[0].end_s
    fuelled_s = attempt.fuels[0].on_s if c.view.trace("itt") is None and attempt.fuels else None
    known = [x for x in (attempt.first_light_off_s, released_s, fuelled_s) if x is not None]
    until = min(known, default=attempt.end_s)
    top = ng.peak(from_pairs([(on, until)]))
    if top is None:
        return of(_lacking(c))
    read = c.highest("ng", on, until, top[0])
    unseen = c.view.ng_unseen_below
    if unseen is not None and top.value <= nothing(ng):
        return of(Measure(None, "%", 0.0, unseen, attempt.starter_inferred, unseen_words(unseen)), read=read)
    low, high = top.low, _most(ng, on, until, top.high)
    if until == fuelled_s:
        return of(Measure(top.value, "%", low, None, attempt.starter_inferred), read=read)
    itt = c.view.trace("itt")
    if until == released_s:
        run = attempt.runs[0]
        most = driven(ng, run.start_s + run.duration_low_s, until)
        high = high if most is None else max(high, most + ng.doubt)
    elif itt is not None and until == attempt.first_light_off_s:
        # It may have lit a sample sooner or later, with Ng rising all the time.
        sooner, later = light_off_bounds(itt, until)
        high = _most(ng, on, later, top.high)
        before = ng.peak(from_pairs([(on, max(sooner, on))]))
        low = low if before is None else min(low, before.low)
    return of(Measure(top.value, "%", low, high, attempt.starter_inferred), read=read)


def _most(ng: Trace, begin: float, end: float, most: float) -> float:
    """Return how high Ng may have been between two instants, at least as high as it is known to have been."""
    reached = bounded(ng, begin, end)
    return most if reached is None else max(most, reached[1])


def _cutout(c: StartContext) -> Measured:
    ng, runs = c.view.trace("ng"), c.attempt.runs
    of = partial(Measured, formula=LINE)
    if ng is None or not runs:
        return of(_lacking(c))
    released = runs[-1].end_s
    if released is None:
        return of(missing("%", "no starter channel") if c.attempt.starter_inferred else _lacking(c))
    value = ng.at(released)
    if value is None:
        return of(_lacking(c))
    return of(Measure(value, "%"), read=lambda: c.starter_off() + c.at("ng", released, "release"))


def _acceleration(c: StartContext) -> Measured:
    ng, stop = c.view.trace("ng"), c.attempt.end_s if c.attempt.idle_s is None else c.attempt.idle_s
    lacking = _lacking(c, "%/s")
    return Measured(lacking, RISE) if ng is None else c.steepest(ng, "ng", stop, lacking)
