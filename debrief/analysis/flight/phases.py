"""The phases of a flight, in time order and without overlap."""

from __future__ import annotations

import itertools

import numpy as np

from debrief.analysis.flight.flown_line import FlownLine, height_line, line_of, turning_points
from debrief.analysis.flight.landings import Landings
from debrief.analysis.model import Phase, Start
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import EMPTY, from_pairs, intersect, subtract, union
from debrief.analysis.starts.attempts import Found
from debrief.analysis.starts.edge_bounds import TAXI_KT
from debrief.recording.model import FloatArray

LEVEL_FT_PER_MIN = 300.0
SMOOTH_S = 30.0
LEAST_FT = 250.0
"""A climb or descent of less is no phase of its own."""
LEAST_LEVEL_S = 60.0
"""A level stretch shorter than this is part of the climb or descent around it."""
SLOW_FT_PER_MIN = 150.0
"""Between two climbs (descents) a stretch that rises (falls) by more on the whole is part of them."""
TAKEOFF_ENDS_FT = 400.0
TAKEOFF_MAX_S = 90.0
LANDING_MAX_S = 180.0

TURN_FT = 200.0
TURN_KT = 20.0
TURNS_APART_S = 300.0
LEAST_TURNS = 4
"""So many turns, each no longer after the one before than `TURNS_APART_S`, are manoeuvres."""
BETWEEN_S = 420.0
"""Manoeuvres that follow one another within this are one stretch of them, unless it flew level for `STEADY_S`."""
STEADY_S = 180.0
"""Between manoeuvres and level flight a climb or descent shorter than this is part of the manoeuvres."""
EDGE_S = 30.0
"""So much beside manoeuvres is their edge, whatever it is."""

Row = tuple[float, float, str]
Piece = tuple[float, float, int]
NAMES = {1: "climb", 0: "cruise", -1: "descent"}


def find_phases(
    view: EngineView,
    found: Found,
    starts: tuple[Start, ...],
    landings: Landings | None,
    unknown: FloatArray,
) -> tuple[Phase, ...]:
    """Return the phases: off, start, ground, takeoff, climb, cruise, descent, manoeuvring, landing, shutdown.

    Notes
    -----
    start: a start attempt. off: not lit, no attempt, and not `unknown`, (m, 2), where nothing shows whether it
    ran. shutdown: from the fuel cut of a running engine until Ng is below the standing speed.
    takeoff: from the roll (airspeed above 30 kt before lift-off; after a touch-and-go from its slowest) to 400 ft above
    lift-off, at most 90 s after it. climb, cruise, descent: by height over 30 s, with 300 ft/min as the border; a climb
    or descent of less than 250 ft is none, and a level stretch under 60 s, or one that rises on between two climbs, is part of
    what is around it. manoeuvring: see `_manoeuvres`. landing: from touchdown until airspeed is below 30 kt.
    ground: running and none of these. The borders are common practice, no source. Without a channel that tells
    flight from ground, running time is "ground" only when nothing says otherwise, so it is left out.
    """
    whole = from_pairs([(0.0, view.end_s)])
    rows: list[Row] = []
    attempts = from_pairs((s.begin_s, s.end_s) for s in starts)
    rows += [(s.begin_s, s.end_s, "start") for s in starts]
    shutdowns = from_pairs(_shutdowns(view, found))
    shutdowns = subtract(shutdowns, attempts)
    rows += [(float(a), float(b), "shutdown") for a, b in shutdowns]
    busy = union(np.concatenate((attempts, shutdowns, found.lit)))
    if view.trace("ng") is not None or view.trace("itt") is not None:
        rows += [(float(a), float(b), "off") for a, b in subtract(subtract(whole, busy), unknown)]
    running = subtract(subtract(found.lit, attempts), shutdowns)
    if landings is not None:
        flown = _flown(view, landings)
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


def _flown(view: EngineView, landings: Landings) -> list[Row]:
    """Return take-off to landing of each flight."""
    if not len(landings.flights):
        return []
    height, ias = height_line(view), view.trace("ias")
    speed = None if ias is None else line_of(ias, view.end_s)
    out: list[Row] = []
    free_from = 0.0
    rows = landings.flights.tolist()
    for k, (lift_off, touchdown) in enumerate(rows):
        following = rows[k + 1][0] if k + 1 < len(rows) else view.end_s
        roll, stop = _rolls(view, lift_off, touchdown, free_from, following)
        if touchdown in landings.touch_and_goes:
            # It rolls out and takes off again where it is slowest.
            stop = _slowest(view, touchdown, following)
        free_from = stop
        begins_in_air = lift_off <= 0.0
        climb_from = lift_off if begins_in_air else _takeoff_end(view, lift_off, touchdown)
        if not begins_in_air:
            out.append((roll, climb_from, "takeoff"))
        out += _levels(height, speed, climb_from, touchdown, landings)
        if touchdown < view.end_s:
            out.append((touchdown, stop, "landing"))
    return out


def _rolls(
    view: EngineView, lift_off: float, touchdown: float, free_from: float, following: float
) -> tuple[float, float]:
    """Return where the roll before lift-off begins and where that after touchdown ends, [s]."""
    ias = view.trace("ias")
    roll, stop = lift_off, touchdown
    if ias is None:
        return roll, stop
    begin = max(lift_off - 120.0, free_from)
    part = ias.between(begin, lift_off)
    slow = np.flatnonzero(ias.values[part] < TAXI_KT)
    if slow.size:
        roll = float(ias.time_s[part.start + int(slow[-1])])
    elif begin == free_from > 0.0:
        roll = free_from
    part = ias.between(touchdown, min(touchdown + LANDING_MAX_S, following))
    slow = np.flatnonzero(ias.values[part] < TAXI_KT)
    if slow.size:
        stop = float(ias.time_s[part.start + int(slow[0])])
    return roll, stop


def _slowest(view: EngineView, begin: float, end: float) -> float:
    """Return when it was slowest between touchdown and lift-off, [s]; halfway where no speed was recorded."""
    ias = view.trace("ias")
    if ias is not None:
        part = ias.between(begin, end)
        if part.stop > part.start:
            return float(ias.time_s[part.start + int(ias.values[part].argmin())])
    return 0.5 * (begin + end)


def _takeoff_end(view: EngineView, lift_off: float, touchdown: float) -> float:
    """Return when it was 400 ft above lift-off, at most 90 s after it, [s]."""
    end = min(lift_off + TAKEOFF_MAX_S, touchdown)
    height = view.height
    base = None if height is None else height.at(lift_off)
    if height is not None and base is not None:
        part = height.between(lift_off, end)
        high = np.flatnonzero(height.values[part] >= base + TAKEOFF_ENDS_FT)
        if high.size:
            return float(height.time_s[part.start + int(high[0])])
    return end


def _levels(
    height: FlownLine | None, speed: FlownLine | None, begin: float, end: float, landings: Landings
) -> list[Row]:
    """Return climb, cruise, descent and manoeuvring; without any height one cruise."""
    if end <= begin:
        return []
    if height is None:
        return [(begin, end, "cruise")]
    pieces = _pieces(height, begin, end)
    manoeuvres = _manoeuvres(height, speed, pieces, begin, end, landings)
    rows = [(a, b, NAMES[k]) for a, b, k in pieces]
    return [
        *((float(x), float(y), name) for a, b, name in rows for x, y in subtract(np.array([[a, b]]), manoeuvres)),
        *((a, b, "manoeuvring") for a, b in manoeuvres.tolist()),
    ]  # fmt: skip


def _pieces(height: FlownLine, begin: float, end: float) -> list[Piece]:
    """Return climbs (1), level stretches (0) and descents (-1), as they follow one another."""
    part = height.between(begin, end)
    grid = height.time_s[part]
    if not grid.size:
        return [(begin, end, 0)]
    half = 0.5 * SMOOTH_S
    ahead, behind = (np.interp(grid + x, height.time_s, height.values) for x in (half, -half))
    rate = (ahead - behind) / SMOOTH_S * 60.0
    kind = np.where(rate > LEVEL_FT_PER_MIN, 1, np.where(rate < -LEVEL_FT_PER_MIN, -1, 0))
    edges = np.concatenate(([0], np.flatnonzero(np.diff(kind)) + 1))
    times = np.concatenate(([begin], grid[edges[1:]], [end]))
    pieces = [
        (a, b, k) for (a, b), k in zip(itertools.pairwise(times.tolist()), kind[edges].tolist(), strict=True)
    ]
    return _without_slight(pieces, height)


def _without_slight(pieces: list[Piece], height: FlownLine) -> list[Piece]:
    """Return the pieces without those that are no phase of their own: the shortest are joined first."""

    def rise(piece: Piece) -> float:
        return height.at(piece[1]) - height.at(piece[0])

    # What climbs or descends too little is level.
    pieces = _joined([(a, b, k if k * rise((a, b, k)) >= LEAST_FT else 0) for a, b, k in pieces])
    out: list[Piece] = []
    for n, piece in enumerate(pieces):
        a, b, k = piece
        following = pieces[n + 1][2] if n + 1 < len(pieces) else None
        if k == 0 and b - a < LEAST_LEVEL_S:
            # The flare belongs to the descent; what comes before everything to what follows.
            k = out[-1][2] if out and (following is not None or out[-1][2] < 0) else (following or 0)
        elif k == 0 and out and out[-1][2] == following:
            rising_on = following * rise(piece) / (b - a) * 60.0 > SLOW_FT_PER_MIN
            k = following if rising_on else 0
        out.append((a, b, k))
    return _joined(out)


def _joined(pieces: list[Piece]) -> list[Piece]:
    out: list[Piece] = []
    for a, b, k in pieces:
        if out and out[-1][2] == k:
            out[-1] = (out[-1][0], b, k)
        else:
            out.append((a, b, k))
    return out


def _manoeuvres(
    height: FlownLine,
    speed: FlownLine | None,
    pieces: list[Piece],
    begin: float,
    end: float,
    landings: Landings,
) -> FloatArray:
    """Return where height or airspeed keep changing, (m, 2): nothing else is true there.

    Notes
    -----
    At least four times, each at most five minutes after the one before, the height turns back by 200 ft or more, or in level flight
    the airspeed by 20 kt. Where an approach was broken off the height turns, too, and that is no manoeuvre. What lies
    between manoeuvres for less than seven minutes, without three of level flight, is part of them, and so is a climb or descent of less than three between them and
    level flight.
    """
    turns = _turns(height, TURN_FT, begin, end)
    low = np.array([*landings.go_arounds, *landings.either])
    passes = turns[np.isin(turns, low)]
    found = [_busy(part) for part in np.split(turns, np.searchsorted(turns, passes)) if part.size]
    if speed is not None:
        at_level = [(a, b) for a, b, k in pieces if k == 0]
        found += [_busy(_turns(speed, TURN_KT, a, b)) for a, b in at_level]
    rows = union(np.concatenate(found)) if found else EMPTY
    if not len(rows):
        return EMPTY
    level = from_pairs((a, b) for a, b, k in pieces if k == 0 and b - a >= STEADY_S)
    gaps = np.column_stack((rows[:-1, 1], rows[1:, 0]))
    bridged = [row for row in gaps if row[1] - row[0] < BETWEEN_S and not len(intersect(row[None, :], level))]
    rows = union(np.concatenate((rows, *(row[None, :] for row in bridged))))
    return union(np.array([_widened(a, b, pieces) for a, b in rows.tolist()]))


def _turns(line: FlownLine, least: float, begin: float, end: float) -> FloatArray:
    part = line.between(begin, end)
    return line.time_s[part][turning_points(line.values[part], least)[0]]


def _busy(turns: FloatArray) -> FloatArray:
    """Return from the first to the last turn of each row of turns that follow one another quickly, (m, 2)."""
    edges = np.flatnonzero(np.diff(turns) > TURNS_APART_S) + 1
    first, last = np.concatenate(([0], edges)), np.concatenate((edges - 1, [turns.size - 1]))
    many = last - first + 1 >= LEAST_TURNS
    return np.column_stack((turns[first[many]], turns[last[many]]))


def _widened(begin: float, end: float, pieces: list[Piece]) -> tuple[float, float]:
    """Return a stretch of manoeuvres with what is left beside it of pieces too short to be told."""
    before = [(begin - a, k) for a, b, k in reversed(_clipped(pieces, -np.inf, begin))]
    after = [(b - end, k) for a, b, k in _clipped(pieces, end, np.inf)]
    return begin - _slight(before), end + _slight(after)


def _clipped(pieces: list[Piece], begin: float, end: float) -> list[Piece]:
    return [(max(a, begin), min(b, end), k) for a, b, k in pieces if b > begin and a < end]


def _slight(beside: list[tuple[float, int]]) -> float:
    """Return how much is taken of what lies beside manoeuvres: how far each piece reaches away from them, and its kind."""
    taken = 0.0
    for (reach, kind), (_, further) in itertools.pairwise([*beside, (np.inf, 1)]):
        least = LEAST_LEVEL_S if kind == 0 else STEADY_S if further == 0 else EDGE_S
        if reach - taken >= least:
            break
        taken = reach
    return taken
