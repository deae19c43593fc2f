"""What is measured over the flight: highest values while running, times, and the run-down."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from debrief.analysis.evidence.evidence_samples import Readings, around, beside, cut_of, edge, index_at
from debrief.analysis.evidence.measured import Measured
from debrief.analysis.limits.applicability import PLACE_UNSEEN, RUN_SILENT, Course
from debrief.analysis.model import Measure
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import EMPTY, Window, contains, total_s, union
from debrief.analysis.signal.point_readings import missing
from debrief.analysis.signal.traces import Trace
from debrief.analysis.starts.attempts import Found
from debrief.analysis.starts.light_off import Fuel
from debrief.recording.model import FloatArray
from debrief.words import numbers

NEVER_RAN = "the engine did not run outside the starts"
RUN_DOWN_FROM_PCT = 40.0
RUN_DOWN_TO_PCT = 10.0
HIGHEST = (("itt", "degC"), ("torque", "%"), ("ng", "%"), ("np", "rpm"), ("oil_temp", "degC"))
"""Channels whose highest value while running is told, with their units."""
MOST_STRETCHES = 6
"""Stretches of which the samples at both ends are given."""


@dataclass(frozen=True)
class Fall:
    """When Ng fell through a level, on the line between two samples that lie `step_s` apart, [s]."""

    time_s: float
    step_s: float


Suspect = Callable[[str, float], bool]
"""Whether the sample of a channel at a time, [s], cannot be believed."""


def flight_measures(
    view: EngineView, found: Found, course: Course, suspect: Suspect = lambda channel, time_s: False
) -> dict[str, Measured]:
    """Return what is measured over the whole recording, by name; highest values that are `suspect` are marked.

    Notes
    -----
    Highest values are those while the engine ran outside the starts. Run-down is the time of Ng from 40 % to
    10 % after the last fuel cut, by straight lines between samples.
    """
    flies = () if view.channel("weight_on_wheels") is not None else ("flight.airborne_ias_kt",)
    return {
        **{f"highest_{name}_running": _highest(view, name, unit, course, suspect) for name, unit in HIGHEST},
        "running_time": Measured(
            _running_time(course),
            "sum of (end − beginning) of the stretches that are lit and outside the start windows",
            ("start.idle_ng_pct", "start.idle_tolerance_pct"),
            partial(_running_ends, view, found, course),
        ),
        "airborne_time": Measured(
            _airborne_time(course),
            "sum of (touchdown − lift-off)",
            flies,
            partial(_airborne_ends, view, course),
        ),
        "run_down": _run_down(view, found),
    }


def _highest(view: EngineView, name: str, unit: str, course: Course, suspect: Suspect) -> Measured:
    """Return the highest value while running, with the samples of the stretch of running in which it lies."""
    of, trace, running = partial(Measured, formula="highest sample"), view.trace(name), course.running
    if trace is None:
        return of(missing(unit, view.missing_because(name, view.names.in_text(name))))
    top = trace.peak(running.rows)
    if top is None:
        return of(missing(unit, course.run_unseen or (RUN_SILENT if course.unknown.parts else NEVER_RAN)))
    least, most = trace.peak(running.inner), trace.peak(running.outer)
    low = None if least is None else least.low
    begin, end = running.rows[int(np.searchsorted(running.rows[:, 1], top.time_s, side="left"))].tolist()
    return of(
        Measure(
            top.value,
            unit,
            low,
            top.high if most is None else max(top.high, most.high),
            sensor_suspect=suspect(name, top.time_s),
        ),
        read=partial(around, view, name, begin, end, top.time_s, "highest with its neighbours"),
    )


def _running_time(course: Course) -> Measure:
    if course.run_unseen is not None:
        return missing("s", course.run_unseen)
    silent = union(np.concatenate((course.silent, course.unknown.rows)))
    return length_of(course.running, silent, RUN_SILENT, course.unsure)


def _airborne_time(course: Course) -> Measure:
    if course.air is None:
        return missing("s", "neither weight on wheels nor airspeed tells")
    return length_of(course.air, course.unplaced, PLACE_UNSEEN)


def length_of(window: Window, silent: FloatArray, why: str, unsure: FloatArray = EMPTY) -> Measure:
    """Return how long a window is, with the bounds of its edges.

    Of the `silent` stretches, (m, 2), nothing is counted, but it may have been all of them; of those in which that is
    `unsure` likewise. Without anything known it is not known, and `why`.
    """
    known = window.known(silent)
    most = total_s(union(np.concatenate((known.outer, silent, unsure))))
    if len(silent) and not len(known.rows):
        return Measure(None, "s", 0.0, most, why=why)
    return Measure(total_s(known.rows), "s", total_s(known.inner), most)


def _many(count: int) -> str:
    return "" if count <= MOST_STRETCHES else f", of the first {MOST_STRETCHES} of {count} stretches"


def _running_ends(view: EngineView, found: Found, course: Course) -> Readings:
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


def _airborne_ends(view: EngineView, course: Course) -> Readings:
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


def _run_down(view: EngineView, found: Found) -> Measured:
    of = partial(Measured, formula="time at 10 % − time at 40 %, each on the line between its samples")
    ng, fuel = view.trace("ng"), _last_cut(found)
    if ng is None:
        return of(missing("s", view.missing_because("ng", "Ng")))
    if fuel is None or fuel.off_s is None:
        return of(missing("s", "no shutdown in the recording"))
    falls = _fall_times(view, ng, fuel)
    if isinstance(falls, str):
        return of(missing("s", falls))
    first, last = falls
    if any(r.end_s is None or r.end_s > first.time_s for r in found.runs if r.start_s > fuel.off_s):
        return of(missing("s", "the starter turned the engine during the run-down"))
    value, open_s = last.time_s - first.time_s, first.step_s + last.step_s
    return of(
        Measure(value, "s", max(value - open_s, 0.0), value + open_s),
        read=lambda: (
            cut_of(view, fuel)
            + beside(view, "ng", first.time_s, "40 %")
            + beside(view, "ng", last.time_s, "10 %")
        ),
    )


def _last_cut(found: Found) -> Fuel | None:
    """Return the fuel whose cut shut a burning engine down last; None without one."""
    cuts = [f for f in found.fuels if f.off_s is not None and contains(found.lit, f.off_s)]
    return max(cuts, key=lambda f: f.off_s or 0.0, default=None)


def _fall_times(view: EngineView, ng: Trace, fuel: Fuel) -> tuple[Fall, Fall] | str:
    """Return when Ng fell through 40 % and 10 % after the cut, or why that is not known."""
    part = ng.between(fuel.off_s or 0.0, view.end_s)
    t, v = ng.time_s[part], ng.values[part]
    falls = []
    for level in (RUN_DOWN_FROM_PCT, RUN_DOWN_TO_PCT):
        down = np.flatnonzero((v[:-1] > level) & (v[1:] <= level))
        if not down.size:
            return f"Ng did not fall through {numbers.plain(level)} % after the cut"
        k = int(down[0])
        if ng.gap[part.start + k]:
            return "a gap in Ng hides the run-down"
        step = float(t[k + 1] - t[k])
        falls.append(Fall(float(t[k] + (v[k] - level) / (v[k] - v[k + 1]) * step), step))
    return falls[0], falls[1]
