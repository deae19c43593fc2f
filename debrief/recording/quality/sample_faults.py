"""Faults of a channel's samples: outside the physical range, spikes, dropouts, a value that does not move."""

from __future__ import annotations

import numpy as np

from debrief.recording.model import Channel, QualityFlag
from debrief.recording.quality.flags import ZERO, any_run, flag, runs, told, value_of
from debrief.words.channels import ChannelSpec, base_name, spec_of
from debrief.words.channels import named as channels_that
from debrief.words.numbers import clock_text

STUCK_FOR_S = 30.0
STUCK_SAMPLES = 20
DROPOUT_UP_TO_S = 10.0

_DROPPING = channels_that("never_drops")
_NOISY = channels_that("always_moves")
_PERCENT = ChannelSpec("np", "%", "Power turbine or propeller speed", low=-2, high=140)
"""A propeller that a profile has not scaled yet."""


def out_of_range(channel: Channel) -> list[QualityFlag]:
    """Return a flag for values that the quantity cannot have (`words.channels`), one for the whole channel."""
    limits = spec_of(channel.name)
    if limits is None or (channel.unit in ("rpm",) and base_name(channel.name) == "ng"):
        return []
    if base_name(channel.name) == "torque" and channel.unit != "%":
        return []
    if base_name(channel.name) == "np" and channel.unit == "%":
        limits = _PERCENT
    outside = np.flatnonzero((channel.values < limits.low) | (channel.values > limits.high))
    if not outside.size:
        return []
    times = channel.time_s[outside]
    worst = channel.values[outside[np.argmax(np.abs(channel.values[outside]))]]
    samples = "1 sample" if outside.size == 1 else f"{outside.size} samples"
    return [
        flag(
            "out_of_range",
            channel,
            times[0],
            times[-1],
            "{channel} is outside what it can be in {samples}, such as {worst}, from {at}.",
            samples=samples,
            worst=value_of(channel, worst),
            at=clock_text(times[0]),
        )
    ]


def spikes(channel: Channel) -> list[QualityFlag]:
    """Return single samples that leave both neighbours by more than `ChannelSpec.spike` while these agree.

    The neighbours differ by less than a quarter of the jump, both intervals are at most 1 s, and neither is
    a gap. A profile's own `max_rate` is judged by the analysis.
    """
    limits = spec_of(channel.name)
    values, times = channel.values, channel.time_s
    if limits is None or limits.spike is None or values.size < 3:
        return []
    least = limits.spike
    if base_name(channel.name) in ("ng", "np") and channel.unit != (
        "%" if channel.name[:2] == "ng" else "rpm"
    ):
        least = 0.1 * float(np.max(np.abs(values)))
    steps = np.diff(values)
    jumps = np.abs(steps, out=steps) > least
    index = np.flatnonzero(jumps[:-1] & jumps[1:]) + 1
    before, after = values[index] - values[index - 1], values[index] - values[index + 1]
    agree = np.abs(before - after) < 0.25 * np.minimum(np.abs(before), np.abs(after))
    close = (times[index] - times[index - 1] <= 1.0) & (times[index + 1] - times[index] <= 1.0)
    index = index[(before * after > 0) & agree & close]
    zero = ZERO.get(channel.column_unit, 0.0)
    if base_name(channel.name) in _DROPPING:
        index = index[np.abs(values[index] - zero) > 1e-6]

    def word(k: int) -> QualityFlag:
        return flag(
            "spike",
            channel,
            times[k - 1],
            times[k + 1],
            "{channel} jumps to {top} for a single sample at {at} and back to {after}.",
            top=value_of(channel, values[k]),
            at=clock_text(times[k]),
            after=value_of(channel, values[k + 1]),
        )

    return told(index.tolist(), word)


def dropouts(channel: Channel) -> list[QualityFlag]:
    """Return falls to exactly zero of a running channel that come back within `DROPOUT_UP_TO_S`.

    The samples before and after stand above a fifth of the channel's highest value. Zero is that of the file:
    0 °F counts as well.
    """
    if base_name(channel.name) not in _DROPPING or channel.values.size < 3:
        return []
    values, times = channel.values, channel.time_s
    zero = ZERO.get(channel.column_unit, 0.0)
    level = zero + max(0.2 * (float(values.max()) - zero), 10 * (channel.resolution or 0.0))
    if level <= zero:
        return []
    first, last = runs((values > zero - 1e-6) & (values < zero + 1e-6))
    inside = (first > 0) & (last < values.size - 1)
    first, last = first[inside], last[inside]
    lasted = times[last + 1] - times[first - 1]
    back = (values[first - 1] >= level) & (values[last + 1] >= level) & (lasted <= DROPOUT_UP_TO_S)

    def word(place: tuple[int, int]) -> QualityFlag:
        begin, end = place[0] - 1, place[1] + 1
        return flag(
            "dropout",
            channel,
            times[begin],
            times[end],
            "{channel} falls from {before} to {low} at {at} and is back after {seconds} s.",
            before=value_of(channel, values[begin]),
            low=value_of(channel, values[begin + 1]),
            at=clock_text(times[begin + 1]),
            seconds=f"{float(times[end] - times[begin]):.1f}",
        )

    return told(list(zip(first[back].tolist(), last[back].tolist(), strict=True)), word)


def stuck(channel: Channel, running: Channel | None) -> list[QualityFlag]:
    """Return stretches in which a channel that moves otherwise shows one value, not zero.

    At least `STUCK_FOR_S` and `STUCK_SAMPLES` long, in a channel that changes in at least three of ten
    steps elsewhere, or while gas generator speed (`running`) moves by 10 % of its highest value or more.
    """
    values, times = channel.values, channel.time_s
    if base_name(channel.name) not in _NOISY or values.size < STUCK_SAMPLES:
        return []
    equal = values[1:] == values[:-1]
    if not any_run(equal, STUCK_SAMPLES - 1):
        return []
    first, last = runs(equal)
    last = last + 1
    zero = ZERO.get(channel.column_unit, 0.0)
    still = (times[last] - times[first] >= STUCK_FOR_S) & (last - first + 1 >= STUCK_SAMPLES)
    still &= ~(np.abs(values[first] - zero) <= np.maximum(1e-9 * np.abs(values[first]), 1e-6)) & (
        values[first] != 0
    )
    first, last = first[still], last[still]
    elsewhere = equal.size - (last - first)
    changes = int(np.count_nonzero(~equal))  # all of them elsewhere
    lively = (elsewhere >= STUCK_SAMPLES) & (changes >= 0.3 * elsewhere)
    speedless = base_name(channel.name) in ("bus_volts", "battery_amps", "generator_amps")
    is_ng = running is not None and base_name(running.name) == "ng"
    highest = float(np.max(np.abs(running.values))) if is_ng and running is not None else 0.0
    places = []
    for begin, end, moving in zip(first.tolist(), last.tolist(), lively.tolist(), strict=True):
        moved = (
            running is not None and is_ng and _moves(running, float(times[begin]), float(times[end]), highest)
        )
        if moving or (moved and not speedless):
            places.append((begin, end, moved))

    def word(place: tuple[int, int, bool]) -> QualityFlag:
        begin, end, moved = place
        return flag(
            "stuck",
            channel,
            times[begin],
            times[end],
            "{channel} shows {value} without any change for {seconds} s from {at}{why}.",
            value=value_of(channel, values[begin]),
            seconds=f"{float(times[end] - times[begin]):.0f}",
            at=clock_text(times[begin]),
            why=" while gas generator speed moves" if moved else "",
        )

    return told(places, word)


def _moves(running: Channel, start: float, end: float, highest: float) -> bool:
    first, last = np.searchsorted(running.time_s, [start, end])
    part = running.values[first : last + 1]
    return bool(part.size) and float(np.ptp(part)) > 0 and float(np.ptp(part)) >= 0.1 * highest
