"""Means of channels over cells of one length: what is looked at where single readings are too noisy."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.signal.traces import Trace
from debrief.recording.model import FloatArray


@dataclass(eq=False)
class Cells:
    """Cell k is from `k step_s` to `(k + 1) step_s`; there are `count` of them."""

    step_s: float
    count: int
    _edges: dict[int, NDArray[np.intp]] = field(default_factory=dict)
    _means: dict[int, tuple[Trace, FloatArray, NDArray[np.intp]]] = field(default_factory=dict)

    def edges(self, time_s: FloatArray) -> NDArray[np.intp]:
        """Return the index of the first sample of each cell, and one more: (count + 1,)."""
        found = self._edges.get(id(time_s))
        if found is None:
            found = self._edges[id(time_s)] = time_s.searchsorted(np.arange(self.count + 1) * self.step_s)
        return found

    def means(self, trace: Trace) -> tuple[FloatArray, NDArray[np.intp]]:
        """Return the mean of each cell, NaN where it has no sample, and how many samples it has."""
        known = self._means.get(id(trace))
        if known is None:
            edges = self.edges(trace.time_s)
            rows = np.diff(edges)
            out = np.full(self.count, np.nan)
            some = np.flatnonzero(rows)
            if some.size:
                # What lies behind the last cell is in none.
                sums = np.add.reduceat(trace.values[: edges[-1]], edges[:-1][some])
                out[some] = sums / rows[some]
            known = self._means[id(trace)] = trace, out, rows
        return known[1], known[2]
