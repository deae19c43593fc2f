"""The phases of a flight, in time order and without overlap."""

from __future__ import annotations

import itertools

import numpy as np

from debrief.analysis.model import Phase, Start
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import from_pairs, group_edges, intersect, subtract, union
from debrief.analysis.starts.attempts import Found
from debrief.recording.model import FloatArray

ROLL_KT = 30.0
LEVEL_FT_PER_MIN = 300.0
LEAST_S = 30.0
STEP_S = 5.0
MOST_STEPS = 400_000
"""Of `STEP_S` in one flight: 23 days."""
SMOOTH_S = 30.0
TAKEOFF_ENDS_FT = 400.0
TAKEOFF_MAX_S = 90.0
TOUCH_S = 5.0


def flown(airborne: FloatArray) -> FloatArray:
    """Return where the aircraft flew, (k, 2), for what asks of an instant: without a switch that bounces.

    Ground contacts shorter than 5 s are bridged; what is in the air for less than 5 s then is none.
    """
    first, last = group_edges(airborne, TOUCH_S)
    rows = np.column_stack((airborne[first, 0], airborne[last, 1])) if first.size else airborne
    return rows[rows[:, 1] - rows[:, 0] >= TOUCH_S] if len(rows) else rows


def find_phases(
    view: EngineView,
    found: Found,
    starts: tuple[Start, ...],
    airborne: FloatArray | None,
    unknown: FloatArray,
) -> tuple[Phase, ...]:
    """Return the phases: off, start, ground, takeoff, climb, cruise, descent, landing, shutdown.

    Notes
    -----
    start: a start attempt. off: not lit, no attempt, and not `unknown`, (m, 2), where nothing shows whether it
    ran. shutdown: from the fuel cut of a running engine until Ng is below the standing speed. Airborne stretches shorter than 5 s are the gear bouncing.
    takeoff: from the roll (airspeed above 30 kt before lift-off) to 400 ft above lift-off, at most 90 s
    after it. climb, cruise, descent: by pressure altitude over 30 s, with 300 ft/min as the border, pieces
    under 30 s joined to what came before. landing: from touchdown until airspeed is below 30 kt. ground:
    running and none of these. The borders are common practice, no source. Without a channel that tells
    flight from ground, running time is "ground" only when nothing says otherwise, so it is left out.
    """
    whole = from_pairs([(0.0, view.end_s)])
    rows: list[tuple[float, float, str]] = []
    attempts = from_pairs((s.begin_s, s.end_s) for s in starts)
    rows += [(s.begin_s, s.end_s, "start") for s in starts]
    shutdowns = from_pairs(_shutdowns(view, found))
    shutdowns = subtract(shutdowns, attempts)
    rows += [(float(a), float(b), "shutdown") for a, b in shutdowns]
    busy = union(np.concatenate((attempts, shutdowns, found.lit)))
    if view.trace("ng") is not None or view.trace("itt") is not None:
        rows += [(float(a), float(b), "off") for a, b in subtract(subtract(whole, busy), unknown)]
    running = subtract(subtract(found.lit, attempts), shutdowns)
    if airborne is not None:
        air = airborne[airborne[:, 1] - airborne[:, 0] >= TOUCH_S] if len(airborne) else airborne
        flown: list[tuple[float, float, str]] = []
        for begin, end in air:
            flown += _flight(view, float(begin), float(end))
        covered = from_pairs((a, b) for a, b, _ in flown)
        for a, b, name in flown:
            rows += [(float(x), float(y), name) for x, y in intersect(from_pairs([(a, b)]), running)]
        rows += [(float(a), float(b), "ground") for a, b in subtract(running, covered)]
    rows = [r for r in rows if r[1] - r[0] > 1e-9]
    return tuple(Phase(name, a, b) for a, b, name in sorted(rows))


def _shutdowns(view: EngineView, found: Found) -> list[tuple[float, float]]:
    """Return from each cut of a running engine to the stand of the gas generator."""
    idle_fuel = {a.last_fuel.on_s for a in found.attempts if a.idle_s is not None and a.last_fuel is not None}
    standing = view.standing_s
    out = []
    for fuel in found.fuels:
        end = fuel.lit_end_s
        if end is None or (
            fuel.on_s not in idle_fuel and not (found.began_running and fuel.light_off_s == 0.0)
        ):
            continue
        k = int(standing.searchsorted(end))
        out.append((end, float(standing[k]) if k < standing.size else view.end_s))
    return out


def _flight(view: EngineView, lift_off: float, touchdown: float) -> list[tuple[float, float, str]]:
    """Return take-off to landing of one stretch in the air."""
    ias, palt = view.trace("ias"), view.trace("palt")
    roll, stop = lift_off, touchdown
    if ias is not None:
        part = ias.between(max(lift_off - 120.0, 0.0), lift_off)
        slow = np.flatnonzero(ias.values[part] < ROLL_KT)
        if slow.size:
            roll = float(ias.time_s[part.start + int(slow[-1])])
        part = ias.between(touchdown, min(touchdown + 180.0, view.end_s))
        slow = np.flatnonzero(ias.values[part] < ROLL_KT)
        if slow.size:
            stop = float(ias.time_s[part.start + int(slow[0])])
    begins_in_air = lift_off <= 0.0
    ends_in_air = touchdown >= view.end_s
    climb_from = lift_off if begins_in_air else min(lift_off + TAKEOFF_MAX_S, touchdown)
    if palt is not None and not begins_in_air:
        base = palt.at(lift_off)
        part = palt.between(lift_off, climb_from)
        if base is not None:
            high = np.flatnonzero(palt.values[part] >= base + TAKEOFF_ENDS_FT)
            if high.size:
                climb_from = float(palt.time_s[part.start + int(high[0])])
    out: list[tuple[float, float, str]] = []
    if not begins_in_air:
        out.append((roll, climb_from, "takeoff"))
    out += _levels(view, climb_from, touchdown)
    if not ends_in_air:
        out.append((touchdown, stop, "landing"))
    return out


def _levels(view: EngineView, begin: float, end: float) -> list[tuple[float, float, str]]:
    """Return climb, cruise and descent from pressure altitude, else from vertical speed, else one cruise."""
    palt, vs = view.trace("palt"), view.trace("vs")
    # A clock that runs wild may tell of centuries: what is looked at does not grow with them.
    grid = np.arange(begin, end, max(STEP_S, (end - begin) / MOST_STEPS))
    if grid.size < 2 or (palt is None and vs is None):
        return [(begin, end, "cruise")] if end > begin else []
    if palt is not None:
        half = SMOOTH_S / 2
        ahead = np.interp(grid + half, palt.time_s, palt.values)
        behind = np.interp(grid - half, palt.time_s, palt.values)
        rate = (ahead - behind) / SMOOTH_S * 60.0
    else:
        assert vs is not None
        rate = np.interp(grid, vs.time_s, vs.values)
    kind = np.where(rate > LEVEL_FT_PER_MIN, 1, np.where(rate < -LEVEL_FT_PER_MIN, -1, 0))
    names = {1: "climb", 0: "cruise", -1: "descent"}
    edges = np.concatenate(([0], np.flatnonzero(np.diff(kind)) + 1, [grid.size]))
    pieces: list[list[float | int]] = []
    for low, high in itertools.pairwise(edges):
        a = float(grid[low])
        b = end if high == grid.size else float(grid[high])
        k = int(kind[low])
        if pieces and (b - a < LEAST_S or pieces[-1][2] == k):
            pieces[-1][1] = b
        else:
            pieces.append([a, b, k])
    return [(float(a), float(b), names[int(k)]) for a, b, k in pieces]
