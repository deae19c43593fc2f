"""What the engine's own history adds: how unusual each start is, and the trends. Taken as values.

The report knows nothing of the database: these protocols are what the history's values look like.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

import numpy as np

from debrief.analysis.model import Assessment
from debrief.recording.model import FloatArray
from debrief.report import shapes as s
from debrief.report.blocks import (
    Area,
    Block,
    Paragraph,
    Plane,
    PlaneLine,
    PlanePoint,
    Section,
    SideBySide,
    Weight,
)
from debrief.session.drawing.axes import rounded_range
from debrief.session.texts.definitions import measure_title
from debrief.words.numbers import unit_words, value_text


class UsualBand(Protocol):
    """What is usual of one measure, and of how many starts that is known."""

    @property
    def centre(self) -> float | None:
        """The median; None where there is not enough history."""

    @property
    def count(self) -> int:
        """Of how many starts."""

    @property
    def words(self) -> str:
        """The band in a sentence, or that there is not enough."""


class UsualSpeeds(Protocol):
    """What is usual of ITT against Ng for the engine of one start."""

    @property
    def words(self) -> str:
        """How it was made, or why there is none."""

    @property
    def enough(self) -> bool:
        """Whether there is a band to draw."""

    @property
    def ng_pct(self) -> FloatArray:
        """Speeds, rising, [%]."""

    @property
    def low_c(self) -> FloatArray:
        """Lower edge there, in the unit of the paper."""

    @property
    def middle_c(self) -> FloatArray:
        """The median there."""

    @property
    def high_c(self) -> FloatArray:
        """Upper edge there."""


UsualPlanes = Mapping[tuple[int, int], UsualSpeeds]
"""Of each start by its engine and number."""


class Usual(Protocol):
    """How unusual one number of a start is for its engine."""

    @property
    def measure(self) -> str:
        """The measure's name."""

    @property
    def unit(self) -> str:
        """The measure's unit."""

    @property
    def band(self) -> UsualBand:
        """What it is compared with."""

    @property
    def engine(self) -> int:
        """The engine's number in the recording."""

    @property
    def start_number(self) -> int:
        """The start's number in the recording."""

    @property
    def outside(self) -> bool | None:
        """Whether it is outside the usual band; None where there is not enough history."""

    @property
    def message(self) -> str:
        """One sentence for a person."""


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
    def start_number(self) -> int:
        """In its recording; 0 where the point is the whole flight."""

    @property
    def excluded(self) -> str | None:
        """Why a person left it out, or None."""

    @property
    def outside(self) -> bool | None:
        """Whether it is outside the usual band."""


class TrendBand(Protocol):
    """What is usual; None where there is not enough history."""

    @property
    def low(self) -> float | None:
        """Lower edge."""

    @property
    def high(self) -> float | None:
        """Upper edge."""


class TrendValues(Protocol):
    """One measure of one engine over time."""

    @property
    def engine(self) -> str:
        """The engine's name."""

    @property
    def measure(self) -> str:
        """The measure's name."""

    @property
    def unit(self) -> str:
        """The measure's unit."""

    @property
    def points(self) -> Sequence[TrendPoint]:
        """In order of time."""

    @property
    def band(self) -> TrendBand:
        """What is usual."""

    @property
    def words(self) -> str:
        """What a person needs to know first."""


def trend_section(assessment: Assessment, trends: Sequence[TrendValues]) -> Section | None:
    """Return the page of trends; None where no trend has two points."""
    blocks: list[Block] = []
    sha256 = assessment.recording.provenance.sha256
    drawn = [trend for trend in trends if len(trend.points) >= 2]
    if not drawn:
        return None
    for first in range(0, len(drawn), 2):
        left, *right = (
            (trend_plane(trend, sha256), Paragraph(trend.words, "small"))
            for trend in drawn[first : first + 2]
        )
        blocks.append(SideBySide(left, right[0] if right else ()))
    engines = ", ".join(sorted({trend.engine for trend in drawn}))
    flights = " and flights" if any(not _of_starts(trend) for trend in drawn) else ""
    return Section(
        "Trends",
        (
            Paragraph(
                f"Completed starts{flights} of engine {engines} in order of time, as this history has them. Tint: the "
                "usual band. Usual is not a limit.",
                "muted",
            ),
            *blocks,
        ),
    )


def _of_starts(trend: TrendValues) -> bool:
    return any(point.start_number for point in trend.points)


def trend_plane(trend: TrendValues, sha256: str) -> Plane:
    """Return one measure over the starts; the starts of this recording are named."""
    values = np.asarray([point.value for point in trend.points], dtype=np.float64)
    order = np.arange(1, values.size + 1, dtype=np.float64)
    band = trend.band
    edges = [edge for edge in (band.low, band.high) if edge is not None]
    low, high = float(min([values.min(), *edges])), float(max([values.max(), *edges]))
    pad = 0.08 * (high - low) if high > low else max(abs(high) * 0.02, 0.5)
    y_range = rounded_range(low - pad, high + pad, 5)
    x_range = (0.0, float(values.size + 1))
    areas: tuple[Area, ...] = ()
    if band.low is not None and band.high is not None:
        corners = [
            (x, y) for x, y in zip((0.0, x_range[1]) * 2, (band.low,) * 2 + (band.high,) * 2, strict=True)
        ]
        corners[2], corners[3] = corners[3], corners[2]
        areas = (Area(np.asarray(corners), "", "note"),)
    points = []
    for x, point in zip(order, trend.points, strict=True):
        label = ""
        if point.sha256 == sha256:
            label = "this"
        elif point.excluded is not None:
            label = "left out"
        weight: Weight | None = "caution" if point.outside else None
        points.append(
            PlanePoint(float(x), point.value, label, weight, "triangle" if point.outside else "dot")
        )
    outside = "; triangle: outside the usual band" if any(point.outside for point in trend.points) else ""
    own = ", ".join(value_text(point.value, trend.unit) for point in trend.points if point.sha256 == sha256)
    unit = unit_words(trend.unit)
    title = measure_title(trend.measure)
    return Plane(
        title,
        f"{trend.points[0].date} to {trend.points[-1].date}{f'; this: {own}' if own else ''}{outside}",
        "start, in order of time" if _of_starts(trend) else "flight, in order of time",
        f"{title}, {unit}" if unit else title,
        x_range,
        y_range,
        (PlaneLine(np.column_stack([order, values]), s.MUTED, width=0.12),),
        areas,
        tuple(points),
        height_mm=42.0,
    )
