"""Faults of single channels: out of range, spikes, dropouts, stuck, saturated, coarse, ramped, low probes."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from debrief.recording.model import DISCRETE, Channel, QualityFlag, base_name

STUCK_FOR_S = 30.0


STUCK_SAMPLES = 20


DROPOUT_UP_TO_S = 10.0


SATURATED_SAMPLES = 3


PROBE_SAMPLES = 20000
COARSE_INTERVAL_S = 2.0


@dataclass(frozen=True)
class Plausible:
    """What a channel can show at all.

    Attributes
    ----------
    low, high : float
        Physical range in the canonical unit; outside it a value is not believed.
    spike : float or None
        A single sample that leaves both neighbours by more than this, while they agree, is a spike; None
        where the quantity may really do that.
    coarse_step : float or None
        Resolution above which the channel is called coarse.
    """

    low: float
    high: float
    spike: float | None = None
    coarse_step: float | None = None


PLAUSIBLE: Mapping[str, Plausible] = MappingProxyType(
    {
        "ng": Plausible(-2, 130, 10, 1.0),
        "np": Plausible(-50, 6000, 500, 25),
        "itt": Plausible(-80, 1700, 150, 5.0),
        "torque": Plausible(-50, 250, None, 2.0),
        "fuel_flow": Plausible(-5, 3000, None, 10.0),
        "bus_volts": Plausible(-1, 60, None, 0.5),
        "battery_amps": Plausible(-3000, 3000, None, 25),
        "generator_amps": Plausible(-3000, 3000, None, 25),
        "power_lever": Plausible(-60, 150),
        "prop_lever": Plausible(-60, 150),
        "blade_angle": Plausible(-45, 95),
        "oil_temp": Plausible(-70, 250, 15, 5.0),
        "oil_press": Plausible(-5, 400, 60, 5.0),
        "fuel_press": Plausible(-5, 2000),
        "ias": Plausible(-5, 600, 60, 5.0),
        "gs": Plausible(-5, 700, 60),
        "palt": Plausible(-2500, 65000, 1500, 200),
        "altitude": Plausible(-2500, 65000, 1500, 200),
        "vs": Plausible(-30000, 30000),
        "oat": Plausible(-95, 75, 15, 5.0),
        "heading": Plausible(-360, 360.5),
        "track": Plausible(-360, 360.5),
        "wind_speed": Plausible(-0.5, 250),
        "wind_from": Plausible(-360, 360.5),
        "lat": Plausible(-90, 90),
        "lon": Plausible(-180, 360),
    }
)
"""Common practice, no source; wide on purpose."""


_DROPPING = ("ng", "np", "itt", "fuel_flow", "bus_volts", "oil_temp", "oil_press", "ias", "palt", "altitude")
"""Channels that cannot fall to zero and come back within seconds while the engine runs."""


_NOISY = (
    "ng",
    "np",
    "itt",
    "torque",
    "fuel_flow",
    "battery_amps",
    "generator_amps",
    "oil_press",
    "bus_volts",
)
"""Channels that always move a little while the engine runs."""


_ZERO = {"degF": -160.0 / 9.0, "K": -273.15}
"""What a zero in the file has become in the canonical unit."""


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


def _unit(channel: Channel) -> str:
    return {"degC": "°C", "deg": "°", "N m": "N·m", "lbf ft": "lbf·ft"}.get(channel.unit, channel.unit)


def clock(time_s: float) -> str:
    """Return the time from the first sample as ``0:19.4`` or ``1:02:03.0``."""
    tenths = round(time_s * 10)
    minutes, seconds = divmod(tenths, 600)
    hours, minutes = divmod(minutes, 60)
    tail = f"{seconds / 10:04.1f}"
    return f"{hours}:{minutes:02d}:{tail}" if hours else f"{minutes}:{tail}"


def flag(kind: str, channel: Channel, start: float, end: float, message: str) -> QualityFlag:
    """Return a flag of a channel; times in seconds from the first sample."""
    return QualityFlag(kind, channel.name, float(start), float(end), message)


def _runs(mask: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return the (first, last) index of each run of True."""
    if not mask.size:
        return []
    edges = (np.flatnonzero(mask[1:] != mask[:-1]) + 1).tolist()
    if mask[0]:
        edges.insert(0, 0)
    if mask[-1]:
        edges.append(mask.size)
    return [(a, b - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _any_run(mask: NDArray[np.bool_], length: int) -> bool:
    """Whether the mask may hold a run of True of this length: some stretch of half of it is all True."""
    half = max(length // 2, 1)
    whole = mask[: mask.size // half * half].reshape(-1, half)
    return bool(np.any(np.all(whole, axis=1))) or mask.size < 2 * length


def out_of_range(channel: Channel) -> list[QualityFlag]:
    """Return a flag for values that the quantity cannot have (`PLAUSIBLE`), one for the whole channel."""
    limits = PLAUSIBLE.get(base_name(channel.name))
    if limits is None or (channel.unit in ("rpm",) and base_name(channel.name) == "ng"):
        return []
    if base_name(channel.name) == "torque" and channel.unit != "%":
        return []
    if base_name(channel.name) == "np" and channel.unit == "%":
        limits = Plausible(-2, 140)
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
            f"{named(channel)} is outside what it can be in {samples}, such as {worst:.6g} {_unit(channel)}, "
            f"from {clock(float(times[0]))}.",
        )
    ]


def spikes(channel: Channel) -> list[QualityFlag]:
    """Return single samples that leave both neighbours by more than `Plausible.spike` while these agree.

    The neighbours differ by less than a quarter of the jump, both intervals are at most 1 s, and neither is
    a gap. A profile's own `max_rate` is judged by the analysis.
    """
    limits = PLAUSIBLE.get(base_name(channel.name))
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
    zero = _ZERO.get(channel.column_unit, 0.0)
    return [
        flag(
            "spike",
            channel,
            times[k - 1],
            times[k + 1],
            f"{named(channel)} jumps to {values[k]:.6g} {_unit(channel)} for a single sample at {clock(float(times[k]))} "
            f"and back to {values[k + 1]:.6g}.",
        )
        for k in index.tolist()
        if not (math.isclose(values[k], zero, abs_tol=1e-6) and base_name(channel.name) in _DROPPING)
    ]


def dropouts(channel: Channel) -> list[QualityFlag]:
    """Return falls to exactly zero of a running channel that come back within `DROPOUT_UP_TO_S`.

    The samples before and after stand above a fifth of the channel's highest value. Zero is that of the file:
    0 °F counts as well.
    """
    if base_name(channel.name) not in _DROPPING or channel.values.size < 3:
        return []
    values, times = channel.values, channel.time_s
    zero = _ZERO.get(channel.column_unit, 0.0)
    level = zero + max(0.2 * (float(values.max()) - zero), 10 * (channel.resolution or 0.0))
    if level <= zero:
        return []
    out = []
    for first, last in _runs((values > zero - 1e-6) & (values < zero + 1e-6)):
        if first == 0 or last == values.size - 1:
            continue
        lasted = float(times[last + 1] - times[first - 1])
        if values[first - 1] < level or values[last + 1] < level or lasted > DROPOUT_UP_TO_S:
            continue
        out.append(
            flag(
                "dropout",
                channel,
                times[first - 1],
                times[last + 1],
                f"{named(channel)} falls from {values[first - 1]:.6g} to {values[first]:.6g} {_unit(channel)} at "
                f"{clock(float(times[first]))} and is back after {lasted:.1f} s.",
            )
        )
    return out


def stuck(channel: Channel, running: Channel | None) -> list[QualityFlag]:
    """Return stretches in which a channel that moves otherwise shows one value, not zero.

    At least `STUCK_FOR_S` and `STUCK_SAMPLES` long, in a channel that changes in at least three of ten
    steps elsewhere, or while gas generator speed moves by 10 % of its highest value or more.
    """
    values, times = channel.values, channel.time_s
    if base_name(channel.name) not in _NOISY or values.size < STUCK_SAMPLES:
        return []
    equal = values[1:] == values[:-1]
    out: list[QualityFlag] = []
    if not _any_run(equal, STUCK_SAMPLES - 1):
        return out
    for first, last_step in _runs(equal):
        last = last_step + 1
        lasted = float(times[last] - times[first])
        if lasted < STUCK_FOR_S or last - first + 1 < STUCK_SAMPLES:
            continue
        zero = _ZERO.get(channel.column_unit, 0.0)
        if math.isclose(values[first], zero, abs_tol=1e-6) or values[first] == 0:
            continue
        elsewhere = np.concatenate([equal[:first], equal[last:]])
        lively = elsewhere.size >= STUCK_SAMPLES and float(np.mean(~elsewhere)) >= 0.3
        moved = (
            running is not None
            and running is not channel
            and _moves(running, float(times[first]), float(times[last]))
        )
        speedless = base_name(channel.name) in ("bus_volts", "battery_amps", "generator_amps")
        if not lively and (not moved or speedless):
            continue
        why = " while gas generator speed moves" if moved else ""
        out.append(
            flag(
                "stuck",
                channel,
                times[first],
                times[last],
                f"{named(channel)} shows {values[first]:.6g} {_unit(channel)} without any change for {lasted:.0f} s from "
                f"{clock(float(times[first]))}{why}.",
            )
        )
    return out


def _moves(running: Channel, start: float, end: float) -> bool:
    first, last = np.searchsorted(running.time_s, [start, end])
    part = running.values[first : last + 1]
    return (
        bool(part.size)
        and float(np.ptp(part)) > 0
        and float(np.ptp(part)) >= 0.1 * float(np.max(np.abs(running.values)))
    )


def saturated(channel: Channel) -> list[QualityFlag]:
    """Return a flag where an instrument stands at its stop: its extreme value again and again, flat.

    For currents, temperature and torque: the highest (or, for currents, lowest) value stands in at least
    `SATURATED_SAMPLES` samples in a row, is reached by a step of more than three resolutions and left by one.
    """
    base = base_name(channel.name)
    if base not in ("battery_amps", "generator_amps", "itt", "torque") or channel.values.size < 5:
        return []
    step = channel.resolution
    if step is None:
        return []
    out = []
    values, times = channel.values, channel.time_s
    extremes = [(float(values.max()), "highest")]
    if base.endswith("amps") and float(values.min()) < 0:
        extremes.append((float(values.min()), "lowest"))
    for extreme, word in extremes:
        if extreme == 0:
            continue
        samples = SATURATED_SAMPLES if base.endswith("amps") else 5
        for first, last in _runs(values == extreme):
            if last - first + 1 < samples or first == 0 or last == values.size - 1:
                continue
            rise, fall = abs(extreme - values[first - 1]), abs(extreme - values[last + 1])
            if rise <= 3 * step or fall <= 3 * step or rise < 0.02 * abs(extreme):
                continue
            out.append(
                flag(
                    "saturated",
                    channel,
                    times[first],
                    times[last],
                    f"{named(channel)} stands flat at its {word} value {extreme:.6g} {_unit(channel)} in "
                    f"{last - first + 1} samples from {clock(float(times[first]))}: the instrument may be at its stop.",
                )
            )
            break
    return out


def coarse(channel: Channel) -> list[QualityFlag]:
    """Return a flag where the channel moves in steps larger than `Plausible.coarse_step`, or is sampled rarely.

    Rarely is less than once in `COARSE_INTERVAL_S`, for the temperature and the speed that a start is judged by.
    """
    out: list[QualityFlag] = []
    if channel.time_s.size < 2:
        return out
    start, end = channel.time_s[0], channel.time_s[-1]
    judging = base_name(channel.name) in ("itt", "ng")
    interval = (channel.interval_s or 0.0) if judging else 0.0
    if interval > COARSE_INTERVAL_S:
        message = f"{named(channel)} is sampled every {interval:.3g} s: a peak between samples is not seen."
        out.append(flag("coarse", channel, start, end, message))
    limits = PLAUSIBLE.get(base_name(channel.name))
    if limits is None or limits.coarse_step is None or channel.resolution is None:
        return out
    if base_name(channel.name) in ("ng", "np", "torque") and channel.unit != _canonical(channel):
        return out
    if channel.resolution > limits.coarse_step and np.unique(channel.values[:10000]).size >= 4:
        message = f"{named(channel)} is recorded in steps of {channel.resolution:.6g} {_unit(channel)}."
        out.append(flag("coarse", channel, start, end, message))
    return out


def _canonical(channel: Channel) -> str:
    return "rpm" if base_name(channel.name) == "np" else "%"


def ramped_discrete(channel: Channel) -> list[QualityFlag]:
    """Return stretches in which a state stands between its values: somebody interpolated it."""
    if base_name(channel.name) not in DISCRETE:
        return []
    between = np.abs(channel.values - np.round(channel.values)) > 1e-6
    return [
        flag(
            "ramped_discrete",
            channel,
            channel.time_s[max(first - 1, 0)],
            channel.time_s[min(last + 1, channel.time_s.size - 1)],
            f"{named(channel)} is a state but stands between its values in {last - first + 1} samples from "
            f"{clock(float(channel.time_s[first]))}: it was interpolated before it was recorded.",
        )
        for first, last in _runs(between)
    ]


_PROBE = re.compile(r"^(.*?)[\s_]*(?:probe|tc|no\.?|#)?[\s_]*(\d{1,2})(?=\D*$)", re.IGNORECASE)


def low_probes(columns: Mapping[str, Channel]) -> list[QualityFlag]:
    """Return a flag for each of several temperature probes of one place that reads lower than the others.

    Columns whose names differ by a number alone and that are sampled together are probes of one place where
    there are at least three. While the middle one is above 300 °C, one whose median lies more than 50 °C and
    8 % below the median of all reads low.
    """
    groups: dict[tuple[str, str], list[Channel]] = {}
    for channel in columns.values():
        match = _PROBE.match(channel.column or channel.name)
        if match and channel.unit in ("degC", "degF", "K", ""):
            groups.setdefault((match.group(1).casefold(), channel.unit), []).append(channel)
    out = []
    for group in groups.values():
        same = [channel for channel in group if channel.time_s is group[0].time_s]
        if len(same) < 3:
            continue
        stride = max(1, same[0].values.size // PROBE_SAMPLES)
        read = np.array([channel.values[::stride] for channel in same])
        middle = np.median(read, axis=0)
        hot = middle > (572.0 if same[0].unit == "degF" else 300.0)
        if np.count_nonzero(hot) < 10 or float(np.max(middle)) > 5000:
            continue
        usual = float(np.median(middle[hot]))
        least = 90.0 if same[0].unit == "degF" else 50.0
        for channel, values in zip(same, read, strict=True):
            own = float(np.median(values[hot]))
            if usual - own > max(least, 0.08 * usual):
                times = channel.time_s[::stride][hot]
                out.append(
                    flag(
                        "low_probe",
                        channel,
                        times[0],
                        times[-1],
                        f"{channel.column} reads {own:.0f} where the probes beside it read {usual:.0f}: it may be broken "
                        "and an average with it reads low.",
                    )
                )
    return out
