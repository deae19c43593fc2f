from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.recording.model import Channel
from debrief.session.assessing.file_assessment import Choices, assess_recording, read_recording
from debrief.session.limits import instrument_readings
from debrief.session.limits.cursor_measure import AboveLevel, Beyond, measure
from debrief.session.limits.instrument_readings import Instrument
from debrief.session.limits.limit_clock import runs_beyond

DEMO = Path(__file__).resolve().parents[3] / "demo_flights"

TIME = np.arange(0.0, 11.0)
RAMP = Channel("itt", "degC", TIME, 100.0 * TIME)
NONE = np.zeros(10, bool)


def test_without_a_level_that_applies_only_difference_and_rate_are_said():
    measured = measure(RAMP, NONE, 2.0, 6.5)
    assert measured.difference == pytest.approx(450.0)
    assert measured.rate == pytest.approx(100.0)
    assert measured.words == "+450 °C, +100.0 °C/s"
    assert measured.shorter == ("+450 °C, +100.0 °C/s", "+450 °C")


def test_backwards_the_difference_turns_and_the_rate_stays():
    measured = measure(RAMP, NONE, 6.5, 2.0)
    assert measured.difference == pytest.approx(-450.0)
    assert measured.rate == pytest.approx(100.0)


def test_the_level_is_named_with_its_limit_and_its_bounds():
    beyond = Beyond("itt-start", "hot_start", 830.0, False, 3.14, (3.0, 3.26))
    words = measure(RAMP, NONE, 2.0, 6.5, beyond).words
    assert words == "+450 °C, +100.0 °C/s, above 830 (hot start) for 3.1 s [3.0 to 3.3]"
    assert (
        Beyond("volts", "low_start_voltage", 18.0, True, None).words
        == "below 18 (low start voltage) counting"
    )


def demo():
    choices = Choices()
    return assess_recording(read_recording(DEMO / "02_early_fuel_hot.csv", choices), choices)


def test_over_a_whole_start_the_time_above_is_that_of_the_analysis_with_its_bounds():
    assessment = demo()
    start = assessment.starts[0]
    limit = next(one for one in assessment.limits if one.id == "itt-start")
    known = start.measures["time_above_830"]
    itt = Instrument(assessment, "itt")
    beyond = itt.measured(limit.windows[0].start_s, limit.windows[-1].end_s).limit
    assert (beyond.limit_id, beyond.level, beyond.below) == ("itt-start", 830.0, False)
    assert known.value > 1.0
    assert beyond.seconds == pytest.approx(known.value, abs=0.005)
    assert beyond.bounds == pytest.approx((known.low, known.high), abs=0.005)


def test_the_level_is_the_nearest_to_the_mark_and_only_where_its_limit_applies():
    assessment = demo()
    start = assessment.starts[0]
    itt = Instrument(assessment, "itt")
    assert itt.measured(start.peak_itt_s, start.peak_itt_s + 5).limit.level == 1030.0
    assert itt.measured(1.0, 5.0).limit is None  # the engine is off
    assert Instrument(assessment, "ng").measured(1.0, 5.0).limit is None


def test_a_long_stretch_is_counted_when_asked_and_to_the_same_seconds(monkeypatch):
    assessment = demo()
    start = assessment.starts[0]
    ends = start.light_off_s, start.light_off_s + 12.0
    at_once = Instrument(assessment, "itt").measured(*ends).limit
    monkeypatch.setattr(instrument_readings, "_COUNTED_AT_ONCE", 10)
    itt = Instrument(assessment, "itt")
    assert itt.measured(*ends).limit.seconds is None
    itt.count()
    counted = itt.measured(*ends).limit
    assert at_once.seconds > 1.0
    assert counted.seconds == pytest.approx(at_once.seconds, abs=1e-6)
    assert counted.bounds is None


def test_in_a_long_recording_a_short_stretch_has_its_bounds_once_the_channel_was_looked_at(monkeypatch):
    assessment = demo()
    start = assessment.starts[0]
    ends = (start.peak_itt_s - 2.0, start.peak_itt_s + 2.0)
    at_once = Instrument(assessment, "itt").measured(*ends).limit
    rows = instrument_readings.rows_between(assessment.recording.channels["itt"], *ends)
    monkeypatch.setattr(instrument_readings, "_COUNTED_AT_ONCE", rows + 1)
    itt = Instrument(assessment, "itt")
    first = itt.measured(*ends).limit
    assert first.seconds is None
    assert first.bounds is None
    assert first.words.endswith("counting")
    itt.count()
    assert itt.measured(*ends).limit == at_once
    assert itt.measured(ends[0] + 1.0, ends[1]).limit.seconds is not None


def test_no_duration_has_no_rate():
    assert measure(RAMP, NONE, 3.0, 3.0).rate is None


def test_without_a_value_at_one_end_there_is_no_measure():
    breaks = NONE.copy()
    breaks[5] = True
    assert measure(RAMP, breaks, 2.0, 5.5) is None
    assert measure(RAMP, NONE, 2.0, 50.0) is None


@settings(max_examples=80, deadline=None)
@given(
    st.lists(st.floats(0.0, 100.0), min_size=2, max_size=40),
    st.floats(0.0, 100.0),
    st.floats(-1.0, 21.0),
    st.floats(-1.0, 21.0),
    st.integers(0, 38),
)
def test_counting_once_and_counting_between_two_moments_agree(values, level, first, second, gap):
    array = np.array(values)
    channel = Channel("itt", "degC", np.arange(array.size) * 0.5, array, "ITT")
    breaks = np.zeros(array.size - 1, bool)
    breaks[gap % breaks.size] = True
    begin, end = sorted((first, second))
    begins, ends = runs_beyond(channel.time_s, array, breaks, level, False, begin, end)
    counted = AboveLevel(channel, breaks, level).between(first, second)
    assert counted == pytest.approx(float((ends - begins).sum()), abs=1e-6)


def test_bounds_between_two_cursors_are_rounded_outward_as_those_of_the_finding():
    beyond = Beyond("itt-start", "hot_start", 1030.0, False, 2.214, (2.125, 2.25))
    assert beyond.words == "above 1030 (hot start) for 2.2 s [2.1 to 2.3]"
