"""The flight as a whole: beta in the air, and what is measured over the flight."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.analysis.limits.applicability import PLACE_UNSEEN, RUN_SILENT, Course
from debrief.analysis.model import Event, Evidence, Measure, NotJudged
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import TOLERANCE_S, Above, Run, runs, time_above
from debrief.analysis.signal.interval_sets import EMPTY, Window, contains, total_s, union
from debrief.analysis.signal.traces import Trace
from debrief.analysis.starts.attempts import Found
from debrief.analysis.starts.light_off import Fuel
from debrief.recording.model import FloatArray
from debrief.words import numbers
from debrief.words.events import event_spec
from debrief.words.sentence import Quantity, sentence, words

NEVER_RAN = "the engine did not run outside the starts"
BEFORE_S = 3.0
REJOIN_S = 2.0
DURING_S = 2.0
ABOVE_TOUCHDOWN_FT = 100.0
RUN_DOWN_FROM_PCT = 40.0
RUN_DOWN_TO_PCT = 10.0
BETA = "beta in flight"
MAY_BE_LANDING = (
    "it may be the landing: wheels came on with it, or nothing shows that it was 100 ft above touchdown"
)
HIGHEST = (("itt", "degC"), ("torque", "%"), ("ng", "%"), ("np", "rpm"), ("oil_temp", "degC"))
"""Channels whose highest value while running is told, with their units."""


@dataclass(frozen=True)
class Fall:
    """When Ng fell through a level, on the line between two samples that lie `step_s` apart, [s]."""

    time_s: float
    step_s: float


def beta_in_flight(view: EngineView, air: Window | None) -> tuple[list[Event], list[NotJudged]]:
    """Return each stretch with the power lever below the flight gate in the air, and what could be a landing.

    Notes
    -----
    A lever that flickers at the gate is below it once: breaks under 2 s do not end a stretch and are not counted.
    With weight on wheels it is a limit only when the aircraft was in the air for 3 s before and surely 2 s during;
    a shorter one that ends with the touchdown is not judged. From airspeed alone it is a limit 100 ft above the level
    of touchdown, and not judged below: there it is the landing, or may be. The power lever must be calibrated for the
    number to mean the gate.
    """
    gate = view.profile.flight.flight_gate_power_lever_pct
    if gate is None:
        return [], []
    lever = view.trace("power_lever")
    if air is None:
        return [], [
            NotJudged(BETA, "neither weight on wheels nor airspeed tells whether it flew", engine=view.engine)
        ]
    if not len(air.rows):
        return [], []
    name = view.name_of("power_lever")
    if lever is None:
        why = f"power lever {view.missing_because('power_lever')}"
        return [], [NotJudged(BETA, why, channel=name, engine=view.engine)]
    upright = lever.negated()
    below = time_above(upright, -gate)
    wheels = view.channel("weight_on_wheels") is not None
    where = air if wheels else air.both(_above_touchdown(view, air.rows))
    events = []
    for run in _measured(below.within(where)):
        sure = _surely_flying(air.rows, run) if wheels else run.duration_low_s > 0
        if sure or (wheels and not _at_touchdown(air.rows, run)):
            events.append(_beta_event(view, lever, upright, gate, run, sure))
    return events, [
        NotJudged(BETA, MAY_BE_LANDING, None, name, run.start_s, run.end_s, view.engine)
        for run in _measured(below.within(air))
        if not any(event.start_s <= run.end_s and event.end_s >= run.start_s for event in events)
    ]


def _measured(above: Above) -> list[Run]:
    return [run for run in runs(above, REJOIN_S) if run.measured and run.duration_s > 0]


def _above_touchdown(view: EngineView, airborne: FloatArray) -> Window:
    """Return where it flew more than 100 ft above the level of the touchdown that ends each flight, by its altitude."""
    palt = view.trace("palt")
    if palt is None:
        return Window.exactly(EMPTY)
    parts = []
    for row in airborne:
        touchdown = palt.at(min(float(row[1]), float(palt.time_s[-1])))
        if touchdown is not None:
            high = time_above(palt, touchdown + ABOVE_TOUCHDOWN_FT).within(row[None, :])
            parts.append((high.estimate, high.low, high.high))
    return (
        Window.between(*(union(np.concatenate(each)) for each in zip(*parts, strict=True)))
        if parts
        else Window.exactly(EMPTY)
    )


def _surely_flying(airborne: FloatArray, run: Run) -> bool:
    """Return whether wheels were off for 3 s before and 2 s during; before a touchdown whatever the samples hide."""
    row = airborne[(airborne[:, 0] <= run.start_s - BEFORE_S) & (airborne[:, 1] >= run.start_s + DURING_S)]
    lasted = run.duration_low_s if _at_touchdown(airborne, run) else run.end_s - run.start_s
    return bool(len(row)) and lasted >= DURING_S


def _at_touchdown(airborne: FloatArray, run: Run) -> bool:
    """Return whether the stretch ends where wheels came on."""
    return bool(np.any(np.abs(airborne[:, 1] - run.end_s) <= TOLERANCE_S))


def _beta_event(view: EngineView, lever: Trace, upright: Trace, gate: float, run: Run, sure: bool) -> Event:
    begin, end = run.start_s, run.end_s
    lowest = upright.peak(run.pieces)
    low = gate if lowest is None else -lowest[1]
    text = (
        f"The power lever was below the flight gate ({numbers.plain(gate)} %) in the air for "
        f"{numbers.duration_text(run.duration_s, run.duration_low_s, run.duration_high_s)} "
        f"(lowest {numbers.value_text(low, '%')})."
    )
    if not sure:
        text += " It was not 3 s after lift-off, or for less than 2 s."
    part = lever.between(begin - 3.0, end + 3.0)
    key = "flight.flight_gate_power_lever_pct"
    return Event(
        kind="beta_in_flight",
        event_class=event_spec("beta_in_flight").event_class,
        engine=view.engine,
        severity="limit" if sure else "possible",
        certain=sure,
        start_s=begin,
        end_s=end,
        channel=view.name_of("power_lever"),
        peak=low,
        peak_s=None if lowest is None else lowest[0],
        unit="%",
        level=gate,
        duration_s=run.duration_s,
        duration_low_s=run.duration_low_s,
        duration_high_s=run.duration_high_s,
        spans=tuple((float(a), float(b)) for a, b in run.pieces),
        message=words(text),
        evidence=Evidence(
            words("The power lever stays above the flight gate while the aircraft flies."),
            key,
            view.profile.lines.get(key),
            sentence(
                "in the air 3 s before and 2 s during (weight on wheels), else {height} above touchdown; breaks under "
                "{seconds} s do not end it and are not counted",
                height=Quantity(ABOVE_TOUCHDOWN_FT, "ft", is_difference=True, is_given=True),
                seconds=numbers.plain(REJOIN_S),
            ),
            view.name_of("power_lever"),
            tuple(lever.time_s[part].tolist()[:400]),
            tuple(lever.values[part].tolist()[:400]),
        ),
    )


def flight_measures(view: EngineView, found: Found, course: Course) -> dict[str, Measure]:
    """Return what is measured over the whole recording, by name.

    Notes
    -----
    Highest values are those while the engine ran outside the starts. Run-down is the time of Ng from 40 % to
    10 % after the last fuel cut, by straight lines between samples.
    """
    out: dict[str, Measure] = {}
    running = course.running
    for name, unit in HIGHEST:
        trace = view.trace(name)
        top = None if trace is None else trace.peak(running.rows)
        key = f"highest_{name}_running"
        if trace is None:
            out[key] = Measure(None, unit, why=f"{name} {view.missing_because(name)}")
        elif top is None:
            why = course.run_unseen or (RUN_SILENT if course.unknown.parts else NEVER_RAN)
            out[key] = Measure(None, unit, why=why)
        else:
            least, most = trace.peak(running.inner), trace.peak(running.outer)
            low = None if least is None else least[1] - trace.half_resolution
            out[key] = Measure(top[1], unit, low, top[2] if most is None else max(top[2], most[2]))
    out["running_time"] = _running_time(course)
    out["airborne_time"] = _airborne_time(course)
    out["run_down"] = _run_down(view, found)
    return out


def _running_time(course: Course) -> Measure:
    if course.run_unseen is not None:
        return Measure(None, "s", why=course.run_unseen)
    silent = union(np.concatenate((course.silent, course.unknown.rows)))
    return _length(course.running, silent, RUN_SILENT, course.unsure)


def _airborne_time(course: Course) -> Measure:
    if course.air is None:
        return Measure(None, "s", why="neither weight on wheels nor airspeed tells")
    return _length(course.air, course.unplaced, PLACE_UNSEEN)


def _length(window: Window, silent: FloatArray, why: str, unsure: FloatArray = EMPTY) -> Measure:
    """Return how long a window is, with the bounds of its edges.

    Of the `silent` stretches, (m, 2), nothing is counted, but it may have been all of them; of those in which that is
    `unsure` likewise. Without anything known it is not known, and `why`.
    """
    known = window.known(silent)
    most = total_s(union(np.concatenate((known.outer, silent, unsure))))
    if len(silent) and not len(known.rows):
        return Measure(None, "s", 0.0, most, why=why)
    return Measure(total_s(known.rows), "s", total_s(known.inner), most)


def _run_down(view: EngineView, found: Found) -> Measure:
    ng, fuel = view.trace("ng"), last_cut(found)
    if ng is None:
        return Measure(None, "s", why=f"ng {view.missing_because('ng')}")
    if fuel is None or fuel.off_s is None:
        return Measure(None, "s", why="no shutdown in the recording")
    falls = fall_times(view, ng, fuel)
    if isinstance(falls, str):
        return Measure(None, "s", why=falls)
    first, last = falls
    if any(r.end_s is None or r.end_s > first.time_s for r in found.runs if r.start_s > fuel.off_s):
        return Measure(None, "s", why="the starter turned the engine during the run-down")
    value, open_s = last.time_s - first.time_s, first.step_s + last.step_s
    return Measure(value, "s", max(value - open_s, 0.0), value + open_s)


def last_cut(found: Found) -> Fuel | None:
    """Return the fuel whose cut shut a burning engine down last; None without one."""
    cuts = [f for f in found.fuels if f.off_s is not None and contains(found.lit, f.off_s)]
    return max(cuts, key=lambda f: f.off_s or 0.0, default=None)


def fall_times(view: EngineView, ng: Trace, fuel: Fuel) -> tuple[Fall, Fall] | str:
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
