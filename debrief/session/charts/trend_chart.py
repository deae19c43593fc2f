"""One measure of one engine over its starts or flights: normal range, moving average, control limits, shifts."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Protocol

import numpy as np

from debrief.recording.model import FloatArray
from debrief.session.charts.still_chart import (
    Area,
    Axis,
    Curve,
    Level,
    Mark,
    MarkShape,
    Pane,
    StillChart,
    nothing,
)
from debrief.session.drawing.axes import rounded_range
from debrief.words.cautions import RANGE_COUNTS
from debrief.words.numbers import decimals_for, number, unit_words, value_text
from debrief.words.visible import visible

_MANY = 50
"""Points from which their signs are smaller."""


class TrendPoint(Protocol):
    """One completed start in a trend, or one flight."""

    @property
    def value(self) -> float:
        """The measure."""

    @property
    def date(self) -> str:
        """The day."""

    @property
    def sha256(self) -> str:
        """Of its recording."""

    @property
    def file_name(self) -> str:
        """Of its recording."""

    @property
    def start_number(self) -> int:
        """In its recording; 0 where the point is the whole flight."""

    @property
    def excluded(self) -> str | None:
        """Why a person left it out, or None."""

    @property
    def outside(self) -> bool | None:
        """Whether it is outside the normal range."""


class TrendBand(Protocol):
    """What is usual; None where there is not enough history."""

    @property
    def centre(self) -> float | None:
        """The median."""

    @property
    def low(self) -> float | None:
        """Lower edge."""

    @property
    def high(self) -> float | None:
        """Upper edge."""

    def counted(self, many: int, *, completed: bool = False) -> str:
        """Return what it counts, for so many of them."""


class MovingAverage(Protocol):
    """A moving average of the charted points with its control limits, (n,)."""

    @property
    def values(self) -> FloatArray:
        """The average."""

    @property
    def lower(self) -> FloatArray:
        """Lower control limit."""

    @property
    def upper(self) -> FloatArray:
        """Upper control limit."""


class Shift(Protocol):
    """A lasting change, from and to indices into the charted points."""

    @property
    def since(self) -> int:
        """Its first point."""

    @property
    def until(self) -> int:
        """Its last point."""

    @property
    def size(self) -> float:
        """How far, up or down."""


class TrendValues(Protocol):
    """One measure of one engine over time."""

    @property
    def engine(self) -> str:
        """The engine's name."""

    @property
    def measure(self) -> str:
        """The measure's name."""

    @property
    def title(self) -> str:
        """The measure in words."""

    @property
    def unit(self) -> str:
        """The measure's unit."""

    @property
    def points(self) -> Sequence[TrendPoint]:
        """In order of time."""

    @property
    def charted(self) -> Sequence[int]:
        """Indices of the points that no person left out."""

    @property
    def band(self) -> TrendBand:
        """What is usual."""

    @property
    def average(self) -> MovingAverage | None:
        """Over the charted points; None without enough history."""

    @property
    def changes(self) -> Sequence[tuple[Shift, str]]:
        """Lasting changes, each with its sentence."""

    @property
    def words(self) -> str:
        """What a person needs to know first."""

    @property
    def said(self) -> str:
        """The same where several stand together."""


def trend_chart(trend: TrendValues, own_sha256: str = "") -> StillChart:
    """Return the chart of a trend; the starts of the recording with this hash are ringed."""
    title = axis_title(trend)
    if not trend.points:
        return nothing(title, "There is no point to draw.")
    many = len(trend.points)
    low, high = _range(trend)
    own = [point for point in trend.points if own_sha256 and point.sha256 == own_sha256]
    dates = f"{trend.points[0].date} to {trend.points[-1].date}"
    this = f"; this: {', '.join(value_text(point.value, trend.unit) for point in own[:3])}" if own else ""
    pane = Pane(
        Axis(trend.title, trend.unit, (low, high)),
        _curves(trend),
        (*_shifts(trend, (low, high)), *_usual(trend)),
        _levels(trend.band, trend.unit),
        tuple(_marks(trend, own_sha256)),
    )
    names = tuple(point.date for point in trend.points)
    x = Axis(
        f"{many} {trend.band.counted(many, completed=True)} in order of time", "", (0.5, many + 0.5), 5, names
    )
    return StillChart(title, f"{dates}{this}", x, (pane,), words=f"Trend. {visible(trend.words)}")


def _range(trend: TrendValues) -> tuple[float, float]:
    values = [point.value for point in trend.points]
    values += [edge for edge in (trend.band.low, trend.band.high) if edge is not None]
    low, high = min(values), max(values)
    pad = 0.06 * (high - low) if high > low else max(abs(high) * 0.02, 0.5)
    return rounded_range(low - pad, high + pad, 5)


def _curves(trend: TrendValues) -> tuple[Curve, ...]:
    average = trend.average
    if average is None or not average.values.size:
        return ()
    at = np.array(trend.charted, dtype=np.float64) + 1.0
    limits = (Curve(at, limit, "speed", "dotted", thin=True) for limit in (average.lower, average.upper))
    return (*limits, Curve(at, average.values, "speed"))


def _levels(band: TrendBand, unit: str) -> tuple[Level, ...]:
    levels = [] if band.centre is None else [Level(band.centre, "middle", "muted", beside=True)]
    if band.low is not None and band.high is not None:
        levels += [
            Level(edge, number(edge, decimals_for(unit)), "muted", "solid", beside=True)
            for edge in (band.low, band.high)
        ]
    return tuple(levels)


def _shifts(trend: TrendValues, y_range: tuple[float, float]) -> list[Area]:
    out = []
    for shift, _ in trend.changes:
        words = f"shifted {value_text(abs(shift.size), trend.unit)} {'up' if shift.size > 0 else 'down'}"
        begin, end = trend.charted[shift.since] + 0.5, trend.charted[shift.until] + 1.5
        out.append(Area(_rectangle(begin, end, *y_range), "tint_caution", words, "caution", above=True))
    return out


def _usual(trend: TrendValues) -> list[Area]:
    """Return the normal range: beside the shifts a tint; across them only its edges go on."""
    if trend.band.low is None or trend.band.high is None:
        return []
    begins = [0.5, *(trend.charted[shift.until] + 1.5 for shift, _ in trend.changes)]
    ends = [*(trend.charted[shift.since] + 0.5 for shift, _ in trend.changes), len(trend.points) + 0.5]
    return [
        Area(_rectangle(begin, end, trend.band.low, trend.band.high), "selection")
        for begin, end in zip(begins, ends, strict=True)
        if end > begin
    ]


def _rectangle(left: float, right: float, low: float, high: float) -> FloatArray:
    return np.array([(left, low), (right, low), (right, high), (left, high)])


def _marks(trend: TrendValues, own_sha256: str) -> list[Mark]:
    """Return a mark for each point, and around those of the open recording a ring."""
    small = len(trend.points) > _MANY
    dot: MarkShape = "small_dot" if small else "dot"
    triangle: MarkShape = "small_triangle" if small else "triangle"
    out, rings = [], []
    for number_, point in enumerate(trend.points, start=1):
        shape: MarkShape = "hollow" if point.excluded is not None else triangle if point.outside else dot
        role = {"hollow": "muted", triangle: "caution"}.get(shape, "ink")
        about = partial(point_words, trend, point)
        out.append(Mark(float(number_), point.value, role, shape, "", about, point.sha256))
        if own_sha256 and point.sha256 == own_sha256:
            rings.append(Mark(float(number_), point.value, "ink", "ring", "this"))
    return out + rings


def point_words(trend: TrendValues, point: TrendPoint) -> str:
    """Return which start a point is, with its value, and what is special about it."""
    which = f", start {point.start_number}" if point.start_number else ""
    words = f"{point.date}, {point.file_name}{which}: {trend.title} {value_text(point.value, trend.unit)}"
    if point.excluded is not None:
        return f"{words}. Left out of the normal range: {point.excluded}"
    return f"{words}. Outside the normal range" if point.outside else words


def axis_title(trend: TrendValues) -> str:
    """Return the measure with its unit."""
    unit = unit_words(trend.unit)
    return f"{trend.title}, {unit}" if unit else trend.title


def trend_legend(trends: Sequence[TrendValues]) -> str:
    """Return what the signs of some trends mean, in sentences."""
    said = ["Dots: completed starts"] if any(p.start_number for t in trends for p in t.points) else []
    said += ["Tint: normal range"] * any(trend.band.low is not None for trend in trends)
    said += ["Line: moving average, dotted its control limits"] * any(t.average is not None for t in trends)
    said += ["Triangle: outside the normal range"] * any(p.outside for t in trends for p in t.points)
    said += ["Hollow: left out by a person"] * any(p.excluded is not None for t in trends for p in t.points)
    starts = any(trend.band.low is not None and any(p.start_number for p in trend.points) for trend in trends)
    return ". ".join([*said, "Ring: this recording"]) + "." + (f" {RANGE_COUNTS}" if starts else "")
