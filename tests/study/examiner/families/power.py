"""Battery, cart and ammeter: the resistance of the source holds what is true or is null; the current tells the source."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tests.study.examiner.answers import Answer, Case, Target, Wrong
from tests.study.examiner.asking import Made, Said
from tests.study.examiner.engine import Electric, Plan, fly, start_plan
from tests.study.examiner.recorder import Recorder, text
from tests.study.examiner.rules import PROFILE

ABOUT = "resistance of 8.6 mOhm, or none where a cart feeds the bus; a run of 50 s, 45 allowed from the battery, 60 from a cart"
TRUE = 8.6
# What is odd: polarisation in V, cart, ammeter's lag in s.
SOURCES: dict[str, tuple[float, bool, float]] = {
    "battery": (0.0, False, 0.0),
    "battery, polarised 0.5 V": (0.5, False, 0.0),
    "battery, polarised 1 V": (1.0, False, 0.0),
    "battery, polarised 2 V": (2.0, False, 0.0),
    "ammeter late 0.2 s": (0.0, False, 0.2),
    "ammeter late 0.3 s": (0.0, False, 0.3),
    "ammeter late 0.5 s": (0.0, False, 0.5),
    "cart that no column tells": (0.0, True, 0.0),
}


def targets() -> dict[str, Target]:
    """Return the targets: a value whose bounds do not hold is false; a plain battery has one."""
    out = {
        name: Target("null" if cart else "8.6 held, or null", false=0.05, missed=None)
        for name, (_, cart, _) in SOURCES.items()
    }
    out["battery"] = Target("8.6 held", false=0.05, missed=0.05)
    out["cart that no column tells"] = Target("null")
    out["50 s on the battery, the current tells"] = Target("limit")
    out["50 s on a cart that no column tells"] = Target("not limit")
    return out


def cases(scale: float) -> list[Case]:
    """Return the recordings."""
    rates = (2.0, 4.0, 8.0, 16.0)
    many = max(round(scale * 24), 4)
    out = [Case("power", name, n, (name, rates[n % 4], False)) for name in SOURCES for n in range(many)]
    for row, name in (
        ("50 s on the battery, the current tells", "battery"),
        ("50 s on a cart that no column tells", "cart that no column tells"),
    ):
        out += [Case("power", row, n, (name, rates[n % 4], True)) for n in range(max(many // 3, 4))]
    return out


def made(case: Case, seed: int) -> Made:
    """Return the recording."""
    name, rate, long = case.about
    sag, cart, late = SOURCES[name]
    run, fuel = start_plan()
    starter = (8.0, 58.0) if long else run
    electric = Electric(milliohm=TRUE, polarised=sag, cart=cart)
    flight = fly(Plan(110.0, (starter,), (fuel,), electric=electric, generator_after=25.0, step=0.02))
    phase = float(np.random.default_rng([seed, case.seed]).random())
    columns = ("oat", "ng", "itt", "bus_volts", "battery_amps", "starter", "fuel_on")
    recorder = Recorder(rate, columns=columns, phase=phase, amps_late=late)
    return Made(text(flight, recorder, (seed, case.seed)), PROFILE, (cart, long))


def judged(case: Case, made: Made, said: Said) -> Sequence[Answer]:
    """Return the resistance, or the severity of the run."""
    cart, long = made.truth
    wrong: Wrong = ""
    if long:
        over = [e for e in said.events if e["kind"] == "starter_overrun" and e["reason"] == "run_too_long"]
        word = str(over[0]["severity"]) if over else "nothing"
        wrong = "" if word == "limit" else "missed"
        if cart:
            wrong = "false" if word == "limit" else ""
        return [Answer(case.row, word, wrong)]
    measure = said.starts[0]["measures"].get("source_resistance") if said.starts else None
    if measure is None or measure["value"] is None:
        return [Answer(case.row, "null", "missed" if case.row == "battery" else "")]
    if cart:
        return [Answer(case.row, "a value" if measure["value"] > 0 else "below 0", "false")]
    if measure["low"] is None or measure["high"] is None:
        return [Answer(case.row, "no bounds", "" if abs(measure["value"] - TRUE) < 0.5 else "false")]
    holds = measure["low"] <= TRUE <= measure["high"]
    return [Answer(case.row, "held" if holds else "not held", "" if holds else "false")]
