"""The normal range of ITT against Ng on the paper: the same numbers as on the screen, read back from the shapes."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pytest

from debrief.report import shapes as s
from debrief.report.blocks import Paragraph
from debrief.report.charts.still_charts import still_chart
from debrief.report.content.start_pages import start_section
from debrief.report.pdf.paint import screen_measurer
from debrief.session.charts.start_charts import plane_chart
from tests.report.made_assessments import hot_start

pytestmark = pytest.mark.usefixtures("qapp")


@dataclass(frozen=True, eq=False)
class _Usual:
    words: str = "Shaded: at each Ng the middle 90 % of 16 other starts. The normal range is not a limit."
    ng_pct: np.ndarray = field(default_factory=lambda: np.array([20.0, 21.0, 22.0, 40.0, 41.0, 42.0]))
    low_c: np.ndarray = field(default_factory=lambda: np.array([300.0, 310.0, 320.0, 600.0, 610.0, 620.0]))
    middle_c: np.ndarray = field(default_factory=lambda: np.array([400.0, 410.0, 420.0, 650.0, 660.0, 670.0]))
    high_c: np.ndarray = field(default_factory=lambda: np.array([500.0, 510.0, 520.0, 700.0, 1290.0, 720.0]))

    @property
    def enough(self) -> bool:
        return self.ng_pct.size > 0


def _plane(usual: _Usual | None):
    made = hot_start()
    return plane_chart(made, made.starts[0], usual)


def test_the_band_holds_the_history_s_numbers_and_breaks_where_speeds_are_missing() -> None:
    plane = _plane(_Usual())
    (pane,) = plane.panes
    assert len(pane.areas) == 2
    first = {tuple(point) for point in pane.areas[0].corners.tolist()}
    assert first == {(20.0, 500.0), (21.0, 510.0), (22.0, 520.0), (20.0, 300.0), (21.0, 310.0), (22.0, 320.0)}
    middles = [curve for curve in pane.curves if curve.style == "dotted"]
    assert [curve.y.tolist() for curve in middles] == [[400.0, 410.0, 420.0], [650.0, 660.0, 670.0]]
    assert "normal range, no limit" in plane.subtitle


def test_the_axis_reaches_as_far_as_the_band_so_that_none_of_it_is_cut() -> None:
    assert _plane(_Usual()).panes[0].y.range[1] >= 1290.0
    far = _Usual(ng_pct=np.array([20.0, 21.0, 22.0, 108.0, 109.0, 110.0]))
    assert _plane(far).x.range[1] >= 110.0


def test_the_tint_lies_under_the_trace_and_the_start_is_drawn_last() -> None:
    plane = _plane(_Usual())
    shapes = still_chart(
        plane,
        90.0,
        52.0,
        screen_measurer(),
        lambda text, style, width: text,
        lambda text, style, width: [text],
    )
    curves = [shape for shape in shapes if isinstance(shape, s.Curve)]
    tints = [k for k, curve in enumerate(curves) if curve.fill is not None]
    traces = [k for k, curve in enumerate(curves) if curve.colour == s.TEMPERATURE]
    assert len(tints) == 2
    assert max(tints) < min(traces)
    assert traces == [len(curves) - 1]


def test_without_enough_history_there_is_no_tint_but_the_reason_in_words() -> None:
    nothing = _Usual("No normal range: 3 of 15 other starts.", *(np.zeros(0) for _ in range(4)))
    assert _plane(nothing).panes[0].areas == ()
    assert _plane(None).panes[0].areas == ()
    made = hot_start()
    for usual, wanted in ((nothing, True), (None, False)):
        section = start_section(made, made.starts[0], "technician", usual_speeds=usual)
        texts = [block.text for block in section.blocks if isinstance(block, Paragraph)]
        assert ("No normal range: 3 of 15 other starts." in texts) is wanted
