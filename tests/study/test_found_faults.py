"""Faults that the study found in the analysis, each by hand. Those not mended yet must fail."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.analysis import assess
from debrief.profile.model import AllowedRow, EngineProfile, Limit
from debrief.recording.model import Channel, Recording
from tests.analysis.recording_making import RULES, normal_start, recording

TORQUE = Limit("torque", "overtorque", "torque", "running", "%", "longest", (AllowedRow(50.0, 1.0),))


def without(made: Recording, begin: float, end: float) -> Recording:
    """Return the recording without the rows from one instant to another."""
    channels = {}
    for name, channel in made.channels.items():
        keep = (channel.time_s <= begin) | (channel.time_s >= end)
        channels[name] = Channel(name, channel.unit, channel.time_s[keep], channel.values[keep])
    return Recording(channels, made.duration_s)


@pytest.mark.xfail(
    strict=True, reason="bounds of a run that idle or the fuel cut ends do not take in that edge"
)
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
