"""What a lane writes stands where it belongs in time: findings, moments and limits, at any size of text and any zoom."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QApplication

from debrief.gui.lanes import lane_labels
from debrief.report import shapes as s
from debrief.report.charts.lane_charts import lane_chart
from debrief.report.content.start_pages import start_chart
from debrief.session.drawing.axes import time_labels
from debrief.words.events import SIGNS
from tests.demo_assessing import DEMOS, assessed
from tests.gui.lanes.test_screen_and_paper import Measurer
from tests.gui.user import painted_anew

SHOWN = [path for path in DEMOS if path.stem[:2] in ("02", "05", "06", "11", "12", "15", "17", "19")]
NEAR = 9.0


@pytest.fixture
def signs(monkeypatch):
    """Where the signs of findings are drawn in the lanes, [px]: shape, middle, height."""
    drawn = []
    draw = lane_labels.draw_shape

    def drawing(painter, shape, x, y, *rest):
        drawn.append((shape, x, y))
        draw(painter, shape, x, y, *rest)

    monkeypatch.setattr(lane_labels, "draw_shape", drawing)
    return drawn


def pictures(desk, session, signs):
    """Yield the words of the lanes, at each zoom and size of text."""
    replay = desk.window.replay
    findings = [index for index, step in enumerate(session.story) if step.is_finding]
    zooms = [replay.frame_all, replay.frame_start, *(lambda i=i: replay.choose(i) for i in findings[:2])]
    for scale in (1.0, 1.2, 1.6):
        desk.theme.set_scale(scale)
        for zoom in zooms:
            zoom()
            QApplication.processEvents()
            signs.clear()
            words = painted_anew(desk.window.lanes)
            margin = desk.window.lanes.x_of(replay.session.framing.begin_s)
            yield scale, [word for word in words if word.rect.right() > margin]


def stretch(desk, begin_s, end_s):
    """Return the part of a stretch of time in view, [px]; None where there is none."""
    framing = desk.window.replay.session.framing
    if end_s < framing.begin_s or begin_s > framing.end_s:
        return None
    x_of = desk.window.lanes.x_of
    return x_of(max(begin_s, framing.begin_s)), x_of(min(end_s, framing.end_s))


@pytest.mark.parametrize("path", SHOWN, ids=lambda path: path.stem)
def test_findings_moments_and_limits_stand_at_their_time(desk, signs, path):
    session = desk.show(assessed(path))
    prepared = session.prepared
    titles = {span.label for span in prepared.spans if span.label}
    moments = {mark.word for mark in prepared.marks}
    lines = [line for lane in session.lanes for line in lane.plan.lines]
    seen = {"sign": 0, "title": 0, "moment": 0, "limit": 0}
    for scale, words in pictures(desk, session, signs):
        half = 7.0 * scale
        spans = [(span, stretch(desk, span.begin_s, span.end_s)) for span in prepared.spans]
        for shape, x, _ in signs:
            seen["sign"] += 1
            assert any(
                # Over a stretch that is shorter than it; at the edge of the lane it is moved in by its half.
                a - 1 <= x <= b + 1 or abs(x - (a + b) / 2) <= half + 2
                for span, edges in spans
                if span.shape == shape and edges is not None
                for a, b in [edges]
            )
        at = [
            (desk.window.lanes.x_of(mark.time_s), mark)
            for mark in prepared.marks
            if stretch(desk, mark.time_s, mark.time_s)
        ]
        for word in words:
            left, right = word.rect.left(), word.rect.right()
            if word.text in titles:
                seen["title"] += 1
                assert any(
                    abs(y - word.rect.center().y()) < half and min(abs(x - left), abs(x - right)) < 2 * half
                    for _, x, y in signs
                )
            elif set(word.text.split(", ")) <= moments:
                seen["moment"] += 1
                first, *_, last = word.text.split(", ") * 2
                assert any(
                    (mark.word == last and 0 <= left - x <= NEAR)
                    or (mark.word == first and 0 <= x - right <= NEAR)
                    for x, mark in at
                )
                assert not [mark.word for x, mark in at if left < x < right]
            elif any(word.text == line.text for line in lines):
                seen["limit"] += 1
                ends = [
                    e
                    for line in lines
                    if line.text == word.text
                    if (e := stretch(desk, line.begin_s, line.end_s))
                ]
                assert any(right <= b + 1 for _, b in ends)
                if not any(a - 1 <= left and right <= b + 1 for a, b in ends):
                    # Before a line too short for it, and over no other level of the channel.
                    (lane,) = (
                        one.plan for one in session.lanes if word.text in [x.text for x in one.plan.lines]
                    )
                    others = [stretch(desk, x.begin_s, x.end_s) for x in lane.lines if x.text != word.text]
                    assert any(0 <= a - right <= NEAR for a, _ in ends)
                    assert not [1 for o in others if o is not None and o[0] < right and o[1] > left]
    assert all(seen.values()), seen


@pytest.mark.parametrize("path", SHOWN, ids=lambda path: path.stem)
def test_on_paper_findings_stand_at_their_time(path):
    assessment = assessed(path)
    for start in assessment.starts:
        chart = start_chart(assessment, start, assessment.events_of(start))
        shapes = lane_chart(chart, 178.0, Measurer())
        texts = [one for one in shapes if isinstance(one, s.Text)]
        times = {text: time_s for time_s, text in time_labels(chart.begin_s, chart.end_s, 6)}
        axis = [(times[one.text], one.x) for one in texts if one.align == "center" and one.text in times]
        (t0, x0), (t1, x1) = axis[0], axis[-1]
        for lane in chart.lanes:
            for span in lane.named:
                edges = [x0 + (t - t0) / (t1 - t0) * (x1 - x0) for t in (span.begin_s, span.end_s)]
                kind = SIGNS[span.severity]
                signed = [m.x for m in shapes if isinstance(m, s.Mark) and m.kind == kind]
                assert any(edges[0] - 1.4 <= x <= edges[1] + 1.4 for x in signed)
                for text in (one for one in texts if one.text == span.label):
                    end = text.x + Measurer().width_mm(text.text, text.style)
                    signs = [m.x for m in shapes if isinstance(m, s.Mark) and abs(m.y - text.y) < 1.5]
                    own = [x for x in signs if min(abs(x - text.x), abs(x - end)) < 2.0]
                    assert any(edges[0] - 1.4 <= x <= edges[1] + 1.4 for x in own)


@pytest.mark.parametrize("scale", [1.0, 1.2, 1.6])
def test_in_a_low_lane_what_was_found_comes_before_what_was_allowed(desk, signs, scale):
    """With larger text the limit's name took the place of the low voltage's sign."""
    session = desk.show(assessed(next(path for path in DEMOS if path.stem.startswith("17_"))))
    desk.theme.set_scale(scale)
    desk.window.replay.frame_start()
    for _ in range(4):  # larger text moves the bars, and these the lanes
        QApplication.processEvents()
    signs.clear()
    painted_anew(desk.window.lanes)
    shapes = {span.shape for span in session.prepared.spans if span.label}
    assert len(shapes) == 2
    assert {shape for shape, _, _ in signs} == shapes
