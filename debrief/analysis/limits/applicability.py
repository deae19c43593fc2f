"""Where and when a limit applies, and where that cannot be told."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from debrief.analysis.model import NotJudged, Phase
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import time_above
from debrief.analysis.signal.interval_sets import (
    EMPTY,
    Window,
    from_pairs,
    intersect,
    subtract,
    total_s,
    union,
)
from debrief.analysis.signal.traces import GAP_FLOOR_S
from debrief.analysis.starts.attempts import Found, start_windows
from debrief.analysis.starts.edge_bounds import Edges, held_window
from debrief.analysis.starts.unknown_running import UnknownRunning
from debrief.profile.model import Limit, WhereCondition
from debrief.recording.model import FloatArray

END_UNSEEN = "it is not known when the start was over and the engine ran"
RUN_SILENT = "whether the engine ran was not recorded there"
PLACE_UNKNOWN = "neither weight on wheels nor airspeed tells ground from air"
BURNT_BEFORE = "the recording begins when the engine was already lit"
PLACE_UNSEEN = "whether it flew was not recorded there"
TAKEOFF_BEFORE = "it took off before the recording, and nobody knows how long before"
LISTED = 10
"""How many stretches are listed one by one."""


@dataclass(eq=False)
class Scope:
    """The windows of one limit: one per attempt for start limits, one per engine cycle for totals, else one.

    `why` is set when the limit cannot be judged at all.
    """

    units: list[tuple[int | None, Window]] = field(default_factory=list)
    why: str | None = None
    open_points: list[NotJudged] = field(default_factory=list)

    @property
    def everywhere(self) -> FloatArray:
        """Where it applied, all windows together."""
        return np.concatenate([w.rows for _, w in self.units]) if self.units else EMPTY

    @property
    def outer(self) -> FloatArray:
        """Where it may have applied, all windows together."""
        return union(np.concatenate([w.outer for _, w in self.units])) if self.units else EMPTY


@dataclass(frozen=True, eq=False)
class Course:
    """What an engine did, as far as limits ask: when it started, ran and flew, each with the bounds of its edges.

    `air` is None where no channel tells flight from ground. `unsure` is where it burned and either started or
    ran: without Ng no idle is seen, so the end of a start is not known. `run_unseen` is why running cannot be told
    at all, None where it can; `unknown` is where nothing shows whether it ran, `silent` where all channels that could
    tell it are silent, `unplaced` where the one that tells ground from air is.
    """

    edges: Edges
    starts: Window
    running: Window
    cycles: tuple[Window, ...]
    air: Window | None
    phases: tuple[Phase, ...]
    unknown: UnknownRunning
    unsure: FloatArray = field(default_factory=lambda: EMPTY)
    unplaced: FloatArray = field(default_factory=lambda: EMPTY)
    silent: FloatArray = field(default_factory=lambda: EMPTY)
    run_unseen: str | None = None


def course_of(
    view: EngineView,
    found: Found,
    edges: Edges,
    phases: tuple[Phase, ...],
    air: Window | None,
    unknown: UnknownRunning,
) -> Course:
    """Return the course of one engine that flew in `air`; running is lit and outside the start windows."""
    starts = edges.window(start_windows(found.attempts))
    running = edges.window(found.lit).minus(starts)
    cycles = tuple(running.both(edges.window(found.lit[k : k + 1])) for k in range(len(found.lit)))
    blind = view.idle_unseen
    unsure = EMPTY if blind is None else intersect(found.lit, starts.rows)
    why = unknown.throughout
    if why is None and blind is not None and len(unsure) and not len(running.rows):
        why = _end_unseen(blind)
    return Course(
        edges, starts, running, cycles, air, phases, unknown, unsure, _unknown_place(view), _silent(view), why
    )


def scope_of(view: EngineView, found: Found, limit: Limit, course: Course) -> Scope:
    """Return where the limit applies."""
    whole = Window.exactly(from_pairs([(0.0, view.end_s)]))
    scope = Scope()
    if limit.when == "start":
        if not found.attempts and course.unknown.throughout is not None:
            scope.why = course.unknown.throughout
            return scope
        scope.units = [(n, course.edges.start_window(n).window) for n in range(1, len(found.attempts) + 1)]
        scope.open_points += _unknown_points(view, limit, course, outside=course.starts.rows)
        scope.open_points += _before_the_recording(view, found, limit)
    elif limit.when == "running":
        if course.run_unseen is not None:
            scope.why = course.run_unseen
            return scope
        if len(course.unsure):
            # Where no level is passed it is within, start or not.
            beyond = intersect(course.unsure, _beyond_any(view, limit))
            why = _end_unseen(view.idle_unseen or "")
            scope.open_points += stretches_open(view, limit, limit.channel, beyond, why)
        scope.open_points += _unknown_points(view, limit, course)
        scope.units = [(None, w) for w in (course.cycles if limit.count == "total" else (course.running,))]
    elif limit.when in ("ground", "airborne"):
        if course.air is None:
            scope.why = PLACE_UNKNOWN
            return scope
        unknown = course.unplaced
        where_it_was = course.air if limit.when == "airborne" else whole.minus(course.air)
        scope.units = [(None, where_it_was.known(unknown))]
        scope.open_points += stretches_open(view, limit, limit.channel, unknown, PLACE_UNSEEN)
    else:
        scope.units = [(None, whole)]
    timed = limit.after_takeoff_s is not None or limit.outside_takeoff_s is not None
    if limit.when not in ("start", "running") and (limit.phases or timed):
        # Phases are told from when it ran.
        if course.unknown.throughout is not None:
            scope.why = course.unknown.throughout
            return scope
        scope.open_points += _unknown_points(view, limit, course)
    if timed or set(limit.phases) - {"off", "start", "shutdown"}:
        if course.air is None:
            scope.why = PLACE_UNKNOWN
            return scope
        # What a gap hides may be another phase: nothing is claimed there, and said where it would matter.
        unknown = _unknown_phase(view, limit, course.unplaced)
        scope.open_points += stretches_open(
            view,
            limit,
            limit.channel,
            intersect(unknown, scope.outer),
            "which phase it was is not recorded there",
        )
        scope.units = [(n, w.known(unknown)) for n, w in scope.units]
    if limit.phases:
        named = course.edges.phases(course.phases, limit.phases)
        scope.units = [(n, w.both(named)) for n, w in scope.units]
    if limit.after_takeoff_s is not None:
        rating = course.edges.after_takeoff(course.phases, limit.after_takeoff_s)
        scope.units = [(n, w.both(rating)) for n, w in scope.units]
    if limit.outside_takeoff_s is not None:
        _leave_out_takeoff(view, scope, limit, course)
    for condition in limit.where:
        _narrow(view, scope, limit, condition)
        if scope.why is not None:
            return scope
    return scope


def _unknown_points(
    view: EngineView, limit: Limit, course: Course, outside: FloatArray = EMPTY
) -> list[NotJudged]:
    """Return an open point for each stretch `outside` of these, (m, 2), of which is not known whether it ran."""
    return [
        point
        for rows, why in course.unknown.parts
        for point in stretches_open(view, limit, limit.channel, subtract(rows, outside), why)
    ]


def _before_the_recording(view: EngineView, found: Found, limit: Limit) -> list[NotJudged]:
    """Return the open point of a start that burnt before the recording: its hottest part may lie there.

    It has no place in the recording.
    """
    if not any(attempt.fuels and attempt.fuels[0].burnt_before for attempt in found.attempts):
        return []
    return [NotJudged(limit.event, BURNT_BEFORE, limit.id, view.name_of(limit.channel), engine=view.engine)]


def _silent(view: EngineView) -> FloatArray:
    """Return where none of the channels has samples that tell whether the engine runs, (m, 2)."""
    whole = from_pairs([(0.0, view.end_s)])
    out = whole
    for name in ("ng", "itt", "fuel_on", "fuel_flow"):
        trace = view.trace(name)
        if trace is not None:
            out = intersect(out, trace.unseen(whole))
    return out


def _unknown_place(view: EngineView) -> FloatArray:
    """Return where the channel that tells ground from air is silent, (m, 2)."""
    trace = view.trace("weight_on_wheels") or view.trace("ias")
    return EMPTY if trace is None else trace.unseen(from_pairs([(0.0, view.end_s)]))


def _unknown_phase(view: EngineView, limit: Limit, unplaced: FloatArray) -> FloatArray:
    """Return where the channels that tell the phase are silent and the limit's may be beyond a level, (m, 2)."""
    height = view.height or view.trace("vs")
    silent = [unplaced]
    if height is not None:
        silent.append(height.unseen(from_pairs([(0.0, view.end_s)])))
    unknown = union(np.concatenate(silent))
    if view.trace(limit.channel) is None or not len(unknown):
        return EMPTY
    beyond = _beyond_any(view, limit)
    meets = [bool(len(intersect(row[None, :], beyond))) for row in unknown]
    return unknown[np.array(meets, dtype=np.bool_)]


def _beyond_any(view: EngineView, limit: Limit) -> FloatArray:
    """Return where the limit's channel may have been beyond its mildest level, (m, 2)."""
    trace, first = view.trace(limit.channel), limit.allowed[0].level
    if trace is None:
        return EMPTY
    return (time_above(trace.negated(), -first) if limit.below else time_above(trace, first)).high


def _end_unseen(why: str) -> str:
    return f"{END_UNSEEN}: {why}"


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
        scope.why = f"the limit holds only with {name}, {view.missing_because(name, 'which')}"
        return
    unknown = trace.unseen(scope.outer)
    if channel.is_discrete:
        # A discrete holds its last value: no straight line between 0 and 1. "Equal" is within half of 1.
        if condition.equals is not None:
            held = held_window(channel, condition.equals - 0.5, condition.equals + 0.5)
        else:
            above, below = condition.above, condition.below
            held = held_window(
                channel, -np.inf if above is None else above, np.inf if below is None else below
            )
        last = float(channel.time_s[-1])
        if len(held.rows) and held.rows[-1, 1] == last:
            # What `unseen` still takes for seen.
            tail = np.array([[last, last + GAP_FLOOR_S]])
            held = Window(*(union(np.concatenate((x, tail))) for x in (held.rows, held.inner, held.outer)))
    elif condition.equals is not None:
        # "Equal" for a recorded number: within half a step of the recorder.
        half = max(0.5 * (channel.resolution or 0.0), 1e-9)
        held = held_window(channel, condition.equals - half, condition.equals + half)
    else:
        beyond = (
            time_above(trace, condition.above)
            if condition.above is not None
            else time_above(trace.negated(), -_number(condition.below))
        )
        held = Window.between(beyond.estimate, beyond.low, beyond.high)
    held = held.known(unknown)
    why = f"{view.names.in_text(name)} was not recorded there, and the limit holds only with it"
    scope.open_points += stretches_open(view, limit, name, unknown, why)
    scope.units = [(n, w.both(held)) for n, w in scope.units]


def _leave_out_takeoff(view: EngineView, scope: Scope, limit: Limit, course: Course) -> None:
    """Leave out the time for which take-off power may be used; after a take-off before the recording it is an open point."""
    for_s = limit.outside_takeoff_s
    assert for_s is not None
    rating = course.edges.after_takeoff(course.phases, for_s)
    scope.units = [(n, w.minus(rating)) for n, w in scope.units]
    if course.air is not None and len(course.air.rows) and course.air.rows[0, 0] <= 0.0:
        unknown = from_pairs([(0.0, min(for_s, float(course.air.rows[0, 1])))])
        meets = intersect(intersect(unknown, scope.outer), _beyond_any(view, limit))
        scope.open_points += stretches_open(view, limit, limit.channel, meets, TAKEOFF_BEFORE)
        scope.units = [(n, w.known(unknown)) for n, w in scope.units]


def _number(value: float | None) -> float:
    assert value is not None  # the profile refuses a condition without a level
    return value
