"""Arithmetic on the states at 1 kHz: plain counting of milliseconds. Nothing of it comes from the analysis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

PER_S = 1000.0


def edges(on: Bools) -> list[tuple[int, int]]:
    """Return the (first step on, first step off again) of each stretch."""
    padded = np.zeros(on.size + 2, dtype=np.int8)
    padded[1:-1] = on
    change = np.flatnonzero(np.diff(padded))
    return [(int(a), int(b)) for a, b in change.reshape(-1, 2)]


def seconds(on: Bools) -> float:
    """Return how long, [s]."""
    return float(np.count_nonzero(on)) / PER_S


def runs(on: Bools, bridge_s: float) -> list[tuple[int, int, float]]:
    """Return (first step, step after the last, seconds on) of each run; shorter breaks do not end it."""
    out: list[tuple[int, int, float]] = []
    for a, b in edges(on):
        if out and (a - out[-1][1]) / PER_S < bridge_s:
            out[-1] = (out[-1][0], b, out[-1][2] + (b - a) / PER_S)
        else:
            out.append((a, b, (b - a) / PER_S))
    return out


@dataclass(frozen=True)
class Sampling:
    """When a channel was sampled (steps, rising), how far its values may be off, and which breaks are long."""

    steps: Ints
    half_step: float
    noise: float

    def around(self, step: int) -> tuple[int, int]:
        """Return the last sample at or before a step and the first after it; the ends where there is none."""
        k = int(np.searchsorted(self.steps, step, side="right"))
        before = int(self.steps[max(k - 1, 0)])
        after = int(self.steps[min(k, self.steps.size - 1)])
        return min(before, step), max(after, step)

    def wait_s(self, step: int) -> float:
        """Return the length of the sample interval around a step, [s]."""
        a, b = self.around(step)
        return (b - a) / PER_S

    def gap_at(self, step: int) -> bool:
        """Return whether the step lies in a break much longer than usual, or outside the samples."""
        if step < self.steps[0] or step > self.steps[-1]:
            return True
        usual = float(np.median(np.diff(self.steps)))
        a, b = self.around(step)
        return (b - a) > max(2.5 * usual, 450.0)


def blur_s(values: Floats, level: float, inside: Bools, sampling: Sampling, below: bool = False) -> float:
    """Return how far sampling, resolution and noise leave the time beyond a level open, [s].

    Each interval between samples in which the state crosses the level counts whole, and so does a long break
    with anything beyond the level in it, and the time within half a step of the recorder, and three deviations
    of its noise, of the level.
    """
    signed = -values if below else values
    mark = -level if below else level
    beyond = (signed > mark) & inside
    count = np.concatenate(([0], np.cumsum(beyond)))
    a, b = sampling.steps[:-1], sampling.steps[1:]
    inner = count[b] - count[a]
    length = b - a
    usual = float(np.median(length)) if length.size else 0.0
    mixed = (inner > 0) & (inner < length)
    mixed |= beyond[a] != beyond[b]
    mixed |= (inner > 0) & (length > max(2.5 * usual, 450.0))
    open_ms = float(length[mixed].sum())
    open_ms += float(count[min(int(sampling.steps[0]), count.size - 1)])
    open_ms += float(count[-1] - count[min(int(sampling.steps[-1]), count.size - 1)])
    half = sampling.half_step + 3.0 * sampling.noise
    if half > 0:
        near = (signed > mark - half) & (signed <= mark + half) & inside
        open_ms += float(np.count_nonzero(near))
    return open_ms / PER_S


def spread(values: Floats, begin: int, end: int) -> tuple[float, float]:
    """Return the lowest and highest value from one step to another, both included."""
    part = values[max(begin, 0) : max(end, begin) + 1]
    return float(part.min()), float(part.max())
