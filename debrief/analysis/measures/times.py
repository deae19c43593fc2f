"""How long the parts of one start attempt took."""

from __future__ import annotations

from debrief.analysis.evidence.measured import Measured
from debrief.analysis.measures.start_context import StartContext
from debrief.analysis.model import Measure
from debrief.analysis.signal.point_readings import FUEL_BEFORE, missing
from debrief.analysis.signal.sampling_bounds import idle_bounds, light_off_bounds


def times(c: StartContext) -> dict[str, Measured]:
    """Return when fuel came and how long light-off, idle and the starter took."""
    return {
        "fuel_on": Measured(_fuel_on(c), "time of the first sample with fuel", read=c.fuel_on),
        "fuel_to_light_off": Measured(
            _fuel_to_light_off(c),
            "time of the last sample before the rise − time of the first sample with fuel, not less than 0",
            ("start.light_off_within_s", "start.light_off_rise_c"),
            lambda: c.fuel_on() + c.light_off(),
        ),
        "light_off_to_idle": Measured(
            _light_off_to_idle(c),
            "time at which Ng crosses idle less its tolerance, to stay − time of the last sample before the rise",
            ("start.idle_within_s", "start.idle_ng_pct", "start.idle_tolerance_pct"),
            lambda: c.light_off() + c.at("ng", c.attempt.idle_s, "idle"),
        ),
        "starter_total": Measured(
            _starter_total(c), "sum of (release − starter on)", ("starter.duty",), c.starter_runs
        ),
    }


def _fuel_on(c: StartContext) -> Measure:
    fuel = c.fuel
    if fuel is None:
        return missing("s", "no fuel in this attempt")
    if fuel.began_inside:
        return missing("s", FUEL_BEFORE)
    if fuel.source == "light_off":
        return Measure(None, "s", fuel.on_low_s, fuel.on_s, True, "no fuel signal: only bounded")
    return Measure(fuel.on_s, "s", fuel.on_low_s, fuel.on_s, fuel.source != "fuel_on")


def _lit_between(c: StartContext, lit_s: float) -> tuple[float, float]:
    itt = c.view.trace("itt")
    return (lit_s, lit_s) if itt is None else light_off_bounds(itt, lit_s)


def _fuel_to_light_off(c: StartContext) -> Measure:
    fuel, lit = c.fuel, c.lit_s
    if fuel is None or lit is None:
        unseen = c.attempt.lit and "the light-off was not recorded"
        return missing("s", unseen or "no light-off in this attempt")
    if fuel.source == "light_off":
        return missing("s", "no fuel signal")
    if fuel.began_inside:
        return missing("s", FUEL_BEFORE)
    early, late = _lit_between(c, lit)
    begin = fuel.on_s if fuel.on_low_s is None else fuel.on_low_s
    took = lit - fuel.on_s
    return Measure(took, "s", max(early - fuel.on_s, 0.0), max(late - begin, took))


def _light_off_to_idle(c: StartContext) -> Measure:
    lit, idle, ng, at_idle = c.lit_s, c.attempt.idle_s, c.view.trace("ng"), c.view.profile.start.at_idle_pct
    if lit is None:
        return missing("s", "the light-off was not recorded" if c.attempt.lit else "never lit")
    if idle is None:
        return missing("s", "idle not reached")
    early, late = _lit_between(c, lit)
    low = high = idle
    if ng is not None and at_idle is not None:
        low, high = idle_bounds(ng, idle, at_idle)
    return Measure(idle - lit, "s", max(low - late, 0.0), high - min(early, lit))


def _starter_total(c: StartContext) -> Measure:
    runs = c.attempt.runs
    if not runs:
        return missing("s", "no starter engagement")
    if c.attempt.starter_inferred:
        return missing("s", "no starter channel: the release was not recorded")
    highs = [r.duration_high_s for r in runs if r.duration_high_s is not None]
    return Measure(
        sum(r.duration_s for r in runs),
        "s",
        sum(r.duration_low_s for r in runs),
        sum(highs) if len(highs) == len(runs) else None,
    )
