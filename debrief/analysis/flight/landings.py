"""Flights, landings, touch-and-goes and go-arounds of a recording."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.analysis.flight.flown_line import FlownLine, height_line, turning_points
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import group_edges
from debrief.analysis.starts.edge_bounds import TAXI_KT
from debrief.recording.model import FloatArray

TOUCH_S = 5.0
"""Contacts and hops shorter than this are the gear bouncing."""
PASS_FT = 200.0
"""An approach comes down, and what leaves it climbs, by so much at least."""
LOW_FT = 500.0
"""An approach that is broken off had come so near to the level of a field that the aircraft used."""
TOUCHED_FT = 60.0
"""So low nothing but weight on wheels tells a go-around from a touch-and-go."""
BELOW_FT = 150.0
"""The pressure of the day may change, and fields slope, by so much."""
HOP_S = 60.0
HOP_FT = 50.0
NO_SPEED_S = 60.0
"""Without any speed a contact that is shorter than this is a touch-and-go."""


@dataclass(frozen=True, eq=False)
class Landings:
    """What the aircraft did at the fields, in order of time.

    Attributes
    ----------
    flights : (k, 2) float array
        Each stretch in the air from lift-off to touchdown, or from and to the edge of the recording, [s]. A gear that
        bounces ends none.
    full_stops : tuple of float
        Touchdowns after which it slowed to a taxi, or after which the recording ends on the ground, [s].
    touch_and_goes : tuple of float
        Touchdowns after which it took off again without slowing to a taxi, [s].
    go_arounds : tuple of float
        Lowest points of approaches that were broken off above the ground, [s].
    either : tuple of float
        Those of which nothing tells whether they touched: by airspeed alone, within 60 ft of the field's level, [s].
    """

    flights: FloatArray
    full_stops: tuple[float, ...]
    touch_and_goes: tuple[float, ...]
    go_arounds: tuple[float, ...]
    either: tuple[float, ...]


def flown(airborne: FloatArray) -> FloatArray:
    """Return where the aircraft flew, (k, 2), for what asks of an instant: without a switch that bounces.

    Ground contacts shorter than 5 s are bridged; what is in the air for less than 5 s then is none.
    """
    first, last = group_edges(airborne, TOUCH_S)
    rows = np.column_stack((airborne[first, 0], airborne[last, 1])) if first.size else airborne
    return rows[rows[:, 1] - rows[:, 0] >= TOUCH_S] if len(rows) else rows


def find_landings(view: EngineView, airborne: FloatArray, height: FlownLine | None = None) -> Landings:
    """Return the flights of the stretches in the air, (m, 2), and what ended each.

    Parameters
    ----------
    height : FlownLine, optional
        `height_line` of the view where the caller has it already.

    Notes
    -----
    A contact under 5 s is a bounce, unless the aircraft came down from and climbs to 200 ft above it. A touch-and-go
    is a contact in which the airspeed (else the ground speed) stays above 30 kt; without any speed one under 60 s.
    A go-around is a lowest point within 500 ft of the level of a lift-off or touchdown of this recording, after a descent
    and before a climb of 200 ft or more. By airspeed alone a stretch under 60 s that stays within 50 ft of its beginning
    is a rejected take-off. The borders are common practice, no source.
    """
    if not len(airborne):
        return Landings(airborne, (), (), (), ())
    height = height_line(view) if height is None else height
    wheels = view.channel("weight_on_wheels") is not None
    rows = _without_bounces(airborne, height)
    rows = [r for r in rows if not _is_hop(r, None if wheels else height)]
    stops: list[float] = []
    touches: list[float] = []
    for k, (_, down) in enumerate(rows):
        following = rows[k + 1][0] if k + 1 < len(rows) else None
        if down < view.end_s:
            (stops if following is None or _slows(view, down, following) else touches).append(down)
    lows = [] if height is None else _low_passes(rows, height, view.end_s)
    doubtful = [t for t, above in lows if not wheels and above <= TOUCHED_FT]
    return Landings(
        np.array(rows, dtype=np.float64).reshape(-1, 2),
        tuple(stops),
        tuple(touches),
        tuple(t for t, _ in lows if t not in doubtful),
        tuple(doubtful),
    )


def _without_bounces(airborne: FloatArray, height: FlownLine | None) -> list[tuple[float, float]]:
    rows: list[tuple[float, float]] = []
    for begin, end in airborne.tolist():
        if rows and begin - rows[-1][1] < TOUCH_S and not _touched(rows[-1], (begin, end), height):
            rows[-1] = rows[-1][0], end
        else:
            rows.append((begin, end))
    return rows


def _touched(before: tuple[float, float], after: tuple[float, float], height: FlownLine | None) -> bool:
    """Return whether the aircraft came down to the contact between two stretches and climbs away from it."""
    if height is None:
        return False
    level = height.at(0.5 * (before[1] + after[0]))
    tops = [height.values[height.between(*row)].max(initial=-np.inf) for row in (before, after)]
    return bool(min(tops) >= level + PASS_FT)


def _is_hop(row: tuple[float, float], height: FlownLine | None) -> bool:
    begin, end = row
    if end - begin < TOUCH_S:
        return True
    if height is None or end - begin >= HOP_S:
        return False
    top = height.values[height.between(begin, end)].max(initial=-np.inf)
    return bool(top < min(height.at(begin), height.at(end)) + HOP_FT) and begin > 0.0


def _slows(view: EngineView, begin: float, end: float) -> bool:
    """Return whether the aircraft slows to a taxi between touchdown and lift-off."""
    for name in ("ias", "gs"):
        speed = view.trace(name)
        if speed is not None:
            part = speed.values[speed.between(begin, end)]
            if part.size:
                return bool(part.min() < TAXI_KT)
    return end - begin >= NO_SPEED_S


def _low_passes(
    rows: list[tuple[float, float]], height: FlownLine, end_s: float
) -> list[tuple[float, float]]:
    """Return when each approach that was broken off was lowest, [s], and how far above the field then, [ft]."""
    used = [height.at(t) for row in rows for t in row if 0.0 < t < end_s]
    if not used:
        return []
    out = []
    for begin, end in rows:
        part = height.between(begin, end)
        index, is_high = turning_points(height.values[part], PASS_FT)
        for k in (index[~is_high] + part.start).tolist():
            above = min((float(height.values[k]) - level for level in used), key=abs)
            if -BELOW_FT <= above <= LOW_FT:
                out.append((float(height.time_s[k]), above))
    return out
