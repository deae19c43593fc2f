"""The stretches of fuel: from its signal, else from flames, and where they end by themselves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.switch_edges import OnPeriod, on_periods
from debrief.analysis.signal.traces import Trace
from debrief.analysis.starts.light_off import (
    FLAME_OUT_FOR_S,
    IDLE_FOR_S,
    Fuel,
    began_running,
    find_flame_out,
    find_idle,
    find_light_off,
    least_flow,
    stays_above,
)

ENGAGED_WITHIN_S = 60.0
"""A flame this soon after an inferred engagement belongs to it, even while the speed pick-up reads nothing."""

FALL_BEFORE_S = 15.0
"""How far around the crossing of idle the fall of a flame-out is looked for."""

LOST_FOR_S = 3.0
SUSTAINED_PCT = 45.0
"""No starter turns a gas generator faster: above it fuel burns."""

STANDS_PCT = 2.0
FALLING_OVER_S = 3.0
FALLS_BY = 0.03
"""A gas generator without fuel loses at least this part of its speed in so long; common practice, no source."""


def fuel_stretches(view: EngineView, engagements: list[tuple[float, float | None]]) -> list[Fuel]:
    """Return the stretches of fuel, from the best signal there is.

    Parameters
    ----------
    view : EngineView
    engagements : list of (start, end)
        Starter engagements; used only where no fuel signal was recorded, to bound fuel before light-off.
    """
    rise = view.light_off_rise_c
    itt = view.flame
    fuel = view.channel("fuel_on")
    flow = view.channel("fuel_flow")
    if fuel is not None:
        source, periods = "fuel_on", _without_lost_rows(view, on_periods(fuel))
    elif flow is not None and flow.values.size:
        source = "fuel_flow"
        periods = on_periods(flow, least_flow(flow)) if float(flow.values.max()) > 0 else []
    else:
        flames = [] if itt is None else _from_flames(view, itt, rise, engagements)
        return _with_unseen_flames(view, flames, engagements)
    out = []
    running = began_running(view)
    for n, p in enumerate(periods):
        stop = view.end_s if p.off_s is None else p.off_s
        begin = p.on_s if p.on_low_s is None else p.on_low_s
        lit: tuple[float, float] | None
        known = True
        if n == 0 and running and p.on_low_s is None:
            lit = (0.0, 0.0)
        else:
            lit = None if itt is None else find_light_off(itt, begin, stop, rise)
            if lit is not None and lit[0] < p.on_s:
                lit = (p.on_s, max(lit[1], p.on_s))
            inside = p.on_low_s is None
            begun = inside and itt is not None and _burns_from(view, itt, None if lit is None else lit[0])
            if itt is not None and (lit is None or begun):
                # No rise was recorded, or it was under way or over: an engine that reaches idle on fuel has lit.
                idle = _idle_between(view, p.on_s, stop)
                known = not begun and idle is None
                if inside and not known:
                    lit = (p.on_s, p.on_s)
                elif idle is not None:
                    lit = (idle, idle)
        off_low = None if p.off_s is None else p.off_low_s
        at, high = lit or (None, None)
        fuel_on = Fuel(p.on_s, p.on_low_s, p.off_s, off_low, source, at, high, light_off_known=known)
        out += _with_flame_outs(view, fuel_on, rise)
    return out


def _without_lost_rows(view: EngineView, periods: list[OnPeriod]) -> list[OnPeriod]:
    """Return the periods of fuel, those joined between which Ng is nothing for a moment as well: the rows were lost.

    From running to nothing and back within 3 s no gas generator turns, so nothing of such rows is believed.
    """
    ng = view.trace("ng")
    out: list[OnPeriod] = []
    for p in periods:
        off = out[-1].off_s if out else None
        if ng is not None and off is not None and p.on_s - off <= LOST_FOR_S:
            lost = ng.values[ng.between(off, np.nextafter(p.on_s, -np.inf))]
            before, after = ng.at(out[-1].off_low_s), ng.at(p.on_s)
            turned = before is not None and after is not None and min(before, after) > SUSTAINED_PCT
            if lost.size and turned and float(lost.max()) < STANDS_PCT:
                out[-1] = replace(out[-1], off_s=p.off_s, off_low_s=p.off_low_s)
                continue
        out.append(p)
    return out


def _idle_between(view: EngineView, begin: float, end: float) -> float | None:
    """Return when Ng is first at idle for 3 s in the stretch."""
    at_idle, ng = view.profile.start.at_idle_pct, view.trace("ng")
    return None if ng is None or at_idle is None else find_idle(ng, begin, end, at_idle)


def _with_flame_outs(view: EngineView, fuel: Fuel, rise: float) -> list[Fuel]:
    """Return the fuel stretch, split where a running engine flames out and lights again with fuel on.

    Notes
    -----
    A running engine flames out where Ng sinks below idle for 3 s while ITT and Ng fall by the rule of
    `find_flame_out`. A power reduction ends at idle. A later light-off with fuel still on is a fuel stretch
    of its own, whose beginning was not recorded: nobody moved the lever.
    """
    below_idle, ng, itt = view.profile.start.at_idle_pct, view.trace("ng"), view.trace("itt")
    if ng is None or itt is None or below_idle is None or fuel.light_off_s is None:
        return [fuel]
    out: list[Fuel] = []
    stop = view.end_s if fuel.off_s is None else fuel.off_s
    lit: float | None = fuel.light_off_s
    while lit is not None:
        flame_out = None
        idle = _idle_between(view, lit, stop)
        if idle is not None:
            for a, b in stays_above(ng.negated(), -below_idle, FLAME_OUT_FOR_S, idle, stop):
                a, b = max(float(a), idle), min(float(b), stop)
                flame_out = find_flame_out(
                    itt, ng, max(idle, a - FALL_BEFORE_S), min(b, a + FALL_BEFORE_S), below_idle
                )
                if flame_out is not None:
                    break
        again = None if flame_out is None else find_light_off(itt, flame_out + FLAME_OUT_FOR_S, stop, rise)
        if again is None:
            return [*out, replace(fuel, out_s=flame_out)]
        out.append(replace(fuel, out_s=flame_out, off_s=None, off_low_s=None))
        fuel = replace(
            fuel, on_s=again[0], on_low_s=None, light_off_s=again[0], light_off_high_s=again[1],
            light_off_known=True, out_s=None,
        )  # fmt: skip
        lit = again[0]
    return out


def _with_unseen_flames(
    view: EngineView, flames: list[Fuel], engagements: list[tuple[float, float | None]]
) -> list[Fuel]:
    """Return the flames, and those that only Ng at idle tells of: no engine idles without one.

    So it is where ITT was not recorded, where the recording begins within a start, or where ITT does not move.
    """
    at_idle, ng = view.profile.start.at_idle_pct, view.trace("ng")
    if ng is None or at_idle is None:
        return flames
    out = list(flames)
    level = float(np.nextafter(at_idle, -np.inf))
    known = sorted((f.light_off_s or 0.0, f.lit_end_s or np.inf) for f in flames)
    until = -np.inf
    k = 0
    for begin, _ in stays_above(ng, level, IDLE_FOR_S, 0.0, view.end_s):
        begin = float(begin)
        while k < len(known) and known[k][0] <= begin + IDLE_FOR_S:
            until = max(until, known[k][1])
            k += 1
        if begin < until:
            continue
        running = not out and begin <= float(ng.time_s[0]) and began_running(view)
        off = _inferred_cut(view, begin)
        before = [a for a, _ in engagements if a <= begin]
        inside = float(ng.values[0]) > view.turning_pct and not before and not out
        lit = 0.0 if running or inside else begin
        low = before[-1] if before else None
        out.append(
            Fuel(lit, low, off, off, "light_off", lit, lit, off_inferred=True, light_off_known=running)
        )
        until = np.inf if off is None else off
    return sorted(out, key=lambda f: f.on_s)


def _from_flames(
    view: EngineView, itt: Trace, rise: float, engagements: list[tuple[float, float | None]]
) -> list[Fuel]:
    """Return fuel stretches inferred from light-offs while the engine turns; fuel is bounded before each."""
    ng = view.trace("ng")
    engaged_at = np.array([a for a, _ in engagements])
    turning = np.empty(0) if ng is None else ng.time_s[ng.values >= view.turning_pct]
    out: list[Fuel] = []
    after = 0.0
    if began_running(view):
        off = _inferred_cut(view, 0.0)
        out.append(Fuel(0.0, None, off, off, "light_off", 0.0, 0.0, off_inferred=True))
        if off is None:
            return out
        after = off
    while (lit := find_light_off(itt, after, view.end_s, rise)) is not None:
        if lit[1] <= after:  # the search looks one sample back: never take the same rise twice
            after = float(np.nextafter(_next_sample(itt, after), np.inf))
            continue
        speed = None if ng is None else ng.at(lit[1])
        n = int(np.searchsorted(engaged_at, lit[0], side="right")) - 1
        low = float(engaged_at[n]) if n >= 0 and engaged_at[n] >= after else None
        engaged = low is not None and lit[0] - low <= ENGAGED_WITHIN_S
        if speed is not None and speed < view.turning_pct and not engaged:
            # Standing: no flame before the engine turns or the starter engages again.
            ahead = [x[np.searchsorted(x, lit[1], side="right") :][:1] for x in (turning, engaged_at)]
            wakes = min((float(x[0]) for x in ahead if x.size), default=np.inf)
            after = max(lit[1], wakes - ENGAGED_WITHIN_S)
            continue
        # Of an engagement that the recording begins with nobody knows how long it had been on.
        seen = out or (low or 0.0) > 0.0 or not _hot_until(view, itt, lit[0])
        off = _inferred_cut(view, lit[0])
        if seen:
            out.append(Fuel(lit[0], low, off, off, "light_off", *lit, off_inferred=True))
        else:
            burning = Fuel(
                0.0, None, off, off, "light_off", 0.0, 0.0, off_inferred=True, light_off_known=False
            )
            out.append(burning)
        if off is None:
            break
        after = max(off, lit[1])
    return out


def _next_sample(trace: Trace, time_s: float) -> float:
    """Return the time of the first sample after an instant; infinity after the last."""
    k = int(np.searchsorted(trace.time_s, time_s, side="right"))
    return float(trace.time_s[k]) if k < trace.time_s.size else float("inf")


def _burns_from(view: EngineView, itt: Trace, rise_s: float | None) -> bool:
    """Return whether an engine with fuel on at the first sample burnt by then, whatever rise of ITT is seen first.

    So it is where the rise was under way, or came on top of more than residual heat. Without a rise only an idle that is
    seen tells, or where none can be seen such heat.
    """
    first = float(itt.time_s[0])
    if rise_s is None:
        return view.idle_unseen is not None and _hot_until(view, itt, first)
    return rise_s <= first or _hot_until(view, itt, rise_s)


def _hot_until(view: EngineView, itt: Trace, time_s: float) -> bool:
    """Return whether ITT was hotter than residual heat from the recording's first sample to this instant.

    A rise on top of that need not be a light-off: ITT rises in a burning engine, too, as when the starter lets go.
    """
    part = itt.between(0.0, time_s)
    return part.stop > part.start and bool((itt.values[part] > view.hottest_residual_c).all())


def _inferred_cut(view: EngineView, light_off: float) -> float | None:
    """Return when fuel must have gone where no fuel signal tells: where the last fall of Ng to a stand begins.

    An engine that has not come to a stand must have sunk below idle, with ITT falling as well. While ITT climbs it burns.
    """
    ng, itt, rules = view.trace("ng"), view.trace("itt"), view.profile.start
    if ng is None:
        return None
    part = ng.between(light_off, view.end_s)
    t, v = ng.time_s[part], ng.values[part]
    turning = np.flatnonzero(v > view.turning_pct)
    if not turning.size:
        return None
    first = int(turning[0])
    stand = run_down_from(view, light_off)
    if stand is None:
        top, idle = float(v[first:].max()), rules.at_idle_pct
        if idle is None or v[-1] >= idle or v[-1] > 0.9 * top:
            return None  # still running, or so near its highest speed that no cut is visible
        cut = float(t[first + int(np.flatnonzero(v[first:] >= min(top, idle) * 0.98)[-1])])
        falls = itt is None or find_flame_out(itt, ng, cut, view.end_s, idle) is not None
        return cut if falls else None
    cut, stood = stand
    if itt is not None:
        part = itt.between(cut, stood)
        at = itt.at(cut)
        if part.stop > part.start and at is not None:
            k = part.start + int(np.argmax(itt.values[part]))
            if itt.values[k] - at > 2.0 * itt.doubt:
                cut = float(itt.time_s[k])
    return cut


def run_down_from(view: EngineView, begin: float) -> tuple[float, float] | None:
    """Return where the last fall of Ng to a stand begins, and when it stands; None where it does not come to one.

    Without idle in the profile a fall from any speed counts, as far back as Ng falls as no driven engine does.
    """
    ng, idle = view.trace("ng"), view.profile.start.idle_ng_pct
    if ng is None:
        return None
    part = ng.between(begin, view.end_s)
    t, v = ng.time_s[part], ng.values[part]
    turning = np.flatnonzero(v > view.turning_pct)
    if not turning.size:
        return None
    first = int(turning[0])
    below = np.flatnonzero(v[first:] < view.turning_pct)
    if not below.size:
        return None
    stop = first + int(below[0])
    v, t = v[first : stop + 1], t[first : stop + 1]
    if idle is not None:
        held = v >= min(float(v.max()), idle) * 0.98
    else:
        held = v > (1.0 - FALLS_BY) * np.interp(t - FALLING_OVER_S, t, v)
    return float(t[int(np.flatnonzero(held)[-1])]), float(t[-1])
