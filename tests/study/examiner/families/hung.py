"""Ng that gains less or more than the rule of the hung start, at several rates and noises; and slow governors."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from tests.study.examiner.answers import Answer, Case, Target, Wrong
from tests.study.examiner.asking import Made, Said
from tests.study.examiner.engine import Flight, Fuel, Hang, Plan, fly
from tests.study.examiner.recorder import NOISE, Recorder, text
from tests.study.examiner.rules import PROFILE

ABOUT = "lit at 46 % Ng and gaining so many times the rule of 0.3 %/s for 20 s, then on to idle or cut"
RULE = 0.3
GAINS = (0.5, 0.8, 0.95, 1.1, 1.3)
RATES = (0.5, 1.0, 2.0, 4.0, 16.0)
SPREADS = {"no noise": 0.0, "0.05 %": 0.05, "0.15 %": 0.15}


def targets() -> dict[str, Target]:
    """Return what design 6 asks; gains in between are printed only."""
    out: dict[str, Target] = {}
    for gain in GAINS:
        for rate in RATES:
            for noise, spread in SPREADS.items():
                out[_row(gain, rate, noise)] = _law(gain, rate, spread)
    for gain in (1.1, 1.3):
        out[f"{gain:g} x, cut after it: said to be hung"] = Target("aborted", false=0.01)
    out["0.5 x, cut after it: said to be hung"] = Target("hung", missed=0.02)
    out["governor slow to settle"] = Target("not hung", false=0.01)
    return out


def _law(gain: float, rate: float, spread: float) -> Target:
    if gain > 1.0:
        return Target("not hung", false=0.01)
    if gain > 0.5 or rate < 1 or (rate == 1.0 and spread > 0.1):
        return Target("hung, near the rule" if gain > 0.5 else "hung, hard to see", false=None, missed=None)
    return Target("hung", missed=0.02)


def _row(gain: float, rate: float, noise: str) -> str:
    return f"{gain:g} x, {rate:g} Hz, {noise}"


def cases(scale: float) -> list[Case]:
    """Return the recordings; every third is cut after the hang."""
    out = []
    for gain in GAINS:
        for rate in RATES:
            for noise, spread in SPREADS.items():
                for n in range(max(round(scale * 24), 3)):
                    out.append(Case("hung", _row(gain, rate, noise), n, (gain, rate, spread, n % 3 == 2)))
    for n in range(max(round(scale * 60), 5)):
        about = (0.0, RATES[n % 5], tuple(SPREADS.values())[n % 3], False)
        out.append(Case("hung", "governor slow to settle", n, about))
    return out


@cache
def flight(gain: float, cut: bool) -> Flight:
    """Return a start that gains so many times the rule for 20 s; 0: a governor that settles slowly instead."""
    if gain == 0.0:
        # From 57 % on it takes 8.8 s to 59 %, and gains less than the rule for the last of them.
        return fly(
            Plan(
                100.0, ((8.0, None),), (Fuel(19.0, 20.0, 1e6),), power=((0.0, 60.0),), governor=8.0, step=0.02
            )
        )
    hang = Hang(46.0, RULE * gain, 20.0)
    fuel = Fuel(19.0, 20.0, 56.0 if cut else 1e6, hang=hang)
    # After a cut the starter motors again for 16 s, as the profile asks.
    starter = ((8.0, None), (57.0, 75.0)) if cut else ((8.0, None),)
    return fly(Plan(100.0, starter, (fuel,), step=0.02))


def made(case: Case, seed: int) -> Made:
    """Return the recording."""
    gain, rate, spread, cut = case.about
    phase = float(np.random.default_rng([seed, case.seed]).random())
    recorder = Recorder(
        rate,
        phase=phase,
        spread={**NOISE, "ng": spread},
        columns=("ng", "itt", "bus_volts", "starter", "fuel_on"),
    )
    return Made(text(flight(gain, bool(cut)), recorder, (seed, case.seed)), PROFILE, (gain, cut))


def judged(case: Case, made: Made, said: Said) -> Sequence[Answer]:
    """Return whether it was said to have stagnated."""
    gain, cut = made.truth
    flagged = [
        e for e in said.events
        if e["kind"] == "hung_start" and e["reason"] == "stagnated" and e["severity"] != "note"
    ]  # fmt: skip
    word = f"hung ({flagged[0]['severity']})" if flagged else "not hung"
    surely = any(e["severity"] in ("limit", "caution") for e in flagged)
    wrong: Wrong = "" if surely else "missed"
    if gain > 1.0 or gain == 0.0:
        wrong = "false" if flagged else ""
    out = [Answer(case.row, word, wrong)]
    if cut and gain in (0.5, 1.1, 1.3) and case.about[1] != 0.5:
        outcome = str(said.starts[0]["outcome"]) if said.starts else "no start"
        bad = (
            "false" if gain > 1 and outcome == "hung" else "missed" if gain < 1 and outcome != "hung" else ""
        )
        out.append(Answer(f"{gain:g} x, cut after it: said to be hung", outcome, bad))
    return out
