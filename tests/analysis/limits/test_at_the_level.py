"""A value that stands at its limit: one finding, possible, said as what it is; the examiner of the study has the law."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.analysis.model import Assessment
from debrief.profile.model import AllowedRow, Limit
from debrief.recording.model import Channel, Recording
from tests.analysis.recording_making import PROFILE

LIMIT = Limit(
    "np-running", "overspeed_np", "np", "running", "rpm", "longest", (AllowedRow(1915, 20, "limit"),)
)
NOISE_RPM = 3.0


def flown(deviations: float, rate_hz: float, seconds: float = 1800.0) -> Assessment:
    """Return a propeller that is held so many deviations of its noise above 1915 rpm."""
    t = np.arange(0.0, seconds, 1.0 / rate_hz)
    noise = np.random.default_rng(int(10 * rate_hz)).normal(0.0, NOISE_RPM, t.size)
    made = {
        "ng": ("%", np.full(t.size, 90.0)),
        "itt": ("degC", np.full(t.size, 700.0)),
        "fuel_on": ("0/1", np.ones(t.size)),
        "np": ("rpm", 1915.0 + deviations * NOISE_RPM + noise),
    }
    channels = {name: Channel(name, unit, t, values) for name, (unit, values) in made.items()}
    return assess(Recording(channels, float(t[-1])), replace(PROFILE, limits=(LIMIT,)))


@pytest.mark.parametrize("rate_hz", [1.0, 4.0, 16.0])
def test_at_the_level_is_one_possible_finding_and_never_an_exceedance(rate_hz: float) -> None:
    found = flown(0.0, rate_hz)
    assert [e.severity for e in found.events] == ["possible"]
    assert "Np stood at 1915 rpm as far as its readings tell" in found.sentence


@pytest.mark.parametrize("rate_hz", [1.0, 4.0, 16.0])
def test_two_deviations_below_it_nothing_is_said(rate_hz: float) -> None:
    found = flown(-2.0, rate_hz)
    assert (found.events, found.verdict) == ((), "within")


@pytest.mark.parametrize("rate_hz", [1.0, 4.0, 16.0])
def test_three_deviations_above_it_for_twice_the_time_is_exceeded(rate_hz: float) -> None:
    found = flown(3.0, rate_hz, seconds=100.0)
    assert [e.severity for e in found.events] == ["limit"]
