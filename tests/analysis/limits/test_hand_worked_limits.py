"""Limits against a hand calculation, each from the definition's own words. The working is in the test."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment, Event
from debrief.analysis.signal.interval_sets import intersect
from debrief.analysis.signal.time_curve import time_above_curve
from debrief.analysis.signal.traces import Trace
from debrief.profile.model import AllowedRow, FlightRules, Limit, WhereCondition
from debrief.recording.model import Channel, Recording
from tests.analysis.recording_making import PROFILE, RUNNING_LIMIT, START_LIMIT, normal_start, recording

RUNNING = {"ng": [(0, 95), (600, 95)], "fuel_on": [(0, 1)]}


def with_limits(*limits: Limit, **changes):
    return replace(PROFILE, limits=limits, **changes)


def of(a: Assessment, kind: str, severity: str | None = None) -> list[Event]:
    return [e for e in a.events if e.kind == kind and severity in (None, e.severity)]


def test_two_runs_over_the_limit_inside_one_caution_run_are_two_events():
    # One run above 780 from 8.89 s to 301.11 s. Inside it ITT passes 830 on (50,790)-(51,850) at 50 + 40/60,
    # comes back on (60,850)-(61,790) at 60 + 20/60: 9.667 s; and again from 200 + 40/70 to 210 + 30/70: 9.857 s.
    limit = replace(RUNNING_LIMIT, allowed=(AllowedRow(780, 100, "caution"), AllowedRow(830, 5)))
    itt = [(0, 700), (10, 790), (50, 790), (51, 850), (60, 850), (61, 790), (200, 790), (201, 860), (210, 860),
           (211, 790), (300, 790), (310, 700), (600, 700)]  # fmt: skip
    a = assess(recording(RUNNING | {"itt": itt}, 600), with_limits(limit))
    first, second = of(a, "overtemp", "limit")
    assert (first.start_s, first.end_s) == pytest.approx((50 + 2 / 3, 60 + 1 / 3))
    assert (first.peak, second.peak) == (850.0, 860.0)
    assert second.duration_s == pytest.approx(10 + 3 / 7 - 4 / 7)
    (caution,) = of(a, "overtemp", "caution")
    assert (caution.start_s, caution.end_s) == pytest.approx((10 - 10 / 9, 300 + 10 / 9))
    assert caution.peak == 860.0


def in_progress_at_idle(rate_hz: float) -> Assessment:
    # 830 is passed upward on (30,700)-(40,850) at 38.667 s and downward on (50,900)-(56,640) at 51.615 s.
    # Idle is at 47.026 s, while it is above: the run counts to its end, 12.949 s.
    itt = [(0, 15), (23, 15), (26, 560), (30, 700), (40, 850), (50, 900), (56, 640), (80, 560)]
    limit = replace(START_LIMIT, allowed=(AllowedRow(830, 10), AllowedRow(920, 6)))
    return assess(recording(normal_start() | {"itt": itt}, 80, rate_hz=rate_hz), with_limits(limit))


@pytest.mark.parametrize("rate_hz", [1.0, 10.0])
def test_a_run_in_progress_at_idle_keeps_its_upper_bound_and_its_peak(rate_hz):
    (e,) = of(in_progress_at_idle(rate_hz), "hot_start")
    up, down = 30 + 10 * 130 / 150, 50 + 6 * 70 / 260
    step = 1 / rate_hz
    below = np.floor(up / step) * step, np.ceil(down / step) * step
    if rate_hz == 10.0:  # every corner is a sample, so the drawn lines are the recorded ones
        assert (e.start_s, e.end_s) == pytest.approx((up, down))
        assert e.duration_s == pytest.approx(down - up)
    assert e.duration_high_s == pytest.approx(below[1] - below[0])
    assert e.peak == pytest.approx(900.0)
    assert e.peak_s == pytest.approx(50.0)


def test_only_a_possible_exceedance_tells_the_higher_sample_and_how_high_it_may_have_been():
    # At 1 Hz: 700, 760, 820, 820, 760, 700. The lines through the neighbours meet half way at 850.
    values = np.concatenate((np.full(20, 700.0), [760, 820, 820, 760], np.full(20, 700.0)))
    t = np.arange(values.size, dtype=float)
    rec = Recording(
        {
            "itt": Channel("itt", "degC", t, values),
            "ng": Channel("ng", "%", t, np.full(t.size, 95.0)),
            "fuel_on": Channel("fuel_on", "0/1", t, np.ones(t.size)),
        },
        float(t[-1]),
    )
    limit = replace(RUNNING_LIMIT, allowed=(AllowedRow(830, 0),))
    (e,) = of(assess(rec, with_limits(limit)), "overtemp")
    assert (e.severity, e.certain, e.peak) == ("possible", False, 820.0)
    assert e.peak_high == pytest.approx(850.0)
    # Above 830 on the prolonged lines from 21 + 10/60 s to 22 - 10/60 s.
    assert e.duration_high_s == pytest.approx(1 - 2 * 10 / 60)
    assert (e.duration_s, e.duration_low_s) == (0.0, 0.0)


def test_peak_high_of_a_run_reaches_into_the_interval_past_its_last_sample():
    # 1 Hz: 700, 760, 835, 810, 700: above 830 only at 22 s. Lines 760->835 and 810->700 prolonged into
    # 22..23 s, the first once more steeper by 75/60: 835 + 93.75 x = 810 + 110 (1 - x), x = 85/203.75.
    values = np.concatenate((np.full(20, 700.0), [760, 835, 810], np.full(20, 700.0)))
    t = np.arange(values.size, dtype=float)
    rec = Recording(
        {
            "itt": Channel("itt", "degC", t, values),
            "ng": Channel("ng", "%", t, np.full(t.size, 95.0)),
            "fuel_on": Channel("fuel_on", "0/1", t, np.ones(t.size)),
        },
        float(t[-1]),
    )
    (e,) = of(assess(rec, with_limits(replace(RUNNING_LIMIT, allowed=(AllowedRow(830, 0),)))), "overtemp")
    assert e.peak == 835.0
    assert e.peak_high == pytest.approx(835 + 93.75 * 85 / 203.75)


def test_the_limit_of_an_exceedance_that_rests_on_a_spike_is_possible_too():
    values = np.full(1200, 700.0)
    values[600] = 1200.0
    t = np.arange(values.size) / 10.0
    rec = Recording(
        {
            "itt": Channel("itt", "degC", t, values),
            "ng": Channel("ng", "%", t, np.full(t.size, 95.0)),
            "fuel_on": Channel("fuel_on", "0/1", t, np.ones(t.size)),
        },
        float(t[-1]),
    )
    limit = replace(RUNNING_LIMIT, allowed=(AllowedRow(830, 5), AllowedRow(1000, 0)))
    a = assess(rec, with_limits(limit, max_rate={"itt": 600.0}))
    (e,) = of(a, "overtemp")
    assert (e.severity, e.sensor_suspect, a.limits[0].result, a.verdict) == (
        "possible", True, "possible", "possible",
    )  # fmt: skip


def oil(where: WhereCondition) -> Limit:
    return Limit("oil", "oil_press_low", "oil_press", "any", "psi", "longest", (AllowedRow(45, 5),), below=True,
                 where=(where,))  # fmt: skip


def test_a_condition_on_a_switch_holds_its_value_and_draws_no_line_between_0_and_1():
    # The switch is sampled once a second: off up to 9 s, on from 10 s, off again at 20 s. Held, it is on for
    # exactly 10 s; a line between its samples would make that 9.5 .. 19.5 s.
    t, slow = np.arange(401) / 10.0, np.arange(41.0)
    rec = Recording(
        {
            "oil_press": Channel("oil_press", "psi", t, np.full(t.size, 30.0)),
            "generator_on": Channel("generator_on", "0/1", slow, ((slow >= 10) & (slow < 20)).astype(float)),
        },
        40.0,
    )
    (e,) = of(assess(rec, with_limits(oil(WhereCondition("generator_on", above=0.5)))), "oil_press_low")
    assert (e.start_s, e.end_s) == pytest.approx((10.0, 20.0))
    assert e.duration_s == pytest.approx(10.0)
    (e,) = of(assess(rec, with_limits(oil(WhereCondition("generator_on", equals=1.0)))), "oil_press_low")
    assert (e.start_s, e.end_s) == pytest.approx((10.0, 20.0))


def test_a_stale_condition_is_not_judged_and_counts_nothing():
    # The switch says on up to 10 s, then nothing until 30 s. Held on is known for 0..10 s only.
    t = np.arange(401) / 10.0
    slow = np.concatenate((np.arange(11.0), np.arange(30.0, 41.0)))
    rec = Recording(
        {
            "oil_press": Channel("oil_press", "psi", t, np.full(t.size, 60.0) - 30.0 * ((t > 12) & (t < 28))),
            "generator_on": Channel("generator_on", "0/1", slow, np.ones(slow.size)),
        },
        40.0,
    )
    a = assess(rec, with_limits(oil(WhereCondition("generator_on", equals=1.0))))
    assert of(a, "oil_press_low") == []
    assert a.limits[0].result == "not_judged"
    (point,) = [n for n in a.not_judged if n.limit_id == "oil"]
    assert (point.channel, point.start_s, point.end_s) == ("generator_on", 10.0, 30.0)


def test_where_airspeed_is_silent_it_is_neither_ground_nor_air():
    t = np.arange(0, 201.0)
    ias_t = np.concatenate((np.arange(0, 51.0), np.arange(100, 201.0)))
    rec = Recording(
        {
            "torque": Channel("torque", "%", t, np.where((t > 60) & (t < 90), 105.0, 50.0)),
            "ias": Channel("ias", "kt", ias_t, np.full(ias_t.size, 120.0)),
        },
        200.0,
    )
    ground = Limit("t", "overtorque", "torque", "ground", "%", "longest", (AllowedRow(100, 5),))
    a = assess(rec, with_limits(ground, flight=FlightRules(airborne_ias_kt=68.0)))
    assert of(a, "overtorque") == []
    assert a.limits[0].result == "not_judged"


def test_the_worst_run_of_a_start_is_told_even_where_a_longer_one_is_allowed():
    # Longest-run counting in one start: 834 for 4 s (allowed 5) is longer than no run, but the run cut by the
    # recording's end is "at least" 3 s and may be over.
    itt = [(0, 15), (23, 15), (26, 560), (30, 800), (30.1, 834), (34.1, 834), (34.2, 800), (37.9, 800),
           (38, 834), (41, 834)]  # fmt: skip
    ng = [(0, 0), (10, 0), (17, 20), (23, 20), (41, 50)]
    limit = replace(START_LIMIT, count="longest", allowed=(AllowedRow(830, 5),))
    a = assess(recording(normal_start() | {"itt": itt, "ng": ng}, 41.0), with_limits(limit))
    (e,) = of(a, "hot_start")
    assert (e.severity, e.duration_high_s) == ("possible", None)
    assert e.end_s == pytest.approx(41.0)


def test_time_in_both_sets_against_brute_force():
    rng = np.random.default_rng(5)
    for _ in range(50):
        a = np.sort(rng.choice(400, 40, replace=False).astype(float)).reshape(-1, 2)
        b = np.sort(rng.choice(400, 24, replace=False).astype(float)).reshape(-1, 2)
        grid = np.arange(400) + 0.5
        inside = [((x[:, 0] <= g) & (g <= x[:, 1])).any() for x in (a, b) for g in grid]
        both = np.array(inside[:400]) & np.array(inside[400:])
        rows = intersect(a, b)
        assert (rows[:, 1] - rows[:, 0]).sum() == both.sum()
        assert np.all(rows[1:, 0] > rows[:-1, 1])


@pytest.mark.parametrize("seed", range(6))
def test_the_time_at_temperature_curve_is_that_of_each_level_by_itself(seed):
    # Each level by cutting every straight line on its own; gaps count nothing and end a run.
    rng = np.random.default_rng(seed)
    t = np.cumsum(rng.choice([0.1, 0.1, 0.1, 3.0], 80))
    v = np.round(700 + np.cumsum(rng.normal(0, 20, 80)))
    trace = Trace(t, v, np.diff(t) > 1.0)
    begin, end = float(t[10]) + 0.03, float(t[60]) + 0.07
    curve = time_above_curve(trace, np.array([[begin, end]]), "itt", "degC", 600.0)
    assert len(curve.levels) > 10
    for level, total, longest in zip(curve.levels, curve.total_s, curve.longest_s, strict=True):
        pieces: list[list[float]] = []
        for i in range(79):
            a, b = max(t[i], begin), min(t[i + 1], end)
            if b <= a or trace.gap[i]:
                continue
            va, vb = (v[i] + (x - t[i]) / (t[i + 1] - t[i]) * (v[i + 1] - v[i]) for x in (a, b))
            if max(va, vb) <= level:
                continue
            cross = a if va == vb else a + (level - va) / (vb - va) * (b - a)
            row = [a if va > level else cross, b if vb > level else cross]
            if pieces and pieces[-1][1] == row[0] and va > level:
                pieces[-1][1] = row[1]
            else:
                pieces.append(row)
        lengths = [b - a for a, b in pieces]
        assert total == pytest.approx(sum(lengths), abs=1e-9)
        assert longest == pytest.approx(max(lengths, default=0.0), abs=1e-9)


def test_the_upper_bound_reaches_to_half_a_step_below_the_level_and_its_rule_says_so() -> None:
    # Whole degrees, four a second: 827 at 10.5, 830 from 10.75 to 11.0, 831 from 11.25 to 19.75, 829 at 20.0.
    times = np.arange(0.0, 30.1, 0.25)
    values = np.select([times < 10.75, times < 11.25, times < 20.0], [827.0, 830.0, 831.0], 829.0)
    trace = Channel("itt", "degC", times, values, resolution=1.0)
    profile = replace(PROFILE, limits=(RUNNING_LIMIT,))
    running = Channel("ng", "%", times, np.full_like(times, 70.0))
    found = assess(Recording({"itt": trace, "ng": running}, 30.0), profile)
    (event,) = (e for e in found.events if e.kind == "overtemp")
    # up: 829.5 on the line from 827 to 830; down: the first sample below, 829 at 20.0
    assert event.duration_high_s == pytest.approx(20.0 - (10.5 + 0.25 * 2.5 / 3.0))
    assert event.duration_low_s == pytest.approx(19.75 - 11.25)
    assert event.evidence is not None
    assert "half a step of the recorder and two deviations of the noise" in event.evidence.formula
