"""Control charts against the worked examples of the NIST/SEMATECH e-Handbook of Statistical Methods.

The pages were read in public copies that quote them; each table was recomputed and agrees. Values marked
"computed" are cross-checks and not printed there.
"""

import numpy as np
import pytest

from debrief.history.trends.control_charts import cusum, ewma, shifts

# Section 6.3.2.4, https://www.itl.nist.gov/div898/handbook/pmc/section3/pmc324.htm
EWMA_X = [
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
    49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1,
]  # fmt: skip
EWMA_Z = [
    50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
    50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
]  # fmt: skip


def test_the_moving_average_equals_the_handbook_to_its_two_decimals():
    chart = ewma(EWMA_X, target=50.0, sigma=2.0539, weight=0.3)
    np.testing.assert_allclose(chart.values, EWMA_Z, atol=0.0051)


def test_its_steady_limits_equal_the_handbook_and_nothing_signals():
    chart = ewma(EWMA_X, target=50.0, sigma=2.0539, weight=0.3, steady=True)
    # The page rounds a factor, so its lower limit is 0.00007 off its own formula.
    np.testing.assert_allclose(chart.upper, 52.5884, atol=1e-4)
    np.testing.assert_allclose(chart.lower, 47.4115, atol=1e-4)
    assert not chart.signals.any()


def test_its_first_exact_limits_equal_the_computed_ones():
    # Computed, not in the handbook.
    chart = ewma(EWMA_X, target=50.0, sigma=2.0539, weight=0.3)
    np.testing.assert_allclose(chart.upper[:3], [51.84851, 52.25639, 52.43141], atol=1e-5)


# Section 6.3.2.3, .../pmc323.htm. The printed table was read in one copy only.
CUSUM_X = [
    324.925, 324.675, 324.725, 324.350, 325.350, 325.225, 324.125, 324.525, 325.225, 324.600,
    324.625, 325.150, 328.325, 327.250, 327.825, 328.500, 326.675, 327.775, 326.875, 328.350,
]  # fmt: skip
CUSUM_HIGH = [0, 0, 0, 0, 0.03, 0, 0, 0, 0, 0, 0, 0, 3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.00, 19.04]
CUSUM_LOW = [0, 0.01, 0, 0.33, 0, 0, 0.56, 0.72, 0.17, 0.25, 0.31, 0, 0, 0, 0, 0, 0, 0, 0, 0]


def test_cumulative_sums_equal_the_handbook_and_signal_at_group_14():
    chart = cusum(CUSUM_X, target=325.0, slack=0.3175, decision=4.1959)
    np.testing.assert_allclose(chart.high, CUSUM_HIGH, atol=0.0051)
    np.testing.assert_allclose(chart.low, CUSUM_LOW, atol=0.0051)
    np.testing.assert_array_equal(np.flatnonzero(chart.high_signals) + 1, np.arange(14, 21))
    assert not chart.low_signals.any()


def test_the_unrounded_sums_equal_the_computed_ones():
    # Computed, not in the handbook.
    chart = cusum(CUSUM_X, target=325.0, slack=0.3175, decision=4.1959)
    np.testing.assert_allclose(
        chart.high[12:], [3.0075, 4.94, 7.4475, 10.63, 11.9875, 14.445, 16.0025, 19.035], atol=1e-9
    )


def test_the_shift_in_the_handbook_data_is_dated_to_group_13():
    # The data rise by some 2.5 from group 13 on: read off the printed table by eye.
    (shift,) = shifts(CUSUM_X, target=325.0, sigma=0.635, slack=0.5, decision=4.1959 / 0.635)
    assert (shift.direction, shift.since + 1, shift.signalled + 1, shift.lasting) == ("up", 13, 14, True)
    assert shift.size == pytest.approx(2.8, abs=0.05)
