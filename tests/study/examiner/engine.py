"""An invented engine, aircraft and crew: smooth states on a fine grid, and what is true of them.

Nothing here is of the program or of its invented flights. Between two steps of the grid a state is the straight
line that joins them; this line is the truth.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

IDLE_PCT = 61.5
"""Where the governor holds Ng at idle, [%]; the profile asks for 60 less 1."""
MOTORED_PCT = 19.0
"""Where the starter alone brings Ng, [%]."""
RELEASE_PCT = 45.0

_ITT_AT = ([0.0, 45.0, 61.5, 82.0, 88.0, 92.0], [560.0, 575.0, 580.0, 684.0, 715.0, 738.0])
_TORQUE_AT = ([0.0, 58.0, 61.5, 70.0, 82.0, 88.0, 92.0], [0.0, 0.0, 6.0, 18.0, 46.8, 66.0, 78.0])
_FLOW_AT = ([0.0, 20.0, 45.0, 61.5, 82.0, 92.0], [38.0, 42.0, 70.0, 82.0, 157.0, 205.0])
_NP_AT = ([0.0, 20.0, 45.0, 61.5, 70.0, 75.0, 100.0], [0.0, 20.0, 1000.0, 1275.0, 1600.0, 1900.0, 1900.0])


@dataclass(frozen=True)
class Hang:
    """Ng gains only `rate` [%/s] from `from_pct` on, for `seconds`."""

    from_pct: float
    rate: float
    seconds: float


@dataclass(frozen=True)
class Fuel:
    """Fuel from `on` to `off`, [s], and when it lights; `peak_c` is reached `rise_s` after."""

    on: float
    light: float | None
    off: float
    peak_c: float = 728.0
    rise_s: float = 6.0
    gain: float = 2.0
    hang: Hang | None = None


@dataclass(frozen=True)
class Electric:
    """Battery and cables: `volts` - `milliohm` x current - a sag of `polarised` V with 4 s; or a ground cart."""

    volts: float = 25.0
    milliohm: float = 8.6
    polarised: float = 0.0
    amps: float = 1150.0
    cart: bool = False


@dataclass(frozen=True)
class Air:
    """One flight: lift-off and touchdown, [s]; the cruise is above and between them."""

    lift_off: float
    touchdown: float
    cruise_ft: float = 3000.0


@dataclass(frozen=True)
class Plan:
    """What the crew does and how the engine answers.

    `power` holds (time, Ng) from then on; ITT rises by `release_c` when the starter lets go.
    """

    duration: float
    starter: tuple[tuple[float, float | None], ...] = ()
    fuels: tuple[Fuel, ...] = ()
    power: tuple[tuple[float, float], ...] = ()
    electric: Electric = Electric()
    air: tuple[Air, ...] = ()
    oat: float = 15.0
    hot: float | None = None
    windmill_pct: float = 0.0
    aloft: bool = False
    generator_after: float = 6.0
    governor: float = 1.2
    release_c: float = 0.0
    step: float = 0.05


@dataclass(frozen=True)
class Flight:
    """States on the grid `t`; `marks` are the instants that the plan made, in seconds of the grid."""

    t: Floats
    states: Mapping[str, Floats]
    starter: tuple[tuple[float, float], ...]
    fuel: tuple[tuple[float, float], ...]
    lights: tuple[float, ...]
    plan: Plan = field(repr=False)

    def but(self, **states: Floats) -> Flight:
        """Return the flight with other states."""
        return replace(self, states={**self.states, **states})

    def at(self, channel: str, time: float) -> float:
        """Return a state at an instant."""
        return float(np.interp(time, self.t, self.states[channel]))

    def highest(self, channel: str, begin: float, end: float) -> float:
        """Return the highest of a state from one instant to another."""
        inner = (self.t >= begin) & (self.t <= end)
        ends = (self.at(channel, begin), self.at(channel, end))
        return max(*ends, float(self.states[channel][inner].max(initial=-np.inf)))

    def lowest(self, channel: str, begin: float, end: float) -> float:
        """Return the lowest of a state from one instant to another."""
        inner = (self.t >= begin) & (self.t <= end)
        ends = (self.at(channel, begin), self.at(channel, end))
        return min(*ends, float(self.states[channel][inner].min(initial=np.inf)))

    def first_above(self, channel: str, level: float, begin: float, held: float = 0.0) -> float | None:
        """Return when a state first passes a level upward (at or above) and stays for `held` seconds."""
        values = self.states[channel]
        k = int(np.searchsorted(self.t, begin))
        beyond = values[k:] >= level
        if not beyond.size:
            return None
        change = np.flatnonzero(np.diff(beyond.astype(np.int8)))
        rises = [0] if beyond[0] else []
        rises += [int(i) + 1 for i in change if not beyond[i]]
        for i in rises:
            falls = np.flatnonzero(~beyond[i:])
            last = self.t[-1] if not falls.size else self.t[k + i + int(falls[0])]
            here = k + i
            time = float(self.t[here])
            if i > 0:
                a, b = values[here - 1], values[here]
                time -= float((b - level) / (b - a)) * float(self.t[here] - self.t[here - 1])
            if last - time >= held:
                return time
        return None

    def time_above(self, channel: str, level: float, begin: float, end: float) -> float:
        """Return how long a state is above a level between two instants, crossings on the straight line."""
        t = np.concatenate(([begin], self.t[(self.t > begin) & (self.t < end)], [end]))
        return above(t, np.interp(t, self.t, self.states[channel]), level)


def above(t: Floats, values: Floats, level: float) -> float:
    """Return how long the line through the points is above a level, [s]."""
    over = values - level
    a, b, width = over[:-1], over[1:], np.diff(t)
    with np.errstate(invalid="ignore", divide="ignore"):
        part = np.where(a > 0, a, b) / np.abs(a - b)
    whole = (a > 0) & (b > 0)
    mixed = (a > 0) != (b > 0)
    return float((width * whole).sum() + (width * np.where(mixed, part, 0.0)).sum())


def eased(x: Floats) -> Floats:
    """Return 0 to 1 with level ends for x from 0 to 1."""
    return np.asarray(0.5 - 0.5 * np.cos(np.pi * np.clip(x, 0.0, 1.0)), dtype=np.float64)


def fly(plan: Plan) -> Flight:
    """Return the states of a plan."""
    n = round(plan.duration / plan.step) + 1
    t = np.arange(n) * plan.step
    ng, itt, starter = _turn(plan, t)
    states: dict[str, Floats] = {"ng": ng, "itt": itt}
    lit = np.zeros(n, dtype=bool)
    fuelled = np.zeros(n, dtype=bool)
    for f in plan.fuels:
        fuelled |= (t >= f.on) & (t < f.off)
        if f.light is not None:
            lit |= (t >= f.light) & (t < f.off)
    states["torque"] = np.where(lit, np.interp(ng, *_TORQUE_AT), 0.0)
    states["np"] = _follow(np.where(lit, np.interp(ng, *_NP_AT), 0.0), plan.step, 2.0)
    flow = np.where(lit, np.interp(ng, *_FLOW_AT), np.where(fuelled, 38.0, 0.0))
    states["fuel_flow"] = _follow(flow, plan.step, 0.25)
    states["oil_temp"] = _follow(np.where(lit, 72.0, plan.oat), plan.step, 260.0)
    states["oil_press"] = _follow(np.minimum(105.0, 1.6 * ng), plan.step, 0.5)
    _electrify(plan, t, ng, starter, states)
    _lift(plan, t, states)
    return Flight(
        t,
        states,
        tuple(starter),
        tuple((f.on, min(f.off, plan.duration + 1.0)) for f in plan.fuels),
        tuple(f.light for f in plan.fuels if f.light is not None),
        plan,
    )


def _follow(target: Floats, step: float, lag: float) -> Floats:
    """Return a first-order lag behind a target that begins at it."""
    out = np.empty_like(target)
    value, share = float(target[0]), step / (lag + step)
    for k, wanted in enumerate(target.tolist()):
        value += (wanted - value) * share
        out[k] = value
    return out


def _turn(plan: Plan, t: Floats) -> tuple[Floats, Floats, list[tuple[float, float]]]:
    """Return Ng, ITT and the runs of the starter: those without an end let go at `RELEASE_PCT`."""
    n, step = t.size, plan.step
    power = np.full(n, IDLE_PCT)
    for at, wanted in plan.power:
        power[t >= at] = wanted
    ng, itt = np.empty(n), np.empty(n)
    steady = np.interp(np.arange(0.0, 110.0, 0.1), *_ITT_AT) + (plan.oat - 15.0) * 0.8
    speed = plan.windmill_pct if plan.aloft else 0.0
    heat = plan.oat if plan.hot is None else plan.hot
    runs = [[a, b] for a, b in plan.starter]
    fuels = list(plan.fuels)
    hung: float | None = None
    for k in range(n):
        now = k * step
        ng[k], itt[k] = speed, heat
        burning = next((f for f in fuels if f.light is not None and f.light <= now < f.off), None)
        turning = False
        for run in runs:
            if run[0] <= now and run[1] is None and speed >= RELEASE_PCT:
                run[1] = now
            turning |= run[0] <= now and (run[1] is None or now < run[1])
        if burning is not None and burning.light is not None:
            since = now - burning.light
            most = burning.gain * (1.0 - np.exp(-since / 1.5)) if speed < IDLE_PCT - 1.0 else 4.0
            rate = min(most, (power[k] - speed) / plan.governor)
            if burning.hang is not None and speed >= burning.hang.from_pct:
                hung = now if hung is None else hung
                if now - hung < burning.hang.seconds:
                    rate = burning.hang.rate
            if since < burning.rise_s:
                if since < step:
                    foot = heat
                share = (since + step) / burning.rise_s
                heat = (
                    foot + (burning.peak_c - foot) * min(1.0, share * (2.0 - share))
                    if share < 1
                    else burning.peak_c
                )
            else:
                heat += step * (steady[int(min(speed, 109.0) * 10)] - heat) / 5.0
        else:
            flying = plan.aloft or any(a.lift_off <= now < a.touchdown for a in plan.air)
            wind = plan.windmill_pct if flying else 0.0
            floor = MOTORED_PCT if turning else wind
            rate = (
                (floor - speed) / 4.5 if turning else max((floor - 3.0 - speed) / 9.0, (floor - speed) / step)
            )
            heat += step * (plan.oat - heat) / (35.0 if speed > 8.0 else 400.0)
        speed = max(speed + rate * step, 0.0)
    ends = [(a, plan.duration + 1.0 if b is None else b) for a, b in runs]
    if plan.release_c:
        since = t - ends[0][1]
        itt = itt + plan.release_c * eased(since / 2.0) * np.exp(-np.maximum(since - 2.0, 0.0) / 8.0)
    return ng, itt, ends


def _electrify(
    plan: Plan, t: Floats, ng: Floats, starter: list[tuple[float, float]], states: dict[str, Floats]
) -> None:
    """Volts on the bus and amps out of the battery, positive when it gives."""
    e = plan.electric
    cranking = np.zeros(t.size)
    generating = np.zeros(t.size, dtype=bool)
    for a, b in starter:
        on = (t >= a) & (t < b)
        inrush = np.clip((t - a) / 0.05, 0.0, 1.0)
        cranking += np.where(
            on,
            inrush
            * np.maximum(
                e.amps * (1.0 - ng / 48.0) ** 2 * 0.55 + 300.0 * np.exp(-np.maximum(t - a, 0.0) / 0.8), 30.0
            ),
            0.0,
        )
    for f in plan.fuels:
        if f.light is not None:
            up = (t >= f.light) & (t < f.off) & (ng > IDLE_PCT - 2.5)
            first = t[up][0] if up.any() else np.inf
            generating |= up & (t >= first + plan.generator_after)
    need = 28.0 + cranking
    if e.cart:
        # The cart holds the bus at 28 V behind 4 mOhm and charges the battery through its own resistance.
        r, cart, own = e.milliohm / 1000.0, 0.004, e.volts - 0.6
        bus = (28.0 / cart + own / r - need) / (1.0 / cart + 1.0 / r)
        amps = (own - bus) / r
    else:
        amps = need.copy()
        sag = _follow(np.where(cranking > 0, e.polarised, 0.0), float(t[1] - t[0]), 4.0)
        bus = e.volts - e.milliohm / 1000.0 * amps - sag
    charge = _follow(np.where(generating, 1.0, 0.0), float(t[1] - t[0]), 0.6)
    states["bus_volts"] = bus * (1.0 - charge) + 28.0 * charge
    states["battery_amps"] = amps * (1.0 - charge) - 12.0 * charge


def _lift(plan: Plan, t: Floats, states: dict[str, Floats]) -> None:
    """Airspeed, height, wheels and power lever. The flight idles 6 s before touchdown."""
    ias, height, wheels = np.zeros(t.size), np.full(t.size, 500.0), np.ones(t.size)
    lever = np.clip(12.0 + (states["ng"] - IDLE_PCT) * 2.4, 12.0, 95.0)
    if plan.aloft:
        ias, height, wheels = np.full(t.size, 120.0), np.full(t.size, 6000.0), np.zeros(t.size)
        lever = np.maximum(lever, 30.0)
    for air in plan.air:
        up, down = air.lift_off, air.touchdown
        knots = [
            (up - 20.0, 0.0),
            (up, 85.0),
            (up + 40.0, 115.0),
            (down - 120.0, 125.0),
            (down - 20.0, 88.0),
            (down, 76.0),
            (down + 25.0, 10.0),
            (down + 60.0, 0.0),
        ]
        here = (t >= up - 20.0) & (t <= down + 60.0)
        ias[here] = np.interp(t[here], *zip(*knots, strict=True))
        top = min((down - up) * 0.4, (air.cruise_ft - 500.0) / 20.0)
        climb = [
            (up, 500.0),
            (up + top, 500.0 + 20.0 * top),
            (down - 1.2 * top - 30.0, 500.0 + 20.0 * top),
            (down - 8.0, 550.0),
            (down, 500.0),
        ]
        fly_now = (t >= up) & (t < down)
        height[fly_now] = np.interp(t[fly_now], *zip(*climb, strict=True))
        wheels[fly_now] = 0.0
        # Above the gate of 20 % in the air; into beta 1.5 s after touchdown, for 8 s.
        lever = np.where(fly_now, np.maximum(lever, 27.0), lever)
        lever = np.where((t >= down) & (t < down + 1.5), 25.0, lever)
        lever = np.where((t >= down + 1.5) & (t < down + 9.5), 6.0, lever)
    states["ias"], states["palt"], states["weight_on_wheels"], states["power_lever"] = (
        ias,
        height,
        wheels,
        lever,
    )
    states["oat"] = plan.oat - (height - 500.0) * 0.00198


def start_plan(
    begin: float = 8.0,
    motoring: float = 11.0,
    to_light: float = 1.0,
    off: float = 1e6,
    **more: object,
) -> tuple[tuple[float, float | None], Fuel]:
    """Return the starter run and the fuel of an ordinary start."""
    on = begin + motoring
    return (begin, None), Fuel(on, on + to_light, off, **more)  # type: ignore[arg-type]
