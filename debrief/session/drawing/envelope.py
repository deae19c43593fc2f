"""What is drawn of a channel: real samples only, few enough for the screen, no extreme ever left out.

Plain thinning loses peaks, and library thinning loses the last partial bin and whole bins with one
missing value. Here every drawn point is a recorded sample at its own time: of each bin of time the
lowest and the highest sample are kept, those beside a gap as well, and a line never crosses a gap.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.model import Start
from debrief.analysis.signal.traces import gap_mask
from debrief.recording.model import FloatArray

IntArray = NDArray[np.int64]

_FIRST_LEVEL_SAMPLES = 8
_SMALLEST_LEVEL_BINS = 64


@dataclass(frozen=True, eq=False)
class Drawn:
    """Points to draw.

    Attributes
    ----------
    time_s, values : (n,) float array
        Recorded samples in order of time.
    connect : (n,) bool array
        Whether a line goes from point i to point i + 1; the last is False.
    reduced : bool
        Whether samples between these were left out.
    """

    time_s: FloatArray
    values: FloatArray
    connect: NDArray[np.bool_]
    reduced: bool

    @property
    def isolated(self) -> NDArray[np.bool_]:
        """Samples with a gap on both sides, (n,): a line alone would not show them."""
        before = np.zeros_like(self.connect)
        before[1:] = self.connect[:-1]
        return np.asarray(~self.connect & ~before)

    def within(self, begin_s: float, end_s: float) -> FloatArray:
        """Return the values between two times; all of them where there is none."""
        inside = self.values[(self.time_s >= begin_s) & (self.time_s <= end_s)]
        return inside if inside.size else self.values


def gap_breaks(time_s: FloatArray, starts: Sequence[Start] = ()) -> NDArray[np.bool_]:
    """Return for each sample but the last whether a gap follows it, as the analysis defines gaps.

    Parameters
    ----------
    time_s : (n,) float array
        Increasing sample times, [s].
    starts : sequence of Start
        Within start attempts a shorter silence is a gap already.

    Returns
    -------
    (n - 1,) bool array
        Empty for fewer than two samples.
    """
    windows = np.array([(s.begin_s, s.end_s) for s in starts], dtype=np.float64).reshape(-1, 2)
    return gap_mask(time_s, windows)


@dataclass(frozen=True, eq=False)
class _Level:
    """Bins of one width.

    Attributes
    ----------
    starts_s : (bins,) float array
        Where each bin begins, [s].
    rows : (n,) int array
        Rows to draw, in order: of each bin its lowest and highest sample, and the samples beside gaps.
    offsets : (bins + 1,) int array
        Where each bin's rows begin in `rows`.
    """

    starts_s: FloatArray
    rows: IntArray
    offsets: IntArray


class Envelope:
    """Pyramid of extremes of one channel.

    Parameters
    ----------
    time_s : (n,) float array
        Increasing, [s].
    values : (n,) float array
        A NaN is not a sample: it is left out and breaks the line.
    breaks : (n - 1,) bool array, optional
        Where a gap follows a sample; `gap_breaks` when not given.

    Notes
    -----
    Levels have bins of equal time, each twice as wide as the last, so unevenly sampled channels lose
    nothing in place either. Building takes a few passes over the samples; a view takes a slice.
    """

    def __init__(
        self, time_s: FloatArray, values: FloatArray, breaks: NDArray[np.bool_] | None = None
    ) -> None:
        time_s = np.asarray(time_s, dtype=np.float64)
        values = np.asarray(values, dtype=np.float64)
        if breaks is None:
            breaks = gap_breaks(time_s)
        section = np.zeros(time_s.size, dtype=np.int64)
        section[1:] = np.cumsum(breaks)
        good = np.isfinite(values) & np.isfinite(time_s)
        if not good.all():
            section = section + np.cumsum(~good)
            time_s, values, section = time_s[good], values[good], section[good]
        self._time_s, self._values, self._section = time_s, values, section
        self._levels: list[_Level] = []
        self._first_width_s = 0.0
        self._build()

    @property
    def size(self) -> int:
        """Number of samples."""
        return int(self._time_s.size)

    @property
    def lowest(self) -> float | None:
        """Lowest sample of all, or None without samples."""
        return float(self._values.min()) if self.size else None

    @property
    def highest(self) -> float | None:
        """Highest sample of all, or None without samples."""
        return float(self._values.max()) if self.size else None

    def _build(self) -> None:
        count = self.size
        if count <= _FIRST_LEVEL_SAMPLES * _SMALLEST_LEVEL_BINS:
            return
        span = float(self._time_s[-1] - self._time_s[0])
        # The usual interval where sampling is denser than on average, so that a burst is reduced too.
        width = min(span / count, float(np.median(np.diff(self._time_s)))) * _FIRST_LEVEL_SAMPLES
        if not width > 0:
            return
        self._first_width_s = width
        # Of each bin the rows of its first, lowest, highest and last sample. Not repeated in memory: that would
        # hold the interpreter, and the window, for some hundredths of a second.
        bins: IntArray = np.broadcast_to(np.arange(count, dtype=np.int64)[:, np.newaxis], (count, 4))
        while True:
            bins, starts_s = self._merge(bins, width)
            self._levels.append(self._level(bins, starts_s))
            if len(bins) <= _SMALLEST_LEVEL_BINS:
                return
            width *= 2.0

    def _merge(self, bins: IntArray, width_s: float) -> tuple[IntArray, FloatArray]:
        """Return the bins of this width, made of finer ones whose edges are a subset, and their begins."""
        zero = self._time_s[0]
        number = np.floor((self._time_s[bins[:, 0]] - zero) / width_s)
        starts = np.flatnonzero(np.r_[True, np.diff(number) > 0])
        ends = np.r_[starts[1:], len(bins)] - 1
        merged = np.empty((starts.size, 4), dtype=np.int64)
        merged[:, 0] = bins[starts, 0]
        merged[:, 1] = self._extreme(bins[:, 1], starts, np.minimum)
        merged[:, 2] = self._extreme(bins[:, 2], starts, np.maximum)
        merged[:, 3] = bins[ends, 3]
        return merged, zero + number[starts] * width_s

    def _level(self, bins: IntArray, starts_s: FloatArray) -> _Level:
        """Keep of each bin what has to be drawn.

        The first and last sample of a bin matter only where the line ends there: beside a gap, and at
        both ends of the channel. Elsewhere the extremes alone draw the same picture with half the points.
        """
        section = self._section[bins]
        keep = np.zeros(bins.shape, dtype=bool)
        keep[:, 1:3] = True
        keep[0, 0] = keep[-1, 3] = True
        keep[1:, 0] = section[1:, 0] != section[:-1, 3]
        keep[:-1, 3] = section[:-1, 3] != section[1:, 0]
        keep[section[:, 0] != section[:, 3]] = True
        ordered = np.where(keep, bins, bins[:, 1:2])
        ordered.sort(axis=1)
        fresh = np.ones(ordered.shape, dtype=bool)
        fresh[:, 1:] = ordered[:, 1:] > ordered[:, :-1]
        offsets = np.r_[0, np.cumsum(fresh.sum(axis=1))]
        return _Level(starts_s, ordered[fresh], np.asarray(offsets, dtype=np.int64))

    def _extreme(self, rows: IntArray, starts: IntArray, pick: np.ufunc) -> IntArray:
        values = self._values[rows]
        best = pick.reduceat(values, starts)
        # In calls that let the interpreter go while they count; repeating each best would hold it, and the window.
        owner = np.zeros(rows.size, dtype=np.int64)
        owner[starts[1:]] = 1
        np.cumsum(owner, out=owner)
        hits = np.flatnonzero(values == best.take(owner))
        first = np.flatnonzero(np.diff(owner[hits], prepend=-1))
        return np.asarray(rows[hits[first]], dtype=np.int64)

    def view(self, begin_s: float, end_s: float, columns: int) -> Drawn:
        """Return what to draw between two times on this many pixel columns.

        Parameters
        ----------
        begin_s, end_s : float
            Visible range, [s].
        columns : int
            Pixels across.

        Returns
        -------
        Drawn
            At most about four points a column, besides those beside gaps. It starts one sample before the
            range and ends one after it where there are such, so that lines run to the edges.
        """
        columns = max(1, int(columns))
        first = max(0, int(np.searchsorted(self._time_s, begin_s, side="left")) - 1)
        last = min(self.size, int(np.searchsorted(self._time_s, end_s, side="right")) + 1)
        if last <= first:
            empty = np.zeros(0)
            return Drawn(empty, empty, np.zeros(0, dtype=bool), False)
        wanted_width = max(end_s - begin_s, 0.0) / columns
        if last - first <= 4 * columns or not self._levels or wanted_width <= self._first_width_s / 2:
            rows = np.arange(first, last)
            return self._drawn(rows, reduced=False)
        depth = 0
        width = self._first_width_s
        while depth + 1 < len(self._levels) and width * 2.0 <= wanted_width:
            width *= 2.0
            depth += 1
        level = self._levels[depth]
        low = max(0, int(np.searchsorted(level.starts_s, begin_s, side="right")) - 1)
        high = min(level.starts_s.size, int(np.searchsorted(level.starts_s, end_s, side="right")))
        # Whole bins at both ends: what they add outside the range is clipped by the drawing.
        inner = level.rows[level.offsets[low] : level.offsets[high]]
        rows = np.concatenate(([min(first, int(inner[0])) if inner.size else first], inner, [last - 1]))
        # Sorted already: bins follow each other in time, so a difference finds the repeated rows.
        fresh = np.ones(rows.size, dtype=bool)
        fresh[1:] = rows[1:] > rows[:-1]
        rows = rows[fresh]
        return self._drawn(rows, reduced=rows.size < int(rows[-1] - rows[0] + 1))

    def _drawn(self, rows: IntArray, reduced: bool) -> Drawn:
        section = self._section[rows]
        connect = np.zeros(rows.size, dtype=bool)
        connect[:-1] = section[1:] == section[:-1]
        return Drawn(self._time_s[rows], self._values[rows], connect, reduced)
