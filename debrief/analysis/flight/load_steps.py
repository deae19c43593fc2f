"""What a load costs: by how much ITT, Ng, torque and volts changed where bleed, separator or generator were switched."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from debrief.analysis.flight.steady_windows import (
    HEIGHT_FT,
    IAS_KT,
    LEVER_PCT,
    TORQUE_PCT,
    interval_of,
    steadied_by,
)
from debrief.analysis.flight_model import Change, LoadStep
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import intersect, total_s
from debrief.analysis.signal.student import t_quantile, welch
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import FloatArray

BEFORE_S = (-11.0, -1.0)
AFTER_S = (5.0, 15.0)
WIDE_S = (-61.0, 65.0)
"""So far around the change it is looked at how the noise lasts and whether the values drift."""
LEAST_MEANS = 4
PART_S = 5.0
SHARE = 0.975
MOST = 500
"""Of each kind so many are listed: a contact that chatters makes thousands."""
CHANGED = ("itt", "ng", "torque", "bus_volts")
SWITCHES = {"bleed": "bleed", "separator": "separator", "generator_on": "generator_on"}
LEAST_JUMP_A = 10.0
JUMP_NOISES = 6.0
JUMP_CELL_S, JUMP_CELLS = 1.0, 4
"""A jump lies between the means of so many seconds before and after it."""
MOST_JUMP_CELLS = 400_000
WITH_SWITCH_S = 10.0
"""A jump of the generator's load so near to its switch is that of the switch."""
NG_PCT_PER_MIN = 3.0
MOST_LASTING = 0.9
MANY = 60

STARTING = "the engine was not running outside of a start"
EDGE = "the recording does not go from 11 s before to 15 s after it"
GAP = "there is a gap beside it"
OTHER = "another load changed beside it"


class _Step(NamedTuple):
    time_s: float
    kind: str
    on: bool | float


def load_steps(view: EngineView, running: FloatArray) -> list[LoadStep]:
    """Return each change of a load, in order of time, with what it changed or why that cannot be told.

    Parameters
    ----------
    running : (m, 2) float array
        Where the engine ran outside of starts, [s].

    Notes
    -----
    Bleed, separator and generator as switched; a jump of the generator's amperes by 10 A and six deviations within some seconds. The
    change of a value is its mean over the 10 s that begin 5 s after less that over the 10 s that end 1 s before, with
    Welch's 95 % interval on means of 1 s. How much values of neighbouring seconds hang together is taken from the
    minute on both sides and widens it, and so does a drift that is seen there. Not steady, so without numbers: the lever, without one the
    torque, height or airspeed changed by more than in steady running, or Ng was still moving. The first 500 of each kind are listed.
    """
    steps = sorted([*_switched(view), *_jumps(view)])
    return [
        _told(
            view, step, steps[max(k - 1, 0) : k + 2], running
        )  # the nearest on each side are what may stand beside it
        for k, step in enumerate(steps)
    ]


def _switched(view: EngineView) -> list[_Step]:
    out = []
    for kind, name in SWITCHES.items():
        channel = view.channel(name)
        if channel is None:
            continue
        moved = np.flatnonzero(np.diff(channel.values))[:MOST] + 1
        out += [_Step(float(channel.time_s[k]), kind, bool(channel.values[k] > 0.5)) for k in moved.tolist()]
    return out


def _jumps(view: EngineView) -> list[_Step]:
    """Return the jumps of the generator's load that are no switching of it."""
    amps = view.trace("generator_amps")
    if amps is None or amps.time_s.size < 4:
        return []
    cells = view.cells(max(JUMP_CELL_S, 2.0 * interval_of(amps), view.end_s / MOST_JUMP_CELLS))
    means, rows = cells.means(amps)
    known = np.flatnonzero(rows)
    if known.size <= 2 * JUMP_CELLS:
        return []
    side = np.convolve(means[known], np.full(JUMP_CELLS, 1.0 / JUMP_CELLS), "valid")
    size = np.abs(side[JUMP_CELLS:] - side[:-JUMP_CELLS])  # of the cells from `known[k + JUMP_CELLS]` on
    few = JUMP_CELLS * max(int(np.median(rows[known])), 1)
    least = max(LEAST_JUMP_A, JUMP_NOISES * amps.noise_seen.of_mean(few) * math.sqrt(2.0))
    switch = view.channel("generator_on")
    off = np.empty(0) if switch is None else switch.time_s[1:][np.diff(switch.values) != 0]
    out = []
    high = np.flatnonzero(size > least)
    for part in np.split(high, np.flatnonzero(np.diff(high) > 1) + 1)[:MOST] if high.size else []:
        first = int(known[part[size[part].argmax()] + JUMP_CELLS])
        at = _sharpest(amps, (first - 1.5) * cells.step_s, (first + 1.5) * cells.step_s)
        if off.size and float(np.abs(off - at).min()) <= WITH_SWITCH_S:
            continue
        before, after = (mean_of(amps, at, reach) for reach in (BEFORE_S, AFTER_S))
        if before is None or after is None:
            continue
        jump = after - before
        if abs(jump) >= LEAST_JUMP_A:  # else a peak that was gone again
            out.append(_Step(at, "generator_load", jump))
    return out


def _sharpest(trace: Trace, begin: float, end: float) -> float:
    """Return the time of the sample that differs the most from the one before it, [s]."""
    part = trace.between(begin, end)
    if part.stop - part.start < 2:
        return 0.5 * (begin + end)
    k = part.start + 1 + int(np.abs(np.diff(trace.values[part])).argmax())
    return float(trace.time_s[k])


def mean_of(trace: Trace, time_s: float, reach: tuple[float, float]) -> float | None:
    """Return the mean of the samples in a stretch that lies so far from an instant, [s]; None without any."""
    a, b = trace.time_s.searchsorted((time_s + reach[0], time_s + reach[1]))
    return float(trace.values[a:b].mean()) if b > a else None


def _told(view: EngineView, step: _Step, steps: Sequence[_Step], running: FloatArray) -> LoadStep:
    why = _unsteady(view, step, steps, running)
    if why is not None:
        return LoadStep(view.engine, step.kind, step.time_s, step.on, why=why)
    begin, end = _wide(view, step, steps, running)
    changes = {}
    for name in CHANGED:
        trace = view.trace(name)
        found = None if trace is None else change_at(trace, step.time_s, begin, end)
        if found is not None:
            changes[name] = found
    if not changes:
        why = f"none of {view.names.itt}, Ng, torque and bus voltage was recorded on both sides of it"
    return LoadStep(view.engine, step.kind, step.time_s, step.on, changes, why)


def _unsteady(view: EngineView, step: _Step, steps: Sequence[_Step], running: FloatArray) -> str | None:
    begin, end = step.time_s + BEFORE_S[0], step.time_s + AFTER_S[1]
    here = np.array([[begin, end]])
    if begin < 0.0 or end > view.end_s:
        return EDGE
    for name in CHANGED[:3]:
        trace = view.trace(name)
        if trace is not None and len(trace.unseen(here)):
            return GAP
    if total_s(intersect(running, here)) < end - begin - 1e-6:
        return STARTING
    if any(other is not step and begin <= other.time_s <= end for other in steps):
        return OTHER
    lever = view.trace("power_lever")
    asked = [
        (view.height, HEIGHT_FT, "the height changed by more than 100 ft"),
        (view.trace("ias"), IAS_KT, "the airspeed changed by more than 5 kt"),
        (lever, LEVER_PCT, "the power lever was moved"),
    ]
    if lever is None:
        asked.append(
            (
                view.trace("torque"),
                TORQUE_PCT,
                "torque changed by more than 2 %, and no power lever was recorded",
            )
        )
    for trace, within, why in asked:
        if trace is not None and _moved(trace, step.time_s, within):
            return why
    ng = view.trace("ng")
    if ng is not None and _moved(ng, step.time_s, NG_PCT_PER_MIN / 6.0, ((-11.0, -6.0), (-6.0, -1.0))):
        return "Ng was still moving before it"
    return None


def _moved(
    trace: Trace,
    time_s: float,
    within: float,
    parts: tuple[tuple[float, float], ...] = ((-11.0, -6.0), (-6.0, -1.0), (5.0, 10.0), (10.0, 15.0)),
) -> bool:
    """Return whether means over 5 s differ by more than so much and their noise."""
    means = [x for part in parts if (x := mean_of(trace, time_s, part)) is not None]
    if len(means) < 2:
        return False
    a, b = trace.time_s.searchsorted((time_s + parts[0][0], time_s + parts[-1][1]))
    rows = max(int((b - a) * 5.0 / (parts[-1][1] - parts[0][0])), 1)
    return max(means) - min(means) > within + 4.0 * trace.noise_seen.of_mean(rows) + trace.half_resolution


def _wide(view: EngineView, step: _Step, steps: Sequence[_Step], running: FloatArray) -> tuple[float, float]:
    """Return how far around the change nothing else changed, at most a minute: steady running, too."""
    begin, end = step.time_s + WIDE_S[0], step.time_s + WIDE_S[1]
    row = next((r for r in running.tolist() if r[0] <= step.time_s <= r[1]), [0.0, view.end_s])
    begin, end = max(begin, row[0]), min(end, row[1])
    for other in steps:
        if other.time_s < step.time_s:
            begin = max(begin, other.time_s + AFTER_S[0])
        elif other.time_s > step.time_s:
            end = min(end, other.time_s - 1.0)
    for trace, within in steadied_by(view):
        before = _still(trace, step.time_s, within, -1.0, begin - step.time_s)
        after = _still(trace, step.time_s, within, AFTER_S[0], end - step.time_s)
        begin, end = max(begin, step.time_s + before), min(end, step.time_s + after)
    return min(begin, step.time_s + BEFORE_S[0]), max(end, step.time_s + AFTER_S[1])


def _still(trace: Trace, time_s: float, within: float, near: float, far: float) -> float:
    """Return how far from `near` to `far` of an instant means over 5 s stay within so much, as its distance, [s]."""
    outward = far > near
    edges = np.arange(near, far + 1e-6, PART_S) if outward else np.arange(near, far - 1e-6, -PART_S)
    if edges.size < 4:
        return far
    index = trace.time_s.searchsorted(np.sort(edges) + time_s)
    rows = np.diff(index)
    if not rows.all():
        return far  # too few samples to tell
    means = np.add.reduceat(trace.values[: index[-1]], index[:-1]) / rows
    means = means if outward else means[::-1]
    apart = np.maximum.accumulate(means) - np.minimum.accumulate(means)
    allowed = within + 4.0 * trace.noise_seen.of_mean(int(np.median(rows))) + trace.half_resolution
    moved = np.flatnonzero(apart > allowed)
    return float(edges[int(moved[0])]) if moved.size else far


def change_at(trace: Trace, time_s: float, begin: float, end: float) -> Change | None:
    """Return by how much the values changed at an instant, with its 95 % interval; None with too few samples.

    Parameters
    ----------
    begin, end : float
        Between which nothing else changed, [s].
    """
    before, after = (second_means(trace, time_s + a, time_s + b) for a, b in (BEFORE_S, AFTER_S))
    if min(before[1].size, after[1].size) < LEAST_MEANS:
        return None
    wide = [second_means(trace, a, b) for a, b in ((begin, time_s + BEFORE_S[1]), (time_s + AFTER_S[0], end))]
    course = _course(wide)
    value, error, freedom = welch(before[1], after[1])
    half = max(
        error * t_quantile(SHARE, max(freedom, 1.0)),
        course.deviation
        * _of_means(course.lasting, before[1].size, after[1].size)
        * t_quantile(SHARE, course.freedom),
    )
    if max(np.ptp(before[1]), np.ptp(after[1])) < trace.half_resolution:
        half = max(half, 2.0 * trace.half_resolution)  # nothing moves it between two steps of the recorder
    # A drift moves the means, too: the interval holds the change with it and without it.
    apart_s = float(after[0].mean() - before[0].mean())
    moved = course.drift * apart_s
    beside = math.hypot(half, course.drift_unsure * apart_s)
    return Change(
        value,
        min(value - half, value - moved - beside),
        max(value + half, value - moved + beside),
    )


def second_means(trace: Trace, begin: float, end: float) -> tuple[FloatArray, FloatArray]:
    """Return the times and means of each second of a stretch in which there are samples."""
    edges = np.arange(begin, end + 0.5, 1.0)
    index = trace.time_s.searchsorted(edges - 1e-9)
    rows = np.diff(index)
    some = np.flatnonzero(rows)
    if not some.size:
        return edges[:0], edges[:0]
    last = index[-1]
    first = index[:-1][some]
    return tuple(np.add.reduceat(each[:last], first) / rows[some] for each in (trace.time_s, trace.values))  # type: ignore[return-value]


class _Course(NamedTuple):
    """What the minute on both sides shows of the means of one second.

    Attributes
    ----------
    drift, drift_unsure : float
        Common to both sides, and half its 95 % interval, [unit/s].
    deviation : float
        Of one mean beside the drift, [unit].
    lasting : float
        Correlation of one mean with the next.
    freedom : float
        How many independent means there are, less what was fitted.
    """

    drift: float
    drift_unsure: float
    deviation: float
    lasting: float
    freedom: float


def _course(wide: Sequence[tuple[FloatArray, FloatArray]]) -> _Course:
    sides = [(t - t.mean(), v - v.mean()) for t, v in wide if t.size >= LEAST_MEANS]
    spread = sum(float(t @ t) for t, _ in sides)
    drift = sum(float(t @ v) for t, v in sides) / spread
    left = [v - drift * t for t, v in sides]
    count, fitted = sum(x.size for x in left), len(left) + 1
    square = sum(float(x @ x) for x in left)
    if square <= 0.0:
        return _Course(drift, 0.0, 0.0, 0.0, 1.0)
    joined = sum(float(x[1:] @ x[:-1]) for x in left) / square
    # The correlation of values about their own mean and line is too low by some (1 + 3 r) / n for each that was fitted.
    lasting = min(max(joined + fitted * (1.0 + 3.0 * max(joined, 0.0)) / count, 0.0), MOST_LASTING)
    if joined < 2.0 / math.sqrt(count) and count >= MANY:
        lasting = max(joined, 0.0)  # so many independent values look as joined as that
    wider = (1.0 + lasting) / (1.0 - lasting)
    freedom = max(count / wider - fitted, 1.0)
    deviation = math.sqrt(square / (wider * freedom))
    unsure = math.sqrt(wider / spread) * deviation * t_quantile(SHARE, freedom)
    return _Course(drift, unsure, deviation, lasting, freedom)


def _of_means(lasting: float, *means: int) -> float:
    """Return the deviation of the difference of two means of so many values that hang together, in theirs."""
    square = 0.0
    for n in means:
        lags = np.arange(1, n)
        square += (1.0 + 2.0 * float(((1.0 - lags / n) * lasting**lags).sum())) / n
    return math.sqrt(square)
