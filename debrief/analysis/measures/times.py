"""How long the parts of one start attempt took."""

from __future__ import annotations

from debrief.analysis.model import FuelPeriod, Measure
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.point_readings import FUEL_BEFORE, missing, was_before
from debrief.analysis.signal.sampling_bounds import idle_bounds, light_off_bounds
from debrief.analysis.starts.attempts import Attempt


def times(view: EngineView, attempt: Attempt, fuel: FuelPeriod | None, out: dict[str, Measure]) -> None:
    """Add when fuel came and how long light-off, idle and the starter took to `out`."""
    itt, ng, rules = view.trace("itt"), view.trace("ng"), view.profile.start
    lit = fuel.light_off_s if fuel is not None else None
    if fuel is None:
        out["fuel_on"] = missing("s", "no fuel in this attempt")
    elif was_before(fuel):
        out["fuel_on"] = missing("s", FUEL_BEFORE)
    elif fuel.source == "light_off":
        out["fuel_on"] = Measure(None, "s", fuel.on_low_s, fuel.on_s, True, "no fuel signal: only bounded")
    else:
        out["fuel_on"] = Measure(fuel.on_s, "s", fuel.on_low_s, fuel.on_s, fuel.source != "fuel_on")
    inferred = fuel is not None and fuel.source == "light_off"
    if fuel is None or lit is None:
        unseen = attempt.lit and "the light-off was not recorded"
        out["fuel_to_light_off"] = missing("s", unseen or "no light-off in this attempt")
    elif inferred:
        out["fuel_to_light_off"] = missing("s", "no fuel signal")
    elif was_before(fuel):
        out["fuel_to_light_off"] = missing("s", FUEL_BEFORE)
    else:
        early, late = (lit, lit) if itt is None else light_off_bounds(itt, lit)
        begin = fuel.on_s if fuel.on_low_s is None else fuel.on_low_s
        out["fuel_to_light_off"] = Measure(
            lit - fuel.on_s, "s", max(early - fuel.on_s, 0.0), max(late - begin, lit - fuel.on_s)
        )
    if lit is None or attempt.idle_s is None:
        why = "never lit" if not attempt.lit else "the light-off was not recorded"
        out["light_off_to_idle"] = missing("s", why if lit is None else "idle not reached")
    else:
        early, late = (lit, lit) if itt is None else light_off_bounds(itt, lit)
        low = high = attempt.idle_s
        if ng is not None and rules.idle_ng_pct is not None:
            low, high = idle_bounds(ng, attempt.idle_s, rules.idle_ng_pct - (rules.idle_tolerance_pct or 0.0))
        out["light_off_to_idle"] = Measure(
            attempt.idle_s - lit, "s", max(low - late, 0.0), high - min(early, lit)
        )
    if not attempt.runs:
        out["starter_total"] = missing("s", "no starter engagement")
    elif attempt.starter_inferred:
        out["starter_total"] = missing("s", "no starter channel: the release was not recorded")
    else:
        highs = [r.duration_high_s for r in attempt.runs]
        out["starter_total"] = Measure(
            sum(r.duration_s for r in attempt.runs),
            "s",
            sum(r.duration_low_s for r in attempt.runs),
            None if any(h is None for h in highs) else sum(h for h in highs if h is not None),
        )
