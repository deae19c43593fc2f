"""How a flight is written down: rate, noise, resolution, stale columns, clock and headings; the result is a CSV text."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from tests.study.examiner.engine import Flight, Floats

HEADINGS = {
    "oat": "OAT (degC)",
    "ng": "Ng (%)",
    "itt": "ITT (degC)",
    "bus_volts": "Bus Volts (V)",
    "battery_amps": "Battery Amps (A)",
    "starter": "Starter",
    "fuel_on": "Fuel On",
    "fuel_flow": "Fuel Flow (kg/h)",
    "np": "Np (rpm)",
    "torque": "Torque (%)",
    "oil_temp": "Oil Temp (degC)",
    "oil_press": "Oil Press (psi)",
    "ias": "IAS (kt)",
    "palt": "Pressure Altitude (ft)",
    "weight_on_wheels": "Weight On Wheels",
    "power_lever": "Power Lever (%)",
}
ALL = tuple(HEADINGS)

NOISE = {
    "ng": 0.05,
    "itt": 1.2,
    "np": 1.6,
    "torque": 0.25,
    "fuel_flow": 0.4,
    "bus_volts": 0.05,
    "battery_amps": 2.0,
    "oil_temp": 0.2,
    "oil_press": 0.4,
    "ias": 0.7,
    "palt": 4.0,
    "oat": 0.1,
    "power_lever": 0.2,
}
"""Standard deviation of ordinary noise, [channel's unit]."""

STEP = {
    "ng": 0.1,
    "itt": 1.0,
    "np": 1.0,
    "torque": 0.1,
    "fuel_flow": 0.5,
    "bus_volts": 0.1,
    "battery_amps": 1.0,
    "oil_temp": 1.0,
    "oil_press": 1.0,
    "ias": 1.0,
    "palt": 10.0,
    "oat": 0.5,
    "power_lever": 0.5,
}
"""Step of ordinary recorders, [channel's unit]."""

DISCRETE = ("starter", "fuel_on", "weight_on_wheels")
CLOCKS = ("elapsed", "hh:mm:ss", "hh:mm:ss.000", "hh:mm:ss.fff", "iso")
Values = dict[str, Floats]


@dataclass(frozen=True)
class Recorder:
    """One recorder. `noise` multiplies `NOISE`; `correlation` is between rows; `held` repeats each row's engine values."""

    rate: float = 4.0
    noise: float = 1.0
    correlation: float = 0.0
    step: float = 1.0
    held: int = 1
    stale: Mapping[str, int] = field(default_factory=dict)
    clock: str = "elapsed"
    columns: Sequence[str] = ALL
    headings: Mapping[str, str] = field(default_factory=lambda: HEADINGS)
    phase: float = 0.0
    cut: tuple[float, float] = (0.0, 1e9)
    amps_late: float = 0.0
    rest_told: bool = True
    spread: Mapping[str, float] = field(default_factory=lambda: NOISE)

    def but(self, **more: object) -> Recorder:
        """Return it with something else."""
        return replace(self, **more)  # type: ignore[arg-type]


def rows(flight: Flight, recorder: Recorder) -> Floats:
    """Return the instants of the rows, [s] of the flight."""
    begin = max(recorder.cut[0], 0.0)
    end = min(recorder.cut[1], float(flight.t[-1]))
    count = int((end - begin) * recorder.rate) + 1
    t = begin + (np.arange(count) + recorder.phase) / recorder.rate
    return np.asarray(t[t <= end + 1e-9], dtype=np.float64)


def sampled(flight: Flight, recorder: Recorder, seed: Sequence[int]) -> tuple[Floats, Values]:
    """Return the rows' instants and what stands in them."""
    rng = np.random.default_rng(list(seed))
    t = rows(flight, recorder)
    out: Values = {}
    for name in recorder.columns:
        if name in ("starter", "fuel_on"):
            spans = flight.starter if name == "starter" else flight.fuel
            values = np.zeros(t.size)
            for a, b in spans:
                values[(t >= a) & (t < b)] = 1.0
        elif name in DISCRETE:
            k = np.clip(np.searchsorted(flight.t, t, side="right") - 1, 0, flight.t.size - 1)
            values = flight.states[name][k]
        else:
            seen = t - recorder.amps_late if name == "battery_amps" else t
            values = np.interp(seen, flight.t, flight.states[name])
            values = values + scatter(
                rng, t.size, recorder.noise * recorder.spread[name], recorder.correlation
            )
            step = recorder.step * STEP[name]
            if step:
                values = np.round(values / step) * step
            if name in ("ng", "np", "fuel_flow", "oil_press", "ias"):
                values = np.maximum(values, 0.0)
        every = recorder.stale.get(name, recorder.held)
        if every > 1:
            values = values[np.arange(t.size) // every * every]
        out[name] = values
    return t, out


def scatter(rng: np.random.Generator, count: int, spread: float, correlation: float) -> Floats:
    """Return noise of a standard deviation, each value leaning on the one before by `correlation`."""
    white: Floats = rng.standard_normal(count)
    if correlation:
        fresh = np.sqrt(1.0 - correlation**2)
        value = 0.0
        for k, one in enumerate(white.tolist()):
            value = one if k == 0 else correlation * value + fresh * one
            white[k] = value
    return spread * white


def text(
    flight: Flight,
    recorder: Recorder,
    seed: Sequence[int],
    spoil: Callable[[Floats, Values], None] | None = None,
    more: Callable[[Floats, Values], Mapping[str, Floats]] | None = None,
    preamble: Sequence[str] = (),
) -> str:
    """Return the CSV text. `spoil` changes the values as a fault would; `more` gives columns by their headings."""
    t, values = sampled(flight, recorder, seed)
    if spoil is not None:
        spoil(t, values)
    columns = {recorder.headings[name]: values[name] for name in recorder.columns}
    if more is not None:
        columns |= more(t, values)
    whole = {h for n, h in recorder.headings.items() if n in DISCRETE}
    lines = [*preamble]
    if recorder.rest_told:
        lines.append("# starter-rest-before-s: 90000")
    lines.append(",".join(["Time (s)" if recorder.clock == "elapsed" else "Time", *columns]))
    form = ",".join("%.0f" if h in whole or h.startswith(("Starter", "Fuel On")) else "%.2f" for h in columns)
    clock = [stamp(s, recorder.clock) for s in (t - t[0] if recorder.clock == "elapsed" else t).tolist()]
    body = zip(*(c.tolist() for c in columns.values()), strict=True)
    lines += [f"{c},{form % row}" for c, row in zip(clock, body, strict=True)]
    return "\n".join(lines) + "\n"


def stamp(seconds: float, clock: str) -> str:
    """Return an instant as the recorder's clock writes it; the day begins at ten."""
    if clock == "elapsed":
        return f"{seconds:.3f}"
    total = round(36000.0 + seconds, 3)
    if clock in ("hh:mm:ss", "hh:mm:ss.000"):
        total = float(int(total + 1e-9))
    h, m, s = int(total // 3600), int(total // 60) % 60, total % 60
    if clock == "hh:mm:ss":
        return f"{h:02d}:{m:02d}:{int(s):02d}"
    if clock == "iso":
        return f"2031-05-04T{h:02d}:{m:02d}:{s:06.3f}Z"
    return f"{h:02d}:{m:02d}:{s:06.3f}"
