"""What is told of the flight as lists, of each engine and of all together."""

from __future__ import annotations

from collections.abc import Sequence

from debrief.analysis.flight.itt_levels import IttLevel
from debrief.analysis.flight.itt_margins import margin_curve
from debrief.analysis.flight.load_steps import load_steps
from debrief.analysis.flight.power_checks import power_checks
from debrief.analysis.flight.steady_windows import steady_rows, steady_windows
from debrief.analysis.flight.twins import twin_differences
from debrief.analysis.flight_model import CycleClass, FlightLists
from debrief.analysis.limits.applicability import Course
from debrief.analysis.model import Phase
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import subtract
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import FloatArray


def running_seen(course: Course) -> FloatArray:
    """Return where the engine ran outside of starts and was recorded, (m, 2), [s]."""
    return course.running.known(course.silent).rows


def flight_lists(
    view: EngineView,
    course: Course,
    phases: Sequence[Phase],
    levels: Sequence[IttLevel],
    cycles: Sequence[CycleClass],
    itt: Trace | None,
) -> FlightLists:
    """Return the lists of one engine; `itt` is without the samples that cannot be believed."""
    running = running_seen(course)
    still = running
    if view.height is None and course.air is not None:
        # Nothing shows whether the height stood still: a steady climb would be taken for cruise.
        still = subtract(running, course.air.rows)
    steady = tuple(steady_windows(view, steady_rows(view, still), phases, levels))
    return FlightLists(
        steady=steady,
        load_steps=tuple(load_steps(view, running)),
        margin_curve=tuple(margin_curve(view, itt, levels, phases)),
        cycles=tuple(cycles),
        power_checks=tuple(power_checks(steady, view.profile.power_checks)),
    )


def all_lists(engines: Sequence[tuple[EngineView, FlightLists]]) -> FlightLists:
    """Return the lists of all engines as one, and what the engines differ by."""
    lists = [own for _, own in engines]
    return FlightLists(
        steady=tuple(sorted((w for one in lists for w in one.steady), key=lambda w: (w.start_s, w.engine))),
        load_steps=tuple(
            sorted((x for one in lists for x in one.load_steps), key=lambda x: (x.time_s, x.engine))
        ),
        twins=tuple(twin_differences([(view, own.steady) for view, own in engines])),
        margin_curve=tuple(p for one in lists for p in one.margin_curve),
        cycles=tuple(c for one in lists for c in one.cycles),
        power_checks=tuple(
            sorted((c for one in lists for c in one.power_checks), key=lambda c: (c.start_s, c.engine))
        ),
    )
