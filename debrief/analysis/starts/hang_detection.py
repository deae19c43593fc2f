"""Where Ng of a burning engine stopped gaining, or idle came late: the detection of a hung start, with its bounds."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from debrief.analysis.model import NotJudged
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.sampling_bounds import earliest_idle, idle_bounds, light_off_bounds
from debrief.analysis.signal.traces import Trace
from debrief.analysis.starts.attempts import Attempt
from debrief.analysis.starts.light_off import Fuel
from debrief.recording.model import FloatArray

LIT_FOR_S = 3.0


AROUND_S = 60.0
"""How long before and after the noise is looked at."""

NOISE = 3.0
"""How many deviations of the noise a difference of two readings may lie beside the true one."""


@dataclass(frozen=True)
class Hang:
    """A hang: ``stagnated`` or ``too_slow``, from when to when.

    `possible` is set where sampling, the recorder's step or noise make it; `certain` where they cannot unmake it.
    """

    reason: str
    start_s: float
    end_s: float
    recovered: bool
    possible: bool = False
    certain: bool = True


def lit_stretches(attempt: Attempt) -> list[tuple[float, float]]:
    """Return from each light-off to idle, cut, flame-out or the attempt's end."""
    end = attempt.end_s if attempt.idle_s is None else attempt.idle_s
    return [
        (f.light_off_s, end if f.lit_end_s is None else min(end, f.lit_end_s))
        for f in attempt.fuels
        if f.light_off_s is not None
    ]


def find_hang(view: EngineView, attempt: Attempt) -> Hang | None:
    """Return the first hang of the attempt, or None.

    Notes
    -----
    Stagnated: lit for 3 s, Ng more than the tolerance below idle, and the gain of Ng over `hung_for_s` is less than
    `hung_ng_rate_pct_per_s` x `hung_for_s`, also with a step of the recorder and three deviations of the noise of a
    difference added; possible, where it is only with them taken off. Too slow: not at idle `idle_within_s` after
    light-off; possible, where only the latest idle and the earliest light-off say so. The hang begins where
    the first such stretch begins, and ends at idle, at the cut, at the flame-out, or at the attempt's end. What
    may have been a hang and recovered is none: if it was one, it would be a caution.
    """
    unsure: Hang | None = None
    for fuel, light_off, end in _lit(attempt):
        hang = _hang_between(view, attempt, fuel, light_off, end)
        if hang is not None and not hang.possible:
            return hang
        unsure = unsure or hang
    return unsure


def _lit(attempt: Attempt) -> list[tuple[Fuel, float, float]]:
    """Return each fuel that lit, with its stretch."""
    lit = [f for f in attempt.fuels if f.light_off_s is not None]
    return [(f, a, b) for f, (a, b) in zip(lit, lit_stretches(attempt), strict=True)]


def _hang_between(
    view: EngineView, attempt: Attempt, fuel: Fuel, light_off: float, end: float
) -> Hang | None:
    rules, ng = view.profile.start, view.trace("ng")
    if ng is None or rules.idle_ng_pct is None:
        return None
    recovered = attempt.idle_s is not None
    unsure: Hang | None = None
    if rules.hung_ng_rate_pct_per_s is not None and rules.hung_for_s is not None:
        least = rules.hung_ng_rate_pct_per_s * rules.hung_for_s
        # In the first sample without fuel Ng may have been falling already.
        burnt = fuel.off_low_s if fuel.lit_end_s == end and fuel.off_low_s is not None else end
        t, gain = _gains(view, ng, _surely_lit(view, fuel, light_off), burnt)
        open_pct = _open_gain(ng.clip(light_off - AROUND_S, end + AROUND_S))
        for sure, held in ((True, gain + open_pct < least), (False, gain - open_pct < least)):
            if held.any() and (sure or not recovered):
                begin = float(t[np.argmax(held)]) - rules.hung_for_s
                found = Hang("stagnated", begin, end, recovered, not sure, sure)
                if sure:
                    return found
                unsure = found
    return _too_slow(view, ng, attempt, fuel, light_off, end) or unsure


def _open_gain(ng: Trace) -> float:
    """Return by how much a difference of two readings may be off: a step, and the noise of both, [%]."""
    return 2.0 * ng.half_resolution + NOISE * math.sqrt(2.0) * _quiet_noise(ng)


def _quiet_noise(ng: Trace) -> float:
    """Return the deviation of the noise beyond the recorder's step, where Ng is quietest, [%].

    Notes
    -----
    From how far each sample lies beside the cubic through its two neighbours on each side, at their own times: a
    quarter of these are below 0.3186 deviations. A cubic and the quietest quarter tell, since Ng bends in a start.
    Rounding alone makes up to 0.61 of a step look like noise; it is left out, the step being counted apart.
    """
    t, v = ng.time_s, ng.values
    if t.size < 8:
        return 0.0
    at = t[2:-2]
    others = [t[k : t.size - 4 + k] for k in (0, 1, 3, 4)]
    values = [v[k : v.size - 4 + k] for k in (0, 1, 3, 4)]
    beside, spread = v[2:-2].copy(), np.ones(at.size)
    for n, own in enumerate(others):
        weight = np.ones(at.size)
        for m, other in enumerate(others):
            if m != n:
                weight *= (at - other) / (own - other)
        beside -= weight * values[n]
        spread += weight**2
    found = float(np.quantile(np.abs(beside) / np.sqrt(spread), 0.25)) / 0.3186
    return math.sqrt(max(found**2 - (0.61 * 2.0 * ng.half_resolution) ** 2, 0.0))


def _gains(view: EngineView, ng: Trace, light_off: float, end: float) -> tuple[FloatArray, FloatArray]:
    """Return the instants below idle, lit for 3 s, and the gain of Ng up to each over `hung_for_s`, [%].

    Left out where the beginning lies in a gap: what Ng was there is not known.
    """
    rules = view.profile.start
    span = rules.hung_for_s or 0.0
    part = ng.between(light_off + LIT_FOR_S + span, end)
    t, v = ng.time_s[part], ng.values[part]
    gain = v - ng.at_each(t - span)
    known = np.isfinite(gain) & (v < (view.profile.start.at_idle_pct or 0.0))
    return t[known], gain[known]


def _surely_lit(view: EngineView, fuel: Fuel, light_off: float) -> float:
    """Return the light-off, or the end of a gap in which it lies: until there it may not have been lit."""
    itt, high = view.trace("itt"), fuel.light_off_high_s
    if itt is None or high is None or not itt.gap.any():
        return light_off
    k = int(np.searchsorted(itt.time_s, light_off + 1e-9, side="right")) - 1
    return max(light_off, high) if 0 <= k < itt.gap.size and itt.gap[k] else light_off


def _too_slow(
    view: EngineView, ng: Trace, attempt: Attempt, fuel: Fuel, light_off: float, end: float
) -> Hang | None:
    within, itt = view.profile.start.idle_within_s, view.trace("itt")
    if within is None:
        return None
    due = light_off + within
    reached = attempt.idle_s
    first, last = end, end
    if reached is not None:
        end = min(end, earliest_idle(ng, reached, (view.profile.start.at_idle_pct or 0.0)))
        first, last = idle_bounds(ng, reached, (view.profile.start.at_idle_pct or 0.0))
    elif fuel.lit_end_s == end and fuel.off_low_s is not None:
        first = fuel.off_low_s
    lit = (light_off, light_off)
    if itt is not None and fuel.seen_light_off_s is not None:
        lit = light_off_bounds(itt, light_off)
    if end > due or (reached is None and end >= due):
        certain = min(first, end) - max(lit[1], light_off) > within or (reached is None and first >= due)
        return Hang("too_slow", due, end, reached is not None, False, certain)
    if reached is None and last - min(lit[0], light_off) > within:
        return Hang("too_slow", min(due, end), end, False, True, False)
    return None


def hang_unseen(view: EngineView, attempt: Attempt, hang: Hang | None) -> list[NotJudged]:
    """Return the gaps of Ng that may hide a hang, or when idle was reached.

    Notes
    -----
    Ng of a start does not sink: a gap hides no hang where, if it had stood still in the gap from its first
    instant on, or until its last, it would all the same have gained enough over `hung_for_s`.
    """
    rules, ng = view.profile.start, view.trace("ng")
    if hang is not None or ng is None or rules.idle_ng_pct is None:
        return []
    out: list[NotJudged] = []

    def add(why: str, begin: float, end: float) -> None:
        out.append(NotJudged("hung start", why, None, view.name_of("ng"), begin, end, view.engine, core=True))

    for _, light_off, end in _lit(attempt):
        for k in ng.gap_index:
            begin, stop = float(ng.time_s[k]), float(ng.time_s[k + 1])
            if stop > light_off + LIT_FOR_S and begin < end and _may_hide(view, ng, int(k)):
                add("a gap in Ng may hide that it stood still", max(begin, light_off), min(stop, end))
        reached, within = attempt.idle_s, rules.idle_within_s
        if reached is not None and within is not None:
            first = earliest_idle(ng, reached, (view.profile.start.at_idle_pct or 0.0))
            if first <= light_off + within < reached:
                add("a gap in Ng hides when it reached idle", first, reached)
    return out


def _may_hide(view: EngineView, ng: Trace, k: int) -> bool:
    rate, span = view.profile.start.hung_ng_rate_pct_per_s, view.profile.start.hung_for_s
    if rate is None or span is None:
        return False
    # Of a gap as long as the rule asks both lie inside: nothing is known to have been gained.
    before, after = ng.at(float(ng.time_s[k + 1]) - span), ng.at(float(ng.time_s[k]) + span)
    gains = [float(ng.values[k]) - before] if before is not None else [0.0]
    gains += [after - float(ng.values[k + 1])] if after is not None else []
    return min(gains) < rate * span
