"""What all quality flags are made with: names and times in words, and stretches of samples."""

from __future__ import annotations

from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from debrief.recording.model import Channel, QualityFlag
from debrief.recording.sentence import Quantity, Sentence

_WORDS = MappingProxyType(
    {"ng": "Ng", "np": "Np", "itt": "ITT", "ias": "IAS", "gs": "Ground speed", "oat": "OAT", "vs": "Vertical speed",
     "palt": "Pressure altitude", "oil_press": "Oil pressure", "oil_temp": "Oil temperature",
     "fuel_press": "Fuel pressure", "bus_volts": "Bus voltage", "battery_amps": "Battery current",
     "generator_amps": "Generator current", "lat": "Latitude", "lon": "Longitude"}
)  # fmt: skip


def named(channel: Channel) -> str:
    """Return the channel's name in words, with the engine's number where there are several."""
    base, _, number = channel.name.partition(".")
    word = _WORDS.get(base, base.replace("_", " ").capitalize())
    return f"{word} of engine {number}" if number else word


DIGITS = 6
"""Significant digits of a value in a flag."""


def unit_words(channel: Channel) -> str:
    """Return the unit as it is written in a sentence."""
    return {"degC": "°C", "deg": "°", "N m": "N·m", "lbf ft": "lbf·ft"}.get(channel.unit, channel.unit)


def clock(time_s: float) -> str:
    """Return the time from the first sample as ``0:19.4`` or ``1:02:03.0``."""
    tenths = round(time_s * 10)
    minutes, seconds = divmod(tenths, 600)
    hours, minutes = divmod(minutes, 60)
    tail = f"{seconds / 10:04.1f}"
    return f"{hours}:{minutes:02d}:{tail}" if hours else f"{minutes}:{tail}"


def flag(kind: str, channel: Channel, start: float, end: float, message: str | Sentence) -> QualityFlag:
    """Return a flag of a channel; times in seconds from the first sample."""
    if isinstance(message, str):
        return QualityFlag(kind, channel.name, float(start), float(end), message)
    words = "".join(
        p if isinstance(p, str) else f"{p.value:.{DIGITS}g} {unit_words(channel)}".rstrip()
        for p in message.parts
    )
    return QualityFlag(kind, channel.name, float(start), float(end), words, message)


def value_of(channel: Channel, value: float, *, is_step: bool = False) -> Quantity:
    """Return a value of a channel for a sentence."""
    return Quantity(float(value), channel.unit, is_difference=is_step, digits=DIGITS)


def runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return the (first, last) index of each run of True."""
    if not mask.size:
        return []
    edges = (np.flatnonzero(mask[1:] != mask[:-1]) + 1).tolist()
    if mask[0]:
        edges.insert(0, 0)
    if mask[-1]:
        edges.append(mask.size)
    return [(a, b - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def any_run(mask: NDArray[np.bool_], length: int) -> bool:
    """Whether the mask may hold a run of True of this length: some stretch of half of it is all True."""
    half = max(length // 2, 1)
    whole = mask[: mask.size // half * half].reshape(-1, half)
    return bool(np.any(np.all(whole, axis=1))) or mask.size < 2 * length
