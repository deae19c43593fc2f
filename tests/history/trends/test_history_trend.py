"""Control charts: laws, edges and refusals. Published examples are in tests/published."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.history.trends.control_charts import cusum, ewma, shifts

finite = st.floats(-1e4, 1e4)
lists = st.lists(finite, min_size=2, max_size=40)


@given(lists, finite, st.floats(0.05, 1.0))
def test_the_moving_average_stays_among_its_values_and_the_target(values, target, weight):
    chart = ewma(values, target=target, sigma=1.0, weight=weight)
    assert chart.values.min() >= min(*values, target) - 1e-6
    assert chart.values.max() <= max(*values, target) + 1e-6


def test_a_weight_of_one_is_the_chart_of_single_values():
    values = [1.0, -2.0, 5.0]
    chart = ewma(values, target=0.0, sigma=1.0, weight=1.0)
    np.testing.assert_allclose(chart.values, values)
    np.testing.assert_allclose(chart.upper, 3.0)
    np.testing.assert_array_equal(chart.signals, [False, False, True])


def test_exact_limits_widen_to_the_steady_ones():
    exact = ewma(np.zeros(200), target=0.0, sigma=2.0, weight=0.2)
    steady = ewma(np.zeros(200), target=0.0, sigma=2.0, weight=0.2, steady=True)
    assert np.all(np.diff(exact.upper) >= 0)
    assert exact.upper[0] < steady.upper[0]
    assert exact.upper[-1] == pytest.approx(steady.upper[-1])


@given(lists, finite, st.floats(0.0, 10.0))
def test_the_sums_are_never_negative_and_mirror_each_other(values, target, slack):
    chart = cusum(values, target=target, slack=slack, decision=5.0)
    mirror = cusum([-value for value in values], target=-target, slack=slack, decision=5.0)
    assert chart.high.min() >= 0
    assert chart.low.min() >= 0
    np.testing.assert_allclose(chart.high, mirror.low, atol=1e-9)


def test_a_sum_equal_to_the_decision_value_is_not_a_signal():
    chart = cusum([2.0, 0.0, 1.0], target=0.0, slack=0.0, decision=2.0)
    np.testing.assert_array_equal(chart.high_signals, [False, False, True])


@pytest.mark.parametrize("bad", [[1.0, math.nan], [math.inf, 0.0], [[1.0], [2.0]]])
def test_missing_values_are_refused_not_charted(bad):
    with pytest.raises(ValueError, match="series"):
        ewma(bad, target=0.0, sigma=1.0)
    with pytest.raises(ValueError, match="series"):
        cusum(bad, target=0.0, slack=0.5, decision=5.0)
    with pytest.raises(ValueError, match="series"):
        shifts(bad, target=0.0, sigma=1.0)


@pytest.mark.parametrize(
    "call",
    [
        lambda: ewma([1.0], target=0.0, sigma=1.0, weight=0.0),
        lambda: ewma([1.0], target=0.0, sigma=1.0, weight=1.5),
        lambda: ewma([1.0], target=0.0, sigma=-1.0),
        lambda: cusum([1.0], target=0.0, slack=-0.1, decision=5.0),
        lambda: shifts([1.0], target=0.0, sigma=0.0),
    ],
)
def test_senseless_settings_are_refused(call):
    with pytest.raises(ValueError, match="must"):
        call()


def test_an_empty_series_has_an_empty_chart_and_no_shift():
    assert ewma([], target=0.0, sigma=1.0).values.shape == (0,)
    assert cusum([], target=0.0, slack=0.5, decision=5.0).high.shape == (0,)
    assert shifts([], target=0.0, sigma=1.0) == ()


# Shifts


def noise(n: int, seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).normal(size=n)


def test_an_unchanged_series_has_no_shift():
    assert shifts(noise(60), target=0.0, sigma=1.0) == ()


def test_false_signals_are_as_rare_as_the_theory_of_the_sums_says():
    # Siegmund's approximation for k = 0.5, h = 5: one signal in about 470 values of an unchanged series,
    # so about one series of 60 values in nine (a little fewer: the sums begin at 0).
    alarms = sum(bool(shifts(noise(60, seed), target=0.0, sigma=1.0)) for seed in range(1000, 1400))
    assert 0.05 < alarms / 400 < 0.16
    rare = sum(
        bool(shifts(noise(60, seed), target=0.0, sigma=1.0, decision=8.0)) for seed in range(1000, 1400)
    )
    assert rare <= 8


@pytest.mark.parametrize(("step", "direction"), [(2.0, "up"), (-2.0, "down")])
def test_a_step_is_found_with_its_beginning_its_size_and_that_it_lasts(step, direction):
    values = noise(60)
    values[40:] += step
    (shift,) = shifts(values, target=0.0, sigma=1.0)
    assert (shift.direction, shift.lasting, shift.until) == (direction, True, 59)
    assert abs(shift.since - 40) <= 2
    assert shift.since <= shift.signalled < 50
    assert shift.size == pytest.approx(step, abs=0.6)


def test_a_passing_shift_is_told_apart_from_a_lasting_one():
    values = np.zeros(60)
    values[20:30] = 3.0
    (shift,) = shifts(values, target=0.0, sigma=1.0)
    assert (shift.since, shift.until, shift.size, shift.lasting) == (20, 29, 3.0, False)


def test_a_shift_up_and_one_down_are_both_found_in_order():
    values = np.concatenate([np.zeros(20), np.full(12, 3.0), np.zeros(20), np.full(12, -3.0)])
    first, second = shifts(values, target=0.0, sigma=1.0)
    assert (first.direction, second.direction) == ("up", "down")
    assert (first.since, second.since) == (20, 52)
    assert second.lasting


def test_a_single_wild_value_is_no_lasting_shift():
    values = np.zeros(40)
    values[20] = 4.0
    assert shifts(values, target=0.0, sigma=1.0) == ()


@given(lists, finite, st.floats(0.5, 20.0), st.floats(0.5, 4.0))
def test_shifts_do_not_depend_on_the_unit(values, target, sigma, scale):
    x = np.array(values)
    plain = shifts(x, target=target, sigma=sigma)
    # A factor that is a power of two loses no bit, so equal sums stay equal.
    factor = 2.0 ** round(scale)
    scaled = shifts(x * factor, target=target * factor, sigma=sigma * factor)
    assert [(s.direction, s.since, s.until) for s in plain] == [
        (s.direction, s.since, s.until) for s in scaled
    ]


@given(st.lists(finite, max_size=60))
def test_found_shifts_are_in_order_and_do_not_overlap(values):
    found = shifts(values, target=0.0, sigma=10.0)
    edges = [edge for shift in found for edge in (shift.since, shift.until)]
    assert edges == sorted(edges)
    assert all(shift.since <= shift.signalled <= shift.until for shift in found)
    assert all(not shift.lasting for shift in found[:-1])
