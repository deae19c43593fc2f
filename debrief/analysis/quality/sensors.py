"""Which sensors cannot be believed, and where: what they hide is said, and nothing certain rests on them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from debrief.analysis.model import NotJudged
from debrief.analysis.quality.doubt import LISTED, Doubt, rows_of
from debrief.analysis.quality.jumps_and_stands import jumps_and_stands
from debrief.analysis.quality.stands_still import stands_still
from debrief.analysis.quality.temperature_steps import temperature_steps
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import stretches_above
from debrief.analysis.signal.interval_sets import EMPTY, from_pairs, intersect, union
from debrief.analysis.starts.attempts import Attempt, Found
from debrief.analysis.starts.fuel_stretches import SUSTAINED_PCT
from debrief.recording.model import FloatArray, QualityFlag
from debrief.words.sentence import words

KNOWN_BETTER = ("stuck", "signal_lost", "open_thermocouple", "dropout")
"""Flags of the reader that look at the same from one channel alone."""


def burning_of(view: EngineView, found: Found, unknown: FloatArray) -> FloatArray:
    """Return where fuel burned as far as anything tells it, (m, 2): where ITT is dead, no flame is seen."""
    fuelled = from_pairs((f.on_s, view.end_s if f.off_s is None else f.off_s) for f in found.fuels)
    ng = view.trace("ng")
    if len(fuelled) and (view.channel("fuel_on") is not None or view.channel("fuel_flow") is not None):
        return union(np.concatenate((fuelled, found.lit)))
    fast = EMPTY if ng is None else stretches_above(ng, SUSTAINED_PCT)
    return union(np.concatenate((fuelled, found.lit, unknown, fast)))


def sensor_doubts(view: EngineView, found: Found, unknown: FloatArray) -> list[Doubt]:
    """Return where the sensors of one engine cannot be believed while fuel burned, in order of time."""
    burning = burning_of(view, found, unknown)
    starting = from_pairs((a.begin_s, a.window_end_s) for a in found.attempts)
    doubts = jumps_and_stands(view, burning)
    known = {one.channel: rows_of(d for d in doubts if d.channel == one.channel) for one in doubts}
    for one in stands_still(view, burning, starting, known):
        rows = known.get(one.channel, EMPTY)
        if not len(intersect(rows, np.array([[one.start_s, one.end_s]]))):
            doubts.append(one)
    standing = rows_of(d for d in doubts if d.channel == "itt")
    doubts += temperature_steps(view, burning, starting, union(standing))
    return sorted(doubts, key=lambda d: (d.start_s, d.end_s, d.channel))


def idle_unseen(attempt: Attempt, doubts: Iterable[Doubt]) -> str | None:
    """Return why nobody can tell whether an attempt reached idle, None where it can be told.

    So it is where Ng was lost or stood still before idle was seen.
    """
    if attempt.idle_s is not None or attempt.first_light_off_s is None:
        return attempt.idle_unseen
    begin, end = attempt.first_light_off_s, max(attempt.end_s, attempt.window_end_s)
    of_speed = (d for d in doubts if d.channel == "ng" and d.start_s <= end and begin < d.end_s)
    return attempt.idle_unseen or next((d.why for d in of_speed), None)


def doubt_flags(view: EngineView, doubts: Iterable[Doubt]) -> list[QualityFlag]:
    """Return one flag for each doubt, and from so many of a kind and channel on one for the rest."""
    groups: dict[tuple[str, str], list[Doubt]] = {}
    for one in doubts:
        groups.setdefault((one.kind, one.channel), []).append(one)
    out: list[QualityFlag] = []
    for (kind, channel), group in groups.items():
        name = view.name_of(channel)
        out += [one.flag(name) for one in group[:LISTED]]
        if rest := group[LISTED:]:
            said = words(f"{len(rest)} more of this kind.")
            out.append(QualityFlag(kind, name, rest[0].start_s, max(d.end_s for d in rest), said))
    return out


def doubted_anew(flags: Iterable[QualityFlag], found: Sequence[QualityFlag]) -> list[QualityFlag]:
    """Return the reader's flags without those of which several channels told better."""
    told: dict[str, list[tuple[float, float]]] = {}
    for one in found:
        told.setdefault(one.channel, []).append((one.start_s, one.end_s))
    return [
        one
        for one in flags
        if one.kind not in KNOWN_BETTER
        or not any(a < one.end_s and one.start_s < b for a, b in told.get(one.channel, ()))
    ]


def unlimited(view: EngineView, doubts: Iterable[Doubt], points: Sequence[NotJudged]) -> list[NotJudged]:
    """Return an open point for each doubt that no limit's says: of ITT a core question, whatever the profile limits."""
    out: list[NotJudged] = []
    for one in doubts:
        if not one.hides:
            continue
        name = view.name_of(one.channel)
        core = one.channel == "itt"
        said = any(
            p.channel == name
            and p.start_s is not None
            and p.end_s is not None
            and p.start_s < one.end_s
            and one.start_s < p.end_s
            and p.core >= core
            for p in points
        )
        if not said and len(out) < LISTED:
            what = f"limits on {view.names.in_text(name)}" if core else view.names.in_text(name)
            out.append(NotJudged(what, one.why, None, name, one.start_s, one.end_s, view.engine, core))
    return out
