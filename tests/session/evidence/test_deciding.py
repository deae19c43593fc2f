"""The samples that decide a finding: whoever checks it by hand needs these and no others."""

from __future__ import annotations

import numpy as np
import pytest

from debrief.session.evidence.deciding_samples import deciding_samples, sample_decimals
from debrief.session.evidence.why import measure_why
from debrief.session.texts.plain_names import key_words
from tests.demo_assessing import DEMOS, assessed


def test_a_hot_start_is_told_with_both_sides_of_each_crossing_and_the_peak():
    hot = assessed(next(path for path in DEMOS if path.stem.startswith("05_")))
    (event,) = (event for event in hot.events if event.kind == "hot_start")
    crossing, peak = deciding_samples(hot, event)
    up, above, still, down = crossing.values
    assert up <= 1030 < above
    assert still > 1030 >= down
    # The crossings that the samples give by hand are those that are told.
    times = crossing.times_s
    first = times[0] + (1030 - up) / (above - up) * (times[1] - times[0])
    last = times[2] + (1030 - still) / (down - still) * (times[3] - times[2])
    assert last - first == pytest.approx(event.duration_s, abs=1e-6)
    assert max(peak.values) == event.peak == peak.values[1]
    assert len(peak.values) == 3


def test_a_limit_is_named_with_the_line_of_the_level_that_decided():
    hot = assessed(next(path for path in DEMOS if path.stem.startswith("05_")))
    (event,) = (event for event in hot.events if event.kind == "hot_start")
    why = measure_why(hot, hot.starts[0], "time_above_1030")
    said = key_words(event.evidence.profile_key, hot.profile, event.evidence.profile_line)
    assert said == f"limit itt-start (line {event.evidence.profile_line} of the profile)"
    assert f"(line {event.evidence.profile_line} of the profile)" in why.profile[0][0]


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_every_finding_has_few_samples_as_recorded(path):
    assessment = assessed(path)
    for event in assessment.events:
        readings = deciding_samples(assessment, event)
        assert readings, event.kind
        for reading in readings:
            channel = assessment.recording.channels[reading.channel]
            assert 1 <= len(reading.index) <= 16
            assert tuple(channel.values[list(reading.index)]) == reading.values
            assert tuple(channel.time_s[list(reading.index)]) == reading.times_s
        if event.peak is not None and event.unit == channel.unit and not channel.is_discrete:
            assert any(event.peak in reading.values for reading in readings), event.kind


def test_a_starter_run_is_told_with_the_samples_on_both_sides_of_each_switch():
    long = assessed(next(path for path in DEMOS if path.stem.startswith("10_")))
    (event,) = (event for event in long.events if event.kind == "starter_overrun")
    (switch,) = deciding_samples(long, event)
    assert switch.values[:2] == (0.0, 1.0)
    assert switch.values[-2:] == (1.0, 0.0)
    assert switch.what == "beside begin and end"


def test_samples_have_the_decimals_that_the_channel_was_recorded_with():
    channels = assessed(DEMOS[0]).recording.channels
    for name, channel in channels.items():
        decimals = sample_decimals(channel)
        assert np.allclose(np.round(channel.values, decimals), channel.values, atol=1e-6, equal_nan=True), (
            name
        )
    assert sample_decimals(channels["itt"]) == 0
    assert sample_decimals(channels["fuel_on"]) == 0
