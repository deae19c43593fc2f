"""Start attempts turned into the values that are reported."""

from __future__ import annotations

from bisect import bisect_right

import numpy as np

from debrief.analysis.evidence.measured import evidence_of, measures_of
from debrief.analysis.measures.aborts import aborts
from debrief.analysis.measures.start_context import StartContext
from debrief.analysis.measures.start_measures import fuel_period, measure_start
from debrief.analysis.model import Measure, Outcome, Start, StartKind
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import contains, from_pairs
from debrief.analysis.signal.time_curve import time_above_curve
from debrief.analysis.signal.traces import DOUBT
from debrief.analysis.starts.attempts import Attempt, Found
from debrief.analysis.starts.edge_bounds import StartWindow
from debrief.analysis.starts.fuel_cuts import (
    cut_notes,
    cuts_of,
    first_cue,
    judged_cut,
    motored_on,
)
from debrief.analysis.starts.hang_detection import Hang
from debrief.analysis.starts.light_off import Fuel
from debrief.recording.model import FloatArray
from debrief.words import numbers
from debrief.words.sentence import sentence

RELIGHT_WITHIN_S = 60.0
CURVE_LEAST_C = 300.0


def outcome_of(view: EngineView, attempt: Attempt, hang: Hang | None) -> Outcome:
    """Return how the attempt came out: the first that fits, in the order of the definitions."""
    if attempt.idle_s is not None:
        return "completed"
    at_edge = attempt.ended_by == "recording"
    if attempt.lit and attempt.idle_unseen is not None:
        return "unknown"
    if attempt.lit:
        fuel = [f for f in attempt.fuels if f.light_off_s is not None][-1]
        if fuel.out_s is not None:
            return "flamed_out"
        if hang is not None:
            return "hung"
        if fuel.off_s is not None:
            return "aborted"
        if at_edge:
            return "incomplete"
        return "flamed_out"  # it stood, or was started again, with fuel still on
    if attempt.fuels:
        fuel = attempt.fuels[-1]
        wait = view.profile.start.light_off_within_s
        if view.trace("itt") is None:
            return "incomplete" if at_edge else "unknown"
        if fuel.began_inside:
            return "incomplete"  # whether it had lit before the recording began is not known
        if at_edge and fuel.off_s is None and (wait is None or view.end_s - fuel.on_s <= wait):
            return "incomplete"
        return "no_light_off"
    if at_edge and any(r.end_s is None and not r.inferred for r in attempt.runs):
        return "incomplete"
    if _turned_before(view, attempt):
        return "incomplete"  # whether fuel came before the recording began is not known
    if view.channel("fuel_on") is not None or view.channel("fuel_flow") is not None:
        return "motoring"
    return "unknown"


def _turned_before(view: EngineView, attempt: Attempt) -> bool:
    """Return whether the recording begins with the starter on and the engine turning: inside an attempt."""
    first = attempt.runs[0] if attempt.runs else None
    if first is None or first.inferred or first.start_low_s is not None:
        return False
    ng, stopped = view.trace("ng"), view.profile.start.stopped_ng_pct
    speed = None if ng is None else ng.at(first.start_s)
    return speed is None or speed >= (0.0 if stopped is None else stopped)


def kind_of(view: EngineView, found: Found, attempt: Attempt, airborne: FloatArray | None) -> StartKind:
    """Return ground, assisted_air, windmilling or relight."""
    ng = view.trace("ng")
    speed = None if ng is None else ng.at(attempt.begin_s)
    in_air = airborne is not None and contains(airborne, attempt.begin_s)
    if attempt.runs:
        return "assisted_air" if in_air else "ground"
    if attempt.fuels and attempt.fuels[0].began_inside and attempt.begin_s <= 0.0:
        return "windmilling" if in_air else "ground"  # the starter may have driven it before the recording
    ended = found.flame_ends_s
    n = bisect_right(ended, attempt.begin_s)
    if n and attempt.begin_s - ended[n - 1] <= RELIGHT_WITHIN_S:
        return "relight"
    # On the ground an engine whose starter was not recorded may have been turned by it.
    driven = view.channel("starter") is not None and attempt.begin_s > 0.0
    if in_air or (driven and speed is not None and speed > view.turning_pct):
        return "windmilling"
    return "ground"


def build_start(
    view: EngineView,
    found: Found,
    number: int,
    counted: StartWindow,
    hang: Hang | None,
    airborne: FloatArray | None,
) -> Start:
    """Return the reported value of the attempt of this number, without factors (they need the events)."""
    attempt = found.attempts[number - 1]
    run_on_s = _run_on_s(view, counted)
    until = max(min(max(attempt.end_s, attempt.window_end_s), counted.following[1]), run_on_s)
    periods = []
    for n, fuel in enumerate(attempt.fuels):
        stop = attempt.fuels[n + 1].on_s if n + 1 < len(attempt.fuels) else until
        periods.append(fuel_period(view, attempt, fuel, max(stop, fuel.on_s)))
    fuel_periods = tuple(periods)
    context = StartContext(view, attempt, fuel_periods[-1] if fuel_periods else None, until, counted)
    measured = measure_start(context)
    last = attempt.last_fuel
    cuts = cuts_of(attempt)
    cut = judged_cut(cuts)
    cue = None if cut is None else first_cue(view, attempt, hang, cut)
    if cut is not None:
        measured.update(aborts(context, cut, cue))
    measures = measures_of(measured)
    inferred: list[str] = []
    if attempt.starter_inferred:
        inferred.append("starter_on_s")
    if last is not None and last.source == "light_off":
        inferred.append("light_off_s")
        if last.off_s is not None and attempt.idle_s is None:
            inferred.append("fuel_off_s")
    elif last is not None and last.source == "fuel_flow":
        inferred.append("fuel_on_s")
        if last.off_s is not None and attempt.idle_s is None:
            inferred.append("fuel_off_s")
    notes = [sentence("{note}", note=note) for note in attempt.notes]
    if cut is not None and cue is not None:
        at = numbers.clock_text(cue.at_s)
        notes.append(sentence("First cue: {cue} at {at}.", cue=cue.words, at=at))
    if cut is not None:
        notes += cut_notes(view, attempt, hang, cuts, cut)
        if cut.again is None and cut.fuel.light_off_s is not None:
            notes += motored_on(next(iter(found.attempts[number : number + 1]), None), number + 1)
    first = attempt.runs[0] if attempt.runs else None
    begins_inside = first is not None and first.start_low_s is None and not first.inferred
    if begins_inside:
        notes.append(sentence("The recording begins with the starter on: what came before is not known."))
    if last is not None and last.began_inside and last.on_s <= 0.0:
        notes.append(
            sentence("The recording begins with fuel on: when it came and when it lit is not known.")
        )
    period = context.period
    peak = measures["peak_itt"]
    peak_s = None
    itt = view.trace("itt")
    if peak.value is not None and itt is not None:
        top = itt.highest(from_pairs([(attempt.begin_s, until)]))
        peak_s = None if top is None else top[0]
    curve = None
    channel = view.channel("itt")
    if itt is not None and channel is not None and attempt.lit:
        window = counted.window.rows
        curve = time_above_curve(itt, window, channel.name, channel.unit, CURVE_LEAST_C, run_on_s)
    return Start(
        number=number,
        engine=view.engine,
        kind=kind_of(view, found, attempt, airborne),
        outcome=outcome_of(view, attempt, hang),
        begin_s=attempt.begin_s,
        end_s=attempt.end_s,
        window_end_s=attempt.window_end_s,
        starter_on_s=None if first is None or begins_inside else first.start_s,
        starter_off_s=attempt.runs[-1].end_s if attempt.runs else None,
        # Without a fuel signal fuel is only bounded, between the engagement and the light-off.
        fuel_on_s=None
        if period is None or last is None or period.source == "light_off" or last.began_inside
        else period.on_s,
        fuel_off_s=_cut_time(attempt, last),
        light_off_s=None if period is None else period.light_off_s,
        idle_s=attempt.idle_s,
        peak_itt_c=peak.value,
        peak_itt_s=peak_s,
        ng_at_fuel_pct=measures["ng_at_fuel"].value,
        ng_stable_at_fuel=_stable(view, measures["ng_rate_at_fuel"]),
        max_motoring_ng_pct=measures["max_motoring_ng"].value,
        min_bus_volts=measures["min_bus_volts"].value,
        rest_bus_volts=measures["rest_bus_volts"].value,
        residual_itt_c=measures["residual_itt_fuel_on" if attempt.fuels else "residual_itt_starter_on"].value,
        fuel_periods=fuel_periods,
        starter_runs=tuple(attempt.runs),
        measures=measures,
        inferred=tuple(inferred),
        time_above=curve,
        notes=tuple(notes),
        evidence=evidence_of(measured, view.profile.lines),
    )


def _run_on_s(view: EngineView, counted: StartWindow) -> float:
    """Return until when a run above a start level counts for the start, past its window, [s]; -inf without one.

    The start's temperature is its own to there, as it is in the limit's event.
    """
    itt = view.trace("itt")
    if itt is None or not view.start_levels:
        return -np.inf
    rows = counted.above(itt, min(view.start_levels)).estimate
    return float(rows[-1, 1]) if len(rows) else -np.inf


def _cut_time(attempt: Attempt, fuel: Fuel | None) -> float | None:
    """Return the cut of the last fuel where it belongs to the attempt, not to a later shutdown."""
    if fuel is None or fuel.off_s is None or attempt.idle_s is not None:
        return None
    if attempt.idle_unseen is not None and fuel.off_s > attempt.end_s:
        return None  # the longest start was over by then
    return fuel.off_s


def _stable(view: EngineView, rate: Measure) -> bool | None:
    """Return whether Ng had stabilised; None where the slope is less certain than the criterion."""
    criterion = view.profile.start.stable_ng_rate_pct_per_s
    if criterion is None or rate.value is None or rate.low is None or rate.high is None:
        return None
    deviation = (rate.high - rate.low) / (2.0 * DOUBT)
    return None if deviation > criterion else abs(rate.value) < criterion
