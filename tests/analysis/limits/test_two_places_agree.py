"""What is told in two places of an assessment is the same number in both; what is certain is so by its bounds."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment, StarterRun
from tests.analysis.recording_making import PROFILE, RULES, normal_start, recording

RESTED = (StarterRun(-90000.0, -89970.0, 30.0, 30.0, 30.0, "battery"),)


def judge(traces, end_s: float = 80.0, rate_hz: float = 8.0, **rules) -> Assessment:
    profile = replace(PROFILE, start=replace(RULES, **rules))
    return assess(recording(traces, end_s, rate_hz), profile, RESTED)


def test_the_margin_of_a_start_limit_is_to_the_peak_of_its_event():
    # Idle at 47.03 s on the way up; 1050 degC at 50 s in the run above 830 that began before.
    itt = [(0, 15), (23, 15), (26, 560), (40, 760), (45, 840), (50, 1050), (60, 830), (65, 600), (80, 540)]
    a = judge(normal_start() | {"itt": itt})
    (event,) = [e for e in a.events if e.kind == "hot_start"]
    (result,) = [r for r in a.limits if r.id == "itt-start"]
    (start,) = a.starts
    assert event.peak == start.peak_itt_c == 1050.0
    # 840 to 1050 from 45 to 50 s: above 920 at 47.03 s, so that counts to its end; above 1030 only after the start.
    assert (event.level, result.nearest_level) == (920, 920)
    assert result.margin_value == pytest.approx(920 - 1050)


@pytest.mark.parametrize("starter", [[(0, 0), (10, 1), (46, 0)], [(0, 0), (10, 1)], None])
def test_the_lowest_voltage_of_the_event_is_the_measured_one(starter):
    # 17 V from 12 to 14 s; after the start, at 70 s, 16 V of another cause.
    traces = normal_start() | {
        "bus_volts": [(0, 25), (10, 25), (10.125, 19), (12, 19), (12.125, 17), (14, 17), (14.125, 20), (46, 22), (69, 23),
                      (70, 16), (71, 23), (80, 23)],
    }  # fmt: skip
    traces = {k: v for k, v in (traces | {"starter": starter}).items() if v is not None}
    a = judge(traces)
    (start,) = a.starts
    (event,) = [e for e in a.events if (e.kind, e.reason) == ("low_start_voltage", "cranking")]
    volts = dict(zip(*(x.tolist() for x in (a.recording.channels["bus_volts"].time_s,
                                            a.recording.channels["bus_volts"].values)), strict=True))  # fmt: skip
    assert event.peak == start.min_bus_volts == start.measures["min_bus_volts"].value
    assert volts[event.peak_s] == event.peak
    assert event.duration_s == pytest.approx(sum(b - a for a, b in event.spans))


def test_a_late_light_off_is_certain_only_where_its_bounds_are_late():
    # Fuel at 22 s, lit at 35.5 s, which 8 Hz tells for sure; or at 34.5 s, which 0.5 Hz tells to 32 to 36 s.
    traces = normal_start() | {"itt": [(0, 15), (32.5, 15), (36, 560), (40, 700), (60, 560), (80, 540)],
                               "ng": [(0, 0), (10, 0), (17, 20), (33, 20), (58, 58.5), (80, 59)]}  # fmt: skip
    late = traces | {"itt": [(t + (3 if t > 0 else 0), v) for t, v in traces["itt"]]}
    close = traces | {"itt": [(t + (2 if t > 0 else 0), v) for t, v in traces["itt"]]}
    for made, rate_hz, certain in ((late, 8.0, True), (close, 0.5, False)):
        (event,) = [e for e in judge(made, 90, rate_hz).events if e.kind == "no_light_off"]
        assert event.duration_s > 10.0
        assert event.certain == (event.duration_low_s > 10.0) == certain


def test_fuel_that_had_not_lit_when_the_recording_ends_was_on_for_at_least_so_long():
    traces = normal_start() | {
        "itt": [(0, 15)],
        "ng": [(0, 0), (10, 0), (17, 20), (80, 20)],
        "starter": [(0, 0), (10, 1)],
    }
    (event,) = [e for e in judge(traces, 45).events if e.kind == "no_light_off"]
    assert (event.duration_s, event.duration_low_s, event.duration_high_s) == (23.0, 23.0, None)
    assert "at least 23.0 s" in event.message


def test_fuel_back_too_soon_is_certain_only_where_its_bounds_are_short():
    # Cut at 31 s, back after 14.75 s of motoring: 14 to 16 s at 1 Hz.
    traces = normal_start() | {
        "ng": [(0, 0), (10, 0), (17, 20), (60, 20), (80, 40)], "itt": [(0, 15)],
        "fuel_on": [(0, 0), (22, 1), (31, 0), (45, 1)], "starter": [(0, 0), (10, 1), (70, 0)],
    }  # fmt: skip
    for rate_hz, certain in ((8.0, True), (0.5, False)):
        (event,) = [e for e in judge(traces, 80, rate_hz).events if e.kind == "fuel_reintroduced"]
        assert event.duration_high_s is not None
        assert event.certain == (event.duration_high_s < 15.0) == certain
