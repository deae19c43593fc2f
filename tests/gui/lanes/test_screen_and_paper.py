"""The window's lanes and the paper's are made of one description: no range or number can differ."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QRectF

from debrief.report import shapes as s
from debrief.report.blocks import LaneChart
from debrief.report.charts.lane_charts import lane_chart
from debrief.report.charts.ranges import apart_events
from debrief.report.content.flight_pages import event_chart
from debrief.report.content.start_pages import start_chart
from debrief.report.content.whole_report import overview_chart
from debrief.report.formats.picture import _channels
from tests.demo_assessing import DEMOS, assessed

SHOWN = [path for path in DEMOS if path.stem[:2] in ("01", "03", "06", "12", "15", "17", "19")]
ROWS = 5


class Measurer:
    """Letters of one width: only which texts there are matters here."""

    def width_mm(self, text, style):
        return 0.2 * len(text) * style.size_pt * s.MM_PER_PT

    def printable(self, text):
        return text


def paper_ticks(chart, lane):
    """Return the numbers beside the axis of a lane that has room for so many rows."""
    alone = LaneChart(chart.begin_s, chart.end_s, (lane,), 4.4 + 5.0 + 4.5 * ROWS + 0.1)
    shapes = lane_chart(alone, 178.0, Measurer())
    return [shape.text for shape in shapes if isinstance(shape, s.Text) and shape.align == "right"]


def is_same(desk, chart):
    """Frame the stretch of a chart in the window and compare what both show; return how many lanes there were."""
    window = desk.window
    content = window.lanes._content
    compared = 0
    for shown in content.lanes:
        trace = next(iter(shown.traces), None)
        lane = next((one for one in chart.lanes if one.title == shown.plan.full_title), None)
        if trace is None or lane is None or lane.empty:
            continue
        compared += 1
        assert (lane.low, lane.high) == (trace.low, trace.top)
        assert [(x.level, x.label, x.begin_s, x.end_s, x.severity) for x in lane.levels] == [
            (x.level, x.text_apart, x.begin_s, x.end_s, x.severity) for x in trace.lines
        ]
        assert lane.unjudged == trace.plan.unjudged
        inside = [s for s in content.spans if s.begin_s <= chart.end_s and s.end_s >= chart.begin_s]
        assert list(lane.spans) == [span for span in inside if span.tints(shown.names)]
        if len(chart.lanes) >= len(content.lanes):  # else one in no lane of the paper is named in another
            # The paper may have a lane of its own channel for one that the window names at the temperature.
            elsewhere = {span.label for one in chart.lanes if one is not lane for span in one.named}
            assert {span.label for span in lane.named} == {
                span.label for span in inside if span.label and lane_of(span, content.lanes) is shown
            } - elsewhere
        inside = lane.trace.within(chart.begin_s, chart.end_s)
        mine = trace._drawn.within(chart.begin_s, chart.end_s)
        assert (inside.min(), inside.max()) == (mine.min(), mine.max())
        # the same room for numbers, whatever else the window has to place
        strip = desk.theme.px(22)
        trace.place(QRectF(0, 0, 600, 28 * ROWS * desk.theme.scale + strip + 1))
        trace.show_range(chart.begin_s, chart.end_s, *fitting(window, shown))
        assert paper_ticks(chart, lane) == [text for _, text in trace.ticks]
    return compared


def fitting(window, shown):
    chosen = window.replay.session.fitted_channel in shown.names
    return chosen, chosen


def lane_of(span, lanes):
    """Return the lane that names a finding: of its channel, else of the temperature."""
    drawn = [lane for lane in lanes if lane.recorded]
    own = (lane for lane in drawn if span.channel in lane.names)
    return next(own, next(lane for lane in drawn if "itt" in lane.names))


@pytest.mark.parametrize("path", SHOWN, ids=lambda path: path.stem)
def test_for_the_same_stretch_the_window_and_the_paper_show_the_same_lanes(desk, path):
    assessment = assessed(path)
    session = desk.show(assessment)
    replay = desk.window.replay
    replay.choose(next(i for i, step in enumerate(session.story) if not step.is_finding))
    whole = overview_chart(assessment, _channels(assessment))
    replay.frame(whole.begin_s, whole.end_s)
    assert is_same(desk, whole) >= 3
    for start in assessment.starts:
        chart = start_chart(assessment, start, assessment.events_of(start))
        replay.choose(next(i for i, step in enumerate(session.story) if not step.is_finding))
        replay.frame(chart.begin_s, chart.end_s)
        assert is_same(desk, chart) >= 3
        marks = {(mark.time_s, mark.word) for mark in session.prepared.marks}
        told = {(mark.time_s, mark.label) for mark in chart.marks}
        mine = {(t, w) for t, w in marks if start.begin_s <= t <= start.end_s}
        assert all(any(t == at and label.startswith(w) for at, label in told) for t, w in mine)
    for event in apart_events(assessment):
        chart = event_chart(assessment, event)
        replay.choose(next(i for i, step in enumerate(session.story) if step.event is event))
        replay.frame(chart.begin_s, chart.end_s)
        assert is_same(desk, chart) >= 3
