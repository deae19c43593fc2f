"""One channel made ready for judging: gaps, noise, and how high it may have gone between samples."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.signal.interval_sets import EMPTY, intersect, union
from debrief.analysis.signal.noise import Noise, above_all, noise_of
from debrief.analysis.signal.peak_bounds import Tents, tents
from debrief.recording.model import Channel, FloatArray, frozen

START_GAP_FLOOR_S = 0.5
GAP_FLOOR_S = 2.0
GAP_FACTOR = 3.0
GAP_WINDOW_S = 60.0
DOUBT = 2.0
"""Bounds cover so many deviations of the noise."""
TOP = 5.0
"""Readings so many deviations below the highest may be of the top as well."""
SHARE = 0.05


def gap_mask(time_s: FloatArray, start_windows: FloatArray = EMPTY) -> NDArray[np.bool_]:
    """Return which intervals between samples are gaps.

    Parameters
    ----------
    time_s : (n,) float array
        Strictly increasing sample times, [s].
    start_windows : (m, 2) float array
        Where the lower floor for starts holds.

    Returns
    -------
    (n - 1,) bool array

    Notes
    -----
    An interval is a gap when it is longer than three times the median interval of the surrounding
    60 s, and longer than 0.5 s in a start or 2 s elsewhere. Only intervals over the floor can be gaps,
    so only for these the median is worked out; neighbours within 5 s share it.
    """
    steps = np.diff(time_s)
    if steps.size == 0:
        return np.zeros(0, dtype=np.bool_)
    floor = np.full(steps.size, GAP_FLOOR_S)
    for begin, end in start_windows:
        low = max(int(np.searchsorted(time_s, begin)) - 1, 0)
        high = int(np.searchsorted(time_s, end, side="right"))
        floor[low:high] = START_GAP_FLOOR_S
    out = np.zeros(steps.size, dtype=np.bool_)
    medians: dict[int, float] = {}
    for i in np.flatnonzero(steps > floor):
        middle = 0.5 * (time_s[i] + time_s[i + 1])
        key = int(middle // 5.0)
        if steps[i] > GAP_WINDOW_S / 4 or key not in medians:
            low = int(np.searchsorted(time_s, middle - GAP_WINDOW_S / 2))
            high = int(np.searchsorted(time_s, middle + GAP_WINDOW_S / 2, side="right"))
            if high - low < 3:
                # The gap empties its own window: look at the samples on both sides of it instead.
                low, high = max(int(i) - 8, 0), min(int(i) + 10, int(time_s.size))
            medians[key] = float(np.median(steps[low : max(high - 1, low + 1)]))
        out[i] = steps[i] > GAP_FACTOR * medians[key]
    return out


def lowest_before(time_s: FloatArray, values: FloatArray, within_s: float) -> FloatArray:
    """Return for each sample the lowest value of the samples before it, at most `within_s` back.

    The sample just before always counts. The first sample has none before it: NaN.

    Notes
    -----
    Minima over 1, 2, 4, ... samples are made once; each window is the union of two of them, so the cost
    grows with the logarithm of the window and not with its length.
    """
    n = values.size
    out = np.full(n, np.nan)
    if n < 2:
        return out
    at = np.arange(1, n)
    low = np.minimum(np.searchsorted(time_s, time_s[1:] - within_s), at - 1)
    length = at - low
    power = np.log2(length).astype(np.intp)  # floor: the largest 2^k that fits
    minima = values
    for k in range(int(power.max()) + 1):
        if k:
            half = 1 << (k - 1)
            minima = np.minimum(minima[:-half], minima[half:])
        hit = power == k
        i = at[hit]
        out[i] = np.minimum(minima[low[hit]], minima[i - (1 << k)])
    return out


class Peak(NamedTuple):
    """The highest sample, [s] and [unit], and how low and high the signal's peak may have been, [unit]."""

    time_s: float
    value: float
    low: float
    high: float


@dataclass(frozen=True, eq=False)
class Trace:
    """Samples of one channel with what is known about the time between them.

    Attributes
    ----------
    time_s, values : (n,) float array
        For a minimum limit the values are negated, so that all arithmetic is about "above".
    gap : (n - 1,) bool array
        Intervals across which nothing is claimed.
    half_resolution : float
        Half the recorder's step, [unit].
    """

    time_s: FloatArray
    values: FloatArray
    gap: NDArray[np.bool_]
    half_resolution: float = 0.0

    @classmethod
    def of(cls, channel: Channel, gap: NDArray[np.bool_] | None = None) -> Trace:
        """Return the trace of a channel; `gap` where its gaps are known, else those outside of any start."""
        gap = gap_mask(channel.time_s) if gap is None else gap
        return cls(channel.time_s, channel.values, gap, 0.5 * (channel.resolution or 0.0))

    def negated(self) -> Trace:
        """Return the trace upside down, for limits that are minima."""
        return self._negated

    @cached_property
    def _negated(self) -> Trace:
        out = Trace(self.time_s, frozen(-self.values), self.gap, self.half_resolution)
        out.__dict__["noise_seen"] = self.noise_seen  # the same upside down, and for a part that of the whole
        if self._whole is not None:
            out.__dict__["_whole"] = (self._whole[0].negated(), self._whole[1])
        return out

    @cached_property
    def _whole(self) -> tuple[Trace, int] | None:
        """Of a part: the trace that it is of, and at which sample it begins."""
        return None

    def without(self, indices: NDArray[np.intp]) -> Trace:
        """Return the trace without these samples, as if they had not been recorded; several in a row leave a gap."""
        keep = np.ones(self.time_s.size, dtype=np.bool_)
        keep[indices] = False
        time_s = frozen(self.time_s[keep])
        gap = np.zeros(max(time_s.size - 1, 0), dtype=np.bool_)
        if time_s.size > 1:
            kept = np.flatnonzero(keep)
            edges = np.concatenate(([0], np.cumsum(self.gap)))
            gap = (edges[kept[1:]] > edges[kept[:-1]]) | (np.diff(kept) > 2)
        return Trace(time_s, frozen(self.values[keep]), gap, self.half_resolution)

    def clip(self, begin: float, end: float) -> Trace:
        """Return the samples from `begin` to `end` and one more on each side, with what is known of the whole."""
        first = max(int(self.time_s.searchsorted(begin, side="left")) - 2, 0)
        last = min(int(self.time_s.searchsorted(end, side="right")) + 2, self.time_s.size)
        out = Trace(
            self.time_s[first:last],
            self.values[first:last],
            self.gap[first : max(last - 1, first)],
            self.half_resolution,
        )
        out.__dict__["noise_seen"] = self.noise_seen  # a property of the sensor, not of the part
        out.__dict__["_whole"] = (self, first)  # what is worked out for the whole serves its parts
        return out

    def not_above_from(self, time_s: float, level: float) -> float:
        """Return the first sample time from an instant on at which it is not above the level, else the last."""
        low, size = int(np.searchsorted(self.time_s, time_s)), 256
        while low < self.time_s.size:
            hit = np.flatnonzero(self.values[low : low + size] <= level)
            if hit.size:
                return float(self.time_s[low + int(hit[0])])
            low, size = low + size, 2 * size
        return float(self.time_s[-1])

    @cached_property
    def top(self) -> float:
        """The highest the signal may have been: samples, half a step of the recorder, and between samples."""
        apex = self.tents[2]
        highest = max(float(self.values.max()), float(apex.max()) if apex.size else -np.inf)
        return highest + self.half_resolution

    @cached_property
    def gap_index(self) -> NDArray[np.intp]:
        """Index of each interval that is a gap."""
        return np.flatnonzero(self.gap)

    @cached_property
    def noise_seen(self) -> Noise:
        """The noise of the channel."""
        return noise_of(self.time_s, self.values)

    @property
    def noise(self) -> float:
        """Robust deviation of the noise of one reading, [unit]."""
        return self.noise_seen.deviation

    @property
    def doubt(self) -> float:
        """How far a reading may lie beside the signal: half a step of the recorder and two deviations of the noise, [unit]."""
        return self.half_resolution + DOUBT * self.noise

    @cached_property
    def tents(self) -> Tents:
        """Where slopes on both sides lead upward into an interval: interval index, apex time, apex value."""
        if self._whole is not None:
            whole, first = self._whole
            index, apex_s, apex = whole.tents
            a, b = np.searchsorted(index, [first, first + self.time_s.size - 1])
            return index[a:b] - first, apex_s[a:b], apex[a:b]
        return tents(self.time_s, self.values, self.gap, 2.0 * self.half_resolution, self.noise)

    def peak(self, windows: FloatArray) -> Peak | None:
        """Return the highest sample inside the windows with its bounds, or None without a sample there.

        Low: the highest of many samples near a top lies above the signal by what the noise of the highest of so many
        is. High: what the trace was at a window's edges and may have been between samples counts, too.
        """
        best = self.highest(windows)
        if best is None:
            return None
        upper, near = best[1], 1
        _, apex_s, apex = self.tents
        for begin, end in windows.tolist():
            part = self.between(begin, end)
            if part.stop <= part.start:
                continue
            for edge in (begin, end):
                sampled = edge in (self.time_s[part.start], self.time_s[part.stop - 1])
                between = None if sampled else self.at(edge)
                upper = upper if between is None else max(upper, between)
            a, b = apex_s.searchsorted((begin, end))
            upper = max(upper, float(apex[a:b].max(initial=-np.inf)))
            if self.noise:
                near += int(np.count_nonzero(self.values[part] >= best[1] - TOP * self.noise))
        lower = self.half_resolution + max(DOUBT, above_all(near, SHARE)) * self.noise
        return Peak(best[0], best[1], best[1] - lower, upper + self.doubt)

    def highest(self, windows: FloatArray) -> tuple[float, float] | None:
        """Return (time, highest sample) inside the windows, as `peak` does, without how high it may have gone."""
        best: tuple[float, float] | None = None
        for begin, end in windows.tolist():
            part = self.between(begin, end)
            if part.stop <= part.start:
                continue
            k = part.start + int(self.values[part].argmax())
            if best is None or self.values[k] > best[1]:
                best = (float(self.time_s[k]), float(self.values[k]))
        return best

    def at(self, time_s: float) -> float | None:
        """Return the straight-line value at an instant; None outside the samples or inside a gap."""
        t = self.time_s
        if not t.size or time_s < t[0] or time_s > t[-1]:
            return None
        k = int(t.searchsorted(time_s, side="right")) - 1
        if k == t.size - 1 or t[k] == time_s:
            return float(self.values[k])
        if self.gap[k]:
            return None
        part = (time_s - t[k]) / (t[k + 1] - t[k])
        return float(self.values[k] + part * (self.values[k + 1] - self.values[k]))

    def sample_before(self, time_s: float) -> float | None:
        """Return the last sample until an instant; None before the first."""
        k = int(self.time_s.searchsorted(time_s, side="right")) - 1
        return None if k < 0 else float(self.values[k])

    def at_each(self, times_s: FloatArray) -> FloatArray:
        """Return `at` for many instants, NaN where it gives None."""
        t = self.time_s
        if t.size < 2:
            return np.array([np.nan if (x := self.at(float(m))) is None else x for m in times_s])
        out = np.interp(times_s, t, self.values, left=np.nan, right=np.nan)
        k = np.clip(np.searchsorted(t, times_s, side="right") - 1, 0, t.size - 2)
        out[self.gap[k] & (times_s > t[k]) & (times_s < t[k + 1])] = np.nan
        return out

    def between(self, begin: float, end: float) -> slice:
        """Return the slice of samples from `begin` to `end`, both included."""
        return slice(
            int(self.time_s.searchsorted(begin, side="left")),
            int(self.time_s.searchsorted(end, side="right")),
        )

    def unseen(self, windows: FloatArray, floor_s: float = GAP_FLOOR_S) -> FloatArray:
        """Return the parts of the windows in which nothing is claimed: gaps and missing ends."""
        if not self.time_s.size or not len(windows):
            return windows
        first, last = float(self.time_s[0]) - floor_s, float(self.time_s[-1]) + floor_s
        if not self.gap_index.size and windows.min() >= first and windows.max() <= last:
            return EMPTY
        gaps = np.column_stack((self.time_s[self.gap_index], self.time_s[self.gap_index + 1]))
        ends = [[-np.inf, self.time_s[0] - floor_s], [self.time_s[-1] + floor_s, np.inf]]
        edges = union(np.concatenate((gaps, ends)))
        out = intersect(windows, edges)
        return out[out[:, 1] > out[:, 0]]
