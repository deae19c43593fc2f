"""Where Ng of a burning engine stopped gaining, or idle came late: the detection of a hung start, with its bounds."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.model import NotJudged
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.fitted_lines import fitted, rounded, scattered
from debrief.analysis.signal.noise import above_all
from debrief.analysis.signal.sampling_bounds import earliest_idle, idle_bounds, light_off_bounds
from debrief.analysis.signal.traces import Trace
from debrief.analysis.starts.attempts import Attempt
from debrief.analysis.starts.light_off import Fuel
from debrief.recording.model import FloatArray

LIT_FOR_S = 3.0
SAME_S = 1e-6

APPROACH = 0.95
"""From this part of idle on the governor takes over: Ng that reaches idle soon is left alone."""

APPROACH_S = 10.0

NEAR = 1.05
"""What may be a hang is one where so many times the rule is ruled out: a gain a tenth above it is never told."""

LOOKS = 8.0
"""Slopes over stretches that overlap by more than about an eighth of their length are no new looks."""

EVEN = 2.0
"""A gain below so many times the rule is even: Ng does not bend there, but scatters."""


@dataclass(frozen=True)
class Hang:
    """A hang: ``stagnated`` or ``too_slow``, and from when to when.

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
    Stagnated: lit for 3 s, Ng below idle less the tolerance, and the least-squares slope of Ng over `hung_for_s` is below
    `hung_ng_rate_pct_per_s` by more than its own uncertainty; possible, where it is below, and a twentieth more than the
    rule is ruled out. Ng above 95 % of idle counts only where idle does not follow within 10 s: that is the governor.
    Too slow: not at idle `idle_within_s` after light-off; possible, where only the latest idle and the earliest light-off
    say so. The hang begins where the first such stretch begins, and ends at idle, at the cut, at the flame-out, or at the
    attempt's end. What may have been a hang and recovered is none: if it was one, it would be a caution.
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
    slopes = _slopes(view, ng, attempt, fuel, light_off, end)
    if slopes is not None:
        for sure, held in ((True, slopes.stagnated()), (False, slopes.may_have_stagnated())):
            if held.any() and (sure or not recovered):
                begin = float(slopes.end_s[np.argmax(held)]) - (rules.hung_for_s or 0.0)
                found = Hang("stagnated", begin, end, recovered, not sure, sure)
                if sure:
                    return found
                unsure = found
    return _too_slow(view, ng, attempt, fuel, light_off, end) or unsure


@dataclass(frozen=True, eq=False)
class _Slopes:
    """The slope of Ng up to each instant, and how far it may lie beside the true one, [%/s].

    `unsure` is for a true gain of the rule, `unsure_near` for one of `NEAR` times the rule.
    """

    end_s: FloatArray
    rate: FloatArray
    unsure: FloatArray
    unsure_near: FloatArray
    least: float

    def stagnated(self) -> NDArray[np.bool_]:
        """Return where Ng gained less than the rule asks, for sure."""
        return self.rate + self.unsure < self.least

    def may_have_stagnated(self) -> NDArray[np.bool_]:
        """Return where it seems to have gained less, and little more is ruled out."""
        return (self.rate < self.least) & (self.rate + self.unsure_near < NEAR * self.least)

    def untold(self) -> NDArray[np.bool_]:
        """Return where Ng may have gained less, if half the gain that the rule asks is nowhere told from it."""
        return (self.rate - self.unsure < self.least) & (float(self.unsure.min()) > 0.5 * self.least)


def _slopes(
    view: EngineView, ng: Trace, attempt: Attempt, fuel: Fuel, light_off: float, end: float
) -> _Slopes | None:
    """Return the slopes over `hung_for_s` while lit for 3 s, below idle, and not on the governor's approach.

    Each is of the readings up to the last that is `hung_for_s` old; left out where a gap lies among them. The level of
    confidence accounts for how many stretches are looked at. None where no slope is near the rule, or there is none.
    """
    rules = view.profile.start
    span, least = rules.hung_for_s, rules.hung_ng_rate_pct_per_s
    if span is None or least is None:
        return None
    # In the first sample without fuel Ng may have been falling already.
    burnt = fuel.off_low_s if fuel.lit_end_s == end and fuel.off_low_s is not None else end
    part = ng.between(_surely_lit(view, fuel, light_off) + LIT_FOR_S - SAME_S, burnt)
    t, v = ng.time_s[part], ng.values[part]
    gaps = np.concatenate(([0], np.cumsum(ng.gap[part.start : max(part.stop - 1, part.start)])))
    first = np.searchsorted(t, t - span + SAME_S, side="right") - 1
    last = np.flatnonzero((first >= 0) & (first < np.arange(t.size)))
    last = last[gaps[first[last]] == gaps[last]]
    first = first[last]
    lines = fitted(t, v, first, last)
    there = lines.at_end < (view.profile.start.at_idle_pct or 0.0)
    there &= (lines.at_end < APPROACH * (rules.idle_ng_pct or 0.0)) | ~_left_alone(attempt, t[last], burnt)
    lines = lines.where(there)
    at, even = t[lines.last], lines.rate < EVEN * least
    if not even.any():
        return None
    looks = min(float(at.size), 1.0 + LOOKS * float(at[-1] - at[0]) / span)
    step = 2.0 * ng.half_resolution
    unsure = near = scattered(t, v, lines, ng.noise_seen, step, above_all(math.ceil(looks)), even)
    if (lines.rate + unsure < NEAR * least).any():
        unsure, near = (np.hypot(unsure, rounded(t, lines, rate, step)) for rate in (least, NEAR * least))
    return _Slopes(at, lines.rate, unsure, near, least)


def _left_alone(attempt: Attempt, at: FloatArray, end: float) -> NDArray[np.bool_]:
    """Return at which instants idle follows within 10 s, or what follows is not known for so long."""
    return (end if attempt.idle_s is None else attempt.idle_s) - at <= APPROACH_S


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
    """Return the gaps of Ng that may hide a hang, or when idle was reached, and where its noise or step may.

    Notes
    -----
    Ng of a start does not sink: a gap hides no hang where, if it had stood still in the gap from its first
    instant on, or until its last, it would all the same have gained enough over `hung_for_s`.
    """
    rules, ng = view.profile.start, view.trace("ng")
    if hang is not None or ng is None or rules.idle_ng_pct is None:
        return []
    out: list[NotJudged] = []

    def add(why: str, begin: float, end: float, core: bool = True) -> None:
        out.append(NotJudged("hung start", why, None, view.name_of("ng"), begin, end, view.engine, core))

    for fuel, light_off, end in _lit(attempt):
        slopes = _slopes(view, ng, attempt, fuel, light_off, end)
        untold = np.empty(0) if slopes is None else slopes.end_s[slopes.untold()]
        if untold.size:
            why = "Ng is too noisy or too coarse to tell so small a gain"
            # What recovered to idle would have been a caution.
            add(why, float(untold[0]) - (rules.hung_for_s or 0.0), float(untold[-1]), attempt.idle_s is None)
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
