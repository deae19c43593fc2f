"""What the engine's own history adds: how unusual each start is, and the trends. Taken as values.

The report knows nothing of the database: these protocols are what the history's values look like.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Protocol

from debrief.analysis.model import Assessment
from debrief.report.blocks import Block, Paragraph, Section, SideBySide, Still
from debrief.session.charts.start_charts import UsualSpeeds
from debrief.session.charts.trend_chart import TrendValues, trend_chart, trend_legend


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
        """Whether it is outside the normal range; None where there is not enough history."""

    @property
    def said(self) -> str:
        """One sentence for a person; that the normal range is not a limit is said once for all."""


def trend_section(assessment: Assessment, trends: Sequence[TrendValues]) -> Section | None:
    """Return the page of trends; None where no trend has two points."""
    blocks: list[Block] = []
    sha256 = assessment.recording.provenance.sha256
    drawn = [trend for trend in trends if len(trend.points) >= 2]
    if not drawn:
        return None
    for first in range(0, len(drawn), 2):
        left, *right = (
            (Still(trend_chart(trend, sha256), 42.0), Paragraph(trend.said, "small"))
            for trend in drawn[first : first + 2]
        )
        blocks.append(SideBySide(left, right[0] if right else ()))
    engines = ", ".join(sorted({trend.engine for trend in drawn}))
    flights = " and flights" if any(not _of_starts(trend) for trend in drawn) else ""
    return Section(
        "Trends",
        (
            Paragraph(
                f"Completed starts{flights} of engine {engines} in order of time, as this history has them. "
                f"{trend_legend(drawn)} The normal range is not a limit.",
                "muted",
            ),
            *blocks,
        ),
    )


def _of_starts(trend: TrendValues) -> bool:
    return any(point.start_number for point in trend.points)
