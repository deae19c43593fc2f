"""Single samples that no engine can have made."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import EMPTY, mask
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import FloatArray, QualityFlag
from debrief.words import numbers
from debrief.words.sentence import Quantity, sentence, words


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


JUMP = {"itt": 100.0, "torque": 15.0, "ng": 5.0, "np": 150.0}
"""How far beside its neighbours one sample must stand for other channels to contradict it, [unit]."""

AGREE = 0.25
"""How far apart the neighbours may stand, as a part of the jump."""

WITHIN_S = 1.0
MOVED: dict[str, dict[str, float]] = {
    "itt": {"fuel_flow": 0.02, "ng": 1.0},
    "torque": {"fuel_flow": 0.02, "ng": 1.0},
    "ng": {"itt": 15.0, "fuel_flow": 0.05},
    "np": {"ng": 1.0, "torque": 3.0},
}
"""By how much its witnesses move at most while they do not move, [unit]; below 1 as a part of their highest value."""

NEEDED = {"itt": ("fuel_flow", "ng"), "torque": ("fuel_flow", "ng"), "ng": ("itt",), "np": ("ng",)}
NOISES = 10.0


def contradicted_samples(view: EngineView, channel: str) -> NDArray[np.intp]:
    """Return the samples that the channels which move with it contradict: they stood still meanwhile.

    Notes
    -----
    Rule: one sample stands beside the straight line between its neighbours by more than `JUMP` and ten deviations of
    the noise, the neighbours agree to a quarter of that, all within a second and no gap; and from the one neighbour to
    the other the witnesses hardly moved, with samples in or beside that time and no gap: of ITT and torque fuel flow, by no
    more than 2 % of its highest value, and Ng, by 1 %; of Ng ITT by 15 °C and, where it is recorded, fuel flow; of Np Ng and torque
    by 3 %. No burning changes so without fuel, no torque without Ng, and what turns has inertia. This is evidence of
    other channels, not of the rate alone, so it holds in a start as well. The numbers are common practice, no source.
    """
    none = np.empty(0, dtype=np.intp)
    trace, least = view.trace(channel), JUMP.get(channel)
    if trace is None or least is None or trace.time_s.size < 3:
        return none
    witnesses = [
        (one, most) for name, most in MOVED[channel].items() if (one := view.trace(name)) is not None
    ]
    if any(view.trace(name) is None for name in NEEDED[channel]):
        return none
    t, v = trace.time_s, trace.values
    line = v[:-2] + (v[2:] - v[:-2]) * (t[1:-1] - t[:-2]) / (t[2:] - t[:-2])
    jump = np.abs(v[1:-1] - line)
    hit = (jump > max(least, NOISES * trace.noise)) & (np.abs(v[2:] - v[:-2]) <= AGREE * jump)
    hit &= (t[2:] - t[:-2] <= 2.0 * WITHIN_S) & ~trace.gap[:-1] & ~trace.gap[1:]
    index = np.flatnonzero(hit) + 1
    witnesses = [
        (w, most * (float(w.values.max()) if most < 1.0 else 1.0) + 6.0 * w.noise * (channel in ("ng", "np")))
        for w, most in witnesses
    ]
    still = [all(_stood(w, t[k - 1], t[k + 1], most) for w, most in witnesses) for k in index]
    return index[np.array(still, dtype=np.bool_)] if index.size else none


def _stood(trace: Trace, begin: float, end: float, most: float) -> bool:
    """Return whether the channel surely moved by no more than `most` in the stretch, its ends included."""
    first, last = trace.at(begin), trace.at(end)
    if first is None or last is None:
        return False
    # The samples beside the stretch, too: a short movement may lie just outside of what is between them.
    near = trace.between(begin, end)
    part = trace.values[max(near.start - 1, 0) : near.stop + 1]
    low, high = min(first, last, float(part.min())), max(first, last, float(part.max()))
    return high - low <= most


FAST = (
    "{channel} jumped to {value} for one sample at {at} and back, faster than this engine can by its profile."
)
CONTRADICTED = (
    "{channel} jumped to {value} for one sample at {at} and back, while what moves with it stood still."
)


def spike_flags(
    view: EngineView, channel: str, index: NDArray[np.intp], template: str = FAST
) -> list[QualityFlag]:
    """Return one flag per spike, at most twenty and then a count."""
    trace, recorded = view.trace(channel), view.channel(channel)
    if trace is None or recorded is None:
        return []
    flags = []
    for k in index[:20]:
        at = float(trace.time_s[k])
        said = sentence(
            template,
            channel=view.names.words(recorded.name),
            value=Quantity(float(trace.values[k]), recorded.unit),
            at=numbers.clock_text(at),
        )
        last = float(trace.time_s[min(k + 1, trace.time_s.size - 1)])
        begin = float(trace.time_s[k - 1])
        flags.append(QualityFlag("spike", recorded.name, begin, last, said))
    if index.size > 20:
        first, last = float(trace.time_s[index[20]]), float(trace.time_s[index[-1]])
        flags.append(
            QualityFlag(
                "spike",
                recorded.name,
                first,
                last,
                words(f"{index.size - 20} more single-sample jumps of this kind."),
            )
        )
    return flags
