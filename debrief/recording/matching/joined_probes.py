"""One channel made of several probes of one temperature: their mean, or the highest of them, row by row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from debrief.recording.model import FloatArray

HOT, HOT_SAMPLES = 300.0, 10
"""Probes are compared where they show more than this, [°C], in so many samples; common practice, no source."""
READS_IN = 0.9
"""A probe that reads in a smaller share of the rows is left out as a whole; common practice, no source."""
STANDS_WHILE = 50.0
"""A probe that stands at one value while another moves by more than this does not read, [°C]; no source."""


@dataclass(frozen=True)
class LeftOut:
    """A probe that is not used: which, from 0, in how many rows it reads, and at what it stands, [°C], if it does."""

    probe: int
    reads: int
    rows: int
    stands_at: float | None = None


@dataclass(frozen=True, eq=False)
class Joined:
    """What several probes give together.

    Attributes
    ----------
    values : (rows,) float array
        Their mean or the highest of them, [°C]; NaN in each row in which one of those used does not read.
    spread : (rows,) float array
        Highest less lowest of those used, [°C]; NaN as `values`.
    used : tuple of int
        Which of the probes are in it, from 0; empty where none reads.
    left_out : tuple of LeftOut
        The others, each with the reason.
    lost : int
        Rows in which some but not all of those used read.
    """

    values: FloatArray
    spread: FloatArray
    used: tuple[int, ...]
    left_out: tuple[LeftOut, ...]
    lost: int


def join_probes(probes: Sequence[FloatArray], way: str, low: float, high: float) -> Joined:
    """Return the mean or the highest of several probes, so that no probe comes and goes within it.

    Parameters
    ----------
    probes : sequence of (rows,) float array
        One value a row each, [°C]; NaN where nothing was sampled.
    way : str
        ``mean`` or ``highest``.
    low, high : float
        What a probe can read at all, [°C].

    Notes
    -----
    A value beyond `low` and `high` is none. A probe that has no value in more than a tenth of the rows, or that stands
    still while another moves, is left out of all rows. In a row in which one of the rest has no value the channel has
    none: a mean without it, or the highest of the others, would be a step that no temperature made.
    """
    read = np.array([np.where((one >= low) & (one <= high), one, np.nan) for one in probes])
    reads = np.isfinite(read)
    sampled = np.any(np.isfinite(np.array(probes)), axis=0)
    rows = int(np.count_nonzero(sampled))
    moved = [float(np.ptp(one[held])) if held.any() else 0.0 for one, held in zip(read, reads, strict=True)]
    left_out: list[LeftOut] = []
    for number, held in enumerate(reads):
        count = int(np.count_nonzero(held))
        if count < READS_IN * rows or not count:
            left_out.append(LeftOut(number, count, rows))
        elif moved[number] == 0.0 and max(moved) > STANDS_WHILE:
            left_out.append(LeftOut(number, count, rows, float(read[number][held][0])))
    gone = {one.probe for one in left_out}
    used = tuple(number for number in range(len(probes)) if number not in gone)
    values, spread = np.full((2, read.shape[1]), np.nan)
    if not used:
        return Joined(values, spread, used, tuple(left_out), 0)
    together = reads[list(used)].all(axis=0)
    held = read[list(used)][:, together]
    values[together] = held.mean(axis=0) if way == "mean" else held.max(axis=0)
    spread[together] = np.ptp(held, axis=0)
    some = reads[list(used)].any(axis=0)
    return Joined(values, spread, used, tuple(left_out), int(np.count_nonzero(some & ~together)))
