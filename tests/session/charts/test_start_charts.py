from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis.model import Measure, TimeAbove
from debrief.session.charts.start_charts import plane_chart, time_chart
from tests.session import assessment_maker as made


def test_the_plane_holds_every_itt_sample_of_the_attempt_and_its_peak():
    assessment = made.hot_start()
    chart = plane_chart(assessment, assessment.starts[0])
    itt = assessment.recording.channels["itt"]
    inside = (itt.time_s >= 10.0) & (itt.time_s <= 63.0)
    assert np.array_equal(chart.y, itt.values[inside])
    assert chart.y_range[1] >= 1087
    assert {m.word for m in chart.marks} == {"fuel", "light-off", "peak 1087", "fuel cut"}
    assert [words for _, words in chart.levels] == ["830: 20 s", "920: 6 s", "1030: never"]


def test_without_ng_there_is_no_plane():
    assessment = made.hot_start()
    channels = {k: v for k, v in assessment.recording.channels.items() if k != "ng"}
    assessment = replace(assessment, recording=assessment.recording.with_channels(channels))
    assert plane_chart(assessment, assessment.starts[0]) is None


def test_a_gap_in_ng_breaks_the_plane_s_line():
    assessment = made.hot_start()
    ng = assessment.recording.channels["ng"]
    keep = (ng.time_s < 20.0) | (ng.time_s > 24.0)
    cut = replace(ng, time_s=ng.time_s[keep], values=ng.values[keep])
    recording = assessment.recording.with_channels({**assessment.recording.channels, "ng": cut})
    chart = plane_chart(replace(assessment, recording=recording), assessment.starts[0])
    assert np.isnan(chart.x).sum() == pytest.approx(40, abs=2)


def test_the_time_chart_shows_the_curve_the_allowance_and_the_profile_s_levels():
    assessment = made.hot_start()
    table = TimeAbove(
        "itt", "degC", (700.0, 830.0, 1030.0, 1087.0), (12.0, 6.7, 0.9, 0.0), (12.0, 6.7, 0.9, 0.0)
    )
    start = replace(assessment.starts[0], time_above=table)
    chart = time_chart(assessment, start)
    assert chart.allowed == ((830, 20), (920, 6), (1030, 0))
    assert chart.y_range[0] < 830 < 1087 < chart.y_range[1]
    assert chart.x_range[1] >= 20
    assert [m.word for m in chart.marks] == ["6.7 s above 830"]


def test_without_the_curve_or_without_a_profile():
    assessment = made.hot_start()
    assert time_chart(assessment, assessment.starts[0]) is None
    table = TimeAbove("itt", "degC", (300.0, 600.0), (20.0, 0.0), (20.0, 0.0))
    chart = time_chart(replace(assessment, profile=None), replace(assessment.starts[0], time_above=table))
    assert chart.allowed == ()
    assert chart.bands == ()


def test_only_a_level_that_was_passed_too_long_is_marked_as_exceeded():
    assessment = made.hot_start()
    table = TimeAbove("itt", "degC", (700.0, 830.0, 1087.0), (12.0, 6.7, 0.0), (12.0, 6.7, 0.0))
    times = {f"time_above_{n}": Measure(s, "s") for n, s in ((830, 6.7), (920, 4.0), (1030, 3.0))}
    start = replace(assessment.starts[0], time_above=table, measures=times)
    chart = time_chart(assessment, start)
    event = next(e for e in assessment.events if e.kind == "hot_start")
    results = {level.level: level.result for level in event.levels}
    assert {mark.y: mark.exceeded for mark in chart.marks} == {
        level: result in ("exceeded", "possible") for level, result in results.items()
    }
    assert {mark.exceeded for mark in chart.marks} == {True, False}
