from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis.model import LimitResult, LimitWindow, Phase
from debrief.profile.model import AllowedRow, Limit
from debrief.recording.model import Channel
from debrief.session.limits.limit_clock import judged_levels, running_windows, windows_of
from tests.session import assessment_maker as made


def _states(assessment, time_s):
    levels = judged_levels(assessment, "itt", "degC")
    return tuple(state for level in levels for state in level.states(time_s))


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
    level = assessment.events[1].levels[-1]
    state = _states(assessment, level.end_s - 1e-6)[-1]
    assert state.row.level == 1030.0
    assert state.used_s == pytest.approx(level.duration_s, abs=1e-3)
    assert state.exceeded


def test_a_level_allowed_for_a_time_is_not_exceeded_before_that_time_is_used():
    assessment = made.hot_start()
    begin = assessment.events[1].levels[0].start_s
    states = {s.row.level: s for s in _states(assessment, begin + 0.5)}
    assert states[830.0].used_s == pytest.approx(0.5, abs=0.01)
    assert not states[830.0].exceeded


def test_outside_the_window_no_level_is_passed():
    assessment = made.hot_start()
    assert _states(assessment, 100.0) == ()


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
    recording = assessment.recording.with_channels({"itt": Channel("itt", "degC", time, values)})
    assessment = made.counted(replace(assessment, recording=recording))
    joined = _states(assessment, 20.0)[0]
    limit = replace(limit, rejoin_s=1.0)
    assessment = made.counted(replace(assessment, profile=replace(made.profile(), limits=(limit,))))
    alone = _states(assessment, 20.0)[0]
    # Crossings by hand: down at 9.675 s, up at 11.325 s.
    assert joined.used_s == pytest.approx(20.0 - 1.65)
    assert alone.used_s == pytest.approx(20.0 - 11.325)
