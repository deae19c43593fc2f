"""Welch's interval and Student's quantiles against SciPy (`scipy.stats.t`, `ttest_ind` with `equal_var=False`)."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.analysis.signal.student import t_quantile, welch

stats = pytest.importorskip("scipy.stats")


@pytest.mark.parametrize("freedom", [1.0, 1.7, 2.0, 5.0, 9.3, 18.0, 60.0, 400.0, 1e5])
@pytest.mark.parametrize("share", [0.75, 0.95, 0.975, 0.995, 0.9999])
def test_quantiles_of_t_are_those_of_scipy(freedom, share):
    assert t_quantile(share, freedom) == pytest.approx(float(stats.t.ppf(share, freedom)), rel=1e-7)


@pytest.mark.parametrize("seed", range(10))
def test_the_interval_is_that_of_scipy(seed):
    rng = np.random.default_rng(seed)
    before = rng.normal(700.0, rng.uniform(0.5, 5.0), rng.integers(3, 40))
    after = rng.normal(712.0, rng.uniform(0.5, 5.0), rng.integers(3, 40))
    value, error, freedom = welch(before, after)
    found = stats.ttest_ind(after, before, equal_var=False).confidence_interval(0.95)
    half = error * t_quantile(0.975, freedom)
    assert (value - half, value + half) == pytest.approx((found.low, found.high), rel=1e-8)


def test_no_quantile_where_there_is_none():
    for share, freedom in ((0.5, 3.0), (1.0, 3.0), (0.975, 0.0)):
        with pytest.raises(ValueError, match="no quantile"):
            t_quantile(share, freedom)
