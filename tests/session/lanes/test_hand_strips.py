"""The strips of switches and levers: what was recorded of the hand, and nothing else."""

from dataclasses import replace

import numpy as np
import pytest

from debrief.recording.model import Channel
from debrief.report import shapes as s
from debrief.report.blocks import LaneChart
from debrief.report.charts.lane_charts import lane_chart
from debrief.session.lanes.hand_strips import LeverStrip, SwitchStrip, hand_strips
from tests.gui.lanes.test_screen_and_paper import Measurer
from tests.session import assessment_maker as made


def with_channel(name, times, values, unit="0/1"):
    assessment = made.hot_start()
    like = assessment.recording.channels["starter"]
    channel: Channel = replace(
        like, name=name, unit=unit, time_s=np.array(times, float), values=np.array(values, float)
    )
    channels = {**assessment.recording.channels, name: channel}
    return replace(assessment, recording=replace(assessment.recording, channels=channels))


def strip_of(assessment, name, *stretch):
    return next((one for one in hand_strips(assessment, 1, *stretch) if one.name == name), None)


def test_a_switch_is_on_from_its_first_sample_on_until_the_first_off():
    strip = strip_of(with_channel("separator", [10, 20, 30, 40], [0, 1, 1, 0]), "separator")
    assert [(held.begin_s, held.end_s) for held in strip.on] == [(20, 40)]
    assert [strip.at(time_s) for time_s in (10, 19.9, 20, 35)] == ["off", "off", "on", "on"]


def test_where_nothing_was_recorded_of_a_switch_its_position_is_not_known():
    strip = strip_of(with_channel("separator", [10, 20, 30, 40], [1, np.nan, 1, 1]), "separator")
    assert [(held.begin_s, held.end_s) for held in strip.unknown] == [(0, 10), (20, 30), (40, 110)]
    assert [strip.at(time_s) for time_s in (5, 15, 25, 35, 50)] == [
        "not known",
        "on",
        "not known",
        "on",
        "not known",
    ]
    assert strip.at(-1.0) == "not known"


def test_the_positions_of_a_bleed_valve_are_told_apart():
    strip = strip_of(with_channel("bleed", [0, 20, 40, 60], [0, 1, 2, 0], "0/1/2"), "bleed")
    assert strip.highest == 2
    assert [held.position for held in strip.on] == [1, 2]


def test_what_was_not_recorded_or_never_on_has_no_strip_but_starter_and_fuel():
    names = [strip.name for strip in hand_strips(made.hot_start(), 1)]
    assert "separator" not in names
    assert strip_of(with_channel("separator", [0, 50], [0, 0]), "separator") is None
    assert strip_of(with_channel("starter", [0, 50], [0, 0]), "starter").on == ()


def test_a_lever_that_stood_still_has_no_strip_and_one_that_was_moved_its_values():
    assert strip_of(with_channel("power_lever", [0, 50, 99], [25, 25.6, 25], "%"), "power_lever") is None
    moved = with_channel("power_lever", [0, 50, 99], [25, 25, 90], "%")
    strip = strip_of(moved, "power_lever")
    assert isinstance(strip, LeverStrip)
    assert strip.low <= 25
    assert strip.high >= 90
    assert strip.at(99) == "90.0 %"
    assert strip.at(105) == "not known"
    # Of a stretch in which it was not moved there is none.
    assert strip_of(moved, "power_lever", 10.0, 40.0) is None


@pytest.mark.parametrize("stretch", [(0.0, 100.0), (15.0, 50.0)])
def test_on_paper_there_is_a_bar_where_the_switch_was_on(stretch):
    strip = strip_of(with_channel("separator", [0, 20, 40, 99], [0, 1, 0, 0]), "separator", *stretch)
    assert isinstance(strip, SwitchStrip)
    shapes = lane_chart(LaneChart(*stretch, (), 40.0, strips=(strip,)), 120.0, Measurer())
    (bar,) = (one for one in shapes if isinstance(one, s.Box) and one.fill == s.MUTED)
    scale = (120.0 - 12.0 - 4.0) / (stretch[1] - stretch[0])
    assert bar.x == pytest.approx(12.0 + (20.0 - stretch[0]) * scale)
    assert bar.width == pytest.approx(20.0 * scale)
    assert "separator" in [one.text for one in shapes if isinstance(one, s.Text)]
