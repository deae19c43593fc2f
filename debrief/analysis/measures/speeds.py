"""Gas generator speeds of one start attempt: at fuel, motored, at engagement and release."""

from __future__ import annotations

from debrief.analysis.model import FuelPeriod, Measure
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import from_pairs
from debrief.analysis.signal.point_readings import FUEL_BEFORE, missing, slope, steepest, was_before
from debrief.analysis.signal.sampling_bounds import bounded, coasted, driven, light_off_bounds
from debrief.analysis.starts.attempts import Attempt


def speeds(
    view: EngineView, attempt: Attempt, fuel: FuelPeriod | None, on: float | None, out: dict[str, Measure]
) -> None:
    """Add the speeds at fuel, motored, at engagement and at release to `out`."""
    ng, itt = view.trace("ng"), view.trace("itt")
    rules = view.profile.start
    for name, unit in (
        ("ng_at_fuel", "%"),
        ("ng_rate_at_fuel", "%/s"),
        ("max_motoring_ng", "%"),
        ("ng_acceleration", "%/s"),
        ("starter_cutout_ng", "%"),
        ("ng_at_starter_on", "%"),
    ):
        out[name] = missing(unit, view.missing_because("ng") if ng is None else "not in this attempt")
    if ng is None:
        return
    inferred = fuel is not None and fuel.source == "light_off"
    if fuel is not None and fuel.ng_at_fuel_low_pct is not None:
        if inferred:
            out["ng_at_fuel"] = Measure(
                None,
                "%",
                fuel.ng_at_fuel_low_pct,
                fuel.ng_at_fuel_high_pct,
                True,
                "no fuel signal: fuel came between the engagement and the light-off",
            )
        else:
            out["ng_at_fuel"] = Measure(
                fuel.ng_at_fuel_pct, "%", fuel.ng_at_fuel_low_pct, fuel.ng_at_fuel_high_pct
            )
    elif fuel is not None:
        out["ng_at_fuel"] = missing("%", FUEL_BEFORE if was_before(fuel) else "no Ng sample where fuel came")
    if fuel is not None and was_before(fuel):
        out["ng_rate_at_fuel"] = missing("%/s", FUEL_BEFORE)
    elif fuel is not None and not inferred and rules.stable_for_s is not None:
        fitted = slope(ng, fuel.on_s - rules.stable_for_s - 1e-9, fuel.on_s)
        if fitted is None:
            out["ng_rate_at_fuel"] = missing("%/s", "fewer than three Ng samples just before fuel")
        else:
            out["ng_rate_at_fuel"] = Measure(fitted[0], "%/s", fitted[0] - fitted[1], fitted[0] + fitted[1])
    if on is not None:
        before_s = attempt.runs[0].start_low_s
        bounds = bounded(ng, on if before_s is None else before_s, on)
        value = ng.at(on)
        if bounds is not None and value is not None:
            least = None if before_s is None else coasted(ng, before_s, on)
            low = bounds[0] if least is None else min(bounds[0], least - ng.half_resolution)
            out["ng_at_starter_on"] = Measure(value, "%", low, bounds[1], attempt.starter_inferred)
        last, fuelled = _released(attempt), _fuelled(view, attempt)
        motored_to = motored_until(view, attempt)
        motored = ng.peak(from_pairs([(on, motored_to)]))
        if motored is not None:
            low = motored[1] - ng.half_resolution
            reached = bounded(ng, on, motored_to)
            high: float | None = motored[2] if reached is None else max(motored[2], reached[1])
            if motored_to == fuelled:
                high = None
            elif motored_to == last:
                on_until = attempt.runs[0].start_s + attempt.runs[0].duration_low_s
                most = driven(ng, on_until, motored_to)
                if high is not None and most is not None:
                    high = max(high, most + ng.half_resolution)
            elif itt is not None and attempt.first_light_off_s == motored_to:
                # It may have lit a sample sooner or later, with Ng rising all the time.
                sooner, later = light_off_bounds(itt, motored_to)
                reached = bounded(ng, on, later)
                high = motored[2] if reached is None else max(motored[2], reached[1])
                before = ng.peak(from_pairs([(on, max(sooner, on))]))
                low = low if before is None else min(low, before[1] - ng.half_resolution)
            out["max_motoring_ng"] = Measure(motored[1], "%", low, high, attempt.starter_inferred)
        released = attempt.runs[-1].end_s
        if released is not None:
            at = ng.at(released)
            if at is not None:
                out["starter_cutout_ng"] = Measure(at, "%")
        elif attempt.starter_inferred:
            out["starter_cutout_ng"] = missing("%", "no starter channel")
    if attempt.first_light_off_s is not None:
        stop = attempt.idle_s if attempt.idle_s is not None else attempt.end_s
        rate = steepest(ng, attempt.first_light_off_s, stop)
        if rate is not None:
            out["ng_acceleration"] = Measure(rate.value, "%/s", rate.low, rate.high)


def _released(attempt: Attempt) -> float | None:
    """Return when the starter first let go, where that was recorded."""
    return None if attempt.starter_inferred else attempt.runs[0].end_s


def _fuelled(view: EngineView, attempt: Attempt) -> float | None:
    """Return when fuel came, where ITT cannot show when it lit."""
    return attempt.fuels[0].on_s if view.trace("itt") is None and attempt.fuels else None


def motored_until(view: EngineView, attempt: Attempt) -> float:
    """Return until when the starter alone turned it: until it lit, or the starter let go.

    Where ITT cannot show when it lit, only until fuel came is sure.
    """
    known = (attempt.first_light_off_s, _released(attempt), _fuelled(view, attempt))
    ends = [x for x in known if x is not None]
    return min(ends) if ends else attempt.end_s
