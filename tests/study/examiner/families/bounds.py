"""Bounds: the share of `low..high` that hold what is true, of every measure that has them, with ordinary noise."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tests.study.examiner import measures
from tests.study.examiner.answers import Answer, Case, Target
from tests.study.examiner.asking import Made, Said
from tests.study.examiner.engine import Air, Electric, Flight, Fuel, Plan, fly
from tests.study.examiner.recorder import Recorder, text
from tests.study.examiner.rules import PROFILE

ABOUT = "shares of bounds that hold the truth: short flights, ordinary noise, 1 to 16 Hz; the width is their median"
RATES = (1.0, 2.0, 4.0, 8.0, 16.0)
START = (
    "residual_itt_starter_on", "residual_itt_fuel_on", "peak_itt", "itt_rise_rate", "time_above_780", "time_above_850",
    "time_above_950", "rest_bus_volts", "min_bus_volts", "source_resistance", "ng_at_fuel", "ng_rate_at_fuel",
    "max_motoring_ng", "ng_acceleration", "ng_at_starter_on", "fuel_on", "fuel_to_light_off", "light_off_to_idle",
    "starter_total",
)  # fmt: skip
FLIGHT = (
    "highest_itt_running", "highest_torque_running", "highest_ng_running", "highest_np_running",
    "highest_oil_temp_running", "running_time", "airborne_time", "run_down",
)  # fmt: skip


def targets() -> dict[str, Target]:
    """Return 95 % for each measure, and for all at each rate."""
    rows = (*START, *FLIGHT, *(f"all, {rate:g} Hz" for rate in RATES), "all, correlated noise", "all")
    return {row: Target("in low..high", missed=0.05, covers=True) for row in rows}


def cases(scale: float) -> list[Case]:
    """Return the recordings; every fourth has noise that leans on the value before."""
    return [
        Case("bounds", "all", n, (RATES[n % 5], 0.5 if n % 4 == 3 else 0.0))
        for n in range(max(round(scale * 160), 4))
    ]


def drawn(rng: np.random.Generator) -> Flight:
    """Return a short flight drawn from ordinary and less ordinary ones; some go far above the start's levels."""
    begin, motoring = float(rng.uniform(8.0, 10.0)), float(rng.uniform(7.0, 12.0))
    on = begin + motoring
    top, land = float(rng.uniform(84.0, 91.5)), 300.0
    fuel = Fuel(
        on, on + float(rng.uniform(0.6, 2.5)), float(rng.uniform(350.0, 360.0)), float(rng.uniform(650.0, 1000.0)),
        float(rng.uniform(4.0, 9.0)), float(rng.uniform(1.6, 2.6)),
    )  # fmt: skip
    power = ((80.0, 75.0), (95.0, top), (180.0, 78.0), (land - 5.0, 63.0), (land + 15.0, 61.5))
    electric = Electric(float(rng.uniform(24.4, 26.0)), float(rng.uniform(6.0, 12.0)))
    oat = float(rng.uniform(-20.0, 35.0))
    hot = oat + float(rng.uniform(0.0, 150.0)) if rng.random() < 0.4 else None
    return fly(
        Plan(420.0, ((begin, None),), (fuel,), power, electric, (Air(110.0, land),), oat, hot, step=0.02)
    )


def made(case: Case, seed: int) -> Made:
    """Return the recording."""
    rate, correlation = case.about
    rng = np.random.default_rng([seed, case.seed])
    flight = drawn(rng)
    recorder = Recorder(rate, correlation=correlation, phase=float(rng.random()))
    return Made(
        text(flight, recorder, (seed, case.seed)),
        PROFILE,
        (measures.of_start(flight, recorder), measures.of_flight(flight)),
    )


def judged(case: Case, made: Made, said: Said) -> Sequence[Answer]:
    """Return of each pair of bounds whether it holds."""
    start, flight = made.truth
    if len(said.starts) != 1:
        return [Answer("all", "0", "missed")]
    out = []
    found = [*measures.held(start, measures.start_of(said)), *measures.held(flight, measures.flight_of(said))]
    for name, holds, width in found:
        rows = [name, f"all, {case.about[0]:g} Hz", "all"]
        if case.about[1]:
            rows.append("all, correlated noise")
        out += [Answer(row, f"{width:.4g}", "" if holds else "missed") for row in rows]
    return out
