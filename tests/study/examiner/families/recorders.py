"""One flight as many recorders write it: a good start, and ITT at 805 °C for 25 s, where 5 s above 785 are allowed."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from tests.study.examiner import measures
from tests.study.examiner.answers import Answer, Case, Target, Wrong
from tests.study.examiner.asking import Made, Said
from tests.study.examiner.engine import Air, Flight, Floats, Plan, eased, fly, start_plan
from tests.study.examiner.recorder import CLOCKS, Recorder, text
from tests.study.examiner.rules import PROFILE

ABOUT = "one flight by many recorders: one good start, 25 s at 805 °C where 5 s above 785 °C are allowed, nothing else"
HOT_FROM_S, HOT_S = 200.0, 25.0
RECORDERS: dict[str, Recorder] = {
    **{f"{rate:g} Hz, {how}": Recorder(rate, noise) for rate in (0.2, 0.5, 1.0, 4.0, 16.0) for how, noise in (("no noise", 0.0), ("noise", 1.0), ("noise x 2", 2.0))},
    **{f"{rate:g} Hz, correlated 0.7": Recorder(rate, correlation=0.7) for rate in (1.0, 4.0, 16.0)},
    **{f"{rate:g} Hz, steps x 5": Recorder(rate, step=5.0) for rate in (1.0, 4.0, 16.0)},
    "16 Hz, each row 4 times": Recorder(16.0, held=4),
    "16 Hz, each row 16 times": Recorder(16.0, held=16),
    "4 Hz, ITT stale by 4 rows": Recorder(4.0, stale={"itt": 4}),
    "4 Hz, Ng stale by 4 rows": Recorder(4.0, stale={"ng": 4}),
    **{f"{rate:g} Hz, clock {clock}": Recorder(rate, clock=clock) for clock in CLOCKS for rate in (1.0, 4.0, 16.0) if clock != "elapsed"},
}  # fmt: skip


def targets() -> dict[str, Target]:
    """Return the targets: nothing wrong; 95 % of the bounds of the start hold."""
    out: dict[str, Target] = {}
    for name in RECORDERS:
        out[name] = Target("1 start, 1 finding")
        out[f"{name}: bounds"] = Target("in low..high", missed=0.05, covers=True)
    return out


def cases(scale: float) -> list[Case]:
    """Return the recordings."""
    return [Case("recorders", name, n) for name in RECORDERS for n in range(max(round(scale * 6), 2))]


@cache
def flight() -> Flight:
    """Return the flight."""
    run, fuel = start_plan(off=420.0)
    power = ((80.0, 90.0), (300.0, 74.0), (345.0, 63.0), (370.0, 61.5))
    base = fly(Plan(480.0, (run,), (fuel,), power, air=(Air(110.0, 350.0),), step=0.02))
    share: Floats = eased((base.t - HOT_FROM_S + 2.0) / 2.0) * (
        1.0 - eased((base.t - HOT_FROM_S - HOT_S) / 2.0)
    )
    itt = base.states["itt"] + (805.0 - base.states["itt"]) * share
    return base.but(itt=itt)


def made(case: Case, seed: int) -> Made:
    """Return the recording; the first row lies anywhere within its interval."""
    recorder = RECORDERS[case.row]
    if "clock" not in case.row:
        recorder = recorder.but(phase=float(np.random.default_rng([seed, case.seed]).random()))
    return Made(text(flight(), recorder, (seed, case.seed)), PROFILE, recorder)


def judged(case: Case, made: Made, said: Said) -> Sequence[Answer]:
    """Return whether the start and the one finding were said, nothing else, and the bounds hold."""
    found = [e for e in said.events if e["kind"] == "overtemp" and e["severity"] in ("limit", "possible")]
    other = [e for e in said.events if e not in found and e["severity"] != "caution"]
    word, wrong = _word(said, len(found), [str(e["kind"]) for e in other])
    out = [Answer(case.row, word, wrong)]
    if len(said.starts) == 1:
        true = measures.of_start(flight(), made.truth)
        for _, holds, width in measures.held(true, measures.start_of(said)):
            out.append(Answer(f"{case.row}: bounds", f"{width:.4g}", "" if holds else "missed"))
    return out


def _word(said: Said, found: int, other: list[str]) -> tuple[str, Wrong]:
    if said.document is None:
        return "refused", "missed"
    if other:
        return f"{len(other)} x {other[0]}", "false"
    if found == 0:
        return "not found", "missed"
    if found > 1:
        return f"{found} x overtemp", "false"
    outcomes = [s["outcome"] for s in said.starts]
    return ("right", "") if outcomes == ["completed"] else (f"{len(outcomes)} starts", "false")
