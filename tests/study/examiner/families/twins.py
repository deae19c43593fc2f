"""Two engines under headings of many kinds; one goes to 1045 °C in its start: it must be found or asked about."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import cache

from tests.study.examiner.answers import Answer, Case, Target, Wrong
from tests.study.examiner.asking import Made, Said
from tests.study.examiner.engine import Flight, Floats, Plan, fly, start_plan
from tests.study.examiner.recorder import HEADINGS, Recorder, Values, sampled, text
from tests.study.examiner.rules import PROFILE

ABOUT = "two engines, one of them to 1045 °C in its start; found, or asked about with a verdict that is not within"
SHARED = ("oat", "bus_volts")
OWN = ("ng", "itt", "starter", "fuel_on", "torque", "np")
PLAIN = {"ng": "Ng", "itt": "ITT", "starter": "Starter", "fuel_on": "Fuel On", "torque": "Torque", "np": "Np"}
UNIT = {"ng": " (%)", "itt": " (degC)", "torque": " (%)", "np": " (rpm)"}
# Each with the heading of the first and of the second engine: N is the plain name, n the published one, U the unit.
STYLES = {
    "Ng (%), Ng 2 (%)": ("NU", "N 2U"),
    "Ng 1, Ng 2": ("N 1U", "N 2U"),
    "Ng1, Ng2": ("N1U", "N2U"),
    "itt, itt.2": ("n", "n.2"),
    "itt.1, itt.2": ("n.1", "n.2"),
    "itt_1, itt_2": ("n_1", "n_2"),
    "itt_lt, itt_rh": ("n_lt", "n_rh"),
    "itt_lh, itt_rh": ("n_lh", "n_rh"),
    "itt_l, itt_r": ("n_l", "n_r"),
    "Left Ng, Right Ng": ("Left NU", "Right NU"),
    "Ng Left, Ng Right": ("N LeftU", "N RightU"),
    "L Ng, R Ng": ("L NU", "R NU"),
    "Ng L, Ng R": ("N LU", "N RU"),
    "LH ITT, RH ITT": ("LH NU", "RH NU"),
    "Engine 1 Ng, Engine 2 Ng": ("Engine 1 NU", "Engine 2 NU"),
    "Eng1 Ng, Eng2 Ng": ("Eng1 NU", "Eng2 NU"),
    "E1 Ng, E2 Ng": ("E1 NU", "E2 NU"),
    "#1 Ng, #2 Ng": ("#1 NU", "#2 NU"),
    "Ng [1], Ng [2]": ("N [1]U", "N [2]U"),
    "No. 1 Ng, No. 2 Ng": ("No. 1 NU", "No. 2 NU"),
    "Ng, Ng (right)": ("NU", "N right"),
    "Ng, 2nd Ng": ("NU", "2nd NU"),
}


def targets() -> dict[str, Target]:
    """Return the targets: nothing lost, and each finding names its engine."""
    out: dict[str, Target] = {}
    for name in STYLES:
        out[name] = Target("hot start, engine told")
        out[f"{name}: the sentence"] = Target("names the engine")
    return out


def cases(scale: float) -> list[Case]:
    """Return the recordings: the second engine is hot, or the first, at three rates."""
    every = [(hot, rate) for hot in (2, 1) for rate in (1.0, 4.0, 16.0)]
    return [Case("twins", name, n, about) for name in STYLES for n, about in enumerate(every)]


@cache
def flight(begin: float, peak: float) -> Flight:
    """Return one engine's start."""
    run, fuel = start_plan(begin, peak_c=peak)
    return fly(Plan(240.0, (run,), (fuel,)))


def heading(style: str, name: str) -> str:
    """Return a heading in a style."""
    out = "".join(
        {"N": PLAIN[name], "n": name, "U": UNIT.get(name, "")}.get(c, c) if _alone(style, k) else c
        for k, c in enumerate(style)
    )
    return out


def _alone(style: str, k: int) -> bool:
    """Return whether a letter of a style stands for something: N, n and U do where they are no part of a word."""
    before = style[k - 1] if k else " "
    after = style[k + 1] if k + 1 < len(style) else " "
    if style[k] == "U":
        return k == len(style) - 1
    return (
        not before.isalpha()
        and (not after.isalpha() or after == "U" or style[k:] == "NU")
        and style[k:] != "No."
    )


def made(case: Case, seed: int) -> Made:
    """Return the recording."""
    hot, rate = case.about
    first, second = (flight(10.0, 1045.0 if hot == 1 else 728.0), flight(90.0, 1045.0 if hot == 2 else 728.0))
    styles = STYLES[case.row]
    headings = {**HEADINGS, **{name: heading(styles[0], name) for name in OWN}}
    recorder = Recorder(rate, columns=(*SHARED, *OWN), headings=headings)
    other = recorder.but(columns=OWN)

    def more(t: Floats, values: Values) -> Mapping[str, Floats]:
        _, mine = sampled(second, other, (seed, case.seed, 2))
        return {heading(styles[1], name): mine[name] for name in OWN}

    return Made(text(first, recorder, (seed, case.seed), more=more), PROFILE, hot)


def judged(case: Case, made: Made, said: Said) -> Sequence[Answer]:
    """Return whether the hot engine was found or asked about, and named."""
    hot = [
        e
        for e in said.events
        if e["kind"] == "hot_start" and e["severity"] == "limit" and (e["peak"] or 0) > 1000
    ]
    word: str
    wrong: Wrong = ""
    if hot:
        right = {e["engine"] for e in hot} == {made.truth}
        word, wrong = ("found", "") if right else (f"engine {hot[0]['engine']} for {made.truth}", "false")
    elif said.verdict != "within" and said.questions:
        word = "asked"
    else:
        word, wrong = f"silent, {said.verdict}", "missed"
    out = [Answer(case.row, word, wrong)]
    if hot:
        named = re.search(r"engine \d|left|right", said.sentence.lower()) is not None
        out.append(
            Answer(f"{case.row}: the sentence", "named" if named else "not named", "" if named else "missed")
        )
    return out
