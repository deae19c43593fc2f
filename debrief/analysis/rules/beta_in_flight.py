"""The power lever below the flight gate in the air."""

from __future__ import annotations

import numpy as np

from debrief.analysis.model import Event, Evidence, NotJudged
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import TOLERANCE_S, Above, Run, runs, time_above
from debrief.analysis.signal.interval_sets import EMPTY, Window, union
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import FloatArray
from debrief.words import numbers
from debrief.words.events import event_spec
from debrief.words.sentence import Quantity, sentence, words

BEFORE_S = 3.0
REJOIN_S = 2.0
DURING_S = 2.0
ABOVE_TOUCHDOWN_FT = 100.0
BETA = "beta in flight"
MAY_BE_LANDING = (
    "it may be the landing: wheels came on with it, or nothing shows that it was 100 ft above touchdown"
)


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
        why = view.missing_because("power_lever", "power lever")
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
    height = view.height
    if height is None:
        return Window.exactly(EMPTY)
    parts = []
    for row in airborne:
        touchdown = height.at(min(float(row[1]), float(height.time_s[-1])))
        if touchdown is not None:
            high = time_above(height, touchdown + ABOVE_TOUCHDOWN_FT).within(row[None, :])
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
        f"{numbers.brief_duration(run.duration_s, run.duration_low_s, run.duration_high_s)}; lowest {numbers.value_text(low, '%')}."
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
