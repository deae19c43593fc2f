"""Profiles with gaps: each key of [start] absent in turn. No real exceedance may vanish without being named."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from tests.study.examiner.answers import Answer, Case, Target, Wrong
from tests.study.examiner.asking import EVERYTHING, Made, Said
from tests.study.examiner.engine import Air, Electric, Flight, Fuel, Hang, Plan, eased, fly, start_plan
from tests.study.examiner.recorder import ALL, Recorder, text
from tests.study.examiner.rules import PROFILE, keys_of, without

ABOUT = (
    "one key of [start] absent; eight recordings, each with one real finding: found, or named as not judged"
)
# The finding: its kind, the keys that its rule is made of, words by which it may be named, and whether it is core.
FINDINGS: dict[str, tuple[str, tuple[str, ...], tuple[str, ...], bool]] = {
    "hot start": ("hot_start", (), ("itt-start", "hot start"), True),
    "overtemperature": ("overtemp", (), ("itt-running", "overtemp"), True),
    "overtorque aloft": ("overtorque", (), ("torque-running", "overtorque"), True),
    "hung": ("hung_start", ("hung_ng_rate_pct_per_s", "hung_for_s"), ("hung", "hang", "idle"), True),
    "early fuel": ("early_fuel", ("min_fuel_ng_pct", "advised_fuel_ng_pct", "fuel_control"), ("early fuel", "ng at fuel", "fuel"), False),
    "low volts": ("low_start_voltage", ("min_bus_volts", "nominal_bus_volts"), ("volt",), False),
    "five cranks": ("starter_overrun", (), ("starter", "attempt", "start"), False),
    "five cranks, no starter column": ("", (), ("attempt", "no start", "stopped"), False),
}  # fmt: skip
STRUCTURE = ("stopped_ng_pct", "idle_ng_pct", "idle_tolerance_pct", "light_off_rise_c", "start_window_max_s")
"""Keys that other rules may not be able to do without: what rests on them may be named instead of found."""


def targets() -> dict[str, Target]:
    """Return the targets: none wrong."""
    return {key: Target("found or named") for key in ("none absent", *keys_of("start"))}


def cases(scale: float) -> list[Case]:
    """Return the recordings."""
    return [
        Case("gaps", key, n, (finding, rate))
        for key in targets()
        for n, (finding, rate) in enumerate((f, r) for f in FINDINGS for r in (1.0, 4.0))
    ]


@cache
def flight(finding: str) -> Flight:
    """Return a recording with one real finding."""
    run, fuel = start_plan()
    power = ((80.0, 90.0), (220.0, 74.0), (265.0, 63.0))
    air = (Air(110.0, 270.0),)
    if finding == "hot start":
        return fly(Plan(120.0, (run,), (Fuel(19.0, 20.0, 1e6, peak_c=1000.0),)))
    if finding == "hung":
        # Lit, 0.1 %/s from 30 % on, cut after ten seconds of it; the starter goes on for 16 s and cools it.
        return fly(Plan(140.0, ((8.0, 52.5),), (Fuel(19.0, 20.0, 36.5, hang=Hang(30.0, 0.1, 60.0)),)))
    if finding == "early fuel":
        run, fuel = start_plan(motoring=2.2)
        return fly(Plan(120.0, (run,), (fuel,)))
    if finding == "low volts":
        return fly(Plan(120.0, (run,), (fuel,), electric=Electric(24.2, 14.0, amps=2100.0)))
    if finding.startswith("five cranks"):
        begins = (8.0, 22.0, 60.0, 140.0, 154.0)
        return fly(Plan(220.0, tuple((b, b + 10.0) for b in begins), ()))
    base = fly(Plan(330.0, (run,), (fuel,), power, air=air))
    share = eased((base.t - 148.0) / 2.0) * (1.0 - eased((base.t - 175.0) / 2.0))
    channel, level = ("itt", 810.0) if finding == "overtemperature" else ("torque", 109.0)
    old = base.states[channel]
    return base.but(**{channel: old + (level - old) * share})


def made(case: Case, seed: int) -> Made:
    """Return the recording and the profile without the key."""
    finding, rate = case.about
    phase = float(np.random.default_rng([seed, case.seed]).random())
    profile = PROFILE if case.row == "none absent" else without(case.row)
    columns = tuple(c for c in ALL if c != "starter" or "no starter" not in finding)
    return Made(
        text(flight(finding), Recorder(rate, 0.5, phase=phase, columns=columns), (seed, case.seed)),
        profile,
        finding,
    )


def judged(case: Case, made: Made, said: Said) -> Sequence[Answer]:
    """Return whether the finding was made or named."""
    kind, own, words, core = FINDINGS[made.truth]
    wrong: Wrong = "missed"
    if any(e["kind"] == kind and e["severity"] in ("limit", "possible", "caution") for e in said.events):
        word, wrong = "found", ""
    elif not kind and len(said.starts) >= 3:
        # Nothing tells that the starter was on: what can be found are the attempts; some lie too close to part.
        word, wrong = "found", ""
    elif said.document is None:
        word = "refused"
    elif EVERYTHING in said.sentence:
        word = f"{made.truth}: everything judged"
    elif case.row not in (*STRUCTURE, *own):
        word = f"{made.truth}: lost"
    elif not said.open_points(*words):
        word = f"{made.truth}: not named"
    elif core and said.verdict == "within":
        word = f"{made.truth}: within"
    else:
        word, wrong = "named", ""
    return [Answer(case.row, word, wrong)]
