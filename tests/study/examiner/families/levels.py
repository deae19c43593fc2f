"""Values that stand at a level: the answer must not depend on how often the recorder looked (design 6, the rate law)."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from tests.study.examiner.answers import Answer, Case, Target, Wrong
from tests.study.examiner.asking import Made, Said
from tests.study.examiner.engine import Flight, Floats, Plan, eased, fly, start_plan
from tests.study.examiner.recorder import NOISE, Recorder, text
from tests.study.examiner.rules import PROFILE

ABOUT = "a value stands at a level for half an hour, or above it for twice the time allowed"
HELD_S = 1800.0
FROM_S = 100.0
RATES = (1.0, 4.0, 16.0)
# channel: (level, seconds allowed, level of a row that allows nothing)
LEVELS = {"itt": (785.0, 5.0), "np": (1915.0, 20.0), "torque": (106.0, 10.0)}
PLACES = {
    "2 below": -2.0,
    "0.6 below": -0.6,
    "at": 0.0,
    "1.5 above": 1.5,
    "3 above, twice the time": 3.0,
}
ZERO = ("ng", 103.0)


def targets() -> dict[str, Target]:
    """Return the law of design 6 as targets."""
    out: dict[str, Target] = {}
    for place in PLACES:
        for channel in LEVELS:
            for rate in RATES:
                out[_row(channel, place, rate)] = _law(place)
        for rate in RATES:
            out[f"all: {place}, {rate:g} Hz"] = _law(place)
    for rate in RATES:
        out[_row(ZERO[0], "2 below, nothing allowed", rate)] = Target("not exceeded", false=0.02)
    for place in ("2 below", "at"):
        for how in ("correlated 0.7", "each row four times", "fine steps", "coarse steps"):
            out[f"itt {place}, 4 Hz, {how}"] = _law(place)
    return out


def _law(place: str) -> Target:
    if place == "2 below":
        return Target("nothing to find", false=0.02)
    if place in ("0.6 below", "at"):
        return Target("not exceeded", false=0.02)
    if place == "1.5 above":
        return Target("at least possible", missed=0.02)
    return Target("exceeded", missed=0.02)


def _row(channel: str, place: str, rate: float) -> str:
    return f"{channel} {place}, {rate:g} Hz"


def cases(scale: float) -> list[Case]:
    """Return the recordings: those of few rows in greater number."""
    out = []
    for place, deviations in PLACES.items():
        for channel in LEVELS:
            for rate in RATES:
                for n in range(max(round(scale * 60), 3)):
                    out.append(Case("levels", _row(channel, place, rate), n, (channel, deviations, rate, "")))
    for rate in RATES:
        row = _row(ZERO[0], "2 below, nothing allowed", rate)
        out += [Case("levels", row, n, (ZERO[0], -2.0, rate, "")) for n in range(max(round(scale * 18), 3))]
    for place in ("2 below", "at"):
        for how in ("correlated 0.7", "each row four times", "fine steps", "coarse steps"):
            row = f"itt {place}, 4 Hz, {how}"
            out += [
                Case("levels", row, n, ("itt", PLACES[place], 4.0, how))
                for n in range(max(round(scale * 36), 3))
            ]
    return out


@cache
def _flight(duration: float) -> Flight:
    run, fuel = start_plan()
    return fly(Plan(duration, (run,), (fuel,), power=((70.0, 82.0),)))


def held(channel: str, value: float, seconds: float) -> Flight:
    """Return a flight in which a channel stands at a value from `FROM_S` on, led there and back in two seconds."""
    base = _flight(FROM_S + seconds + 40.0)
    old: Floats = base.states[channel]
    share = eased((base.t - FROM_S + 2.0) / 2.0) * (1.0 - eased((base.t - FROM_S - seconds) / 2.0))
    return base.but(**{channel: old + (value - old) * share})


def made(case: Case, seed: int) -> Made:
    """Return the recording; the noise is that of the channel, with a fresh place between its steps each time."""
    channel, deviations, rate, how = case.about
    level, allowed = LEVELS.get(channel, (ZERO[1], 0.0))
    seconds = 2.0 * allowed if deviations == 3.0 else HELD_S
    flight = held(channel, level + deviations * NOISE[channel], seconds)
    recorder = Recorder(
        rate, phase=float(np.random.default_rng([seed, case.seed, 1]).random()), columns=COLUMNS
    )
    if how == "correlated 0.7":
        recorder = recorder.but(correlation=0.7)
    elif how == "each row four times":
        recorder = recorder.but(held=4)
    elif how == "fine steps":
        recorder = recorder.but(step=0.01)
    elif how == "coarse steps":
        recorder = recorder.but(step=3.0)
    return Made(text(flight, recorder, (seed, case.seed)), PROFILE, (channel, level))


COLUMNS = (
    "oat",
    "ng",
    "itt",
    "bus_volts",
    "starter",
    "fuel_on",
    "fuel_flow",
    "np",
    "torque",
    "oil_temp",
    "oil_press",
    "ias",
    "power_lever",
)


def judged(case: Case, made: Made, said: Said) -> Sequence[Answer]:
    """Return how strongly the level itself was called passed."""
    channel, level = made.truth
    if said.document is None:
        return [Answer(case.row, "refused", "missed")]
    order = ("exceeded", "possible", "caution")
    # The result of the level itself: an event's severity may be that of a lower level, which is truly passed.
    results = [
        str(level_of["result"])
        for e in said.events
        if e["channel"] == channel
        for level_of in e["levels"]
        if level_of["level"] == level and level_of["result"] in order
    ]
    word = min(results, key=order.index) if results else "nothing"
    deviations = case.about[1]
    wrong: Wrong = ""
    if deviations == -2.0 and case.about[0] != ZERO[0]:
        wrong = "false" if results else ""
    elif deviations in (0.0, -0.6, -2.0):
        wrong = "false" if word == "exceeded" else ""
    elif deviations == 1.5:
        wrong = "missed" if word == "nothing" else ""
    else:
        wrong = "missed" if word != "exceeded" else ""
    shown = f"{word} ({len(results)} events)" if len(results) > 9 else word
    out = [Answer(case.row, "many events" if len(results) > 9 else shown, wrong)]
    if case.about[0] in LEVELS and case.about[3] == "":
        place = next(name for name, d in PLACES.items() if d == deviations)
        out.append(Answer(f"all: {place}, {case.about[2]:g} Hz", word, wrong))
    return out
