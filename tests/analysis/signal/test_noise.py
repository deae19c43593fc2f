"""The noise of a channel, from samples whose noise is known because it was added."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.analysis.signal.noise import above_all, noise_of


def flight(hz: float, end_s: float = 3600.0) -> tuple[np.ndarray, np.ndarray]:
    """Return a smooth temperature: cold for ten minutes, a start, then slow movements."""
    t = np.arange(0.0, end_s, 1.0 / hz)
    return t, np.where(t < 600, 15.0, 600 + 100 * np.sin(t / 50) + 80 * np.exp(-(t - 600) / 20))


@pytest.mark.parametrize("hz", [1, 4, 16])
def test_it_is_the_deviation_of_what_was_added_at_any_rate(hz: float) -> None:
    t, v = flight(hz)
    found = noise_of(t, v + np.random.default_rng(3).normal(0, 2.0, t.size))
    assert found.quick == pytest.approx(2.0, rel=0.1)
    assert found.deviation >= found.quick
    assert found.held == 1


@pytest.mark.parametrize("hz", [1, 4, 16])
def test_a_smooth_signal_has_none_and_rounding_makes_half_a_step_at_most(hz: float) -> None:
    t, v = flight(hz)
    assert noise_of(t, v).deviation < 0.01
    assert noise_of(t, np.round(v)).deviation < 0.5
    assert noise_of(t, np.arange(t.size, dtype=float)).deviation == 0.0


def test_what_scatters_below_zero_and_is_cut_off_tells_nothing() -> None:
    # A speed that stands for ten minutes shows the upper half of its noise only.
    t = np.arange(0.0, 900.0, 0.25)
    v = np.interp(t, [0, 600, 630, 900], [0, 0, 60, 60]) + np.random.default_rng(4).normal(0, 0.15, t.size)
    found = noise_of(t, np.maximum(np.round(v, 1), 0.0))
    assert found.quick == pytest.approx(0.15, rel=0.15)
    assert found.lasting < 1.5


def test_of_few_readings_only_what_is_new_in_each_is_told_and_rather_too_wide() -> None:
    t = np.arange(0.0, 10.0, 0.25)
    found = [noise_of(t, 61.0 + np.random.default_rng(k).normal(0, 0.1, t.size)) for k in range(200)]
    assert {one.deviation for one in found} == {0.0}
    assert 0.1 < float(np.median([one.quick for one in found])) < 0.15


def test_jitter_of_the_clock_on_a_steep_slope_is_no_noise() -> None:
    t = np.cumsum(np.random.default_rng(5).uniform(0.2, 0.3, 2000))
    assert noise_of(t, 50.0 * t).deviation < 1e-6


def test_rows_that_repeat_a_reading_count_once() -> None:
    t, v = flight(16)
    rng = np.random.default_rng(9)
    slow = np.repeat(v[::4] + rng.normal(0, 2.0, v[::4].size), 4)[: v.size]
    found = noise_of(t, slow)
    assert found.held == 4
    assert found.quick == pytest.approx(2.0, rel=0.15)
    # A mean of 64 rows is one of 16 readings.
    assert found.of_mean(64) == pytest.approx(found.quick * found.lasting / 4)


def test_noise_that_lasts_makes_means_less_sure() -> None:
    rng = np.random.default_rng(11)
    own = rng.normal(0, 1.0, 20000)
    lasting = np.empty(own.size)
    lasting[0] = own[0]
    for k in range(1, own.size):
        lasting[k] = 0.5 * lasting[k - 1] + own[k] * 0.75**0.5
    t = np.arange(own.size) / 16
    found = noise_of(t, 700 + lasting)
    # The mean of n values of an autoregressive noise scatters by sqrt((1 + r) / (1 - r) / n); here sqrt(3 / n).
    assert found.of_mean(400) == pytest.approx((3 / 400) ** 0.5, rel=0.2)
    assert found.deviation == pytest.approx(1.0, rel=0.2)


def test_the_highest_of_many_stays_below_what_is_told() -> None:
    rng = np.random.default_rng(13)
    highest = rng.normal(0, 1.0, (1000, 500)).max(axis=1)
    assert float(np.mean(highest > above_all(500, 0.05))) == pytest.approx(0.05, abs=0.02)
