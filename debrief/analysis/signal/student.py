"""Quantiles of Student's t distribution, and Welch's interval of the difference of two means."""

from __future__ import annotations

import math
from statistics import NormalDist

import numpy as np

from debrief.recording.model import FloatArray

MOST_STEPS = 60
EXPANSION = ((4, 1, 1), (96, 3, 16, 5), (384, -15, 17, 19, 3), (92160, -945, -1920, 1482, 776, 79))
"""By Abramowitz and Stegun 26.7.5: for each power of 1 / freedom the divisor, then what 1st, 3rd, ... powers of the normal quantile count."""
NEAR_NORMAL = 8.0
"""From so many degrees of freedom on it begins near the quantile."""
NORMAL_ENOUGH, MIDDLE = 30.0, 2.5
"""From so many on, and up to this normal quantile, it is right to a ten-millionth."""


def t_quantile(share: float, freedom: float) -> float:
    """Return what a t-distributed number stays below in this share of cases.

    Parameters
    ----------
    share : float
        Above 0.5 and below 1.
    freedom : float
        Degrees of freedom, above 0; they need not be whole.

    Notes
    -----
    By Newton's steps on the distribution function, which is the regularised incomplete beta function by its continued
    fraction (Abramowitz and Stegun 26.7.1, 26.5.8).
    """
    if not 0.5 < share < 1.0 or freedom <= 0.0:
        raise ValueError(f"no quantile at {share} of {freedom} degrees of freedom")
    at = normal = NormalDist().inv_cdf(share)
    if freedom >= NEAR_NORMAL:
        for power, (whole, *terms) in enumerate(EXPANSION, 1):
            at += sum(n * normal ** (2 * k + 1) for k, n in enumerate(terms)) / (whole * freedom**power)
        if freedom >= NORMAL_ENOUGH and normal < MIDDLE:
            return at
    # The function bends downwards: from below the steps come from one side.
    height = math.exp(math.lgamma(0.5 * freedom + 0.5) - math.lgamma(0.5 * freedom)) / math.sqrt(
        math.pi * freedom
    )
    for _ in range(MOST_STEPS):
        slope = height * (1.0 + at * at / freedom) ** (-0.5 * (freedom + 1.0))
        step = (share - _below(at, freedom)) / slope
        at += step
        if abs(step) <= 1e-9 * at:
            break
    return at


def _below(t: float, freedom: float) -> float:
    """Return the share of t-distributed numbers below t, t not below 0."""
    return 1.0 - 0.5 * _beta(freedom / (freedom + t * t), 0.5 * freedom, 0.5)


def _beta(x: float, a: float, b: float) -> float:
    """Return the regularised incomplete beta function."""
    if x <= 0.0 or x >= 1.0:
        return 0.0 if x <= 0.0 else 1.0
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    )
    if x < (a + 1.0) / (a + b + 2.0):
        return front * _fraction(x, a, b) / a
    return 1.0 - front * _fraction(1.0 - x, b, a) / b


def _fraction(x: float, a: float, b: float) -> float:
    """Return the continued fraction of the incomplete beta function, by Lentz's rule."""
    tiny = 1e-300
    c, d = 1.0, 1.0 / (1.0 - (a + b) * x / (a + 1.0) or tiny)
    out = d
    for m in range(1, 400):
        even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        for part in (even, odd):
            d = 1.0 / (1.0 + part * d or tiny)
            c = 1.0 + part / c or tiny
            out *= c * d
        if abs(c * d - 1.0) < 1e-14:
            break
    return out


def welch(before: FloatArray, after: FloatArray) -> tuple[float, float, float]:
    """Return the difference of two means, its standard error and its degrees of freedom by Welch.

    Parameters
    ----------
    before, after : (n,), (m,) float array
        At least two values each.

    References
    ----------
    Welch 1947, Biometrika 34, 28-35.
    """
    parts = [float(x.var(ddof=1)) / x.size for x in (before, after)]
    square = sum(parts)
    freedom = math.inf
    if square > 0.0:
        freedom = square**2 / sum(p**2 / (x.size - 1) for p, x in zip(parts, (before, after), strict=True))
    return float(np.mean(after) - np.mean(before)), math.sqrt(square), freedom
