"""Strips below the lanes that show the hand: switches that were on, levers that were moved. The same on screen and paper."""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass

import numpy as np

from debrief.analysis.model import Assessment
from debrief.recording.model import Channel
from debrief.session.drawing.envelope import Envelope, gap_breaks
from debrief.session.limits.cursor_measure import Breaks, interpolated
from debrief.session.limits.instrument_readings import Discrete, nice_range, switch_words
from debrief.words.numbers import value_text

Stretch = tuple[float, float]

SWITCHES = {
    "starter": "starter",
    "fuel_on": "fuel",
    "ignition": "ignition",
    "external_power": "ext. power",
    "generator_on": "generator",
    "bleed": "bleed",
    "separator": "separator",
}
"""The switches that a hand moves, with their short names."""

LEVERS = {"power_lever": "power lever", "prop_lever": "prop lever"}
"""The levers, likewise."""

_ALWAYS = ("starter", "fuel_on")
_MOVED_PCT = 2.0
"""A lever that stays within so much was not moved: a sensor's noise is less."""


@dataclass(frozen=True)
class Held:
    """A stretch in which a switch stood in one position; None where nobody knows."""

    begin_s: float
    end_s: float
    position: float | None


@dataclass(frozen=True)
class SwitchStrip:
    """A switch over time.

    Attributes
    ----------
    name : str
        Of the channel.
    words : str
        Its short name.
    held : tuple of Held
        Its positions one after the other, from the beginning of the stretch to its end.
    highest : float
        Its farthest position: 1, of a bleed valve with two steps 2.
    """

    name: str
    words: str
    held: tuple[Held, ...]
    highest: float = 1.0

    @property
    def on(self) -> tuple[Held, ...]:
        """The stretches in which it was on."""
        return tuple(held for held in self.held if held.position is not None and held.position > 0)

    @property
    def unknown(self) -> tuple[Held, ...]:
        """The stretches in which its position is not known."""
        return tuple(held for held in self.held if held.position is None)

    def at(self, time_s: float) -> str:
        """Return its position at a moment in words."""
        index = bisect_right(self.held, time_s + 1e-9, key=lambda held: held.begin_s) - 1
        position = self.held[index].position if index >= 0 else None
        return switch_words(Discrete(self.name, self.words, recorded=True, state=position))


@dataclass(frozen=True, eq=False)
class LeverStrip:
    """A lever over time: a small trace between two values.

    Attributes
    ----------
    name, words : str
        As of a switch.
    channel : Channel
        What was recorded.
    low, high : float
        At the lower and at the upper edge, [unit of the channel].
    envelope : Envelope
        What is drawn of it.
    """

    name: str
    words: str
    channel: Channel
    low: float
    high: float
    envelope: Envelope
    breaks: Breaks

    def at(self, time_s: float) -> str:
        """Return its position at a moment in words."""
        value = interpolated(self.channel, self.breaks, time_s)
        return "not known" if value is None else value_text(value, self.channel.unit)


Strip = SwitchStrip | LeverStrip


def hand_strips(
    assessment: Assessment, engine: int, begin_s: float = 0.0, end_s: float = math.inf
) -> tuple[Strip, ...]:
    """Return the strips of a stretch of time: of starter and fuel, and of what else was on or moved in it.

    What was not recorded has none.
    """
    recording = assessment.recording
    end_s = min(end_s, recording.duration_s)
    out: list[Strip] = []
    for name, words in SWITCHES.items():
        channel = recording.get(name, engine)
        if channel is None or channel.time_s.size == 0:
            continue
        strip = SwitchStrip(name, words, _held(channel, begin_s, end_s), _highest(channel))
        if name in _ALWAYS or strip.on:
            out.append(strip)
    for name, words in LEVERS.items():
        channel = recording.get(name, engine)
        if channel is None or channel.time_s.size == 0:
            continue
        inside = channel.values[(channel.time_s >= begin_s) & (channel.time_s <= end_s)]
        inside = inside[np.isfinite(inside)]
        if inside.size and np.ptp(inside) > _MOVED_PCT:
            breaks = gap_breaks(channel.time_s, assessment.starts)
            envelope = Envelope(channel.time_s, channel.values, breaks)
            known = channel.values[np.isfinite(channel.values)]
            low, high = nice_range(float(known.min()), float(known.max()))
            out.append(LeverStrip(name, words, channel, low, high, envelope, breaks))
    return tuple(out)


def _highest(channel: Channel) -> float:
    known = channel.values[np.isfinite(channel.values)]
    return max(1.0, float(known.max())) if known.size else 1.0


def _held(channel: Channel, begin_s: float, end_s: float) -> tuple[Held, ...]:
    """Return the positions of a switch: each holds until the next sample, none is known before the first."""
    # What is between two positions, as of a recorder that averages, is on above the half.
    values = np.where(np.isfinite(channel.values), np.ceil(channel.values - 0.5), -1.0)
    begins = np.flatnonzero(np.r_[True, values[1:] != values[:-1]])
    runs = [(0.0, -1.0), *zip(channel.time_s[begins].tolist(), values[begins].tolist(), strict=True)]
    runs.append((float(channel.time_s[-1]), -1.0))
    out = []
    for (begin, position), (until, _) in zip(runs, [*runs[1:], (math.inf, -1.0)], strict=True):
        first, last = max(begin, begin_s), min(until, end_s)
        if last > first:
            out.append(Held(first, last, None if position < 0 else position))
    return tuple(out)
