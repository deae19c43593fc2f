"""What a chart that stands still shows: axes, curves, tints, levels, marks and their words. Screen and paper draw it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Literal

import numpy as np

from debrief.recording.model import FloatArray
from debrief.session.drawing.axes import nice_step, share_of, shares_of, tick_text, ticks
from debrief.session.drawing.envelope import Drawn
from debrief.words.numbers import unit_words, value_text

Style = Literal["solid", "dashed", "dotted"]
MarkShape = Literal["dot", "small_dot", "hollow", "triangle", "small_triangle", "diamond", "ring"]

SIGN_SIZES: dict[MarkShape, float] = {
    "dot": 8.0, "small_dot": 4.0, "hollow": 7.0, "triangle": 11.0, "small_triangle": 7.0, "diamond": 12.0,
    "ring": 16.0,
}  # fmt: skip
"""Of each sign, in pixels beside words of 14."""

_SMALLEST = 1.0 / 3000.0
"""Of an axis: how long the line of a sample is that stands alone between two gaps."""


@dataclass(frozen=True)
class Tick:
    """A value of an axis with its text."""

    value: float
    text: str


@dataclass(frozen=True, eq=False)
class Axis:
    """One axis.

    Attributes
    ----------
    title, unit : str
        What it measures; the unit is canonical or one to show.
    range : (float, float)
        Of the whole chart.
    count : int
        About how many ticks there are.
    names : sequence of str
        What stands at 1, 2, 3 and so on in place of a number, such as dates.
    """

    title: str
    unit: str
    range: tuple[float, float]
    count: int = 6
    names: Sequence[str] = ()

    def ticks(self, low: float | None = None, high: float | None = None) -> tuple[Tick, ...]:
        """Return the ticks of the whole chart, or of a part of the axis."""
        low, high = self.range[0] if low is None else low, self.range[1] if high is None else high
        if not self.names:
            step = nice_step(high - low, self.count)
            return tuple(Tick(value, tick_text(value, step)) for value in ticks(low, high, self.count))
        first, last = max(1, int(np.ceil(low))), min(len(self.names), int(np.floor(high)))
        if last < first:
            return ()
        places = {round(place) for place in np.linspace(first, last, min(self.count, last - first + 1))}
        return tuple(Tick(float(place), self.names[place - 1]) for place in sorted(places))

    @property
    def titled(self) -> str:
        """The title with its unit, as it stands at the axis: one that says seconds needs none."""
        return self.title if self.unit in ("", "s") else f"{self.title}, {unit_words(self.unit)}"

    def words(self, value: float) -> str:
        """Return the axis and a value of it, such as ``ITT 712 °C``."""
        if self.names:
            return self.names[min(max(round(value), 1), len(self.names)) - 1]
        return f"{self.title} {value_text(value, self.unit)}".strip()

    def share(self, value: float) -> float:
        """Return where a value lies, 0 at the low end of the axis and 1 at the high one."""
        return share_of(value, *self.range)

    def shares(self, values: FloatArray) -> FloatArray:
        """Return as `share` for each value; NaN stays NaN."""
        return shares_of(values, *self.range)

    def value(self, share: float) -> float:
        """Return the value at a share of the axis."""
        return self.range[0] * (1.0 - share) + self.range[1] * share


@dataclass(frozen=True, eq=False)
class Curve:
    """A line through points (n,); NaN where it breaks. It is read out unless it is thin."""

    x: FloatArray
    y: FloatArray
    role: str
    style: Style = "solid"
    thin: bool = False


@dataclass(frozen=True, eq=False)
class Area:
    """A tint inside corners (n, 2), named inside it; `above`: named over the chart, for what has no room inside."""

    corners: FloatArray
    tint: str
    label: str = ""
    role: str = "ink"
    above: bool = False


@dataclass(frozen=True)
class Level:
    """A line across the chart, named at its line; `beside`: right of the chart."""

    value: float
    label: str
    role: str
    style: Style = "dashed"
    beside: bool = False


@dataclass(frozen=True)
class Mark:
    """A point with a sign. `about` says all of it in words, `leads_to` is what a click on it opens."""

    x: float
    y: float
    role: str
    shape: MarkShape = "dot"
    label: str = ""
    about: Callable[[], str] | None = None
    leads_to: str = ""


@dataclass(frozen=True, eq=False)
class Pane:
    """One quantity over the chart's x axis; `label` names it inside, `share` is of the height."""

    y: Axis
    curves: tuple[Curve, ...] = ()
    areas: tuple[Area, ...] = ()
    levels: tuple[Level, ...] = ()
    marks: tuple[Mark, ...] = ()
    label: str = ""
    role: str = "ink"
    share: float = 1.0
    problem: str = ""


@dataclass(frozen=True, eq=False)
class Instants:
    """Named moments of one of several starts, in a row of their own above the panes, with the sign of its curves.

    A moment without a name has its tick alone.
    """

    label: str
    style: Style
    marks: tuple[tuple[float, str], ...]


@dataclass(frozen=True, eq=False)
class StillChart:
    """A chart.

    Attributes
    ----------
    title, subtitle : str
        Above it; the subtitle says what its signs mean.
    x : Axis
        Common to all panes.
    panes : tuple of Pane
        From the top down.
    instants : tuple of Instants
        Rows of named moments above the panes.
    words : str
        What it shows, for those who do not see it.
    problem : str
        Why there is nothing to draw; empty where there is.
    """

    title: str
    subtitle: str
    x: Axis
    panes: tuple[Pane, ...]
    instants: tuple[Instants, ...] = ()
    words: str = ""
    problem: str = ""

    def stops(self) -> tuple[Stop, ...]:
        """Return what can be read out: all marks that lead somewhere, else the points of all curves read out."""
        marks = [mark for pane in self.panes for mark in pane.marks if mark.leads_to]
        return tuple(self._marked()) if marks else tuple(self._points())

    def _marked(self) -> Iterator[Stop]:
        for number, pane in enumerate(self.panes):
            for mark in pane.marks:
                if isfinite(mark.x) and isfinite(mark.y) and mark.leads_to:
                    yield Stop(number, mark.x, mark.y, mark)

    def _points(self) -> Iterator[Stop]:
        for number, pane in enumerate(self.panes):
            named = {(mark.x, mark.y): mark for mark in pane.marks}
            for curve in pane.curves:
                if not curve.thin:
                    for x, y in zip(curve.x.tolist(), curve.y.tolist(), strict=True):
                        if isfinite(x) and isfinite(y):
                            yield Stop(number, x, y, named.get((x, y)))

    def reading(self, stop: Stop) -> str:
        """Return what is read out at a place, with units."""
        if stop.mark is not None and stop.mark.about is not None:
            return stop.mark.about()
        words = f"{self.x.words(stop.x)}, {self.panes[stop.pane].y.words(stop.y)}"
        return f"{stop.mark.label}: {words}" if stop.mark is not None and stop.mark.label else words


@dataclass(frozen=True)
class Stop:
    """A place that is read out: in which pane, its values, and the mark there."""

    pane: int
    x: float
    y: float
    mark: Mark | None = None


def nothing(title: str, problem: str) -> StillChart:
    """Return a chart of which there is only to say why it is not there."""
    return StillChart(title, "", Axis("", "", (0.0, 1.0)), (), problem=problem)


def joined(drawn: Drawn, x: FloatArray, span: float) -> tuple[FloatArray, FloatArray]:
    """Return drawn points with NaN where no line goes on; one alone becomes a line that is just to be seen.

    Parameters
    ----------
    drawn : Drawn
        Its values are the heights.
    x : (n,) float array
        Where each stands.
    span : float
        Of the x axis.
    """
    points: list[tuple[float, float]] = []
    goes_on = drawn.connect.tolist()
    alone = drawn.isolated.tolist()
    for row, point in enumerate(zip(x.tolist(), drawn.values.tolist(), strict=True)):
        points.append(point)
        if alone[row]:
            points.append((point[0] + span * _SMALLEST, point[1]))
        if not goes_on[row]:
            points.append((float("nan"), float("nan")))
    both = np.array(points[:-1]).reshape(-1, 2)
    return both[:, 0], both[:, 1]
