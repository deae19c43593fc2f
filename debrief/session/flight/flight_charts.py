"""Two charts of a flight: altitude, speed and ITT with phases and loads, and the ITT margin against density altitude."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.model import Assessment, Phase
from debrief.recording.model import Channel, FloatArray
from debrief.session.charts.still_chart import (
    Axis,
    Curve,
    Instants,
    Level,
    Mark,
    Pane,
    StillChart,
    joined,
    nothing,
)
from debrief.session.drawing.axes import rounded_range
from debrief.session.drawing.envelope import Envelope, gap_breaks
from debrief.session.drawing.least_span import least_span, widened
from debrief.session.lanes.lane_plan import plan_lane
from debrief.session.texts.definitions import phase_title
from debrief.words.clock import ELAPSED, Clock
from debrief.words.events import OUTCOME_WORDS
from debrief.words.loads import change_in_short, load_title
from debrief.words.numbers import decimals_for, number, unit_words, value_text

FLIGHT = "Altitude, airspeed and temperature"
MARGIN = "Temperature margin against density altitude"
_PANES = (("palt", 1.0), ("ias", 1.0), ("itt", 1.8))
"""Channels from the top down, with their share of the height."""
_COLD = ("off", "start")
"""Phases whose low temperatures would leave little room for the others."""
_COLUMNS = 1500
_NAMED = 0.03
"""Of the recording: how long a phase lasts whose beginning has its name over the chart."""


def flight_chart(assessment: Assessment, engine: int = 1, clock: Clock = ELAPSED) -> StillChart:
    """Return altitude, airspeed and ITT over the recording, with phases, steady stretches and loads.

    A mark leads to its moment: `leads_to` is that time, [s].
    """
    recording, itt = assessment.recording, assessment.names(engine).itt
    panes = [
        pane
        for name, share in _PANES
        if (channel := recording.get(name, engine)) is not None
        and (pane := _pane(assessment, channel, name, share, engine, clock)) is not None
    ]
    if not panes or recording.duration_s <= 0.0:
        return nothing(FLIGHT, f"Neither altitude, airspeed nor {itt} is recorded.")
    phases = tuple(
        (one.start_s / 60.0, _called(assessment, one) if lasts >= _NAMED * recording.duration_s else "")
        for one in assessment.phases
        for lasts in [one.end_s - one.start_s]
    )
    told = assessment.canonical.flight
    said = [
        words
        for words, lists in (
            (f"ring: smallest {itt} margin", told.margin_curve),
            ("triangles: loads", told.load_steps),
            ("heavy lines: steady stretches", told.steady),
        )
        if any(one.engine == engine for one in lists)
    ]
    return StillChart(
        FLIGHT,
        "; ".join(said),
        Axis("minutes from the first sample", "", (0.0, recording.duration_s / 60.0), 10),
        tuple(panes),
        (Instants("phases", "solid", phases),) if phases else (),
        words=", ".join(
            f"{phase_title(one.name)} from {clock.text(one.start_s, 0)}" for one in assessment.phases
        ),
    )


def _pane(
    assessment: Assessment, channel: Channel, name: str, share: float, engine: int, clock: Clock
) -> Pane | None:
    times, values, plan = channel.time_s, channel.values, plan_lane(assessment, name, engine)
    seen = np.isfinite(values)
    if np.count_nonzero(seen) < 2:
        return None
    span = float(times[-1] - times[0])
    drawn = Envelope(times, values, gap_breaks(times, assessment.starts)).view(
        float(times[0]), float(times[-1]), _COLUMNS
    )
    curves = [Curve(*joined(drawn, drawn.time_s / 60.0, span / 60.0), plan.role, thin=True)]
    seen &= _running(assessment, times) if name == "itt" else True
    if not seen.any():
        return None
    low, high = float(values[seen].min()), float(np.nanmax(values))
    low, high = widened(low, high, least_span(name, channel.unit))
    levels: tuple[Level, ...] = ()
    marks: tuple[Mark, ...] = ()
    if name == "itt":
        lines = [one for one in plan.lines if one.when != "start"]
        levels = tuple(
            Level(one.level, one.text, one.severity, beside=True) for one in lines if one.level < 1.3 * high
        )
        high = max([high, *(one.value for one in levels)])
        curves += _steady(assessment, engine)
        marks = tuple(_marks(assessment, channel, engine, clock))
    count = 5 if name == "itt" else 3
    axis = Axis(plan.title, channel.unit, rounded_range(low, high + 0.03 * (high - low), count), 3)
    return Pane(axis, tuple(curves), (), levels, marks, f"{plan.title}, {plan.label}", plan.role, share)


def _called(assessment: Assessment, phase: Phase) -> str:
    """Return what a phase is called over the chart: of a start that was none, what it was."""
    if phase.name == "start":
        own = [one for one in assessment.starts if one.begin_s == phase.start_s]
        if own and own[0].outcome == "motoring":
            return OUTCOME_WORDS["motoring"].lower()
    return phase_title(phase.name).lower()


def _running(assessment: Assessment, times_s: FloatArray) -> NDArray[np.bool_]:
    """Return for each time whether the engine ran or had just been cut, outside of starts; everywhere where nothing tells."""
    running = np.zeros(times_s.shape, bool)
    for one in assessment.phases:
        if one.name not in _COLD:
            running |= (times_s >= one.start_s) & (times_s <= one.end_s)
    return running if running.any() else ~running


def _steady(assessment: Assessment, engine: int) -> Iterator[Curve]:
    """Yield the mean ITT of each steady stretch as a heavy line."""
    for one in assessment.canonical.flight.steady:
        if one.engine == engine and one.itt is not None:
            value = assessment.units.value(one.itt, "degC")
            yield Curve(np.array([one.start_s, one.end_s]) / 60.0, np.array([value, value]), "ink")


def _marks(assessment: Assessment, channel: Channel, engine: int, clock: Clock) -> Iterator[Mark]:
    """Yield the smallest margin and the loads, each at the ITT of its moment."""
    told, units, itt = assessment.canonical.flight, assessment.units, assessment.names(engine).itt
    own = "" if engine == 1 else f".{engine}"
    margin, at_s = (
        measure.value
        if (measure := assessment.flight_measures.get(f"itt_margin_smallest{more}{own}"))
        else None
        for more in ("", "_at")
    )
    if margin is not None and at_s is not None:
        unit = units.of("degC")
        words = f"margin {number(margin, decimals_for(unit))} {unit_words(unit)}"
        yield Mark(
            at_s / 60.0,
            _value_at(channel, at_s),
            "ink",
            "ring",
            words,
            lambda: f"Smallest {itt} {words} at {clock.text(at_s, 0)}",
            str(at_s),
        )
    for step in told.load_steps:
        if step.engine != engine:
            continue
        said, at = load_title(step.kind, step.on), clock.text(step.time_s, 0)
        change = step.changes.get("itt")
        if change is not None:
            cost = change_in_short(itt, change.value, change.low, change.high, units)
            said = f"{said}: {cost}" if cost else said
        yield Mark(
            step.time_s / 60.0,
            _value_at(channel, step.time_s),
            "muted",
            "small_triangle",
            "",
            lambda said=said, at=at: f"{said} at {at}",  # type: ignore[misc]
            str(step.time_s),
        )


def _value_at(channel: Channel, time_s: float) -> float:
    return float(np.interp(time_s, channel.time_s, channel.values))


def margin_chart(assessment: Assessment, engine: int = 1, clock: Clock = ELAPSED) -> StillChart:
    """Return the least ITT margin in each 500 ft of density altitude; a mark leads to its moment."""
    units = assessment.units
    points = [one for one in assessment.canonical.flight.margin_curve if one.engine == engine]
    if not points:
        itt = assessment.names(engine).itt
        return nothing(
            MARGIN, f"No climb or cruise with {itt}, pressure altitude and OAT, and a running limit of {itt}."
        )
    unit_x, unit_y = units.of("ft"), units.of("degC")
    x = np.array([units.value(one.density_altitude_ft, "ft") for one in points])
    y = np.array([units.value(one.itt_margin_c, "degC", is_difference=True) for one in points])
    marks = tuple(
        Mark(
            float(a),
            float(b),
            "temperature",
            "small_dot",
            "",
            lambda a=a, b=b, one=one: (  # type: ignore[misc]
                f"{number(float(b), decimals_for(unit_y))} {unit_words(unit_y)} at {value_text(float(a), unit_x)} "
                f"density altitude, {clock.text(one.time_s, 0)}"
            ),
            str(one.time_s),
        )
        for a, b, one in zip(x, y, points, strict=True)
    )
    low, high = min(0.0, float(y.min())), float(y.max())
    return StillChart(
        MARGIN,
        "least mean of each class; 0: at the limit",
        Axis("density altitude", unit_x, rounded_range(float(x.min()), float(x.max()) + 1.0, 6)),
        (
            Pane(
                Axis("margin", unit_y, rounded_range(low, high * 1.05, 6)),
                (Curve(x, y, "temperature"),),
                levels=(Level(0.0, "limit", "limit"),),
                marks=marks,
            ),
        ),
        words="; ".join(
            f"{number(float(b), decimals_for(unit_y))} at {number(float(a), 0)}"
            for a, b in zip(x, y, strict=True)
        ),
    )
