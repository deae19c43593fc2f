"""Heat that was left in an engine is none where the flame may be in it already."""

from __future__ import annotations

import pytest

from debrief.analysis.assess import assess
from debrief.analysis.model import Assessment
from debrief.recording.model import Channel, Recording
from tests.analysis.recording_making import PROFILE, normal_start, recording


def kinds(result: Assessment) -> set[str]:
    """Return the kinds of the findings."""
    return {event.kind for event in result.events}


def points(result: Assessment) -> set[str]:
    """Return what was not judged."""
    return {point.what for point in result.not_judged}


def thinned(whole: Recording, every: dict[str, int], phase: int) -> Recording:
    """Return a recording that keeps each so many samples of a channel."""
    channels = {}
    for name, channel in whole.channels.items():
        part = slice(phase, None, every.get(name, every[""]))
        channels[name] = Channel(name, channel.unit, channel.time_s[part], channel.values[part])
    return Recording(channels, whole.duration_s)


@pytest.mark.parametrize("phase", range(0, 50, 5))
@pytest.mark.parametrize("every", [{"": 50}, {"": 1, "itt": 50}, {"": 50, "fuel_on": 1}])
def test_a_cold_engine_has_no_residual_heat_however_slow_the_recorder(
    every: dict[str, int], phase: int
) -> None:
    result = assess(thinned(recording(normal_start(), 80.0), every, phase), PROFILE)
    assert "residual_heat" not in kinds(result)
    (start,) = result.starts
    assert start.residual_itt_c is None or start.residual_itt_c < 100.0
    factors = {factor.kind for factor in start.factors}
    assert "residual_heat" not in factors
    measure = start.measures["residual_itt_fuel_on"]
    assert measure.low is None or measure.low <= 15.0


@pytest.mark.parametrize("phase", range(0, 50, 5))
def test_heat_before_the_fuel_is_said_or_not_judged(phase: int) -> None:
    warm = [(0, 250), (10, 250), (23, 230), (26, 560), (30, 700), (48, 560), (80, 540)]
    result = assess(thinned(recording(normal_start() | {"itt": warm}, 80.0), {"": 50}, phase), PROFILE)
    assert "residual_heat" in kinds(result) or "residual heat" in points(result)
