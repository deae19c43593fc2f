from dataclasses import replace

import numpy as np
import pytest

from debrief.recording.model import Channel
from debrief.session.limits.instrument_readings import (
    Instrument,
    discretes,
    instruments,
    nice_range,
    switch_words,
)
from tests.session import assessment_maker as made


def test_a_channel_that_is_not_recorded_has_no_value_and_never_zero():
    torque = Instrument(made.hot_start(), "torque")
    reading = torque.read(20.0)
    assert torque.channel is None
    assert reading.value is None
    assert reading.extreme is None


def test_the_value_lies_on_the_line_between_samples():
    assessment = made.hot_start()
    itt = Instrument(assessment, "itt")
    channel = assessment.recording.channels["itt"]
    middle = (channel.time_s[170] + channel.time_s[171]) / 2
    assert itt.value_at(float(middle)) == pytest.approx((channel.values[170] + channel.values[171]) / 2)
    assert itt.value_at(float(channel.time_s[170])) == channel.values[170]


def test_across_a_gap_and_after_the_last_sample_there_is_no_value():
    assessment = made.hot_start()
    time = np.r_[np.arange(0.0, 20.0, 0.1), np.arange(40.0, 60.0, 0.1)]
    itt = Channel("itt", "degC", time, np.full(time.size, 500.0))
    recording = assessment.recording.with_channels({**assessment.recording.channels, "itt": itt})
    instrument = Instrument(replace(assessment, recording=recording), "itt")
    assert instrument.value_at(10.0) == 500.0
    assert instrument.value_at(30.0) is None
    assert instrument.value_at(80.0) is None


def test_the_extreme_is_of_this_start_so_far():
    itt = Instrument(made.hot_start(), "itt")
    early, late = itt.read(16.5), itt.read(60.0)
    assert early.extreme == pytest.approx(early.value, abs=1.0)
    assert late.extreme == made.hot_start().starts[0].peak_itt_c
    assert late.extreme_s == made.hot_start().starts[0].peak_itt_s


def test_the_bus_shows_its_lowest():
    volts = Instrument(made.hot_start(), "bus_volts")
    assert volts.read(60.0).extreme == pytest.approx(19.6, abs=0.2)


def test_exceeded_only_while_the_limit_that_applies_is():
    itt = Instrument(made.hot_start(), "itt")
    event = made.hot_start().events[1]
    first, last = event.levels[0], event.levels[-1]
    assert not itt.read(first.start_s + 0.3).exceeded
    assert itt.read((last.start_s + last.end_s) / 2).exceeded
    assert not itt.read(last.end_s + 0.2).exceeded
    assert itt.read(first.start_s + 0.3).running.row.seconds == 20.0


def test_the_four_gauges_of_every_start_are_there_even_if_not_recorded():
    names = [i.name for i in instruments(made.hot_start())]
    assert names[:4] == ["itt", "ng", "bus_volts", "torque"]
    assert "np" not in names


def test_switches_say_not_recorded_and_on_and_off():
    words = {d.name: switch_words(d) for d in discretes(made.hot_start(), 20.0)}
    assert words["starter"] == "on"
    assert words["ignition"] == "not recorded"
    assert {d.name: switch_words(d) for d in discretes(made.hot_start(), 5.0)}["fuel_on"] == "off"


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (0.0, 45.0, (0.0, 45.0)),
        (15.0, 1087.0, (0.0, 1100.0)),
        (24.3, 28.1, (24.0, 28.5)),
        (5.0, 5.0, (0.0, 5.0)),
    ],
)
def test_round_numbers_hold_the_values(low, high, expected):
    assert nice_range(low, high) == pytest.approx(expected)


def test_the_extreme_is_never_less_extreme_than_what_was_shown():
    for name in ("itt", "bus_volts", "ng"):
        instrument = Instrument(made.hot_start(), name)
        sign = -1.0 if instrument.shows_lowest else 1.0
        before = -np.inf
        for time_s in np.arange(13.0, 40.0, 0.03):
            reading = instrument.read(float(time_s))
            begun = time_s >= made.hot_start().starts[0].begin_s
            assert sign * reading.extreme >= sign * reading.value
            if begun:
                assert sign * reading.extreme >= before
                before = sign * reading.extreme
