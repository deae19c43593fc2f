"""Least-squares lines through stretches of readings, and how far their slopes may lie beside the true ones."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.signal.noise import Noise
from debrief.recording.model import FloatArray

AT_ONCE = 4096
SHOWN = 16
"""Of so many stretches it is looked at how readings lean on each other, and at what times they were taken."""

LEAST_OWN = 10
"""So many readings of a stretch tell their noise themselves."""

ROUNDING = 0.61
"""Rounding alone looks like noise of less than so many steps of the recorder."""

MOST_LEANING_OF = 96
LEANINGS = np.linspace(0.0, 0.95, 20)
PHASES = 16
FASTER = np.linspace(1.0, 2.0, 11)

Index = NDArray[np.intp]


class Lines(NamedTuple):
    """Lines through the readings from each `first` to its `last`, both included.

    `beside` is the root mean square by which the readings lie beside their line, [unit]; `spread_s2` the sum of the
    squares of their times less the mean, [s2].
    """

    first: Index
    last: Index
    rate: FloatArray
    at_end: FloatArray
    beside: FloatArray
    spread_s2: FloatArray

    def where(self, these: NDArray[np.bool_]) -> Lines:
        """Return some of them."""
        first, last, *values = self
        return Lines(first[these], last[these], *(one[these] for one in values))


def fitted(t: FloatArray, v: FloatArray, first: Index, last: Index) -> Lines:
    """Return the lines of readings `v` at times `t`, [s]."""
    rows = [(first[:0], last[:0], t[:0], t[:0], t[:0], t[:0])]
    for k in range(0, last.size, AT_ONCE):
        a, b = first[k : k + AT_ONCE], last[k : k + AT_ONCE] + 1
        base = int(a[0])
        # From near by, so that no digits are lost.
        x, y = t[base : int(b[-1])] - t[base], v[base : int(b[-1])] - v[base]
        sums = [np.concatenate(([0.0], np.cumsum(one))) for one in (x, y, x * x, x * y, y * y)]
        sx, sy, sxx, sxy, syy = (one[b - base] - one[a - base] for one in sums)
        n = b - a
        spread = sxx - sx * sx / n
        rate = (sxy - sx * sy / n) / spread
        left = np.maximum(syy - sy * sy / n - rate * rate * spread, 0.0)
        at_end = v[base] + sy / n + rate * (x[b - 1 - base] - sx / n)
        rows.append((a, b - 1, rate, at_end, np.sqrt(left / np.maximum(n - 2, 1)), spread))
    return Lines(*(np.concatenate(one) for one in zip(*rows, strict=True)))


def scattered(
    t: FloatArray,
    v: FloatArray,
    lines: Lines,
    noise: Noise,
    step: float,
    deviations: float,
    even: NDArray[np.bool_],
) -> FloatArray:
    """Return by how much noise may move each slope, so many deviations of it, [unit/s].

    `even` has the lines of stretches that do not bend, as far as is known: they tell how long noise lasts.

    Notes
    -----
    Of many readings their own scatter counts, with Student's allowance for how few they are, and at least what is known of
    the channel's noise; of few, the channel's scatter with what rounding makes. What readings scatter beyond
    rounding counts more where one leans on the one before, and less often where rows repeat.
    """
    count = lines.last - lines.first + 1
    free = np.maximum(count - 2, 1)
    own = lines.beside * (1.0 + deviations**2 / (4.0 * free))
    alone = (ROUNDING * step) ** 2
    beyond = np.sqrt(np.maximum(np.maximum(own, noise.quick) ** 2 - alone, 0.0))
    longer = 1.0
    if noise.held == 1:
        some = np.flatnonzero(even)
        some = (
            some[np.unique(np.linspace(0, max(some.size - 1, 0), SHOWN).astype(np.intp))]
            if some.size
            else some
        )
        longer = lasting(
            [(t[lines.first[k] : lines.last[k] + 1], v[lines.first[k] : lines.last[k] + 1]) for k in some]
        )
    plain = np.where(count >= LEAST_OWN, own, np.maximum(noise.quick, lines.beside))
    out: FloatArray = (
        deviations
        * np.maximum(beyond * max(longer, noise.lasting), plain)
        * np.sqrt(noise.held / lines.spread_s2)
    )
    return out


def lasting(stretches: list[tuple[FloatArray, FloatArray]]) -> float:
    """Return how much wider slopes scatter than the readings beside their lines suggest, by how these lean on each other."""
    leaning, size = [], 0
    for t, v in stretches:
        if t.size < LEAST_OWN:
            continue
        x = t - t.mean()
        beside = v - v.mean() - float(x @ v) / float(x @ x) * x
        if (square := float(beside @ beside)) > 0:
            leaning.append(float(beside[1:] @ beside[:-1]) / square)
            size = max(size, t.size)
    if not leaning:
        return 1.0
    seen, wider = _leanings(min(size, MOST_LEANING_OF))
    return float(np.interp(float(np.median(leaning)), seen, wider))


@lru_cache(maxsize=64)
def _leanings(count: int) -> tuple[FloatArray, FloatArray]:
    """Return what readings that lean on the one before by each of `LEANINGS` show beside a line, and do to its slope.

    A line takes out of a few readings much of what leans: the correlation that is left, and the slope's deviation over
    that which independent readings of the same scatter would give it.
    """
    x = np.arange(count) - 0.5 * (count - 1)
    hat = np.full((count, count), 1.0 / count) + np.outer(x, x) / (x @ x)
    left = np.eye(count) - hat
    apart = np.abs(np.subtract.outer(np.arange(count), np.arange(count)))
    seen, wider = [], []
    for rho in LEANINGS.tolist():
        true = rho**apart
        shown = left @ true @ left
        scatter = float(np.trace(shown))
        seen.append(float(np.trace(shown, offset=1)) / scatter)
        wider.append(math.sqrt(float(x @ true @ x) / float(x @ x) * (count - 2) / scatter))
    return np.array(seen), np.array(wider)


def rounded(t: FloatArray, lines: Lines, least: float, step: float) -> float:
    """Return by how much rounding may at most put a slope below `least` that is truly that or more, [unit/s]."""
    if step <= 0 or not lines.last.size:
        return 0.0
    worst = 0.0
    phases = np.arange(PHASES)[:, None] / PHASES
    for k in np.unique(np.linspace(0, lines.last.size - 1, SHOWN).astype(np.intp)).tolist():
        x = t[lines.first[k] : lines.last[k] + 1]
        x = x - x.mean()
        for rate in (least * FASTER).tolist():
            shown = step * float((np.round(rate * x / step + phases) @ x).min()) / float(x @ x)
            worst = max(worst, least - shown)
    return worst
