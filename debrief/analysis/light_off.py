"""When fuel came, when it lit, when it was cut, when the flame went out, and when idle was reached."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.analysis.discretes import on_periods
from debrief.analysis.engine_view import EngineView
from debrief.analysis.exceedance import time_above
from debrief.analysis.traces import Trace

LIGHT_OFF_RISE_C = 40.0
"""Used only to find the flame when the profile gives no `light_off_rise_c`."""

RISE_WITHIN_S = 3.0
IDLE_FOR_S = 3.0
FLAME_OUT_FOR_S = 3.0
TURNING_PCT = 2.0
ENGAGED_WITHIN_S = 60.0
"""A flame this soon after an inferred engagement belongs to it, even while the speed pick-up reads nothing."""


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
    t, v = itt.time_s[first : part.stop], itt.values[first : part.stop]
    if t.size < 2:
        return None
    least = np.minimum.accumulate(v)
    for k in np.flatnonzero(v - least >= rise_c):
        low = min(int(np.searchsorted(t, t[k] - RISE_WITHIN_S)), int(k) - 1)
        window = v[low:k]
        foot = float(window.min())
        if v[k] - foot < rise_c:
            continue
        # The last sample that had not begun to rise: at the foot, but for noise and the recorder's step.
        slack = max(2.0 * itt.half_resolution, 3.0 * itt.noise, 0.02 * rise_c)
        j = low + int(np.flatnonzero(window <= foot + slack)[-1])
        return float(t[j]), float(t[j + 1])
    return None


def find_idle(ng: Trace, begin: float, end: float, idle_pct: float, tolerance_pct: float) -> float | None:
    """Return when the 3 s at or above idle less the tolerance begin, or None.

    At or above: a level one representable number lower is used, since "above" excludes equal.
    """
    level = float(np.nextafter(idle_pct - tolerance_pct, -np.inf))
    for a, b in time_above(ng, level).estimate:
        a = max(float(a), begin)
        if min(float(b), end) - a >= IDLE_FOR_S - 1e-9:
            return a
    return None


def find_flame_out(itt: Trace, ng: Trace, begin: float, end: float) -> float | None:
    """Return when ITT and Ng begin to fall together for 3 s with fuel on, or None.

    Notes
    -----
    Falling: over the 3 s Ng loses at least 1 % and ITT at least 20 degC and a tenth of its rise above
    100 degC, and both end each second lower than they began it (beyond three deviations of noise).
    These amounts are common practice, no source: they keep a wandering needle from being a flame-out.
    """
    part = ng.between(begin, end)
    t = ng.time_s[part]
    for start in t[t <= end - FLAME_OUT_FOR_S]:
        marks = start + np.arange(0.0, FLAME_OUT_FOR_S + 0.5, 1.0)
        speeds = [ng.at(float(m)) for m in marks]
        temps = [itt.at(float(m)) for m in marks]
        if any(x is None for x in speeds) or any(x is None for x in temps):
            continue
        n = np.array(speeds, dtype=np.float64)
        c = np.array(temps, dtype=np.float64)
        if n[0] - n[-1] < 1.0 or c[0] - c[-1] < max(20.0, 0.1 * (c[0] - 100.0)):
            continue
        if np.all(np.diff(n) < -3.0 * ng.noise) and np.all(np.diff(c) < -3.0 * itt.noise):
            return float(start)
    return None


def began_running(view: EngineView) -> bool:
    """Return whether the recording begins with Ng at idle and fuel not recorded off."""
    rules = view.profile.start
    ng = view.trace("ng")
    if ng is None or rules.idle_ng_pct is None:
        return False
    at_idle = float(ng.values[0]) >= rules.idle_ng_pct - (rules.idle_tolerance_pct or 0.0)
    fuel = view.channel("fuel_on")
    return at_idle and (fuel is None or bool(fuel.values[0] > 0.5))


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
        top = float(flow.values.max())
        least = max(2.0 * (flow.resolution or 0.0), 0.02 * top)
        source, periods = "fuel_flow", on_periods(flow, least) if top > 0 else []
    else:
        return [] if itt is None else _from_flames(view, itt, rise, engagements)
    out = []
    running = began_running(view)
    for n, p in enumerate(periods):
        stop = view.end_s if p.off_s is None else p.off_s
        begin = p.on_s if p.on_low_s is None else p.on_low_s
        lit: tuple[float, float] | None
        if n == 0 and running and p.on_low_s is None:
            lit = (0.0, 0.0)
        else:
            lit = None if itt is None else find_light_off(itt, begin, stop, rise)
            if lit is not None and lit[0] < p.on_s:
                lit = (p.on_s, max(lit[1], p.on_s))
        off_low = None if p.off_s is None else p.off_low_s
        out.append(Fuel(p.on_s, p.on_low_s, p.off_s, off_low, source, *(lit or (None, None))))
    return out


def _from_flames(
    view: EngineView, itt: Trace, rise: float, engagements: list[tuple[float, float | None]]
) -> list[Fuel]:
    """Return fuel stretches inferred from light-offs while the engine turns; fuel is bounded before each."""
    ng = view.trace("ng")
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
        before = [a for a, _ in engagements if after <= a <= lit[0]]
        engaged = bool(before) and lit[0] - before[-1] <= ENGAGED_WITHIN_S
        if speed is not None and speed < TURNING_PCT and not engaged:
            after = lit[1]
            continue
        off = _inferred_cut(view, lit[0])
        low = before[-1] if before else None
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
