"""The last shutdown: rest before the cut, heat soak after it, and how fast the engine cooled."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import partial

import numpy as np

from debrief.analysis.evidence.evidence_samples import Readings, around, beside, cut_of, stretch
from debrief.analysis.evidence.measured import Measured
from debrief.analysis.model import Measure
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.point_readings import missing
from debrief.analysis.signal.traces import DOUBT, Trace
from debrief.analysis.starts.attempts import Found
from debrief.analysis.starts.light_off import Fuel
from debrief.analysis.starts.shutdowns import rest_before, shutdowns
from debrief.recording.model import FloatArray

LEAST_SOAK_C = 5.0
"""A smaller rise after the cut is none."""
STILL_RISES_S = 20.0
"""A highest value so near to the end of what was seen may not be the last."""
LEAST_FALL_S = 60.0
LEAST_FALL = 0.05
"""Of the excess over the air the ITT falls at least by this part, for its rate to be known."""
ROUNDS = 6
PAST_TOP = 0.02
"""From where it has fallen by this part of the excess it cools as one body."""

NO_SHUTDOWN = "no shutdown in the recording"
NO_SOAK = "{itt} did not rise again after the fuel cut-off"
NO_FALL = "{itt} did not fall for 60 s after the soak in the recording"
TURNED = "the starter turned the engine after the fuel cut-off"
LIT_AGAIN = "fuel came again after the fuel cut-off"


@dataclass(frozen=True)
class Soak:
    """The heat soak after a cut: its highest sample, [s] and [degC], and until when the engine was left alone, [s]."""

    top_s: float
    top_c: float
    until_s: float
    still_rises: bool


def shutdown_measures(view: EngineView, found: Found) -> dict[str, Measured]:
    """Return what is measured of the last shutdown of a running engine."""
    cuts = shutdowns(found)
    fuel = cuts[-1] if cuts else None
    until, ended = _left_alone(view, found, fuel)
    itt = view.trace("itt")
    soak = NO_SHUTDOWN if fuel is None else _soak(view, itt, fuel, until)
    return {
        "idle_before_cut": _rest(view, found, fuel),
        "soak_peak_itt": _soak_peak(view, soak, fuel, ended),
        "cooling_time_constant": _cooling(view, itt, soak),
        "cut_to_residual_itt": _to_residual(view, itt, fuel, until, ended),
    }


def _left_alone(view: EngineView, found: Found, fuel: Fuel | None) -> tuple[float, str | None]:
    """Return until when nothing was done to the engine after the cut, and what ended it; None for the recording's end."""
    off = 0.0 if fuel is None else fuel.off_s or 0.0
    turned = [
        run.start_s if run.start_low_s is None else run.start_low_s
        for run in found.runs
        if run.start_s >= off
    ]
    turned += [off for run in found.runs if run.start_s < off and (run.end_s is None or run.end_s > off)]
    lit = [one.on_s if one.on_low_s is None else one.on_low_s for one in found.fuels if one.on_s > off]
    end = min([*turned, *lit, view.end_s])
    if end == view.end_s:
        return end, None
    return max(end, off), TURNED if end in turned else LIT_AGAIN


def _rest(view: EngineView, found: Found, fuel: Fuel | None) -> Measured:
    of = partial(
        Measured,
        formula="time of the cut − end of the last stretch that was not at rest",
        keys=("shutdown.settle_s", "shutdown.settle_itt_c", "start.idle_ng_pct"),
    )
    if fuel is None:
        return of(missing("s", NO_SHUTDOWN))
    rest = rest_before(view, found, fuel)
    if rest.value_s is None:
        return of(Measure(None, "s", rest.low_s, rest.high_s, why=rest.why))
    value = rest.value_s

    def read() -> Readings:
        return cut_of(view, fuel) + beside(
            view, rest.channel, rest.off_s - value, "the beginning of the rest"
        )

    return of(Measure(value, "s", rest.low_s, rest.high_s, fuel.off_inferred), read=read if value else tuple)


def _soak(view: EngineView, itt: Trace | None, fuel: Fuel, until: float) -> Soak | str:
    """Return the soak: the highest ITT after the deepest fall that the cut began; or why there is none."""
    if itt is None:
        return view.missing_because("itt", view.names.itt)
    part = itt.between(fuel.off_s or 0.0, until)
    t, v = itt.time_s[part], itt.values[part]
    if t.size < 3:
        return f"{view.names.itt} was not recorded after the fuel cut-off"
    rise = v - np.minimum.accumulate(v)
    top = int(rise.argmax())
    if rise[top] < max(LEAST_SOAK_C, 3.0 * itt.doubt):
        return NO_SOAK.format(itt=view.names.itt)
    return Soak(float(t[top]), float(v[top]), until, until - float(t[top]) < STILL_RISES_S)


def _soak_peak(view: EngineView, soak: Soak | str, fuel: Fuel | None, ended: str | None) -> Measured:
    of = partial(Measured, formula="highest sample after the fall that the cut began")
    if isinstance(soak, str) or fuel is None:
        return of(missing("degC", NO_SHUTDOWN if fuel is None else str(soak)))
    itt = view.trace("itt")
    peak = None if itt is None else itt.peak(np.array([[soak.top_s, soak.until_s]]))
    low = soak.top_c if peak is None else peak.low
    high = None if peak is None or soak.still_rises else peak.high
    why = (ended or f"the recording ends while {view.names.itt} may still rise") if soak.still_rises else None
    return of(
        Measure(soak.top_c, "degC", low, high, why=why),
        read=partial(
            around, view, "itt", soak.top_s, soak.until_s, soak.top_s, "highest with its neighbours"
        ),
    )


def _cooling(view: EngineView, itt: Trace | None, soak: Soak | str) -> Measured:
    """Return the time in which the excess of ITT over the air falls to 1/e, from the soak on.

    Notes
    -----
    The curve of a body that cools as one, from where it has fallen by 2 % of the excess. The bounds are those of the curve,
    and the curves of its first and second half: where it does not fall as one body these differ.
    """
    of = partial(Measured, formula="τ of the least-squares curve T − OAT = a × exp(−t / τ)")
    if isinstance(soak, str) or itt is None:
        return of(missing("s", str(soak)))
    oat = view.trace("oat")
    if oat is None:
        return of(missing("s", view.missing_because("oat", "OAT")))
    near = oat.between(soak.top_s - LEAST_FALL_S, soak.until_s)
    if near.stop <= near.start:
        return of(missing("s", "OAT was not recorded there"))
    air = float(np.median(oat.values[near]))
    excess = soak.top_c - air
    part = itt.between(soak.top_s, soak.until_s)
    t, v = itt.time_s[part], itt.values[part]
    fallen = np.flatnonzero(v > air + (1.0 - PAST_TOP) * excess)
    first = int(fallen[-1]) + 1 if fallen.size else 0
    t, v = t[first:], v[first:]
    if excess <= 0 or t.size < 6 or t[-1] - t[0] < LEAST_FALL_S:
        return of(missing("s", NO_FALL.format(itt=view.names.itt)))
    if float(np.mean(v[: t.size // 3]) - np.mean(v[-(t.size // 3) :])) < max(
        LEAST_FALL * excess, 2.0 * itt.doubt
    ):
        return of(missing("s", NO_FALL.format(itt=view.names.itt)))
    rate, error = _decay(t, v - air, itt)
    half = t.size // 2
    rates = [rate - DOUBT * error, rate + DOUBT * error]
    for piece in (slice(0, half), slice(half, t.size)):
        own, unsure = _decay(t[piece], v[piece] - air, itt)
        rates += [own] if abs(own - rate) > DOUBT * math.hypot(unsure, error) else []
    if rate <= 0:
        return of(missing("s", NO_FALL.format(itt=view.names.itt)))
    slowest = min(rates)
    return of(
        Measure(1.0 / rate, "s", 1.0 / max(rates), None if slowest <= 0 else 1.0 / slowest),
        read=lambda: (
            stretch(view, "itt", float(t[0]), float(t[-1]), "while it cooled")
            + around(view, "oat", soak.top_s, soak.until_s, float(oat.time_s[near.start]), "beside it")
        ),
    )


def _decay(t: FloatArray, excess: FloatArray, itt: Trace) -> tuple[float, float]:
    """Return the rate at which an excess falls, [1/s], and its standard error: of the noise, the step, and what is left over.

    Least squares of a exp(-r t), found from the straight line between the means of the first and the last third.
    """
    x = t - t[0]
    third = max(t.size // 3, 1)
    first, last = float(excess[:third].mean()), float(excess[-third:].mean())
    apart = float(x[-third:].mean() - x[:third].mean())
    if min(first, last) <= 0 or apart <= 0:
        return 0.0, math.inf
    rate = math.log(first / last) / apart
    top = first * math.exp(rate * float(x[:third].mean()))
    spread = 0.0
    for _ in range(ROUNDS):
        curve = np.exp(-rate * x)
        slope = -top * x * curve
        left = excess - top * curve
        aa, ab, bb = float(curve @ curve), float(curve @ slope), float(slope @ slope)
        spread = bb - ab * ab / aa
        if not math.isfinite(spread) or spread <= 0:
            return 0.0, math.inf
        by_a, by_b = float(curve @ left), float(slope @ left)
        step = (by_b - ab / aa * by_a) / spread
        top += (by_a - ab * step) / aa
        rate += step
    seen = math.sqrt(float(left @ left) / max(t.size - 2, 1))
    one = max(seen, itt.noise_seen.quick, 2.0 * itt.half_resolution / math.sqrt(12.0))
    return rate, one * itt.noise_seen.lasting * math.sqrt(itt.noise_seen.held / spread)


def _to_residual(
    view: EngineView, itt: Trace | None, fuel: Fuel | None, until: float, ended: str | None
) -> Measured:
    """Return how long after the cut ITT was last above the profile's highest ITT at fuel on."""
    level = view.profile.start.max_residual_itt_c
    of = partial(
        Measured,
        formula="time of the last sample above − time of the cut",
        keys=("start.max_residual_itt_c",),
    )
    if fuel is None or level is None or itt is None:
        why = (
            NO_SHUTDOWN
            if fuel is None
            else view.missing_because("itt", view.names.itt)
            if itt is None
            else f"the profile gives no highest {view.names.itt} at fuel on"
        )
        return of(missing("s", why))
    off = fuel.off_s or 0.0
    part = itt.between(off, until)
    t, v = itt.time_s[part], itt.values[part]
    hot = np.flatnonzero(v > level)
    if not t.size or not hot.size:
        return of(missing("s", f"{view.names.itt} was not above it after the fuel cut-off"))
    last = int(hot[-1])
    if last == t.size - 1:
        why = ended or "the recording ends before"
        return of(Measure(None, "s", float(t[last]) - off, None, why=why))
    if itt.gap[part.start + last]:
        return of(missing("s", f"a gap in {view.names.itt} hides it"))
    at = float(t[last] + (v[last] - level) / (v[last] - v[last + 1]) * (t[last + 1] - t[last]))
    sooner = off if fuel.off_low_s is None else fuel.off_low_s
    sure, may = (np.flatnonzero(v > level + sign * itt.doubt) for sign in (1.0, -1.0))
    low = float(t[sure[-1]]) - off if sure.size else 0.0
    high = None if not may.size or may[-1] == t.size - 1 else float(t[may[-1] + 1]) - sooner
    return of(
        Measure(at - off, "s", min(low, at - off), high),
        read=lambda: cut_of(view, fuel) + beside(view, "itt", at, "the last time above it"),
    )
