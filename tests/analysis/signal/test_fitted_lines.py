"""Slopes of least-squares lines: against numpy's own fit, and against scatter and rounding that are known."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.analysis.signal.fitted_lines import fitted, lasting, rounded, scattered
from debrief.analysis.signal.noise import Noise, noise_of


def leaning(rng: np.random.Generator, rows: int, count: int, rho: float) -> np.ndarray:
    out = np.empty((rows, count))
    out[:, 0] = rng.normal(0, 1.0, rows)
    for k in range(1, count):
        out[:, k] = rho * out[:, k - 1] + (1 - rho**2) ** 0.5 * rng.normal(0, 1.0, rows)
    return out


def test_the_lines_are_those_of_a_fit_of_each_alone_however_late_in_the_recording() -> None:
    rng = np.random.default_rng(2)
    t = 40000.0 + np.cumsum(rng.uniform(0.05, 0.3, 9000))
    v = 50.0 + np.cumsum(rng.normal(0, 0.05, t.size))
    last = np.arange(30, t.size)
    lines = fitted(t, v, last - 30, last)
    for k in (0, 4095, 4096, last.size - 1):
        x, y = t[k : k + 31], v[k : k + 31]
        rate, level = np.polyfit(x - x[-1], y, 1)
        assert lines.rate[k] == pytest.approx(rate, abs=1e-9)
        assert lines.at_end[k] == pytest.approx(level, abs=1e-8)
        beside = y - level - rate * (x - x[-1])
        assert lines.beside[k] == pytest.approx(float(np.sqrt((beside @ beside) / 29)), rel=1e-6)


@pytest.mark.parametrize("rho", [0.0, 0.5, 0.8])
@pytest.mark.parametrize("count", [21, 81])
def test_readings_that_lean_on_each_other_make_slopes_less_sure(rho: float, count: int) -> None:
    rng = np.random.default_rng(6)
    t = np.arange(count) * 0.25
    rows = leaning(rng, 3000, count, rho)
    x = t - t.mean()
    slopes = rows @ x / (x @ x)
    left = rows - rows.mean(axis=1, keepdims=True) - np.outer(slopes, x)
    usual = float(np.sqrt((left**2).sum(axis=1).mean() / (count - 2) / (x @ x)))
    # What the program says of a few hundred of them, against how their slopes really scatter.
    said = lasting([(t, row) for row in rows[:400]])
    assert said * usual == pytest.approx(float(slopes.std()), rel=0.2)


@pytest.mark.parametrize("hz", [2, 4, 16])
@pytest.mark.parametrize("step", [0.1, 0.5])
def test_no_more_slopes_lie_beyond_what_noise_is_said_to_make_than_are_allowed(hz: int, step: float) -> None:
    rng = np.random.default_rng(8)
    count = 5 * hz + 1
    beyond, many = 0, 1500
    for _ in range(many):
        t = np.arange(60 * hz) / hz
        v = np.round((20 + 0.33 * t + rng.normal(0, 0.1, t.size)) / step) * step
        one = np.array([0]), np.array([count - 1])
        lines = fitted(t, v, *one)
        wide = scattered(t, v, lines, noise_of(t, v), step, 2.0, np.array([True]))
        beyond += abs(float(lines.rate[0]) - 0.33) > float(np.hypot(wide[0], rounded(t, lines, 0.33, step)))
    # Two deviations: 4.6 % of normal numbers lie beyond, [NIST/SEMATECH e-Handbook, normal distribution].
    assert beyond / many < 0.05


@pytest.mark.parametrize("step", [0.1, 0.5, 1.0])
@pytest.mark.parametrize("hz", [1, 2, 4, 16])
def test_rounding_never_puts_a_slope_further_below(hz: int, step: float) -> None:
    rng = np.random.default_rng(10)
    t = np.arange(5 * hz + 1) / hz
    one = fitted(t, t, np.array([0]), np.array([t.size - 1]))
    most = rounded(t, one, 0.3, step)
    low = []
    for _ in range(3000):
        rate, level = rng.uniform(0.3, 0.9), rng.uniform(0, 1)
        v = np.round((rate * t + level) / step) * step
        low.append(0.3 - float(fitted(t, v, np.array([0]), np.array([t.size - 1])).rate[0]))
    # Phases a sixteenth of the step apart are looked at: a little is left between. Rates that step evenly are worse than others.
    assert max(low) <= most + 0.1 * step / 5
    assert most <= max(low) + 0.6 * step / 5


def test_rows_that_repeat_a_reading_make_slopes_less_sure() -> None:
    t = np.arange(81) / 16
    lines = fitted(t, 0.3 * t, np.array([0]), np.array([80]))
    plain, twice = (
        scattered(t, 0.3 * t, lines, Noise(0.1, 0.1, held), 0.0, 3.0, np.array([False]))[0] for held in (1, 2)
    )
    assert twice == pytest.approx(plain * 2**0.5)
