"""The recorded samples that decide a finding: beside each crossing, and the extreme with its neighbours."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from debrief.analysis.model import Assessment, Event, Reading
from debrief.recording.model import Channel
from debrief.words.numbers import decimals_for

MOST_STRETCHES = 4
"""Beyond the level in more stretches than these, the first ones are told and the number of all."""
_MOST_DECIMALS = 4


def sample_decimals(channel: Channel) -> int:
    """Return the decimals that samples are told with: as fine as the channel was recorded."""
    if channel.is_discrete:
        return 0
    decimals = decimals_for(channel.unit)
    if channel.resolution is not None and channel.resolution > 0:
        decimals = max(decimals, min(_MOST_DECIMALS, math.ceil(-math.log10(channel.resolution) - 1e-9)))
    return decimals


def deciding_samples(assessment: Assessment, event: Event) -> tuple[Reading, ...]:
    """Return the samples that a finding stands on, by what they are; empty where none of it was recorded.

    Notes
    -----
    A finding about a value has the samples on both sides of each crossing of its level, and the extreme with
    its neighbours. One about a time, where `event.unit` is not the channel's, has those beside its begin and
    end, and the highest between them: a temperature that did not rise is seen there.
    """
    name = event.evidence.channel if event.evidence is not None else event.channel
    channel = None if name is None else assessment.recording.channels.get(name)
    if channel is None or not channel.time_s.size:
        return ()
    is_value = event.unit == channel.unit
    spans = event.spans or ((event.start_s, event.end_s),)
    edges = [k for begin, end in spans[:MOST_STRETCHES] for k in _beside(channel, begin, end)]
    more = "" if len(spans) <= MOST_STRETCHES else f", of the first {MOST_STRETCHES} of {len(spans)}"
    what = (
        f"beside each crossing{more}"
        if event.limit_id is not None and event.spans
        else f"beside begin and end{more}"
    )
    out = [_reading(channel, what, edges)]
    at_a_moment = event.limit_id is None and len(set(edges)) <= 2
    if not channel.is_discrete and not at_a_moment:
        top, lowest = _extreme(channel, event, is_value)
        if top is not None:
            side = "lowest" if lowest else "highest"
            out.append(_reading(channel, f"{side} with its neighbours", (top - 1, top, top + 1)))
    return tuple(one for one in out if one.index)


def _beside(channel: Channel, begin_s: float, end_s: float) -> tuple[int, int, int, int]:
    # A switch changes at a sample, so the one before it is needed to see that it did.
    up = int(np.searchsorted(channel.time_s, begin_s, side="left" if channel.is_discrete else "right")) - 1
    down = int(np.searchsorted(channel.time_s, end_s, side="left"))
    return up, up + 1, down - 1, down


def _extreme(channel: Channel, event: Event, is_value: bool) -> tuple[int | None, bool]:
    """Return the place of the extreme sample, and whether it is the lowest; no place where none was recorded."""
    begin, end = event.start_s, event.end_s
    rows = np.flatnonzero((channel.time_s >= begin) & (channel.time_s <= end) & ~np.isnan(channel.values))
    peak = event.peak if is_value else None
    # Below a minimum the extreme is the lowest: seen from the other samples of the stretch.
    lowest = peak is not None and bool(rows.size) and peak < float(np.median(channel.values[rows]))
    if peak is not None:
        same = np.flatnonzero(channel.values == peak)
        middle = event.peak_s if event.peak_s is not None else (begin + end) / 2
        if not same.size:
            return None, lowest  # the value at a moment between two samples: these stand beside it
        return int(same[np.argmin(np.abs(channel.time_s[same] - middle))]), lowest
    return (int(rows[np.argmax(channel.values[rows])]) if rows.size else None), False


def _reading(channel: Channel, what: str, index: Iterable[int]) -> Reading:
    rows = sorted({k for k in index if 0 <= k < channel.time_s.size and not np.isnan(channel.values[k])})
    return Reading(
        channel.name,
        channel.unit,
        what,
        tuple(rows),
        tuple(float(channel.time_s[k]) for k in rows),
        tuple(float(channel.values[k]) for k in rows),
    )
