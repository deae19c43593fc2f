"""Signals that are lost while the engine runs on: a channel that falls to zero for good, an open thermocouple."""

from __future__ import annotations

import numpy as np

from debrief.recording.faults import DROPOUT_UP_TO_S
from debrief.recording.flagging import clock, flag, named, runs, unit_words
from debrief.recording.model import Channel, FloatArray, QualityFlag, base_name
from debrief.recording.plausible import PLAUSIBLE, ZERO

LOST_WITHIN_S = 2.0
FLAT_FOR_S = 10.0
FLAT_SAMPLES = 5
NG_KEPT = 0.9
"""Share of the gas generator speed that is left 10 s later where the engine runs on; after a fuel cut it is not."""

_LOSABLE = ("ng", "np", "itt", "fuel_flow", "bus_volts", "oil_temp", "oil_press")


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
    out = []
    for first, last in runs((values > zero - 1e-6) & (values < zero + 1e-6)):
        if first == 0 or values[first - 1] < level or times[first] - times[first - 1] > LOST_WITHIN_S:
            continue
        back = last + 1 < values.size
        until = float(times[last + 1] if back else times[last])
        if until - times[first - 1] <= DROPOUT_UP_TO_S or not _runs_on(running, float(times[first - 1])):
            continue
        ending = f"for {until - times[first]:.0f} s" if back else "until the end"
        out.append(
            flag(
                "signal_lost",
                channel,
                times[first - 1],
                until,
                f"{named(channel)} falls from {values[first - 1]:.6g} to {values[first]:.6g} {unit_words(channel)} at "
                f"{clock(float(times[first]))} and stays there {ending}, while the engine runs on: the signal was lost.",
            )
        )
    return out


def open_thermocouples(channel: Channel, running: Channel | None) -> list[QualityFlag]:
    """Return jumps of ITT to a value at which it stands, other than zero, while the gas generator runs on.

    The jump is larger than a spike's (`plausible.PLAUSIBLE`) and takes at most `LOST_WITHIN_S`; what follows
    stays within three resolutions for `FLAT_FOR_S` and `FLAT_SAMPLES`. An open thermocouple reads the top of
    its scale or the temperature of its cold end, by how the instrument is made.
    """
    if base_name(channel.name) != "itt" or channel.values.size < FLAT_SAMPLES + 1 or running is None:
        return []
    values, times = channel.values, channel.time_s
    least = PLAUSIBLE["itt"].spike
    assert least is not None
    flat = 3.0 * (channel.resolution or 0.0)
    jumps = np.flatnonzero((np.abs(np.diff(values)) > least) & (np.diff(times) <= LOST_WITHIN_S))
    out: list[QualityFlag] = []
    for before in jumps.tolist():
        begin = before + 1
        if out and times[begin] <= out[-1].end_s:
            continue
        level = float(values[begin])
        end = _flat_until(values, begin, flat)
        if times[end] - times[begin] < FLAT_FOR_S or end - begin + 1 < FLAT_SAMPLES:
            continue
        if abs(level - ZERO.get(channel.column_unit, 0.0)) < 1e-6 or not _runs_on(
            running, float(times[before])
        ):
            continue
        out.append(
            flag(
                "open_thermocouple",
                channel,
                times[before],
                times[end],
                f"{named(channel)} jumps from {values[before]:.6g} to {level:.6g} {unit_words(channel)} at "
                f"{clock(float(times[begin]))} and stands there for {times[end] - times[begin]:.0f} s while the engine "
                "runs on: the thermocouple may be open, and limits may be missed.",
            )
        )
    return out


def _flat_until(values: FloatArray, begin: int, within: float) -> int:
    """Return the last sample that, like all before it, lies about the value at `begin`."""
    away = np.flatnonzero(np.abs(values[begin:] - values[begin]) > within)
    return begin + int(away[0]) - 1 if away.size else values.size - 1


def _runs_on(running: Channel, time_s: float) -> bool:
    """Whether another channel of the engine still stands at `NG_KEPT` of its value 10 s after a time."""
    first, last = np.searchsorted(running.time_s, [time_s - LOST_WITHIN_S, time_s + FLAT_FOR_S])
    part = running.values[first:last]
    if part.size < 2 or running.time_s[-1] < time_s + FLAT_FOR_S:
        return False
    highest = float(np.max(running.values))
    return bool(part[0] > 0.2 * highest and np.min(part) >= NG_KEPT * part[0])
