"""Starts of which the recording holds a part, or that one of its channels does not show: said is what holds all the same."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment
from debrief.recording.model import Channel, Recording
from debrief.report.content.phrases import start_headline
from tests.analysis.recording_making import PROFILE, Corners, normal_start, recording

RATES = (1.0, 4.0, 16.0)
RELEASE = [(0, 15), (23, 15), (26, 560), (30, 700), (43, 620), (46, 600), (47.5, 670), (55, 590), (80, 540)]
"""ITT of a start that lights at 23 s and rises by 70 degC as the starter lets go at 46 s."""


def _from(made: Recording, begin_s: float) -> Recording:
    """Return the recording from an instant on, its clock beginning there."""
    channels = {}
    for name, one in made.channels.items():
        kept = one.time_s >= begin_s
        channels[name] = replace(one, time_s=one.time_s[kept] - begin_s, values=one.values[kept])
    return Recording(channels, made.duration_s - begin_s)


def _judged(
    traces: dict[str, Corners], rate_hz: float, begin_s: float = 0.0, end_s: float = 80.0
) -> Assessment:
    return assess(_from(recording(traces, end_s, rate_hz), begin_s), PROFILE)


@pytest.mark.parametrize("rate_hz", RATES)
@pytest.mark.parametrize("fuel", [True, False])
def test_a_rise_of_a_burning_engine_is_no_light_off(rate_hz: float, fuel: bool) -> None:
    traces = normal_start() | {"itt": RELEASE}
    if not fuel:
        del traces["fuel_on"]
    found = _judged(traces, rate_hz, begin_s=35.0)
    (start,) = found.starts
    assert start.outcome == "completed"
    assert start.light_off_s is None
    for name in ("light_off_to_idle", "residual_itt_fuel_on", "residual_itt_starter_on", "ng_at_starter_on"):
        assert start.measures[name].value is None, name
    if fuel:
        # What was hotter, and what lower, before the recording began nobody knows.
        assert start.measures["peak_itt"].high is None
        assert "peak at least 6" in start_headline(start)
    assert start.measures["min_bus_volts"].low is None
    assert "lowest at most" in start_headline(start)
    # Of the whole start it is no light-off either, and the true one is found.
    (whole,) = _judged(traces, rate_hz).starts
    assert whole.light_off_s == pytest.approx(23.0, abs=1.1)


def _dead_below(made: Recording, least_pct: float) -> Recording:
    ng = made.channels["ng"]
    # Its zero has a step of the recorder here and there, as a real one has.
    nothing = 0.1 * (np.arange(ng.values.size) % 7 == 3)
    seen = np.where(ng.values < least_pct, nothing, ng.values)
    return made.with_channels(dict(made.channels) | {"ng": replace(ng, values=seen, resolution=0.1)})


SLOW = [(0, 0), (10, 0), (14, 7), (17, 10.5), (22, 15), (30, 19), (34, 20), (60, 58.5), (80, 59)]


@pytest.mark.parametrize("rate_hz", RATES)
def test_a_speed_that_the_pick_up_does_not_see_is_bounded_and_not_zero(rate_hz: float) -> None:
    # Fuel at 15.1 s, at 8.3 %; the pick-up shows nothing below 10 %.
    traces = normal_start(fuel_s=15.1) | {"ng": SLOW}
    (start,) = assess(_dead_below(recording(traces, 80, rate_hz), 10.0), PROFILE).starts
    at_fuel, engaged = start.measures["ng_at_fuel"], start.measures["ng_at_starter_on"]
    for measure, true in ((at_fuel, 8.3), (engaged, 0.0)):
        assert measure.value is None
        assert measure.low is not None
        assert measure.high is not None
        assert measure.low <= true <= measure.high <= 13.0
        assert "reads nothing below" in (measure.why or "")
    assert start.ng_stable_at_fuel is None
    found = assess(_dead_below(recording(traces, 80, rate_hz), 10.0), PROFILE)
    # It came in below 15 % in any case.
    assert [e.severity for e in found.events if e.kind == "early_fuel"] == ["limit"]
    assert any(p.what == "Ng at starter on" for p in found.not_judged)
    # One that shows all of it is believed.
    (seen,) = assess(recording(traces, 80, rate_hz), PROFILE).starts
    assert seen.measures["ng_at_starter_on"].value is not None
    assert seen.measures["ng_at_fuel"].value == pytest.approx(8.3, abs=1.5)


@pytest.mark.parametrize("rate_hz", RATES)
def test_where_the_pick_up_is_dead_the_bus_tells_when_the_starter_came(rate_hz: float) -> None:
    traces = normal_start(fuel_s=30.0) | {"ng": SLOW}
    del traces["starter"]
    found = assess(_dead_below(recording(traces, 80, rate_hz), 10.0), PROFILE)
    (start,) = found.starts
    assert start.starter_on_s == pytest.approx(10.0, abs=1.1 / rate_hz)
    assert start.rest_bus_volts == pytest.approx(25.2)
    assert not [e for e in found.events if e.kind == "low_start_voltage"]


def test_without_ng_a_cut_start_is_not_called_aborted() -> None:
    traces = normal_start() | {"fuel_on": [(0, 0), (22, 1), (60, 0)]}
    del traces["ng"]
    found = _judged(traces, 4.0)
    assert found.starts[0].outcome == "unknown"
    assert not found.events
    assert "aborted" not in found.sentence
    assert "outcome of the start" in found.sentence
    assert found.verdict == "undetermined"


def test_on_a_bench_no_start_windmills() -> None:
    # The recording begins while a starter that was not recorded turns it.
    traces = {name: corners for name, corners in normal_start().items() if name in ("ng", "itt", "bus_volts")}
    (bench,) = _judged(traces, 4.0, begin_s=18.0).starts
    assert bench.kind == "ground"
    fuelled = traces | {"fuel_on": normal_start()["fuel_on"]}
    assert [s.kind for s in _judged(fuelled, 4.0, begin_s=18.0).starts] == ["ground"]


@pytest.mark.parametrize("rate_hz", RATES)
def test_no_fuel_cut_is_inferred_while_itt_climbs(rate_hz: float) -> None:
    # The starter lets go at 40 s: Ng sags and ITT climbs until the cut at 60 s.
    traces = normal_start() | {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (40, 34), (60, 30), (85, 3), (120, 0)],
        "itt": [(0, 15), (23, 15), (30, 600), (40, 640), (60, 800), (64, 400), (120, 250)],
        "starter": [(0, 0), (10, 1), (40, 0)],
    }
    del traces["fuel_on"]
    (start,) = _judged(traces, rate_hz, end_s=120.0).starts
    assert start.fuel_off_s == pytest.approx(60.0, abs=1.1)
    # The recording ends while it still burns: no cut at all.
    (burning,) = _judged(traces, rate_hz, end_s=58.0).starts
    assert burning.fuel_off_s is None


@pytest.mark.parametrize("rate_hz", RATES)
def test_the_lowest_voltage_of_a_starter_that_was_not_recorded_is_at_most(rate_hz: float) -> None:
    # The bus is pulled down the most after light-off, while the starter is still on.
    traces = normal_start() | {
        "bus_volts": [
            (0, 25.2),
            (10, 25.2),
            (10.1, 21.5),
            (30, 20.0),
            (33, 19.2),
            (40, 23),
            (50, 24),
            (80, 28),
        ]
    }
    del traces["starter"]
    (start,) = _judged(traces, rate_hz).starts
    lowest = start.measures["min_bus_volts"]
    assert lowest.low is None
    assert lowest.high is not None
    assert lowest.high >= 19.2
    assert "lowest at most" in start_headline(start)


def test_heat_that_came_with_the_flame_is_no_residual_heat() -> None:
    # One row in 5 s: fuel at 22 s and light-off at 23 s lie between 20 s and 25 s.
    made = recording(normal_start(), 80, 10.0)
    kept = np.arange(0, 801, 50)
    channels = {n: Channel(n, c.unit, c.time_s[kept], c.values[kept]) for n, c in made.channels.items()}
    found = assess(Recording(channels, 80.0), PROFILE)
    assert not [e for e in found.events if e.kind == "residual_heat"]
    (point,) = (p for p in found.not_judged if p.what == "residual heat")
    assert "may have lit" in point.why
    residual = found.starts[0].measures["residual_itt_fuel_on"]
    assert (residual.value, found.starts[0].residual_itt_c) == (None, None)
    assert residual.low is not None
    assert residual.high is not None
    assert residual.low <= 15.0 < 200.0 <= residual.high
    # Heat that was there before is told.
    warm = normal_start() | {"itt": [(0, 260), (23, 230), (26, 560), (30, 700), (48, 560), (80, 540)]}
    assert [e.kind for e in _judged(warm, 4.0).events if e.kind == "residual_heat"] == ["residual_heat"]
