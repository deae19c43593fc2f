"""What is done in a shorter way where that is enough gives the same as the long way, to the last bit."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import debrief.analysis.signal.peak_bounds as tents_module
from debrief.analysis.evidence.lazy_mapping import Later
from debrief.analysis.signal.exceedance import stretches_above, time_above
from debrief.analysis.signal.interval_sets import from_pairs, intersect, total_s
from debrief.analysis.signal.time_curve import time_above_curve
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import frozen


@st.composite
def traces(draw, least: int = 1):
    n = draw(st.integers(least, 40))
    steps = draw(st.lists(st.floats(0.05, 3.0), min_size=n - 1, max_size=n - 1))
    values = draw(st.lists(st.integers(-20, 20), min_size=n, max_size=n))
    gap = draw(st.one_of(st.just([False] * (n - 1)), st.lists(st.booleans(), min_size=n - 1, max_size=n - 1)))
    t = frozen(np.concatenate(([0.0], np.cumsum(steps))))
    return Trace(
        t, frozen(np.array(values, float)), np.array(gap, dtype=bool), draw(st.sampled_from([0, 0.5]))
    )


@given(traces(), st.integers(-21, 21))
def test_the_stretches_alone_are_the_estimate_with_bounds(trace, level):
    assert stretches_above(trace, level).tolist() == time_above(trace, level).estimate.tolist()


@given(traces(), st.lists(st.tuples(st.floats(-1, 60), st.floats(0, 20)), max_size=4))
def test_the_highest_sample_is_that_of_the_peak(trace, pairs):
    windows = from_pairs((a, a + w) for a, w in pairs)
    peak = trace.peak(windows)
    assert trace.highest(windows) == (None if peak is None else peak[:2])


@given(traces(3))
def test_few_intervals_looked_at_from_both_sides_at_once_have_the_same_tents(trace):
    both = [x.tolist() for x in trace.tents]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tents_module, "FEW", -1)
        args = trace.time_s, trace.values, trace.gap, 2.0 * trace.half_resolution, trace.noise
        assert [x.tolist() for x in tents_module.tents(*args)] == both


@given(*[st.tuples(st.integers(0, 9), st.integers(0, 9)).map(sorted)] * 2)
def test_two_single_rows_meet_as_rows_among_others_do(a, b):
    alone = intersect(np.array([a], float), np.array([b], float))
    among = intersect(np.array([a, [90, 91]], float), np.array([b, [95, 96]], float))
    assert alone.tolist() == among.tolist()


@given(traces(), st.floats(-30, 10), st.lists(st.tuples(st.floats(0, 60), st.floats(0, 30)), min_size=1))
def test_the_curve_counts_each_level_as_time_above_does(trace, least, pairs):
    windows = from_pairs((a, a + w) for a, w in pairs)
    curve = time_above_curve(trace, windows, "itt", "degC", least)
    for level, total in zip(curve.levels, curve.total_s, strict=True):
        rows = intersect(stretches_above(trace, level), windows)
        assert total == pytest.approx(total_s(rows), abs=1e-9)


def test_the_curve_of_many_levels_counts_the_high_ones_as_the_low_ones():
    # A triangle of 100 s base and 150 levels, twice, with a gap between: above h for 2 x (150 - h) / 150 x 100 s.
    once = np.concatenate((np.arange(0.0, 151.0), np.arange(149.0, -1.0, -1.0)))
    t = np.arange(once.size) * (100.0 / 300.0)
    trace = Trace(
        frozen(np.concatenate((t, t + 200.0))), frozen(np.tile(once, 2)),
        np.arange(2 * once.size - 1) == once.size - 1,
    )  # fmt: skip
    curve = time_above_curve(trace, from_pairs([(0.0, 300.0)]), "itt", "degC", 1.0)
    assert len(curve.levels) == 150
    assert curve.total_s == pytest.approx([2 * (150 - h) / 150 * 100 for h in curve.levels], abs=1e-9)
    assert curve.longest_s == pytest.approx([(150 - h) / 150 * 100 for h in curve.levels], abs=1e-9)


def test_what_is_made_later_is_made_once_and_travels_as_a_dict():
    asked = []

    def make() -> dict[str, int]:
        asked.append(1)
        return {"a": 1, "b": 2}

    later = Later(make)
    assert asked == []
    assert (later["a"], len(later), list(later), "c" in later) == (1, 2, ["a", "b"], False)
    assert later == {"a": 1, "b": 2} == dict(later)
    assert repr(later) == "{'a': 1, 'b': 2}"
    assert asked == [1]
    sent = pickle.loads(pickle.dumps(Later(lambda: {"a": 1})))
    assert type(sent) is dict
    assert sent == {"a": 1}


def test_made_later_values_that_no_engine_has_overflow_quietly():
    later = Later(lambda: {"a": float(np.array([1e300]) @ np.array([1e300]) * np.float64(1e300))})
    assert later["a"] == np.inf
