"""What each measure of a flight was read from: the samples, the profile's numbers, the formula."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial

import numpy as np

from debrief.analysis.evidence.evidence_samples import Readings, around, beside, cut_of, edge, index_at, proof
from debrief.analysis.flight.flight_measures import HIGHEST, fall_times, last_cut
from debrief.analysis.limits.applicability import Course
from debrief.analysis.model import Measure, MeasureEvidence
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.starts.attempts import Found

MOST_STRETCHES = 6
"""Stretches of which the samples at both ends are given."""


def prove_flight(
    view: EngineView, found: Found, course: Course, measures: Mapping[str, Measure]
) -> dict[str, MeasureEvidence]:
    """Return the evidence of every measure by name; without samples where there is neither value nor bound."""
    out = {}
    for name, _ in HIGHEST:
        key = f"highest_{name}_running"
        out[key] = proof(view, measures[key], "highest sample", (), partial(_highest, view, name, course))
    out["running_time"] = proof(
        view,
        measures["running_time"],
        "sum of (end - beginning) of the stretches that are lit and outside the start windows",
        ("start.idle_ng_pct", "start.idle_tolerance_pct"),
        partial(_running, view, found, course),
    )
    flies = () if view.channel("weight_on_wheels") is not None else ("flight.airborne_ias_kt",)
    out["airborne_time"] = proof(
        view,
        measures["airborne_time"],
        "sum of (touchdown - lift-off)",
        flies,
        partial(_airborne, view, course),
    )
    out["run_down"] = proof(
        view,
        measures["run_down"],
        "time at 10 % - time at 40 %, each on the line between its samples",
        (),
        partial(_run_down, view, found),
    )
    return out


def _highest(view: EngineView, name: str, course: Course) -> Readings:
    """Return the highest sample, out of those of the stretch of running in which it lies."""
    trace, rows = view.trace(name), course.running.rows
    top = None if trace is None else trace.highest(rows)
    if top is None:
        return ()
    begin, end = rows[int(np.searchsorted(rows[:, 1], top[0], side="left"))]
    return around(view, name, float(begin), float(end), top[0], "highest with its neighbours")


def _many(count: int) -> str:
    return "" if count <= MOST_STRETCHES else f", of the first {MOST_STRETCHES} of {count} stretches"


def _running(view: EngineView, found: Found, course: Course) -> Readings:
    """Return the samples at both ends of each stretch: Ng beside idle, and the signal that tells the cut."""
    rows = course.running.known(course.silent).rows
    name = "itt" if view.trace("ng") is None else "ng"
    cuts = {fuel.lit_end_s: fuel for fuel in found.fuels}
    out: Readings = ()
    for begin, end in rows[:MOST_STRETCHES].tolist():
        out += beside(view, name, begin, f"the beginning{_many(len(rows))}")
        fuel = cuts.get(end)
        cut = () if fuel is None or end != fuel.off_s else cut_of(view, fuel)
        out += cut or beside(view, name, end, "the end")
    return out


def _airborne(view: EngineView, course: Course) -> Readings:
    """Return the samples at lift-off and touchdown of each stretch, or at the gap that ends it."""
    if course.air is None:
        return ()
    rows = course.air.known(course.unplaced).rows
    wheels = view.channel("weight_on_wheels")
    out: Readings = ()
    for begin, end in rows[:MOST_STRETCHES].tolist():
        for time_s, what in ((begin, f"the beginning{_many(len(rows))}"), (end, "the end")):
            k = None if wheels is None else index_at(view, "weight_on_wheels", time_s)
            if wheels is None:
                out += beside(view, "ias", time_s, what)
            elif k and wheels.time_s[k] == time_s and wheels.values[k] != wheels.values[k - 1]:
                out += edge(view, "weight_on_wheels", time_s, what)
            else:
                out += beside(view, "weight_on_wheels", time_s, what)
    return out


def _run_down(view: EngineView, found: Found) -> Readings:
    ng, fuel = view.trace("ng"), last_cut(found)
    falls = "" if ng is None or fuel is None else fall_times(view, ng, fuel)
    if fuel is None or isinstance(falls, str):
        return ()
    first, last = falls
    return (
        cut_of(view, fuel)
        + beside(view, "ng", first.time_s, "40 %")
        + beside(view, "ng", last.time_s, "10 %")
    )
