"""Rows that repeat a reading are looked at as often as it was read."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from debrief.analysis import assess
from debrief.analysis.signal.true_rate import at_true_rate
from debrief.recording.model import Channel, Recording, frozen
from tests.analysis.recording_making import PROFILE, normal_start, recording


def repeated(made: Recording, times: int, only: str | None = None) -> Recording:
    """Return the recording with each row so many times, or one channel alone."""
    some = next(iter(made.channels.values())).time_s
    step = float(some[1] - some[0]) / times
    time_s = frozen(some[0] + step * np.arange(some.size * times))
    channels = {}
    for name, channel in made.channels.items():
        values = np.repeat(channel.values, times)
        if only is not None and name != only:
            values = np.interp(time_s, channel.time_s, channel.values)
        channels[name] = Channel(name, channel.unit, time_s, values, resolution=channel.resolution)
    return Recording(channels, float(time_s[-1]))


def noisy(rate_hz: float = 2.0) -> Recording:
    made = recording(normal_start(), 200, rate_hz)
    rng = np.random.default_rng(3)
    channels = {
        name: c if c.is_discrete else replace(c, values=c.values + rng.normal(0, 0.05, c.values.size))
        for name, c in made.channels.items()
    }
    return Recording(channels, made.duration_s)


def test_what_is_measured_of_repeated_rows_is_what_is_measured_of_the_readings() -> None:
    plain, many = assess(noisy(), PROFILE), assess(repeated(noisy(), 8), PROFILE)
    (one,), (other,) = plain.starts, many.starts
    assert [q.kind for q in many.quality if q.kind == "repeated_rows"] == ["repeated_rows"]
    assert [q for q in plain.quality if q.kind == "repeated_rows"] == []
    for name in ("fuel_to_light_off", "peak_itt", "ng_at_fuel", "starter_total"):
        a, b = one.measures[name], other.measures[name]
        assert (a.value, a.low, a.high) == (b.value, b.low, b.high), name
    # The recording itself stays as it is, for all who draw it.
    assert many.recording.channels["itt"].values.size == 8 * plain.recording.channels["itt"].values.size


def test_one_slow_channel_among_fast_ones_is_looked_at_as_slow() -> None:
    made, flags = at_true_rate(repeated(noisy(), 8, only="itt"))
    assert [f.channel for f in flags] == ["itt"]
    assert made.channels["itt"].interval_s == 0.5
    assert made.channels["ng"].interval_s == 0.5 / 8


def test_a_channel_that_moves_in_every_row_or_hardly_ever_is_left_alone() -> None:
    for made in (noisy(16.0), recording(normal_start(), 200, 16.0)):
        found, flags = at_true_rate(made)
        assert found is made
        assert flags == ()
