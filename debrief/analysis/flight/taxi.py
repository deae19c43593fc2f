"""Taxi: how long and how fast it rolled, beta and reverse, and how strongly idle pulls it along."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from debrief.analysis.evidence.evidence_samples import Readings, around, beside, stretch
from debrief.analysis.evidence.measured import Measured
from debrief.analysis.flight.flight_measures import MOST_STRETCHES, length_of
from debrief.analysis.limits.applicability import PLACE_UNKNOWN, Course
from debrief.analysis.model import Measure, Phase
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
from debrief.analysis.signal.point_readings import missing, slope
from debrief.analysis.signal.traces import DOUBT, Trace
from debrief.recording.model import FloatArray

MOVES_KT = 2.0
"""Slower than this the aircraft stands."""
BLIND_KT = 15.0
"""An airspeed that shows nothing between standing and this does not show a taxi."""
ROLL_KT, ROLL_S = 2.0, 5.0
"""A roll is over where the speed changes by less than so much in so long."""
ABOVE_GATE_PCT = 3.0
LEAST_RISE_S = 5.0
LEAST_RISE_KT = 0.5
NOISES = 5.0
STEP_S = 1.0
JOINS_S = 0.01

NO_TAXI = "it did not taxi in this recording"
NO_GATE = "the profile gives no power lever at the flight gate"
NO_REVERSE = "the profile gives no power lever at the reverse gate"
NO_SPEED = "neither ground speed nor airspeed was recorded"
BLIND = "no ground speed was recorded, and the airspeed shows no taxi"
SPEED_SILENT = "the speed was not recorded there"
LEVER_SILENT = "the power lever was not recorded there"
NO_RISE = "the speed did not rise for 5 s with the power lever at the flight gate"


@dataclass(frozen=True, eq=False)
class Taxi:
    """Where the aircraft was on the ground between the starts, take-offs, landings and shutdowns, and where it rolled.

    Attributes
    ----------
    ground : (m, 2) float array
        Without what is left of the roll after a landing, and of that before a take-off, [s].
    rolling : Window or None
        Where it moved; None where no speed tells, and `why`.
    speed : str
        The channel of the speed: ``gs``, else ``ias``.
    """

    ground: FloatArray
    rolling: Window | None
    speed: str
    why: str = ""

    @property
    def inferred(self) -> bool:
        """Whether airspeed stands for the speed over the ground."""
        return self.speed == "ias"


def taxi_measures(view: EngineView, course: Course) -> dict[str, Measured]:
    """Return what is measured of the taxi. Braking is not inferred."""
    taxi = None if course.air is None else find_taxi(view, course.phases)
    return {
        "taxi_time": _taxi_time(view, taxi),
        "taxi_highest_speed": _highest_speed(view, taxi),
        "taxi_beta_time": _lever_time(view, taxi, is_reverse=False),
        "taxi_reverse_time": _lever_time(view, taxi, is_reverse=True),
        "idle_acceleration": _idle_acceleration(view, taxi, course.phases),
    }


def find_taxi(view: EngineView, phases: tuple[Phase, ...]) -> Taxi:
    """Return where it was on the ground and where it rolled, by the phases."""
    name = "gs" if view.trace("gs") is not None else "ias"
    speed = view.trace(name)
    ground = _without_rolls(speed, phases)
    if speed is None:
        return Taxi(ground, None, name, NO_SPEED)
    parts = [time_above(speed.clip(a, b), MOVES_KT).within(np.array([[a, b]])) for a, b in ground.tolist()]
    estimate, low, high = (
        union(np.concatenate(rows)) if rows else EMPTY
        for rows in ([getattr(part, kind) for part in parts] for kind in ("estimate", "low", "high"))
    )
    if name == "gs":
        return Taxi(ground, Window.between(estimate, low, high), name)
    if len(ground) and _is_blind(speed, ground):
        return Taxi(ground, None, name, BLIND)
    # Wind makes an airspeed, and a slow taxi none.
    return Taxi(ground, Window.between(estimate, EMPTY, ground), name)


def _is_blind(ias: Trace, ground: FloatArray) -> bool:
    seen = np.concatenate([ias.values[ias.between(*row)] for row in ground.tolist()])
    return not bool(((seen > MOVES_KT) & (seen < BLIND_KT)).any())


def _without_rolls(speed: Trace | None, phases: tuple[Phase, ...]) -> FloatArray:
    """Return the phases on the ground without what of the rolls before and after a flight lies in them."""
    rows = []
    for n, phase in enumerate(phases):
        if phase.name not in ("ground", "taxi"):
            continue
        begin, end = phase.start_s, phase.end_s
        landed = n > 0 and phases[n - 1].name == "landing" and begin - phases[n - 1].end_s < JOINS_S
        takes_off = (
            n + 1 < len(phases) and phases[n + 1].name == "takeoff" and phases[n + 1].start_s - end < JOINS_S
        )
        if speed is not None and (landed or takes_off):
            part = speed.between(begin, end)
            t, v = speed.time_s[part], speed.values[part]
            least = ROLL_KT + speed.doubt
            if landed and t.size:
                begin = float(t[int((v - np.interp(t + ROLL_S, t, v) < least).argmax())])
            if takes_off and t.size:
                slow = v - np.interp(t - ROLL_S, t, v) < least
                end = max(float(t[t.size - 1 - int(slow[::-1].argmax())]), begin)
        rows.append((begin, end))
    return from_pairs(rows)


def _taxi_time(view: EngineView, taxi: Taxi | None) -> Measured:
    of = partial(Measured, formula="sum of (end − beginning) of the stretches in which it rolled")
    if taxi is None:
        return of(missing("s", PLACE_UNKNOWN))
    if taxi.rolling is None:
        return of(
            Measure(None, "s", 0.0, total_s(taxi.ground), why=taxi.why), read=partial(_ends, view, taxi)
        )
    return of(_length(view, taxi, taxi.rolling, EMPTY, SPEED_SILENT), read=partial(_ends, view, taxi))


def _length(view: EngineView, taxi: Taxi, window: Window, silent: FloatArray, why: str) -> Measure:
    """Return how long a window is, of which nothing is known where a channel that tells it is silent."""
    speed = view.trace(taxi.speed)
    unseen = EMPTY if speed is None else speed.unseen(taxi.ground)
    found = length_of(window, union(np.concatenate((silent, unseen))), why)
    return replace(found, inferred=taxi.inferred) if found.value else found


def _ends(view: EngineView, taxi: Taxi) -> Readings:
    """Return the samples of the speed at both ends of each stretch."""
    out: Readings = ()
    rows = EMPTY if taxi.rolling is None else taxi.rolling.rows
    for begin, end in rows[:MOST_STRETCHES].tolist():
        out += beside(view, taxi.speed, begin, "the beginning") + beside(view, taxi.speed, end, "the end")
    return out


def _highest_speed(view: EngineView, taxi: Taxi | None) -> Measured:
    of = partial(Measured, formula="highest sample")
    if taxi is None or taxi.rolling is None:
        return of(missing("kt", PLACE_UNKNOWN if taxi is None else taxi.why))
    speed = view.trace(taxi.speed)
    top = None if speed is None else speed.peak(taxi.rolling.rows)
    if top is None:
        return of(missing("kt", NO_TAXI))
    row = next(r for r in taxi.rolling.rows.tolist() if r[0] <= top.time_s <= r[1])
    return of(
        Measure(top.value, "kt", top.low, top.high, taxi.inferred),
        read=partial(around, view, taxi.speed, row[0], row[1], top.time_s, "highest with its neighbours"),
    )


# --- beta and reverse ---------------------------------------------------------------------------------


def _lever_time(view: EngineView, taxi: Taxi | None, *, is_reverse: bool) -> Measured:
    """Return how long it rolled with the power lever between the gates, or below the reverse gate."""
    flight, reverse = (
        view.profile.flight.flight_gate_power_lever_pct,
        view.profile.flight.reverse_gate_power_lever_pct,
    )
    of = partial(
        Measured,
        formula="sum of the time below the "
        + ("reverse gate" if is_reverse else "flight gate and not below the reverse gate")
        + " while it rolled",
        keys=(
            "flight.reverse_gate_power_lever_pct",
            *(() if is_reverse else ("flight.flight_gate_power_lever_pct",)),
        ),
    )
    lever = view.trace("power_lever")
    if (reverse if is_reverse else flight) is None:
        return of(missing("s", NO_REVERSE if is_reverse else NO_GATE))
    if lever is None:
        return of(missing("s", view.missing_because("power_lever", "power lever")))
    if taxi is None:
        return of(missing("s", PLACE_UNKNOWN))
    parts = [lever.clip(a, b) for a, b in taxi.ground.tolist()]
    found = _below(parts, reverse if is_reverse else flight, taxi.ground)
    if not is_reverse and reverse is not None:
        found = found.minus(_below(parts, reverse, taxi.ground))
    silent = lever.unseen(taxi.ground)
    if taxi.rolling is None:
        most = total_s(union(np.concatenate((found.outer, silent))))
        return of(Measure(None if most else 0.0, "s", 0.0, most, why=taxi.why if most else None))
    found = found.both(taxi.rolling)
    return of(_length(view, taxi, found, silent, LEVER_SILENT), read=partial(_lever_ends, view, found.rows))


def _below(parts: list[Trace], level: float | None, ground: FloatArray) -> Window:
    """Return where the lever was below a level on the ground; one that rests on it in noise is not."""
    found = [
        time_above(part.negated(), -((level or 0.0) - _leeway(part))).within(row[None, :])
        for part, row in zip(parts, ground, strict=True)
    ]
    if not found:
        return Window.exactly(EMPTY)
    estimate, low, high = (
        union(np.concatenate([getattr(one, kind) for one in found])) for kind in ("estimate", "low", "high")
    )
    # The gate itself is passed within a sample.
    step = max(float(np.median(np.diff(part.time_s))) if part.time_s.size > 1 else 0.0 for part in parts)
    return Window.between(estimate, low, intersect(union(high + np.array([-step, step])), ground))


def _lever_ends(view: EngineView, rows: FloatArray) -> Readings:
    out: Readings = ()
    for begin, end in rows[:MOST_STRETCHES].tolist():
        out += beside(view, "power_lever", begin, "the beginning") + beside(
            view, "power_lever", end, "the end"
        )
    return out


# --- thrust at idle -----------------------------------------------------------------------------------


def _idle_acceleration(view: EngineView, taxi: Taxi | None, phases: tuple[Phase, ...]) -> Measured:
    """Return the slope of the speed over the longest stretch in which it rises with the lever at the flight gate."""
    gate = view.profile.flight.flight_gate_power_lever_pct
    of = partial(
        Measured,
        formula="least-squares slope of all samples of the longest stretch",
        keys=("flight.flight_gate_power_lever_pct",),
    )
    lever = view.trace("power_lever")
    if gate is None:
        return of(missing("kt/s", NO_GATE))
    if lever is None:
        return of(missing("kt/s", view.missing_because("power_lever", "power lever")))
    if taxi is None or taxi.rolling is None:
        return of(missing("kt/s", PLACE_UNKNOWN if taxi is None else taxi.why))
    speed = view.trace(taxi.speed)
    assert speed is not None  # it tells where it rolled
    ground = from_pairs((p.start_s, p.end_s) for p in phases if p.name in ("ground", "taxi"))
    at_gate = intersect(_between(lever, gate, gate + ABOVE_GATE_PCT), ground)
    at_gate = subtract(at_gate, speed.unseen(at_gate))
    rises = [row for begin, end in at_gate.tolist() for row in _rises(speed, begin, end)]
    longest = max(rises, key=lambda row: row[1] - row[0], default=None)
    fitted = None if longest is None else slope(speed, *longest)
    if longest is None or fitted is None:
        return of(missing("kt/s", NO_RISE))
    rate, error = fitted
    return of(
        Measure(rate, "kt/s", rate - DOUBT * error, rate + DOUBT * error, taxi.inferred),
        read=partial(
            stretch,
            view,
            taxi.speed,
            longest[0],
            longest[1],
            "while the speed rose with the lever at the gate",
        ),
    )


def _between(trace: Trace, low: float, high: float) -> FloatArray:
    """Return where neighbouring samples lie between two levels, as far as the recorder tells, (m, 2)."""
    inside = (trace.values >= low - _leeway(trace)) & (trace.values <= high + _leeway(trace))
    edges = np.flatnonzero(np.diff(np.concatenate(([False], inside, [False])).astype(np.int8)))
    first, last = edges[::2], edges[1::2] - 1
    rows = np.column_stack((trace.time_s[first], trace.time_s[last]))
    rows = rows[rows[:, 1] - rows[:, 0] >= LEAST_RISE_S]
    return subtract(rows, trace.unseen(rows)) if len(rows) else rows


def _leeway(lever: Trace) -> float:
    """Return how far from a gate on which the lever rests its samples hardly ever lie, [%]."""
    return lever.half_resolution + NOISES * lever.noise


def _rises(speed: Trace, begin: float, end: float) -> Iterator[tuple[float, float]]:
    """Yield the stretches of at least 5 s in which the speed rises, without where it stands at either end."""
    part = speed.between(begin, end)
    t, v = speed.time_s[part], speed.values[part]
    if t.size < 3:
        return
    every = max(1, int(STEP_S / max(float(np.median(np.diff(t))), 1e-9)))
    least = max(LEAST_RISE_KT, 4.0 * speed.doubt)
    for low, high in _climbs(v[::every].tolist(), least):
        a, b = low * every, high * every
        # From where it leaves the lowest value for good to where it first is about as fast as at the end.
        leaves = a + int(np.flatnonzero(v[a : b + 1] <= v[a] + least)[-1])
        comes = a + int(np.flatnonzero(v[a : b + 1] >= v[b] - least)[0])
        if comes > leaves and t[comes] - t[leaves] >= LEAST_RISE_S:
            yield float(t[leaves]), float(t[comes])


def _climbs(values: list[float], least: float) -> Iterator[tuple[int, int]]:
    """Yield from each lowest value to the highest after it, before it falls back by more than `least`."""
    low = high = 0
    for k, value in enumerate(values):
        if value > values[high]:
            high = k
        elif value < values[high] - least or value <= values[low]:
            if values[high] - values[low] > least:
                yield low, high
            low = high = k
    if values and values[high] - values[low] > least:
        yield low, high
