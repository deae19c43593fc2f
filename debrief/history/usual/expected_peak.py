"""The peak temperature that an engine's own history leads one to expect under the conditions of a start.

A start on a hot day, with residual heat or a tired battery peaks higher without anything being wrong. The
expectation is a small robust regression over the starts of the normal range. It never replaces a limit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.history.measures import Kept

FloatArray = NDArray[np.float64]

CONDITIONS = ("residual_itt_fuel_on", "ng_at_fuel", "oat", "pressure_altitude", "rest_bus_volts")
"""What is allowed for, the most telling first: few starts carry only the first ones."""

LEAST_SPREAD: Mapping[str, float] = {
    "residual_itt_fuel_on": 5.0,
    "ng_at_fuel": 0.3,
    "oat": 2.0,
    "pressure_altitude": 300.0,
    "rest_bus_volts": 0.1,
}
"""A condition whose standard deviation over the history is less teaches nothing, [its unit]."""

STARTS_PER_TERM = 5
BEYOND_RANGE = 0.25
RIDGE = 0.5
_HUBER = 1.345
_ROUNDS = 30


@dataclass(frozen=True)
class Expected:
    """What history leads one to expect.

    Attributes
    ----------
    value : float or None
        None where it cannot be said; `why` then says so, or is empty where nothing varied enough.
    spread : float or None
        Robust standard deviation of a new start about it, in the unit of the values.
    conditions : tuple of str
        Names of what was allowed for.
    """

    value: float | None = None
    spread: float | None = None
    conditions: tuple[str, ...] = ()
    why: str = ""


def expected(
    past: Sequence[Mapping[str, Kept]], target: str, now: Mapping[str, Kept], *, least: float = 0.0
) -> Expected:
    """Return what the past starts lead one to expect of `target` under the conditions of `now`.

    Parameters
    ----------
    past : sequence of mapping
        Numbers of the starts to learn from; each holds `target`.
    target : str
        Such as ``peak_itt``.
    now : mapping
        Numbers of the start that is judged; its own `target` is not looked at.
    least : float
        Least spread, in the unit of the target.

    Notes
    -----
    A condition is allowed for when every past start and the judged one know it in one unit, when it varied,
    and when there are five starts for each term. The regression is linear with Huber's weights, so that a
    few wild starts do not lead it, and with a small ridge, so that conditions that moved together share their
    effect. The spread is from the residual of each start about the line of all the others, and is wider
    for a start far from the middle of the history. More than a quarter of its range beyond what the history
    covers nothing is said.
    """
    if len(past) < 2 * STARTS_PER_TERM:
        return Expected()
    names = _telling(past, now)[: len(past) // STARTS_PER_TERM - 1]
    if not names:
        return Expected()
    x = np.array([[one[name].value for name in names] for one in past])
    y = np.array([one[target].value for one in past])
    point = np.array([now[name].value for name in names])
    low, high = x.min(axis=0), x.max(axis=0)
    margin = BEYOND_RANGE * (high - low)
    outside = np.flatnonzero((point < low - margin) | (point > high + margin))
    if outside.size:
        return Expected(conditions=names, why=names[int(outside[0])])
    centre, scale = x.mean(axis=0), x.std(axis=0)
    design = np.column_stack([np.ones(y.size), (x - centre) / scale])
    row = np.concatenate([[1.0], (point - centre) / scale])
    coefficients, inverse, weights = _huber_ridge(design, y)
    leverage = np.einsum("ij,jk,ik->i", design, inverse, design) * weights
    without = (y - design @ coefficients) / (1.0 - np.minimum(leverage, 0.9))
    spread = max(1.4826 * float(np.median(np.abs(without))), least)
    reach = float(np.sqrt(1.0 + row @ inverse @ row))
    return Expected(float(row @ coefficients), spread * reach, names)


def _telling(past: Sequence[Mapping[str, Kept]], now: Mapping[str, Kept]) -> tuple[str, ...]:
    """Return the conditions that all starts know in one unit and that varied."""
    out = []
    for name in CONDITIONS:
        if name not in now or any(name not in one for one in past):
            continue
        if {one[name].unit for one in past} != {now[name].unit}:
            continue
        if float(np.std([one[name].value for one in past])) >= LEAST_SPREAD[name]:
            out.append(name)
    return tuple(out)


def _huber_ridge(design: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return (coefficients, inverse of the weighted normal matrix, weights); the constant has no ridge."""
    ridge = RIDGE * np.eye(design.shape[1])
    ridge[0, 0] = 0.0
    weights = np.ones(y.size)
    for _ in range(_ROUNDS):
        inverse = np.asarray(np.linalg.inv(design.T @ (design * weights[:, None]) + ridge), dtype=np.float64)
        coefficients = inverse @ (design.T @ (weights * y))
        residuals = y - design @ coefficients
        sigma = 1.4826 * float(np.median(np.abs(residuals - np.median(residuals))))
        if sigma <= 0:
            break
        new = np.minimum(1.0, _HUBER * sigma / np.maximum(np.abs(residuals), 1e-12))
        if np.allclose(new, weights, atol=1e-6):
            break
        weights = new
    return coefficients, inverse, weights
