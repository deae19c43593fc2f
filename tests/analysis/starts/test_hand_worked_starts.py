"""Starts against a hand calculation, each from the definition's own words. The working is in the test."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment, StarterRun
from debrief.analysis.signal.traces import lowest_before
from debrief.profile.model import AllowedRow, Limit
from debrief.recording.model import Channel, Recording
from tests.analysis.recording_making import PROFILE, START_LIMIT, normal_start, recording

RESTED = (StarterRun(-90000.0, -89970.0, 30.0, 30.0, 30.0, "battery"),)
TORQUE = Limit("tq", "overtorque", "torque", "running", "%", "longest", (AllowedRow(100, 5),))


def judge(traces, end_s: float = 80.0, profile=PROFILE, **options) -> Assessment:
    return assess(recording(traces, end_s, **options), profile, RESTED)


def kinds(a: Assessment) -> list[tuple[str, str]]:
    return [(e.kind, e.severity) for e in a.events]


def without(rec: Recording, name: str, begin: float, end: float) -> Recording:
    """Return the recording with this channel's samples between two instants left out."""
    c = rec.channels[name]
    keep = (c.time_s <= begin) | (c.time_s >= end)
    return rec.with_channels({**rec.channels, name: replace(c, time_s=c.time_s[keep], values=c.values[keep])})


# A recording that begins inside a start: fuel on and Ng at 40 % at its first sample.
INSIDE = {
    "ng": [(0, 40), (12, 58.5), (60, 59)],
    "itt": [(0, 690), (12, 560), (60, 540)],
    "fuel_on": [(0, 1)],
    "starter": [(0, 1), (10, 0)],
    "torque": [(0, 0), (30, 0), (30.1, 110), (50, 110), (50.1, 0), (60, 0)],
}


def test_a_recording_that_begins_lit_below_idle_is_lit_and_what_came_before_is_unknown():
    a = judge(INSIDE, 60, replace(PROFILE, limits=(TORQUE,)))
    (s,) = a.starts
    # Ng passes 57 % at 12 * 17 / 18.5 s.
    assert s.idle_s == pytest.approx(12 * 17 / 18.5)
    assert (s.kind, s.outcome) == ("ground", "completed")
    assert (s.starter_on_s, s.fuel_on_s, s.light_off_s, s.ng_at_fuel_pct) == (None, None, None, None)
    # Not one word about fuel, light-off or residual heat that nobody saw; the running limit is judged.
    assert kinds(a) == [("overtorque", "limit")]
    assert {"Ng at fuel", "time from fuel to light-off", "residual heat"} <= {n.what for n in a.not_judged}
    assert s.peak_itt_c == 690.0


def test_a_start_that_was_lit_before_the_recording_leaves_its_start_limits_open():
    a = judge(INSIDE, 60)
    (point,) = [n for n in a.not_judged if n.limit_id == START_LIMIT.id]
    assert point.core
    assert point.why == "the recording begins when the engine was already lit"
    assert a.verdict == "undetermined"
    assert {r.id: r.result for r in a.limits}[START_LIMIT.id] == "not_judged"
    # What is seen to be too hot is said all the same.
    hot = judge(INSIDE | {"itt": [(0, 1090), (8, 1090), (9, 600), (60, 600)]}, 60)
    assert hot.verdict == "exceeded"
    # Fuel that was on before the recording, but not lit yet: all of the heat is seen.
    cold = INSIDE | {"itt": [(0, 20), (3, 20), (6, 690), (60, 600)], "ng": [(0, 20), (18, 58), (60, 61)]}
    seen = judge(cold, 60)
    assert not [n for n in seen.not_judged if n.limit_id == START_LIMIT.id]
    # One that runs at idle when the recording begins has no start in it.
    idling = judge({"ng": [(0, 60), (60, 60)], "itt": [(0, 600), (60, 600)], "fuel_on": [(0, 1)]}, 60)
    assert not [n for n in idling.not_judged if n.limit_id == START_LIMIT.id]


def test_a_recording_that_begins_and_ends_inside_a_start_is_incomplete_not_a_failed_light_off():
    a = judge(INSIDE | {"ng": [(0, 40), (12, 48)]}, 12)
    assert [s.outcome for s in a.starts] == ["incomplete"]
    assert kinds(a) == []


def test_a_recording_that_begins_inside_a_start_without_a_fuel_signal_is_lit_too():
    traces = {k: v for k, v in INSIDE.items() if k not in ("fuel_on", "starter")}
    a = judge(traces, 60, replace(PROFILE, limits=(TORQUE,)))
    assert [(e.kind, e.start_s) for e in a.events] == [("overtorque", pytest.approx(30 + 0.1 * 100 / 110))]


@pytest.mark.parametrize("missing", [("itt",), ("itt", "fuel_on"), ("fuel_on",)])
def test_a_running_engine_is_lit_whatever_tells_of_it(missing):
    traces = {
        "ng": [(0, 90), (60, 90)],
        "itt": [(0, 700), (60, 700)],
        "fuel_on": [(0, 1)],
        "torque": INSIDE["torque"],
    }
    for name in missing:
        del traces[name]
    a = judge(traces, 60, replace(PROFILE, limits=(TORQUE,)))
    assert a.began_running
    assert kinds(a) == [("overtorque", "limit")]


def test_without_itt_and_fuel_an_engine_that_reaches_idle_has_started_and_runs():
    traces = normal_start() | {"torque": [(0, 0), (60, 0), (60.1, 110), (75, 110), (75.1, 0), (80, 0)]}
    for name in ("itt", "fuel_on"):
        del traces[name]
    a = judge(traces, 80, replace(PROFILE, limits=(TORQUE,)))
    assert [s.outcome for s in a.starts] == ["completed"]
    assert a.starts[0].idle_s == pytest.approx(23 + 25 * 37 / 38.5)
    assert a.starts[0].light_off_s is None
    assert ("overtorque", "limit") in kinds(a)


def test_dead_itt_is_no_failed_light_off_where_the_engine_reaches_idle():
    a = judge(normal_start() | {"itt": [(0, 15), (80, 15)]})
    (s,) = a.starts
    assert (s.outcome, s.light_off_s) == ("completed", None)
    assert ("no_light_off", "limit") not in kinds(a)
    assert "light-off" in [n.what for n in a.not_judged]
    assert a.verdict == "undetermined"


def test_no_flow_recorded_is_fuel_recorded_off():
    a = judge(
        {"ng": [(0, 60), (10, 60), (30, 3)], "itt": [(0, 500), (30, 200)], "fuel_flow": [(0, 0), (30, 0)]}, 30
    )
    assert not a.began_running


AIR_RELIGHT = {
    "ng": [(0, 90), (60, 90), (75, 20), (80, 14), (90, 20), (91, 20), (125, 58.5), (160, 60)],
    "itt": [(0, 700), (60, 700), (66, 350), (90, 250), (91, 250), (94, 600), (100, 700), (125, 560), (160, 560)],
    "fuel_on": [(0, 1)],
    "starter": [(0, 0), (82, 1), (120, 0)],
    "weight_on_wheels": [(0, 0)],
    "torque": [(0, 0), (80, 0), (80.1, 110), (95, 110), (95.1, 0), (160, 0)],
}  # fmt: skip


def test_a_flame_out_in_flight_ends_the_flame_and_the_start_after_it_is_found():
    a = judge(AIR_RELIGHT, 160, replace(PROFILE, limits=(TORQUE,)))
    (s,) = a.starts
    assert (s.kind, s.outcome, s.starter_on_s, s.light_off_s) == ("assisted_air", "completed", 82.0, 91.0)
    assert s.fuel_on_s is None  # the lever stood on all the time
    # 57 % on (91, 20)-(125, 58.5).
    assert s.idle_s == pytest.approx(91 + 34 * 37 / 38.5)
    # Not lit from 60 s to 91 s, in a start until idle: the running limit applies to none of 80..95 s.
    assert ("overtorque", "limit") not in kinds(a)


def test_a_power_reduction_to_idle_is_no_flame_out():
    traces = {
        "ng": [(0, 95), (60, 95), (66, 60), (120, 60)],
        "itt": [(0, 750), (60, 750), (66, 500), (120, 480)],
        "fuel_on": [(0, 1)],
    }
    a = judge(traces, 120)
    running = a.flight_measures["running_time"].value
    assert running == pytest.approx(120.0)
    assert a.starts == ()


def test_a_slow_heat_soak_before_it_does_not_hide_a_fire_after_the_cut():
    # After the cut at 35 s: 60 s of soak at 1 degC/s, then 260 to 450 degC in 15 s, 12.7 degC/s.
    itt = [(0, 15), (23, 15), (28, 600), (35, 600), (45, 200), (105, 260), (120, 450), (150, 300), (200, 200)]
    traces = normal_start() | {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (30, 30), (35, 30), (60, 3), (200, 0)],
        "itt": itt,
        "fuel_on": [(0, 0), (22, 1), (35, 0)],
        "starter": [(0, 0), (10, 1), (40, 0)],
    }
    (e,) = [e for e in judge(traces, 200).events if e.kind == "burning_after_cut"]
    assert e.peak == 450.0
    assert e.end_s == pytest.approx(120.0)
    assert "at up to 13 °C/s" in e.message
    # The same soak without the fire, and a rise of 150 degC in exactly 30 s: not faster than 5 degC/s.
    slow = [(0, 15), (23, 15), (28, 600), (35, 600), (45, 200), (75, 350), (200, 200)]
    assert "burning_after_cut" not in [k for k, _ in kinds(judge(traces | {"itt": slow}, 200))]


def test_a_hang_in_the_first_of_two_fuel_periods_is_told():
    # Lit 23 s, 34 to 34.5 % from 33 s to 50 s, cut at 50 s under the starter, fuel again at 68 s, idle at 98.8 s.
    traces = normal_start() | {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 34), (50, 34.5), (56, 20), (69, 20), (99, 58.5), (130, 59)],
        "itt": [(0, 15), (23, 15), (28, 700), (50, 750), (60, 150), (69, 120), (73, 600), (75, 700), (99, 560),
                (130, 550)],
        "fuel_on": [(0, 0), (22, 1), (50, 0), (68, 1)],
        "starter": [(0, 0), (10, 1), (95, 0)],
        "bus_volts": [(0, 25.2), (10, 25.2), (10.1, 19.5), (130, 24)],
    }  # fmt: skip
    a = judge(traces, 130)
    (s,) = a.starts
    assert (s.outcome, len(s.fuel_periods)) == ("completed", 2)
    (e,) = [e for e in a.events if e.kind == "hung_start"]
    assert (e.severity, e.recovered, e.reason) == ("caution", True, "stagnated")
    assert e.end_s == pytest.approx(50.0)


def test_fuel_that_came_inside_a_gap_in_ng_came_at_an_unknown_ng():
    # Ng turns from 0 to 20 % from 10 s to 17 s; the last sample before the gap says 11 %, fuel came after it.
    ng = [(0, 0), (10, 0), (17, 20), (23, 20), (48, 58.5), (80, 59)]
    rec = recording(normal_start() | {"ng": ng, "fuel_on": [(0, 0), (14, 1)]}, 80)
    a = assess(without(rec, "ng", 13.9, 16.0), PROFILE, RESTED)
    assert a.starts[0].ng_at_fuel_pct is None
    assert "early_fuel" not in [k for k, _ in kinds(a)]
    assert "Ng at fuel" in [n.what for n in a.not_judged]


def test_a_heading_across_north_is_no_line_through_south():
    # Heading 359 then 1 degrees, starter on between the two samples; wind 10 kt from 350: headwind 10 cos 9..11.
    rec = recording(normal_start() | {"wind_speed": [(0, 10)], "wind_from": [(0, 350)]}, 80)
    t = np.array([0.0, 9.5, 10.5, 80.0])
    rec = rec.with_channels(
        {**rec.channels, "heading": Channel("heading", "deg", t, np.array([359.0, 359, 1, 1]))}
    )
    head = assess(rec, PROFILE, RESTED).starts[0].measures["headwind"].value
    assert head == pytest.approx(10 * np.cos(np.radians(9)), abs=0.05)


def test_voltage_lost_when_the_starter_engages_is_never_a_value():
    rec = recording(
        normal_start() | {"battery_amps": [(0, 5), (10, 5), (10.1, 600), (22, 250), (46, 100)]}, 80
    )
    s = assess(without(rec, "bus_volts", 9.5, 13.0), PROFILE, RESTED).starts[0]
    for name in ("min_bus_volts", "source_resistance"):
        assert s.measures[name].value is None
        assert s.measures[name].why == "voltage lost at starter on"
    assert s.rest_bus_volts == pytest.approx(25.2)


def test_the_lowest_voltage_is_that_of_every_engagement_of_the_attempt():
    # A second engagement at 32 s, while lit and below idle, pulls the bus to 17 V.
    traces = normal_start() | {
        "starter": [(0, 0), (10, 1), (30, 0), (32, 1), (46, 0)],
        "bus_volts": [(0, 25.2), (10, 25.2), (10.1, 19.5), (30, 23), (32, 24), (32.1, 17), (40, 17), (46, 20),
                      (50, 24), (80, 24)],
    }  # fmt: skip
    a = judge(traces)
    assert a.starts[0].min_bus_volts == pytest.approx(17.0)
    assert ("low_start_voltage", "caution") in kinds(a)


def test_a_rest_of_exactly_the_reset_is_a_reset_whatever_the_last_digit():
    earlier = (
        StarterRun(-2400.0 + 10.0 - 30.0 + 1e-10, -2400.0 + 10.0 + 1e-10, 30.0, 30.0, 30.0, "battery"),
    )
    traces = normal_start()
    a = assess(recording(traces, 80), PROFILE, earlier)
    assert a.starts[0].starter_on_s == 10.0
    assert "starter_overrun" not in [k for k, _ in kinds(a)]


def test_the_measured_time_above_a_level_is_the_one_of_the_event():
    itt = [(0, 15), (23, 15), (26, 560), (30, 700), (40, 850), (50, 900), (56, 640), (80, 560)]
    profile = replace(PROFILE, limits=(replace(PROFILE.limits[0], allowed=(AllowedRow(830, 10),)),))
    a = judge(normal_start() | {"itt": itt}, 80, profile)
    (e,) = a.events
    m = a.starts[0].measures["time_above_830"]
    assert (m.value, m.low, m.high) == (e.duration_s, e.duration_low_s, e.duration_high_s)


def test_time_above_is_at_least_where_the_recording_ends_above():
    traces = normal_start() | {"itt": [(0, 15), (23, 15), (26, 560), (30, 850), (40, 850)]}
    a = judge(traces, 40.0)
    assert a.starts[0].measures["time_above_830"].high is None


def test_lowest_before_is_the_window_minimum():
    rng = np.random.default_rng(3)
    t = np.cumsum(rng.uniform(0.01, 2.0, 400))
    v = rng.normal(size=400)
    out = lowest_before(t, v, 3.0)
    assert np.isnan(out[0])
    for k in range(1, 400):
        inside = [v[i] for i in range(k) if t[i] >= t[k] - 3.0] or [v[k - 1]]
        assert out[k] == min(inside)
