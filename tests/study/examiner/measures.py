"""What is true of each measure that has bounds, from the engine's states, and whether the bounds hold it."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from tests.study.examiner.asking import Said
from tests.study.examiner.engine import Flight, Floats
from tests.study.examiner.recorder import Recorder, rows

IDLE_AT_PCT = 59.0
"""The profile's idle less its tolerance."""
HAIR = 1e-6


def rise_in(t: Floats, values: Floats, width: float) -> float:
    """Return the largest rise per second over a width of time, [1/s]."""
    end = np.interp(t + width, t, values)
    return float(((end - values)[t + width <= t[-1] + 1e-9]).max(initial=0.0)) / width


def slope_before(flight: Flight, channel: str, time: float, width: float) -> float:
    """Return the least-squares slope of a state over a width of time before an instant, [1/s]."""
    t = np.linspace(time - width, time, 201)
    return float(np.polyfit(t, np.interp(t, flight.t, flight.states[channel]), 1)[0])


def of_start(flight: Flight, recorder: Recorder, number: int = 0) -> dict[str, float]:
    """Return what is true of one start that reached idle: by the published names, times from the first row."""
    first = float(rows(flight, recorder)[0])
    begin, release = flight.starter[number]
    on, light = flight.fuel[number][0], flight.lights[number]
    idle = flight.first_above("ng", IDLE_AT_PCT, light, held=3.0)
    if idle is None:
        raise ValueError("the start never idled")
    width = max(1.0, 1.0 / recorder.rate)
    lit = (flight.t >= light) & (flight.t <= idle + width)
    t, itt, ng = flight.t[lit], flight.states["itt"][lit], flight.states["ng"][lit]
    out = {
        "residual_itt_starter_on": flight.at("itt", begin),
        "residual_itt_fuel_on": flight.at("itt", on),
        "peak_itt": flight.highest("itt", begin, idle),
        "itt_rise_rate": rise_in(t, itt, width),
        "rest_bus_volts": flight.at("bus_volts", begin - 0.5),
        "min_bus_volts": flight.lowest("bus_volts", begin + 1.0, release),
        "ng_at_fuel": flight.at("ng", on),
        "ng_rate_at_fuel": slope_before(flight, "ng", on, 2.0),
        "max_motoring_ng": flight.highest("ng", begin, light),
        "ng_acceleration": rise_in(t[t <= idle], ng[t <= idle], width),
        "ng_at_starter_on": flight.at("ng", begin),
        "fuel_on": on - first,
        "fuel_to_light_off": light - on,
        "light_off_to_idle": idle - light,
        "starter_total": release - begin,
    }
    if not flight.plan.electric.cart:
        out["source_resistance"] = flight.plan.electric.milliohm
    for level in (780, 850, 950):
        out[f"time_above_{level}"] = flight.time_above("itt", float(level), begin, idle)
    return out


def of_flight(flight: Flight) -> dict[str, float]:
    """Return what is true of a whole flight with one start and one cut."""
    light, off = flight.lights[0], min(flight.fuel[0][1], float(flight.t[-1]))
    idle = flight.first_above("ng", IDLE_AT_PCT, light, held=3.0)
    if idle is None:
        raise ValueError("the start never idled")
    out = {"running_time": off - idle}
    names = {"itt": "itt", "torque": "torque", "ng": "ng", "np": "np", "oil_temp": "oil_temp"}
    for channel, name in names.items():
        out[f"highest_{name}_running"] = flight.highest(channel, idle, off)
    out["airborne_time"] = sum(a.touchdown - a.lift_off for a in flight.plan.air)
    after = flight.t > off
    ng, t = flight.states["ng"][after], flight.t[after]
    if ng.size and ng[0] > 40.0 and ng.min() < 10.0:
        out["run_down"] = float(np.interp(-10.0, -ng, t) - np.interp(-40.0, -ng, t))
    return out


def held(true: dict[str, float], said: dict[str, Any]) -> Iterator[tuple[str, bool, float]]:
    """Yield of each measure that has both bounds: its name, whether they hold what is true, and their width."""
    for name, value in true.items():
        measure = said.get(name)
        if measure is None or measure["low"] is None or measure["high"] is None:
            continue
        low, high = float(measure["low"]), float(measure["high"])
        yield name, low - HAIR <= value <= high + HAIR, high - low


def start_of(said: Said, number: int = 0) -> dict[str, Any]:
    """Return the measures that were said of a start; none where it was not found."""
    return dict(said.starts[number]["measures"]) if len(said.starts) > number else {}


def flight_of(said: Said) -> dict[str, Any]:
    """Return the measures that were said of the flight."""
    return {} if said.document is None else dict(said.document["flight"]["measures"])
