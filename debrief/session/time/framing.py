"""The stretch of time in view, its zooming, and the way back. The only owner of the time range."""

from __future__ import annotations

_SMALLEST_SPAN_S = 0.5
_HISTORY = 50


class Framing:
    """What part of a recording is in view.

    Parameters
    ----------
    duration_s : float
        Length of the recording, [s].

    Notes
    -----
    The range never leaves the recording by more than nothing: it is shifted back, then clipped. `frame`
    and `frame_all` remember where they came from for `back`; panning and zooming in small steps do not
    fill the memory with every step.
    """

    def __init__(self, duration_s: float) -> None:
        self._duration_s = max(float(duration_s), _SMALLEST_SPAN_S)
        self._begin_s, self._end_s = 0.0, self._duration_s
        self._past: list[tuple[float, float]] = []
        self._future: list[tuple[float, float]] = []

    @property
    def begin_s(self) -> float:
        """Left edge, [s]."""
        return self._begin_s

    @property
    def end_s(self) -> float:
        """Right edge, [s]."""
        return self._end_s

    @property
    def span_s(self) -> float:
        """Width, [s]."""
        return self._end_s - self._begin_s

    @property
    def duration_s(self) -> float:
        """Length of the recording, [s]."""
        return self._duration_s

    @property
    def shows_all(self) -> bool:
        """Whether the whole recording is in view."""
        return self._begin_s <= 0.0 and self._end_s >= self._duration_s

    def _set(self, begin_s: float, end_s: float) -> bool:
        span = min(max(end_s - begin_s, _SMALLEST_SPAN_S), self._duration_s)
        if end_s - begin_s < _SMALLEST_SPAN_S:
            begin_s = (begin_s + end_s - span) / 2
        begin_s = min(max(begin_s, 0.0), self._duration_s - span)
        new = (begin_s, begin_s + span)
        changed = new != (self._begin_s, self._end_s)
        self._begin_s, self._end_s = new
        return changed

    def remember(self) -> None:
        """Note the present range as a place to come back to."""
        now = (self._begin_s, self._end_s)
        if not self._past or self._past[-1] != now:
            self._past.append(now)
            del self._past[:-_HISTORY]
        self._future.clear()

    def frame(self, begin_s: float, end_s: float, margin: float = 0.0) -> bool:
        """Show this range with a margin on both sides as a part of it; return whether anything changed."""
        before = (self._begin_s, self._end_s)
        extra = (end_s - begin_s) * margin
        past = list(self._past)
        self.remember()
        changed = self._set(begin_s - extra, end_s + extra)
        if not changed:
            self._past = past
        return changed and before != (self._begin_s, self._end_s)

    def frame_all(self) -> bool:
        """Show the whole recording."""
        return self.frame(0.0, self._duration_s)

    def zoom(self, factor: float, about_s: float) -> bool:
        """Make the range `factor` times as wide, keeping `about_s` where it is on the screen."""
        share = (about_s - self._begin_s) / self.span_s
        span = min(max(self.span_s * factor, _SMALLEST_SPAN_S), self._duration_s)
        begin = about_s - share * span
        return self._set(begin, begin + span)

    def pan(self, seconds: float) -> bool:
        """Shift the range."""
        return self._set(self._begin_s + seconds, self._end_s + seconds)

    def set_edges(self, begin_s: float, end_s: float) -> bool:
        """Show exactly this range, as when an edge is dragged; not remembered."""
        return self._set(begin_s, end_s)

    def include(self, time_s: float) -> bool:
        """Shift the range, if it must be, so that the time is in view a little from the edge."""
        if self._begin_s <= time_s <= self._end_s:
            return False
        return self._set(time_s - 0.15 * self.span_s, time_s + 0.85 * self.span_s)

    def back(self) -> bool:
        """Return to the range before the last framing."""
        return self._travel(self._past, self._future)

    def forward(self) -> bool:
        """Undo `back`."""
        return self._travel(self._future, self._past)

    def _travel(self, source: list[tuple[float, float]], target: list[tuple[float, float]]) -> bool:
        while source:
            begin, end = source.pop()
            if (begin, end) != (self._begin_s, self._end_s):
                target.append((self._begin_s, self._end_s))
                return self._set(begin, end)
        return False
