"""Faults that the study found in the analysis, each by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment
from debrief.profile.model import AllowedRow, EngineProfile, Limit
from debrief.recording.model import Channel, Recording
from tests.analysis.recording_making import RULES, START_LIMIT, Corners, normal_start, recording

TORQUE = Limit("torque", "overtorque", "torque", "running", "%", "longest", (AllowedRow(50.0, 1.0),))


def without(made: Recording, begin: float, end: float) -> Recording:
    """Return the recording without the rows from one instant to another."""
    channels = {}
    for name, channel in made.channels.items():
        keep = (channel.time_s <= begin) | (channel.time_s >= end)
        channels[name] = Channel(name, channel.unit, channel.time_s[keep], channel.values[keep])
    return Recording(channels, made.duration_s)


def judged(
    traces: dict[str, Corners], rate_hz: float = 4.0, resolution: float | None = None, **limits: object
) -> Assessment:
    profile = EngineProfile("Test", start=RULES, **limits)  # type: ignore[arg-type]
    return assess(recording(traces, 80, rate_hz, resolution), profile)


def test_fuel_that_never_lit_is_told_also_in_a_start_that_then_succeeds() -> None:
    # Fuel from 10.5 s to 21 s without a flame (10.5 s, allowed 10 s), again from 22 s, lit at 23 s, idle at 47 s.
    traces = normal_start() | {"fuel_on": [(0, 0), (10.5, 1), (21, 0), (22, 1)]}
    (event,) = [e for e in judged(traces).events if e.kind == "no_light_off"]
    assert event.reason is None
    assert event.duration_s == 10.5
    # Off between 20.75 s and 21 s, on between 10.25 s and 10.5 s.
    assert (event.duration_low_s, event.duration_high_s) == (10.25, 10.75)


def test_a_flame_before_the_first_sample_with_fuel_is_no_burning_after_the_cut_before_it() -> None:
    # Sampled once a second, and nothing from 20 s to 24 s: fuel is first seen at 24 s, the flame of 23 s with it.
    traces = normal_start() | {"fuel_on": [(0, 0), (15, 1), (18, 0), (22, 1)]}
    made = without(recording(traces, 80, rate_hz=1.0), 20.0, 24.0)
    got = assess(made, EngineProfile("Test", start=RULES))
    assert not [e for e in got.events if e.kind == "burning_after_cut"]


def test_a_start_limit_is_only_possible_where_no_ng_shows_when_the_start_was_over() -> None:
    limit = replace(START_LIMIT, allowed=(AllowedRow(500, 20),))  # ITT stays above 500 at idle
    traces = normal_start()
    assert [e.severity for e in judged(traces, limits=(limit,)).events if e.kind == "hot_start"] == ["limit"]
    del traces["ng"]
    found = [e.severity for e in judged(traces, limits=(limit,)).events if e.kind == "hot_start"]
    assert found == ["possible"]


def test_the_temperature_at_fuel_is_bounded_by_what_it_was_at_the_last_sample_without_fuel() -> None:
    # ITT falls by 10 degC a second; once a second, fuel is off at 21 s (190 degC) and on at 22 s (180 degC).
    itt = [(0, 400), (22.5, 175), (24, 175), (27, 560), (31, 700), (48, 560), (80, 540)]
    (start,) = judged(normal_start() | {"itt": itt}, rate_hz=1.0).starts
    residual = start.measures["residual_itt_fuel_on"]
    assert residual.value == pytest.approx(180.0)
    assert residual.low is not None
    assert residual.high is not None
    assert residual.low <= 180.0
    assert residual.high >= 190.0 - 1e-9


def test_the_light_off_is_at_the_bend_where_the_temperature_crept_up_before() -> None:
    # 2 degC a second while motoring, then 180 degC a second from 23 s on.
    itt = [(0, 15), (15, 15), (23, 31), (26, 571), (30, 700), (48, 560), (80, 540)]
    (start,) = judged(normal_start() | {"itt": itt}).starts
    assert start.light_off_s == 23.0


def test_time_is_surely_above_a_level_only_where_a_reading_half_a_step_lower_would_be_too() -> None:
    # In steps of 5 a reading of 710 may be 707.5: above 709.97 for sure only from 715 on.
    limit = replace(START_LIMIT, allowed=(AllowedRow(709.97, 0),))
    itt = [(0, 15), (23, 15), (26, 710), (32, 710), (32.1, 400), (48, 400), (80, 400)]
    got = judged(normal_start() | {"itt": itt}, resolution=5.0, limits=(limit,))
    (event,) = [e for e in got.events if e.kind == "hot_start"]
    assert event.severity == "possible"  # by less than half a step
    assert event.duration_low_s == 0.0
    assert not event.certain


def test_a_battery_that_comes_back_while_the_starter_helps_is_no_generator() -> None:
    # Rest 25.2 V; cranked until 28 s, it rests at 23 V before the starter helps again at 32 s, and recovers to
    # 24.5 V while the starter is on: below its first resting voltage, so nothing generates.
    volts = [
        (0, 25.2),
        (10, 25.2),
        (10.1, 19.5),
        (28, 21),
        (28.2, 23),
        (32, 23),
        (32.2, 20),
        (36, 24.5),
        (80, 24.5),
    ]
    starter = [(0, 0), (10, 1), (28, 0), (32, 1), (46, 0)]
    (start,) = judged(normal_start() | {"starter": starter, "bus_volts": volts}).starts
    assert [run.end_s for run in start.starter_runs] == [28.0, 46.0]
    assert start.notes == ()


def test_a_run_that_the_fuel_cut_ends_is_bounded_by_the_samples_beside_the_cut() -> None:
    # Torque stands at 60 % from before idle until after the cut. Fuel is on in the sample at 70 s and off in that
    # at 71 s: the cut came between. The run began at idle, between 47 s and 48 s (Ng passes 57 % at 47.03 s).
    # So it lasted at least 70 - 48 = 22 s and at most 71 - 47 = 24 s.
    traces = normal_start() | {"torque": [(0, 60), (80, 60)], "fuel_on": [(0, 0), (22, 1), (70.5, 0)]}
    got = assess(recording(traces, 80, rate_hz=1.0), EngineProfile("Test", start=RULES, limits=(TORQUE,)))
    (event,) = [e for e in got.events if e.kind == "overtorque"]
    assert event.duration_low_s is not None
    assert event.duration_high_s is not None
    assert event.duration_low_s <= 22.0
    assert event.duration_high_s >= 23.9


def test_a_start_is_not_too_slow_where_a_gap_hides_whether_it_idled() -> None:
    # Lit at 23 s. Ng passes 57 % at 47.03 s and stays above; nothing was recorded from 48 s to 51 s. Idle was due
    # 26 s after light-off, at 49 s, inside the gap: whether the three seconds of idle had begun is not known,
    # and in truth they had.
    made = without(recording(normal_start(), 80, rate_hz=10.0), 48.0, 51.0)
    rules = replace(RULES, idle_within_s=26.0, hung_ng_rate_pct_per_s=None)
    got = assess(made, EngineProfile("Test", start=rules))
    assert not [e for e in got.events if e.kind == "hung_start" and e.severity in ("limit", "caution")]
