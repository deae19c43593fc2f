"""Start attempts: where each opens and ends, which fuel and which starter runs belong to it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from debrief.analysis.model import StarterRun
from debrief.analysis.signal.engine_view import COOLED_ITT_C, EngineView
from debrief.analysis.signal.interval_sets import EMPTY, from_pairs, union
from debrief.analysis.starts.engagements import starter_runs
from debrief.analysis.starts.fuel_stretches import ENGAGED_WITHIN_S, fuel_stretches, run_down_from
from debrief.analysis.starts.light_off import IDLE_FOR_S, Fuel, find_flame_out, find_idle
from debrief.recording.model import FloatArray


@dataclass
class Attempt:
    """One start attempt while it is put together. Times are seconds from the recording's first sample."""

    begin_s: float
    end_s: float = 0.0
    window_end_s: float = 0.0
    runs: list[StarterRun] = field(default_factory=list)
    fuels: list[Fuel] = field(default_factory=list)
    idle_s: float | None = None
    ended_by: str = "recording"
    notes: list[str] = field(default_factory=list)
    starter_inferred: bool = False
    idle_unseen: str | None = None
    """Why nobody can tell whether it reached idle, None where it can be told."""

    @property
    def last_fuel(self) -> Fuel | None:
        """The last fuel period."""
        return self.fuels[-1] if self.fuels else None

    @property
    def first_light_off_s(self) -> float | None:
        """When it first lit."""
        return next((f.light_off_s for f in self.fuels if f.light_off_s is not None), None)

    @property
    def lit(self) -> bool:
        """Whether it ever lit."""
        return self.first_light_off_s is not None


@dataclass
class Found:
    """Everything about starting that was found for one engine."""

    attempts: list[Attempt]
    runs: list[StarterRun]
    fuels: list[Fuel]
    lit: FloatArray
    began_running: bool

    @cached_property
    def flame_ends_s(self) -> list[float]:
        """When each flame ended, in order, [s]; those of which no end was recorded have none."""
        flames = (f for f in self.fuels if f.light_off_s is not None)
        return sorted(end for f in flames if (end := f.lit_end_s) is not None)


def find_attempts(view: EngineView, began_running: bool) -> Found:
    """Return the start attempts of one engine in order.

    Notes
    -----
    An attempt opens at starter on, or at fuel on or light-off while not lit. A starter that engages again
    while the attempt is still lit and below idle belongs to it; one that engages while the engine runs
    belongs to no attempt. Fuel belongs to the attempt whose starter is engaged, or that is still turning
    and has had no fuel yet. An attempt ends at idle, at Ng below the standing speed after running down, or
    at the next attempt.
    """
    runs, notes = starter_runs(view)
    fuels = fuel_stretches(view, [(r.start_s, r.end_s) for r in runs])
    openers: list[tuple[float, int, StarterRun | Fuel]] = [(r.start_s, 0, r) for r in runs]
    for n, f in enumerate(fuels):
        if not (n == 0 and began_running and f.light_off_s == 0.0):
            openers.append((f.on_s, 1, f))
    attempts: list[Attempt] = []
    flames = [f for f in fuels if f.light_off_s is not None]
    lit_from = [f.light_off_s for f in flames if f.light_off_s is not None]
    for time_s, _, what in sorted(openers, key=lambda o: o[:2]):
        current = attempts[-1] if attempts else None
        if isinstance(what, StarterRun):
            n = bisect_left(lit_from, time_s) - 1
            if n >= 0 and flames[n].lit_at(time_s):
                # Lit: the starter comes to help an attempt that has not reached idle, or engages by mistake.
                helped = current is not None and any(f.lit_at(time_s) for f in current.fuels)
                if current is not None and helped and _idle(view, current, time_s + IDLE_FOR_S) is None:
                    current.runs.append(what)
                continue
            attempt = Attempt(time_s, runs=[what], starter_inferred=what.inferred)
            if time_s in notes:
                attempt.notes.append(notes[time_s])
            attempts.append(attempt)
        elif current is not None and _takes(view, current, what):
            current.fuels.append(what)
        else:
            attempts.append(Attempt(time_s, fuels=[what]))
    for n, attempt in enumerate(attempts):
        following = attempts[n + 1].begin_s if n + 1 < len(attempts) else None
        _close(view, attempt, following)
    bound = [f for a in attempts for f in a.fuels]
    taken = {f.on_s for f in bound}
    fuels = sorted([f for f in fuels if f.on_s not in taken] + bound, key=lambda f: f.on_s)
    lit = from_pairs(
        (f.light_off_s, view.end_s if f.lit_end_s is None else f.lit_end_s)
        for f in fuels
        if f.light_off_s is not None
    )
    if view.trace("itt") is None:
        known = ((a.idle_s, a.last_fuel) for a in attempts if a.idle_s is not None)
        idling = [(i, view.end_s if f is None or f.off_s is None else f.off_s) for i, f in known]
        lit = union(np.concatenate((lit, from_pairs(idling))))
    return Found(attempts, runs, fuels, lit, began_running)


def _takes(view: EngineView, attempt: Attempt, fuel: Fuel) -> bool:
    """Return whether the fuel belongs to the attempt in progress."""
    # The last run that began before the fuel is the only one that can still be on.
    n = bisect_right([r.start_s for r in attempt.runs], fuel.on_s) - 1
    for run in attempt.runs[n : n + 1] if n >= 0 else ():
        stop = view.end_s if run.end_s is None else run.end_s
        if run.start_s <= fuel.on_s <= stop:
            # An inferred run has no end: it takes fuel until the engine has stood again.
            if not run.inferred or fuel.on_s - run.start_s <= ENGAGED_WITHIN_S:
                return True
            return _stands_after(view, run.start_s + 3.0, fuel.on_s) is None
    if attempt.fuels:
        return False
    released = max((view.end_s if r.end_s is None else r.end_s) for r in attempt.runs)
    return _stands_after(view, released, fuel.on_s) is None


def _stands_after(view: EngineView, begin: float, end: float) -> float | None:
    """Return the first instant from `begin` to `end` at which Ng is below the standing speed, or None."""
    ng = view.trace("ng")
    stopped = view.profile.start.stopped_ng_pct
    if ng is None or stopped is None:
        return None
    value = ng.at(begin)
    if value is not None and value < stopped:
        return begin
    standing = view.standing_s
    k = int(np.searchsorted(standing, begin))
    return float(standing[k]) if k < standing.size and standing[k] <= end else None


def _idle(view: EngineView, attempt: Attempt, limit: float) -> float | None:
    """Return when the attempt reached idle before `limit`."""
    at_idle, ng = view.profile.start.at_idle_pct, view.trace("ng")
    if ng is None or at_idle is None:
        return None
    for fuel in attempt.fuels:
        # Without ITT no light-off can be seen; an engine that reaches idle on fuel has lit.
        begin = fuel.on_s if view.trace("itt") is None else fuel.light_off_s
        if begin is None:
            continue
        end = min(limit, view.end_s if fuel.lit_end_s is None else fuel.lit_end_s)
        idle = find_idle(ng, begin, end, at_idle)
        if idle is not None:
            return idle
    return None


def _close(view: EngineView, attempt: Attempt, following: float | None) -> None:
    """Set where the attempt and its start window end."""
    rules = view.profile.start
    limit = view.end_s if following is None else following
    attempt.idle_s = _idle(view, attempt, limit)
    attempt.idle_unseen = view.idle_unseen
    _mark_flame_out(view, attempt, limit)
    if attempt.idle_s is not None:
        attempt.end_s, attempt.ended_by = attempt.idle_s, "idle"
    else:
        driven = [view.end_s if r.end_s is None else r.end_s for r in attempt.runs if not r.inferred]
        lit_ends = [
            view.end_s if f.lit_end_s is None else f.lit_end_s
            for f in attempt.fuels
            if f.light_off_s is not None
        ]
        begins = [attempt.begin_s + 3.0] if attempt.starter_inferred else [attempt.begin_s]
        standing = _stands_after(view, min(max([*begins, *driven, *lit_ends]), limit), limit)
        if standing is not None and max([*driven, *lit_ends, 0.0]) < view.end_s:
            attempt.end_s, attempt.ended_by = standing, "stopped"
        elif following is not None:
            attempt.end_s, attempt.ended_by = following, "next attempt"
        else:
            attempt.end_s, attempt.ended_by = view.end_s, "recording"
    end = attempt.end_s
    lit, longest = attempt.first_light_off_s, np.inf
    if rules.start_window_max_s is not None and lit is not None:
        longest = lit + rules.start_window_max_s
        end = min(end, longest)
        if attempt.idle_unseen is not None and attempt.idle_s is None and longest < attempt.end_s:
            # Whether and when it came to idle is not seen: by then it ran, or it had been cut before.
            attempt.end_s, attempt.ended_by = longest, "window"
    cut = _cut_before_idle(attempt)
    if cut is not None and (attempt.idle_unseen is None or cut <= longest):
        # After an abort the start limits go on until the engine has cooled or is started again.
        itt = view.trace("itt")
        cooled = limit
        if itt is not None:
            part = itt.between(cut, limit)
            cold = np.flatnonzero(itt.values[part] < COOLED_ITT_C)
            if cold.size:
                cooled = float(itt.time_s[part.start + int(cold[0])])
        end = max(min(end, limit), min(cooled, limit))
    attempt.window_end_s = max(end, attempt.begin_s)


def _mark_flame_out(view: EngineView, attempt: Attempt, limit: float) -> None:
    """Note on the last lit fuel when its flame went out with fuel on, before idle."""
    itt, ng = view.trace("itt"), view.trace("ng")
    lit = [n for n, f in enumerate(attempt.fuels) if f.light_off_s is not None]
    if attempt.idle_s is not None or not lit or itt is None or ng is None:
        return
    fuel = attempt.fuels[lit[-1]]
    if fuel.source == "light_off" or fuel.light_off_s is None:
        return  # without a fuel signal a cut and a flame-out look the same
    if attempt.idle_unseen is not None:
        # Without idle a fall is one of power, unless it ends at a stand.
        stand = run_down_from(view, fuel.light_off_s)
        if stand is not None and stand[1] <= limit and (fuel.off_s is None or stand[1] < fuel.off_s):
            attempt.fuels[lit[-1]] = replace(fuel, out_s=stand[0])
        return
    out = find_flame_out(itt, ng, fuel.light_off_s, limit if fuel.off_s is None else min(fuel.off_s, limit))
    if out is not None:
        attempt.fuels[lit[-1]] = replace(fuel, out_s=out)


def _cut_before_idle(attempt: Attempt) -> float | None:
    """Return when the last fuel of a lit attempt was cut before idle, or None."""
    fuel = attempt.last_fuel
    if fuel is None or attempt.idle_s is not None or not attempt.lit:
        return None
    return fuel.lit_end_s


def start_windows(attempts: list[Attempt]) -> FloatArray:
    """Return the start windows as rows, (m, 2)."""
    return from_pairs((a.begin_s, a.window_end_s) for a in attempts) if attempts else EMPTY
