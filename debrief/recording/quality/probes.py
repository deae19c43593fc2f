"""Several temperature probes of one place, of which one may be broken."""

from __future__ import annotations

import re
from collections.abc import Mapping

import numpy as np

from debrief.recording.model import Channel, QualityFlag
from debrief.recording.quality.flags import flag
from debrief.words.sentence import Quantity
from debrief.words.units import BY_NAME, scale

PROBE_SAMPLES = 20000

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
                        "{probe} reads {own} where the probes beside it read {usual}: it may be broken and an "
                        "average with it reads low.",
                        probe=channel.column,
                        own=_temperature(own, channel.unit),
                        usual=_temperature(usual, channel.unit),
                    )
                )
    return out
