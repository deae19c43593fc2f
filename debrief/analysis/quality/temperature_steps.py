"""A step of ITT that nothing else shares: the indication changed, not the engine."""

from __future__ import annotations

import numpy as np

from debrief.analysis.quality.doubt import Doubt
from debrief.analysis.quality.jumps_and_stands import is_alive
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import contains, intersect, subtract
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import FloatArray
from debrief.words.numbers import clock_text
from debrief.words.sentence import Quantity, sentence

STEP_C = 45.0
"""Bleed air and generators move ITT by less, and not within a sample."""

STEP_WITHIN_S = 1.05
AROUND_S = 4.0
LEAST_SAMPLES = 3
NOISES = 8.0
SHARE = 0.75
"""So much of the change between the stretches before and after lies between two neighbouring samples."""

LEVEL = 0.35
"""How far readings of one stretch may lie apart, as a part of the step: the stretches are level, it is the step that moves."""

STILL = {"ng": 1.0, "fuel_flow": 0.04, "torque": 3.0}
"""How far the others move at most, [%], of fuel flow as a part of its value."""

BACK = 0.5
MOST = 500


def temperature_steps(
    view: EngineView, burning: FloatArray, starting: FloatArray, known: FloatArray
) -> list[Doubt]:
    """Return the stretches behind a step of ITT that fuel flow, torque and Ng do not share.

    Parameters
    ----------
    burning, starting : (m, 2), (n, 2) float array
        Where fuel burned, and where it was started, [s].
    known : (k, 2) float array
        Where ITT is in doubt already, [s].

    Notes
    -----
    Rule: three quarters and more of the difference between the medians of 4 s before and 4 s after lies between two
    neighbouring samples; it is 45 °C or more and eight deviations of the noise; ITT is level on both sides of it; and over
    these 8 s Ng moves by no more than 1 %, torque by 3 %, fuel flow by 4 % of its value, as far as they were recorded, Ng and
    one of the others at least (Ng alone for 60 °C). Nobody knows which side is right: in doubt is what follows, to a step
    back by at least half, or to the end of the run. The numbers are common practice, no source.
    """
    itt = view.trace("itt")
    if itt is None or itt.time_s.size < 4 * LEAST_SAMPLES or not len(burning):
        return []
    t, v = itt.time_s, itt.values
    least = max(STEP_C, NOISES * itt.noise, 4.0 * 2.0 * itt.half_resolution)
    found = np.flatnonzero((np.abs(np.diff(v)) >= SHARE * least) & (np.diff(t) <= STEP_WITHIN_S))[:MOST]
    running = subtract(burning, starting)
    steps: list[tuple[int, float]] = []
    for k in found.tolist():
        at = float(t[k])
        if contains(known, at) or contains(known, float(t[k + 1])):
            continue
        part = np.array([[at - AROUND_S, float(t[k + 1]) + AROUND_S]])
        if not np.array_equal(intersect(running, part), part):
            continue
        size = _step_at(itt, k, least)
        if size is not None and _nothing_else_moved(view, float(part[0, 0]), float(part[0, 1]), abs(size)):
            steps.append((k, size))
    return _stretches(view, itt, steps, burning)


def _step_at(itt: Trace, k: int, least: float) -> float | None:
    """Return the size of the step behind sample `k`, None where it is none."""
    t, v = itt.time_s, itt.values
    before = v[itt.between(float(t[k]) - AROUND_S, float(t[k]))]
    after = v[itt.between(float(t[k + 1]), float(t[k + 1]) + AROUND_S)]
    if min(before.size, after.size) < LEAST_SAMPLES:
        return None
    size = float(np.median(after) - np.median(before))
    jump = float(v[k + 1] - v[k])
    if abs(size) < least or jump * size <= 0 or abs(jump) < SHARE * abs(size):
        return None
    apart = LEVEL * abs(size) + 6.0 * itt.noise
    return None if max(np.ptp(before), np.ptp(after)) > apart else size


def _nothing_else_moved(view: EngineView, begin: float, end: float, size: float) -> bool:
    """Return whether Ng and fuel flow or torque stood still meanwhile."""
    still = set()
    for name, most in STILL.items():
        trace = view.trace(name)
        if trace is None or not is_alive(trace):
            continue
        values = trace.values[trace.between(begin, end)]
        if values.size < LEAST_SAMPLES:
            continue
        allowed = most * abs(float(values[0])) if name == "fuel_flow" else most
        if float(np.ptp(values)) > allowed + 6.0 * trace.noise + 2.0 * trace.half_resolution:
            return False
        still.add(name)
    return len(still) > 1 or (still == {"ng"} and size >= 60.0)


def _stretches(
    view: EngineView, itt: Trace, steps: list[tuple[int, float]], burning: FloatArray
) -> list[Doubt]:
    """Return what follows each step, to a step back or the end of the burning."""
    out: list[Doubt] = []
    for n, (k, size) in enumerate(steps):
        begin = float(itt.time_s[k])
        if out and begin < out[-1].end_s:
            continue
        end = float(burning[np.searchsorted(burning[:, 1], begin), 1])
        back = next(
            (j for j, other in steps[n + 1 :] if other * size < 0 and abs(other) >= BACK * abs(size)), None
        )
        is_back = back is not None and float(itt.time_s[back]) < end
        if back is not None and is_back:
            end = float(itt.time_s[min(back + 1, itt.time_s.size - 1)])
        why = sentence(
            "{itt} {moved} by {size} at {at} in one step that nothing else shared",
            itt=view.names.in_text(view.name_of("itt")),
            moved="rose" if size > 0 else "fell",
            size=Quantity(abs(size), "degC", is_difference=True),
            at=clock_text(float(itt.time_s[k + 1])),
        )
        out.append(Doubt("itt", "sensor_step", begin, end, why))
    return out
