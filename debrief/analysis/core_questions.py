"""Which questions that stayed open leave the verdict open: those that the flight was recorded for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from debrief.analysis.model import NotJudged, Start
from debrief.analysis.signal.interval_sets import EMPTY, from_pairs, intersect, union
from debrief.profile.model import Limit
from debrief.recording.model import FloatArray, Recording
from debrief.words.engines import engine_named
from debrief.words.shortened import shortened
from debrief.words.visible import visible

MOST_COLUMNS = 4
"""Columns of an engine without channels that are named; the rest is counted."""


def with_core(
    points: Iterable[NotJudged],
    limits: Sequence[Limit],
    starts: Sequence[Start],
    lit: FloatArray,
    unknown: FloatArray,
    airborne: FloatArray | None,
) -> list[NotJudged]:
    """Return the open points of one engine, those of its limits marked that leave the verdict open.

    Parameters
    ----------
    points : iterable of NotJudged
        What is not about a limit is returned as it is: who asked knows.
    lit, unknown : (m, 2), (n, 2) float array
        Where the engine burned, and where nobody knows whether it ran, [s].
    airborne : (m, 2) float array or None
        Where the aircraft was in the air, [s]; None: not recorded, and then nothing shows that it flew.

    Notes
    -----
    Core are the limits on ITT in each start with fuel, on ITT and Ng while lit, and on torque in the air. A limit
    of cautions alone never changes a verdict, so it leaves none open.
    """
    fuelled = [(s.begin_s, s.end_s) for s in starts if s.fuel_periods or s.outcome == "unknown"]
    started = union(np.concatenate((from_pairs(fuelled), unknown)))
    burning = union(np.concatenate((lit, started)))
    flying = EMPTY if airborne is None else intersect(airborne, burning)
    by_channel = {"itt": burning, "ng": burning, "torque": flying}
    where = {
        limit.id: started if limit.channel == "itt" and limit.when == "start" else by_channel[limit.channel]
        for limit in limits
        if limit.channel in by_channel and any(row.severity == "limit" for row in limit.allowed)
    }
    return [
        replace(one, core=_meets(one, where[one.limit_id])) if one.limit_id in where else one
        for one in points
    ]


def engines_left(recording: Recording) -> list[NotJudged]:
    """Return the open points of engines that the columns show while no channel, or not the speed or the ITT, is theirs."""
    out = []
    for engine, names in recording.engines_left.items():
        few = ", ".join(f'"{shortened(visible(name))}"' for name in names[:MOST_COLUMNS])
        more = f" and {len(names) - MOST_COLUMNS} more" if len(names) > MOST_COLUMNS else ""
        why = f"no channel was taken from {few}{more}"
        out.append(NotJudged(engine_named(engine), why, engine=engine, core=True))
    return out


def _meets(point: NotJudged, rows: FloatArray) -> bool:
    """Return whether the point lies, at least in part, in the stretches, (m, 2); one without a place is of all."""
    if point.start_s is None or point.end_s is None:
        return bool(len(rows))
    return bool(len(intersect(rows, np.array([[point.start_s, point.end_s]]))))
