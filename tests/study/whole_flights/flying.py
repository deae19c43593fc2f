"""One invented flight at 20 steps a second: what the crew did, what the engine answered, and what is true of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np

STEP_S = 0.05
RATES_HZ = (1.0, 2.0, 4.0, 8.0, 16.0)
FLIGHT_GATE, REVERSE_GATE, IDLE_LEVER = 22.0, 12.0, 25.0
SETTLE_C = 640.0
BLEED_C, SEPARATOR_C, AMPS_C = (22.0, 40.0), (7.0, 18.0), 0.05
ITT_LAG_S, NG_LAG_S = 2.5, 1.2

Floats = np.ndarray[Any, np.dtype[np.float64]]


@dataclass
class Told:
    """What is true of a flight. Times in seconds."""

    phases: list[tuple[str, float, float]] = field(default_factory=list)
    steady: list[tuple[float, float]] = field(default_factory=list)
    """Stretches in which nothing was touched, from when all had settled."""
    loads: list[tuple[str, float, bool | float]] = field(default_factory=list)
    """Kind, time, on or jump."""
    beta: list[tuple[float, float]] = field(default_factory=list)
    reverse: list[tuple[float, float]] = field(default_factory=list)
    lags_s: list[float] = field(default_factory=list)
    touch_and_goes: int = 0
    go_arounds: int = 0
    flights: int = 0
    cut_s: float = 0.0
    settled_s: float = 0.0
    soak_peak_c: float = 0.0
    cooling_s: float = 0.0


class Flying:
    """Draws a flight step by step: each piece adds targets of lever, altitude and airspeed."""

    def __init__(self, seed: int, number: int) -> None:
        self.rng = np.random.default_rng([seed, number])
        self.told = Told()
        self.field_ft = float(self.rng.uniform(0.0, 4500.0))
        self.oat_c = float(self.rng.uniform(-5.0, 36.0))
        self.now = 0.0
        self.lever: list[tuple[float, float]] = [(0.0, IDLE_LEVER)]
        self.altitude: list[tuple[float, float]] = [(0.0, self.field_ft)]
        self.speed: list[tuple[float, float]] = [(0.0, 0.0)]
        self.switches: dict[str, list[tuple[float, float]]] = {
            name: [(0.0, 0.0)] for name in ("starter", "fuel_on", "bleed", "separator", "amps", "air")
        }
        self.bleed_c = float(self.rng.uniform(*BLEED_C))
        self.separator_c = float(self.rng.uniform(*SEPARATOR_C))
        self.prop_lag_s = float(self.rng.uniform(0.4, 1.6))
        self.on_s = self.fuel_s = self.lit_s = self.idle_s = 0.0

    def between(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def chance(self, share: float) -> bool:
        return bool(self.rng.random() < share)

    def go(self, seconds: float, altitude_ft: float | None = None, ias_kt: float | None = None) -> None:
        """Let time pass; altitude and airspeed move evenly to where they are said."""
        begin = self.now
        self.now += seconds
        for line, target in ((self.altitude, altitude_ft), (self.speed, ias_kt)):
            line.append((begin, line[-1][1]))
            line.append((self.now, line[-1][1] if target is None else target))

    def set_lever(self, per_cent: float) -> None:
        """Move the lever at 8 % a second from now on."""
        last = self.lever[-1][1]
        self.lever.append((self.now, last))
        self.lever.append((self.now + abs(per_cent - last) / 8.0, per_cent))

    def switch(self, name: str, value: float) -> None:
        self.switches[name].append((self.now, value))

    def phase(self, name: str, begin: float) -> None:
        self.told.phases.append((name, begin, self.now))

    # --- the pieces of a flight -------------------------------------------------------------------------

    def start(self) -> None:
        self.go(self.between(15.0, 40.0))
        self.phase("off", 0.0)
        begin = self.on_s = self.now
        self.switch("starter", 1.0)
        self.go(self.between(12.0, 16.0))
        self.fuel_s = self.now
        self.switch("fuel_on", 1.0)
        self.lit_s = self.now + 1.0
        self.go(26.0)
        self.switch("starter", 0.0)
        self.idle_s = self.now
        self.phase("start", begin)

    def taxi(self) -> None:
        begin = self.now
        self.go(self.between(25.0, 50.0))
        self.switch("amps", 90.0)
        self.go(self.between(20.0, 40.0))
        for _ in range(int(self.rng.integers(1, 4))):
            self.set_lever(self.between(30.0, 36.0))
            self.go(self.between(15.0, 30.0), ias_kt=self.between(10.0, 18.0))
            self.set_lever(IDLE_LEVER)
            self.go(self.between(10.0, 25.0))
            self.beta(self.between(6.0, 20.0), lever=5.0 if self.chance(0.2) else 15.0)
            self.go(self.between(12.0, 20.0), ias_kt=self.between(3.0, 8.0))
        self.go(self.between(8.0, 15.0), ias_kt=0.0)
        self.go(self.between(10.0, 30.0))
        self.told.phases.append(("ground", begin, self.now))

    def beta(self, seconds: float, lever: float = 15.0) -> None:
        """Take the lever below the flight gate and forward again."""
        before = self.lever[-1][1]
        out = self.now + (before - FLIGHT_GATE) / 8.0, self.now + seconds + (FLIGHT_GATE - lever) / 8.0
        if lever >= REVERSE_GATE:
            self.told.beta.append(out)
        else:  # two stretches, on the way there and back
            way = (FLIGHT_GATE - REVERSE_GATE) / 8.0
            self.told.beta += [(out[0], out[0] + way), (out[1] - way, out[1])]
            self.told.reverse.append(
                (self.now + (before - REVERSE_GATE) / 8.0, self.now + seconds + (REVERSE_GATE - lever) / 8.0)
            )
        self.set_lever(lever)
        self.go(seconds)
        self.set_lever(IDLE_LEVER)
        self.told.lags_s.append(self.prop_lag_s * float(np.log(20.0)))
        self.go(6.0)

    def take_off(self) -> None:
        begin = self.now
        self.set_lever(self.between(78.0, 88.0))
        self.go(self.between(14.0, 22.0), ias_kt=76.0)
        self.switch("air", 1.0)
        self.go(60.0 * 400.0 / 900.0, self.field_ft + 400.0, 110.0)
        self.phase("takeoff", begin)

    def climb(self, to_ft: float, rate: float, ias_kt: float = 118.0) -> None:
        begin = self.now
        self.go((to_ft - self.altitude[-1][1]) / rate * 60.0, to_ft, ias_kt)
        self.phase("climb", begin)

    def cruise(self, lever: float, ias_kt: float, loads: bool) -> None:
        begin = self.now
        self.set_lever(lever)
        self.go(60.0, ias_kt=ias_kt)
        still = self.now
        events = int(self.rng.integers(1, 5)) if loads else 0
        for _ in range(events):
            self.rest(still)
            self.load()
            still = self.now
        self.rest(still)
        self.phase("cruise", begin)

    def rest(self, since: float) -> None:
        """Touch nothing for a while."""
        self.go(self.between(70.0, 420.0))
        self.told.steady.append((since, self.now))

    def load(self) -> None:
        kind = str(self.rng.choice(("bleed", "separator", "generator_load")))
        if kind == "generator_load":
            jump = self.between(60.0, 120.0) * (1 if self.switches["amps"][-1][1] <= 100.0 else -1)
            self.switch("amps", self.switches["amps"][-1][1] + jump)
            self.told.loads.append((kind, self.now, jump))
            return
        on = not self.switches[kind][-1][1]
        self.switch(kind, float(on))
        self.told.loads.append((kind, self.now, on))

    def manoeuvre(self) -> None:
        begin, base = self.now, self.altitude[-1][1]
        for _ in range(int(self.rng.integers(8, 14))):
            self.set_lever(self.between(55.0, 85.0))
            self.go(self.between(15.0, 35.0), base + self.between(-900.0, 900.0), self.between(100.0, 165.0))
        self.go(20.0, base)
        self.phase("manoeuvring", begin)

    def descend(self, to_ft: float, rate: float, ias_kt: float) -> None:
        begin = self.now
        self.set_lever(self.between(38.0, 50.0))
        self.go((self.altitude[-1][1] - to_ft) / rate * 60.0, to_ft, ias_kt)
        self.phase("descent", begin)

    def go_around(self) -> None:
        self.descend(self.field_ft + self.between(60.0, 200.0), 600.0, 88.0)
        self.told.go_arounds += 1
        self.circuit()

    def circuit(self) -> None:
        self.set_lever(82.0)
        self.climb(self.field_ft + 1100.0, 900.0, 110.0)
        begin = self.now
        self.set_lever(58.0)
        self.go(self.between(70.0, 140.0), ias_kt=115.0)
        self.phase("cruise", begin)

    def touch_and_go(self) -> None:
        self.descend(self.field_ft, 600.0, 80.0)
        begin = self.now
        self.switch("air", 0.0)
        self.go(3.0, ias_kt=72.0)
        self.set_lever(82.0)
        self.go(self.between(4.0, 8.0), ias_kt=78.0)
        self.told.touch_and_goes += 1
        self.phase("landing", begin)
        begin = self.now
        self.switch("air", 1.0)
        self.go(60.0 * 400.0 / 900.0, self.field_ft + 400.0, 105.0)
        self.phase("takeoff", begin)
        self.circuit()

    def land(self) -> None:
        self.descend(self.field_ft, 600.0, 80.0)
        begin = self.now
        self.switch("air", 0.0)
        self.set_lever(IDLE_LEVER)
        self.go(2.0, ias_kt=72.0)
        seconds = self.between(8.0, 14.0)
        before = self.now
        self.beta(seconds, lever=4.0)
        # The roll-out is no taxiing.
        del self.told.beta[-2:], self.told.reverse[-1:]
        self.speed[-4:] = [(before, self.speed[-4][1]), (before + seconds, 34.0), (self.now, 26.0)]
        self.told.phases.append(("landing", begin, before + seconds + 3.0))
        self.go(10.0, ias_kt=12.0)
        self.go(self.between(60.0, 120.0), ias_kt=14.0)
        self.go(10.0, ias_kt=0.0)
        self.told.flights += 1

    def shut_down(self) -> None:
        self.go(self.between(5.0, 180.0))
        self.told.cut_s = self.now
        self.switch("fuel_on", 0.0)
        self.switch("amps", 0.0)
        self.go(self.between(300.0, 900.0))


def fly(seed: int, number: int) -> Flying:
    """Return one flight, flown to its end."""
    f = Flying(seed, number)
    f.start()
    f.taxi()
    f.take_off()
    ceiling = f.field_ft + f.between(2500.0, 11000.0)
    f.climb(ceiling, f.between(700.0, 1500.0))
    f.cruise(f.between(68.0, 84.0), f.between(135.0, 160.0), loads=True)
    if f.chance(0.35):
        f.manoeuvre()
        f.cruise(f.between(66.0, 80.0), f.between(130.0, 150.0), loads=False)
    f.descend(f.field_ft + 1100.0, f.between(600.0, 1500.0), 120.0)
    begin = f.now
    f.set_lever(58.0)
    f.go(f.between(60.0, 120.0), ias_kt=115.0)
    f.phase("cruise", begin)
    if f.chance(0.4):
        f.go_around()
    for _ in range(int(f.rng.integers(0, 3)) if f.chance(0.4) else 0):
        f.touch_and_go()
    f.land()
    f.shut_down()
    return f


def _line(points: list[tuple[float, float]], t: Floats) -> Floats:
    xs, ys = np.array(points).T
    return np.interp(t, np.maximum.accumulate(xs + np.arange(xs.size) * 1e-9), ys)


def _held(points: list[tuple[float, float]], t: Floats) -> Floats:
    xs, ys = np.array(points).T
    out: Floats = ys[np.searchsorted(xs, t, side="right") - 1]
    return out


def _lagged(target: Floats, lag_s: float | Floats, first: float) -> Floats:
    """Return the answer of a first-order lag."""
    share = 1.0 - np.exp(-STEP_S / np.broadcast_to(np.asarray(lag_s, float), target.shape))
    out = np.empty_like(target)
    value = first
    for i, (goal, k) in enumerate(zip(target.tolist(), share.tolist(), strict=True)):
        value += (goal - value) * k
        out[i] = value
    return out


@lru_cache(maxsize=4)
def states(f: Flying) -> tuple[Floats, dict[str, Floats]]:
    """Return times and states; fills in what is true of the shutdown."""
    t: Floats = np.arange(0.0, f.now, STEP_S)
    lever, altitude, ias = _line(f.lever, t), _line(f.altitude, t), _line(f.speed, t)
    bleed, separator, amps = (_held(f.switches[name], t) for name in ("bleed", "separator", "amps"))
    fuel = _held(f.switches["fuel_on"], t)
    oat_k = f.oat_c + 273.15 - 1.98e-3 * (altitude - f.field_ft)
    pressure = (1.0 - 6.8755856e-6 * altitude) ** 5.2558797
    running = (t >= f.lit_s) & (t < f.told.cut_s)
    # Speed: the starter to 20 %, alight to idle, then by the lever; below the reverse gate it rises again.
    target = (
        60.0 + np.maximum(lever - IDLE_LEVER, 0.0) * 41.0 / 75.0 + np.maximum(REVERSE_GATE - lever, 0.0) * 2.0
    )
    early = t < f.idle_s
    target = np.where(
        early, np.interp(t, [f.on_s, f.on_s + 10.0, f.lit_s, f.idle_s - 4.0], [0.0, 20.0, 20.5, 60.0]), target
    )
    target = np.where(t >= f.told.cut_s, 0.0, target)
    ng = _lagged(target, np.where(t >= f.told.cut_s, 6.0, NG_LAG_S), 0.0)
    ng[ng < 0.05] = 0.0
    theta = oat_k / 288.15
    referred = ng / np.sqrt(theta)
    gas = (852.0 + 4.6 * (referred - 60.0)) * theta - 273.15
    gas += f.bleed_c * bleed + f.separator_c * separator + AMPS_C * (amps - 90.0) * (amps > 0)
    flare = 150.0 * np.exp(-(((t - f.lit_s - 5.0) / 4.0) ** 2))
    gas = np.where(
        running & (t < f.idle_s + 20.0),
        np.maximum(gas, 560.0) * np.minimum((t - f.lit_s) / 4.0, 1.0) + flare,
        gas,
    )
    gas = np.where(running, gas, oat_k - 273.15)
    itt = _lagged(gas, ITT_LAG_S, float(oat_k[0] - 273.15))
    after = t >= f.told.cut_s
    if after.any():
        # The heat soaks out of the metal: up over some minutes, then down evenly.
        since = t[after] - f.told.cut_s
        f.told.cooling_s = f.between(350.0, 900.0)
        rise_s, height = f.between(70.0, 130.0), f.between(300.0, 420.0)
        soak = f.oat_c + height * np.exp(-since / f.told.cooling_s) * (1.0 - 0.55 * np.exp(-since / rise_s))
        itt[after] = soak + (float(itt[after][0]) - float(soak[0])) * np.exp(-since / 3.0)
        late = since > 25.0
        f.told.soak_peak_c = float(itt[after][late].max())
    hot = np.flatnonzero((itt > SETTLE_C) & (t < f.told.cut_s))
    f.told.settled_s = f.told.cut_s - float(t[hot[-1]]) if hot.size else f.told.cut_s - f.idle_s
    # Propeller: governed in flight, by the blades on the ground.
    flat = lever < FLIGHT_GATE
    goal = np.where(flat, 1400.0, np.where(lever > 40.0, 1850.0, 1200.0)) * (ng > 30.0)
    rpm = _lagged(goal, f.prop_lag_s, 0.0)
    torque = np.where(running, pressure * np.maximum(28.0 + 1.9 * (referred - 60.0), 0.0), 0.0)
    flow = np.where(running, pressure * np.sqrt(theta) * (80.0 + 2.6 * (referred - 60.0)), 0.0)
    starter = _held(f.switches["starter"], t)
    generator = (amps > 0).astype(float)
    volts = 24.8 - 5.5 * starter * np.exp(-np.maximum(t - f.on_s, 0.0) / 25.0) + 3.5 * generator
    air = _held(f.switches["air"], t)
    return t, {
        "ng": ng, "itt": itt, "torque": torque, "np": rpm, "fuel_flow": flow, "power_lever": lever, "palt": altitude,
        "ias": ias, "oat": oat_k - 273.15, "bus_volts": volts, "generator_amps": amps, "starter": starter,
        "fuel_on": fuel, "external_power": np.zeros_like(t), "generator_on": generator, "bleed": bleed, "separator": separator, "weight_on_wheels": 1.0 - air,
    }  # fmt: skip
