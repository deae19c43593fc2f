"""Which findings are named in which lane, and where their names may stand: in pixels or millimetres. Pure geometry."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from debrief.recording.model import FloatArray
from debrief.session.drawing.placing import Box
from debrief.session.lanes.lane_events import Span
from debrief.words.colours import TINT_ROLE

_GRAVITY = list(TINT_ROLE)
_NAME_ROWS = 4


class Reach:
    """How high and low a trace runs in each narrow strip: words ask for it hundreds of times.

    Parameters
    ----------
    x, y : (n,) float array
        Of the drawn points, x rising.
    left, width : float
        Of the lane.
    strip : float
        Width of a strip, in the unit of the others.
    """

    def __init__(self, x: FloatArray, y: FloatArray, left: float, width: float, strip: float) -> None:
        self._left, self._strip = left, strip
        count = max(int(width // strip) + 1, 1)
        if x.size == 0:
            self._lows, self._highs = [np.inf] * count, [-np.inf] * count
            return
        x = x - left
        edges = np.arange(count + 1) * strip
        # The line between two samples reaches what it crosses at the edges, also where no sample lies inside.
        crossing = np.interp(edges, x, y, left=np.nan, right=np.nan)
        lows, highs = (pick(crossing[:-1], crossing[1:]) for pick in (np.fmin, np.fmax))
        inside = (x >= 0) & (x < edges[-1])
        owner = (x[inside] // strip).astype(np.int64)
        if owner.size:
            starts = np.flatnonzero(np.r_[True, owner[1:] > owner[:-1]])
            there = owner[starts]
            lows[there] = np.fmin(lows[there], np.minimum.reduceat(y[inside], starts))
            highs[there] = np.fmax(highs[there], np.maximum.reduceat(y[inside], starts))
        self._lows, self._highs = lows.tolist(), highs.tolist()

    def crosses(self, left: float, right: float, top: float, bottom: float) -> bool:
        """Return whether the trace runs through a box; a little beside it counts too."""
        first = max(int((left - self._left) // self._strip), 0)
        last = min(int((right - self._left) // self._strip) + 1, len(self._lows))
        strip = zip(self._highs[first:last], self._lows[first:last], strict=True)
        return any(high >= top and low <= bottom for high, low in strip)


def named_in(lanes: Sequence[Sequence[str]], spans: Sequence[Span]) -> list[list[Span]]:
    """Return for each lane, of these channels, the findings that it names, the gravest first.

    A finding is named in the lane of its channel; where there is none, in that of the temperature, else in the first.
    """
    shown = {name for names in lanes for name in names}
    usual = next((index for index, names in enumerate(lanes) if "itt" in names), 0)
    worst_first = sorted((s for s in spans if s.label), key=lambda span: _GRAVITY.index(span.severity))
    return [
        [
            span
            for span in worst_first
            if span.channel in names or (span.channel not in shown and index == usual)
        ]
        for index, names in enumerate(lanes)
    ]


@dataclass(frozen=True)
class NamePlace:
    """Where a finding's sign and its words may stand: together in a box, the sign at the finding's time."""

    box: Box
    sign_left: float
    words_left: float


def name_places(
    area: Box,
    edges: tuple[float, float],
    sign: float,
    words: float,
    height: float,
    top: float,
    unit: float = 1.0,
) -> Iterator[NamePlace]:
    """Yield the places of a finding's name in order of preference.

    Parameters
    ----------
    area : Box
        Of the lane.
    edges : (float, float)
        Of the finding's stretch.
    sign, words : float
        Width of the sign, and of the words beside it; 0 where the sign stands alone.
    height : float
        Of the name.
    top : float
        Where the name may stand as a last choice.
    unit : float
        Of a pixel.

    Notes
    -----
    In the lowest rows there is room where a limit was passed upwards, and the value at the playhead stands above.

    The sign stands in the finding's stretch, at its beginning if it can; over the middle of one that is shorter
    than the sign. Only its words reach out: what is beside a sign happened when the sign says.
    """
    gap = 2.0 * unit
    first, last = edges
    if last - first < sign:
        lefts = [(first + last - sign) / 2]
    else:
        lefts = list(dict.fromkeys((first, (first + last - sign) / 2, last - sign)))
    tops = [area.bottom - row * (height + gap) - gap for row in range(1, _NAME_ROWS + 1)]
    for left in lefts:
        # At the very edge of the lane half of a sign would be cut off.
        sign_left = min(max(left, area.left), area.right - sign)
        for at in (*tops, top):
            yield NamePlace(Box(sign_left, at, sign + words, height), sign_left, sign_left + sign)
            if words:
                before = sign_left - words
                yield NamePlace(Box(before, at, words + sign, height), sign_left, before)
