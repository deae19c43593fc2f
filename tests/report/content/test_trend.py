"""What the engine's own history adds to the paper, from values that look like the history's."""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest

from debrief.report.blocks import Paragraph, SideBySide, Still
from debrief.report.content.options import PAPERS, ReportOptions
from debrief.report.content.trend_pages import trend_section
from debrief.report.content.whole_report import build
from debrief.report.pdf.layout import lay_out
from debrief.report.pdf.paint import screen_measurer
from debrief.report.shapes import Text
from debrief.session.charts.trend_chart import trend_chart
from tests.report.made_assessments import hot_start
from tests.report.page_checks import faults, struck


@dataclass(frozen=True)
class Point:
    value: float
    date: str = "2031-04-01"
    sha256: str = "other"
    start_number: int = 1
    file_name: str = "one.csv"
    excluded: str | None = None
    outside: bool | None = False


@dataclass(frozen=True)
class Band:
    low: float | None = 721.0
    high: float | None = 770.0
    centre: float | None = 746.0
    kind: str = "starts"

    def counted(self, many: int, *, completed: bool = False) -> str:
        return "flights" if self.kind == "flights" else "completed battery starts"


@dataclass(frozen=True)
class Trend:
    points: tuple[Point, ...]

    @property
    def charted(self) -> range:
        return range(len(self.points))

    measure: str = "peak_itt"
    engine: str = "TG7-118"
    unit: str = "degC"
    band: Band = field(default_factory=Band)
    average: None = None
    changes: tuple[()] = ()
    title: str = "Peak ITT"
    said: str = "Peak ITT: Normal 746 °C."
    words: str = "Peak ITT: Normal 746 °C. The normal range is not a limit."


def series(count: int = 20) -> Trend:
    own = hot_start().recording.provenance.sha256
    points = [Point(740.0 + i % 5, f"2031-04-{i + 1:02d}") for i in range(count)]
    points[3] = Point(700.0, outside=True)
    points[5] = Point(741.0, excluded="hot day")
    points[-1] = Point(758.0, "2031-04-30", sha256=own)
    return Trend(tuple(points))


def test_points_outside_have_another_shape_and_this_start_is_ringed() -> None:
    chart = trend_chart(series(), hot_start().recording.provenance.sha256)
    shapes = [mark.shape for mark in chart.panes[0].marks]
    assert shapes.count("triangle") == 1
    assert shapes[3] == "triangle"
    assert shapes[5] == "hollow"
    assert shapes[-1] == "ring"
    assert chart.panes[0].marks[-1].label == "this"
    assert chart.subtitle.endswith("; this: 758 °C")


def test_the_axis_holds_the_band_and_every_point() -> None:
    chart = trend_chart(series(), "")
    low, high = chart.panes[0].y.range
    assert low <= 700.0
    assert high >= 770.0
    assert chart.x.range == (0.5, 20.5)


def test_without_a_band_nothing_is_tinted() -> None:
    points = (Point(1.0, outside=None), Point(1.0, outside=None))
    (pane,) = trend_chart(Trend(points, band=Band(None, None, None)), "").panes
    assert pane.areas == ()
    assert pane.y.range[1] > pane.y.range[0]


def test_fewer_than_two_points_make_no_page() -> None:
    assert trend_section(hot_start(), ()) is None
    assert trend_section(hot_start(), (Trend((Point(1.0),)),)) is None


def test_a_trend_of_flights_says_flight_on_its_axis() -> None:
    flights = Trend(
        tuple(Point(780.0 + i, start_number=0) for i in range(3)),
        "highest_itt_running",
        band=Band(kind="flights"),
    )
    assert trend_chart(flights, "").x.title == "3 flights in order of time"
    assert trend_chart(series(), "").x.title == "20 completed battery starts in order of time"
    section = trend_section(hot_start(), (series(), flights))
    assert section is not None
    first = section.blocks[0]
    assert isinstance(first, Paragraph)
    assert first.text.startswith("Completed starts and flights of engine TG7-118")


def test_the_section_says_that_usual_is_not_a_limit() -> None:
    section = trend_section(hot_start(), (series(), series()))
    assert section is not None
    assert "The normal range is not a limit." in " ".join(
        b.text for b in section.blocks if isinstance(b, Paragraph)
    )
    pair = next(block for block in section.blocks if isinstance(block, SideBySide))
    assert isinstance(pair.left[0], Still)
    assert isinstance(pair.right[0], Still)


@pytest.mark.usefixtures("qapp")
@pytest.mark.parametrize("count", [1, 7])
def test_the_page_of_trends_has_no_touching_texts(count: int) -> None:
    measurer = screen_measurer()
    content = build(hot_start(), ReportOptions(), trends=(series(),) * count)
    pages = lay_out(content, *PAPERS["a4"], measurer)
    assert faults(pages, measurer) == []
    assert struck(pages, measurer) == []
    mark = next(mark for mark in pages.bookmarks if mark.title == "Trends")
    texts = [shape.text for page in pages.pages[mark.page :] for shape in page if isinstance(shape, Text)]
    assert texts.count("Peak ITT, °C") == count


@dataclass(frozen=True)
class Written:
    text: str
    time_s: float | None = None
    author: str = ""
    changed_at: str = ""
    event_kind: str | None = None


@pytest.mark.usefixtures("qapp")
def test_notes_are_printed_in_order_of_time_with_who_wrote_them() -> None:
    notes = (Written("about all"), Written("late", 30.0, "Ms Reed", "2031-05-01"), Written("early", 12.0))
    pages = lay_out(build(hot_start(), ReportOptions(), notes), *PAPERS["a4"], screen_measurer())
    texts = [shape.text for page in pages.pages for shape in page if isinstance(shape, Text)]
    assert texts.index("early") < texts.index("late") < texts.index("about all")
    assert "Ms Reed, 2031-05-01" in texts


@pytest.mark.usefixtures("qapp")
def test_a_note_names_its_finding_and_the_minute_of_its_last_change_in_utc() -> None:
    note = Written("hand late", 12.0, "Ms Reed", "2031-05-01T10:15:30.123456+02:00", "hot_start")
    pages = lay_out(build(hot_start(), ReportOptions(), (note,)), *PAPERS["a4"], screen_measurer())
    words = " ".join(shape.text for page in pages.pages for shape in page if isinstance(shape, Text))
    assert "0:12.0, hot start" in words
    assert "2031-05-01 08:15 UTC" in words
    assert "no finding and no verdict comes from them" in words


@pytest.mark.usefixtures("qapp")
def test_a_long_note_of_many_lines_and_any_script_stays_inside_its_page() -> None:
    text = "One line.\n\nAnother, " + "long " * 400 + "\n温度が高い בדיקה\n" + "x" * 9000
    measurer = screen_measurer()
    pages = lay_out(build(hot_start(), ReportOptions(), (Written(text, 3.0),)), *PAPERS["a4"], measurer)
    assert faults(pages, measurer) == []
    printed = " ".join(shape.text for page in pages.pages for shape in page if isinstance(shape, Text))
    assert printed.count("long") >= 400
    assert printed.count("x") >= 9000
