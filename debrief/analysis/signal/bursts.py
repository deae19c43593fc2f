"""Short bursts of corrupt readings: up within a sample and back within another, which no flame does."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.signal.traces import Trace

UP_C = 60.0
BACK_SHARE = 0.75
LEVEL_SHARE = 0.25
LASTS_S = 5.0
STEP_S = 2.0
MOST = 2000


def bursts(itt: Trace) -> NDArray[np.intp]:
    """Return the samples of ITT that lie in a burst.

    Notes
    -----
    From one sample to the next, at most 2 s later, ITT rises by 60 °C or more, stays within a quarter of that for 5 s at
    most, and falls back by three quarters of it and more within one sample interval. A probe heats up so in a flame, but
    what was heated does not cool so.
    """
    t, v = itt.time_s, itt.values
    steps = np.diff(v)
    ups = np.flatnonzero((steps >= UP_C) & (np.diff(t) <= STEP_S))[:MOST]
    out: list[NDArray[np.intp]] = []
    until = -1
    for k in ups.tolist():
        if k < until:
            continue
        jump = float(steps[k])
        stop = int(np.searchsorted(t, t[k + 1] + LASTS_S, side="right"))
        away = np.flatnonzero(np.abs(v[k + 1 : stop + 1] - v[k + 1]) > LEVEL_SHARE * jump)
        if not away.size:
            continue
        j = k + 1 + int(away[0])
        if (
            v[j] <= v[k] + (1.0 - BACK_SHARE) * jump
            and v[j - 1] - v[j] >= BACK_SHARE * jump - LEVEL_SHARE * jump
        ):
            out.append(np.arange(k + 1, j))
            until = j
    return np.concatenate(out) if out else np.empty(0, dtype=np.intp)
