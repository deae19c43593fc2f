"""Which stretches above a level are one run: by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis.limits.counted_runs import counted_runs
from debrief.analysis.signal.exceedance import Above, time_above
from debrief.analysis.signal.traces import Trace
from tests.analysis.recording_making import RUNNING_LIMIT, START_LIMIT


def above(begin_s: float) -> Above:
    """Return three stretches above 1: breaks of 0.5 s and of 2.5 s; at a `rejoin_s` of 2 s only the second ends a run."""
    time_s = begin_s + np.arange(0.0, 22.1, 0.5)
    shown = time_s - begin_s
    hot = ((shown >= 10) & (shown <= 12)) | ((shown >= 13) & (shown <= 14)) | ((shown >= 17) & (shown <= 20))
    trace = Trace(time_s, np.where(hot, 2.0, 0.0), np.zeros(time_s.size - 1, dtype=np.bool_))
    return time_above(trace, 1.0)


@pytest.mark.parametrize(
    ("limit", "runs"), [(RUNNING_LIMIT, [0, 0, 1]), (replace(START_LIMIT, count="total"), [0, 0, 0])]
)
def test_a_break_ends_a_run_of_the_longest_and_never_a_total(limit, runs):
    counted = counted_runs(limit, [(1, above(0.0))])
    assert counted.run.tolist() == runs


def test_runs_of_the_next_start_are_runs_of_their_own():
    for limit, runs in ((RUNNING_LIMIT, [0, 0, 1, 2, 2, 3]), (START_LIMIT, [0, 0, 0, 1, 1, 1])):
        counted = counted_runs(limit, [(1, above(0.0)), (2, above(100.0))])
        assert counted.run.tolist() == runs
        assert counted.start_number.tolist() == [1, 1, 1, 2, 2, 2]
