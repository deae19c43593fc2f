"""The fuel cuts that shut a running engine down, and how long it had been at rest before each."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import time_above
from debrief.analysis.signal.interval_sets import contains
from debrief.analysis.signal.traces import Trace
from debrief.analysis.starts.attempts import Found
from debrief.analysis.starts.light_off import Fuel

ABOVE_IDLE_PCT = 5.0
"""Ng so far above idle, with bleed or load, is still at idle."""
LONGEST_S = 1800.0
"""So long before the cut it is looked at."""
NOISES = 4.5


@dataclass(frozen=True)
class Rest:
    """How long an engine had been at rest when its fuel was cut.

    Attributes
    ----------
    fuel : Fuel
        The fuel that was cut.
    off_s : float
        When, [s].
    channel : str
        What tells: ``itt`` where the profile gives a temperature to settle at, else ``ng``.
    level : float or None
        At rest below it, [degC] or [%]; None without a number in the profile.
    value_s, low_s, high_s : float or None
        How long; `high_s` is None where it had been at rest for as long as is looked at.
    why : str or None
        Why it is not known.
    """

    fuel: Fuel
    off_s: float
    channel: str
    level: float | None
    value_s: float | None = None
    low_s: float | None = None
    high_s: float | None = None
    why: str | None = None


def shutdowns(found: Found) -> list[Fuel]:
    """Return the fuel of each cut of an engine that had come to idle, or ran when the recording began, in order."""
    idled = {a.last_fuel.on_s for a in found.attempts if a.idle_s is not None and a.last_fuel is not None}
    return sorted(
        (
            fuel
            for fuel in found.fuels
            if fuel.off_s is not None
            and fuel.out_s is None
            and contains(found.lit, fuel.off_s)
            and (fuel.on_s in idled or (found.began_running and fuel.light_off_s == 0.0))
        ),
        key=lambda fuel: fuel.off_s or 0.0,
    )


def rest_before(view: EngineView, found: Found, fuel: Fuel) -> Rest:
    """Return how long the engine had been at rest before this cut.

    Notes
    -----
    At rest is ITT below the profile's `settle_itt_c`, without it Ng up to 5 % above idle. Counted is the stretch that ends
    with the cut. A value that rests at the level in noise is not above it; the bounds take the noise either way.
    """
    rules, idle = view.profile.shutdown, view.profile.start.idle_ng_pct
    channel = "ng" if rules.settle_itt_c is None else "itt"
    level = (
        (None if idle is None else idle + ABOVE_IDLE_PCT)
        if rules.settle_itt_c is None
        else rules.settle_itt_c
    )
    off = fuel.off_s or 0.0
    if level is None:
        return Rest(
            fuel,
            off,
            channel,
            None,
            why=f"the profile gives neither an {view.names.itt} to settle at nor an idle Ng",
        )
    trace = view.trace(channel)
    if trace is None:
        why = view.missing_because(channel, view.names.in_text(channel))
        return Rest(fuel, off, channel, level, why=why)
    began = max(_began(found, fuel), off - LONGEST_S)
    sooner = off if fuel.off_low_s is None else fuel.off_low_s
    part = trace.clip(began, off)
    unsure = trace.half_resolution + NOISES * trace.noise
    ends = [_last_above(part, level + sign * unsure, began, off) for sign in (1.0, -1.0)]
    value = off - ends[0][1]
    low = max(sooner - ends[1][2], 0.0)
    whole = ends[0][1] == began
    high = None if whole and began > _began(found, fuel) else off - ends[0][0]
    if whole and found.began_running and began <= 0.0:
        high = None
    looked = np.array([[ends[0][1], off]])
    unseen = trace.unseen(looked) if looked[0, 1] > looked[0, 0] else looked[:0]
    if len(unseen):
        why = f"a gap in {view.names.in_text(channel)} hides it"
        seen = max(sooner - float(unseen[-1, 1]), 0.0)
        return Rest(fuel, off, channel, level, None, min(low, seen), high, why)
    return Rest(fuel, off, channel, level, value, min(low, value), None if high is None else max(high, value))


def _began(found: Found, fuel: Fuel) -> float:
    """Return from when the engine ran: its idle, else the beginning of the recording."""
    idles = (a.idle_s for a in found.attempts if a.idle_s is not None and fuel in a.fuels)
    return max(next(idles, 0.0), 0.0)


def _last_above(part: Trace, level: float, began: float, off: float) -> tuple[float, float, float]:
    """Return the earliest, the estimated and the latest instant at which the last stretch above a level ended."""
    above = time_above(part, level).within(np.array([[began, off]]))
    low, value, high = (
        float(rows[-1, 1]) if len(rows) else began for rows in (above.low, above.estimate, above.high)
    )
    return min(low, value), value, max(high, value)
