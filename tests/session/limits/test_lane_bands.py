from dataclasses import replace

import numpy as np
import pytest

from debrief.analysis.limits.chart_bands import band_at
from debrief.analysis.model import Phase
from debrief.profile.model import Band, Gauge
from debrief.recording.model import Channel
from debrief.session.limits.lane_bands import band_shades
from tests.session import assessment_maker as made

BANDS = (
    Band("I", ((830.0, 20.0), (920.0, 6.0), (1030.0, 0.0)), "..."),
    Band("II", ((930.0, 30.0), (1030.0, 10.0), (1100.0, 10.0)), "..."),
)


def _assessment(itt, rate_hz=10.0, bands=BANDS, method="peak_vs_time_above", count="total"):
    """A start from 10 s to 45 s whose ITT is given from 0 s on."""
    base = made.hot_start()
    values = np.asarray(itt, dtype=np.float64)
    channel = Channel("itt", "degC", np.arange(values.size) / rate_hz, values, "ITT", "degC")
    limit = replace(
        base.profile.limits[0], bands=bands, band_method=method, band_base=830.0, count=count, when="start"
    )
    profile = replace(base.profile, limits=(limit,), gauges={})
    recording = base.recording.with_channels({**base.recording.channels, "itt": channel})
    return made.counted(replace(base, profile=profile, recording=recording)), channel


def _above(seconds, peak=1000.0, at_s=15.0, length_s=60.0):
    t = np.arange(0.0, length_s, 0.1)
    return np.where((t >= at_s) & (t < at_s + seconds), peak, 500.0)


def _edge_at(shade, time_s):
    """Level of the lower edge at a time: the corners but for the two at the top."""
    edge = shade.corners[:-2]
    return float(np.interp(time_s, edge[:, 0], edge[:, 1]))


def test_no_band_is_drawn_while_nothing_is_above_the_base():
    assessment, channel = _assessment(_above(0.0))
    assert band_shades(assessment, channel) == ()


def test_the_lower_edge_falls_while_seconds_above_the_base_are_used_up():
    assessment, channel = _assessment(_above(8.0))
    mild = band_shades(assessment, channel)[0]
    begin = mild.begin_s
    assert mild.text == "band I"
    assert _edge_at(mild, begin) == pytest.approx(1030.0)
    # Straight between (0 s, 1030) and (6 s, 920): half-way after 3 s.
    assert _edge_at(mild, begin + 3.0) == pytest.approx(975.0)
    assert _edge_at(mild, begin + 6.0) == pytest.approx(920.0)


def test_the_edge_stands_still_while_the_value_is_below_the_base():
    values = _above(3.0)
    values[300:330] = 1000.0
    assessment, channel = _assessment(values)
    mild = band_shades(assessment, channel)[0]
    assert _edge_at(mild, 20.0) == pytest.approx(_edge_at(mild, 28.0))
    assert _edge_at(mild, 34.0) < _edge_at(mild, 28.0)
    assert mild.end_s == 45.0


@pytest.mark.parametrize("seconds", [2.0, 7.0, 11.0, 16.0])
@pytest.mark.parametrize("peak", [870.0, 940.0, 1000.0, 1060.0])
def test_the_band_drawn_at_the_peak_s_height_is_the_one_that_the_analysis_names(seconds, peak):
    assessment, channel = _assessment(_above(seconds, peak))
    shades = band_shades(assessment, channel)
    limit = assessment.profile.limits[0]
    t, v = channel.time_s, channel.values
    over = (v[:-1] > 830) | (v[1:] > 830)
    ends = np.where(
        v[1:] > 830, t[1:], t[:-1] + 0.1 * (v[:-1] - 830) / np.where(v[1:] == v[:-1], 1, v[:-1] - v[1:])
    )
    begins = np.where(
        v[:-1] > 830, t[:-1], t[:-1] + 0.1 * (830 - v[:-1]) / np.where(v[1:] == v[:-1], 1, v[1:] - v[:-1])
    )
    used = float((ends - begins)[over].sum())
    drawn = [shade.text for shade in shades if shade.end_s >= 40.0 and _edge_at(shade, 40.0) <= peak]
    named = band_at(limit, peak, used)
    assert drawn[-1:] == ([] if named is None else [f"band {named}"])


def test_beyond_the_chart_s_last_second_nothing_is_drawn():
    assessment, channel = _assessment(_above(33.0, at_s=11.0))
    mild = band_shades(assessment, channel)[0]
    assert mild.end_s == pytest.approx(11.0 + 30.0, abs=0.2)


def test_above_the_chart_s_highest_level_nothing_is_drawn():
    assessment, channel = _assessment(_above(12.0))
    assert max(shade.corners[:, 1].max() for shade in band_shades(assessment, channel)) == 1100.0


def test_by_the_curve_each_level_is_in_the_band_from_when_its_own_seconds_are_used_up():
    bands = (Band("A", ((900.0, 10.0), (1000.0, 4.0)), ""),)
    assessment, channel = _assessment(_above(20.0, peak=960.0), bands=bands, method="curve")
    (shade,) = band_shades(assessment, channel)
    begin = 15.0 - 0.1 * (960 - 900) / 460
    lowest = shade.corners[np.isclose(shade.corners[:, 1], 900.0)]
    assert lowest[:, 0].min() == pytest.approx(begin + 10.0, abs=0.2)
    # 985 was never reached, so that level is never in the band.
    high = shade.corners[shade.corners[:, 1] > 985.0]
    assert high[:, 0].min() == pytest.approx(45.0)


def test_without_a_method_or_a_profile_there_is_no_band():
    assessment, channel = _assessment(_above(8.0), method=None)
    assert band_shades(assessment, channel) == ()
    assert band_shades(replace(assessment, profile=None), channel) == ()


def test_arcs_are_shaded_only_while_the_engine_runs():
    assessment = made.hot_start()
    itt = assessment.recording.channels["itt"]
    gauges = {"itt": Gauge("itt", "degC", (0, 1200), yellow=((780, 830),), red=((830, 900),))}
    never_ran = replace(assessment, profile=replace(assessment.profile, gauges=gauges, limits=()))
    assert band_shades(never_ran, itt) == ()
    end = assessment.recording.duration_s
    phases = (Phase("off", 0.0, 10.0), Phase("start", 10.0, 30.0), Phase("shutdown", 80.0, end))
    ran = replace(never_ran, phases=phases)
    shades = band_shades(ran, itt)
    assert [(s.text, s.kind, s.begin_s, s.end_s) for s in shades] == [
        ("yellow arc", "caution", 30.0, 80.0),
        ("red arc", "limit", 30.0, 80.0),
    ]


def test_a_band_is_drawn_only_in_the_windows_that_the_analysis_judged():
    assessment, channel = _assessment(_above(8.0))
    judged = assessment.limits[0].windows
    assert judged
    assert band_shades(assessment, channel)
    nowhere = tuple(replace(result, windows=(), counted=(), base=None) for result in assessment.limits)
    assert band_shades(replace(assessment, limits=nowhere), channel) == ()
