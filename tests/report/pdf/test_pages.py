"""The laid-out pages: nothing touches, nothing is cut, whatever the recording holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime

import numpy as np
import pytest
from PySide6.QtGui import QImage

from debrief.analysis.model import Assessment, NotJudged
from debrief.profile.model import Limit
from debrief.report.blocks import LaneChart
from debrief.report.content.options import PAPERS, Paper, Reader, ReportOptions, parse_select
from debrief.report.content.whole_report import build
from debrief.report.pdf.layout import Pages, lay_out
from debrief.report.pdf.paint import DPI, FontMeasurer
from debrief.report.shapes import Curve, Text
from tests.report.made_assessments import climb_overtemp, hot_start
from tests.report.page_checks import faults, filled, struck

pytestmark = pytest.mark.usefixtures("qapp")


@pytest.fixture
def measurer() -> FontMeasurer:
    from debrief.report.pdf.paint import ensure_application

    ensure_application()
    device = QImage(8, 8, QImage.Format.Format_RGB32)
    device.setDotsPerMeterX(round(DPI / 0.0254))
    device.setDotsPerMeterY(round(DPI / 0.0254))
    return FontMeasurer(device)


def very_long_names() -> Assessment:
    made = hot_start(
        aircraft="ZZ-TRN of the Larkfield Flying School with a name that goes on " * 3,
        file_name="a_recording_with_a_name_without_any_space_" * 6 + ".csv",
        column_suffix=" as the unit of the aircraft's own recorder calls it in its header " * 3,
    )
    made = replace(
        made,
        not_judged=(*made.not_judged, NotJudged("X" * 300, "because " * 200)),
        sentence=made.sentence + " And it goes on." * 40,
    )
    return replace(
        made,
        profile=replace(made.profile, name="A profile " * 30, source="Manual " * 100),
    )


def odd_band_names() -> Assessment:
    """The names of the profile's bands and events are a person's: long, and in any script."""
    made = hot_start()
    assert made.profile is not None
    names = iter(("点検 一", "A band with a name that no chart has room for at all " * 2, "III"))

    def named(limit: Limit) -> Limit:
        return replace(limit, bands=tuple(replace(band, name=next(names)) for band in limit.bands))

    limits = tuple(named(limit) if limit.bands else limit for limit in made.profile.limits)
    return replace(made, profile=replace(made.profile, limits=limits))


def two_engines() -> Assessment:
    made = hot_start()
    channels = dict(made.recording.channels)
    for name in ("itt", "ng", "starter", "fuel_on"):
        channels[f"{name}.2"] = replace(channels[name], name=f"{name}.2")
    second = replace(made.starts[0], number=2, engine=2)
    event = replace(made.events[0], engine=2, start_number=2, channel="itt.2")
    return replace(
        made,
        recording=made.recording.with_channels(channels),
        starts=(*made.starts, second),
        events=(*made.events, event),
    )


CASES: dict[str, Callable[[], Assessment]] = {
    "hot start": hot_start,
    "flight": climb_overtemp,
    "long names": very_long_names,
    "forty events": lambda: hot_start(events=40),
    "no events": lambda: hot_start(events=0),
    "twelve starts": lambda: hot_start(starts=12),
    "no profile": lambda: hot_start(with_profile=False),
    "no starts": lambda: replace(hot_start(events=0), starts=()),
    "no channel at all": lambda: replace(
        hot_start(events=0), recording=hot_start().recording.with_channels({}), starts=()
    ),
    "missing channels": lambda: replace(
        hot_start(),
        recording=hot_start().recording.with_channels({"itt": hot_start().recording.channels["itt"]}),
    ),
    "two engines": two_engines,
    "odd band names": odd_band_names,
    "wide script": lambda: hot_start(aircraft="飛行機 一号機", file_name="記録.csv"),
    "right to left": lambda: hot_start(aircraft="מטוס", file_name="رحلة.csv"),
}


def laid(
    assessment: Assessment,
    measurer: FontMeasurer,
    reader: Reader = "technician",
    paper: Paper = "a4",
    select: str = "all",
) -> Pages:
    content = build(assessment, ReportOptions(parse_select(select), reader, paper))
    return lay_out(content, *PAPERS[paper], measurer)


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize(("reader", "paper"), [("technician", "a4"), ("pilot", "letter"), ("student", "a4")])
def test_no_text_touches_another_or_leaves_the_page(
    name: str, reader: Reader, paper: Paper, measurer: FontMeasurer
) -> None:
    pages = laid(CASES[name](), measurer, reader, paper)
    assert faults(pages, measurer) == []
    assert struck(pages, measurer) == []


def test_the_check_itself_sees_a_touch_and_a_cut(measurer: FontMeasurer) -> None:
    from debrief.report.shapes import BODY, LIMIT, PAPER, Box, Line

    page = (Text(30, 50, "one word", BODY), Text(31, 50.5, "another", BODY), Text(205, 80, "cut off", BODY))
    found = faults(Pages(210, 297, (page,), ()), measurer)
    assert len(found) == 2
    line = Line(20, 49.5, 60, 49.5, LIMIT)
    through = (line, Text(30, 50, "one word", BODY), Box(19, 70, 50, 20, fill=PAPER))
    assert len(struck(Pages(210, 297, (through,), ()), measurer)) == 1
    painted_over = (line, Box(19, 40, 50, 20, fill=PAPER), Text(30, 50, "one word", BODY))
    assert struck(Pages(210, 297, (painted_over,), ()), measurer) == []


@pytest.mark.parametrize("more", range(0, 40, 3))
@pytest.mark.parametrize("reader", ["pilot", "technician"])
def test_no_page_is_made_for_three_lines(more: int, reader: Reader, measurer: FontMeasurer) -> None:
    made = hot_start()
    ng = made.recording.channels["ng"]
    others = {
        f"other_{i}": replace(ng, name=f"other_{i}", column=f"Other {i}", map_source="none")
        for i in range(more)
    }
    channels = {**made.recording.channels, **others}
    pages = laid(replace(made, recording=made.recording.with_channels(channels)), measurer, reader)
    assert min(filled(pages)) > 0.2


@pytest.mark.parametrize("more", range(0, 40, 3))
def test_the_table_of_columns_stands_on_one_page_and_its_units_on_one_line(
    more: int, measurer: FontMeasurer
) -> None:
    made = hot_start()
    ng = made.recording.channels["ng"]
    flow = replace(ng, name="fuel_flow", unit="lb/h", column_unit="kg/h", column="Flow")
    channels = {**made.recording.channels, "fuel_flow": flow}
    channels |= {f"Other {i}": replace(ng, name=f"Other {i}", column=f"Other {i}") for i in range(more)}
    pages = texts(laid(replace(made, recording=made.recording.with_channels(channels)), measurer))
    assert sum("column in the file" in page for page in pages) == 1
    assert "kg/h → lb/h" in [text for page in pages for text in page]


def test_a_long_table_side_by_side_keeps_its_order_over_a_page(measurer: FontMeasurer) -> None:
    made = hot_start()
    channels = dict(made.recording.channels)
    names = [f"Other {i}" for i in range(240)]
    channels |= {name: replace(channels["ng"], name=name, column=name) for name in names}
    pages = texts(laid(replace(made, recording=made.recording.with_channels(channels)), measurer))
    told = [text for page in pages for text in page if text.startswith("Other ")]
    assert [text for index, text in enumerate(told) if text not in told[:index]] == names
    assert sum("column in the file" in page for page in pages) >= 2


def texts(pages: Pages) -> list[list[str]]:
    return [[shape.text for shape in page if isinstance(shape, Text)] for page in pages.pages]


def whole(pages: Pages) -> str:
    return " ".join(text for page in texts(pages) for text in page)


@pytest.mark.parametrize("name", CASES)
def test_every_page_says_its_number_whose_it_is_and_the_caution(name: str, measurer: FontMeasurer) -> None:
    assessment = CASES[name]()
    pages = texts(laid(assessment, measurer))
    for number, page in enumerate(pages, start=1):
        joined = " ".join(page)
        assert f"page {number} of {len(pages)}" in page
        assert "informs and never approves" in joined
        assert f"SHA-256 {assessment.recording.provenance.sha256[:16]}" in joined
        warned = "Limits not from approved data" in page
        assert warned == (assessment.profile is not None)


def test_approved_data_are_not_warned_of(measurer: FontMeasurer) -> None:
    made = hot_start()
    made = replace(made, profile=replace(made.profile, approved_data=True))
    assert all("Limits not from approved data" not in page for page in texts(laid(made, measurer)))


def test_who_entered_and_who_checked_the_profile_is_said_where_it_is_known(measurer: FontMeasurer) -> None:
    def words(assessment: Assessment) -> str:
        return " ".join(" ".join(" ".join(page) for page in texts(laid(assessment, measurer))).split())

    made = hot_start()
    assert "Profile entered" not in words(made)
    assert "Profile checked" not in words(made)
    profile = replace(made.profile, entered_by="A. Example", entered_on="2026-03-01", checked_on="2026-03-02")
    told = words(replace(made, profile=profile))
    assert "Profile entered by A. Example, 2026-03-01" in told
    assert "Profile checked 2026-03-02" in told


def test_each_start_has_its_bookmark_on_its_own_page(measurer: FontMeasurer) -> None:
    pages = laid(hot_start(starts=3), measurer)
    starts = [mark for mark in pages.bookmarks if mark.title.startswith("Start ")]
    assert [mark.title for mark in starts] == [
        "Start 1: Hot start, aborted",
        "Start 2: Completed",
        "Start 3: Completed",
    ]
    assert len({mark.page for mark in starts}) == 3
    for mark in starts:
        assert mark.title in texts(pages)[mark.page]


def test_a_table_over_several_pages_repeats_its_titles(measurer: FontMeasurer) -> None:
    pages = texts(laid(hot_start(events=40), measurer))
    with_events = [page for page in pages if "Early fuel" in page and "Procedure" in page]
    assert len(with_events) >= 2
    assert all("beyond it (bounds)" in page for page in with_events)


def test_start_page_names_its_moments_limits_and_bands(measurer: FontMeasurer) -> None:
    pages = laid(hot_start(), measurer)
    number = next(mark.page for mark in pages.bookmarks if mark.title.startswith("Start"))
    page = texts(pages)[number]
    for wanted in (
        "starter on 0:12.0",
        "fuel 0:18.0",
        "light-off 0:19.5",
        "fuel cut-off 0:43.0",
        "starter off 1:07.0",
    ):
        assert wanted in page
    for wanted in ("1030: never", "920: 6 s", "830: 20 s"):
        assert wanted in page
    assert {"band I", "band II"} <= {text for one in texts(pages)[number : number + 2] for text in one}


def test_the_name_of_a_band_in_another_script_is_told_by_its_numbers(measurer: FontMeasurer) -> None:
    page = whole(laid(odd_band_names(), measurer))
    assert "U+70B9" in page
    assert "点" not in page
    assert measurer.missing >= {"点", "検", "一"}


def test_missing_channels_are_said_and_not_drawn(measurer: FontMeasurer) -> None:
    page = whole(laid(CASES["missing channels"](), measurer))
    assert "Not drawn: Gas generator speed (not recorded); Bus voltage (not recorded)." in page


def test_a_lane_of_zeros_is_left_out_and_named_but_not_where_something_was_found_in_it(
    measurer: FontMeasurer,
) -> None:
    made = hot_start()
    ng = made.recording.channels["ng"]
    volts = made.recording.channels["bus_volts"]
    torque = replace(ng, name="torque", values=np.zeros_like(ng.values))
    dead = replace(volts, values=np.zeros_like(volts.values))
    channels = {**made.recording.channels, "torque": torque, "bus_volts": dead}
    made = replace(made, recording=made.recording.with_channels(channels))
    page = whole(laid(made, measurer))
    assert "Not drawn: Torque (0 throughout); Bus voltage (0 throughout)." in page
    low = replace(made.events[0], kind="low_start_voltage", channel="bus_volts", severity="caution")
    page = whole(laid(replace(made, events=(*made.events, low)), measurer))
    assert "Not drawn: Torque (0 throughout)." in page


def test_only_the_selected_start_is_printed(measurer: FontMeasurer) -> None:
    joined = whole(laid(hot_start(starts=3), measurer, select="start:2"))
    assert "Start 2: Completed" in joined
    assert "Start 1: Hot start, aborted" not in joined
    assert "This paper holds start 2 only." in joined


def test_selecting_exceedances_leaves_out_the_starts_without_any(measurer: FontMeasurer) -> None:
    joined = whole(laid(hot_start(starts=3), measurer, select="exceedances"))
    assert "Start 1: Hot start, aborted" in joined
    assert "Start 2: Completed" not in joined


def test_the_technician_gets_raw_samples_and_blanks_and_the_pilot_does_not(measurer: FontMeasurer) -> None:
    workshop = whole(laid(climb_overtemp(), measurer))
    pilot = whole(laid(climb_overtemp(), measurer, "pilot"))
    assert "Raw samples" in workshop
    assert "Value seen by the crew" in workshop
    assert "Raw samples" not in pilot
    assert "Value seen by the crew" not in pilot
    for paper in (workshop, pilot):
        assert "not a release to service" in paper
        assert "It is no inspection, no release to service and no page of a log." in paper
        assert "Signature" in paper


def test_what_a_technician_has_to_write_by_hand_is_what_is_not_printed(measurer: FontMeasurer) -> None:
    made = hot_start(aircraft="")
    made = replace(
        made, recording=replace(made.recording, identity=replace(made.recording.identity, aircraft=None))
    )
    fields = {"Registration", "Date of the recording", "Date of printing"}
    first, *rest = texts(laid(made, measurer))
    assert "Printed" not in first
    assert fields <= {text for page in rest for text in page}

    identity = replace(
        made.recording.identity, aircraft="ZZ-TRN", start=datetime(2031, 5, 4, 9, 30, tzinfo=UTC)
    )
    known = replace(made, recording=replace(made.recording, identity=identity))
    content = build(known, ReportOptions(printed_on=date(2031, 12, 1)))
    first, *rest = texts(lay_out(content, *PAPERS["a4"], measurer))
    for told in ("Registration", "ZZ-TRN", "Printed", "2031-12-01"):
        assert told in first
    assert any(text.startswith("2031-05-04 09:30:00 UTC") for text in first)
    assert not fields & {text for page in rest for text in page}
    assert {"Position on the aircraft", "Hours and cycles", "Technical log entry", "Findings"} <= {
        text for page in rest for text in page
    }


def test_the_highest_point_of_the_drawn_curve_is_the_recorded_peak(measurer: FontMeasurer) -> None:
    from debrief.report.charts.lane_charts import lane_chart

    assessment = hot_start()
    content = build(assessment, ReportOptions())
    start = next(section for section in content.sections if section.title.startswith("Start"))
    chart = next(block for block in start.blocks if isinstance(block, LaneChart))
    lane = chart.lanes[0]
    shapes = lane_chart(chart, 178.0, measurer)
    ticks = {
        shape.text: shape.y - 0.85 for shape in shapes if isinstance(shape, Text) and shape.align == "right"
    }
    curve = next(s for s in shapes if isinstance(s, Curve) and s.colour == lane.colour)
    # Later lanes have a "0" and a "50" too, so the scale is read from labels that only this lane has.
    per_degree = (ticks["1000"] - ticks["500"]) / 500.0
    peak = 1000.0 + (float(curve.points[:, 1].min()) - ticks["1000"]) / per_degree
    assert peak == pytest.approx(assessment.starts[0].peak_itt_c, abs=0.005 * (lane.high - lane.low))


def test_a_cold_engine_does_not_press_its_lane_into_the_upper_half() -> None:
    from debrief.report.charts.lane_traces import lanes_of

    made = hot_start()
    itt = made.recording.channels["itt"]
    cold = replace(itt, values=np.where(itt.values < 60.0, itt.values - 75.0, itt.values))
    made = replace(made, recording=made.recording.with_channels({"itt": cold}))
    (lane,) = lanes_of(made, [("itt", 1.0)], 1, 0.0, 90.0)
    assert float(cold.values.min()) - 50.0 < lane.low <= float(cold.values.min())
    assert lane.high >= float(cold.values.max())


def test_a_gap_breaks_the_line(measurer: FontMeasurer) -> None:
    from debrief.report.charts.lane_charts import lane_chart
    from debrief.report.charts.lane_traces import lanes_of

    made = hot_start()
    volts = made.recording.channels["bus_volts"]
    keep = (volts.time_s < 41.0) | (volts.time_s > 46.0)
    cut = replace(volts, time_s=volts.time_s[keep], values=volts.values[keep])
    made = replace(made, recording=made.recording.with_channels({"bus_volts": cut}))
    (lane,) = lanes_of(made, [("bus_volts", 1.0)], 1, 10.0, 70.0)
    chart = LaneChart(10.0, 70.0, (lane,), 60.0)
    curves = [s for s in lane_chart(chart, 178.0, measurer) if isinstance(s, Curve)]
    assert len(curves) == 2
    assert curves[1].points[0, 0] - curves[0].points[-1, 0] > 10.0


def test_each_engine_has_its_own_lanes_starts_and_marks(measurer: FontMeasurer) -> None:
    pages = texts(laid(two_engines(), measurer))
    assert "Interturbine temperature, engine 2, °C" in pages[0]
    page = next(page for page in pages if "Start, engine 2: Hot start, aborted" in page)
    assert "Interturbine temperature, engine 2, °C" in page
    red = [mark for mark in page if mark.startswith("peak 1097 °C")]
    assert red


def test_what_happens_long_after_a_start_has_a_page_of_its_own(measurer: FontMeasurer) -> None:
    """A rise after the shutdown belongs to the start's number but not into the start's chart."""
    from debrief.report.charts.ranges import apart_events, chart_range

    made = hot_start(starts=2)
    late = replace(
        made.events[0], kind="burning_after_cut", start_number=2, start_s=190.0, end_s=196.0, peak_s=193.0
    )
    start = replace(made.starts[1], fuel_off_s=188.0)
    made = replace(made, starts=(made.starts[0], start), events=(*made.events, late))
    assert chart_range(made, start)[1] < 175.0
    assert apart_events(made) == (late,)
    pages = laid(made, measurer)
    assert "Fire after shutdown at 3:10.0" in [mark.title for mark in pages.bookmarks]
    assert faults(pages, measurer) == []
