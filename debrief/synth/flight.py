"""The whole invented flight: surroundings along the track, crew and faults, and the engine, at 1 kHz."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.synth.engine import run_engine
from debrief.synth.engine_model import SLOW_STEPS, STEP_S, Change, FloatArray, Surroundings
from debrief.synth.scenario import Scenario

_STEPS_PER_S = round(1.0 / STEP_S)


@dataclass(frozen=True, eq=False)
class Simulation:
    """Every state at every millisecond.

    Attributes
    ----------
    scenario : Scenario
        What was simulated.
    time_s : (n,) float array
        Seconds from the first row of the recording.
    states : dict of str to (n,) float array
        By channel name, in the canonical unit; ``lit`` (1 while fuel burns) besides. `battery_amps` is
        positive while the battery discharges.
    """

    scenario: Scenario
    time_s: FloatArray
    states: dict[str, FloatArray]


def simulate(scenario: Scenario) -> Simulation:
    """Return the states of a scenario at 1 kHz, from time 0 to its duration, both included."""
    steps = round(scenario.duration_s * _STEPS_PER_S) + 1
    slow_s: FloatArray = np.arange(0, steps + SLOW_STEPS, SLOW_STEPS, dtype=np.float64) * STEP_S
    slow = _surroundings(scenario, slow_s)
    engine = run_engine(
        steps,
        _changes(scenario, steps),
        Surroundings(
            oat_k=(slow["oat"] + 273.15).tolist(),
            pressure_ratio=slow["pressure_ratio"].tolist(),
            tailwind_kt=slow["tailwind"].tolist(),
            ias_kt=slow["ias"].tolist(),
        ),
        scenario.battery,
        scenario.initial,
        scenario.idle_ng_pct,
        scenario.starter_cutout_ng_pct,
    )
    time_s = np.arange(steps) / float(_STEPS_PER_S)
    states = dict(engine.columns)
    for name in ("ias", "palt", "oat", "wind_speed", "wind_from"):
        states[name] = np.interp(time_s, slow_s, slow[name])
    states["heading"] = np.interp(time_s, slow_s, slow["heading_unwrapped"]) % 360.0
    field_ft = scenario.ambient.palt_ft
    states["weight_on_wheels"] = np.where(states["palt"] > field_ft + 3.0, 0.0, 1.0)
    states["external_power"] = np.zeros(steps)
    for values in states.values():
        values.setflags(write=False)
    return Simulation(scenario, time_s, states)


def _changes(scenario: Scenario, steps: int) -> list[Change]:
    """Return crew actions and faults as changes of the model's inputs, in order of their step."""
    changes = [Change(round(a.at_s * _STEPS_PER_S), a.what, a.value) for a in scenario.actions]
    for fault in scenario.faults:
        begin, end = round(fault.from_s * _STEPS_PER_S), round(fault.to_s * _STEPS_PER_S)
        name, wrong, right = {
            "starter_dropout": ("starter_held", 1.0, 0.0),
            "no_light_off": ("light_off_possible", 0.0, 1.0),
            "metering": ("metering", fault.factor, 1.0),
            "leaking_valve": ("leak", fault.flow_kg_h, 0.0),
        }[fault.kind]
        changes.append(Change(begin, name, wrong))
        changes.append(Change(end, name, right))
    changes.sort(key=lambda change: change.step)
    return [change for change in changes if change.step < steps]


def _surroundings(scenario: Scenario, time_s: FloatArray) -> dict[str, FloatArray]:
    """Return track and air at the slow steps; OAT falls from the field's by the standard lapse."""
    ambient = scenario.ambient
    ones = np.ones_like(time_s)
    if scenario.track:
        at = np.array([point.at_s for point in scenario.track])
        ias = monotone_cubic(at, np.array([point.ias_kt for point in scenario.track]), time_s)
        palt = monotone_cubic(at, np.array([point.palt_ft for point in scenario.track]), time_s)
        turns = np.unwrap(np.array([point.heading_deg for point in scenario.track]), period=360.0)
        heading = monotone_cubic(at, turns, time_s)
    else:
        ias, palt, heading = 0.0 * ones, ambient.palt_ft * ones, ambient.heading_deg * ones
    oat = ambient.oat_c - 1.9812e-3 * (palt - ambient.palt_ft)
    pressure = (1.0 - 6.8755856e-6 * palt) ** 5.2558797
    ram = (1.0 + 0.2 * (ias / 661.5) ** 2 / pressure) ** 3.5
    behind = -np.cos(np.radians(ambient.wind_from_deg - heading)) * ambient.wind_speed_kt
    return {
        "ias": ias,
        "palt": palt,
        "heading_unwrapped": heading,
        "oat": oat,
        "pressure_ratio": pressure * ram,
        "tailwind": np.where(ias < 20.0, behind, 0.0),
        "wind_speed": ambient.wind_speed_kt * ones,
        "wind_from": ambient.wind_from_deg * ones,
    }


def monotone_cubic(x: FloatArray, y: FloatArray, at: FloatArray) -> FloatArray:
    """Return a smooth curve through the points that never overshoots them.

    Parameters
    ----------
    x, y : (n,) float array
        Points, x strictly increasing, n at least 1.
    at : (m,) float array
        Where to evaluate; beyond the ends the end value holds.

    Notes
    -----
    Cubic Hermite pieces whose slopes are limited as F. N. Fritsch and R. E. Carlson describe ("Monotone
    piecewise cubic interpolation", SIAM J. Numer. Anal. 17, 1980); level at both ends.
    """
    if x.size == 1:
        return np.full_like(at, y[0])
    h = np.diff(x)
    d = np.diff(y) / h
    m = np.zeros_like(y)
    same = d[:-1] * d[1:] > 0.0
    m[1:-1] = np.where(same, 0.5 * (d[:-1] + d[1:]), 0.0)
    for i in range(h.size):
        if d[i] == 0.0:
            m[i] = m[i + 1] = 0.0
            continue
        a, b = m[i] / d[i], m[i + 1] / d[i]
        size = float(np.hypot(a, b))
        if size > 3.0:
            m[i], m[i + 1] = 3.0 * a / size * d[i], 3.0 * b / size * d[i]
    inside = np.clip(at, x[0], x[-1])
    k = np.clip(np.searchsorted(x, inside, side="right") - 1, 0, h.size - 1)
    t = (inside - x[k]) / h[k]
    value: FloatArray = (
        (1 + 2 * t) * (1 - t) ** 2 * y[k]
        + t * (1 - t) ** 2 * h[k] * m[k]
        + t**2 * (3 - 2 * t) * y[k + 1]
        - t**2 * (1 - t) * h[k] * m[k + 1]
    )
    return value
