"""How single values are read for the measures of a start: slopes, rises, the samples beside an instant."""

from __future__ import annotations

import numpy as np

from debrief.analysis.model import Measure
from debrief.analysis.signal.noise import above_all
from debrief.analysis.signal.traces import Trace

RATE_OVER_S = 1.0
FUEL_BEFORE = "fuel was already on where its recording begins"
STARTER_BEFORE = "the starter was already on where its recording begins"


def lit_between(itt: Trace, before_s: float | None, on_s: float, rise_c: float) -> bool:
    """Return whether the flame is already in the ITT that a switch's coming on is read at.

    Parameters
    ----------
    itt : Trace
    before_s, on_s : float
        The last sample of the switch off, and the first on, [s].
    rise_c : float
        The rise that shows a flame, [degC]. No engine warms by so much without one while its starter turns it.

    Notes
    -----
    The line between two samples, or the first sample with fuel, may lie beyond the light-off of a slow recorder. What
    it shows is then no heat that was left.
    """
    t, v = itt.time_s, itt.values
    first = int(np.searchsorted(t, on_s if before_s is None else before_s, side="right")) - 1
    last = int(np.searchsorted(t, on_s, side="left"))
    if first < 0 or last >= t.size:
        return False
    return bool(v[first : last + 1].max() - v[first] >= rise_c)


def missing(unit: str, why: str) -> Measure:
    """Return a measure without a value, and why."""
    return Measure(None, unit, why=why)


def slope(trace: Trace, begin: float, end: float) -> tuple[float, float] | None:
    """Return the least-squares slope and its uncertainty between two instants, [unit/s].

    None with fewer than three samples. The uncertainty is one standard error: from the residuals, but at
    least from the channel's noise, and from the recorder's step taken as evenly distributed (step / sqrt(12)); larger
    where readings lean on the one before or repeat.
    """
    part = trace.between(begin, end)
    t, v = trace.time_s[part], trace.values[part]
    if t.size < 3:
        return None
    x = t - t.mean()
    sxx = float((x * x).sum())
    if sxx <= 0:
        return None
    fitted = float((x * v).sum()) / sxx
    residual = v - v.mean() - fitted * x
    spread = float(np.sqrt((residual * residual).sum() / max(t.size - 2, 1)))
    noise = trace.noise_seen
    spread = max(spread, 2.0 * trace.half_resolution / np.sqrt(12.0), noise.quick)
    return fitted, spread * noise.lasting * float(np.sqrt(noise.held / sxx))


def steepest(trace: Trace, begin: float, end: float) -> Measure | None:
    """Return the fastest rise over one second (or one interval where that is longer) in the stretch."""
    found = steepest_between(trace, begin, end)
    return None if found is None else found[0]


def steepest_between(trace: Trace, begin: float, end: float) -> tuple[Measure, int, int] | None:
    """Return the fastest rise, and the index of the two samples that it lies between."""
    part = trace.between(begin, end)
    t, v = trace.time_s[part], trace.values[part]
    if t.size < 2:
        return None
    j = np.searchsorted(t, t + RATE_OVER_S - 1e-9)
    j = np.minimum(np.maximum(j, np.arange(t.size) + 1), t.size - 1)
    span = t[j] - t
    good = span >= RATE_OVER_S - 1e-9
    if not good.any():
        return None
    rate = (v[j][good] - v[good]) / span[good]
    k = int(np.argmax(rate))
    # The fastest of many rises is the one that noise has helped the most.
    unsure = 2.0 * trace.half_resolution + above_all(int(good.sum()), 0.05) * np.sqrt(2.0) * trace.noise
    half = float(unsure / span[good][k])
    value = float(rate[k])
    first = int(np.flatnonzero(good)[k])
    # Between the samples such a stretch may begin anywhere: it lies inside one that is an interval longer.
    longer = (v[np.minimum(j[good] + 1, t.size - 1)] - v[good]) / span[good]
    measure = Measure(value, "", value - half, max(value, float(longer.max())) + half)
    return measure, part.start + first, part.start + int(j[first])


def samples_beside(trace: Trace, time_s: float) -> tuple[float, float]:
    """Return the sample times around an instant."""
    k = int(np.searchsorted(trace.time_s, time_s, side="right"))
    return float(trace.time_s[max(k - 1, 0)]), float(trace.time_s[min(k, trace.time_s.size - 1)])
