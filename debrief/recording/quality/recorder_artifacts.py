"""What an instrument or its recorder adds: a stop, coarse steps, rare samples, states that were interpolated."""

from __future__ import annotations

import numpy as np

from debrief.recording.model import Channel, QualityFlag
from debrief.recording.quality.flags import flag, runs, told, value_of
from debrief.words.channels import DISCRETE, base_name, spec_of
from debrief.words.numbers import clock_text

SATURATED_SAMPLES = 3
COARSE_INTERVAL_S = 2.0


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
        begins, ends = runs(values == extreme)
        long = (ends - begins + 1 >= samples) & (begins > 0) & (ends < values.size - 1)
        begins, ends = begins[long], ends[long]
        rise, fall = np.abs(extreme - values[begins - 1]), np.abs(extreme - values[ends + 1])
        found = np.flatnonzero((rise > 3 * step) & (fall > 3 * step) & (rise >= 0.02 * abs(extreme)))[:1]
        for first, last in zip(begins[found].tolist(), ends[found].tolist(), strict=True):
            out.append(
                flag(
                    "saturated",
                    channel,
                    times[first],
                    times[last],
                    "{channel} stands flat at its {word} value {extreme} in {count} samples from {at}: the "
                    "instrument may be at its stop.",
                    word=word,
                    extreme=value_of(channel, extreme),
                    count=last - first + 1,
                    at=clock_text(times[first]),
                )
            )
    return out


def coarse(channel: Channel) -> list[QualityFlag]:
    """Return a flag where the channel moves in steps larger than `ChannelSpec.coarse_step`, or is sampled rarely.

    Rarely is less than once in `COARSE_INTERVAL_S`, for the temperature and the speed that a start is judged by.
    """
    out: list[QualityFlag] = []
    if channel.time_s.size < 2:
        return out
    start, end = channel.time_s[0], channel.time_s[-1]
    judging = base_name(channel.name) in ("itt", "ng")
    interval = (channel.interval_s or 0.0) if judging else 0.0
    if interval > COARSE_INTERVAL_S:
        words = "{channel} is sampled every {interval} s: a peak between samples is not seen."
        out.append(flag("coarse", channel, start, end, words, interval=f"{interval:.3g}"))
    limits = spec_of(channel.name)
    if limits is None or limits.coarse_step is None or channel.resolution is None:
        return out
    if base_name(channel.name) in ("ng", "np", "torque") and channel.unit != _canonical(channel):
        return out
    if channel.resolution > limits.coarse_step and np.unique(channel.values[:10000]).size >= 4:
        step = value_of(channel, channel.resolution, is_step=True)
        words = "{channel} is recorded in steps of {step}."
        out.append(flag("coarse", channel, start, end, words, step=step))
    return out


def _canonical(channel: Channel) -> str:
    return "rpm" if base_name(channel.name) == "np" else "%"


def ramped_discrete(channel: Channel) -> list[QualityFlag]:
    """Return stretches in which a state stands between its values: somebody interpolated it."""
    if base_name(channel.name) not in DISCRETE:
        return []
    between = np.abs(channel.values - np.round(channel.values)) > 1e-6
    first, last = runs(between)

    def word(place: tuple[int, int]) -> QualityFlag:
        begin, end = place
        return flag(
            "ramped_discrete",
            channel,
            channel.time_s[max(begin - 1, 0)],
            channel.time_s[min(end + 1, channel.time_s.size - 1)],
            "{channel} is a state but stands between its values in {count} samples from {at}: it was interpolated "
            "before it was recorded.",
            count=end - begin + 1,
            at=clock_text(channel.time_s[begin]),
        )

    return told(list(zip(first.tolist(), last.tolist(), strict=True)), word)
