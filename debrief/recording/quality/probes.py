"""Several temperature probes of one place, of which one may be broken."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import numpy as np

from debrief.recording.matching.joined_probes import HOT, HOT_SAMPLES, Joined
from debrief.recording.matching.rivals import quoted
from debrief.recording.model import Channel, QualityFlag
from debrief.recording.quality.flags import flag
from debrief.words.sentence import Quantity
from debrief.words.units import BY_NAME, scale

PROBE_SAMPLES = 20000
APART, APART_SHARE = 50.0, 0.08
"""What is apart while hot, [°C] and as a share; common practice, no source."""

_LAST_NUMBER = re.compile(r"\d{1,2}(?=\D*$)")
_PROBE_WORDS = ("probe", "tc", "no.", "no", "#")
_BETWEEN = " \t_"


def _place(name: str) -> str | None:
    """Return what the numbers of several probes stand behind; None for a name without a number."""
    number = _LAST_NUMBER.search(name)
    if number is None:
        return None
    place = name[: number.start()].rstrip(_BETWEEN).casefold()
    word = next((word for word in _PROBE_WORDS if place.endswith(word)), "")
    return place.removesuffix(word).rstrip(_BETWEEN)


def _temperature(value: float, unit: str) -> Quantity | str:
    """Return a temperature for a sentence; a number alone where the column has no unit."""
    return Quantity(float(scale(value, BY_NAME[unit], BY_NAME["degC"])), "degC") if unit else f"{value:.0f}"


def low_probes(columns: Mapping[str, Channel]) -> list[QualityFlag]:
    """Return a flag for each of several temperature probes of one place that reads lower than the others.

    Columns whose names differ by a number alone and that are sampled together are probes of one place where
    there are at least three. While the middle one is above 300 °C, one whose median lies more than 50 °C and
    8 % below the median of all reads low.
    """
    groups: dict[tuple[str, str], list[Channel]] = {}
    for channel in columns.values():
        place = _place(channel.column or channel.name)
        if place is not None and channel.unit in ("degC", "degF", "K", ""):
            groups.setdefault((place, channel.unit), []).append(channel)
    out = []
    for group in groups.values():
        same = [channel for channel in group if channel.time_s is group[0].time_s]
        if len(same) < 3:
            continue
        stride = max(1, same[0].values.size // PROBE_SAMPLES)
        read = np.array([channel.values[::stride] for channel in same])
        middle = np.median(read, axis=0)
        hot = middle > (1.8 * HOT + 32.0 if same[0].unit == "degF" else HOT)
        if np.count_nonzero(hot) < HOT_SAMPLES or float(np.max(middle)) > 5000:
            continue
        usual = float(np.median(middle[hot]))
        least = 1.8 * APART if same[0].unit == "degF" else APART
        for channel, values in zip(same, read, strict=True):
            own = float(np.median(values[hot]))
            if usual - own > max(least, APART_SHARE * usual):
                times = channel.time_s[::stride][hot]
                out.append(
                    flag(
                        "low_probe",
                        channel,
                        times[0],
                        times[-1],
                        "{probe} reads {own} where the probes beside it read {usual}: it may be broken and an "
                        "average with it reads low.",
                        probe=channel.column,
                        own=_temperature(own, channel.unit),
                        usual=_temperature(usual, channel.unit),
                    )
                )
    return out


def joined_flags(channel: Channel, probes: Sequence[str], joined: Joined) -> list[QualityFlag]:
    """Return what a channel made of several probes is doubted for: probes left out, and probes that are far apart.

    Parameters
    ----------
    channel : Channel
        Made of them.
    probes : sequence of str
        Their columns, in the order of `joined`.
    joined : Joined
    """
    first, last = float(channel.time_s[0]), float(channel.time_s[-1])
    out = []
    for one in joined.left_out:
        if one.stands_at is not None:
            said = "{probe} stands at {value} while the other probes move, and was left out of {channel}."
            value = Quantity(one.stands_at, "degC", digits=6)
            out.append(
                flag("probe_left_out", channel, first, last, said, probe=probes[one.probe], value=value)
            )
        else:
            said = "{probe} reads in {reads} of {rows} rows only, and was left out of {channel}."
            name, counts = probes[one.probe], {"reads": one.reads, "rows": one.rows}
            out.append(flag("probe_left_out", channel, first, last, said, probe=name, **counts))
    hot = np.flatnonzero(joined.values > HOT)
    if len(joined.used) > 1 and hot.size >= HOT_SAMPLES:
        apart, usual = float(np.median(joined.spread[hot])), float(np.median(joined.values[hot]))
        if apart > max(APART, APART_SHARE * usual):
            held = np.flatnonzero(np.isfinite(joined.values))
            begin, end = np.searchsorted(held, (hot[0], hot[-1]))
            said = "{probes} are {apart} apart while hot: one of them may be broken, and {channel} is made of all."
            out.append(
                flag("probes_apart", channel, channel.time_s[begin], channel.time_s[end], said,
                     probes=quoted([probes[number] for number in joined.used]),
                     apart=Quantity(apart, "degC", is_difference=True, digits=6))
            )  # fmt: skip
    return out
