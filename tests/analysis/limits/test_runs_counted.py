"""Which stretches above a level are one run: by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis.limits.counted_runs import counted_runs
from debrief.analysis.signal.exceedance import Above
from tests.analysis.recording_making import RUNNING_LIMIT, START_LIMIT

PIECES = np.array([[10.0, 12.0], [13.0, 14.0], [17.0, 20.0]])
"""Breaks of 1 s and of 3 s: at a `rejoin_s` of 2 s only the second ends a run."""


def above(pieces: np.ndarray) -> Above:
    return Above(pieces, pieces, pieces, False, False, 0.0, 0.0)


@pytest.mark.parametrize(
    ("limit", "runs"), [(RUNNING_LIMIT, [0, 0, 1]), (replace(START_LIMIT, count="total"), [0, 0, 0])]
)
def test_a_break_ends_a_run_of_the_longest_and_never_a_total(limit, runs):
    counted = counted_runs(limit, [(1, above(PIECES))])
    assert counted.run.tolist() == runs


def test_runs_of_the_next_start_are_runs_of_their_own():
    later = PIECES + 100.0
    for limit, runs in ((RUNNING_LIMIT, [0, 0, 1, 2, 2, 3]), (START_LIMIT, [0, 0, 0, 1, 1, 1])):
        counted = counted_runs(limit, [(1, above(PIECES)), (2, above(later))])
        assert counted.run.tolist() == runs
        assert counted.start_number.tolist() == [1, 1, 1, 2, 2, 2]
