"""The rules of fuel: the Ng and the heat it came at, whether it lit in time, and fuel again too soon."""

from __future__ import annotations

from collections.abc import Container, Sequence
from itertools import pairwise

import numpy as np

from debrief.analysis.model import (
    Event,
    FuelPeriod,
    Severity,
    Start,
    StarterRun,
)
from debrief.analysis.rules.rule_event import Deviation, Rule, by_fuel, rule_event
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.point_readings import lit_between
from debrief.analysis.signal.sampling_bounds import light_off_bounds
from debrief.analysis.starts.attempts import Found
from debrief.analysis.starts.light_off import Fuel
from debrief.profile.gaps import LIGHT_OFF, lacking
from debrief.words import numbers
from debrief.words.sentence import Quantity, sentence, words


def early_fuel(view: EngineView, start: Start, aloft: bool = False) -> list[Event]:
    """Return fuel below the minimum or the advised Ng, one event per fuel period; none of a start `aloft`."""
    rules = view.profile.start
    out: list[Event] = []
    if rules.fuel_control == "automatic" or aloft:
        return out
    least, advised = rules.min_fuel_ng_pct, rules.advised_fuel_ng_pct
    for period in start.fuel_periods:
        low, high, value = period.ng_at_fuel_low_pct, period.ng_at_fuel_high_pct, period.ng_at_fuel_pct
        if high is None:
            continue
        low = 0.0 if low is None else low
        shown = high if value is None else value
        sure = period.source == "fuel_on"
        span = (period.on_s if period.on_low_s is None else period.on_low_s, period.on_s)
        severity: Severity | None = None
        level = least
        key = "min_fuel_ng_pct"
        # Bounded only by engagement and light-off, a low lower bound says nothing: see not_judged.
        if least is not None and (high if period.source == "light_off" else low) < least:
            severity = "limit" if high < least and sure else "possible"
            said = numbers.beside(shown, least, "%")
            edges = numbers.bounds(low, high, max(1, numbers.decimals_beside(shown, least, "%")))
            bounds = f"({edges[0]} to {edges[1]})"
            minimum = f"the minimum of {numbers.plain(least)} %"
            where = view.in_start(start)
            text = (
                f"Fuel came in at {said} Ng{where}, below {minimum}."
                if severity == "limit"
                else f"Fuel may have come in below {minimum}{where}: at {said} Ng {bounds}."
            )
        elif advised is not None and shown < advised:
            severity, level, key = "note", advised, "advised_fuel_ng_pct"
            text = (
                f"Fuel came in at {numbers.beside(shown, advised, '%')} Ng{view.in_start(start)}, above the minimum "
                f"and below the advised {numbers.plain(advised)} %."
            )
        if severity is None:
            continue
        out.append(
            rule_event(
                view,
                "early_fuel",
                severity,
                start,
                span,
                words(text),
                Rule(
                    words(f"Ng when fuel came, at least {numbers.plain(level or 0.0)} %."),
                    key,
                    "Ng interpolated at the first sample with fuel; low and high over the interval before it.",
                ),
                Deviation(
                    channel="ng",
                    peak=shown,
                    peak_s=period.on_s,
                    level=level,
                    unit="%",
                ),
                certain=severity == "limit",
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
        low, high = max(min(early - period.on_s, took), 0.0), max(late - period.on_low_s, took)
        # Where the recording ends before it lit or was cut nobody knows for how long it went on.
        bounds = (low, None if lit is None and stop >= view.end_s and period.off_s is None else high)
        if took <= wait:
            continue
        unsaid = lacking(view.profile, LIGHT_OFF)
        if lit is None:
            fuelled = numbers.brief_duration(took, took, bounds[1], wait)
            text = f"No light-off in {fuelled} with fuel on{view.in_start(start)}; {numbers.plain(wait)} s allowed."
        else:
            text = (
                f"Light-off came {numbers.brief_duration(took, allowed_s=wait)} after fuel{view.in_start(start)}; "
                f"{numbers.plain(wait)} s allowed."
            )
        out.append(
            rule_event(
                view,
                "no_light_off",
                "limit" if unsaid is None else "possible",
                start,
                (period.on_s, stop if lit is None else lit),
                words(text if unsaid is None else f"{text} It is not sure: {unsaid}."),
                Rule(
                    words(
                        f"{view.names.itt} rises by the light-off rise within {numbers.plain(wait)} s of fuel."
                    ),
                    "light_off_within_s",
                    f"{'fuel off' if lit is None else 'light-off (last sample before the rise)'} − fuel on",
                ),
                Deviation(
                    channel="itt",
                    level=wait,
                    unit="s",
                    duration=(took, *bounds),
                    allowed_s=wait,
                ),
                certain=low > wait and unsaid is None,
                reason=None if lit is None else "late",
            )
        )
    return out


def residual_heat(view: EngineView, start: Start, aloft: bool = False) -> list[Event]:
    """Return fuel on above the highest residual temperature, a caution per fuel period; none of a start `aloft`."""
    most, itt = view.profile.start.max_residual_itt_c, view.trace("itt")
    out: list[Event] = []
    if most is None or itt is None or aloft:
        return out
    for period in start.fuel_periods:
        value = itt.at(period.on_s)
        if value is None or value <= most or heat_unseen(view, period):
            continue
        if period.on_low_s is None or period.source == "light_off":
            continue
        given = Quantity(most, "degC", is_given=True)
        out.append(
            rule_event(
                view,
                "residual_heat",
                "caution",
                start,
                (period.on_s if period.on_low_s is None else period.on_low_s, period.on_s),
                sentence(
                    "{itt} was still {value} when fuel came{where}; the limit is {most}.",
                    itt=view.names.itt,
                    value=Quantity(value, "degC", beside=most),
                    where=view.in_start(start),
                    most=given,
                ),
                Rule(
                    sentence("{itt} at fuel on, at most {most}.", itt=view.names.itt, most=given),
                    "max_residual_itt_c",
                    f"{view.names.itt} interpolated at the first sample with fuel",
                ),
                Deviation(
                    channel="itt",
                    peak=value,
                    peak_s=period.on_s,
                    level=most,
                    unit="degC",
                ),
            )
        )
    return out


def heat_unseen(view: EngineView, period: FuelPeriod) -> bool:
    """Return whether ITT passed the highest residual between the samples beside fuel on: it may have lit by then."""
    most, itt = view.profile.start.max_residual_itt_c, view.trace("itt")
    if most is None or itt is None or period.on_low_s is None or period.source == "light_off":
        return False
    before, value = itt.sample_before(period.on_low_s), itt.at(period.on_s)
    if before is None or value is None or value <= most:
        return False
    return before <= most or lit_between(itt, period.on_low_s, period.on_s, view.light_off_rise_c)


def fuel_returns(
    view: EngineView, found: Found
) -> list[tuple[Fuel, Fuel, float, tuple[float, float | None]]]:
    """Return fuel that came back before enough motoring after a failed fuel period.

    Each as the fuel before, the fuel after, how long it was motored between, and the bounds of that, [s]. A normal
    shutdown leaves no fuel behind, so a fuel period that reached idle, or of which nobody can tell, is not followed up.
    """
    wanted = view.profile.start.purge_s
    out: list[tuple[Fuel, Fuel, float, tuple[float, float | None]]] = []
    if wanted is None or view.channel("starter") is None:
        return out
    # Fuel of no attempt is that of an engine that already ran when the recording began.
    reached_idle = {
        f.on_s: (attempt.idle_s is not None and attempt.fuels[-1] is f)
        or (attempt.idle_unseen is not None and f.light_off_s is not None)
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
        if motored < wanted:
            out.append(
                (before, after, motored, _motored_bounds(found.runs[low:high], before, after, motored))
            )
    return out


def fuel_reintroduced(
    view: EngineView, found: Found, starts: tuple[Start, ...], aloft: Container[int] = ()
) -> list[Event]:
    """Return an event for each of `fuel_returns`, but for the starts whose number is in `aloft`."""
    wanted = view.profile.start.purge_s or 0.0
    out: list[Event] = []
    owners = by_fuel(starts)
    for before, after, motored, bounds in fuel_returns(view, found):
        start = owners.get(after.on_s)
        if before.off_s is None or (start is not None and start.number in aloft):
            continue
        out.append(
            rule_event(
                view,
                "fuel_reintroduced",
                "caution",
                start,
                (before.off_s, after.on_s),
                words(
                    f"Fuel came back{view.in_start(start)} after {numbers.brief_duration(motored, allowed_s=wanted)} of "
                    f"motoring since the fuel cut-off; the minimum is {numbers.plain(wanted)} s."
                ),
                Rule(
                    words(
                        f"At least {numbers.plain(wanted)} s of motoring between a fuel cut-off and fuel again."
                    ),
                    "purge_s",
                    "starter time between fuel off and the next fuel on",
                ),
                Deviation(
                    channel="fuel_on",
                    level=wanted,
                    unit="s",
                    duration=(motored, *bounds),
                    allowed_s=wanted,
                ),
                certain=bounds[1] is not None and bounds[1] < wanted,
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
