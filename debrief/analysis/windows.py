"""Where and when a limit applies, and where that cannot be told."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from debrief.analysis.attempts import Found
from debrief.analysis.discretes import holding
from debrief.analysis.engine_view import EngineView
from debrief.analysis.exceedance import time_above
from debrief.analysis.intervals import EMPTY, from_pairs, intersect, subtract, total_s, union
from debrief.analysis.model import NotJudged, Phase
from debrief.analysis.traces import GAP_FLOOR_S
from debrief.profile.model import Limit, WhereCondition
from debrief.recording.model import FloatArray

LISTED = 10
"""How many stretches are listed one by one."""


@dataclass(eq=False)
class Scope:
    """The stretches of one limit: one row set per attempt for start limits, else one set in all.

    `why` is set when the limit cannot be judged at all.
    """

    units: list[tuple[int | None, FloatArray]] = field(default_factory=list)
    why: str | None = None
    open_points: list[NotJudged] = field(default_factory=list)

    @property
    def everywhere(self) -> FloatArray:
        """All stretches together."""
        return np.concatenate([rows for _, rows in self.units]) if self.units else EMPTY


def scope_of(
    view: EngineView,
    found: Found,
    limit: Limit,
    running: FloatArray,
    airborne: FloatArray | None,
    phases: tuple[Phase, ...],
) -> Scope:
    """Return where the limit applies."""
    whole = from_pairs([(0.0, view.end_s)])
    scope = Scope()
    if limit.when == "start":
        scope.units = [
            (n, from_pairs([(a.begin_s, a.window_end_s)])) for n, a in enumerate(found.attempts, 1)
        ]
    elif limit.when == "running":
        if view.trace("ng") is None and view.trace("itt") is None and view.channel("fuel_on") is None:
            scope.why = "whether the engine was running is not known: neither Ng, ITT nor fuel was recorded"
            return scope
        if limit.count == "total":
            scope.units = [(None, intersect(running, found.lit[k : k + 1])) for k in range(len(found.lit))]
        else:
            scope.units = [(None, running)]
    elif limit.when in ("ground", "airborne"):
        if airborne is None:
            scope.why = "neither weight on wheels nor airspeed tells ground from air"
            return scope
        unknown = _unknown_place(view)
        where_it_was = airborne if limit.when == "airborne" else subtract(whole, airborne)
        scope.units = [(None, subtract(where_it_was, unknown))]
        why = "whether it flew was not recorded there"
        scope.open_points += stretches_open(view, limit, limit.channel, unknown, why)
    else:
        scope.units = [(None, whole)]
    if limit.phases:
        named = from_pairs((p.start_s, p.end_s) for p in phases if p.name in limit.phases)
        scope.units = [(n, intersect(rows, named)) for n, rows in scope.units]
    if limit.after_takeoff_s is not None:
        rating = from_pairs(
            (p.start_s, p.start_s + limit.after_takeoff_s) for p in phases if p.name == "takeoff"
        )
        scope.units = [(n, intersect(rows, rating)) for n, rows in scope.units]
    for condition in limit.where:
        _narrow(view, scope, limit, condition)
        if scope.why is not None:
            return scope
    return scope


def _unknown_place(view: EngineView) -> FloatArray:
    """Return where the channel that tells ground from air is silent, (m, 2)."""
    trace = view.trace("weight_on_wheels") or view.trace("ias")
    return EMPTY if trace is None else trace.unseen(from_pairs([(0.0, view.end_s)]))


def stretches_open(
    view: EngineView, limit: Limit, channel: str, rows: FloatArray, why: str
) -> list[NotJudged]:
    """Return one open point per stretch, (m, 2), at most ten and then one for the rest."""
    name = view.name_of(channel)
    listed = [(float(a), float(b), why) for a, b in rows[:LISTED]]
    if len(rows) > LISTED:
        rest = rows[LISTED:]
        more = f"{why} ({len(rest)} more stretches, {total_s(rest):.0f} s together)"
        listed.append((float(rest[0, 0]), float(rest[-1, 1]), more))
    return [NotJudged(limit.event, text, limit.id, name, a, b, view.engine) for a, b, text in listed]


def _narrow(view: EngineView, scope: Scope, limit: Limit, condition: WhereCondition) -> None:
    """Keep only where the condition holds; where its channel says nothing, it is an open point."""
    name = condition.channel
    channel, trace = view.channel(name), view.trace(name)
    if channel is None or trace is None:
        scope.why = f"the limit holds only with {name}, which was {view.missing_because(name)}"
        return
    unknown = trace.unseen(union(scope.everywhere))
    if channel.is_discrete:
        # A discrete holds its last value: no straight line between 0 and 1. "Equal" is within half of 1.
        if condition.equals is not None:
            held = holding(channel, condition.equals - 0.5, condition.equals + 0.5)
        else:
            above, below = condition.above, condition.below
            held = holding(channel, -np.inf if above is None else above, np.inf if below is None else below)
        last = float(channel.time_s[-1])
        if len(held) and held[-1, 1] == last:
            held[-1, 1] = last + GAP_FLOOR_S  # what `unseen` still takes for seen
    elif condition.equals is not None:
        # "Equal" for a recorded number: within half a step of the recorder.
        half = max(0.5 * (channel.resolution or 0.0), 1e-9)
        held = holding(channel, condition.equals - half, condition.equals + half)
    elif condition.above is not None:
        held = time_above(trace, condition.above).estimate
    else:
        assert condition.below is not None
        held = time_above(trace.negated(), -condition.below).estimate
    held = subtract(held, unknown)
    why = f"{name} was not recorded there, and the limit holds only with it"
    scope.open_points += stretches_open(view, limit, name, unknown, why)
    scope.units = [(n, intersect(rows, held)) for n, rows in scope.units]
