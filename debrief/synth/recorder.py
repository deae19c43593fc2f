"""The recorder: samples the model's states, adds the sensor's noise and resolution, and writes a CSV."""

from __future__ import annotations

import zlib
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from debrief.synth.columns import DISCRETES, UNITS
from debrief.synth.flight import Simulation
from debrief.synth.scenario import Column

_NEVER_NEGATIVE = frozenset(
    ["ng", "np", "fuel_flow", "torque", "oil_press", "ias", "wind_speed", "power_lever", "generator_amps"]
)


def _decimals(resolution: float) -> int:
    """Return how many decimals show this resolution: 0.5 gives 1, 1 gives 0."""
    for decimals in range(5):
        if abs(resolution * 10**decimals - round(resolution * 10**decimals)) < 1e-9:
            return decimals
    return 5


def row_ticks(simulation: Simulation) -> NDArray[np.int64]:
    """Return the rows' times in whole 0.1 ms, (m,), from 0 to the last that fits the simulation."""
    every = round(1e4 / simulation.scenario.recorder.rate_hz)
    return np.arange(0, 10 * (simulation.time_s.size - 1) + 1, every, dtype=np.int64)


def cells(simulation: Simulation, column: Column) -> list[str]:
    """Return one column's cells, one a row; blank where it was not sampled.

    A row between two steps of the model takes the straight line between them. Noise comes from a
    generator seeded with the scenario's seed and the column's header, so that adding a column changes
    no other.
    """
    recorder = simulation.scenario.recorder
    ticks = row_ticks(simulation)
    times = ticks / 1e4
    every = round(recorder.rate_hz / column.rate_hz)
    wanted = np.arange(ticks.size) % every == 0
    for begin, end in column.blank:
        wanted &= ~((times >= begin) & (times < end))
    states = simulation.states[column.channel]
    before = ticks // 10
    if column.channel in DISCRETES:
        off, on = column.words or ("0", "1")
        return [
            (on if value >= 0.5 else off) if use else ""
            for value, use in zip(states[before], wanted, strict=True)
        ]
    after = np.minimum(before + 1, states.size - 1)
    share = (ticks % 10) / 10.0
    sampled = states[before] + share * (states[after] - states[before])
    factor, offset = UNITS[column.channel, column.unit]
    values = sampled * factor + offset  # a new array: the states stay as they are
    if column.noise > 0.0:
        key = zlib.crc32(column.header.encode("utf-8"))
        generator = np.random.default_rng([simulation.scenario.seed, key])
        values = values + column.noise * generator.standard_normal(values.size)
    for at_s, value in column.spikes:
        later = np.flatnonzero(wanted & (times >= at_s))
        values[later[:1]] = value
    if column.channel in _NEVER_NEGATIVE:
        values = np.maximum(values, 0.0)
    counts = np.round(values / column.resolution)
    if column.channel in ("heading", "wind_from"):
        counts = counts % round(360.0 / column.resolution)
    decimals = _decimals(column.resolution)
    texts = []
    for count, use in zip(counts, wanted, strict=True):
        text = f"{count * column.resolution + 0.0:.{decimals}f}" if use else ""
        texts.append(text.replace(".", recorder.decimal))
    return texts


def _time_cells(simulation: Simulation) -> list[str]:
    recorder = simulation.scenario.recorder
    decimals = _decimals(1.0 / recorder.rate_hz)
    ticks = [int(tick) for tick in row_ticks(simulation)]
    if recorder.time_format == "elapsed":
        return [f"{tick / 1e4:.{decimals}f}".replace(".", recorder.decimal) for tick in ticks]
    texts = []
    for tick in ticks:
        stamp = simulation.scenario.start + timedelta(microseconds=100 * tick)
        fraction = f".{stamp.microsecond:06d}"[: decimals + 1] if decimals else ""
        if recorder.time_format == "iso":
            zone = stamp.isoformat()[-6:].replace("+00:00", "Z")
            texts.append(f"{stamp:%Y-%m-%dT%H:%M:%S}{fraction}{zone}")
        else:
            texts.append(f"{stamp:%H:%M:%S}{fraction}")
    return texts


def csv_bytes(simulation: Simulation) -> bytes:
    """Return the recording of a simulation as its scenario's recorder would write it; lines end with a line feed."""
    scenario = simulation.scenario
    recorder = scenario.recorder
    stamp = scenario.start.isoformat().replace("+00:00", "Z")
    lines = [
        f"# engine-profile: {scenario.profile}",
        f"# aircraft: {scenario.aircraft}",
        f"# engine-serial: {scenario.engine_serial}",
        f"# engine-model: {scenario.engine_model}",
        f"# start: {stamp}",
        *(f"# {line}" for line in recorder.preamble),
    ]
    columns = [_time_cells(simulation)]
    columns += [cells(simulation, column) for column in recorder.columns]
    lines.append(recorder.delimiter.join([recorder.time_header, *(c.header for c in recorder.columns)]))
    if recorder.units_row:
        time_unit = {"elapsed": "s", "hms": "hh:mm:ss", "iso": "UTC"}[recorder.time_format]
        lines.append(recorder.delimiter.join([time_unit, *(c.unit for c in recorder.columns)]))
    lines += [recorder.delimiter.join(row) for row in zip(*columns, strict=True)]
    text = "\n".join(lines) + "\n"
    return text.encode("utf-8-sig" if recorder.bom else "utf-8")
