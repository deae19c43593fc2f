"""Control charts as pure functions: EWMA, tabular CUSUM, and shifts.

The forms are those of the NIST/SEMATECH e-Handbook of Statistical Methods, sections 6.3.2.3 and 6.3.2.4.
Values are given in order of time; NaN is refused, since a missing value is simply not in the series.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


def _series(values: ArrayLike) -> FloatArray:
    out = np.asarray(values, dtype=np.float64)
    if out.ndim != 1:
        raise ValueError(f"a series has one dimension, not {out.ndim}")
    if not np.all(np.isfinite(out)):
        raise ValueError("a series holds finite values only")
    return out


@dataclass(frozen=True, eq=False)
class Ewma:
    """An exponentially weighted moving average with its limits; all arrays are (n,)."""

    values: FloatArray
    lower: FloatArray
    upper: FloatArray
    signals: BoolArray


def ewma(
    values: ArrayLike,
    *,
    target: float,
    sigma: float,
    weight: float = 0.3,
    width: float = 3.0,
    steady: bool = False,
) -> Ewma:
    """Return the exponentially weighted moving average of a series and its control limits.

    Parameters
    ----------
    values : (n,) array
        In order of time.
    target, sigma : float
        Centre and standard deviation of the single values while nothing has shifted.
    weight : float
        Of the newest value, above 0 up to 1.
    width : float
        Of the limits, in standard deviations of the average.
    steady : bool
        Limits of an average that has run for long; else the exact, narrower limits of its beginning.

    Notes
    -----
    z_i = w x_i + (1 - w) z_{i-1}, z_0 = target; var z_i = sigma^2 w/(2-w) (1 - (1-w)^{2i}). A value equal to
    a limit is not a signal.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.4.

    Raises
    ------
    ValueError
        NaN in the series, weight outside (0, 1], or negative sigma.
    """
    x = _series(values)
    if not 0 < weight <= 1 or sigma < 0:
        raise ValueError("weight must be in (0, 1] and sigma not negative")
    z = np.empty_like(x)
    last = target
    for index, value in enumerate(x):
        last = weight * float(value) + (1.0 - weight) * last
        z[index] = last
    variance = weight / (2.0 - weight) * np.ones_like(x)
    if not steady:
        variance *= 1.0 - (1.0 - weight) ** (2.0 * np.arange(1, x.size + 1))
    reach = width * sigma * np.sqrt(variance)
    lower, upper = target - reach, target + reach
    return Ewma(values=z, lower=lower, upper=upper, signals=(z < lower) | (z > upper))


@dataclass(frozen=True, eq=False)
class Cusum:
    """The two one-sided cumulative sums, as positive numbers, with their signals; all arrays are (n,)."""

    high: FloatArray
    low: FloatArray
    high_signals: BoolArray
    low_signals: BoolArray


def cusum(values: ArrayLike, *, target: float, slack: float, decision: float) -> Cusum:
    """Return the tabular cumulative sums above and below a target.

    Parameters
    ----------
    values : (n,) array
        In order of time.
    target : float
        The centre.
    slack : float
        Deviation that is let pass each time (k), in the unit of the values; half the shift looked for.
    decision : float
        A sum above it is a signal (h), in the unit of the values.

    Notes
    -----
    S_hi,i = max(0, S_hi,i-1 + x_i - target - k); S_lo,i = max(0, S_lo,i-1 + target - k - x_i); both begin
    at 0. A sum equal to the decision value is not a signal.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, section 6.3.2.3.

    Raises
    ------
    ValueError
        NaN in the series, or negative slack or decision value.
    """
    x = _series(values)
    if slack < 0 or decision < 0:
        raise ValueError("slack and decision value must not be negative")
    high, low = np.empty_like(x), np.empty_like(x)
    above = below = 0.0
    for index, value in enumerate(x):
        above = max(0.0, above + float(value) - target - slack)
        below = max(0.0, below + target - slack - float(value))
        high[index], low[index] = above, below
    return Cusum(high=high, low=low, high_signals=high > decision, low_signals=low > decision)


@dataclass(frozen=True)
class Shift:
    """A lasting change of level in a series.

    Attributes
    ----------
    direction : {"up", "down"}
    since, signalled, until : int
        Indices: first value of the shift, value at which it was certain enough to say, and its last value.
    size : float
        Median of the values from `since` to `until` minus the target, in their unit.
    lasting : bool
        The series ends within it.
    """

    direction: Literal["up", "down"]
    since: int
    signalled: int
    until: int
    size: float
    lasting: bool


def shifts(
    values: ArrayLike, *, target: float, sigma: float, slack: float = 0.5, decision: float = 5.0
) -> tuple[Shift, ...]:
    """Return the lasting changes of level that the cumulative sums find, in order.

    Parameters
    ----------
    values : (n,) array
        In order of time.
    target, sigma : float
        Centre and standard deviation while nothing has shifted; sigma above 0.
    slack, decision : float
        In standard deviations. With the defaults a change by one standard deviation is said after some ten
        values, and an unchanged series raises a false signal once in some 470.

    Notes
    -----
    A shift lasted until its sum's highest value if the sum has since fallen by more than the decision value;
    else it still lasts. It began, after the sum was last 0 and not after the signal, where a change of mean
    explains the values best: where (sum of the deviations to its end)^2 / (their number) is greatest. After
    an ended shift both sums begin anew.
    """
    x = _series(values)
    if not sigma > 0:
        raise ValueError("sigma must be above 0")
    found: list[Shift] = []
    begin = 0
    while begin < x.size:
        part = x[begin:]
        chart = cusum(part, target=target, slack=slack * sigma, decision=decision * sigma)
        signalled = np.flatnonzero(chart.high_signals | chart.low_signals)
        if signalled.size == 0:
            break
        first = int(signalled[0])
        up = bool(chart.high_signals[first])
        total = chart.high if up else chart.low
        zeros = np.flatnonzero(total[:first] <= 0)
        since = int(zeros[-1]) + 1 if zeros.size else 0
        until, fallen = _highest(total, first, decision * sigma)
        since = _likeliest(part[: until + 1] - target, since, first, up)
        size = float(np.median(part[since : until + 1])) - target
        found.append(
            Shift(
                direction="up" if up else "down",
                since=begin + since,
                signalled=begin + first,
                until=begin + until,
                size=size,
                lasting=not fallen,
            )
        )
        if not fallen:
            break
        begin += until + 1
    return tuple(found)


def _likeliest(deviations: FloatArray, lowest: int, highest: int, up: bool) -> int:
    """Return the index from `lowest` to `highest` from which a change of mean is likeliest to have begun."""
    sums = np.cumsum(deviations[::-1])[::-1] * (1.0 if up else -1.0)
    many = deviations.size - np.arange(deviations.size)
    gain = np.maximum(sums, 0.0) ** 2 / many
    return lowest + int(np.argmax(gain[lowest : highest + 1]))


def _highest(total: FloatArray, first: int, drop: float) -> tuple[int, bool]:
    """Return where the sum was highest before it fell by more than `drop`, and whether it did."""
    best = first
    for index in range(first, total.size):
        if total[index] > total[best]:
            best = index
        elif total[best] - total[index] > drop:
            return best, True
    return total.size - 1, False
