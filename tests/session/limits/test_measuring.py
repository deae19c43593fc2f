from pathlib import Path

import numpy as np
import pytest

from debrief.recording.model import Channel
from debrief.session.assessing.file_assessment import Choices, assess_recording, read_recording
from debrief.session.limits.cursor_measure import Beyond, measure
from debrief.session.limits.instrument_readings import Instrument

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
    volts = Beyond("volts", "low_start_voltage", 18.0, True, 1.0, (0.9, 1.1))
    assert volts.words == "below 18 (low start voltage) for 1.0 s [0.9 to 1.1]"


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


def test_no_duration_has_no_rate():
    assert measure(RAMP, NONE, 3.0, 3.0).rate is None


def test_without_a_value_at_one_end_there_is_no_measure():
    breaks = NONE.copy()
    breaks[5] = True
    assert measure(RAMP, breaks, 2.0, 5.5) is None
    assert measure(RAMP, NONE, 2.0, 50.0) is None


def test_bounds_between_two_cursors_are_rounded_outward_as_those_of_the_finding():
    beyond = Beyond("itt-start", "hot_start", 1030.0, False, 2.214, (2.125, 2.25))
    assert beyond.words == "above 1030 (hot start) for 2.2 s [2.1 to 2.3]"
