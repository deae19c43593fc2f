"""Signals that are lost while the engine runs on: a channel that falls to zero for good, an open thermocouple."""

from __future__ import annotations

import numpy as np

from debrief.recording.model import Channel, FloatArray, QualityFlag
from debrief.recording.quality.flags import ZERO, flag, runs, told, value_of
from debrief.recording.quality.sample_faults import DROPOUT_UP_TO_S
from debrief.words.channels import CHANNELS, base_name
from debrief.words.channels import named as channels_that
from debrief.words.numbers import clock_text

LOST_WITHIN_S = 2.0
FLAT_FOR_S = 10.0
FLAT_SAMPLES = 5
NG_KEPT = 0.9
"""Share of the gas generator speed that is left 10 s later where the engine runs on; after a fuel cut it is not."""

_LOSABLE = channels_that("never_ends")


def lost_signals(channel: Channel, running: Channel | None) -> list[QualityFlag]:
    """Return falls to exactly zero, within one step, that last longer than a dropout while the engine runs on.

    The sample before stands above a fifth of the channel's highest value, at most `LOST_WITHIN_S` earlier.
    Ten seconds later the gas generator still turns at `NG_KEPT` of its speed at the fall; for the gas
    generator itself ITT tells it, see `quality.flags`.
    """
    if base_name(channel.name) not in _LOSABLE or channel.values.size < 3 or running is None:
        return []
    values, times = channel.values, channel.time_s
    zero = ZERO.get(channel.column_unit, 0.0)
    level = zero + 0.2 * (float(values.max()) - zero)
    if level <= zero:
        return []
    first, last = runs((values > zero - 1e-6) & (values < zero + 1e-6))
    first, last = first[first > 0], last[first > 0]
    until = np.where(last + 1 < values.size, times[np.minimum(last + 1, values.size - 1)], times[last])
    lost = (values[first - 1] >= level) & (times[first] - times[first - 1] <= LOST_WITHIN_S)
    lost &= until - times[first - 1] > DROPOUT_UP_TO_S
    highest = float(np.max(running.values))
    places = [
        place
        for place in zip(first[lost].tolist(), last[lost].tolist(), until[lost].tolist(), strict=True)
        if _runs_on(running, float(times[place[0] - 1]), highest)
    ]

    def word(place: tuple[int, int, float]) -> QualityFlag:
        begin, end, back = place
        ending = f"for {back - times[begin]:.0f} s" if end + 1 < values.size else "until the end"
        return flag(
            "signal_lost",
            channel,
            times[begin - 1],
            back,
            "{channel} falls from {before} to {low} at {at} and stays there {ending}, while the engine runs on: the "
            "signal was lost.",
            before=value_of(channel, values[begin - 1], has_unit=False),
            low=value_of(channel, values[begin]),
            at=clock_text(times[begin]),
            ending=ending,
        )

    return told(places, word)


def open_thermocouples(channel: Channel, running: Channel | None) -> list[QualityFlag]:
    """Return jumps of ITT to a value at which it stands, other than zero, while the gas generator runs on.

    The jump is larger than a spike's (`words.channels.CHANNELS`) and takes at most `LOST_WITHIN_S`; what follows
    stays within three resolutions for `FLAT_FOR_S` and `FLAT_SAMPLES`. An open thermocouple reads the top of
    its scale or the temperature of its cold end, by how the instrument is made.
    """
    if base_name(channel.name) != "itt" or channel.values.size < FLAT_SAMPLES + 1 or running is None:
        return []
    values, times = channel.values, channel.time_s
    least = CHANNELS["itt"].spike
    assert least is not None
    flat = 3.0 * (channel.resolution or 0.0)
    jumps = np.flatnonzero((np.abs(np.diff(values)) > least) & (np.diff(times) <= LOST_WITHIN_S))
    highest = float(np.max(running.values))
    places: list[tuple[int, int]] = []
    end = 0
    for before in jumps.tolist():
        begin = before + 1
        if begin <= end:
            continue  # within a stretch that was looked at: each is gone through once
        level = float(values[begin])
        end = _flat_until(values, begin, flat)
        if times[end] - times[begin] < FLAT_FOR_S or end - begin + 1 < FLAT_SAMPLES:
            continue
        if abs(level - ZERO.get(channel.column_unit, 0.0)) < 1e-6 or not _runs_on(
            running, float(times[before]), highest
        ):
            continue
        places.append((before, end))

    def word(place: tuple[int, int]) -> QualityFlag:
        before, end = place
        begin = before + 1
        return flag(
            "open_thermocouple",
            channel,
            times[before],
            times[end],
            "{channel} jumps from {before} to {level} at {at} and stands there for {seconds} s while the engine "
            "runs on: the thermocouple may be open, and limits may be missed.",
            before=value_of(channel, values[before], has_unit=False),
            level=value_of(channel, values[begin]),
            at=clock_text(times[begin]),
            seconds=f"{times[end] - times[begin]:.0f}",
        )

    return told(places, word)


def _flat_until(values: FloatArray, begin: int, within: float) -> int:
    """Return the last sample that, like all before it, lies about the value at `begin`."""
    at, size = begin, 64
    while at < values.size:  # in parts that grow: most end within the first
        away = np.flatnonzero(np.abs(values[at : at + size] - values[begin]) > within)
        if away.size:
            return at + int(away[0]) - 1
        at, size = at + size, 2 * size
    return values.size - 1


def _runs_on(running: Channel, time_s: float, highest: float) -> bool:
    """Whether another channel of the engine still stands at `NG_KEPT` of its value 10 s after a time."""
    first, last = np.searchsorted(running.time_s, [time_s - LOST_WITHIN_S, time_s + FLAT_FOR_S])
    part = running.values[first:last]
    if part.size < 2 or running.time_s[-1] < time_s + FLAT_FOR_S:
        return False
    return bool(part[0] > 0.2 * highest and np.min(part) >= NG_KEPT * part[0])
