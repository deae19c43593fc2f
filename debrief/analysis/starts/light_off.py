"""When it lit, when the flame went out, and when idle was reached."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import stretches_above
from debrief.analysis.signal.traces import GAP_FLOOR_S, Trace, lowest_before
from debrief.recording.model import Channel, FloatArray

RISE_WITHIN_S = 3.0
FIRST_LOOK = 512
IDLE_FOR_S = 3.0
FLAME_OUT_FOR_S = 3.0


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
    def burnt_before(self) -> bool:
        """Whether it burnt by the recording's first sample, so that nobody knows since when."""
        return self.light_off_s == 0.0 and not self.light_off_known

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
        return at_idle and bool(flow.values[0] > least_flow(flow))
    return at_idle and (fuel is None or bool(fuel.values[0] > 0.5))


def least_flow(flow: Channel) -> float:
    """Return the flow above which fuel is on: two steps of the recorder, and 2 % of the highest flow."""
    return max(2.0 * (flow.resolution or 0.0), 0.02 * float(flow.values.max()))
