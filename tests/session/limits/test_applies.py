from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.analysis.model import LimitResult, LimitWindow, Phase
from debrief.profile.model import AllowedRow, Limit
from debrief.recording.model import Channel
from debrief.session.limits.limit_clock import LimitClock, running_windows, runs_beyond, windows_of
from tests.session import assessment_maker as made


def _no_breaks(time):
    return np.zeros(max(time.size - 1, 0), bool)


def test_a_run_begins_and_ends_where_the_line_crosses_the_level():
    time = np.array([0.0, 1.0, 2.0, 3.0])
    values = np.array([800.0, 840.0, 840.0, 800.0])
    begins, ends = runs_beyond(time, values, _no_breaks(time), 830.0, False, 0.0, 3.0)
    assert begins.tolist() == pytest.approx([0.75])
    assert ends.tolist() == pytest.approx([2.25])


def test_equal_to_the_level_is_not_beyond():
    time = np.array([0.0, 1.0, 2.0])
    values = np.array([830.0, 830.0, 830.0])
    begins, _ = runs_beyond(time, values, _no_breaks(time), 830.0, False, 0.0, 2.0)
    assert begins.size == 0


def test_nothing_is_claimed_across_a_gap():
    time = np.array([0.0, 1.0, 10.0, 11.0])
    values = np.full(4, 900.0)
    begins, ends = runs_beyond(time, values, np.array([False, True, False]), 830.0, False, 0.0, 11.0)
    assert (ends - begins).sum() == pytest.approx(2.0)


@settings(max_examples=80, deadline=None)
@given(st.lists(st.floats(0.0, 100.0), min_size=2, max_size=40), st.floats(1.0, 99.0))
def test_time_beyond_and_time_not_beyond_make_up_the_window(values, level):
    array = np.array(values)
    time = np.arange(array.size) * 0.5
    end = float(time[-1])
    above = np.subtract(*runs_beyond(time, array, _no_breaks(time), level, False, 0.0, end)[::-1]).sum()
    below = np.subtract(*runs_beyond(time, array, _no_breaks(time), level, True, 0.0, end)[::-1]).sum()
    equal = 0.5 * np.count_nonzero((array[:-1] == level) & (array[1:] == level))
    assert above + below + equal == pytest.approx(end)


def test_a_limit_applies_where_the_analysis_says_that_it_did():
    assessment = made.hot_start()
    start_limit, running = made.profile().limits
    assert windows_of(assessment, start_limit) == ((10.0, 45.0),)
    assert windows_of(assessment, start_limit, engine=2) == ()
    assert windows_of(assessment, running) == ()


def test_the_engine_runs_where_its_running_limit_applies():
    assessment = made.hot_start()
    window = LimitWindow(40.0, 90.0, 39.0, 41.0, 89.0, 91.0)
    first, second = assessment.limits
    judged = replace(assessment, limits=(first, replace(second, windows=(window,))))
    assert running_windows(judged) == ((40.0, 90.0),)


def test_without_a_running_limit_the_phases_tell_where_the_engine_runs():
    assessment = made.hot_start()
    assessment = replace(assessment, profile=replace(made.profile(), limits=()))
    assert running_windows(assessment) == ()
    phases = (Phase("start", 0.0, 40.0), Phase("ground", 40.0, 80.0), Phase("shutdown", 80.0, 95.0))
    end = assessment.recording.duration_s
    assert running_windows(replace(assessment, phases=phases)) == ((40.0, 80.0), (95.0, end))
    assert running_windows(replace(assessment, phases=())) == ()


def test_the_seconds_used_end_at_what_the_event_says():
    assessment = made.hot_start()
    clock = LimitClock(assessment, assessment.recording.channels["itt"], "itt")
    level = assessment.events[1].levels[-1]
    state = clock.states(level.end_s - 1e-6)[-1]
    assert state.row.level == 1030.0
    assert state.used_s == pytest.approx(level.duration_s, abs=1e-3)
    assert state.exceeded


def test_a_level_allowed_for_a_time_is_not_exceeded_before_that_time_is_used():
    assessment = made.hot_start()
    clock = LimitClock(assessment, assessment.recording.channels["itt"], "itt")
    begin = assessment.events[1].levels[0].start_s
    states = {s.row.level: s for s in clock.states(begin + 0.5)}
    assert states[830.0].used_s == pytest.approx(0.5, abs=0.01)
    assert not states[830.0].exceeded


def test_outside_the_window_no_level_is_passed():
    assessment = made.hot_start()
    clock = LimitClock(assessment, assessment.recording.channels["itt"], "itt")
    assert clock.states(100.0) == ()


def test_a_short_dip_does_not_begin_the_longest_run_anew():
    time = np.arange(0.0, 30.0, 0.5)
    values = np.full(time.size, 900.0)
    values[(time > 9.9) & (time < 11.1)] = 700.0
    assessment = made.many_events(1)
    limit = Limit("x", "overtemp", "itt", "any", "degC", "longest", (AllowedRow(830.0, 5.0),), rejoin_s=3.0)
    whole = LimitResult(
        "x", "overtemp", "itt", 1, "degC", "within", windows=(LimitWindow(0, 30, 0, 0, 30, 30),)
    )
    assessment = replace(assessment, profile=replace(made.profile(), limits=(limit,)), limits=(whole,))
    joined = LimitClock(assessment, Channel("itt", "degC", time, values), "itt").states(20.0)[0]
    limit = replace(limit, rejoin_s=1.0)
    assessment = replace(assessment, profile=replace(made.profile(), limits=(limit,)))
    alone = LimitClock(assessment, Channel("itt", "degC", time, values), "itt").states(20.0)[0]
    # Crossings by hand: down at 9.675 s, up at 11.325 s.
    assert joined.used_s == pytest.approx(20.0 - 1.65)
    assert alone.used_s == pytest.approx(20.0 - 11.325)
