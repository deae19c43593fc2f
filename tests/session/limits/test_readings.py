from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from debrief.analysis import assess
from debrief.profile import find
from debrief.recording.model import Channel
from debrief.recording.reader import read
from debrief.session.limits.instrument_readings import (
    Instrument,
    discretes,
    instruments,
    nice_range,
    switch_words,
)
from tests.session import assessment_maker as made

DEMO = Path(__file__).parents[3] / "demo_flights"


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


def test_the_bus_shows_its_lowest_after_the_starters_first_second():
    assessment = made.hot_start()
    channel = assessment.recording.channels["bus_volts"]
    on = assessment.starts[0].starter_runs[0].start_s
    volts = Instrument(assessment, "bus_volts")
    assert volts.read(60.0).extreme == channel.values[channel.time_s >= on + 1.0].min()
    assert channel.values.min() < volts.read(60.0).extreme


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


@pytest.mark.parametrize(
    "demo", ["12_flight_overtemperature_in_climb", "15_low_voltage", "11_three_attempts_without_rest"]
)
def test_the_dial_of_the_bus_tells_the_lowest_that_the_measure_tells(demo):
    """What it shows while the starter turns is what the story says: the first second counts for neither."""
    assessment = assess(read(DEMO / f"{demo}.csv"), find("tarn-tg7"))
    told = 0
    for start in assessment.starts:
        if start.min_bus_volts is None or start.starter_off_s is None:
            continue
        volts = Instrument(assessment, "bus_volts", start.engine)
        lowest = volts.read(start.starter_off_s - 0.01).extreme
        assert lowest == pytest.approx(start.min_bus_volts, abs=0.05)
        told += 1
    assert told


def test_the_dip_counts_neither_while_it_is_shown_nor_between_its_last_sample_and_the_next():
    assessment = made.hot_start()
    start = assessment.starts[0]
    on = start.starter_runs[0].start_s
    channel = assessment.recording.channels["bus_volts"]
    values = np.where((channel.time_s >= on) & (channel.time_s < on + 1.0), 12.0, channel.values)
    recording = assessment.recording.with_channels(
        {**assessment.recording.channels, "bus_volts": replace(channel, values=values)}
    )
    volts = Instrument(replace(assessment, recording=recording), "bus_volts")
    assert volts.read(on + 0.5).value == 12.0
    for time_s in np.arange(on - 0.5, on + 3.0, 0.01):
        extreme = volts.read(float(time_s)).extreme
        assert extreme is None or extreme > 17.0
