"""Facts of the trade as check values: common practice, no source. A profile of its own holds them.

Fuel not before 13 % Ng and better once Ng has stabilised; with a 25 V bus a start below about 17 V should be
stopped; the starter 30 s at most; motoring until ITT is below 150 degC before the next attempt.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.analysis import assess
from debrief.profile.model import AbortRules, DutyRow, EngineProfile, StarterRules
from tests.analysis.recording_making import RULES, normal_start, recording

PRACTICE = EngineProfile(
    "Common practice, no source",
    start=replace(
        RULES,
        min_fuel_ng_pct=13.0,
        advised_fuel_ng_pct=None,
        nominal_bus_volts=25.0,
        min_bus_volts_before=None,
        min_bus_volts=17.0,
        max_residual_itt_c=150.0,
    ),
    starter=StarterRules(duty=(DutyRow(30, 60),)),
    abort=AbortRules(motor_until_itt_c=150.0),
)


def found(traces, end_s=80.0):
    a = assess(recording(traces, end_s), PRACTICE)
    return {(e.kind, e.severity, e.reason) for e in a.events}


def short_start(**changes):
    """Return a start that keeps to all four: 20 % and stable at fuel, 19.5 V, 28 s of starter, cold."""
    traces = normal_start(fuel_s=22.0) | {"starter": [(0, 0), (10, 1), (38, 0)]}
    return traces | changes


def test_a_start_that_keeps_to_the_practice_raises_nothing():
    assert found(short_start()) == set()


@pytest.mark.parametrize(("fuel_s", "early"), [(14.4, True), (14.7, False)])  # 12.6 % and 13.4 % Ng
def test_fuel_not_before_13_percent(fuel_s, early):
    traces = normal_start(fuel_s=fuel_s) | {"starter": [(0, 0), (10, 1), (38, 0)]}
    assert (("early_fuel", "limit", None) in found(traces)) is early


def test_ng_that_still_climbs_at_fuel_is_not_stabilised():
    climbing = assess(recording(normal_start(fuel_s=16.0), 80), PRACTICE)
    settled = assess(recording(normal_start(fuel_s=22.0), 80), PRACTICE)
    assert climbing.starts[0].ng_stable_at_fuel is False
    assert settled.starts[0].ng_stable_at_fuel is True


@pytest.mark.parametrize(("lowest", "low"), [(16.8, True), (17.2, False)])
def test_a_start_below_17_volts_should_have_been_stopped(lowest, low):
    corners = [(0, 25), (10, 25), (10.1, 20), (12, lowest), (13, 20), (40, 23), (50, 28), (80, 28)]
    assert (("low_start_voltage", "caution", "cranking") in found(short_start(bus_volts=corners))) is low


@pytest.mark.parametrize(("off_s", "long"), [(39.9, False), (40.5, True)])
def test_the_starter_runs_30_seconds_at_most(off_s, long):
    starter = [(0, 0), (10, 1), (off_s, 0)]
    assert (("starter_overrun", "limit", "run_too_long") in found(short_start(starter=starter))) is long


@pytest.mark.parametrize(("heat_c", "hot"), [(148.0, False), (152.0, True)])
def test_the_engine_is_motored_below_150_degrees_before_the_next_fuel(heat_c, hot):
    itt = [(0, heat_c), (22, heat_c), (23, heat_c), (26, 560), (31, 700), (48, 560), (80, 540)]
    assert (("residual_heat", "caution", None) in found(short_start(itt=itt))) is hot
