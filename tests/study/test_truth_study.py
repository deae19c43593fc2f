"""The truth study as a test: a small part every day, the whole with ``-m slow``."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.analysis import assess
from debrief.profile import find
from tests.study import flights, recorders, run
from tests.study.flights import FAMILIES
from tests.study.judging import Tally, judge
from tests.study.placing import as_shipped
from tests.study.table import by_kind, counts, faults, lines
from tests.study.truth import Truth

SIMULATIONS = 240
LEAST_OF_A_KIND = 30
SHARE = 0.99


@pytest.fixture(scope="module")
def small() -> Tally:
    """One simulation of each family, as three recorders wrote it."""
    return run.study(len(FAMILIES), processes=1)


def test_a_small_part_of_the_study_has_no_wrong_answer(small: Tally) -> None:
    wrong = [a for a in small.answers if a.result in ("FN", "FP")] + small.spurious
    assert not wrong, "\n".join(map(str, wrong))
    assert sum(a.result == "TP" for a in small.answers) > 100
    assert sum(a.result == "TN" for a in small.answers) > 100


def test_a_small_part_of_the_study_counts_every_attempt(small: Tally) -> None:
    assert small.attempts
    assert all(true == found for _, true, found in small.attempts)


def test_the_study_sees_an_analysis_that_finds_nothing_or_invents(small: Tally) -> None:
    simulation = flights.run(flights.scenario(run.SEED, 4))
    truth, shipped = Truth(simulation), find("tarn-tg7")
    recorder = recorders.Recorder(
        8.0, 0.0, 0.0, (), (), 0.0, dict.fromkeys(recorders.STEPS, 0.1), 1, 1, 0.0, 1
    )
    taken = recorders.take(simulation, recorder)
    items = as_shipped(shipped, truth, taken)
    got = assess(taken.recording, shipped)
    honest = judge("0", truth, taken, items, got)
    assert not [a for a in honest.answers if a.result in ("FN", "FP")]
    found = [a for a in honest.answers if a.result == "TP"]
    assert found
    blind = judge("0", truth, taken, items, replace(got, events=()))
    assert len([a for a in blind.answers if a.result == "FN"]) == len(found)
    invented = tuple(replace(e, kind="burning_after_cut", severity="limit") for e in got.events[:1])
    assert judge("0", truth, taken, items, replace(got, events=(*got.events, *invented))).spurious


@pytest.mark.slow
def test_the_whole_study_meets_what_is_asked_of_the_analysis() -> None:
    tally = run.study(SIMULATIONS)
    print("\n".join(lines(tally)))
    assert tally.flights >= 600
    assert tally.simulations >= 200
    for name, answers in by_kind(tally).items():
        full = [a for a in answers if not a.missing]
        assert sum(a.happened for a in full) >= LEAST_OF_A_KIND, name
        assert sum(a.near for a in full) >= LEAST_OF_A_KIND, name
        c = counts(answers)
        assert c["TP"] >= SHARE * (c["TP"] + c["FP"]), (name, faults(tally))
        assert c["TP"] >= SHARE * (c["TP"] + c["FN"]), (name, faults(tally))
    contradicted = [a for a in tally.answers if a.result == "FP" and "limit" in a.found]
    assert not contradicted, contradicted
    assert sum(b.holds for b in tally.bounds) >= SHARE * len(tally.bounds)
    for name in {b.name for b in tally.bounds}:
        mine = [b for b in tally.bounds if b.name == name]
        # A kind with few pairs of bounds may have one that does not hold.
        least = min(SHARE * len(mine), len(mine) - 1)
        assert sum(b.holds for b in mine) >= least, (name, [b for b in mine if not b.holds])
