"""Ordinary recordings with nothing wrong: how many read "undetermined", and each finding is a false alarm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from tests.study.examiner.answers import Answer, Case, Target
from tests.study.examiner.asking import Made, Said
from tests.study.examiner.engine import Air, Electric, Flight, Fuel, Plan, fly
from tests.study.examiner.recorder import ALL, Recorder, text
from tests.study.examiner.rules import PROFILE

ABOUT = "110 ordinary recordings with nothing wrong; the rest before the starter is not known"
KINDS = (
    "flight on battery", "flight with cart", "flight, hot day", "flight, cold day", "two starts", "ground run",
    "touch and go", "no weight-on-wheels", "no fuel column", "no starter column", "start only",
    "no oil columns", "no volts", "start logger",
)  # fmt: skip
LACKING: dict[str, tuple[str, ...]] = {
    "no weight-on-wheels": ("weight_on_wheels",),
    "no fuel column": ("fuel_on",),
    "no starter column": ("starter",),
    "no oil columns": ("oil_temp", "oil_press"),
    "no volts": ("bus_volts", "battery_amps"),
    "start logger": tuple(c for c in ALL if c not in ("ng", "itt", "bus_volts", "starter", "fuel_on")),
}
RULES = (
    "hot_start", "hung_start", "no_light_off", "early_fuel", "low_start_voltage", "residual_heat", "fuel_reintroduced",
    "burning_after_cut", "motoring_short", "starter_overrun", "overtemp", "overtorque", "overspeed_ng", "overspeed_np",
    "oil_temp_high", "oil_press_low", "beta_in_flight", "other",
)  # fmt: skip


def targets() -> dict[str, Target]:
    """Return the mark of issue and design: at most 15 of 110 undetermined, no finding of any rule."""
    out = {"all: verdict": Target("within", false=15 / 110, missed=0.0, exact=True)}
    out |= {f"{kind}: verdict": Target("within", false=None, missed=0.0) for kind in KINDS}
    out |= {f"finding of {rule}": Target("none") for rule in RULES}
    out["attempts"] = Target("as many as made")
    return out


def cases(scale: float) -> list[Case]:
    """Return the recordings, the kinds in turn."""
    return [Case("ordinary", KINDS[n % len(KINDS)], n) for n in range(max(round(scale * 110), len(KINDS)))]


def drawn(kind: str, rng: np.random.Generator) -> tuple[Flight, Recorder]:
    """Return one of a kind, well inside all limits."""
    begin, motoring = float(rng.uniform(8.0, 30.0)), float(rng.uniform(10.5, 14.0))
    oat = {"flight, hot day": 34.0, "flight, cold day": -25.0}.get(kind, float(rng.uniform(0.0, 28.0)))
    on = begin + motoring
    # Taxi, take-off, climb, cruise, descent, landing, taxi, cut.
    taxi = float(rng.uniform(60.0, 140.0))
    up = on + 60.0 + taxi
    down = up + float(rng.uniform(360.0, 700.0))
    cut = down + float(rng.uniform(70.0, 150.0))
    end = cut + float(rng.uniform(20.0, 90.0))
    top, cruise = float(rng.uniform(88.0, 91.0)), float(rng.uniform(84.0, 88.0))
    power = [
        (on + 60.0, float(rng.uniform(63.0, 68.0))),
        (up - 25.0, top),
        (up + 80.0, cruise),
        (down - 150.0, 74.0),
        (down - 4.0, 63.0),
        (down + 20.0, 63.0),
        (cut - 45.0, 61.5),
    ]
    air = [Air(up, down, float(rng.uniform(1800.0, 3500.0)))]
    fuel = Fuel(
        on,
        on + float(rng.uniform(0.6, 2.0)),
        cut,
        float(rng.uniform(640.0, 745.0)) + 0.4 * (oat - 15.0),
        float(rng.uniform(5.0, 8.0)),
        float(rng.uniform(1.8, 2.4)),
    )
    starters: list[tuple[float, float | None]] = [(begin, None)]
    fuels = [fuel]
    if kind in ("ground run", "start only", "start logger"):
        air, end = [], on + (150.0 if kind == "ground run" else 70.0)
        power = [(on + 60.0, 75.0), (on + 90.0, 61.5)]
        fuels = [replace(fuel, off=on + 110.0 if kind == "ground run" else 1e6)]
    elif kind == "touch and go":
        again, second = down + 22.0, down + 320.0
        power = [
            *power[:5],
            (again - 18.0, top),
            (again + 60.0, 82.0),
            (second - 120.0, 74.0),
            (second - 4.0, 63.0),
            (second + 60.0, 61.5),
        ]
        air = [air[0], Air(again + 4.0, second, 1500.0)]
        cut = second + 110.0
        fuels, end = [replace(fuel, off=cut)], cut + 40.0
    elif kind == "two starts":
        # Motored dry before the second start, so that it is not hot when fuel comes.
        third = cut + 420.0
        starters.append((third, None))
        fuels.append(replace(fuel, on=third + 13.0, light=third + 14.2, off=1e6))
        end = third + 90.0
    electric = Electric(
        float(rng.uniform(24.6, 25.8)), float(rng.uniform(7.0, 10.5)), cart=kind == "flight with cart"
    )
    hot = oat + float(rng.uniform(30.0, 110.0)) if rng.random() < 0.3 else None
    flight = fly(
        Plan(
            end,
            tuple(starters),
            tuple(fuels),
            tuple(power),
            electric,
            tuple(air),
            oat,
            hot,
            governor=float(rng.uniform(1.0, 5.0)),
            release_c=float(rng.uniform(0.0, 40.0)),
        )
    )
    lacking = LACKING.get(kind, ())
    rate = float(rng.choice((1.0, 2.0, 4.0, 16.0)))
    recorder = Recorder(
        rate, float(rng.choice((0.0, 0.5, 1.0))), float(rng.choice((0.0, 0.0, 0.5))), phase=float(rng.random()),
        columns=tuple(c for c in ALL if c not in lacking), rest_told=False,
    )  # fmt: skip
    return flight, recorder


def made(case: Case, seed: int) -> Made:
    """Return the recording."""
    flight, recorder = drawn(case.row, np.random.default_rng([seed, case.seed]))
    return Made(text(flight, recorder, (seed, case.seed)), PROFILE, len(flight.starter))


def judged(case: Case, made: Made, said: Said) -> Sequence[Answer]:
    """Return the verdict, and of each rule whether it cried wolf."""
    wrong = {"within": "", "undetermined": "false"}.get(said.verdict, "missed")
    out = [Answer(row, said.verdict, wrong) for row in ("all: verdict", f"{case.row}: verdict")]  # type: ignore[arg-type]
    kinds = {e["kind"] if e["kind"] in RULES else "other" for e in said.events}
    for rule in RULES:
        severity = next((e["severity"] for e in said.events if e["kind"] == rule), "other")
        out.append(
            Answer(
                f"finding of {rule}", severity if rule in kinds else "none", "false" if rule in kinds else ""
            )
        )
    count = len(said.starts)
    out.append(Answer("attempts", f"{count} of {made.truth}", "" if count == made.truth else "false"))
    return out
