"""The measures of one start attempt, each with bounds where sampling limits it and with its evidence."""

from __future__ import annotations

from debrief.analysis.evidence.measured import Measured
from debrief.analysis.measures.electrics import electrics
from debrief.analysis.measures.speeds import speeds
from debrief.analysis.measures.start_context import StartContext
from debrief.analysis.measures.surroundings import surroundings
from debrief.analysis.measures.temperatures import temperatures
from debrief.analysis.measures.times import times
from debrief.analysis.model import FuelPeriod
from debrief.analysis.signal.dead_pick_up import speed_at, speed_between
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import from_pairs
from debrief.analysis.starts.attempts import Attempt
from debrief.analysis.starts.light_off import Fuel


def fuel_period(view: EngineView, attempt: Attempt, fuel: Fuel, until: float) -> FuelPeriod:
    """Return one fuel period with its peak and the Ng at which fuel came."""
    ng, itt = view.trace("ng"), view.trace("itt")
    at = low = high = peak = peak_s = None
    if ng is not None and not fuel.began_inside:
        unseen = view.ng_unseen_below
        bounds = speed_between(ng, unseen, fuel.on_s if fuel.on_low_s is None else fuel.on_low_s, fuel.on_s)
        low, high = bounds or (None, None)
        if fuel.on_low_s is None:
            low = (
                None  # without an engagement before the light-off: how long before it fuel came is not known
            )
        # Without a fuel signal it is only bounded: it came between the engagement and the light-off.
        at = None if fuel.source == "light_off" else speed_at(ng, unseen, fuel.on_s)
    if itt is not None and fuel.light_off_s is not None:
        top = itt.peak(from_pairs([(fuel.light_off_s, until)]))
        if top is not None:
            peak_s, peak = top.time_s, top.value
    return FuelPeriod(
        fuel.on_s,
        fuel.on_low_s,
        fuel.off_s,
        fuel.off_low_s,
        fuel.seen_light_off_s,
        peak,
        peak_s,
        at,
        low,
        high,
        fuel.source,
    )


def measure_start(c: StartContext) -> dict[str, Measured]:
    """Return every measure of the attempt by name, but those of an abort. A name is always there; `why` says why a value is not."""
    return {**temperatures(c), **surroundings(c), **electrics(c), **speeds(c), **times(c)}
