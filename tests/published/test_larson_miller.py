"""Larson-Miller: the published form, a published worked example, and the relative rate that follows from them.

P = T (C + log10 t), T in kelvin, t in hours, C near 20: F. R. Larson and J. Miller, Trans. ASME 74 (1952) 765.
Worked example: W. D. Callister, Materials Science and Engineering, design example on rupture lifetime:
P = 24.0e3, T = 1073 K, C = 20 gives log10 t = 2.37, t = 233 h.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from debrief.analysis.flight.life_use import relative_rate
from debrief.profile.model import LifeRules

P, C, T = 24.0e3, 20.0, 1073.0


def life_h(kelvin: float) -> float:
    return float(10 ** (P / kelvin - C))


def test_the_worked_example_itself() -> None:
    assert math.log10(life_h(T)) == pytest.approx(2.37, abs=0.005)
    assert life_h(T) == pytest.approx(233.0, abs=1.0)


@pytest.mark.parametrize("other", [973.0, 1053.0, 1073.0, 1093.0, 1173.0])
def test_the_rate_is_the_ratio_of_the_lives_of_one_parameter(other: float) -> None:
    rules = LifeRules(None, T - 273.15, C, life_h(T))
    (rate,) = relative_rate(np.array([other - 273.15]), rules)
    assert rate == pytest.approx(life_h(T) / life_h(other), rel=1e-9)


def test_twenty_kelvin_at_a_thousand_hours() -> None:
    """Computed by hand: 10 ** (23 x (1 - 1073/1093)) and 10 ** (23 x (1 - 1073/1053)); no source."""
    for rules in (LifeRules(None, T - 273.15, C, 1000.0), LifeRules(None, T - 273.15, C)):
        hotter, cooler = relative_rate(np.array([1093.0, 1053.0]) - 273.15, rules)
        assert (hotter, cooler) == pytest.approx((2.635, 0.3657), abs=5e-4)
