"""Time above a level: estimate, bounds, gaps and peak, against brute force and closed forms."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq

from debrief.analysis.signal.exceedance import runs, summed, time_above
from debrief.analysis.signal.interval_sets import (
    from_pairs,
    intersect,
    subtract,
    total_s,
    union,
)
from debrief.analysis.signal.time_curve import time_above_curve
from debrief.analysis.signal.traces import Trace, gap_mask
from debrief.recording.model import frozen


def trace_of(times, values, half: float = 0.0, gap=None) -> Trace:
    t = frozen(times)
    mask = np.zeros(max(t.size - 1, 0), dtype=bool) if gap is None else np.asarray(gap)
    return Trace(t, frozen(values), mask, half)


@st.composite
def traces(draw):
    n = draw(st.integers(2, 40))
    steps = draw(st.lists(st.floats(0.05, 3.0), min_size=n - 1, max_size=n - 1))
    values = draw(st.lists(st.integers(-20, 20), min_size=n, max_size=n))
    gap = draw(st.lists(st.booleans(), min_size=n - 1, max_size=n - 1))
    return np.concatenate(([0.0], np.cumsum(steps))), np.array(values, float), np.array(gap)


def test_a_triangle_is_above_for_its_closed_form():
    """A triangle of base 10 s and height 100 is above h for 10 (1 - h / 100) s: similar triangles."""
    trace = trace_of([0, 5, 10], [0, 100, 0])
    for level in (0, 1, 25, 50, 99.9):
        assert total_s(time_above(trace, level).estimate) == pytest.approx(10 * (1 - level / 100), abs=1e-12)
    assert total_s(time_above(trace, 100).estimate) == 0.0


def test_a_sine_converges_to_its_closed_form():
    """sin is above h for pi - 2 asin(h) in each period."""
    t = np.linspace(0, 2 * np.pi, 20001)
    for h in (0.0, 0.3, 0.9):
        got = total_s(time_above(trace_of(t, np.sin(t)), h).estimate)
        assert got == pytest.approx(np.pi - 2 * np.arcsin(h), abs=2e-6)


def test_an_exponential_decay_crosses_where_a_root_finder_says():
    t = np.linspace(0, 30, 3001)
    v = 1000 * np.exp(-t / 8)
    root = brentq(lambda x: 1000 * np.exp(-x / 8) - 300, 0, 30)
    above = time_above(trace_of(t, v), 300)
    assert total_s(above.estimate) == pytest.approx(root, abs=1e-5)
    assert total_s(above.low) <= root <= total_s(above.high)


@given(traces(), st.integers(-21, 21))
def test_the_estimate_equals_integrating_the_indicator_of_the_straight_lines(data, level):
    t, v, gap = data
    expected = 0.0
    for k in range(t.size - 1):
        if gap[k]:
            continue

        def line(x, k=k):
            return v[k] + (v[k + 1] - v[k]) * (x - t[k]) / (t[k + 1] - t[k])

        points = None
        if (v[k] - level) * (v[k + 1] - level) < 0:
            points = [t[k] + (level - v[k]) / (v[k + 1] - v[k]) * (t[k + 1] - t[k])]
        expected += quad(lambda x, f=line: float(f(x) > level), t[k], t[k + 1], points=points)[0]
    assert total_s(time_above(trace_of(t, v, gap=gap), level).estimate) == pytest.approx(expected, abs=1e-6)


@given(traces(), st.integers(-21, 21), st.sampled_from([0.0, 0.5]))
def test_the_low_stretches_lie_in_the_estimate_and_the_estimate_in_the_high(data, level, half):
    t, v, gap = data
    above = time_above(trace_of(t, v, half, gap), level)
    assert total_s(subtract(above.low, above.estimate)) == pytest.approx(0, abs=1e-9)
    assert total_s(subtract(above.estimate, above.high)) == pytest.approx(0, abs=1e-9)


@given(traces(), st.integers(-21, 21))
def test_bounds_hold_for_any_signal_that_only_moves_between_its_samples(data, level):
    """A dense signal thinned out: the true time above lies within the bounds unless it jumps in between."""
    t, v, _ = data
    dense_t = np.linspace(t[0], t[-1], 400)
    dense_v = np.interp(dense_t, t, v)
    kept = np.unique(np.concatenate((np.arange(0, 400, 7), [399])))
    true = total_s(time_above(trace_of(dense_t, dense_v), level).estimate)
    thin = time_above(trace_of(dense_t[kept], dense_v[kept]), level)
    hidden = 0.0
    for a, b in itertools.pairwise(kept):
        inside = dense_v[a : b + 1]
        if (inside > level).any() and not (dense_v[a] > level or dense_v[b] > level):
            hidden += dense_t[b] - dense_t[a]
        if (inside <= level).any() and dense_v[a] > level and dense_v[b] > level:
            hidden += dense_t[b] - dense_t[a]
    assert total_s(thin.low) - hidden <= true + 1e-9
    assert true <= total_s(thin.high) + hidden + 1e-9


@given(traces(), st.integers(-21, 21), st.floats(-50, 50))
def test_a_shift_in_time_shifts_the_answer(data, level, shift):
    t, v, gap = data
    here = time_above(trace_of(t, v, gap=gap), level).estimate
    there = time_above(trace_of(t + shift, v, gap=gap), level).estimate
    np.testing.assert_allclose(there, here + shift, atol=1e-9)


@given(traces(), st.integers(-21, 21), st.data())
def test_splitting_at_a_sample_and_adding_gives_the_same(data, level, choose):
    t, v, gap = data
    k = choose.draw(st.integers(0, t.size - 1))
    whole = total_s(time_above(trace_of(t, v, gap=gap), level).estimate)
    left = total_s(time_above(trace_of(t[: k + 1], v[: k + 1], gap=gap[:k]), level).estimate)
    right = total_s(time_above(trace_of(t[k:], v[k:], gap=gap[k:]), level).estimate)
    assert left + right == pytest.approx(whole, abs=1e-9)


def test_equal_is_not_above():
    above = time_above(trace_of([0, 1, 2, 3], [830, 830, 830, 830]), 830)
    assert len(above.estimate) == 0
    assert len(above.low) == 0
    assert len(above.high) == 0


def test_one_sample_above_has_a_lower_bound_of_zero():
    above = time_above(trace_of([0, 1, 2], [820, 840, 820]), 830)
    assert total_s(above.estimate) == pytest.approx(1.0)
    assert total_s(above.low) == 0.0
    assert total_s(above.high) == 2.0


def test_nothing_is_claimed_across_a_gap_but_the_upper_bound_widens():
    gap = [False, True, False]
    above = time_above(trace_of([0, 1, 11, 12], [900, 900, 800, 800], gap=gap), 830)
    assert total_s(above.estimate) == 1.0
    assert total_s(above.low) == 1.0
    assert total_s(above.high) == 11.0


def test_a_gap_with_no_sample_above_beside_it_adds_nothing():
    above = time_above(trace_of([0, 1, 11, 12], [800, 800, 800, 800], gap=[False, True, False]), 830)
    assert len(above.high) == 0


def test_a_run_at_the_edge_of_the_recording_has_no_upper_bound():
    run = runs(time_above(trace_of([0, 1, 2, 3], [900, 900, 800, 800]), 830), 2.0)[0]
    assert run.duration_high_s is None
    total = summed(time_above(trace_of([0, 1, 2, 3], [800, 800, 900, 900]), 830))
    assert total is not None
    assert total.duration_high_s is None


def test_a_peak_between_samples_makes_a_zero_second_limit_possible():
    """Slopes of +40/s and -40/s into a one second interval between two samples at 1020: apex 1040."""
    t = np.arange(0, 20.0)
    trace = trace_of(t, np.interp(t, [0, 8, 9, 10, 11, 19], [980, 980, 1020, 1020, 980, 980]))
    assert trace.peak(from_pairs([(0, 19)])) == pytest.approx((9.0, 1020.0, 1020.0, 1040.0))
    above = time_above(trace, 1030)
    assert len(above.estimate) == 0
    # The tent is above 1030 for half of the interval.
    assert total_s(above.high) == pytest.approx(0.5)


def test_half_a_step_of_the_recorder_is_part_of_the_upper_bound():
    trace = trace_of([0, 1, 2, 3, 4], [1000, 1030, 1030, 1030, 1000], half=0.5)
    above = time_above(trace, 1030)
    assert len(above.estimate) == 0
    assert total_s(above.high) > 2.0
    assert 1030.5 <= trace.peak(from_pairs([(0, 4)])).high < 1031.0


def test_movement_within_the_noise_adds_no_slope():
    rng = np.random.default_rng(7)
    t = np.arange(0, 200, 1.0)
    v = 700 + rng.normal(0, 2.0, t.size)
    trace = trace_of(t, v)
    assert trace.noise == pytest.approx(2.0, rel=0.35)
    index, _, apex = trace.tents
    assert index.size < 6
    assert not index.size or apex.max() < v.max() + 12


def test_a_break_shorter_than_rejoin_joins_and_its_time_is_not_counted():
    t = [0, 1, 2, 3, 4, 5, 6, 7]
    v = [0, 10, 10, 0, 10, 10, 0, 0]
    above = time_above(trace_of(t, v), 5)
    joined = runs(above, 2.0)
    assert len(joined) == 1
    assert joined[0].duration_s == pytest.approx(4.0)  # 0.5 to 2.5 and 3.5 to 5.5, the break left out
    assert (joined[0].start_s, joined[0].end_s) == pytest.approx((0.5, 5.5))
    assert [r.duration_s for r in runs(above, 0.5)] == pytest.approx([2.0, 2.0])


def test_the_curve_is_the_time_above_every_level():
    t = np.arange(0, 21.0)
    v = np.array([300, 400, 500, 800, 700, 900, 850, 600, 500, 450, *[400] * 11], float)
    trace = trace_of(t, v)
    window = from_pairs([(0, 20)])
    curve = time_above_curve(trace, window, "itt", "degC", 350)
    for level, total, longest in zip(curve.levels, curve.total_s, curve.longest_s, strict=True):
        rows = time_above(trace, level).estimate
        assert total == pytest.approx(total_s(rows))
        assert longest <= total + 1e-12
    assert curve.levels[-1] == 900
    assert curve.total_s[-1] == 0.0


@pytest.mark.parametrize(
    ("times", "expected"),
    [
        ([0, 1, 2, 3, 4, 5], []),  # 1 Hz is no gap, also over the floor of a start
        ([0, 1, 2, 3, 6.5, 7.5, 8.5], [3]),  # 3.5 s against 3 x 1 s
        ([0, 1, 2, 3, 5.9, 6.9, 7.9], []),  # 2.9 s is less than 3 x 1 s
        ([0, 0.1, 0.2, 0.3, 1.2, 1.3, 1.4], []),  # 0.9 s is under the floor of 2 s outside a start
    ],
)
def test_gaps_are_three_times_the_median_and_over_the_floor(times, expected):
    assert np.flatnonzero(gap_mask(frozen(times))).tolist() == expected


def test_the_floor_is_half_a_second_inside_a_start():
    t = frozen([0, 0.1, 0.2, 0.3, 1.2, 1.3, 1.4])
    assert np.flatnonzero(gap_mask(t, from_pairs([(0, 2)]))).tolist() == [3]


def test_removing_a_sample_beside_a_gap_keeps_the_gap():
    trace = trace_of([0, 1, 11, 12], [1, 2, 3, 4], gap=[False, True, False])
    assert trace.without(np.array([1])).gap.tolist() == [True, False]


@given(st.lists(st.tuples(st.floats(0, 100), st.floats(0, 20)), max_size=12))
def test_union_and_intersection_measure_like_a_dense_grid(pairs):
    rows = union(np.array([(a, a + w) for a, w in pairs]).reshape(-1, 2))
    grid = np.arange(0, 121, 0.05) + 0.025
    covered = np.zeros(grid.size, bool)
    for a, w in pairs:
        covered |= (grid >= a) & (grid <= a + w)
    assert total_s(rows) == pytest.approx(covered.sum() * 0.05, abs=0.06 * (len(pairs) + 1))
    assert (rows[1:, 0] > rows[:-1, 1]).all()
    half = from_pairs([(20, 60)])
    assert total_s(intersect(rows, half)) + total_s(subtract(rows, half)) == pytest.approx(total_s(rows))


def test_rows_that_only_touch_share_no_time():
    assert len(intersect(from_pairs([(0, 10)]), from_pairs([(10, 20)]))) == 0
    assert intersect(from_pairs([(5, 5)]), from_pairs([(0, 10)])).tolist() == [[5, 5]]
