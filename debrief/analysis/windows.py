"""Where and when a limit applies, and where that cannot be told."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from debrief.analysis.attempts import Found
from debrief.analysis.discretes import holding
from debrief.analysis.engine_view import EngineView
from debrief.analysis.exceedance import time_above
from debrief.analysis.intervals import EMPTY, from_pairs, intersect, subtract
from debrief.analysis.model import NotJudged, Phase
from debrief.profile.model import Limit, WhereCondition
from debrief.recording.model import FloatArray


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
        scope.units = [(None, airborne if limit.when == "airborne" else subtract(whole, airborne))]
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


def _narrow(view: EngineView, scope: Scope, limit: Limit, condition: WhereCondition) -> None:
    """Keep only where the condition holds; where its channel says nothing, it is an open point."""
    name = condition.channel
    channel, trace = view.channel(name), view.trace(name)
    if channel is None or trace is None:
        scope.why = f"the limit holds only with {name}, which was {view.missing_because(name)}"
        return
    unknown = trace.unseen(scope.everywhere)
    if condition.equals is not None:
        # "Equal" for a recorded number: within half a step of the recorder, or of 1 for a discrete.
        half = 0.5 if channel.is_discrete else max(0.5 * (channel.resolution or 0.0), 1e-9)
        held = holding(channel, condition.equals - half, condition.equals + half)
    elif condition.above is not None:
        held = time_above(trace, condition.above).estimate
    else:
        assert condition.below is not None
        held = time_above(trace.negated(), -condition.below).estimate
    for begin, end in unknown:
        scope.open_points.append(
            NotJudged(
                limit.event,
                f"{name} was not recorded there, and the limit holds only with it",
                limit.id,
                name,
                float(begin),
                float(end),
                view.engine,
            )
        )
    scope.units = [(n, intersect(rows, held)) for n, rows in scope.units]
