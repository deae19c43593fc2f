"""The noise of a recorded channel: how far a reading lies beside the true value, and how long it stays there."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from debrief.recording.model import FloatArray

BLOCK = 64
"""So many samples tell the noise of their place."""

LEAST = 64
"""Fewer readings tell no noise of one reading."""

LEAST_QUICK = 24
FEW = 2.0
"""Fewer than a block tell what is new in each, so badly: wider by so many parts of one over the root of how many."""

LONG_BLOCK = 512
MOST_BLOCKS = 64
"""Of a long recording so many stretches are looked at, evenly over it, neighbours kept together."""

LEAST_SHARE = 0.1
"""Noise that fewer blocks show is the movement of the signal: a start, a change of power."""

KEPT = 0.5
_EDGE = NormalDist().inv_cdf(0.5 + KEPT / 2.0)
KEPT_RMS = math.sqrt(1.0 - 2.0 * _EDGE * NormalDist().pdf(_EDGE) / KEPT)
"""The root mean square of the half of normal numbers that lies nearest to the mean, in deviations."""

QUIET = 1.09
"""Of stretches of the same noise the lower quartile is so much too low."""

MEAN_OF = 8
MOST_LASTING = 6.0
IN_STEP = 0.9
LEAST_CHANGES = 8


@dataclass(frozen=True)
class Noise:
    """The noise of a channel.

    Attributes
    ----------
    deviation : float
        Of one reading, [unit]; of a signal that moves through the recorder's steps up to half a step is rounding.
    quick : float
        The part of it that is new in every reading, [unit]; the only one that fewer than 64 readings tell.
    held : int
        How many rows one reading is repeated over: the rows come faster than the readings.
    lasting : float
        How much wider means of several readings scatter than those of independent ones, 1 to 6.
    """

    deviation: float = 0.0
    quick: float = 0.0
    held: int = 1
    lasting: float = 1.0

    def of_mean(self, rows: int) -> float:
        """Return the deviation of a mean over so many rows, [unit]; never more than that of one reading."""
        return min(self.deviation, self.quick * self.lasting / math.sqrt(max(rows / self.held, 1.0)))


def noise_of(time_s: FloatArray, values: FloatArray) -> Noise:
    """Return the noise that a channel shows.

    Parameters
    ----------
    time_s, values : (n,) float array

    Notes
    -----
    From how far each reading lies beside the cubic through its two neighbours on each side, which a signal that bends
    hardly moves: the root mean square of the nearer half of them, which is 0.378 deviations. Of all stretches of 64
    readings in which anything moves the quieter ones are taken; a zero that nothing lies below tells nothing. Readings that stand in several rows are taken once.
    """
    if values.size < LEAST_QUICK:
        return Noise()
    pieces = _pieces(time_s, values)
    held = _held([v for _, v in pieces]) or 1
    if held > 1:
        pieces = [_updates(t, v, held) for t, v in pieces]
    beside = np.concatenate([_beside_cubic(t, v) for t, v in pieces])
    means = np.concatenate([_beside_cubic(*_means(t, v)) for t, v in pieces])
    if values.min() == 0.0:
        # What a speed, a flow or a pressure scatters below zero is cut off.
        found = [np.concatenate([_without_zero(v, of) for _, v in pieces]) for of in (1, MEAN_OF)]
        if np.count_nonzero(found[0]) >= LEAST:
            beside, means = beside[found[0]], means[found[1]]
    deviation = _typical(np.abs(beside))
    # Below a billionth of the values it is the arithmetic.
    if not 1e-9 * float(np.abs(values).max()) < deviation < math.inf:
        return Noise(held=held)
    if values.size < LEAST:
        return Noise(0.0, deviation * (1.0 + FEW / math.sqrt(beside.size)), held)
    longer = _typical(np.abs(means)) * math.sqrt(MEAN_OF) / deviation if means.size >= BLOCK else 1.0
    lasting = min(max(longer, 1.0), MOST_LASTING)
    # What lasts moves the neighbours as well, and is not seen beside them.
    whole = max(math.sqrt(min(lasting, 2.0)), 1.2 * lasting / math.sqrt(MEAN_OF))
    return Noise(deviation * whole, deviation, held, lasting)


def above_all(count: int, share: float = 0.005) -> float:
    """Return how many deviations the highest of `count` normal numbers stays below in all but this share of cases."""
    return NormalDist().inv_cdf(1.0 - share / max(count, 1))


def _pieces(time_s: FloatArray, values: FloatArray) -> list[tuple[FloatArray, FloatArray]]:
    if values.size <= LONG_BLOCK * MOST_BLOCKS:
        return [(time_s, values)]
    begin = np.linspace(0, values.size - LONG_BLOCK, MOST_BLOCKS).astype(np.intp)
    return [(time_s[k : k + LONG_BLOCK], values[k : k + LONG_BLOCK]) for k in begin]


def held_rows(values: FloatArray) -> int | None:
    """Return how many rows each reading stands in; 1 where they do not change in step, None where they hardly change.

    Two readings may be equal: then the value stands for a multiple of that.
    """
    return _held([v for _, v in _pieces(values, values)])


def _held(pieces: list[FloatArray]) -> int | None:
    lengths = np.concatenate([np.diff(np.flatnonzero(np.diff(v))) for v in pieces])
    if lengths.size < LEAST_CHANGES:
        return None
    usual = int(np.bincount(lengths).argmax())
    return usual if usual > 1 and float(np.mean(lengths % usual == 0)) >= IN_STEP else 1


def _updates(t: FloatArray, v: FloatArray, held: int) -> tuple[FloatArray, FloatArray]:
    """Return each reading once, also one that equals that before it."""
    changed = np.flatnonzero(np.diff(v))
    first = (int(changed[0]) + 1) % held if changed.size else 0
    return t[first::held], v[first::held]


def _beside_cubic(t: FloatArray, v: FloatArray) -> FloatArray:
    """Return how far each reading lies beside the cubic through its neighbours, in deviations of one reading."""
    if v.size < 5:
        return np.empty(0)
    steps = np.diff(t)
    if float(np.ptp(steps)) <= 1e-3 * float(steps[0]):
        beside = v[2:-2] - (4.0 * (v[1:-3] + v[3:-1]) - v[:-4] - v[4:]) / 6.0
        return beside / math.sqrt(1.0 + 34.0 / 36.0)
    at = t[2:-2]
    others = [t[k : t.size - 4 + k] for k in (0, 1, 3, 4)]
    beside, spread = v[2:-2].copy(), np.ones(at.size)
    for n, k in enumerate((0, 1, 3, 4)):
        weight = np.ones(at.size)
        for m, other in enumerate(others):
            if m != n:
                weight *= (at - other) / (others[n] - other)
        beside -= weight * v[k : v.size - 4 + k]
        spread += weight**2
    return beside / np.sqrt(spread)


def _means(t: FloatArray, v: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the means of eight readings after each other, and of their times."""
    rows = v.size // MEAN_OF
    times, means = (x[: rows * MEAN_OF].reshape(rows, MEAN_OF).mean(axis=1) for x in (t, v))
    return times, means


def _without_zero(v: FloatArray, of: int) -> NDArray[np.bool_]:
    """Return of which five neighbours, each a mean of so many readings, none holds a zero."""
    none: NDArray[np.bool_] = np.all(v[: v.size // of * of].reshape(-1, of) != 0.0, axis=1)
    return none[:0] if none.size < 5 else np.asarray(sliding_window_view(none, 5).all(axis=1))


def _typical(sizes: FloatArray) -> float:
    """Return the deviation of normal numbers whose sizes these are, where they move; 0 where hardly any do."""
    if not sizes.size:
        return 0.0
    rows = sizes.size // BLOCK
    blocks = sizes[: rows * BLOCK].reshape(rows, BLOCK) if rows else sizes[None, :]
    kept = max(round(KEPT * blocks.shape[1]), 1)
    nearer = np.partition(blocks, kept - 1, axis=1)[:, :kept]
    spread = np.sqrt(np.mean(nearer**2, axis=1)) / KEPT_RMS
    moving = spread[spread > 0]
    return QUIET * float(np.quantile(moving, 0.25)) if moving.size >= LEAST_SHARE * spread.size else 0.0
