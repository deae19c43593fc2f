"""When fuel came, when it lit, when it was cut, when the flame went out, and when idle was reached."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import stretches_above
from debrief.analysis.signal.switch_edges import on_periods
from debrief.analysis.signal.traces import GAP_FLOOR_S, Trace, lowest_before
from debrief.recording.model import Channel, FloatArray

LIGHT_OFF_RISE_C = 40.0
"""Used only to find the flame when the profile gives no `light_off_rise_c`."""

RISE_WITHIN_S = 3.0
FIRST_LOOK = 512
IDLE_FOR_S = 3.0
FLAME_OUT_FOR_S = 3.0
TURNING_PCT = 2.0
ENGAGED_WITHIN_S = 60.0
"""A flame this soon after an inferred engagement belongs to it, even while the speed pick-up reads nothing."""

FALL_BEFORE_S = 15.0
"""How far around the crossing of idle the fall of a flame-out is looked for."""


@dataclass(frozen=True)
class Fuel:
    """One stretch of fuel on, before it is bound to a start attempt.

    `source` is ``fuel_on``, ``fuel_flow`` or ``light_off``. `out_s` is a flame-out before the cut.
    """

    on_s: float
    on_low_s: float | None
    off_s: float | None
    off_low_s: float | None
    source: str
    light_off_s: float | None
    light_off_high_s: float | None
    out_s: float | None = None
    off_inferred: bool = False
    light_off_known: bool = True
    """False where it burnt but no rise of ITT was recorded: `light_off_s` is then from when it surely burnt."""

    @property
    def seen_light_off_s(self) -> float | None:
        """The light-off where the recording shows it."""
        return self.light_off_s if self.light_off_known else None

    @property
    def began_inside(self) -> bool:
        """Whether fuel was already on at its first sample, so that nobody knows since when."""
        return self.on_low_s is None and self.source != "light_off"

    @property
    def lit_end_s(self) -> float | None:
        """End of the flame: the cut or the flame-out, None when neither was recorded."""
        ends = [x for x in (self.off_s, self.out_s) if x is not None]
        return min(ends) if ends else None

    def lit_at(self, time_s: float) -> bool:
        """Return whether it burns at this instant."""
        end = self.lit_end_s
        return self.light_off_s is not None and self.light_off_s <= time_s and (end is None or time_s < end)


def find_light_off(itt: Trace, begin: float, end: float, rise_c: float) -> tuple[float, float] | None:
    """Return (last sample before the rise, the next sample), or None when it never lit in the stretch.

    Notes
    -----
    Rule: the first instant from which ITT rises by `rise_c` above its minimum since `begin`, reached
    within 3 s (at least one sample interval); placed at the last sample before the rise.
    """
    part = itt.between(begin, end)
    first = max(part.start - 1, 0)  # the last sample before fuel is where the rise may start
    size = FIRST_LOOK
    low = first
    while low < part.stop - 1:
        # Most flames are seen soon: look at a little first, then at ever more.
        high = min(low + size, part.stop)
        back = max(int(np.searchsorted(itt.time_s, itt.time_s[low] - RISE_WITHIN_S)), first)
        t, v = itt.time_s[back:high], itt.values[back:high]
        hit = np.flatnonzero(v - lowest_before(t, v, RISE_WITHIN_S) >= rise_c)
        hit = hit[hit >= low - back]
        if hit.size:
            k = int(hit[0])
            window = v[min(int(np.searchsorted(t, t[k] - RISE_WITHIN_S)), k - 1) : k]
            # The last sample that had not begun to rise: at the foot, but for noise and the recorder's step.
            slack = max(2.0 * itt.half_resolution, 3.0 * itt.noise, 0.02 * rise_c)
            j = k - window.size + int(np.flatnonzero(window <= window.min() + slack)[-1])
            unseen = max(2.0 * itt.half_resolution, 3.0 * itt.noise)
            # A drift is at most a quarter as steep as the slowest rise that counts.
            j = _bend(t, v, j, k, slack, unseen, 0.25 * rise_c / RISE_WITHIN_S)
            return float(t[j]), float(t[j + 1])
        low, size = high, 2 * size
    return None


def _bend(
    t: FloatArray, v: FloatArray, foot: int, top: int, slack: float, unseen: float, drift: float
) -> int:
    """Return where a slow drift bends into the rise: `foot`, or later where ITT crept up before it lit.

    Notes
    -----
    The bend lies farthest below the straight line from foot to top; from there back over steps that are more
    than noise and the recorder's step, and steeper than a drift, `drift` [unit/s]. Where nothing lies below
    that line by more than the slack, it rose from the foot on.
    """
    at, values = t[foot : top + 1], v[foot : top + 1]
    below = values[0] + (values[-1] - values[0]) * (at - at[0]) / (at[-1] - at[0]) - values
    j = int(np.argmax(below))
    if below[j] <= slack:
        return foot
    steps = np.diff(values)
    real = (steps > unseen) & (steps > drift * np.diff(at))
    while j > 0 and real[j - 1]:
        j -= 1
    return foot + j


def find_idle(ng: Trace, begin: float, end: float, at_idle_pct: float) -> float | None:
    """Return when the first 3 s at or above this speed begin, or None.

    At or above: a level one representable number lower is used, since "above" excludes equal.
    """
    level = float(np.nextafter(at_idle_pct, -np.inf))
    for a, b in stays_above(ng, level, IDLE_FOR_S, begin, end):
        a = max(float(a), begin)
        if min(float(b), end) - a >= IDLE_FOR_S - 1e-9:
            return a
    return None


def stays_above(trace: Trace, level: float, for_s: float, begin: float, end: float) -> FloatArray:
    """Return the stretches above the level that last, (m, 2), of those that meet `begin` to `end`."""
    rows = stretches_above(trace.clip(begin, end), level)
    return rows[rows[:, 1] - rows[:, 0] >= for_s - 1e-9] if len(rows) else rows


def find_flame_out(
    itt: Trace, ng: Trace, begin: float, end: float, ends_below_pct: float | None = None
) -> float | None:
    """Return when ITT and Ng begin to fall together for 3 s with fuel on, or None.

    With `ends_below_pct` only a fall that ends below this Ng counts.

    Notes
    -----
    Falling: over the 3 s Ng loses at least 1 % and ITT at least 20 degC and a tenth of its rise above
    100 degC, and both end each second lower than they began it (beyond three deviations of noise).
    These amounts are common practice, no source: they keep a wandering needle from being a flame-out.
    """
    part = ng.between(begin, end)
    t = ng.time_s[part]
    starts = t[t <= end - FLAME_OUT_FOR_S]
    if not starts.size:
        return None
    n, c = (
        np.stack([trace.at_each(starts + m) for m in np.arange(0.0, FLAME_OUT_FOR_S + 0.5, 1.0)])
        for trace in (ng, itt)
    )
    with np.errstate(invalid="ignore"):  # a mark in a gap is NaN, and nothing is claimed there
        falls = (n[0] - n[-1] >= 1.0) & (c[0] - c[-1] >= np.maximum(20.0, 0.1 * (c[0] - 100.0)))
        falls &= np.all(np.diff(n, axis=0) < -3.0 * ng.noise, axis=0)
        falls &= np.all(np.diff(c, axis=0) < -3.0 * itt.noise, axis=0)
        if ends_below_pct is not None:
            falls &= n[-1] < ends_below_pct
    hit = np.flatnonzero(falls)
    return float(starts[hit[0]]) if hit.size else None


def began_running(view: EngineView) -> bool:
    """Return whether the recording begins with Ng at idle and fuel not recorded off."""
    rules = view.profile.start
    ng = view.trace("ng")
    if ng is None or rules.at_idle_pct is None:
        return False
    if ng.time_s[0] > GAP_FLOOR_S:
        return False  # Ng was not recorded when the recording began
    at_idle = float(ng.values[0]) >= rules.at_idle_pct
    fuel, flow = view.channel("fuel_on"), view.channel("fuel_flow")
    if fuel is None and flow is not None:
        return at_idle and bool(flow.values[0] > _least_flow(flow))
    return at_idle and (fuel is None or bool(fuel.values[0] > 0.5))


def _least_flow(flow: Channel) -> float:
    """Return the flow above which fuel is on: two steps of the recorder, and 2 % of the highest flow."""
    return max(2.0 * (flow.resolution or 0.0), 0.02 * float(flow.values.max()))


def fuel_stretches(view: EngineView, engagements: list[tuple[float, float | None]]) -> list[Fuel]:
    """Return the stretches of fuel, from the best signal there is.

    Parameters
    ----------
    view : EngineView
    engagements : list of (start, end)
        Starter engagements; used only where no fuel signal was recorded, to bound fuel before light-off.
    """
    rise = view.profile.start.light_off_rise_c or LIGHT_OFF_RISE_C
    itt = view.trace("itt")
    fuel = view.channel("fuel_on")
    flow = view.channel("fuel_flow")
    if fuel is not None:
        source, periods = "fuel_on", on_periods(fuel)
    elif flow is not None and flow.values.size:
        source = "fuel_flow"
        periods = on_periods(flow, _least_flow(flow)) if float(flow.values.max()) > 0 else []
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
            if itt is not None and (lit is None or (p.on_low_s is None and lit[0] <= itt.time_s[0])):
                # No rise was recorded, or it was under way: an engine that reaches idle on fuel has lit.
                idle = _idle_between(view, p.on_s, stop)
                known = lit is None and idle is None
                if p.on_low_s is None and (lit is not None or idle is not None):
                    lit = (p.on_s, p.on_s)
                elif idle is not None:
                    lit = (idle, idle)
        off_low = None if p.off_s is None else p.off_low_s
        at, high = lit or (None, None)
        fuel_on = Fuel(p.on_s, p.on_low_s, p.off_s, off_low, source, at, high, light_off_known=known)
        out += _with_flame_outs(view, fuel_on, rise)
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
        inside = (
            float(ng.values[0]) > (view.profile.start.stopped_ng_pct or TURNING_PCT)
            and not before
            and not out
        )
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
    turning = np.empty(0) if ng is None else ng.time_s[ng.values >= TURNING_PCT]
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
        if speed is not None and speed < TURNING_PCT and not engaged:
            # Standing: no flame before the engine turns or the starter engages again.
            ahead = [x[np.searchsorted(x, lit[1], side="right") :][:1] for x in (turning, engaged_at)]
            wakes = min((float(x[0]) for x in ahead if x.size), default=np.inf)
            after = max(lit[1], wakes - ENGAGED_WITHIN_S)
            continue
        off = _inferred_cut(view, lit[0])
        out.append(Fuel(lit[0], low, off, off, "light_off", *lit, off_inferred=True))
        if off is None:
            break
        after = max(off, lit[1])
    return out


def _next_sample(trace: Trace, time_s: float) -> float:
    """Return the time of the first sample after an instant; infinity after the last."""
    k = int(np.searchsorted(trace.time_s, time_s, side="right"))
    return float(trace.time_s[k]) if k < trace.time_s.size else float("inf")


def _inferred_cut(view: EngineView, light_off: float) -> float | None:
    """Return when fuel must have gone, seen from Ng alone: where its last fall to a stand begins."""
    ng = view.trace("ng")
    rules = view.profile.start
    if ng is None:
        return None
    stopped = rules.stopped_ng_pct or TURNING_PCT
    part = ng.between(light_off, view.end_s)
    t, v = ng.time_s[part], ng.values[part]
    if not t.size:
        return None
    turning = np.flatnonzero(v > stopped)
    if not turning.size:
        return None
    first = int(turning[0])
    below = np.flatnonzero(v[first:] < stopped)
    stop = first + int(below[0]) if below.size else t.size - 1
    top = float(v[first : stop + 1].max())
    if not below.size and v[-1] > 0.9 * top:
        return None  # still running, or so near its highest speed that no cut is visible
    high = np.flatnonzero(v[first : stop + 1] >= min(top, rules.idle_ng_pct or top) * 0.98)
    return float(t[first + int(high[-1])])
