"""Seconds beyond a level are counted once: the finding, the gauge and the cursors tell the same number."""

import pickle
import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from debrief.analysis import assess
from debrief.profile.model import AllowedRow, Band, Limit, WhereCondition
from debrief.recording.model import Channel, Recording
from debrief.report.charts.lane_traces import lanes_of
from debrief.session.lanes.lane_plan import level_lines
from debrief.session.limits.instrument_readings import Instrument
from debrief.session.limits.lane_bands import band_shades
from debrief.session.limits.limit_clock import judged_levels, windows_of
from debrief.session.texts.in_units import in_units
from debrief.words.channels import base_name
from debrief.words.display_units import shown_units
from tests.analysis import fuzz_assess
from tests.analysis.recording_making import PROFILE, RUNNING_LIMIT, START_LIMIT, normal_start, recording
from tests.demo_assessing import DEMOS, assessed

FOREIGN = shown_units({"temperature": "degF", "pressure": "bar", "speed": "km/h"})


def told_by_all(assessment):
    """Hold every event of a limit against gauge and cursors; return how many the cursors named by themselves."""
    named = 0
    for event in assessment.events:
        if event.limit_id is None or event.duration_s is None:
            continue
        name, engine = base_name(event.channel), event.engine
        instrument = Instrument(assessment, name, engine)
        gauge = [
            state.used_s
            for state in instrument.read(event.end_s).states
            if (state.limit.id, state.row.level) == (event.limit_id, event.level)
        ]
        # One that may have been beyond between samples only has no second that was counted.
        assert any(abs(used - event.duration_s) < 1e-6 for used in gauge or [0.0]), (event, gauge)
        (level,) = [
            one
            for one in judged_levels(assessment, name, event.unit, engine)
            if (one.limit.id, one.row.level) == (event.limit_id, event.level)
        ]
        if event.duration_s == 0 and event.start_number is not None:
            # Only possible: where it may have been, a run of the start before may have gone on and been counted.
            continue
        seconds, least, most = level.seconds_between(event.start_s, event.end_s)
        assert seconds == pytest.approx(event.duration_s, abs=1e-6)
        assert least <= seconds + 1e-9
        assert seconds <= most + 1e-9
        between = instrument.measured(event.start_s, event.end_s)
        if between is not None and between.limit is not None and between.limit.level == event.level:
            assert between.limit.seconds >= event.duration_s - 1e-6
            if between.limit.limit_id == event.limit_id:
                assert between.limit.seconds == pytest.approx(event.duration_s, abs=1e-6)
                named += 1
    return named


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
def test_in_every_demo_flight_gauge_and_cursors_tell_each_finding_s_seconds(path):
    assessment = assessed(path)
    assert told_by_all(assessment) == told_by_all(in_units(assessment, FOREIGN))


def test_the_demo_flights_have_findings_that_the_cursors_name():
    assert sum(told_by_all(assessed(path)) for path in DEMOS) >= 6


def over_idle():
    """A start above 830 degC from 25 s on that reaches idle at 29 s and is above until 60 s: 35 s and a bit."""
    traces = normal_start()
    traces["itt"] = [(0, 15), (22, 15), (24, 800), (25, 850), (58, 850), (61, 750), (80, 540)]
    traces["ng"] = [(0, 0), (10, 0), (17, 20), (22, 20), (29, 58.5), (80, 59)]
    return assess(recording(traces, 80.0), PROFILE)


def test_a_run_that_outlasts_the_start_is_counted_to_its_end_by_all():
    assessment = over_idle()
    (event,) = [e for e in assessment.events if e.kind == "hot_start"]
    (start,) = assessment.starts
    # By hand: up at 24.6 s, half-way to the line's 850 at 25 s; down at 58.6 s, a fifth of 3 s behind 58 s.
    assert (event.start_s, event.end_s) == pytest.approx((24.6, 58.6))
    assert start.window_end_s < 35.0
    itt = Instrument(assessment, "itt")
    for time_s in (start.window_end_s + 1.0, 44.5, 44.7, event.end_s):
        (state,) = [s for s in itt.read(time_s).states if s.limit.id == "itt-start"]
        assert state.used_s == pytest.approx(time_s - 24.6)
        assert state.exceeded == (time_s > 44.6)
    # The running limit has the same level and counts from idle on: what is written is the longer.
    shown = itt.read(event.end_s)
    assert shown.exceeded
    assert shown.running.used_s == pytest.approx(34.0)
    assert not itt.read(event.end_s + 0.1).exceeded
    told = itt.measured(event.start_s, event.end_s).limit
    assert (told.limit_id, told.seconds) == ("itt-start", pytest.approx(34.0))
    (level,) = [
        one
        for one in judged_levels(assessment, "itt", "degC")
        if (one.limit, one.row.level) == (START_LIMIT, 830)
    ]
    assert level.seconds_between(0.0, 80.0)[0] == pytest.approx(event.duration_s, abs=1e-9)
    # The overtemperature after idle is the same run and ends with it: the cursors name the start's limit for both.
    assert [e.kind for e in assessment.events] == ["hot_start", "overtemp"]
    assert told_by_all(assessment) == 1


def test_the_level_is_drawn_as_long_as_it_is_counted_and_only_that_level():
    assessment = over_idle()
    (start,) = assessment.starts
    assert windows_of(assessment, START_LIMIT) == ((start.begin_s, pytest.approx(58.6)),)
    ends = {
        line.level: line.end_s
        for line in level_lines(assessment, assessment.recording.channels["itt"])
        if line.when == "start"
    }
    assert ends == pytest.approx({830.0: 58.6, 920.0: start.window_end_s, 1030.0: start.window_end_s})
    (lane,) = lanes_of(assessment, [("itt", 1.0)], 1, 0.0, 80.0)
    paper = {line.level: line.end_s for line in lane.levels if "running" not in line.label}
    assert paper == pytest.approx(ends)


def banded(method, points):
    limit = replace(START_LIMIT, band_base=825.0, band_method=method, bands=(Band("I", points, ""),))
    assessment = assess(over_idle().recording, replace(PROFILE, limits=(limit,)))
    (shade,) = band_shades(assessment, assessment.recording.channels["itt"])
    assert shade.end_s == pytest.approx(58.6, abs=0.2)
    return shade


def test_a_band_goes_on_as_long_as_its_seconds_are_counted():
    # Above 825 from 24.5 s to 58.75 s: 34.25 s, where the edge from 6 to 60 s has fallen by 28.25 / 54 of its 90 degC.
    shade = banded("peak_vs_time_above", ((830.0, 60.0), (920.0, 6.0)))
    assert shade.lowest == pytest.approx(920.0 - 90.0 * 28.25 / 54.0)
    # Above 830 the 20 s are used up at 44.6 s, long after idle.
    shade = banded("curve", ((830.0, 20.0), (920.0, 6.0)))
    assert shade.corners[shade.corners[:, 1] == 830.0][:, 0].min() == pytest.approx(44.6)


def test_what_is_not_judged_is_not_counted():
    limit = replace(RUNNING_LIMIT, where=(WhereCondition("torque", above=10.0),))
    assessment = assess(recording(normal_start(900.0), 80.0), replace(PROFILE, limits=(limit,)))
    (result,) = assessment.limits
    assert result.result == "not_judged"
    assert result.counted == ()
    itt = Instrument(assessment, "itt")
    assert itt.read(30.0).value > 830.0
    assert itt.read(30.0).states == ()
    assert itt.measured(24.0, 40.0).limit is None


def test_what_was_counted_is_read_only_also_after_pickling():
    counted = over_idle().limits[0].counted
    for one in (counted, pickle.loads(pickle.dumps(counted))):
        assert one[0].used_before_s.tolist() == [0.0]
        for array in (one[0].pieces, one[0].low, one[0].high, one[0].run, one[0].start_number):
            with pytest.raises(ValueError, match="read-only"):
                array[...] = 0


LIMITS = st.builds(
    Limit,
    id=st.just("made"),
    event=st.just("overtemp"),
    channel=st.just("itt"),
    when=st.sampled_from(["start", "start", "running", "any"]),
    unit=st.just("degC"),
    count=st.sampled_from(["total", "longest"]),
    allowed=st.sampled_from(
        [
            (AllowedRow(830, 20), AllowedRow(920, 6), AllowedRow(1030, 0)),
            (AllowedRow(600, 3, "caution"), AllowedRow(830, 2)),
            (AllowedRow(800, 0),),
        ]
    ),
    rejoin_s=st.sampled_from([0.0, 2.0, 5.0]),
)


@settings(max_examples=120, deadline=None)
@given(
    LIMITS,
    st.lists(st.sampled_from([500.0, 700.0, 829.0, 830.0, 835.0, 925.0, 1040.0]), min_size=2, max_size=60),
    st.sampled_from([0.25, 1.0, 1.0, 3.0]),
    st.lists(st.integers(0, 200), max_size=12),
    st.booleans(),
)
def test_in_made_starts_gauge_and_cursors_tell_each_finding_s_seconds(limit, tops, step_s, lost, twice):
    made = recording(normal_start(), 160.0, 1.0 / step_s if step_s > 0.25 else 4.0)
    channels = dict(made.channels)
    itt = channels["itt"]
    values = itt.values.copy()
    lit = np.flatnonzero(itt.time_s >= 24.0)[: len(tops)]
    values[lit] = tops[: lit.size]
    keep = np.ones(values.size, bool)
    keep[[k for k in lost if k < values.size - 2]] = False
    channels["itt"] = Channel("itt", "degC", itt.time_s[keep], values[keep], resolution=1.0)
    if twice:
        starter = channels["starter"]
        channels["starter"] = replace(
            starter, values=np.where((starter.time_s > 60) & (starter.time_s < 80), 1.0, starter.values)
        )
    assessment = assess(
        Recording(channels, made.duration_s), replace(PROFILE, limits=(limit, *PROFILE.limits))
    )
    assume(any(event.limit_id for event in assessment.events))
    told_by_all(assessment)
    told_by_all(in_units(assessment, FOREIGN))


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 2**32))
def test_in_hostile_recordings_gauge_and_cursors_tell_each_finding_s_seconds(seed):
    rng = random.Random(seed)
    told_by_all(assess(fuzz_assess.a_recording(rng), rng.choice(fuzz_assess.profiles())))
