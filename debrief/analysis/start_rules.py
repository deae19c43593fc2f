"""The rules of ``[start]`` against each attempt: events, and what could not be judged."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from debrief.analysis import wording
from debrief.analysis.attempts import Found
from debrief.analysis.bounds import coasted, light_off_bounds
from debrief.analysis.engine_view import EngineView
from debrief.analysis.exceedance import time_above
from debrief.analysis.hung import Hang
from debrief.analysis.intervals import from_pairs, total_s
from debrief.analysis.light_off import Fuel
from debrief.analysis.model import (
    Event,
    EventClass,
    Evidence,
    FuelPeriod,
    NotJudged,
    Severity,
    Start,
    StarterRun,
)
from debrief.analysis.start_values import FUEL_BEFORE, steepest
from debrief.analysis.traces import lowest_before

BURN_RATE_C_PER_S = 5.0
CLASSES: dict[str, EventClass] = {
    "early_fuel": "procedure",
    "no_light_off": "procedure",
    "starter_overrun": "procedure",
    "fuel_reintroduced": "procedure",
}


def _event(
    view: EngineView,
    kind: str,
    severity: Severity,
    start: Start | None,
    span: tuple[float, float],
    message: str,
    rule: str,
    key: str,
    *,
    formula: str = "",
    channel: str | None = None,
    certain: bool = True,
    reason: str | None = None,
    recovered: bool = False,
    during_abort: bool = False,
    peak: float | None = None,
    peak_s: float | None = None,
    level: float | None = None,
    unit: str = "",
    duration: tuple[float, float, float | None] | None = None,
    allowed_s: float | None = None,
    spans: tuple[tuple[float, float], ...] | None = None,
) -> Event:
    """Return an event with its evidence: the samples of its channel from 2 s before to 2 s after."""
    times: tuple[float, ...] = ()
    values: tuple[float, ...] = ()
    trace = None if channel is None else view.trace(channel)
    if trace is not None:
        part = trace.between(span[0] - 2.0, span[1] + 2.0)
        step = max(1, (part.stop - part.start) // 400 + 1)
        times = tuple(trace.time_s[part][::step].tolist())
        values = tuple(trace.values[part][::step].tolist())
    name = None if channel is None else view.name_of(channel)
    key_path = f"start.{key}"
    return Event(
        kind=kind,
        event_class=CLASSES.get(kind, "engine"),
        engine=view.engine,
        severity=severity,
        start_s=span[0],
        end_s=span[1],
        message=message,
        certain=certain,
        channel=name,
        peak=peak,
        peak_s=peak_s,
        unit=unit,
        level=level,
        duration_s=None if duration is None else duration[0],
        duration_low_s=None if duration is None else duration[1],
        duration_high_s=None if duration is None else duration[2],
        allowed_s=allowed_s,
        start_number=None if start is None else start.number,
        reason=reason,
        recovered=recovered,
        during_abort=during_abort,
        spans=(span,) if spans is None else spans,
        evidence=Evidence(rule, key_path, view.profile.lines.get(key_path), formula, name, times, values),
    )


def early_fuel(view: EngineView, start: Start) -> list[Event]:
    """Return fuel below the minimum or the advised Ng, one event per fuel period."""
    rules = view.profile.start
    out: list[Event] = []
    if rules.fuel_control == "automatic":
        return out
    least, advised = rules.min_fuel_ng_pct, rules.advised_fuel_ng_pct
    for period in start.fuel_periods:
        low, high, value = period.ng_at_fuel_low_pct, period.ng_at_fuel_high_pct, period.ng_at_fuel_pct
        if low is None or high is None or start.kind == "relight":
            continue
        shown = high if value is None else value
        sure = period.source == "fuel_on"
        span = (period.on_s if period.on_low_s is None else period.on_low_s, period.on_s)
        severity: Severity | None = None
        level = least
        key = "min_fuel_ng_pct"
        # Bounded only by engagement and light-off, a low lower bound says nothing: see not_judged.
        if least is not None and (high if period.source == "light_off" else low) < least:
            severity = "limit" if high < least and sure else "possible"
            bounds = f"({wording.number(low, 1)} to {wording.number(high, 1)})"
            claim = "came in" if severity == "limit" else "may have come in below the minimum: it came in"
            text = (
                f"Fuel {claim} at {wording.beside(shown, least, '%')} Ng {bounds} in start {start.number}; "
                f"the profile's minimum is {wording.plain(least)} %."
            )
        elif advised is not None and shown < advised:
            severity, level, key = "note", advised, "advised_fuel_ng_pct"
            text = (
                f"Fuel came in at {wording.beside(shown, advised, '%')} Ng in start {start.number}, above the "
                f"minimum and below the {wording.plain(advised)} % that the profile advises."
            )
        if severity is None:
            continue
        out.append(
            _event(
                view,
                "early_fuel",
                severity,
                start,
                span,
                text,
                f"Ng when fuel came, at least {wording.plain(level or 0.0)} %.",
                key,
                formula="Ng interpolated at the first sample with fuel; low and high over the interval before it.",
                channel="ng",
                certain=severity == "limit",
                peak=shown,
                peak_s=period.on_s,
                level=level,
                unit="%",
            )
        )
    return out


def light_off(view: EngineView, start: Start) -> list[Event]:
    """Return a missing or a late light-off, per fuel period."""
    wait = view.profile.start.light_off_within_s
    out: list[Event] = []
    itt = view.trace("itt")
    if wait is None or itt is None:
        return out
    for period in start.fuel_periods:
        if period.source == "light_off" or period.on_low_s is None:
            continue  # nobody knows since when fuel was on
        reached_idle = start.idle_s is not None and (period.off_s is None or period.off_s > start.idle_s)
        if period.light_off_s is None and reached_idle:
            continue  # it lit, and ITT does not show when: see not_judged
        stop = view.end_s if period.off_s is None else period.off_s
        stop = min(stop, start.window_end_s if period.off_s is None else stop)
        lit = period.light_off_s
        took = (stop if lit is None else lit) - period.on_s
        # It ended between the samples beside the light-off, or beside the cut.
        early = stop if period.off_low_s is None or period.off_s is None else period.off_low_s
        late = stop
        if lit is not None:
            early, late = light_off_bounds(itt, lit)
        bounds = (max(min(early - period.on_s, took), 0.0), max(late - period.on_low_s, took))
        if took <= wait:
            continue
        if lit is None:
            text = (
                f"No light-off in start {start.number}: fuel was on for {wording.duration_text(took)} and ITT did "
                f"not rise; the profile allows {wording.plain(wait)} s."
            )
        else:
            text = (
                f"Light-off in start {start.number} came {wording.duration_text(took)} after fuel; the profile "
                f"allows {wording.plain(wait)} s."
            )
        out.append(
            _event(
                view,
                "no_light_off",
                "limit",
                start,
                (period.on_s, stop if lit is None else lit),
                text,
                f"ITT rises by the light-off rise within {wording.plain(wait)} s of fuel.",
                "light_off_within_s",
                formula="light-off (last sample before the rise), else fuel off, minus fuel on",
                channel="itt",
                reason=None if lit is None else "late",
                level=wait,
                unit="s",
                duration=(took, *bounds),
                allowed_s=wait,
            )
        )
    return out


def hung(view: EngineView, start: Start, hang: Hang | None) -> list[Event]:
    """Return the hung start."""
    if hang is None:
        return []
    rules, ng = view.profile.start, view.trace("ng")
    lit = max((p.light_off_s for p in start.fuel_periods if p.light_off_s is not None), default=hang.start_s)
    top = None
    if ng is not None:
        part = ng.between(hang.start_s, hang.end_s)
        if part.stop > part.start:
            top = float(ng.values[part].max())
    length = hang.end_s - hang.start_s
    if hang.reason == "stagnated":
        key = "hung_ng_rate_pct_per_s"
        least, span = rules.hung_ng_rate_pct_per_s or 0.0, rules.hung_for_s or 0.0
        text = (
            f"Start {start.number} hung: from {wording.number(hang.start_s - lit, 1)} s after light-off Ng gained less "
            f"than {wording.plain(round(least * span, 6))} % in {wording.plain(span)} s, below idle"
        )
        rule = (
            f"Lit, below idle, Ng gains at least {wording.plain(least * span)} % in {wording.plain(span)} s."
        )
    else:
        key = "idle_within_s"
        text = f"Start {start.number} was too slow: not at idle {wording.plain(rules.idle_within_s or 0.0)} s after light-off"
        rule = f"Idle within {wording.plain(rules.idle_within_s or 0.0)} s of light-off."
    reached = "" if top is None else f"; Ng reached {wording.value_text(top, '%')}"
    tail = ", then recovered to idle." if hang.recovered else f"{reached}."
    return [
        _event(
            view,
            "hung_start",
            "caution" if hang.recovered else "limit",
            start,
            (hang.start_s, hang.end_s),
            text + tail,
            rule,
            key,
            formula="gain = Ng(t) - Ng(t - hung_for_s) + recorder step, while lit and below idle less tolerance",
            channel="ng",
            reason=hang.reason,
            recovered=hang.recovered,
            peak=top,
            level=rules.idle_ng_pct,
            unit="%",
            duration=(length, length, length),
        )
    ]


def voltage(view: EngineView, start: Start) -> list[Event]:
    """Return low resting and low cranking voltage, each a caution."""
    rules = view.profile.start
    out: list[Event] = []
    if not start.starter_runs:
        return out
    run = start.starter_runs[0]
    pairs = (
        ("before", start.rest_bus_volts, rules.min_bus_volts_before, "min_bus_volts_before"),
        ("cranking", start.min_bus_volts, rules.min_bus_volts, "min_bus_volts"),
    )
    for reason, value, least, key in pairs:
        if value is None or least is None or value >= least:
            continue
        before = reason == "before"
        where = "just before the starter" if before else "from 1 s after the starter came on"
        span = (max(run.start_s - 5.0, 0.0), run.start_s)
        spans: tuple[tuple[float, float], ...] = (span,)
        length: tuple[float, float, float | None] | None = None
        lowest_s: float | None = None
        if not before:
            spans, length, lowest_s = _below_while_cranking(view, start, least)
            # A bus that is low from the first sample on is low where nothing crosses the level.
            span = (spans[0][0], spans[-1][1]) if spans else (run.start_s + 1.0, run.start_s + 1.0)
        shown = "" if length is None else f" for {wording.duration_text(*length)}"
        was = "was" if before else f"was below {wording.plain(least)} V{shown}, lowest"
        out.append(
            _event(
                view,
                "low_start_voltage",
                "caution",
                start,
                span,
                f"Bus voltage {was} {wording.beside(value, least, 'V')} {where} in start {start.number}; the profile "
                f"wants at least {wording.plain(least)} V.",
                f"Bus voltage {where}, at least {wording.plain(least)} V.",
                key,
                formula="median of the 5 s before" if before else "lowest sample from 1 s after starter on",
                channel="bus_volts",
                reason=reason,
                peak=value,
                peak_s=lowest_s,
                level=least,
                unit="V",
                duration=length,
                spans=spans,
            )
        )
    return out


def _below_while_cranking(
    view: EngineView, start: Start, least: float
) -> tuple[tuple[tuple[float, float], ...], tuple[float, float, float | None], float | None]:
    """Return the stretches below `least` from 1 s after each engagement, their total with bounds, and the lowest."""
    volts = view.trace("bus_volts")
    assert volts is not None
    upright = volts.negated()
    windows = from_pairs(
        (r.start_s + 1.0, start.end_s if r.end_s is None else r.end_s) for r in start.starter_runs
    )
    below = time_above(upright, -least).within(windows)
    rows = below.estimate if len(below.estimate) else windows
    lowest = upright.peak(windows)
    length = (total_s(below.estimate), total_s(below.low), total_s(below.high))
    return tuple((float(a), float(b)) for a, b in rows), length, None if lowest is None else lowest[0]


def residual_heat(view: EngineView, start: Start) -> list[Event]:
    """Return fuel on above the highest residual temperature, a caution per fuel period."""
    most, itt = view.profile.start.max_residual_itt_c, view.trace("itt")
    out: list[Event] = []
    if most is None or itt is None:
        return out
    for period in start.fuel_periods:
        value = itt.at(period.on_s)
        if value is None or value <= most or period.source == "light_off" or start.kind == "relight":
            continue
        if period.on_low_s is None:
            continue
        out.append(
            _event(
                view,
                "residual_heat",
                "caution",
                start,
                (period.on_s if period.on_low_s is None else period.on_low_s, period.on_s),
                f"ITT was still {wording.beside(value, most, 'degC')} when fuel came in start {start.number}; the "
                f"profile wants it at or below {wording.plain(most)} °C.",
                f"ITT at fuel on, at most {wording.plain(most)} °C.",
                "max_residual_itt_c",
                formula="ITT interpolated at the first sample with fuel",
                channel="itt",
                peak=value,
                peak_s=period.on_s,
                level=most,
                unit="degC",
            )
        )
    return out


def engaged_while_turning(view: EngineView, found: Found, starts: tuple[Start, ...]) -> list[Event]:
    """Return starter engagements above the highest Ng for it, of any run, also outside an attempt."""
    most, ng = view.profile.start.max_engage_ng_pct, view.trace("ng")
    out: list[Event] = []
    if most is None or ng is None:
        return out
    numbered = {s.number: s for s in starts}
    owners = {r.start_s: s for s in starts for r in s.starter_runs}
    for run in found.runs:
        if run.inferred or run.start_low_s is None:
            continue
        start = owners.get(run.start_s)
        value = ng.at(run.start_s)
        part = ng.values[ng.between(run.start_low_s, run.start_s)].tolist()
        least = coasted(ng, run.start_low_s, run.start_s)
        part += [x for x in (ng.at(run.start_low_s), value, least) if x is not None]
        if value is None or not part or max(part) + ng.half_resolution <= most:
            continue
        sure = min(part) - ng.half_resolution > most
        before = None if start is None else numbered.get(start.number - 1)
        cooling = (
            start is not None
            and start.outcome in ("motoring", "unknown")
            and before is not None
            and before.outcome in ("aborted", "hung", "flamed_out")
        )
        who = "the running engine" if start is None else f"start {start.number}"
        out.append(
            _event(
                view,
                "starter_overrun",
                "limit" if sure else "possible",
                start,
                (run.start_s, run.start_s),
                f"The starter engaged at {wording.beside(value, most, '%')} Ng in {who}; the profile allows it up to "
                f"{wording.plain(most)} %.",
                f"Ng when the starter engages, at most {wording.plain(most)} %.",
                "max_engage_ng_pct",
                formula="Ng interpolated at the first sample with the starter on",
                channel="ng",
                certain=sure,
                reason="engaged_while_turning",
                during_abort=cooling,
                peak=value,
                peak_s=run.start_s,
                level=most,
                unit="%",
            )
        )
    return out


def burning_after_cut(view: EngineView, found: Found, starts: tuple[Start, ...]) -> list[Event]:
    """Return every rise of ITT after a fuel cut that is too fast for heat soak."""
    rise, itt = view.profile.start.after_cut_rise_c, view.trace("itt")
    out: list[Event] = []
    if rise is None or itt is None:
        return out
    owners = _by_fuel(starts)
    by_time = sorted(found.fuels, key=lambda f: f.on_s)
    ons = [f.on_s for f in by_time]
    for fuel in found.fuels:
        if fuel.off_s is None or fuel.off_inferred:
            continue
        n = bisect_right(ons, fuel.off_s)
        stop = view.end_s
        if n < len(ons):
            # The last sample without fuel: the next flame may come before the first sample with it.
            low_s = by_time[n].on_low_s
            stop = ons[n] if low_s is None else max(low_s, fuel.off_s)
        part = itt.between(fuel.off_s, stop)
        t, v = itt.time_s[part], itt.values[part]
        # A rise this large and faster than this is complete within their quotient; a slow soak before it
        # must not dilute it.
        window_s = rise / BURN_RATE_C_PER_S
        hit = np.flatnonzero(v - lowest_before(t, v, window_s - 1e-9) >= rise)
        hit = hit[t[hit] - t[hit - 1] < window_s]
        if not hit.size:
            continue
        k = int(hit[0])
        low = int(np.searchsorted(t, t[k] - window_s, side="right"))
        foot = low + int(np.flatnonzero(v[low:k] == v[low:k].min())[-1])
        top = k + int(np.argmax(v[k:]))
        fastest = steepest(itt, float(t[foot]), float(t[top]))
        rate = float((v[k] - v[foot]) / (t[k] - t[foot])) if fastest is None else fastest.value
        start = owners.get(fuel.on_s)
        where = "" if start is None else f" in start {start.number}"
        out.append(
            _event(
                view,
                "burning_after_cut",
                "limit",
                start,
                (float(t[foot]), float(t[top])),
                f"ITT rose again by {wording.value_text(float(v[top] - v[foot]), 'degC')} after the fuel cut{where}, to "
                f"{wording.value_text(float(v[top]), 'degC')}, at up to "
                f"{wording.number(rate, 0)} °C/s: something was still burning.",
                f"With fuel off ITT does not rise by {wording.plain(rise)} °C faster than 5 °C/s.",
                "after_cut_rise_c",
                formula="rise above the lowest ITT of the time in which it is faster than 5 degC/s, since the cut",
                channel="itt",
                peak=float(v[top]),
                peak_s=float(t[top]),
                level=rise,
                unit="degC",
            )
        )
    return out


def fuel_reintroduced(view: EngineView, found: Found, starts: tuple[Start, ...]) -> list[Event]:
    """Return fuel that came back before enough motoring after a failed fuel period.

    A normal shutdown leaves no fuel behind, so a fuel period that reached idle is not followed up.
    """
    wanted = view.profile.start.purge_s
    out: list[Event] = []
    if wanted is None or view.channel("starter") is None:
        return out
    owners = _by_fuel(starts)
    # Fuel of no attempt is that of an engine that already ran when the recording began.
    reached_idle = {
        f.on_s: attempt.idle_s is not None and attempt.fuels[-1] is f
        for attempt in found.attempts
        for f in attempt.fuels
    }
    begins = np.array([r.start_s for r in found.runs])
    ends = np.array([view.end_s if r.end_s is None else r.end_s for r in found.runs])
    for before, after in pairwise(found.fuels):
        if before.off_s is None or before.source == "light_off":
            continue
        if reached_idle.get(before.on_s, True):
            continue
        # Runs are in order and apart: only those between the cut and the fuel can have motored.
        low, high = int(np.searchsorted(ends, before.off_s)), int(np.searchsorted(begins, after.on_s))
        both = np.minimum(ends[low:high], after.on_s) - np.maximum(begins[low:high], before.off_s)
        motored = float(np.maximum(both, 0.0).sum())
        bounds = _motored_bounds(found.runs[low:high], before, after, motored)
        if motored >= wanted:
            continue
        start = owners.get(after.on_s)
        where = "" if start is None else f" in start {start.number}"
        out.append(
            _event(
                view,
                "fuel_reintroduced",
                "caution",
                start,
                (before.off_s, after.on_s),
                f"Fuel came back{where} after {wording.duration_text(motored)} of motoring since it was cut; the "
                f"profile wants {wording.plain(wanted)} s.",
                f"At least {wording.plain(wanted)} s of motoring between a fuel cut and fuel again.",
                "purge_s",
                formula="starter time between fuel off and the next fuel on",
                channel="fuel_on",
                level=wanted,
                unit="s",
                duration=(motored, *bounds),
                allowed_s=wanted,
            )
        )
    return out


def _motored_bounds(
    runs: Sequence[StarterRun], before: Fuel, after: Fuel, motored: float
) -> tuple[float, float | None]:
    """Return the shortest and longest motoring between a cut and the next fuel, [s], by the samples beside."""
    assert before.off_s is not None
    cut = before.off_s if before.off_low_s is None else before.off_low_s
    back = after.on_s if after.on_low_s is None else after.on_low_s
    low = high = 0.0
    for run in runs:
        low += max(min(run.start_s + run.duration_low_s, back) - max(run.start_s, before.off_s), 0.0)
        first = run.start_s if run.start_low_s is None else run.start_low_s
        end = after.on_s if run.end_s is None else min(run.end_s, after.on_s)
        high += max(end - max(first, cut), 0.0)
    return min(low, motored), max(high, motored)


def _by_fuel(starts: tuple[Start, ...]) -> dict[float, Start]:
    """Return the start that each fuel period belongs to, by when its fuel came."""
    return {p.on_s: s for s in starts for p in s.fuel_periods}


def not_judged(view: EngineView, start: Start) -> list[NotJudged]:
    """Return what ``[start]`` asks of this attempt and the recording cannot tell."""
    rules = view.profile.start
    out: list[NotJudged] = []

    def add(what: str, why: str | None, channel: str) -> None:
        text = why or "not recorded"
        out.append(
            NotJudged(
                what, text, channel=channel, start_s=start.begin_s, end_s=start.end_s, engine=view.engine
            )
        )

    fuelled = bool(start.fuel_periods)
    last: FuelPeriod | None = start.fuel_periods[-1] if fuelled else None
    # In a relight in the air the engine turns by itself: the rules of fuel and motoring are for starts at rest.
    manual = rules.fuel_control != "automatic" and start.kind != "relight"
    if manual and rules.min_fuel_ng_pct is not None and fuelled and last is not None:
        if start.measures["ng_at_fuel"].high is None:
            add("Ng at fuel", start.measures["ng_at_fuel"].why, "ng")
        elif last.source == "light_off" and (last.ng_at_fuel_high_pct or 0.0) >= rules.min_fuel_ng_pct:
            add("Ng at fuel", "no fuel signal: fuel came between the engagement and the light-off", "fuel_on")
    if manual and rules.stable_ng_rate_pct_per_s is not None and fuelled and start.ng_stable_at_fuel is None:
        rate = start.measures["ng_rate_at_fuel"]
        add("whether Ng had stabilised", rate.why or "the slope is less certain than the criterion", "ng")
    if view.trace("itt") is None:
        if rules.light_off_within_s is not None and fuelled:
            add("light-off", "ITT not recorded", "itt")
        if rules.max_residual_itt_c is not None and fuelled:
            add("residual heat", "ITT not recorded", "itt")
    elif last is not None and last.on_low_s is None and last.source != "light_off":
        if rules.light_off_within_s is not None and start.kind != "relight":
            add("time from fuel to light-off", FUEL_BEFORE, "fuel_on")
        if rules.max_residual_itt_c is not None and start.kind != "relight":
            add("residual heat", FUEL_BEFORE, "fuel_on")
    elif last is not None and last.light_off_s is None and start.idle_s is not None:
        if rules.light_off_within_s is not None:
            add("light-off", "idle was reached, and ITT does not show when it lit", "itt")
    elif last is not None and last.source == "light_off" and rules.light_off_within_s is not None:
        add("time from fuel to light-off", "no fuel signal", "fuel_on")
    if rules.idle_ng_pct is not None and view.trace("ng") is None:
        add("idle and hung start", view.missing_because("ng"), "ng")
    if start.starter_runs:
        for key, name in (("min_bus_volts_before", "rest_bus_volts"), ("min_bus_volts", "min_bus_volts")):
            measure = start.measures[name]
            if getattr(rules, key) is not None and measure.value is None:
                what = "resting voltage" if name == "rest_bus_volts" else "cranking voltage"
                add(what, measure.why, "bus_volts")
    if rules.purge_s is not None and len(start.fuel_periods) > 1 and view.channel("starter") is None:
        add("motoring between fuel cut and fuel again", view.missing_because("starter"), "starter")
    if start.outcome == "incomplete":
        edge = "ends before it is" if start.end_s >= view.end_s else "begins after it was"
        add("how the start came out", f"the recording {edge} decided", "ng")
    if start.outcome == "unknown":
        add("how the start came out", "motoring or no light-off; fuel may be in the engine", "fuel_on")
    return out
