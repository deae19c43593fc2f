"""The propeller: how fast it answers the lever at the flight gate, and how long it turned where it must not."""

from __future__ import annotations

import math
from functools import partial
from statistics import median_low
from typing import NamedTuple

import numpy as np

from debrief.analysis.evidence.evidence_samples import Readings, around, beside
from debrief.analysis.evidence.measured import Measured
from debrief.analysis.flight.flight_measures import MOST_STRETCHES, NEVER_RAN, length_of
from debrief.analysis.flight.taxi import NO_GATE
from debrief.analysis.limits.applicability import PLACE_UNKNOWN, RUN_SILENT, Course
from debrief.analysis.model import Measure
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.exceedance import time_above
from debrief.analysis.signal.interval_sets import Window, contains, union
from debrief.analysis.signal.point_readings import missing
from debrief.analysis.signal.traces import DOUBT, Trace
from debrief.recording.model import FloatArray

FROM_BELOW_PCT = 1.0
"""The lever comes from so far below the gate at least."""
BEFORE_S = 10.0
MOVED_S = 5.0
"""So long after the gate the lever has come to where it stays."""
STAYS_PCT = 2.0
LONGEST_S = 40.0
LAST_S = 5.0
SETTLED = 0.95
LEAST_RPM = 20.0
QUIET, MEAN_S = 0.01, 1.0
"""Noise of this part of the change leaves the moment where it is; longer means would move it."""
NO_PASS = "no passing of the gate forward on the ground was followed by a settled Np"
NO_BANDS = "the profile gives no bands of Np to be avoided"
NP_SILENT = "Np was not recorded there"


class Answer(NamedTuple):
    """One passing of the gate: when, the lag with its bounds, [s], and Np when the change was all but over, [rpm]."""

    gate_s: float
    lag_s: float
    low_s: float
    high_s: float


def propeller_measures(view: EngineView, course: Course) -> dict[str, Measured]:
    """Return the lag of the propeller and its time in the bands to be avoided."""
    answers = _answers(view, course)
    return {
        "propeller_lag": _lag(view, answers, "largest"),
        "propeller_lag_median": _lag(view, answers, "median"),
        "time_np_avoided": _avoided(view, course),
    }


def _lag(view: EngineView, answers: list[Answer] | str, which: str) -> Measured:
    of = partial(
        Measured,
        formula=f"{which} of (Np at 95 % of its settled change − lever at the gate)",
        keys=("flight.flight_gate_power_lever_pct",),
    )
    if isinstance(answers, str):
        return of(missing("s", answers))
    if which == "largest":
        one = max(answers, key=lambda answer: answer.lag_s)
        value, low, high = one.lag_s, max(a.low_s for a in answers), max(a.high_s for a in answers)
    else:
        lag = median_low(answer.lag_s for answer in answers)
        one = next(answer for answer in answers if answer.lag_s == lag)
        value, low, high = one.lag_s, one.low_s, one.high_s
    return of(
        Measure(value, "s", min(low, value), max(high, value)),
        read=lambda: (
            beside(view, "power_lever", one.gate_s, "the gate")
            + beside(view, "np", one.gate_s + one.lag_s, "95 % of the change")
        ),
    )


def _answers(view: EngineView, course: Course) -> list[Answer] | str:
    """Return the lags of all passings of the gate forward on the ground, or why there are none."""
    gate, lever, speed = (
        view.profile.flight.flight_gate_power_lever_pct,
        view.trace("power_lever"),
        view.trace("np"),
    )
    if gate is None:
        return NO_GATE
    if lever is None or speed is None:
        name, words = ("power_lever", "power lever") if lever is None else ("np", "Np")
        return view.missing_because(name, words)
    if course.air is None:
        return PLACE_UNKNOWN
    v = lever.values
    out = []
    for k in np.flatnonzero((v[:-1] < gate) & (v[1:] >= gate) & ~lever.gap).tolist():
        before, after = float(lever.time_s[k]), float(lever.time_s[k + 1])
        came = v[lever.between(before - BEFORE_S, before)].min()
        lit = any(contains(cycle.rows, before) for cycle in course.cycles)
        if came > gate - FROM_BELOW_PCT - lever.doubt or contains(course.air.rows, after) or not lit:
            continue
        at = before + (gate - float(v[k])) / float(v[k + 1] - v[k]) * (after - before)
        found = _answer(lever, speed, (before, at, after), gate)
        if found is not None:
            out.append(found)
    return out or NO_PASS


def _answer(lever: Trace, speed: Trace, passed: tuple[float, float, float], gate: float) -> Answer | None:
    """Return how Np followed the lever through the gate; None where it did not settle."""
    before, at, after = passed
    rests = lever.at(at + MOVED_S)
    first = speed.at(at)
    if rests is None or first is None or rests < gate - lever.doubt:
        return None
    part = lever.between(at + MOVED_S, at + LONGEST_S)
    moved = np.flatnonzero(np.abs(lever.values[part] - rests) > STAYS_PCT + lever.doubt)
    end = float(lever.time_s[part.start + int(moved[0]) - 1]) if moved.size else at + LONGEST_S
    end = min(end, float(speed.time_s[-1]), float(lever.time_s[-1]))
    if end - at < 2.0 * LAST_S or len(speed.unseen(np.array([[at, end]]))):
        return None
    means = [speed.values[speed.between(end - (n + 1) * LAST_S, end - n * LAST_S)] for n in (0, 1)]
    if min(mean.size for mean in means) == 0:
        return None
    last, earlier = (float(mean.mean()) for mean in means)
    change = last - first
    if (
        abs(change) < max(LEAST_RPM, 6.0 * speed.doubt)
        or abs(last - earlier) > (1.0 - SETTLED) * abs(change) + 2.0 * speed.doubt
    ):
        return None
    looked = speed.between(at, end)
    t = np.concatenate(([at], speed.time_s[looked]))
    toward = np.sign(change) * (np.concatenate(([first], speed.values[looked])) - first)
    wanted = SETTLED * abs(change)
    toward, count = _smoothed(t, toward, speed.noise / (QUIET * abs(change)))
    value = _reached(t, toward, wanted)
    if value is None:
        return None
    # What noise and the recorder's step leave open of the level, and the lever of the moment.
    doubt = speed.half_resolution + DOUBT * speed.noise / math.sqrt(count)
    sooner, later = (_reached(t, toward, wanted + sign * doubt) for sign in (-1.0, 1.0))
    step = float(np.diff(t).max())
    low = (value if sooner is None else sooner) - step - after
    high = (end if later is None else later + step) - before
    return Answer(at, value - at, max(low, 0.0), high)


def _smoothed(t: FloatArray, values: FloatArray, noises: float) -> tuple[FloatArray, int]:
    """Return means of so many neighbours that noise of so many times too much is quiet enough, over a second at most; and how many.

    Noise comes to a level sooner than what it lies on.
    """
    step = max(float(np.median(np.diff(t))), 1e-9)
    half = min(int(0.5 * noises * noises), int(0.5 * MEAN_S / step))
    if half < 1:
        return values, 1
    sums = np.concatenate(([0.0], np.cumsum(values)))
    k = np.arange(values.size)
    # At the ends as many on each side as there are on one.
    reach = np.minimum(np.minimum(k, values.size - 1 - k), half)
    return np.asarray((sums[k + reach + 1] - sums[k - reach]) / (2 * reach + 1)), 2 * half + 1


def _reached(t: FloatArray, values: FloatArray, level: float) -> float | None:
    """Return when values first come to a level, on the line between two samples."""
    k = int((values >= level).argmax())
    if values[k] < level:
        return None
    if k == 0:
        return float(t[0])
    part = (level - values[k - 1]) / (values[k] - values[k - 1])
    return float(t[k - 1] + part * (t[k] - t[k - 1]))


def _avoided(view: EngineView, course: Course) -> Measured:
    """Return how long Np was in the profile's bands while the engine ran outside the starts."""
    bands, speed = view.profile.flight.avoided_np_rpm, view.trace("np")
    of = partial(
        Measured,
        formula="summed time above the lower and not above the upper edge of a band",
        keys=("flight.avoided_np_rpm",),
    )
    if bands is None:
        return of(missing("s", NO_BANDS))
    if speed is None:
        return of(missing("s", view.missing_because("np", "Np")))
    running = course.running
    if course.run_unseen is not None or not len(running.outer):
        why = course.run_unseen or (RUN_SILENT if course.unknown.parts else NEVER_RAN)
        return of(missing("s", why))
    parts = []
    for low, high in bands:
        above, over = time_above(speed, low), time_above(speed, high)
        parts.append(
            Window.between(above.estimate, above.low, above.high)
            .minus(Window.between(over.estimate, over.low, over.high))
            .both(running)
        )
    found = Window.between(
        *(union(np.concatenate([getattr(p, kind) for p in parts])) for kind in ("rows", "inner", "outer"))
    )
    silent = speed.unseen(running.rows)
    return of(length_of(found, silent, NP_SILENT), read=partial(_in_bands, view, found))


def _in_bands(view: EngineView, found: Window) -> Readings:
    """Return the samples in the middle of each stretch in a band."""
    out: Readings = ()
    for begin, end in found.rows[:MOST_STRETCHES].tolist():
        out += around(view, "np", begin, end, 0.5 * (begin + end), "in a band")
    return out
