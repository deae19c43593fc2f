"""What all quality flags are made with: names and times in words, and stretches of samples."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from debrief.recording.model import Channel, QualityFlag, names_of
from debrief.words.sentence import Quantity, sentence

Place = TypeVar("Place")


def named(channel: Channel) -> str:
    """Return the channel's name in words, with the engine's number where there are several."""
    return names_of([channel]).in_text(channel.name, begins=True)


ZERO = {"degF": -160.0 / 9.0, "K": -273.15}
"""What a zero in a file has become in the canonical unit of its channel."""
MAX_FLAGS_PER_KIND = 20
DIGITS = 6
"""Significant digits of a value in a flag."""


def flag(
    kind: str, channel: Channel, start: float, end: float, words: str, **values: str | int | Quantity
) -> QualityFlag:
    """Return a flag of a channel, which its sentence may name; times in seconds from the first sample."""
    said = sentence(words, channel=named(channel), **values)
    return QualityFlag(kind, channel.name, float(start), float(end), said)


def value_of(channel: Channel, value: float, *, is_step: bool = False, has_unit: bool = True) -> Quantity:
    """Return a value of a channel for a sentence; without its unit where another value with it follows."""
    return Quantity(float(value), channel.unit, is_difference=is_step, digits=DIGITS, has_unit=has_unit)


def runs(mask: NDArray[np.bool_]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Return the first and the last index of each run of True."""
    edges = np.flatnonzero(np.diff(mask, prepend=False, append=False)).astype(np.int64)
    return edges[::2], edges[1::2] - 1


def told(places: Sequence[Place], word: Callable[[Place], QualityFlag]) -> list[QualityFlag]:
    """Return a flag for each of the first places, worded, and a last one that counts the rest.

    At most `MAX_FLAGS_PER_KIND` are worded, so that a channel with a fault in each sample costs little.
    """
    flags = [word(place) for place in places[:MAX_FLAGS_PER_KIND]]
    if len(places) > MAX_FLAGS_PER_KIND:
        first, last = word(places[MAX_FLAGS_PER_KIND]), word(places[-1])
        count = len(places) - MAX_FLAGS_PER_KIND
        more = "1 more of this kind follows." if count == 1 else f"{count} more of this kind follow."
        flags.append(QualityFlag(first.kind, first.channel, first.start_s, last.end_s, sentence(more)))
    return flags


def any_run(mask: NDArray[np.bool_], length: int) -> bool:
    """Whether the mask may hold a run of True of this length: some stretch of half of it is all True."""
    half = max(length // 2, 1)
    whole = mask[: mask.size // half * half].reshape(-1, half)
    return bool(np.any(np.all(whole, axis=1))) or mask.size < 2 * length
