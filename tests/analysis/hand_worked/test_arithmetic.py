"""Checks of the arithmetic: time above a level, gaps, peaks, runs, sets of intervals, bands, atmosphere."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from debrief.profile.model import Band
from tests.analysis.fault_making import Analysis, close, same
from tests.analysis.recording_making import START_LIMIT


def test_crossings_lie_on_the_straight_line(lab: Analysis) -> None:
    # 800 to 900 passes 830 after 0.3 s; the second bump from 820 passes it after 0.1 of 80 -> 900: 0.125 s.
    rows = lab.exceedance.time_above(lab.trace([0, 1, 2, 3, 4], [800, 900, 820, 900, 800]), 830).estimate
    assert same(rows, [[0.3, 1 + 70 / 80], [2 + 10 / 80, 3.7]])
    assert close(lab.interval_sets.total_s(rows), 1.575 + 1.575)


def test_equal_is_not_above(lab: Analysis) -> None:
    above = lab.exceedance.time_above(lab.trace([0, 1, 2, 3], [830, 830, 830, 835]), 830)
    assert above.estimate.tolist() == [[2.0, 3.0]]
    flat = lab.exceedance.time_above(lab.trace([0, 1, 2], [829, 829, 829]), 830)
    assert (len(flat.estimate), flat.ends_above) == (0, False)
    # The quick way out must not be taken one unit too early or too late.
    assert lab.exceedance.time_above(_Untouchable(lab, 829.5), 830).estimate.size == 0


class _Untouchable:
    """A trace whose highest value is below the level: its samples need not be compared at all."""

    def __init__(self, lab: Analysis, top: float) -> None:
        self.time_s, self.values = np.array([0.0, 1.0]), np.array([top, top])
        self.gap, self.top = np.array([False]), top

    def __getattr__(self, name: str) -> object:
        raise AssertionError(f"{name} was looked at although nothing can be above")


def test_the_lower_bound_is_between_samples_that_are_both_above(lab: Analysis) -> None:
    low = lab.exceedance.time_above(lab.trace([0, 1, 2, 3, 4, 5], [800, 900, 900, 800, 900, 800]), 830).low
    assert low.tolist() == [[1.0, 2.0]]


def test_the_upper_bound_reaches_to_the_samples_just_outside(lab: Analysis) -> None:
    high = lab.exceedance.time_above(lab.trace([0, 1, 3, 7], [800, 900, 900, 800]), 830).high
    assert high.tolist() == [[0.0, 7.0]]


def test_nothing_is_claimed_across_a_gap(lab: Analysis) -> None:
    # Gaps from 1 to 11 (above on both sides), 12 to 22 (above before) and 23 to 33 (above after).
    t, v = [0, 1, 11, 12, 22, 23, 33, 34], [900, 900, 900, 900, 800, 800, 900, 900]
    above = lab.exceedance.time_above(lab.trace(t, v, gaps=[1, 3, 5]), 830)
    assert above.estimate.tolist() == [[0, 1], [11, 12], [33, 34]]
    assert above.high.tolist() == [[0, 22], [23, 34]]


def test_a_gap_is_three_usual_intervals_and_over_the_floor(lab: Analysis) -> None:
    mask = lab.traces.gap_mask

    def gaps(*steps: float, start: bool = False) -> list[int]:
        t = np.concatenate(([0.0], np.cumsum(steps)))
        rows = np.array([[0.0, t[-1]]]) if start else lab.interval_sets.EMPTY
        return np.flatnonzero(mask(t, rows)).tolist()

    assert gaps(1, 1, 1, 3.25, 1, 1) == [3]
    assert gaps(1, 1, 1, 3.0, 1, 1) == []
    assert gaps(1, 1, 1, 2.75, 1, 1) == []
    # At 8 Hz three intervals are 0.375 s: the floor decides, 0.5 s in a start and 2 s elsewhere.
    assert gaps(0.125, 0.125, 0.125, 0.625, 0.125, 0.125, start=True) == [3]
    assert gaps(0.125, 0.125, 0.125, 0.5, 0.125, 0.125, start=True) == []
    assert gaps(0.125, 0.125, 0.125, 1.5, 0.125, 0.125) == []
    assert gaps(0.125, 0.125, 0.125, 2.125, 0.125, 0.125) == [3]


def test_inside_a_gap_there_is_no_value(lab: Analysis) -> None:
    trace = lab.trace([0, 1, 11, 12], [100, 200, 300, 400], gaps=[1])
    assert trace.at(6.0) is None
    assert trace.at(0.25) == 125.0
    assert trace.without(np.array([1])).at(6.0) is None
    assert trace.unseen(np.array([[0.0, 20.0]])).tolist() == [[1.0, 11.0], [14.0, 20.0]]


TENT = (range(20), [980] * 9 + [1020, 1020] + [980] * 9)


def test_the_peak_may_stand_where_the_outer_slopes_meet(lab: Analysis) -> None:
    # +40/s to the sample at 9 s and -40/s after the one at 10 s meet at 9.5 s and 1040.
    trace = lab.trace(*TENT)
    assert trace.peak(np.array([[0.0, 19.0]])) == (9.0, 1020.0, 1020.0, 1040.0)
    above = lab.exceedance.time_above(trace, 1030)
    assert above.estimate.size == 0
    # The tent is above 1030 from 9.25 s to 9.75 s.
    assert same(above.high, [[9.25, 9.75]])
    # Beside a run that was seen, the tip of another one counts as well.
    both = lab.trace(range(30), [980] * 9 + [1020, 1020] + [980] * 9 + [1060] + [980] * 9)
    assert same(lab.exceedance.time_above(both, 1030).high, [[9.25, 9.75], [19.0, 21.0]])
    assert same(lab.exceedance.time_above(trace, 1010).high, [[8.0, 11.0]])


def test_movement_within_the_noise_is_no_slope(lab: Analysis) -> None:
    # 0, 1, 1, 0 again and again lies beside the cubic through its neighbours by one third or one every time: three
    # deviations are more than the steps of 1, so they are no slopes that meet above.
    trace = lab.trace(range(80), [700, 701, 701, 700] * 20)
    assert 3 * trace.noise > 1
    assert trace.tents[0].size == 0
    assert close(trace.peak(np.array([[0.0, 79.0]])).high, 701.0 + 2 * trace.noise)


def test_a_top_that_no_two_slopes_tell_is_bounded_by_how_steep_it_may_have_been(lab: Analysis) -> None:
    def high(values: list[float], half: float = 0.0, gaps: tuple[int, ...] = ()) -> float:
        # Long and level before and after, so that neither noise nor the recording's ends say anything.
        flat = [values[0]] * 30
        trace = lab.trace(
            range(60 + len(values)), [*flat, *values, *[values[-1]] * 30], half, [30 + g for g in gaps]
        )
        return float(trace.peak(np.array([[0.0, 200.0]])).high)

    # Up by 10/s to 40, then to 20, 10, 0, -10: the line back from 20 by 10/s is at 30 where the rise ends at 40. The
    # fall came inside the interval, at most twice as steep as 20/s: 40 + 10 x = 20 + 40 (1 - x) at 0.4 s.
    assert close(high([0, 10, 20, 30, 40, 20, 10, 0, -10]), 44.0)
    assert close(high([-10, 0, 10, 20, 40, 30, 20, 10, 0]), 44.0)
    # A straight line up and one down that end at a sample leave nothing between the samples.
    assert close(high([0, 10, 20, 30, 40, 30, 20, 10, 0]), 40.0)
    # 20 and 20 stand between +10/s and -10/s: they meet at 25, nothing is steeper than that.
    assert close(high([0, 10, 20, 20, 10, 0]), 25.0)
    # Up by 4/s, then 6/s: half as steep again, 9/s, and down by 9/s likewise: they meet half way.
    assert close(high([0, 4, 10, 10, 4, 0]), 14.5)
    # Up by 1/s, then 6/s: no more than twice as steep, 12/s.
    assert close(high([0, 1, 7, 7, 1, 0]), 13.0)
    # In steps of 5: three readings of 745, up to them and down from them by 5/s. Between the last two it had
    # not moved before and fell by 5/s after; over more samples it had risen by 2.5/s, all of which a step of 5 may
    # hide: 745 + 10/3 x = 745 + 5 (1 - x), where 10/3 is the rise from 735 over three intervals.
    smooth = high([720, 725, 730, 735, 740, 745, 745, 745, 740, 735, 730, 725, 720], half=2.5)
    assert close(smooth, 745 + 25 / 6 * 5 / (25 / 6 + 5) + 2.5)
    # A corner is none: up by 30/s and then level at 1030, in steps of 1.
    assert close(high([940, 970, 1000, 1030, 1030, 1030, 1000, 970, 940], half=0.5), 1030.5)
    # A part of a trace, upright or upside down, knows what the whole does.
    whole = lab.trace(
        range(60), [0.0] * 20 + [10, 20, 20, 10] + [0.0] * 16 + [-10, -20, -20, -10] + [0.0] * 16
    )
    part, below = whole.clip(19.0, 24.0), whole.negated().clip(39.0, 44.0)
    assert [x.tolist() for x in part.tents] == [[4], [21.5], [25.0]]
    assert [x.tolist() for x in whole.clip(39.0, 44.0).negated().tents] == [x.tolist() for x in below.tents]
    assert below.tents[2].tolist() == [25.0]
    assert float(part.time_s[4]) == 21.0
    # Nothing is prolonged across a gap.
    assert close(high([0, 10, 20, 20, 10, 0], gaps=(1,)), 20.0)


def test_half_a_step_of_the_recorder_belongs_to_the_upper_bound(lab: Analysis) -> None:
    trace = lab.trace(range(20), [1000] * 9 + [1030, 1030] + [1000] * 9, half=0.5)
    # Between the two samples at 1030 the slopes of +-30/s meet at 1045.
    assert trace.peak(np.array([[0.0, 19.0]])).high == 1045.5
    flat = lab.trace(range(20), [1000] * 9 + [1010] + [1030] * 10, half=0.5)
    assert flat.peak(np.array([[0.0, 19.0]])).high == 1030.5
    # From 1029.5 on: 0.025 s of the slope of 20/s before the sample at 10 s, then to the end.
    above = lab.exceedance.time_above(flat, 1030)
    assert above.estimate.size == 0
    assert same(above.high, [[9.975, 19.0]])
    a = lab.judge(_hot(1030.0), resolution=1.0)
    assert [(e.kind, e.severity) for e in a.events] == [("hot_start", "possible")]


def _hot(peak: float) -> dict:
    """Return a start with 0.75 s exactly at `peak`."""
    from tests.analysis.recording_making import normal_start

    itt = [(0, 15), (23, 15), (27, 800), (29, peak), (29.75, peak), (31, 800), (48, 560), (80, 540)]
    return normal_start() | {"itt": itt}


def test_a_break_of_two_seconds_ends_a_run_and_a_shorter_one_does_not(lab: Analysis) -> None:
    rows = np.array([[0.0, 3.0], [5.0, 6.0], [7.875, 9.0]])
    first, last = lab.interval_sets.group_edges(rows, 2.0)
    assert [rows[i : j + 1].tolist() for i, j in zip(first, last, strict=True)] == [
        [[0, 3]],
        [[5, 6], [7.875, 9]],
    ]


def test_the_time_of_a_break_is_not_counted(lab: Analysis) -> None:
    trace = lab.trace(range(8), [0, 10, 10, 0, 10, 10, 0, 0])
    (run,) = _list(lab.exceedance.runs(lab.exceedance.time_above(trace, 5), 2.0), 1)
    # 0.5 to 2.5 and 3.5 to 5.5.
    assert (run.duration_s, run.start_s, run.end_s) == (4.0, 0.5, 5.5)


def test_each_bound_is_rejoined_by_its_own_breaks(lab: Analysis) -> None:
    trace = lab.trace(range(12), [0, 10, 10, 0, 0, 0, 10, 10, 10, 0, 0, 0])
    found = _list(lab.exceedance.runs(lab.exceedance.time_above(trace, 5), 2.0), 2)
    # Crossings half way: 0.5 to 2.5, and 5.5 to 8.5. Outside: 0 to 3 and 5 to 9.
    assert [(r.duration_low_s, r.duration_s, r.duration_high_s) for r in found] == [(1, 2, 3), (2, 3, 4)]


def test_a_run_at_the_edge_of_the_recording_has_no_upper_bound(lab: Analysis) -> None:
    ex = lab.exceedance
    begins = ex.time_above(lab.trace(range(6), [900, 900, 800, 800, 900, 800]), 830)
    assert [r.duration_high_s for r in ex.runs(begins, 0.5)] == [None, 2.0]
    ends = ex.time_above(lab.trace(range(6), [800, 900, 800, 800, 900, 900]), 830)
    assert [r.duration_high_s for r in ex.runs(ends, 0.5)] == [2.0, None]
    assert ex.summed(ends).duration_high_s is None


def _list(found: list, count: int) -> list:
    assert len(found) == count
    return found


def test_the_curve_holds_total_and_longest(lab: Analysis) -> None:
    # Two triangles of base 4 and 2 s, 100 and 50 high, from a floor of 400.
    trace = lab.trace([0, 2, 4, 5, 6, 7, 8], [400, 500, 400, 400, 450, 400, 400])
    curve = lab.time_curve.time_above_curve(trace, np.array([[0.0, 8.0]]), "itt", "degC", 400)
    # Above 400: all of both; above 450: half of the first; above 500: nothing.
    assert curve.levels == (400, 450, 500)
    assert same(curve.total_s, [6, 2, 0])
    assert same(curve.longest_s, [4, 2, 0])


def test_the_curve_leaves_out_only_what_adds_nothing(lab: Analysis) -> None:
    # From 400 to 480 and back in 16 s, and after a gap once more: 81 levels, each above for (480 - h) / 5 s twice.
    once = [*range(400, 481), *range(479, 399, -1)]
    t = [0.1 * k for k in range(161)]
    trace = lab.trace([*t, *(x + 50 for x in t)], once + once, gaps=[160])
    curve = lab.time_curve.time_above_curve(trace, np.array([[0.0, 66.0]]), "itt", "degC", 401)
    assert same(curve.total_s, [2 * (480 - h) / 5 for h in range(401, 481)])
    assert same(curve.longest_s, [(480 - h) / 5 for h in range(401, 481)])
    # 10 s above 440 on each side of a gap that no sample below shows.
    held = lab.trace([0, 10, 60, 70], [450, 450, 450, 450], gaps=[1])
    curve = lab.time_curve.time_above_curve(held, np.array([[0.0, 70.0]]), "itt", "degC", 440)
    assert curve.total_s == (0,)
    held = lab.trace([0, 10, 60, 70, 71], [450, 450, 450, 450, 440], gaps=[1])
    curve = lab.time_curve.time_above_curve(held, np.array([[0.0, 71.0]]), "itt", "degC", 440)
    assert same(curve.total_s, [21, 0])
    assert same(curve.longest_s, [11, 0])
    assert same(lab.exceedance.stretches_above(held, 445), [[0, 10], [60, 70.5]])
    assert len(lab.exceedance.stretches_above(held, 450)) == 0


def test_a_run_under_way_where_the_window_ends_counts_to_its_own_end_at_each_level(lab: Analysis) -> None:
    # Up to 500 in 2 s, level until 4 s, down to 480 at 6 s, then nothing is known until 20 s. The window ends at 3 s.
    trace = lab.trace([0, 2, 4, 6, 20], [400, 500, 500, 480, 480], gaps=[3])
    curve = lab.time_curve.time_above_curve(trace, np.array([[0.0, 3.0]]), "itt", "degC", 400, 20.0)
    assert curve.levels == (400, 480, 500)
    assert same(curve.total_s, [6, 4.4, 0])  # above 480 from 1.6 s; at 6 s the gap ends both
    # Down from 500 at 4 s to 400 at 8 s; the next start opens at 6 s, still at 450.
    trace = lab.trace([0, 2, 4, 8], [400, 500, 500, 400])
    curve = lab.time_curve.time_above_curve(trace, np.array([[0.0, 3.0]]), "itt", "degC", 400, 6.0)
    assert curve.levels == (400, 450, 500)
    assert same(curve.total_s, [6, 5, 0])
    # Where it rises again, only what was unbroken since the window counts: above 460 from 1.2 s to 5.6 s.
    trace = lab.trace([0, 2, 4, 6, 8, 10], [400, 500, 500, 450, 500, 460])
    curve = lab.time_curve.time_above_curve(trace, np.array([[0.0, 3.0]]), "itt", "degC", 455, 20.0)
    assert curve.levels == (460, 500)
    assert same(curve.total_s, [4.4, 0])


ONE = Band("I", ((830, 20), (920, 6), (1030, 0)), "Record it.")
TWO = Band("II", ((930, 30), (1030, 10), (1100, 10)), "Inspect.")
CHART = replace(START_LIMIT, band_method="peak_vs_time_above", band_base=830.0, bands=(ONE, TWO))


def test_a_band_begins_on_its_lower_edge_and_ends_with_the_chart(lab: Analysis) -> None:
    at = lab.chart_bands.band_at
    # The edge of I at 3 s is half way from 1030 to 920: 975. II begins at 10 s and 1030, at 20 s with 980.
    assert (at(CHART, 975.0, 3.0), at(CHART, 974.9, 3.0)) == ("I", None)
    assert (at(CHART, 1090.0, 9.9), at(CHART, 1040.0, 10.0), at(CHART, 980.0, 20.0)) == ("I", "II", "II")
    assert (at(CHART, 930.0, 30.0), at(CHART, 930.0, 30.1)) == ("II", "off the chart")
    assert (at(CHART, 1100.0, 12.0), at(CHART, 1101.0, 12.0)) == ("II", "off the chart")
    assert at(CHART, 1031.0, 0.0) == "I"
    upright = Band("III", ((900, 10), (850, 20), (830, 20)), "")
    assert lab.chart_bands.edge_level(upright, 20.0) == 830


def test_the_distance_to_the_edge_is_in_degrees_and_in_seconds(lab: Analysis) -> None:
    # At 4 s the edge of I is 1030 - 110 x 4 / 6 = 956.667; the level 1000 is reached after 6 x 30 / 110 s.
    value, seconds = lab.chart_bands.past_edge(ONE, 1000, 4)
    assert close(value, 1000 - (1030 - 440 / 6))
    assert close(seconds, 4 - 180 / 110)
    assert lab.chart_bands.past_edge(ONE, 1040, 4)[1] == 4.0


def test_the_method_of_the_profile_decides_the_band(lab: Analysis) -> None:
    curve = [(900.0, 29.0), (1000.0, 16.5), (1050.0, 2.0)]
    # (1000, 16.5) lies on II (its edge there is 997.5); the point (1050, 5) lies in I.
    assert lab.chart_bands.band_of(replace(CHART, band_method="curve"), 1050, 5, curve) == "II"
    assert lab.chart_bands.band_of(CHART, 1050, 5, curve) == "I"
    assert lab.chart_bands.band_of(replace(CHART, band_method=None), 1050, 5, curve) is None


def test_the_air_is_the_standard_atmosphere(lab: Analysis) -> None:
    air = lab.atmosphere
    # ICAO Doc 7488: 10 000 ft 268.338 K.
    assert close(air.isa_temperature_k(10_000.0), 268.338, 0.001)
    hot = air.total_conditions(5000.0, 30.0)
    # 30 degC at 5000 ft: theta 1.052056; (720 + 273.15) / 1.052056 - 273.15.
    assert close(hot.theta, 1.052056, 1e-6)
    assert close(air.referred(hot, itt_c=720.0).itt_c, 670.86, 0.01)
    # A wind of 20 kt from ahead, 60 degrees to the right: 10 kt.
    assert close(air.wind_components_kt(20.0, 60.0, 0.0)[0], 10.0)
    # Mach 0.5 at sea level: the total temperature is 5 % higher.
    assert close(air.total_conditions(0.0, 15.0, 0.5 * air.A0_KT).theta, 1.05, 1e-6)
