"""The traces that are kept of a completed start, so that it can lie behind another one without its recording.

Of each channel the samples that a picture of it needs: no extreme is left out, and a null stands in each gap. Nothing
here loads the database.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from itertools import pairwise
from types import MappingProxyType
from typing import Any

import numpy as np

from debrief.analysis.model import Assessment, Start
from debrief.recording.model import Channel
from debrief.session.comparing.start_curves import MOMENTS, StartCurves, StartKey, start_curves
from debrief.words.numbers import decimals_for

KEPT = ("ng", "itt", "torque", "bus_volts")
_COLUMNS = 50
"""Of the picture: at most some 200 samples are kept of a channel."""
MOST_POINTS = 1000
"""More than any start makes, gaps and all."""


def curves_text(assessment: Assessment, start: Start) -> str | None:
    """Return the traces of a start as they are kept: JSON, times in seconds of its recording; None without Ng and ITT."""
    curves = start_curves(assessment, start)
    begin, end = curves.frame
    clocks: list[list[float]] = []
    channels = {}
    for name in KEPT:
        piece = curves.piece(name, begin, end)
        envelope = None if piece is None else piece.envelope(begin, end)
        if piece is None or envelope is None:
            continue
        drawn = envelope.view(begin, end, _COLUMNS)
        times: list[float] = []
        values: list[float | None] = []
        decimals = decimals_for(piece.channel.unit) + 1
        for i, time_s in enumerate(drawn.time_s.tolist()):
            times.append(round(time_s, 3))
            values.append(round(float(drawn.values[i]), decimals))
            if not drawn.connect[i] and i + 1 < drawn.time_s.size:
                times.append(round((time_s + float(drawn.time_s[i + 1])) / 2, 3))
                values.append(None)
        if len(times) <= MOST_POINTS and all(np.diff(times) > 0):
            # Channels that were sampled on the same rows share their times.
            if times not in clocks:
                clocks.append(times)
            channels[name] = [piece.channel.unit, clocks.index(times), values]
    if not {"ng", "itt"} <= set(channels):
        return None
    moments = {name: round(at, 3) for name, at in curves.moments.items()}
    frame = [round(begin, 3), round(end, 3)]
    kept = {"frame": frame, "moments": moments, "times": clocks, "channels": channels}
    return json.dumps(kept, separators=(",", ":"))


def curves_of(text: str, name: str, key: StartKey, ng_at_fuel_pct: float | None) -> StartCurves:
    """Return kept traces as they are compared; `name` is what the start is called."""
    kept = json.loads(text)
    clocks = [np.array(times, dtype=np.float64) for times in kept["times"]]
    channels = {
        channel: Channel(channel, unit, clocks[clock], np.array(values, dtype=np.float64))
        for channel, (unit, clock, values) in kept["channels"].items()
    }
    return StartCurves(
        name,
        MappingProxyType(channels),
        MappingProxyType({name: float(at) for name, at in kept["moments"].items()}),
        (float(kept["frame"][0]), float(kept["frame"][1])),
        None,
        key,
        ng_at_fuel_pct,
    )


def are_curves(kept: object) -> bool:
    """Return whether parsed JSON is what `curves_text` writes."""
    if not isinstance(kept, dict) or set(kept) != {"frame", "moments", "times", "channels"}:
        return False
    frame, moments, clocks, channels = (kept[name] for name in ("frame", "moments", "times", "channels"))
    if not (isinstance(frame, list) and isinstance(clocks, list)):
        return False
    if not (isinstance(moments, dict) and isinstance(channels, dict)):
        return False
    return (
        len(frame) == 2
        and all(map(_is_number, frame))
        and frame[0] < frame[1]
        and set(moments) <= set(MOMENTS)
        and all(map(_is_number, moments.values()))
        and len(clocks) <= len(KEPT)
        and all(map(_is_clock, clocks))
        and {"ng", "itt"} <= set(channels) <= set(KEPT)
        and all(_is_channel(one, clocks) for one in channels.values())
    )


def _is_clock(times: object) -> bool:
    return (
        isinstance(times, list)
        and 0 < len(times) <= MOST_POINTS
        and all(map(_is_number, times))
        and all(one < other for one, other in pairwise(times))
    )


def _is_channel(kept: object, clocks: Sequence[Sequence[float]]) -> bool:
    if not isinstance(kept, list) or len(kept) != 3:
        return False
    unit, clock, values = kept
    return (
        type(unit) is str
        and len(unit) <= 20
        and type(clock) is int
        and 0 <= clock < len(clocks)
        and isinstance(values, list)
        and len(values) == len(clocks[clock])
        and all(one is None or _is_number(one) for one in values)
    )


def _is_number(value: Any) -> bool:
    return type(value) in (int, float) and -1e9 <= value <= 1e9


Kept = Mapping[StartKey, StartCurves]
