"""Invented flights for the study: crews, faults and days, drawn from a seed."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np

from debrief.synth.engine_model import Battery, FloatArray, Initial
from debrief.synth.flight import Simulation, simulate
from debrief.synth.scenario import Action, Ambient, Fault, Recorder, Scenario

FAMILIES = (
    "start",
    "power",
    "burn",
    "hung",
    "no_light",
    "power",
    "duty",
    "start",
    "burn",
    "no_light",
    "power",
    "duty",
)
"""What flight number n is about: ``FAMILIES[n % len(FAMILIES)]``."""


class Plan:
    """Collects what the crew does and what fails."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.actions: list[Action] = []
        self.faults: list[Fault] = []
        self.duration_s = 0.0

    def between(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def do(self, at_s: float, what: str, value: float) -> None:
        self.actions.append(Action(round(at_s, 3), what, value))

    def fail(self, kind: str, from_s: float, to_s: float, factor: float = 1.0, flow: float = 0.0) -> None:
        self.faults.append(Fault(kind, round(from_s, 3), round(to_s, 3), factor, flow))


def scenario(seed: int, number: int) -> Scenario:
    """Return the scenario of one flight of the study; equal arguments give the same flight."""
    rng = np.random.default_rng([seed, number])
    family = FAMILIES[number % len(FAMILIES)]
    plan = Plan(rng)
    oat = plan.between(-15.0, 40.0)
    hot = oat + (plan.between(60.0, 420.0) if plan.chance(0.45) else 0.0)
    battery = Battery(plan.between(24.3, 26.2), plan.between(9.0, 14.5), plan.between(0.2, 2.0))
    if family == "hung" and plan.chance(0.5):
        battery = Battery(plan.between(23.4, 24.2), plan.between(13.0, 16.5), plan.between(4.0, 10.0))
    {"start": _start, "power": _power, "hung": _hung, "no_light": _no_light, "duty": _duty, "burn": _burn}[
        family
    ](plan)
    plan.actions.sort(key=lambda action: action.at_s)
    return Scenario(
        title=f"Study {number}: {family}",
        about="",
        seed=int(rng.integers(2**31)),
        duration_s=round(plan.duration_s, 1),
        start=datetime(2031, 1, 1, tzinfo=UTC),
        recorder=Recorder(()),
        ambient=Ambient(
            oat_c=oat,
            palt_ft=plan.between(0.0, 6000.0),
            heading_deg=plan.between(0.0, 359.0),
            wind_from_deg=plan.between(0.0, 359.0),
            wind_speed_kt=plan.between(0.0, 12.0),
        ),
        battery=battery,
        initial=Initial(hot_c=hot, case_c=oat + 0.4 * (hot - oat), oil_c=plan.between(oat, 80.0)),
        actions=tuple(plan.actions),
        faults=tuple(plan.faults),
    )


def _engage(p: Plan, at_s: float, fuel_after: tuple[float, float], late_ignition: float) -> float:
    """Motor, then fuel and ignition; return when fuel comes."""
    p.do(at_s, "starter", 1)
    fuel = at_s + p.between(*fuel_after)
    p.do(fuel, "fuel", 1)
    p.do(fuel + (p.between(1.0, 11.0) if p.chance(late_ignition) else -1.0), "ignition", 1)
    return fuel


def _start(p: Plan) -> None:
    """A start, often early, hot or late; some are cut."""
    on = p.between(6.2, 8.0)
    fuel = _engage(p, on, (2.2, 14.0), 0.3)
    if p.chance(0.6):
        p.fail("metering", fuel - 0.5, fuel + p.between(6.0, 40.0), p.between(1.02, 1.3))
    if p.chance(0.25):
        cut = fuel + p.between(6.0, 18.0)
        p.do(cut, "fuel", 0)
        p.do(cut + p.between(4.0, 14.0), "starter", 0)
        p.duration_s = cut + 24.0
    else:
        p.do(fuel + 36.0, "generator", 1)
        p.duration_s = fuel + p.between(42.0, 50.0)


def _excursion(p: Plan, fuel: float) -> float:
    """Idle, power up, hold, power down; return when it is over."""
    up = fuel + p.between(36.0, 40.0)
    p.do(up - 2.0, "generator", 1)
    p.do(up, "power_lever", p.between(55.0, 100.0))
    if p.chance(0.4):
        p.fail("metering", up, up + 30.0, p.between(1.0, 1.25))
    down = up + p.between(8.0, 18.0)
    p.do(down, "power_lever", 25.0)
    return down + p.between(7.0, 11.0)


def _power(p: Plan) -> None:
    """A good start, then power for a while, then a normal shutdown."""
    fuel = _engage(p, p.between(6.2, 8.0), (7.0, 12.0), 0.1)
    over = _excursion(p, fuel)
    p.do(over - 0.5, "generator", 0)
    p.do(over, "fuel", 0)
    p.duration_s = over + 12.0


def _hung(p: Plan) -> None:
    """The starter lets go, the battery is weak, or the fuel is metered too low; some recover."""
    fuel = _engage(p, p.between(6.2, 8.0), (7.0, 13.0), 0.0)
    how = int(p.rng.integers(3))
    if how == 0:
        begin = fuel + p.between(3.0, 9.0)
        p.fail("starter_dropout", begin, begin + (p.between(6.0, 14.0) if p.chance(0.5) else 200.0))
    elif how == 1:
        p.fail("metering", fuel - 0.5, fuel + p.between(14.0, 40.0), p.between(0.55, 0.9))
    else:
        p.fail("metering", fuel + p.between(2.0, 8.0), fuel + p.between(12.0, 30.0), p.between(0.5, 0.85))
    cut = fuel + p.between(26.0, 62.0)
    p.do(cut, "fuel", 0)
    p.do(cut + p.between(2.0, 14.0), "starter", 0)
    p.duration_s = cut + 22.0


def _no_light(p: Plan) -> None:
    """Fuel without a flame, cut, some motoring, and in most cases fuel again."""
    on = p.between(6.2, 8.0)
    p.do(on, "starter", 1)
    fuel = on + p.between(5.0, 11.0)
    p.do(fuel, "fuel", 1)
    cut = fuel + p.between(3.0, 14.0)
    p.do(cut, "fuel", 0)
    if p.chance(0.5):
        p.do(fuel - 1.0, "ignition", 1)
        p.fail("no_light_off", 0.0, cut + 0.5)
    again = cut + p.between(2.0, 22.0)
    if p.chance(0.15):
        p.do(again, "starter", 0)
        p.duration_s = again + 15.0
        return
    p.do(again - 0.8, "ignition", 1)
    p.do(again, "fuel", 1)
    second = again + p.between(6.0, 16.0)
    if p.chance(0.5):
        p.do(second, "fuel", 0)
        p.do(second + p.between(3.0, 15.0), "starter", 0)
        p.duration_s = second + 22.0
    else:
        p.duration_s = again + 40.0


def _duty(p: Plan) -> None:
    """Two or three runs of the starter with short rests; the last often starts the engine."""
    at = p.between(6.2, 8.0)
    for _ in range(int(p.rng.integers(1, 3))):
        p.do(at, "starter", 1)
        length = p.between(5.0, 22.0)
        p.do(at + length, "starter", 0)
        at += length + p.between(3.0, 24.0)
    if p.chance(0.5):
        p.do(at, "starter", 1)
        length = p.between(5.0, 18.0)
        p.do(at + length, "starter", 0)
        p.duration_s = at + length + 8.0
    else:
        fuel = _engage(p, at, (6.0, 12.0), 0.1)
        p.duration_s = fuel + 38.0


def _burn(p: Plan) -> None:
    """A start, idle, and a shut-off valve that does not close, or heat that soaks back."""
    fuel = _engage(p, p.between(6.2, 8.0), (7.0, 11.0), 0.0)
    p.do(fuel + 33.0, "starter", 0)
    cut = fuel + p.between(36.0, 40.0)
    p.do(cut, "fuel", 0)
    stop = cut + p.between(10.0, 32.0)
    if p.chance(0.85):
        p.fail("leaking_valve", cut - 3.0, stop, flow=p.between(5.0, 22.0))
    p.duration_s = max(stop, cut + 20.0) + p.between(4.0, 10.0)


def run(plan: Scenario) -> Simulation:
    """Return the states at 1 kHz, with what the model does not make drawn into them."""
    simulation = simulate(plan)
    rng = np.random.default_rng([plan.seed, 1])
    states = dict(simulation.states)
    size = simulation.time_s.size
    _draw(states, rng, size)
    for values in states.values():
        values.setflags(write=False)
    return Simulation(plan, simulation.time_s, states)


def _draw(states: dict[str, FloatArray], rng: np.random.Generator, size: int) -> None:
    """Draw governor, oil cooler and oil pump faults into the states while the engine runs.

    The model's propeller never runs away and its oil is always good. The drawn states are the truth of
    these channels: smooth humps of known height, from which the recorders sample.
    """
    running = np.flatnonzero((states["lit"] > 0.5) & (states["ng"] > 57.5))
    if running.size < 12_000:
        return
    first, last = int(running[0]) + 3000, int(running[-1])

    def hump(rise_ms: tuple[int, int], hold_ms: tuple[int, int]) -> FloatArray:
        rise, hold = int(rng.integers(*rise_ms)), int(rng.integers(*hold_ms))
        edge = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, rise))
        shape = np.concatenate((edge, np.ones(hold), edge[::-1]))
        at = int(rng.integers(first, max(last - shape.size, first + 1)))
        out = np.zeros(size + shape.size)
        out[at : at + shape.size] = shape
        return out[:size]

    if rng.random() < 0.7:
        states["np"] = states["np"] + rng.uniform(60.0, 350.0) * hump((600, 3000), (0, 6000))
    if rng.random() < 0.7:
        states["oil_temp"] = states["oil_temp"] + rng.uniform(8.0, 40.0) * hump((2000, 6000), (0, 6000))
    if rng.random() < 0.7:
        states["oil_press"] = states["oil_press"] * (
            1.0 - rng.uniform(0.2, 0.7) * hump((400, 3000), (0, 6000))
        )
