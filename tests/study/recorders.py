"""Recorders of the study: how often, how finely, how reliably the states were written down."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from debrief.recording.model import Channel, Identity, Recording
from debrief.recording.quality.data_quality import resolution
from debrief.synth.flight import Simulation
from debrief.words.channels import CANONICAL, DISCRETE
from tests.study.dense import Floats, Ints, Sampling

RATES_HZ = (1.0, 2.0, 3.0, 4.0, 5.0, 8.0, 10.0, 16.0)
ENGINE = ("ng", "itt", "np", "torque", "fuel_flow", "power_lever", "oil_temp", "oil_press")
ELECTRIC = ("bus_volts", "battery_amps")
SWITCHES = ("starter", "ignition", "fuel_on", "generator_on", "external_power", "weight_on_wheels")
AIR = ("ias", "palt", "oat", "heading", "wind_speed", "wind_from")

STEPS: dict[str, tuple[float, ...]] = {
    "ng": (0.01, 0.1, 0.1, 0.5),
    "itt": (0.1, 1.0, 1.0, 5.0),
    "np": (0.1, 1.0, 10.0),
    "torque": (0.01, 0.1, 0.5),
    "fuel_flow": (0.1, 1.0),
    "power_lever": (0.5,),
    "oil_temp": (0.1, 1.0),
    "oil_press": (0.1, 1.0),
    "bus_volts": (0.01, 0.05, 0.1),
    "battery_amps": (1.0, 5.0),
}
"""Steps that a recorder may have, [channel's unit], fine to coarse."""

NOISE = {
    "ng": 0.04,
    "itt": 0.8,
    "np": 1.5,
    "torque": 0.15,
    "fuel_flow": 0.1,
    "oil_temp": 0.2,
    "oil_press": 0.3,
    "bus_volts": 0.02,
    "battery_amps": 1.5,
}
"""Standard deviation of the usual noise, [channel's unit]; a recorder has 0, 0.4 or 1 times it."""

MISSING = ((), (), (), (), (), ("fuel_on",), ("fuel_on", "fuel_flow"), ("starter",), ("bus_volts",), ("itt",), ("ng",), ("external_power",))  # fmt: skip


@dataclass(frozen=True)
class Recorder:
    """How one recorder writes. `losses` are stretches, [s], in which nothing at all was written."""

    rate_hz: float
    jitter: float
    drop_share: float
    losses: tuple[tuple[float, float], ...]
    missing: tuple[str, ...]
    noise: float
    fineness: dict[str, float]
    slow_switches: int
    slow_oil: int
    phase: float
    seed: int


@dataclass(frozen=True)
class Taken:
    """A recording with what the study knows of how it came about."""

    recorder: Recorder
    recording: Recording
    first_step: int
    sampling: dict[str, Sampling] = field(default_factory=dict)

    def time_of(self, step: int) -> float:
        """Return the recording's time of a step, [s]."""
        return (step - self.first_step) / 1000.0


def draw(rng: np.random.Generator, duration_s: float) -> Recorder:
    """Return a recorder; about every second one is a good one."""
    rate = float(rng.choice(RATES_HZ))
    jittered, dropping, losing, lacking = rng.random(4) < (0.3, 0.2, 0.15, 0.35)
    losses: list[tuple[float, float]] = []
    if losing:
        for _ in range(int(rng.integers(1, 3))):
            begin = float(rng.uniform(2.0, duration_s - 6.0))
            losses.append((begin, begin + float(rng.uniform(1.0, 5.0))))
    return Recorder(
        rate_hz=rate,
        jitter=float(rng.uniform(0.05, 0.3)) if jittered else 0.0,
        drop_share=float(rng.uniform(0.01, 0.06)) if dropping else 0.0,
        losses=tuple(losses),
        missing=MISSING[int(rng.integers(len(MISSING)))] if lacking else (),
        noise=float(rng.choice((0.0, 0.0, 0.4, 1.0))),
        fineness={name: float(rng.choice(steps)) for name, steps in STEPS.items()},
        slow_switches=int(rng.choice((1, 1, 1, 2))) if rate >= 4 else 1,
        slow_oil=int(rng.choice((1, 2, 4))) if rate >= 4 else 1,
        phase=float(rng.random()),
        seed=int(rng.integers(2**31)),
    )


def _rows(recorder: Recorder, size: int, rng: np.random.Generator) -> Ints:
    """Return the steps of the rows, rising."""
    every = 1000.0 / recorder.rate_hz
    count = int((size - 1) / every) - 1
    at = (np.arange(count) + recorder.phase) * every
    if recorder.jitter:
        at = at + np.clip(rng.normal(0.0, recorder.jitter * every, count), -0.45 * every, 0.45 * every)
    keep = rng.random(count) >= recorder.drop_share
    for begin, end in recorder.losses:
        keep &= (at < 1000.0 * begin) | (at >= 1000.0 * end)
    keep[0] = keep[-1] = True
    rows: Ints = np.unique(np.clip(np.round(at[keep]), 0, size - 1).astype(np.int64))
    return rows


def take(simulation: Simulation, recorder: Recorder) -> Taken:
    """Return the recording of a simulation by a recorder."""
    rng = np.random.default_rng(recorder.seed)
    rows = _rows(recorder, simulation.time_s.size, rng)
    first = int(rows[0])
    channels: dict[str, Channel] = {}
    sampling: dict[str, Sampling] = {}
    for name in (*ENGINE, *ELECTRIC, *SWITCHES, *AIR):
        every = 1
        if name in SWITCHES:
            every = recorder.slow_switches
        elif name.startswith("oil"):
            every = recorder.slow_oil
        steps = rows[::every]
        values: Floats = simulation.states[name][steps].copy()
        noise = 0.0
        step = recorder.fineness.get(name, 1.0 if name in AIR else 0.0)
        if name in NOISE:
            noise = recorder.noise * NOISE[name]
            values += noise * rng.standard_normal(values.size)
        if step and name not in DISCRETE:
            values = np.round(values / step) * step
            if name in ("ng", "np", "torque", "fuel_flow", "oil_press"):
                values = np.maximum(values, 0.0)
        sampling[name] = Sampling(steps, 0.0 if name in DISCRETE else 0.5 * step, noise)
        if name in recorder.missing:
            continue
        channels[name] = Channel(
            name,
            CANONICAL[name],
            (steps - first) / 1000.0,
            values,
            resolution=None if name in DISCRETE else resolution(values),
        )
    duration_s = float((rows[-1] - first) / 1000.0)
    recording = Recording(channels, duration_s, identity=Identity(engine_model="TG-7"))
    return Taken(recorder, recording, first, sampling)
