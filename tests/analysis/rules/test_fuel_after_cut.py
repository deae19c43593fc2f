"""Fuel that flows on after its cut-off: beside the meter's own zero, and never the meter's noise, lag or offset."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.model import Event
from debrief.profile.model import EngineProfile
from debrief.recording.model import Recording
from tests.analysis.recording_making import PROFILE, Corners, normal_start, recording

CUT_S, END_S = 100.0, 200.0
RUN = normal_start() | {
    "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (48, 58.5), (CUT_S, 59), (120, 8), (160, 0)],
    "itt": [(0, 15), (23, 15), (26, 560), (30, 700), (48, 560), (CUT_S, 540), (130, 200), (200, 150)],
    "fuel_on": [(0, 0), (22, 1), (CUT_S, 0)],
}


def flow(rate_hz: float, lag_s: float, leak: float, until_s: float, offset: float, noise: float) -> Recording:
    """Return a run of which the flow meter lags, leaks from the cut-off on, and has an offset and noise."""
    made = recording(RUN | {"fuel_flow": [(0, 0)]}, END_S, rate_hz)
    channel = made.channels["fuel_flow"]
    t = channel.time_s
    true = np.where((t >= 22) & (t < CUT_S), 90.0, np.where((t >= CUT_S) & (t < until_s), leak, 0.0))
    fine = np.zeros_like(true)
    for k in range(1, t.size):
        fine[k] = fine[k - 1] + (true[k] - fine[k - 1]) * (1 - np.exp(-(t[k] - t[k - 1]) / max(lag_s, 1e-9)))
    values = np.round(fine + offset + np.random.default_rng(3).normal(0, noise, t.size), 1)
    return made.with_channels({**made.channels, "fuel_flow": replace(channel, values=values, resolution=0.1)})


def found(
    rate_hz: float = 4.0, lag_s: float = 0.3, leak: float = 0.0, until_s: float = 150.0, offset: float = 0.0,
    noise: float = 0.06, profile: EngineProfile = PROFILE,
) -> list[Event]:  # fmt: skip
    one = assess(flow(rate_hz, lag_s, leak, until_s, offset, noise), profile)
    return [event for event in one.events if event.kind == "fuel_after_cut"]


@pytest.mark.parametrize("rate_hz", [0.5, 1.0, 4.0, 16.0])
@pytest.mark.parametrize("offset", [0.0, 0.5, 4.0, -3.0])
def test_a_valve_that_leaks_is_a_caution_with_flow_and_time(rate_hz: float, offset: float) -> None:
    (event,) = found(rate_hz=rate_hz, leak=10.0, offset=offset)
    assert (event.severity, event.start_number) == ("caution", 1)
    assert event.peak == pytest.approx(10.0, abs=0.3)
    assert event.duration_s == pytest.approx(50.0, abs=2.5)
    assert "10 kg/h" in event.message
    assert event.evidence is not None
    assert event.evidence.values


@pytest.mark.parametrize("offset", [0.5, 4.0, 12.0, -3.0])
@pytest.mark.parametrize("rate_hz", [1.0, 4.0])
def test_an_offset_that_was_there_before_the_start_is_no_flow(offset: float, rate_hz: float) -> None:
    assert found(offset=offset, rate_hz=rate_hz) == []


@pytest.mark.parametrize("noise", [0.0, 0.5, 1.5, 4.0])
def test_noise_is_no_flow(noise: float) -> None:
    assert found(noise=noise) == []


@pytest.mark.parametrize("lag_s", [1.0, 3.0, 6.0, 10.0])
def test_a_slow_meter_is_no_flow(lag_s: float) -> None:
    assert found(lag_s=lag_s) == []


def test_a_flow_to_the_end_of_the_recording_lasts_at_least_so_long() -> None:
    (event,) = found(leak=10.0, until_s=END_S + 1)
    assert event.duration_high_s is None
    assert "at least 100.0 s" in event.message


def test_a_meter_that_stands_still_is_no_flow() -> None:
    assert found(leak=90.0, until_s=END_S + 1) == []


def test_a_drip_shorter_than_ten_seconds_is_not_told() -> None:
    assert found(leak=10.0, until_s=CUT_S + 12) == []


@pytest.mark.parametrize("missing", ["fuel_flow", "fuel_on"])
def test_without_switch_or_meter_nothing_is_told(missing: str) -> None:
    made = flow(4.0, 0.3, 10.0, 150.0, 0.0, 0.06)
    one = assess(made.with_channels({k: v for k, v in made.channels.items() if k != missing}), PROFILE)
    assert [event for event in one.events if event.kind == "fuel_after_cut"] == []


def test_without_a_zero_before_the_start_the_zero_after_the_leak_serves() -> None:
    def tail(offset: float, until_s: float) -> list[Corners]:
        whole = flow(4.0, 0.3, 10.0, until_s, offset, 0.06)
        later = whole.channels["fuel_flow"].time_s >= 60
        cut = {
            name: replace(one, time_s=one.time_s[later] - 60.0, values=one.values[later])
            for name, one in whole.channels.items()
        }
        events = assess(Recording(cut, END_S - 60.0), PROFILE).events
        return [event for event in events if event.kind == "fuel_after_cut"]

    assert len(tail(2.0, 120.0)) == 1
    assert tail(2.0, END_S + 1) == []  # what it shows for ever may be its zero
