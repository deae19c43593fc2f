"""Recordings that are cut, and starts that are odd: several fuel periods, aloft, without a column."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from tests.study.examiner import measures
from tests.study.examiner.answers import Answer, Case, Target, Wrong
from tests.study.examiner.asking import AGAIN, Made, Said
from tests.study.examiner.engine import Air, Flight, Fuel, Plan, fly, start_plan
from tests.study.examiner.recorder import ALL, Recorder, text
from tests.study.examiner.rules import PROFILE

ABOUT = "recordings that begin or end anywhere, odd starts, missing columns: the outcome, no false finding, bounds that hold"
END = 1e9
NOT_FAILED = ("completed", "incomplete", "unknown")
GROUND = ("ground",)
ALOFT = ("windmilling", "assisted_air", "relight")


@dataclass(frozen=True)
class Odd:
    """What is recorded: the flight's name, from when to when, without which columns; what may be said of each start.

    Below `dead_below_pct` the pick-up of Ng reads zero.
    """

    flight: str = "plain"
    cut: tuple[float, float] = (0.0, END)
    lacking: tuple[str, ...] = ()
    outcomes: tuple[tuple[str, ...], ...] = (("completed",),)
    kinds: tuple[tuple[str, ...], ...] = (GROUND, GROUND)
    fuel_periods: int | None = None
    dead_below_pct: float = 0.0


AIR = ("ias", "palt", "weight_on_wheels", "power_lever")
ODD: dict[str, Odd] = {
    "whole": Odd(),
    "begins while motoring": Odd(cut=(13.0, END)),
    "begins 1.5 s after light-off": Odd(cut=(21.5, END)),
    "begins 5 s after light-off": Odd(cut=(25.0, END)),
    "begins 5 s after light-off, ITT rises as the starter lets go": Odd("release", cut=(25.0, END)),
    "begins 12 s after light-off, ITT rises as the starter lets go": Odd("release", cut=(32.0, END)),
    "ITT rises as the starter lets go, no fuel columns": Odd("release", lacking=("fuel_on", "fuel_flow")),
    "begins 5 s after light-off, ITT rises, no fuel columns": Odd(
        "release", cut=(25.0, END), lacking=("fuel_on", "fuel_flow")
    ),
    "pick-up dead below 9 %": Odd(dead_below_pct=9.0),
    "pick-up dead below 9 %, no starter column": Odd(lacking=("starter",), dead_below_pct=9.0),
    "begins 12 s after light-off": Odd(cut=(32.0, END)),
    "begins just below idle": Odd(cut=(40.5, END), outcomes=(("completed",),)),
    "begins running": Odd(cut=(70.0, END), outcomes=()),
    "ends while motoring": Odd(cut=(0.0, 15.0), outcomes=(("incomplete",),)),
    "ends 2 s after fuel": Odd(cut=(0.0, 21.0), outcomes=(("incomplete",),)),
    "ends 10 s after light-off": Odd(cut=(0.0, 30.0), outcomes=(("incomplete",),)),
    "ends just below idle": Odd(cut=(0.0, 41.5), outcomes=(("incomplete",),)),
    "two fuel periods, the second lights": Odd("two fuels", fuel_periods=2),
    "aborted, then a good start": Odd("aborted", outcomes=(("aborted",), ("completed",))),
    "windmilling start aloft": Odd("windmilling", kinds=(ALOFT,)),
    "cut and relight aloft": Odd("relight", outcomes=(("completed",), ("completed",)), kinds=(GROUND, ALOFT)),
    "assisted start aloft": Odd("assisted", kinds=(ALOFT,)),
    "no starter column": Odd(lacking=("starter",)),
    "no fuel columns": Odd("shut down", lacking=("fuel_on", "fuel_flow")),
    "no starter, no fuel columns": Odd("shut down", lacking=("starter", "fuel_on", "fuel_flow")),
    "no Ng": Odd(lacking=("ng",), outcomes=(NOT_FAILED,)),
    "no ITT": Odd(lacking=("itt",), outcomes=(NOT_FAILED,)),
    "no volts": Odd(lacking=("bus_volts", "battery_amps")),
    "bench, no air columns": Odd("shut down", lacking=AIR),
    "bench, Ng ITT volts only": Odd(
        "shut down", lacking=tuple(c for c in ALL if c not in ("ng", "itt", "bus_volts"))
    ),
}


def targets() -> dict[str, Target]:
    """Return the targets: no wrong outcome, no finding, 95 % of the bounds hold."""
    out: dict[str, Target] = {}
    for name in ODD:
        out[name] = Target("no finding; outcome as made")
        out[f"{name}: bounds"] = Target("in low..high", missed=0.05, covers=True)
    return out


def cases(scale: float) -> list[Case]:
    """Return the recordings."""
    every = [(rate, noise) for rate in (1.0, 4.0, 16.0) for noise in (0.0, 1.0)]
    return [
        Case("cuts", name, n * 6 + k, about)
        for name in ODD
        for n in range(max(round(scale * 3), 1))
        for k, about in enumerate(every)
    ]


@cache
def flight(name: str) -> Flight:
    """Return a flight by its name."""
    run, fuel = start_plan()
    if name == "two fuels":
        # Fuel for 2 s without a flame, 16 s of motoring, then fuel that lights.
        return fly(Plan(130.0, (run,), (Fuel(16.0, None, 18.0), Fuel(34.0, 34.8, END)), step=0.02))
    if name == "release":
        return fly(Plan(130.0, (run,), (fuel,), release_c=70.0, step=0.02))
    if name == "aborted":
        fuels = (Fuel(17.0, 18.0, 26.0), Fuel(513.0, 514.0, END))
        return fly(Plan(620.0, ((8.0, 43.0), (500.0, None)), fuels))
    if name == "relight":
        # Lift-off at 110 s, cut at 250 s, fuel again at 350 s while it windmills at 16 %, landing at 520 s.
        fuels = (Fuel(19.0, 20.0, 250.0), Fuel(350.0, 351.0, END))
        power = ((80.0, 88.0), (420.0, 72.0), (515.0, 61.5))
        return fly(Plan(600.0, (run,), fuels, power, air=(Air(110.0, 520.0),), windmill_pct=16.0))
    if name == "windmilling":
        return fly(Plan(130.0, (), (fuel,), windmill_pct=16.0, aloft=True, step=0.02))
    if name == "assisted":
        return fly(Plan(130.0, (run,), (fuel,), windmill_pct=7.0, aloft=True, step=0.02))
    if name == "shut down":
        return fly(Plan(260.0, (run,), (Fuel(19.0, 20.0, 150.0),), ((70.0, 72.0), (110.0, 61.5)), step=0.02))
    return fly(Plan(130.0, (run,), (fuel,), step=0.02))


def made(case: Case, seed: int) -> Made:
    """Return the recording."""
    rate, noise = case.about
    odd = ODD[case.row]
    phase = float(np.random.default_rng([seed, case.seed]).random())
    columns = tuple(c for c in ALL if c not in odd.lacking)
    recorder = Recorder(rate, noise, phase=phase, columns=columns, cut=odd.cut)
    recorded = flight(odd.flight)
    if odd.dead_below_pct:
        ng = recorded.states["ng"]
        recorded = recorded.but(ng=np.where(ng < odd.dead_below_pct, 0.0, ng))
    return Made(text(recorded, recorder, (seed, case.seed)), PROFILE, recorder)


def judged(case: Case, made: Made, said: Said) -> Sequence[Answer]:
    """Return the outcome, the first finding, and whether the bounds hold."""
    odd, source = ODD[case.row], flight(ODD[case.row].flight)
    out = [Answer(case.row, *_word(odd, said))]
    if not said.starts or not source.lights or len(said.starts) != len(odd.outcomes):
        return out
    number = len(odd.outcomes) - 1
    if len(source.starter) <= number or odd.flight in ("windmilling", "two fuels"):
        return out
    # A window that the recording cuts has no whole truth: only what lies inside it is held against it.
    true = measures.of_start(source, made.truth, number)
    inside = {k: v for k, v in true.items() if _whole(k, odd, source, number)}
    for name, holds, width in measures.held(inside, measures.start_of(said, number)):
        out.append(Answer(f"{case.row}: bounds", f"{width:.4g}", "" if holds else "missed"))
        if not holds and case.about[1] == 0.0:
            out[-1] = Answer(out[-1].row, out[-1].said, "missed", f"{case.name} {name}")
    return out


def _whole(name: str, odd: Odd, source: Flight, number: int) -> bool:
    """Return whether the recording shows all that a measure is made of."""
    begin, on, light = source.starter[number][0], source.fuel[number][0], source.lights[number]
    if odd.cut[0] > 0:
        # What began before the recording may be told with bounds; what it is made of alone is not all there.
        return name in (
            "light_off_to_idle",
            "ng_at_fuel",
            "fuel_to_light_off",
            "fuel_on",
            "residual_itt_fuel_on",
        ) or (odd.cut[0] < on and name in ("ng_rate_at_fuel", "itt_rise_rate", "ng_acceleration"))
    last = {
        "residual_itt_starter_on": begin,
        "rest_bus_volts": begin,
        "ng_at_starter_on": begin,
        "residual_itt_fuel_on": on,
        "ng_at_fuel": on,
        "fuel_on": on,
        "ng_rate_at_fuel": on,
        "fuel_to_light_off": light,
        "max_motoring_ng": light,
        "source_resistance": light,
    }
    return odd.cut[1] > last.get(name, 60.0)


def _word(odd: Odd, said: Said) -> tuple[str, Wrong]:
    if said.document is None:
        return "refused", "missed"
    if said.events:
        return str(said.events[0]["kind"]), "false"
    if AGAIN in said.sentence or "failed" in said.sentence:
        return "start failed", "false"
    outcomes = [str(s["outcome"]) for s in said.starts]
    if len(outcomes) != len(odd.outcomes) or any(
        o not in may for o, may in zip(outcomes, odd.outcomes, strict=True)
    ):
        return ", ".join(outcomes) or "no start", "false"
    kinds = [str(s["kind"]) for s in said.starts]
    if any(k not in may for k, may in zip(kinds, odd.kinds, strict=False)):
        return f"kind {', '.join(kinds)}", "false"
    periods = len(said.starts[-1]["fuel_periods"]) if said.starts else 0
    if odd.fuel_periods is not None and periods != odd.fuel_periods:
        return f"{periods} fuel periods", "false"
    off = said.starts[-1]["fuel_off_s"] if said.starts else None
    if odd.flight == "shut down" and off is not None and abs(off - 150.0) > 3.0:
        return f"cut at {off:.0f} s", "false"
    if odd.flight == "plain" and off is not None:
        return f"cut at {off:.0f} s", "false"
    return ", ".join(outcomes) or "no start", ""
