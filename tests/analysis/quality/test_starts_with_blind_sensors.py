"""Starts whose sensors fail: nothing is said of a start that a dead or corrupt reading made."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment, StarterRun
from debrief.recording.model import Recording
from tests.analysis.recording_making import PROFILE, normal_start, recording

RESTED = (StarterRun(-90030.0, -90000.0, 30.0, 30.0, 30.0, "unknown"),)


def judged(made: Recording, earlier: tuple[StarterRun, ...] = RESTED) -> Assessment:
    return assess(made, PROFILE, earlier)


def start(**changed: list[tuple[float, float]]) -> Recording:
    made = recording(normal_start() | {"oat": [(0, 15)]} | changed, 80, 4.0, resolution=0.1)
    return made


def with_values(made: Recording, name: str, values: np.ndarray) -> Recording:
    channel = made.channels[name]
    return made.with_channels({**made.channels, name: replace(channel, values=values)})


def test_a_good_start_has_no_doubt() -> None:
    a = judged(start())
    assert [s.outcome for s in a.starts] == ["completed"]
    assert a.verdict == "within", a.sentence


@pytest.mark.parametrize("rate", [1.0, 4.0])
def test_a_speed_at_zero_while_the_engine_is_hot_is_no_failed_start(rate: float) -> None:
    made = recording(normal_start() | {"ng": [(0, 0.0), (80, 0.0)]}, 80, rate, resolution=0.1)
    a = judged(made)
    assert "Start failed" not in a.sentence
    assert "Do not attempt" not in a.sentence
    assert [e.kind for e in a.events if e.kind in ("hung_start", "early_fuel")] == []
    assert [q.channel for q in a.quality if q.kind == "dead_speed"] == ["ng"]
    assert a.verdict == "undetermined"
    assert any(p.core and "Ng read 0.0 % while ITT rose to" in p.why for p in a.not_judged)


def test_an_open_probe_on_a_standing_engine_is_no_dead_speed() -> None:
    made = recording(
        {"ng": [(0, 0)], "itt": [(0, 15), (20, 15), (20.25, 999), (80, 999)], "fuel_on": [(0, 0)]}, 80, 4.0
    )
    assert "dead_speed" not in [q.kind for q in judged(made).quality]


@pytest.mark.parametrize(("shift", "low"), [(-70.0, True), (25.0, False), (-12.0, None), (12.0, None)])
def test_a_cold_temperature_off_the_air_after_a_long_rest_is_said(shift: float, low: bool | None) -> None:
    made = start()
    a = judged(with_values(made, "itt", made.channels["itt"].values + shift))
    flags = [q for q in a.quality if q.kind == "cold_reading"]
    if low is None:
        assert flags == []
        return
    assert "before the start with the air at 15 °C, after a rest of 25 h" in flags[0].message
    # Low, limits may be missed; high, they may be met too early, which is said and no more.
    assert a.verdict == ("undetermined" if low else "within")
    assert {r.result for r in a.limits if r.channel == "itt"} == ({"not_judged"} if low else {"within"})


def test_what_is_exceeded_by_a_reading_that_is_low_is_exceeded() -> None:
    made = recording(normal_start(1110.0) | {"oat": [(0, 15)]}, 80, 4.0, resolution=0.1)
    a = judged(with_values(made, "itt", made.channels["itt"].values - 70.0))
    assert a.verdict == "exceeded"
    assert {e.sensor_suspect for e in a.events if e.kind == "hot_start"} == {False}


def test_heat_of_an_earlier_run_and_a_probe_of_the_air_in_the_sun_are_no_doubt() -> None:
    made = start()
    warm = with_values(made, "itt", made.channels["itt"].values + 60.0)
    assert "cold_reading" not in [q.kind for q in judged(warm, ()).quality]
    sunny = start(oat=[(0, 40)])
    assert "cold_reading" not in [q.kind for q in judged(sunny, ()).quality]


@pytest.mark.parametrize("rate", [1.0, 4.0, 16.0])
@pytest.mark.parametrize("fuelled", [True, False])
def test_corrupt_rows_while_motoring_are_no_light_off(rate: float, fuelled: bool) -> None:
    traces = normal_start()
    if not fuelled:
        del traces["fuel_on"], traces["starter"]
    made = recording(traces, 80, rate, resolution=0.1)
    t = made.channels["itt"].time_s
    values = made.channels["itt"].values.copy()
    for begin in (14.0, 18.0):
        values[(t >= begin) & (t < begin + 1.5)] = 166.0
    a = judged(with_values(made, "itt", values))
    (only,) = a.starts
    assert only.outcome == "completed"
    assert only.light_off_s == pytest.approx(23.0, abs=1.0 / rate)


@pytest.mark.parametrize("rate", [1.0, 4.0])
def test_a_speed_that_is_lost_in_a_start_tells_no_outcome(rate: float) -> None:
    # From 38 s on, at some 42 %; the start goes on to idle at 48 s, which nobody sees.
    made = recording(
        normal_start()
        | {
            "fuel_flow": [(0, 0), (22, 0), (22.1, 40), (30, 60), (48, 80), (80, 80)],
            "torque": [(0, 0), (30, 0), (48, 8), (80, 8)],
        },
        80,
        rate,
        resolution=0.1,
    )
    t, values = made.channels["ng"].time_s, made.channels["ng"].values.copy()
    values[t >= 38] = 0.0
    a = judged(with_values(made, "ng", values))
    assert [e.kind for e in a.events if e.severity in ("limit", "possible")] == []
    (only,) = a.starts
    assert only.outcome == "unknown"
    assert a.verdict == "undetermined"
