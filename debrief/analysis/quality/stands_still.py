"""A channel that stands still while the others move as they do only when it moves with them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.quality.doubt import Doubt, said_of
from debrief.analysis.quality.jumps_and_stands import COLD_C
from debrief.analysis.signal.engine_view import EngineView
from debrief.analysis.signal.interval_sets import EMPTY, intersect, mask, subtract
from debrief.analysis.signal.traces import Trace
from debrief.recording.model import FloatArray
from debrief.words.channels import CANONICAL
from debrief.words.numbers import clock_text
from debrief.words.sentence import Quantity, sentence

CELL_S = 2.0
LEAST_S = 10.0
LEARNED_S = 30.0
"""For so long it must stand where only what was learned tells that it should have moved."""

WITHIN_S = 60.0
"""Over longer times a pilot or a governor may hold one value while the air changes the others."""

WITNESSES = {
    "itt": ("ng", "torque", "fuel_flow"),
    "ng": ("torque", "fuel_flow", "itt"),
    "torque": ("ng", "fuel_flow", "itt"),
    "np": ("ng", "torque"),
}
LEAST = {"itt": 30.0, "ng": 4.0, "torque": 10.0, "np": 200.0}
"""By how much the channel should have moved at the least, [unit]."""

LAG_S = 10.0
STEPS = 3.0
SCATTERS = 3.0
BINS = 60
LEAST_CELLS = 10
MOVED = 0.05
START_MOVED_PCT = 25.0
NG_MOVED_PCT = 10.0
"""ITT that stands while Ng moves so far needs nothing that was learned before."""


@dataclass(frozen=True, eq=False)
class _Cells:
    """Least, mean and highest reading of one channel in cells of time, (n,), NaN where there is none."""

    low: FloatArray
    mean: FloatArray
    high: FloatArray

    @classmethod
    def of(cls, trace: Trace, edges: FloatArray) -> _Cells:
        """Return the cells between the edges, (n + 1,), [s]."""
        cuts = np.searchsorted(trace.time_s, edges)
        full = np.flatnonzero(np.diff(cuts) > 0)
        out = [np.full(edges.size - 1, np.nan) for _ in range(3)]
        if full.size:
            values = trace.values[: cuts[-1]]
            at = cuts[full]
            out[0][full] = np.minimum.reduceat(values, at)
            out[1][full] = np.add.reduceat(values, at) / np.diff(np.append(at, cuts[-1]))
            out[2][full] = np.maximum.reduceat(values, at)
        return cls(*out)


def stands_still(
    view: EngineView, burning: FloatArray, starting: FloatArray, believed_not: dict[str, FloatArray]
) -> list[Doubt]:
    """Return where a channel shows one value while others show that it should have moved.

    Parameters
    ----------
    burning, starting : (m, 2), (n, 2) float array
        Where fuel burned, and where it was started, [s].
    believed_not : dict of str to (k, 2) float array
        Where a channel is in doubt already: it bears no witness there.

    Notes
    -----
    A stretch of one value, or of two that lie one step of the recorder apart, for 10 s or more while fuel burns. What
    the channel should have shown is learned from the rest of this recording: the median of its readings by those of
    each other channel, in cells of 2 s outside of starts. It stands still where most of the others say that within
    60 s it should have moved by `LEAST`, three steps of the recorder and three times the scatter of what was learned.
    The first and last 10 s do not count, since others lead by their lags. Also, of ITT, where Ng moves by 10 % and more outside of a
    start, or anywhere while ITT reads below 150 °C: in a start a hot ITT may come to rest long before Ng does, and Ng
    has to move by 25 %. The numbers are common practice, no source.
    """
    if not len(burning):
        return []
    names = {*WITNESSES, *(w for some in WITNESSES.values() for w in some)}
    traces = {n: t for n in names if (t := view.trace(n)) is not None and t.time_s.size > LEAST_CELLS}
    usual = max((float(np.median(np.diff(t.time_s))) for t in traces.values()), default=0.0)
    width = max(
        CELL_S, 2.0 * usual, view.end_s / max(t.time_s.size for t in traces.values()) if traces else 0.0
    )
    edges = np.arange(0.0, view.end_s + width, width)
    if edges.size < LEAST_CELLS:
        return []
    middle = 0.5 * (edges[1:] + edges[:-1])
    cells = {n: _Cells.of(t, edges) for n, t in traces.items()}
    runs = mask(subtract(burning, starting), middle)
    witness = {}
    for name, one in cells.items():
        rows = believed_not.get(name)
        witness[name] = one.mean if rows is None else np.where(mask(rows, middle), np.nan, one.mean)
    span = {n: float(np.ptp(w[np.isfinite(w)])) for n, w in witness.items() if np.isfinite(w).any()}
    witness = {n: witness[n] for n in span}
    out: list[Doubt] = []
    for channel, others in WITNESSES.items():
        if channel not in witness:
            continue
        trace, own = traces[channel], cells[channel]
        for first, last in _standing(own, trace, width):
            begin, end, value = _stretch(trace, edges, first, last)
            for row in intersect(burning, np.array([[begin, end]])):
                if row[1] - row[0] < LEAST_S:
                    continue
                # Others may lead it by their lags where it begins and ceases to move.
                inside = slice(*np.searchsorted(middle, np.add(row, (LAG_S, -LAG_S))).tolist())
                moving = [w for w in others if w in witness and _moves(witness[w], inside, span[w])]
                pad = 2.0 * usual
                seen = subtract(row[None, :], believed_not.get("ng", EMPTY))  # a dead Ng moves nothing
                outside = seen if value < COLD_C else subtract(seen, starting)
                swing = max((_swing(traces.get("ng"), a + pad, b - pad) for a, b in outside), default=0.0)
                within = max((_swing(traces.get("ng"), a + pad, b - pad) for a, b in seen), default=0.0)
                swings = channel == "itt" and (swing >= NG_MOVED_PCT or within >= START_MOVED_PCT)
                if not moving and not swings:
                    continue
                asked = [w for w in others if w in witness and np.isfinite(witness[w][inside]).any()]
                elsewhere = runs & np.isfinite(witness[channel])
                elsewhere[inside] = False
                shows = [
                    w
                    for w in (moving if row[1] - row[0] >= LEARNED_S else ())
                    if _should_move(witness[w], witness[channel], inside, elsewhere, channel, trace, width)
                ]
                if swings and "ng" not in shows:
                    shows = asked = ["ng", *shows]
                if shows and 2 * len(shows) > len(asked):
                    out.append(_told(view, channel, value, row, shows))
    return out


def _swing(ng: Trace | None, begin: float, end: float) -> float:
    """Return how far Ng moved in a stretch, [%], the two highest and lowest readings left out: they may be spikes."""
    values = np.sort(np.empty(0) if ng is None else ng.values[ng.between(begin, end)])[2:-2]
    return float(values[-1] - values[0]) if values.size else 0.0


def _moves(other: FloatArray, inside: slice, span: float) -> bool:
    """Return whether another channel moves at all inside: most stretches of one value are a smooth cruise."""
    part = other[inside]
    part = part[np.isfinite(part)]
    return part.size > 1 and float(np.ptp(part)) >= MOVED * span


def _standing(own: _Cells, trace: Trace, width: float) -> list[tuple[int, int]]:
    """Return first and last of the cells of each stretch of one value, from the end of each backward.

    Backward, since a slow drift into the value that a sensor froze at must not hide where it stood.
    """
    step = 2.0 * trace.half_resolution
    tolerance = step * 1.001 + 1e-9
    flat = own.high - own.low <= tolerance
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flat, [False])).astype(np.int8)))
    least = max(int(LEAST_S / width) - 1, 2)
    out: list[tuple[int, int]] = []
    for a, b in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if b - a < least:
            continue
        low, high = own.low[a:b].tolist(), own.high[a:b].tolist()
        last = len(low) - 1
        while last >= 0:
            first, bottom, top = last, low[last], high[last]
            while first > 0:
                least_now, most_now = min(bottom, low[first - 1]), max(top, high[first - 1])
                if most_now - least_now > tolerance:
                    break
                first, bottom, top = first - 1, least_now, most_now
            if last - first + 1 >= least:
                out.append((a + first, a + last))
            last = first - 1
    return out[::-1]


def _stretch(trace: Trace, edges: FloatArray, first: int, last: int) -> tuple[float, float, float]:
    """Return begin, end, [s], and value of a stretch of cells, out to the samples at which it begins and ends."""
    t, v = trace.time_s, trace.values
    a, b = np.searchsorted(t, [edges[first], edges[last + 1]])
    part = v[a:b]
    value = float(np.median(part))
    tolerance = 2.0 * trace.half_resolution * 1.001 + 1e-9
    reach = max(int(b - a) // max(last - first + 1, 1) * 2, 2)
    before = np.flatnonzero(np.abs(v[max(a - reach, 0) : a] - value) > tolerance)
    begin = max(a - reach, 0) + (int(before[-1]) + 1 if before.size else 0)
    after = np.flatnonzero(np.abs(v[b : b + reach] - value) > tolerance)
    end = min(b + (int(after[0]) if after.size else reach), t.size) - 1
    return float(t[begin]), float(t[min(end + 1, t.size - 1)]), value


def _should_move(
    other: FloatArray,
    own: FloatArray,
    inside: slice,
    elsewhere: NDArray[np.bool_],
    channel: str,
    trace: Trace,
    width: float,
) -> bool:
    """Return whether by what was learned `elsewhere` the channel should have moved `inside`."""
    known = elsewhere & np.isfinite(other)
    if np.count_nonzero(known) < LEAST_CELLS:
        return False
    x, y = other[known], own[known]
    low, span = float(x.min()), float(np.ptp(x))
    if span <= 0.0:
        return False
    bin_of = np.minimum((BINS * (x - low) / span).astype(np.intp), BINS - 1)
    order = np.argsort(bin_of, kind="stable")
    _, starts = np.unique(bin_of[order], return_index=True)
    groups = np.split(order, starts[1:])
    centres = np.array([x[g].mean() for g in groups])
    usual = np.array([np.median(y[g]) for g in groups])
    scatter = float(np.quantile(np.abs(y - np.interp(x, centres, usual)), 0.9))
    expected = np.interp(other[inside], centres, usual)
    expected = expected[np.isfinite(expected)]
    count = min(max(round(WITHIN_S / width), 1), expected.size)
    if count < 2:
        return False
    windows = np.lib.stride_tricks.sliding_window_view(expected, count)
    moved = float((windows.max(axis=1) - windows.min(axis=1)).max())
    return moved >= max(LEAST[channel], STEPS * 2.0 * trace.half_resolution, SCATTERS * scatter)


def _told(view: EngineView, channel: str, value: float, row: FloatArray, shows: list[str]) -> Doubt:
    begin, end = float(row[0]), float(row[1])
    why = sentence(
        "{channel} stood still at {value} from {at} for {seconds} s while {others} moved",
        channel=view.names.in_text(view.name_of(channel)),
        value=Quantity(value, CANONICAL[channel], digits=6),
        at=clock_text(begin),
        seconds=f"{end - begin:.0f}",
        others=said_of([view.name_of(one) for one in shows], view.names),
    )
    return Doubt(channel, "sensor_sense", begin, end, why)
