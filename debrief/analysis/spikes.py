"""Single samples that no engine can have made."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from debrief.analysis import wording
from debrief.analysis.engine_view import EngineView
from debrief.analysis.intervals import EMPTY, mask
from debrief.analysis.traces import Trace
from debrief.recording.model import FloatArray, QualityFlag
from debrief.recording.sentence import Quantity, sentence


def spike_samples(trace: Trace, max_rate: float, protected: FloatArray = EMPTY) -> NDArray[np.intp]:
    """Return the indices of samples that leave and return faster than `max_rate`, [unit/s].

    Notes
    -----
    Rule: the step to the sample and the step back are both steeper than the engine can be, in opposite
    directions, each within one sample interval that is not a gap. `protected` stretches, (m, 2), are left
    out: from light-off until 10 s after the peak no ITT sample is set aside for its rate alone.
    """
    if trace.time_s.size < 3:
        return np.empty(0, dtype=np.intp)
    rate = np.diff(trace.values) / np.diff(trace.time_s)
    before, after = rate[:-1], rate[1:]
    hit = (np.abs(before) > max_rate) & (np.abs(after) > max_rate) & (np.sign(before) != np.sign(after))
    hit &= ~trace.gap[:-1] & ~trace.gap[1:]
    index = np.flatnonzero(hit) + 1
    return index[~mask(protected, trace.time_s)[index]] if index.size else index


def spike_flags(view: EngineView, channel: str, index: NDArray[np.intp]) -> list[QualityFlag]:
    """Return one flag per spike, at most twenty and then a count."""
    trace, recorded = view.trace(channel), view.channel(channel)
    if trace is None or recorded is None:
        return []
    flags = []
    for k in index[:20]:
        at = float(trace.time_s[k])
        said = sentence(
            "{channel} jumped to {value} for one sample at {at} and back, faster than the profile says this engine "
            "can.",
            channel=wording.channel_words(recorded.name),
            value=Quantity(float(trace.values[k]), recorded.unit),
            at=wording.clock_text(at),
        )
        last = float(trace.time_s[min(k + 1, trace.time_s.size - 1)])
        begin = float(trace.time_s[k - 1])
        flags.append(QualityFlag("spike", recorded.name, begin, last, wording.said(said), said))
    if index.size > 20:
        first, last = float(trace.time_s[index[20]]), float(trace.time_s[index[-1]])
        flags.append(
            QualityFlag(
                "spike",
                recorded.name,
                first,
                last,
                f"{index.size - 20} more single-sample jumps of this kind.",
            )
        )
    return flags
