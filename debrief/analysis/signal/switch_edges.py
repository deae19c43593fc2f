"""Edges of on/off channels, with the bounds that sampling leaves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from debrief.analysis.signal.interval_sets import from_pairs
from debrief.recording.model import Channel, FloatArray


@dataclass(frozen=True)
class OnPeriod:
    """One stretch of "on". A discrete holds its last value, so it is on from its first sample that says so.

    `on_low_s` is the last sample before that still said off, None when the channel begins on; `off_s` is
    the first sample that says off again, None when the channel ends on; `off_low_s` the last that said on.
    """

    on_s: float
    on_low_s: float | None
    off_s: float | None
    off_low_s: float


def on_periods(channel: Channel, threshold: float = 0.5) -> list[OnPeriod]:
    """Return the stretches in which the channel is above the threshold, in order."""
    t = channel.time_s
    on = channel.values > threshold
    if not t.size:
        return []
    change = np.flatnonzero(np.diff(on.astype(np.int8))) + 1
    out = []
    rises = [0] if on[0] else []
    rises += [int(k) for k in change if on[k]]
    falls = [int(k) for k in change if not on[k]]
    for n, k in enumerate(rises):
        off = falls[n] if n < len(falls) else None
        out.append(
            OnPeriod(
                float(t[k]),
                None if k == 0 else float(t[k - 1]),
                None if off is None else float(t[off]),
                float(t[-1 if off is None else off - 1]),
            )
        )
    return out


def bridged(periods: list[OnPeriod], shorter_than_s: float) -> list[OnPeriod]:
    """Return the periods with "off" stretches shorter than this taken for contact bounce.

    One sample that says off, in a recorder of this interval, may be a stretch of any length up to twice it: it
    is bridged, too, as it would be if sampled more often.
    """
    out: list[OnPeriod] = []
    for p in periods:
        if out and _bounced(out[-1], p, shorter_than_s):
            out[-1] = OnPeriod(out[-1].on_s, out[-1].on_low_s, p.off_s, p.off_low_s)
        else:
            out.append(p)
    return out


def _bounced(before: OnPeriod, after: OnPeriod, shorter_than_s: float) -> bool:
    if before.off_s is None:
        return False
    off = after.on_s - before.off_s
    return off < shorter_than_s or (after.on_low_s == before.off_s and off <= shorter_than_s + 1e-9)


def held_at(channel: Channel | None, time_s: float) -> float | None:
    """Return the value that the channel holds at this instant; None before its first sample or without it."""
    if channel is None or not channel.time_s.size or time_s < channel.time_s[0]:
        return None
    k = int(np.searchsorted(channel.time_s, time_s, side="right")) - 1
    return float(channel.values[k])


def holding(channel: Channel, low: float, high: float) -> FloatArray:
    """Return the stretches, (m, 2), in which the held value lies strictly between `low` and `high`."""
    t = channel.time_s
    if not t.size:
        return from_pairs(())
    inside = (channel.values > low) & (channel.values < high)
    change = np.flatnonzero(inside[1:] != inside[:-1]) + 1
    rises, falls = change[inside[change]], change[~inside[change]]
    starts = t[np.concatenate(([0], rises)) if inside[0] else rises]
    ends = np.append(t[falls], t[-1]) if inside[-1] else t[falls]
    return np.column_stack((starts, ends))
