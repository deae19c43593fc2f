"""Cycles of Ng and ITT over the whole recording, counted by rainflow in classes of their range."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial

import numpy as np

from debrief.analysis.evidence.evidence_samples import Readings, taken
from debrief.analysis.evidence.measured import Measured
from debrief.analysis.flight.rainflow import rainflow
from debrief.analysis.flight_model import CycleClass
from debrief.analysis.model import Measure
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.noise import above_all
from debrief.analysis.signal.point_readings import missing
from debrief.analysis.signal.traces import Trace

CLASSES = (("ng", 10.0), ("itt", 50.0))
"""Each channel with the width of its classes, in its unit."""
SHARE = 0.02
"""In so many recordings at most noise alone makes a cycle."""


def cycle_classes(view: EngineView, believed: Mapping[str, Trace]) -> tuple[CycleClass, ...]:
    """Return the cycles of Ng and ITT by class.

    Parameters
    ----------
    view : EngineView
    believed : mapping of str to Trace
        The channels without the samples that cannot be believed; one that was not recorded is absent.

    Notes
    -----
    A range that the noise of the channel may make by itself, with the recorder's step, is no cycle: the highest and the
    lowest of as many readings of one value lie so far apart.
    """
    return tuple(
        one
        for name, width in CLASSES
        if name in believed
        for one in _classes(view.engine, name, width, believed[name])
    )


def cycle_measures(
    view: EngineView, believed: Mapping[str, Trace], classes: Sequence[CycleClass]
) -> dict[str, Measured]:
    """Return the sum of the cycles of each channel, with what they were read from."""
    return {f"cycles_{name}": _measured(view, name, believed.get(name), classes) for name, _ in CLASSES}


def least_range(trace: Trace) -> float:
    """Return the range up to which noise and the recorder's step may make a cycle, [unit]."""
    return 2.0 * (trace.half_resolution + above_all(trace.values.size, SHARE) * trace.noise)


def _classes(engine: int, name: str, width: float, trace: Trace) -> list[CycleClass]:
    least = least_range(trace)
    counts: dict[int, float] = {}
    for ranges, weight in zip(rainflow(trace.values), (1.0, 0.5), strict=True):
        kept = ranges[(ranges > least) & np.isfinite(ranges)]
        # On the edge of a class it is of the one above; a rounding of floats below it is on it.
        places, times = np.unique(np.floor(kept / width + 1e-9), return_counts=True)
        for place, count in zip(places.tolist(), times.tolist(), strict=True):
            counts[int(place)] = counts.get(int(place), 0.0) + weight * count
    return [
        CycleClass(engine, name, place * width, (place + 1) * width, cycles)
        for place, cycles in sorted(counts.items())
    ]


def _measured(view: EngineView, name: str, trace: Trace | None, classes: Sequence[CycleClass]) -> Measured:
    of = partial(Measured, formula="sum over the classes; a full cycle counts 1, a half cycle 0.5")
    if trace is None:
        return of(missing("", view.missing_because(name, view.names.in_text(name))))
    count = sum(one.cycles for one in classes if one.channel == name)
    hidden = bool(trace.gap.any())
    why = f"a gap in {view.names.in_text(name)} hides what it did there" if hidden else None
    return of(
        Measure(count, "", count, None if hidden else count, why=why),
        read=partial(_extremes, view, name, trace) if count else tuple,
    )


def _extremes(view: EngineView, name: str, trace: Trace) -> Readings:
    """Return the lowest and the highest of the samples that were counted: between them lies the largest range."""
    channel = view.channel(name)
    if channel is None:
        return ()
    times = trace.time_s[[int(trace.values.argmin()), int(trace.values.argmax())]]
    index = np.searchsorted(channel.time_s, times).tolist()
    return taken(view, name, index, "lowest and highest", slice(0, channel.time_s.size))
