from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis.model import TimeAbove
from debrief.session.charts.start_charts import plane_chart, time_chart
from tests.session import assessment_maker as made


def test_the_plane_holds_every_itt_sample_of_the_attempt_and_its_peak():
    assessment = made.hot_start()
    chart = plane_chart(assessment, assessment.starts[0])
    (pane,) = chart.panes
    itt = assessment.recording.channels["itt"]
    inside = (itt.time_s >= 10.0) & (itt.time_s <= 63.0)
    assert np.array_equal(pane.curves[-1].y, itt.values[inside])
    assert pane.y.range[1] >= 1087
    assert {m.label for m in pane.marks} == {"fuel", "light-off", "peak 1087", "fuel cut-off"}
    assert [level.label for level in pane.levels] == ["830: 20 s", "920: 6 s", "1030: never"]


def test_without_ng_there_is_no_plane():
    assessment = made.hot_start()
    channels = {k: v for k, v in assessment.recording.channels.items() if k != "ng"}
    assessment = replace(assessment, recording=assessment.recording.with_channels(channels))
    assert "not recorded" in plane_chart(assessment, assessment.starts[0]).problem


def test_a_gap_in_ng_breaks_the_plane_s_line():
    assessment = made.hot_start()
    ng = assessment.recording.channels["ng"]
    keep = (ng.time_s < 20.0) | (ng.time_s > 24.0)
    cut = replace(ng, time_s=ng.time_s[keep], values=ng.values[keep])
    recording = assessment.recording.with_channels({**assessment.recording.channels, "ng": cut})
    chart = plane_chart(replace(assessment, recording=recording), assessment.starts[0])
    assert np.isnan(chart.panes[0].curves[-1].x).sum() == pytest.approx(40, abs=2)


def test_the_time_chart_shows_the_curve_the_allowance_and_the_profile_s_levels():
    assessment = made.hot_start()
    table = TimeAbove(
        "itt", "degC", (700.0, 830.0, 1030.0, 1087.0), (12.0, 6.7, 0.9, 0.0), (12.0, 6.7, 0.9, 0.0)
    )
    start = replace(assessment.starts[0], time_above=table)
    chart = time_chart(assessment, start)
    (pane,) = chart.panes
    steps, curve = pane.curves
    assert [(x, y) for x, y in zip(steps.x, steps.y, strict=True)][1::2] == [(20, 830), (6, 920), (0, 1030)]
    assert np.array_equal(curve.x, table.total_s)
    assert pane.y.range[0] < 830 < 1087 < pane.y.range[1]
    assert chart.x.range[1] >= 20


def test_the_time_chart_counts_as_the_limit_counts():
    """The screen drew the total where the limit counts the longest run: the curve and its point were apart."""
    assessment = made.hot_start()
    limits = tuple(replace(one, count="longest") for one in assessment.profile.limits)
    table = TimeAbove("itt", "degC", (700.0, 830.0, 1087.0), (12.0, 9.0, 0.0), (7.0, 6.7, 0.0))
    start = replace(assessment.starts[0], time_above=table)
    chart = time_chart(replace(assessment, profile=replace(assessment.profile, limits=limits)), start)
    assert np.array_equal(chart.panes[0].curves[-1].x, table.longest_s)
    assert "longest seconds above" in chart.subtitle


def test_without_the_curve_or_without_a_profile():
    assessment = made.hot_start()
    assert time_chart(assessment, assessment.starts[0]).problem.startswith("ITT never rose")
    table = TimeAbove("itt", "degC", (300.0, 600.0), (20.0, 0.0), (20.0, 0.0))
    chart = time_chart(replace(assessment, profile=None), replace(assessment.starts[0], time_above=table))
    assert len(chart.panes[0].curves) == 1
    assert chart.panes[0].areas == ()
    assert "no start limit" in chart.subtitle


def test_only_a_level_that_was_passed_too_long_is_marked_as_exceeded():
    assessment = made.hot_start()
    table = TimeAbove("itt", "degC", (700.0, 830.0, 1087.0), (12.0, 6.7, 0.0), (12.0, 6.7, 0.0))
    start = replace(assessment.starts[0], time_above=table)
    marks = time_chart(assessment, start).panes[0].marks
    event = next(e for e in assessment.events if e.kind == "hot_start")
    results = {level.level: level for level in event.levels}
    assert {mark.y: mark.shape == "diamond" for mark in marks} == {
        level: found.result in ("exceeded", "possible") for level, found in results.items()
    }
    assert {mark.y: mark.x for mark in marks} == {n: found.duration_s for n, found in results.items()}
    assert {mark.shape for mark in marks} == {"diamond", "dot"}
