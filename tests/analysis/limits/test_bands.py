"""Bands of the manual's chart, worked by hand on the profile example's two bands."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.analysis import assess
from debrief.analysis.limits.chart_bands import (
    OFF_CHART,
    band_at,
    band_of,
    edge_level,
    edge_seconds,
    past_edge,
)
from debrief.profile.model import Band
from tests.analysis.recording_making import PROFILE, START_LIMIT, normal_start, recording

ONE = Band("I", ((830, 20), (920, 6), (1030, 0)), "Record it.")
TWO = Band("II", ((930, 30), (1030, 10), (1100, 10)), "Inspect.")
LIMIT = replace(START_LIMIT, band_method="peak_vs_time_above", band_base=830.0, bands=(ONE, TWO))


@pytest.mark.parametrize(
    ("level", "seconds", "expected"),
    [
        (825, 25, None),
        (829.9, 20, None),
        (830, 20, "I"),
        (1000, 4, "I"),  # the edge at 4 s is 1030 - 110 x 4 / 6 = 956.7
        (950, 4, None),
        (1080, 5, "I"),  # band II begins at 10 s
        (1090, 10, "II"),
        (1080, 12, "II"),  # the edge at 12 s is 1020
        (1010, 12, "I"),
        (1120, 12, OFF_CHART),  # above the chart's 1100
        (1120, 4, OFF_CHART),
        (840, 40, OFF_CHART),  # right of the chart's 30 s
    ],
)
def test_the_band_is_the_worst_whose_lower_edge_is_reached(level, seconds, expected):
    assert band_at(LIMIT, level, seconds) == expected


def test_the_edge_is_straight_between_its_points_and_level_after_the_last():
    assert edge_level(ONE, 3) == pytest.approx(975.0)
    assert edge_level(ONE, 13) == pytest.approx(875.0)
    assert edge_level(ONE, 25) == 830
    assert edge_level(TWO, 9.9) is None
    assert edge_level(TWO, 10) == 1030


def test_the_distance_to_the_edge_is_told_in_degrees_and_in_seconds():
    value, seconds = past_edge(ONE, 1000, 4)
    assert value == pytest.approx(1000 - (1030 - 110 * 4 / 6))
    assert seconds == pytest.approx(4 - 6 * 30 / 110)
    value, seconds = past_edge(TWO, 1080, 12)
    assert (value, seconds) == (pytest.approx(60.0), pytest.approx(2.0))


@pytest.mark.parametrize(
    ("band", "level", "seconds"),
    [
        (ONE, 1030, 0.0),
        (ONE, 975, 3.0),  # half way down the first piece, 1030 to 920 in 6 s
        (ONE, 920, 6.0),
        (ONE, 875, 13.0),  # half way down the second, 920 to 830 from 6 to 20 s
        (ONE, 830, 20.0),
        (ONE, 829, None),  # below it all
        (TWO, 1100, 10.0),
        (TWO, 1050, 10.0),  # the upright piece from 1100 to 1030
        (TWO, 1000, 16.0),  # 30 of the 100 degrees from 1030 to 930, in 20 s
        (TWO, 930, 30.0),
        (TWO, 929, None),
    ],
)
def test_the_shortest_time_in_a_band_is_read_off_its_edge(band, level, seconds):
    assert edge_seconds(band, level) == (None if seconds is None else pytest.approx(seconds))


def test_a_distance_is_unknown_where_the_edge_has_no_such_level_or_time():
    assert past_edge(ONE, 820, 25) == (pytest.approx(-10.0), None)  # no time is enough at 820
    assert past_edge(TWO, 1080, 9) == (None, pytest.approx(-1.0))  # no level is enough at 9 s


def test_the_curve_method_takes_the_worst_band_of_any_point():
    curve = [(900.0, 14.0), (1000.0, 11.0), (1080.0, 2.0)]
    limit = replace(LIMIT, band_method="curve")
    assert band_of(limit, 1080, 14, curve) == "I"
    longer = [(900.0, 29.0), (1000.0, 20.0), (1080.0, 10.0)]
    assert band_of(limit, 1080, 29, longer) == "II"
    assert band_of(replace(LIMIT, band_method=None), 1080, 29, longer) is None


def test_a_hot_start_names_its_band_its_action_and_the_distances():
    traces = normal_start() | {
        "itt": [(0, 15), (23, 15), (24, 830), (26, 1080), (34, 1080), (40, 830), (48, 560), (80, 540)]
    }
    a = assess(recording(traces, 80), replace(PROFILE, limits=(LIMIT,)))
    (event,) = [e for e in a.events if e.kind == "hot_start"]
    # Above 830 from 24 s to 40 s: 16 s; the edge of II there is 1000, and 1080 reaches II at 10 s.
    assert (event.band, event.band_action) == ("II", "Inspect.")
    assert event.band_past_edge_value == pytest.approx(80.0, abs=0.6)
    assert event.band_past_edge_s == pytest.approx(6.0, abs=0.1)


def test_the_first_cue_and_the_way_to_the_cut_are_measured():
    traces = normal_start() | {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 38), (60, 20), (75, 2)],
        "itt": [(0, 15), (23, 15), (24, 430), (26, 1030), (33, 1050), (50, 250), (75, 120)],
        "fuel_on": [(0, 0), (22, 1), (33, 0)],
        "starter": [(0, 0), (10, 1), (54, 0)],
        "bus_volts": [(0, 25.2), (10, 25.2), (10.1, 19.5), (53.9, 22), (54, 25), (80, 25)],
    }
    (s,) = assess(recording(traces, 80), PROFILE).starts
    crossed = 24 + 2 * 400 / 600
    cue, way = s.measures["first_cue"], s.measures["cue_to_cut"]
    assert cue.value == pytest.approx(crossed)
    assert cue.low <= crossed <= cue.high
    assert way.value == pytest.approx(33 - crossed)
    assert way.low < way.value < way.high
    assert any("ITT passed 830 °C" in note for note in s.notes)


def test_a_cut_without_any_cue_says_so():
    traces = normal_start() | {
        "ng": [(0, 0), (10, 0), (17, 20), (23, 20), (33, 38), (45, 3)],
        "itt": [(0, 15), (23, 15), (27, 560), (33, 700), (80, 230)],
        "fuel_on": [(0, 0), (22, 1), (33, 0)],
        "starter": [(0, 0), (10, 1), (34, 0)],
    }
    (s,) = assess(recording(traces, 80), PROFILE).starts
    assert s.measures["first_cue"].value is None
    assert "no cue" in (s.measures["first_cue"].why or "")
