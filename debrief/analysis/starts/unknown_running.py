"""Where a recording does not show whether the engine ran: neither that it burned nor that it did not."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import TOLERANCE_S, stretches_above
from debrief.analysis.signal.interval_sets import EMPTY, from_pairs, intersect, subtract, total_s, union
from debrief.analysis.signal.traces import Trace
from debrief.analysis.starts.attempts import Found, start_windows
from debrief.recording.model import FloatArray

NOTHING_RECORDED = "whether the engine was running is not known: neither Ng nor ITT was recorded"
NOTHING_SHOWS = (
    "whether the engine ran is not known: without Ng and a fuel signal only a start would show it, and the recording "
    "has none"
)
SILENT = "whether the engine ran is not known: neither Ng nor a fuel signal was recorded"
NO_IDLE = "whether the engine ran is not known: it turned, and the profile gives no idle to tell running by"
TOO_HOT = (
    "whether the engine ran is not known: {itt} was hot and did not fall, as on no standing engine, and neither "
    "Ng nor fuel shows that it ran"
)
IDLE_UNFUELLED = "whether the engine ran is not known: Ng was at idle or above with fuel recorded off"

LEAST_S = 10.0
"""Shorter stretches tell nothing: no engine is started and stopped again in them."""

RUN_DOWN_S = 30.0
"""For so long after the cut a gas generator may still turn faster than idle; common practice, no source."""

COOLING_S = 600.0
"""For so long after a flame, or after Ng came to a stand, heat that soaks back may keep ITT hot; common practice, no source."""

HELD_OVER_S = 60.0
FALL_PER_S = 0.01 / 60.0
"""A standing engine loses at least 1 % of its temperature in a minute; common practice, no source."""

SUSTAINED = 0.2
"""Below this part of idle no flame keeps a gas generator turning; common practice, no source."""


@dataclass(frozen=True, eq=False)
class UnknownRunning:
    """Why it is not known at all whether the engine ran, and where it is not known, (m, 2), each with its reason."""

    throughout: str | None
    parts: tuple[tuple[FloatArray, str], ...]

    @property
    def rows(self) -> FloatArray:
        """All stretches together, (m, 2)."""
        return union(np.concatenate([rows for rows, _ in self.parts])) if self.parts else EMPTY


def unknown_running(view: EngineView, found: Found) -> UnknownRunning:
    """Return where it is not known whether the engine ran.

    Notes
    -----
    What shows that it did not run: a recorded Ng below idle, or fuel recorded off. ITT alone shows it only where
    a flame in the same recording shows that the probe reads; a cold reading may be a dead probe. Neither counts
    against an ITT above the profile's residual limit that does not fall, or fuel off against Ng at idle.
    """
    whole = from_pairs([(0.0, view.end_s)])
    starts = start_windows(found.attempts)
    ng, itt = view.trace("ng"), view.trace("itt")
    signals = [view.trace(name) for name in ("fuel_on", "fuel_flow")]
    fuel = [trace for trace in signals if trace is not None]
    throughout: str | None = None
    if not len(found.lit) and ng is None:
        throughout = NOTHING_RECORDED if itt is None else None if fuel else NOTHING_SHOWS
    open_s = subtract(subtract(whole, found.lit), starts)
    if throughout is not None:
        return UnknownRunning(throughout, ((open_s, throughout),) if len(open_s) else ())
    parts: list[tuple[FloatArray, str]] = []
    if not len(found.lit):
        silent = open_s
        for trace in (ng, *fuel):
            silent = silent if trace is None else intersect(silent, trace.unseen(whole))
        parts.append((_lasting(view, silent), SILENT))
    idle = view.profile.start.at_idle_pct
    if ng is not None and idle is None and not fuel:
        turning = stretches_above(ng, view.turning_pct)
        parts.append((_lasting(view, intersect(open_s, turning)), NO_IDLE))
    if ng is not None and idle is not None:
        at_idle = stretches_above(ng, float(np.nextafter(idle, -np.inf)))
        parts.append((_lasting(view, intersect(open_s, at_idle), RUN_DOWN_S), IDLE_UNFUELLED))
    if itt is not None:
        parts.append(
            (
                _too_hot(view, itt, subtract(whole, found.lit), starts, found),
                TOO_HOT.format(itt=view.names.itt),
            )
        )
    told, taken = [], EMPTY
    for rows, why in parts:
        rows = subtract(rows, taken)
        if len(rows):
            told.append((rows, why))
            taken = union(np.concatenate((taken, rows)))
    if len(told) == 1 and not len(starts) and total_s(told[0][0]) >= view.end_s - TOLERANCE_S:
        throughout = told[0][1]
    return UnknownRunning(throughout, tuple(told))


def _too_hot(view: EngineView, itt: Trace, unlit: FloatArray, starts: FloatArray, found: Found) -> FloatArray:
    """Return where ITT is hotter than a standing engine, does not fall, and nothing explains it, (m, 2)."""
    ng, idle = view.trace("ng"), view.profile.start.at_idle_pct
    least = view.turning_pct if idle is None else SUSTAINED * idle
    turning = EMPTY if ng is None else stretches_above(ng, least)
    ended = [*found.flame_ends_s, *(float(b) for _, b in turning)]
    cooling = from_pairs((end, end + COOLING_S) for end in ended if end < view.end_s) if ended else EMPTY
    # A start that turns is told as a start; one in which nothing turns may be an engine that ran all the time.
    explained = union(np.concatenate((intersect(starts, turning), cooling)))
    hot = _lasting(view, intersect(subtract(unlit, explained), stretches_above(itt, view.hottest_residual_c)))
    held = [_held(itt, float(begin), float(end)) for begin, end in hot]
    return hot[np.array(held, dtype=np.bool_)] if len(hot) else EMPTY


def _held(itt: Trace, begin: float, end: float) -> bool:
    """Return whether ITT anywhere in the stretch falls by less than a standing engine cools, or rises."""
    over = min(HELD_OVER_S, end - begin)
    part = itt.between(begin, end)
    t, v = itt.time_s[part], itt.values[part]
    if t.size < 2:
        return True
    now = t <= end - over + TOLERANCE_S
    later = np.interp(t[now] + over, t, v)
    return bool(np.any(later > v[now] * (1.0 - FALL_PER_S * over)))


def _lasting(view: EngineView, rows: FloatArray, for_s: float = LEAST_S) -> FloatArray:
    """Return the stretches that last long enough to tell anything, or all of a shorter recording, (m, 2)."""
    least = min(for_s, view.end_s) - TOLERANCE_S
    return rows[rows[:, 1] - rows[:, 0] >= least] if len(rows) else rows
