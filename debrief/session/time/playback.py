"""The playback clock: where the replay stands, computed from elapsed time and never counted in ticks."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

RATES = (0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0)
"""Rates offered to the user, times real time."""

_TOLERANCE_S = 1e-6


class Playback:
    """Position in a recording, driven by a clock.

    Parameters
    ----------
    duration_s : float
        Length of the recording, [s].
    sample_times_s : (n,) float array
        Times that "next sample" steps to, increasing, [s].
    clock : callable
        Seconds that only grow; injected so that a test owns time.

    Notes
    -----
    The position while playing is ``origin + (clock now - clock then) * rate``: a frame that comes late
    shows the right position, so frames are skipped and time is never slowed. Seeking or changing the
    rate only moves the origin.
    """

    def __init__(
        self,
        duration_s: float,
        sample_times_s: NDArray[np.float64] | Sequence[float] = (),
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._duration_s = max(0.0, float(duration_s))
        self._samples = np.asarray(sample_times_s, dtype=np.float64)
        self._clock = clock
        self._origin_s = 0.0
        self._since = 0.0
        self._rate = 1.0
        self._playing = False
        self._loop: tuple[float, float] | None = None

    @property
    def duration_s(self) -> float:
        """Length of the recording, [s]."""
        return self._duration_s

    @property
    def playing(self) -> bool:
        """Whether time runs; it stops by itself at the end unless a loop is set."""
        if self._playing and self._loop is None and self._raw_s() >= self._duration_s:
            self._origin_s = self._duration_s
            self._playing = False
        return self._playing

    @property
    def rate(self) -> float:
        """Playing speed, times real time."""
        return self._rate

    @property
    def loop(self) -> tuple[float, float] | None:
        """The range that is repeated, [s], or None."""
        return self._loop

    @property
    def position_s(self) -> float:
        """Where the replay stands now, [s], within the recording (and within the loop while playing)."""
        position = self._raw_s()
        if self._playing and self._loop is not None:
            begin, end = self._loop
            if position >= end:
                position = begin + (position - begin) % (end - begin)
        return min(max(position, 0.0), self._duration_s)

    def _raw_s(self) -> float:
        if not self._playing:
            return self._origin_s
        return self._origin_s + (self._clock() - self._since) * self._rate

    def play(self) -> None:
        """Let time run; from the beginning again when it stands at the end."""
        if self.playing:
            return
        if self._loop is not None:
            begin, end = self._loop
            if not begin <= self._origin_s < end:
                self._origin_s = begin
        elif self._origin_s >= self._duration_s - _TOLERANCE_S:
            self._origin_s = 0.0
        self._since = self._clock()
        self._playing = True

    def pause(self) -> None:
        """Stop where it is."""
        self._origin_s = self.position_s
        self._playing = False

    def toggle(self) -> None:
        """Play when paused, pause when playing."""
        if self.playing:
            self.pause()
        else:
            self.play()

    def seek(self, time_s: float) -> None:
        """Go to a time, clipped to the recording; playing goes on from there."""
        self._origin_s = min(max(float(time_s), 0.0), self._duration_s)
        self._since = self._clock()

    def set_rate(self, rate: float) -> None:
        """Change the speed, clipped to the slowest and fastest of `RATES`, without moving the position."""
        position = self.position_s
        self._rate = min(max(float(rate), RATES[0]), RATES[-1])
        self._origin_s = position
        self._since = self._clock()

    def change_rate(self, direction: int) -> None:
        """Go to the next faster (+1) or slower (-1) rate of `RATES`."""
        if direction > 0:
            self.set_rate(next((rate for rate in RATES if rate > self._rate), RATES[-1]))
        else:
            self.set_rate(next((rate for rate in reversed(RATES) if rate < self._rate), RATES[0]))

    def set_loop(self, span: tuple[float, float] | None) -> None:
        """Repeat this range while playing; None ends the repeating. An empty range is None."""
        position = self.position_s
        if span is not None:
            begin, end = max(0.0, span[0]), min(self._duration_s, span[1])
            span = (begin, end) if end - begin > _TOLERANCE_S else None
        self._loop = span
        self.seek(position)

    def step(self, samples: int) -> None:
        """Pause and go this many samples on (negative: back). Without sample times nothing moves."""
        self.pause()
        if self._samples.size == 0:
            return
        position = self._origin_s
        if samples > 0:
            index = int(np.searchsorted(self._samples, position + _TOLERANCE_S, side="left")) + samples - 1
        else:
            index = int(np.searchsorted(self._samples, position - _TOLERANCE_S, side="left")) + samples
        self.seek(float(self._samples[min(max(index, 0), self._samples.size - 1)]))
