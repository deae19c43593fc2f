"""Runs the flights of the study, in two processes where there are many."""

from __future__ import annotations

import multiprocessing

import numpy as np

from debrief.analysis import assess
from debrief.profile import find
from tests.study import flights, recorders
from tests.study.judging import Tally, judge
from tests.study.placing import as_shipped, placed
from tests.study.truth import Truth

SEED = 20310514
RECORDERS = 3
SHIPPED_SHARE = 0.2


def one(arguments: tuple[int, int]) -> Tally:
    """Return the comparison for one simulation as three recorders wrote it."""
    seed, number = arguments
    simulation = flights.run(flights.scenario(seed, number))
    truth = Truth(simulation)
    shipped = find("tarn-tg7")
    out = Tally(simulations=1)
    for n in range(RECORDERS):
        rng = np.random.default_rng([seed, number, n])
        taken = recorders.take(simulation, recorders.draw(rng, simulation.scenario.duration_s))
        if rng.random() < SHIPPED_SHARE:
            profile, items = shipped, as_shipped(shipped, truth, taken)
        else:
            profile, items = placed(shipped, truth, taken, rng)
        got = assess(taken.recording, profile)
        out.add(judge(f"{number}/{n}", truth, taken, items, got))
    return out


def study(simulations: int, seed: int = SEED, processes: int = 2) -> Tally:
    """Return the comparison of so many simulations, each written by `RECORDERS` recorders."""
    todo = [(seed, number) for number in range(simulations)]
    out = Tally()
    if processes == 1:
        for arguments in todo:
            out.add(one(arguments))
        return out
    with multiprocessing.get_context("spawn").Pool(processes) as pool:
        for tally in pool.imap(one, todo, chunksize=2):
            out.add(tally)
    return out
