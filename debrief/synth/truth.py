"""What really happened, from the model's state at 1 kHz: times, peaks, time above levels."""

from __future__ import annotations

from typing import Any

import numpy as np

from debrief.synth.engine_model import STEP_S, FloatArray
from debrief.synth.flight import Simulation

FORMAT = "synth-truth/1"
_IDLE_HELD = 3000  # steps that idle speed must be held
_AFTER_ON = 1000  # steps after starter on from which the lowest voltage counts


def edges(values: FloatArray) -> tuple[list[int], list[int]]:
    """Return the first step of each stretch of ones, and the first step after it (n if it never ends)."""
    on = np.concatenate(([False], values >= 0.5, [False]))
    change = np.flatnonzero(on[1:] != on[:-1])
    return [int(i) for i in change[::2]], [int(i) for i in change[1::2]]


def time_beyond(values: FloatArray, level: float, below: bool = False) -> dict[str, Any]:
    """Return total and longest time beyond a level by counting steps, [s], with first and last instant.

    A value equal to the level is not beyond it. Steps are 1 ms: the count is the time to 2 ms a stretch.
    """
    beyond = values < level if below else values > level
    begin, end = edges(beyond.astype(np.float64))
    lengths = [b - a for a, b in zip(begin, end, strict=True)]
    return {
        "level": level,
        "total_s": round(sum(lengths) * STEP_S, 3),
        "longest_s": round(max(lengths, default=0) * STEP_S, 3),
        "first": begin[0] if begin else None,
        "last": end[-1] if end else None,
        "runs": len(begin),
    }


def _at(step: int | None, offset: int = 0) -> float | None:
    return None if step is None else round((step + offset) * STEP_S, 3)


def _extreme(values: FloatArray, offset: int, lowest: bool = False) -> dict[str, float]:
    step = int(np.argmin(values) if lowest else np.argmax(values))
    return {"value": round(float(values[step]), 4), "at_s": round((step + offset) * STEP_S, 3)}


def _levels(
    states: dict[str, FloatArray], wanted: Any, begin: int, end: int, mask: FloatArray | None = None
) -> list[dict[str, Any]]:
    found = []
    for channel, levels in wanted.items():
        values = states[channel][begin:end]
        below = channel in ("bus_volts", "oil_press")
        if mask is not None:
            values = np.where(mask[begin:end] >= 0.5, values, np.inf if below else -np.inf)
        for level in levels:
            result = time_beyond(values, level, below)
            result["first_s"] = _at(result.pop("first"), begin)
            result["last_s"] = _at(result.pop("last"), begin)
            found.append({"channel": channel, "sense": "below" if below else "above", **result})
    return found


def truth_of(simulation: Simulation) -> dict[str, Any]:
    """Return the truth of a simulation as plain values for JSON. Times are seconds from the first row."""
    scenario, states = simulation.scenario, simulation.states
    steps = simulation.time_s.size
    starter_on, starter_off = edges(states["starter"])
    # The starter opens at its cut-out speed by itself; an attempt lasts to the next engagement.
    starts = []
    idle_steps = []
    for number, begin in enumerate(starter_on, start=1):
        end = starter_on[number] if number < len(starter_on) else steps
        start = _start(simulation, number, begin, starter_off[number - 1], end)
        starts.append(start)
        idle_steps.append(None if start["idle_s"] is None else round(start["idle_s"] / STEP_S))
    running = np.zeros(steps)
    for step in idle_steps:
        if step is None:
            continue
        lit_end = np.flatnonzero(states["lit"][step:] < 0.5)
        running[step : step + int(lit_end[0]) if lit_end.size else steps] = 1.0
    peaks = {}
    if running.any():
        inside = np.flatnonzero(running >= 0.5)
        for channel in ("itt", "ng", "np", "torque", "oil_temp"):
            step = int(inside[np.argmax(states[channel][inside])])
            peaks[channel] = {"value": round(float(states[channel][step]), 4), "at_s": _at(step)}
    airborne_on, airborne_off = edges(1.0 - states["weight_on_wheels"])
    return {
        "format": FORMAT,
        "scenario": scenario.title,
        "step_s": STEP_S,
        "duration_s": scenario.duration_s,
        "starts": starts,
        "running": {
            "spans_s": [[_at(a), _at(b)] for a, b in zip(*edges(running), strict=True)],
            "peaks": peaks,
            "beyond": _levels(states, scenario.truth.running_levels, 0, steps, running),
        },
        "airborne_s": [[_at(a), _at(b)] for a, b in zip(airborne_on, airborne_off, strict=True)],
    }


def _start(simulation: Simulation, number: int, begin: int, starter_off: int, end: int) -> dict[str, Any]:
    """Return the truth of one attempt: from starter on to the next engagement or the recording's end."""
    states, request = simulation.states, simulation.scenario.truth
    steps = simulation.time_s.size
    inside = slice(begin, end)
    fuel_on, fuel_off = edges(states["fuel_on"][inside])
    lit_on, lit_off = edges(states["lit"][inside])
    idle = None
    held_on, held_off = edges((states["ng"][inside] >= request.idle_ng_pct).astype(np.float64))
    for a, b in zip(held_on, held_off, strict=True):
        if b - a >= _IDLE_HELD and any(on <= a < off for on, off in zip(lit_on, lit_off, strict=True)):
            idle = begin + a
            break
    window = idle if idle is not None else end
    periods = []
    for a, b in zip(fuel_on, fuel_off, strict=True):
        lit = [step for step in lit_on if a <= step < b]
        periods.append(
            {
                "on_s": _at(a, begin),
                "off_s": _at(b, begin) if begin + b < end else None,
                "light_off_s": _at(lit[0], begin) if lit else None,
                "ng_at_fuel_pct": round(float(states["ng"][begin + a]), 4),
                "ng_rate_at_fuel_pct_per_s": round(
                    float(states["ng"][begin + a] - states["ng"][begin + a - 1000]), 4
                ),
                "itt_at_fuel_c": round(float(states["itt"][begin + a]), 3),
            }
        )
    # Motored: turned by the starter alone, so until something burns.
    motored_to = min(begin + lit_on[0], starter_off) if lit_on else starter_off
    volts_from = min(begin + _AFTER_ON, starter_off - 1)
    rest = states["bus_volts"][max(begin - 5000, 0) : begin]
    return {
        "number": number,
        "starter_on_s": _at(begin),
        "starter_off_s": _at(starter_off) if starter_off < steps else None,
        "starter_run_s": round((starter_off - begin) * STEP_S, 3),
        "ng_at_starter_on_pct": round(float(states["ng"][max(begin - 1, 0)]), 4),
        "ng_at_starter_off_pct": round(float(states["ng"][starter_off - 1]), 4),
        "fuel_periods": periods,
        "idle_s": _at(idle),
        "end_s": _at(end),
        "itt_at_starter_on_c": round(float(states["itt"][max(begin - 1, 0)]), 3),
        "peak_itt": _extreme(states["itt"][begin:window], begin),
        "max_motoring_ng": _extreme(states["ng"][begin:motored_to], begin),
        "rest_bus_volts": round(float(np.median(rest)), 4) if rest.size else None,
        "min_bus_volts": _extreme(states["bus_volts"][volts_from:starter_off], volts_from, lowest=True),
        "peak_battery_amps": _extreme(states["battery_amps"][begin:starter_off], begin),
        "beyond": _levels(states, request.start_levels, begin, window),
    }
