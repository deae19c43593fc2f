"""The hung-start rule."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.analysis.attempts import Attempt
from debrief.analysis.bounds import earliest_idle
from debrief.analysis.engine_view import EngineView

LIT_FOR_S = 3.0


@dataclass(frozen=True)
class Hang:
    """A hang: ``stagnated`` or ``too_slow``, from when to when, with the gain that shows it.

    `gain_pct` is the smallest Ng gain over `hung_for_s` seen, None for ``too_slow``.
    """

    reason: str
    start_s: float
    end_s: float
    recovered: bool
    gain_pct: float | None


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
    Stagnated: lit for 3 s, Ng more than the tolerance below idle, and the gain of Ng over `hung_for_s` plus
    the recorder's step is less than `hung_ng_rate_pct_per_s` x `hung_for_s`. Too slow: not at idle
    `idle_within_s` after light-off. The hang begins where the first such stretch begins, and ends at idle,
    at the cut, at the flame-out, or at the attempt's end.
    """
    for light_off, end in lit_stretches(attempt):
        hang = _hang_between(view, attempt, light_off, end)
        if hang is not None:
            return hang
    return None


def _hang_between(view: EngineView, attempt: Attempt, light_off: float, end: float) -> Hang | None:
    rules, ng = view.profile.start, view.trace("ng")
    if ng is None or rules.idle_ng_pct is None:
        return None
    recovered = attempt.idle_s is not None
    below_idle = rules.idle_ng_pct - (rules.idle_tolerance_pct or 0.0)
    if rules.hung_ng_rate_pct_per_s is not None and rules.hung_for_s is not None:
        span = rules.hung_for_s
        part = ng.between(light_off + LIT_FOR_S + span, end)
        t, v = ng.time_s[part], ng.values[part]
        before = np.interp(t - span, ng.time_s, ng.values)
        gap_edges = np.concatenate(([0], np.cumsum(ng.gap)))
        k = np.arange(part.start, part.start + t.size)
        j = np.searchsorted(ng.time_s, t - span, side="right") - 1
        whole = gap_edges[k] == gap_edges[np.maximum(j, 0)]
        gain = v - before + 2.0 * ng.half_resolution
        held = whole & (v < below_idle) & (gain < rules.hung_ng_rate_pct_per_s * span)
        hits = np.flatnonzero(held)
        if hits.size:
            begin = float(t[hits[0]]) - span
            return Hang("stagnated", begin, end, recovered, float(gain[held].min()))
    if rules.idle_within_s is not None:
        due = light_off + rules.idle_within_s
        reached = attempt.idle_s
        if reached is not None:
            end = min(end, earliest_idle(ng, reached, below_idle))
        if end > due or (reached is None and end >= due):
            return Hang("too_slow", due, end, recovered, None)
    return None
