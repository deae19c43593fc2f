"""Beta: normal landings are none, with or without weight-on-wheels; a lever below the gate aloft is one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tests.study.examiner.answers import Answer, Case, Target
from tests.study.examiner.asking import Made, Said
from tests.study.examiner.engine import Air, Plan, fly, start_plan
from tests.study.examiner.recorder import ALL, Recorder, text
from tests.study.examiner.rules import PROFILE

ABOUT = "60 normal landings, lever below the gate 0.3 to 3 s after touchdown; and 4 s below it at height"
COLUMNS = {
    "with weight-on-wheels": ALL,
    "without weight-on-wheels": tuple(c for c in ALL if c != "weight_on_wheels"),
    "airspeed alone": tuple(c for c in ALL if c not in ("weight_on_wheels", "palt")),
}


def targets() -> dict[str, Target]:
    """Return the targets: none wrong."""
    out: dict[str, Target] = {}
    for name in COLUMNS:
        out[f"normal landing, {name}"] = Target("no finding, within")
        out[f"below the gate at height, {name}"] = Target(
            "found" if name != "airspeed alone" else "found or named"
        )
    return out


def cases(scale: float) -> list[Case]:
    """Return the recordings."""
    out = []
    for name in COLUMNS:
        out += [
            Case("beta", f"normal landing, {name}", n, (name, False))
            for n in range(max(round(scale * 60), 4))
        ]
        out += [
            Case("beta", f"below the gate at height, {name}", n, (name, True))
            for n in range(max(round(scale * 12), 2))
        ]
    return out


def made(case: Case, seed: int) -> Made:
    """Return the recording."""
    name, aloft = case.about
    rng = np.random.default_rng([seed, case.seed])
    run, fuel = start_plan(off=480.0)
    power = ((80.0, 89.0), (300.0, 74.0), (395.0, 63.0), (440.0, 61.5))
    down = 400.0
    flight = fly(Plan(520.0, (run,), (fuel,), power, air=(Air(112.0, down, 2200.0),)))
    lever, t = flight.states["power_lever"].copy(), flight.t
    after = float(rng.uniform(0.3, 3.0))
    lever[(t >= down) & (t < down + 12.0)] = 24.0
    lever[(t >= down + after) & (t < down + after + float(rng.uniform(3.0, 8.0)))] = float(
        rng.uniform(2.0, 12.0)
    )
    if aloft:
        lever[(t >= 250.0) & (t < 254.0)] = 10.0
    recorder = Recorder(
        float(rng.choice((1.0, 2.0, 4.0, 16.0))), phase=float(rng.random()), columns=COLUMNS[name], noise=1.0
    )
    return Made(text(flight.but(power_lever=lever), recorder, (seed, case.seed)), PROFILE, aloft)


def judged(case: Case, made: Made, said: Said) -> Sequence[Answer]:
    """Return whether beta was called, and of what."""
    found = [e for e in said.events if e["kind"] == "beta_in_flight"]
    if not made.truth:
        if found:
            return [Answer(case.row, str(found[0]["severity"]), "false")]
        return [Answer(case.row, said.verdict, "" if said.verdict == "within" else "false")]
    if any(e["start_s"] > 300.0 for e in found):
        return [Answer(case.row, "the landing too", "false")]
    if found:
        return [Answer(case.row, str(found[0]["severity"]))]
    named = said.open_points("beta") and "airspeed alone" in case.row
    return [Answer(case.row, "named" if named else "nothing", "" if named else "missed")]
