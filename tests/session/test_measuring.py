import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.recording.model import Channel
from debrief.session.applies import runs_beyond
from debrief.session.measuring import AboveLevel, measure

TIME = np.arange(0.0, 11.0)
RAMP = Channel("itt", "degC", TIME, 100.0 * TIME)
NONE = np.zeros(10, bool)


def test_difference_rate_and_time_above_the_mark():
    measured = measure(RAMP, NONE, 2.0, 6.5)
    assert measured.difference == pytest.approx(450.0)
    assert measured.rate == pytest.approx(100.0)
    assert measured.level == pytest.approx(200.0)
    assert measured.above_s == pytest.approx(4.5)
    assert measured.words == "+450 °C, +100.0 °C/s, above 200 for 4.5 s"


def test_backwards_the_difference_turns_and_the_time_above_is_that_between():
    measured = measure(RAMP, NONE, 6.5, 2.0)
    assert measured.difference == pytest.approx(-450.0)
    assert measured.rate == pytest.approx(100.0)
    assert measured.above_s == pytest.approx(0.0)


def test_no_duration_has_no_rate():
    assert measure(RAMP, NONE, 3.0, 3.0).rate is None


def test_without_a_value_at_one_end_there_is_no_measure():
    breaks = NONE.copy()
    breaks[5] = True
    assert measure(RAMP, breaks, 2.0, 5.5) is None
    assert measure(RAMP, NONE, 2.0, 50.0) is None


@given(st.floats(0.0, 10.0), st.floats(0.0, 10.0))
def test_the_time_above_is_never_longer_than_the_time_between(first, second):
    wave = Channel("itt", "degC", TIME, np.cos(TIME) * 50)
    measured = measure(wave, NONE, first, second)
    assert 0.0 <= measured.above_s <= abs(second - first) + 1e-9


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
