"""Two starts laid over each other: where they are aligned, what is read out, what is said where one lacks it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from debrief.analysis.model import Measure
from debrief.session.charts.start_overlay import difference_rows, overlay, overlay_chart, signed, start_levels
from debrief.session.comparing.start_curves import INSTANTS, start_curves
from debrief.session.limits.instrument_readings import Instrument
from tests.session import assessment_maker as made


def later(seconds, **changes):
    """The made hot start, recorded this much later."""
    assessment = made.hot_start()
    recording = assessment.recording
    channels = {k: replace(c, time_s=c.time_s + seconds) for k, c in recording.channels.items()}
    start = assessment.starts[0]
    fields = ("begin_s", "end_s", "window_end_s", "starter_on_s", "starter_off_s", "fuel_on_s", "fuel_off_s",
              "light_off_s", "peak_itt_s")  # fmt: skip
    moved = {name: getattr(start, name) + seconds for name in fields}
    moved_start = replace(start, **{**moved, **changes})
    return replace(assessment, recording=recording.with_channels(channels), starts=(moved_start,))


def side(assessment, label="Start 1"):
    return start_curves(assessment, assessment.starts[0], label)


@pytest.mark.parametrize("instant", INSTANTS)
def test_a_start_over_itself_recorded_later_differs_by_nothing(instant):
    both = overlay(side(made.hot_start()), side(later(500.0), "Start 2"), instant)
    assert [lane.name for lane in both.lanes] == ["ng", "itt", "bus_volts"]
    for lane in both.lanes:
        for time_s in np.arange(-2.0, 30.0, 0.37):
            first, second, between = lane.reading(float(time_s))
            assert first is not None
            assert between == pytest.approx(0.0, abs=1e-6)
            assert first == pytest.approx(second)


@settings(max_examples=30, deadline=None)
@given(st.floats(0, 5000), st.floats(-5, 40))
def test_when_the_recording_began_changes_no_reading(seconds, at):
    plain = overlay(side(made.hot_start()), side(made.hot_start()), "fuel_on")
    moved = overlay(side(later(seconds)), side(made.hot_start()), "fuel_on")
    for one, other in zip(plain.lanes, moved.lanes, strict=True):
        a, b = one.reading(at)[0], other.reading(at)[0]
        assert (a is None) == (b is None)
        assert a is None or a == pytest.approx(b, abs=0.5)


def test_at_fuel_on_both_read_what_was_recorded_at_their_own_fuel_on():
    first, second = made.hot_start(), later(100.0)
    ng = second.recording.channels["ng"]
    second = replace(
        second,
        recording=second.recording.with_channels(
            {**second.recording.channels, "ng": replace(ng, values=ng.values + 10.0)}
        ),
    )
    lane = overlay(side(first), side(second), "fuel_on").lanes[0]
    at_fuel = first.recording.channels["ng"].values[140]
    assert lane.reading(0.0) == pytest.approx((at_fuel, at_fuel + 10.0, -10.0))


def test_a_start_without_the_instant_is_named():
    both = overlay(
        side(made.hot_start()), side(later(9.0, light_off_s=None), "Start 2 of x.csv"), "light_off"
    )
    assert both.lanes == ()
    assert both.problem == "No light-off is known in Start 2 of x.csv: align at another instant."
    neither = later(0.0, light_off_s=None)
    both = overlay(side(neither), side(neither, "Start 2"), "light_off")
    assert both.problem.startswith("No light-off is known in Start 1 and Start 2:")


def test_what_was_not_recorded_is_said_and_never_read_as_zero():
    second = later(0.0)
    channels = {k: v for k, v in second.recording.channels.items() if k != "bus_volts"}
    second = replace(second, recording=second.recording.with_channels(channels))
    lane = overlay(side(made.hot_start()), side(second, "Start 2"), "fuel_on").lanes[2]
    assert lane.problem == "Start 2: not recorded"
    first, other, between = lane.reading(1.0)
    assert first is not None
    assert other is None
    assert between is None


def test_other_units_are_not_compared():
    second = later(0.0)
    ng = replace(second.recording.channels["ng"], unit="rpm")
    second = replace(
        second, recording=second.recording.with_channels({**second.recording.channels, "ng": ng})
    )
    lane = overlay(side(made.hot_start()), side(second, "Start 2"), "fuel_on").lanes[0]
    assert lane.problem == "Start 2: in rpm, not comparable"
    assert lane.second is None


def test_across_a_gap_nothing_is_read():
    assessment = made.hot_start()
    itt = assessment.recording.channels["itt"]
    keep = (itt.time_s < 20.0) | (itt.time_s > 24.0)
    cut = replace(itt, time_s=itt.time_s[keep], values=itt.values[keep])
    recording = assessment.recording.with_channels({**assessment.recording.channels, "itt": cut})
    lane = overlay(side(replace(assessment, recording=recording)), side(assessment), "fuel_on").lanes[1]
    assert lane.reading(8.0)[0] is None
    assert lane.reading(8.0)[2] is None


def test_every_extreme_of_both_is_inside_the_pane():
    both = overlay(side(made.hot_start()), side(later(50.0)), "starter_on")
    for lane in both.lanes:
        for trace in (lane.first, lane.second):
            drawn = trace.envelope.view(both.begin_s, both.end_s, 300)
            assert lane.range[0] <= drawn.values.min()
            assert drawn.values.max() <= lane.range[1]
    assert max(lane.first.envelope.highest for lane in both.lanes) == made.hot_start().starts[0].peak_itt_c


def test_measures_of_both_stand_beside_each_other_with_their_difference():
    start = made.hot_start().starts[0]
    first = replace(start, measures={"peak_itt": Measure(1087.0, "degC"), "oat": Measure(12.0, "degC")})
    second = replace(
        start, measures={"peak_itt": Measure(736.0, "degC"), "source_resistance": Measure(None, "ohm")}
    )
    rows = difference_rows(first.measures, second.measures)
    assert rows == (
        ("Peak ITT", "1087 °C", "736 °C", "+351 °C"),
        ("OAT", "12 °C", "not known", ""),
    )


def test_a_difference_has_its_sign_and_unknown_is_said():
    assert signed(0.04, "%") == "0.0 %"
    assert signed(-12.34, "%") == "\N{MINUS SIGN}12.3 %"
    assert signed(12.34, "%") == "+12.3 %"
    assert signed(None, "%") == "not known"


def test_a_long_flight_is_read_out_as_its_whole_channels_are():
    assessment = made.hot_start(made.hot_start_recording(3600.0, 4.0))
    itt = assessment.recording.channels["itt"]
    keep = np.ones(itt.time_s.size, dtype=bool)
    keep[60:75] = keep[100:104] = False  # silences of 3.75 s and 1 s, the latter a gap only within a start
    channels = {
        name: replace(c, time_s=c.time_s[keep], values=c.values[keep])
        for name, c in assessment.recording.channels.items()
    }
    assessment = replace(assessment, recording=assessment.recording.with_channels(channels))
    whole = Instrument(assessment, "itt")
    lane = overlay(side(assessment), side(assessment), "fuel_on").lanes[1]
    zero = assessment.starts[0].fuel_on_s
    for at in np.arange(-4.0, 45.0, 0.13):
        assert lane.reading(float(at))[0] == whole.value_at(float(at) + zero)
    assert lane.reading(2.0)[0] is None
    assert lane.both.own_piece("itt").channel.time_s.size < 2000


def test_ng_at_fuel_stands_first_whatever_was_measured_before_it():
    start = made.hot_start().starts[0]
    first = replace(start, measures={"peak_itt": Measure(1087.0, "degC"), "ng_at_fuel": Measure(9.8, "%")})
    assert [row[0] for row in difference_rows(first.measures, first.measures)] == ["Ng at fuel", "Peak ITT"]
    # Also where the other start alone has it.
    second = replace(start, measures={"peak_itt": Measure(736.0, "degC")})
    assert difference_rows(second.measures, first.measures)[0] == ("Ng at fuel", "not known", "9.8 %", "")


def test_the_limits_of_the_start_are_lines_in_the_panes_and_inside_them():
    assessment = made.hot_start()
    start = assessment.starts[0]
    shown = overlay(side(assessment), side(later(50.0)), "fuel_on", start_levels(assessment, start))
    chart = overlay_chart(shown)
    rules = assessment.profile.start
    limit = next(one for one in assessment.profile.limits if one.when == "start" and one.channel == "itt")
    assert {rules.min_fuel_ng_pct, rules.idle_ng_pct} <= {level.value for level in chart.panes[0].levels}
    assert {row.level for row in limit.allowed} == {level.value for level in chart.panes[1].levels}
    for pane in chart.panes:
        assert all(pane.y.range[0] <= level.value <= pane.y.range[1] for level in pane.levels)


def test_a_limit_far_above_both_starts_does_not_press_them_flat():
    cool = later(0.0)
    itt = cool.recording.channels["itt"]
    low = replace(itt, values=itt.values * 0.1)
    cool = replace(cool, recording=cool.recording.with_channels({**cool.recording.channels, "itt": low}))
    lane = overlay(side(cool), side(cool), "fuel_on", start_levels(cool, cool.starts[0])).lanes[1]
    assert lane.levels == ()
    assert lane.range[1] < 400
