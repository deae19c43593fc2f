"""Which samples a value was read from, so that a reader can look them up in the recording."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from debrief.analysis.model import Reading
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.starts.light_off import Fuel
from debrief.recording.model import Channel

MOST = 12
"""A longer stretch is told by its first and last sample and by those that decide."""

MOST_OF_EVENT = 400
"""So many samples of an event are kept at the most."""

Readings = tuple[Reading, ...]
Numbers = tuple[float, ...]


def taken(
    view: EngineView, name: str, index: Iterable[int], what: str, span: slice | None = None
) -> Readings:
    """Return the samples of these indices, in order; empty where the channel or they were not recorded.

    Parameters
    ----------
    index : iterable of int
        Into the channel of the assessed recording; those outside of it are left out.
    what : str
        In words, what they are: ``before and after the fuel cut-off``.
    span : slice or None
        The stretch that was looked at, where it holds more than these samples.
    """
    channel = view.channel(name)
    if channel is None:
        return ()
    rows = sorted({int(k) for k in index if 0 <= k < channel.time_s.size})
    if not rows:
        return ()
    looked = None if span is None or span.stop <= span.start else (span.start, span.stop - 1)
    return (
        Reading(
            channel.name,
            channel.unit,
            what,
            tuple(rows),
            tuple(float(channel.time_s[k]) for k in rows),
            tuple(float(channel.values[k]) for k in rows),
            looked,
        ),
    )


def index_at(view: EngineView, name: str, time_s: float) -> int | None:
    """Return the index of the last sample up to an instant; None before the first and without the channel."""
    channel = view.channel(name)
    if channel is None:
        return None
    k = int(np.searchsorted(channel.time_s, time_s, side="right")) - 1
    return k if k >= 0 else None


def beside(view: EngineView, name: str, time_s: float | None, what: str) -> Readings:
    """Return the samples between which the straight line was read at an instant: one where it has a sample there."""
    channel = view.channel(name)
    if channel is None or time_s is None:
        return ()
    found = index_at(view, name, time_s)
    k = -1 if found is None else found
    alone = k >= 0 and float(channel.time_s[k]) == time_s
    return taken(view, name, (k,) if alone else (k, k + 1), f"beside {what}")


def edge(view: EngineView, name: str, time_s: float | None, what: str) -> Readings:
    """Return the last sample before a change and the first with it, which lies at the instant."""
    k = None if time_s is None else index_at(view, name, time_s)
    return () if k is None else taken(view, name, (k - 1, k), f"before and after {what}")


def cut_of(view: EngineView, fuel: Fuel) -> Readings:
    """Return the samples that show a fuel cut; empty where no fuel signal does."""
    if fuel.off_inferred or fuel.source == "light_off":
        return ()
    return edge(view, fuel.source, fuel.off_s, "the fuel cut-off")


def nearest(view: EngineView, name: str, time_s: float, what: str) -> Readings:
    """Return the sample nearest to an instant."""
    channel = view.channel(name)
    if channel is None:
        return ()
    k = int(np.searchsorted(channel.time_s, time_s))
    near = range(max(k - 1, 0), min(k + 1, channel.time_s.size))
    best = min(near, key=lambda i: abs(float(channel.time_s[i]) - time_s))
    return taken(view, name, (best,), f"nearest to {what}")


def stretch(
    view: EngineView, name: str, begin: float, end: float, what: str, deciding: Iterable[int] = ()
) -> Readings:
    """Return all samples from `begin` to `end`, or of a long stretch the first, the deciding and the last."""
    channel = view.channel(name)
    if channel is None:
        return ()
    span = _span(channel, begin, end)
    if span.stop - span.start <= MOST:
        return taken(view, name, range(span.start, span.stop), what)
    return taken(view, name, (span.start, *deciding, span.stop - 1), what, span)


def around(
    view: EngineView, name: str, begin: float, end: float, time_s: float | None, what: str
) -> Readings:
    """Return the sample at an instant with its two neighbours, out of those from `begin` to `end`."""
    channel = view.channel(name)
    k = None if time_s is None else index_at(view, name, time_s)
    if channel is None or k is None:
        return ()
    return taken(view, name, (k - 1, k, k + 1), what, _span(channel, begin, end))


def middle(view: EngineView, name: str, begin: float, end: float, what: str) -> Readings:
    """Return the one or two samples in the middle by size of those from `begin` to `end`: their median."""
    channel = view.channel(name)
    if channel is None:
        return ()
    span = _span(channel, begin, end)
    rows = np.arange(span.start, span.stop)
    rows = rows[np.isfinite(channel.values[rows])]
    if not rows.size:
        return ()
    rows = rows[np.argsort(channel.values[rows], kind="stable")]
    half = rows.size // 2
    deciding = rows[half : half + 1] if rows.size % 2 else rows[half - 1 : half + 1]
    return taken(view, name, deciding, what, span)


def _span(channel: Channel, begin: float, end: float) -> slice:
    first, last = (
        np.searchsorted(channel.time_s, begin, "left"),
        np.searchsorted(channel.time_s, end, "right"),
    )
    return slice(int(first), int(last))


def event_samples(view: EngineView, name: str, begin: float, end: float) -> tuple[Numbers, Numbers]:
    """Return time and value of the samples from 2 s before an event to 2 s after it, of a long one every few."""
    channel = view.channel(name)
    if channel is None:
        return (), ()
    span = _span(channel, begin - 2.0, end + 2.0)
    every = slice(span.start, span.stop, max(1, -(-(span.stop - span.start) // MOST_OF_EVENT)))
    return tuple(channel.time_s[every].tolist()), tuple(channel.values[every].tolist())
