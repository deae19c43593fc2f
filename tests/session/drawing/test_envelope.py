import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from debrief.session.drawing.envelope import Envelope, gap_breaks


def _even(values: np.ndarray, interval: float = 0.1) -> Envelope:
    return Envelope(np.arange(values.size) * interval, values, np.zeros(max(values.size - 1, 0), bool))


signals = hnp.arrays(np.float64, st.integers(1, 6000), elements=st.floats(-1e6, 1e6, width=32))


@settings(max_examples=60, deadline=None)
@given(signals, st.integers(1, 400), st.data())
def test_every_pixel_column_shows_its_own_highest_and_lowest_sample(values, columns, data):
    time = np.arange(values.size) * 0.25
    envelope = _even(values, 0.25)
    begin = data.draw(st.floats(0.0, float(time[-1])))
    end = data.draw(st.floats(begin, float(time[-1]) + 1.0)) + 0.01
    drawn = envelope.view(begin, end, columns)
    inside = (time >= begin) & (time <= end)
    if not inside.any():
        return
    edges = np.linspace(begin, end, columns + 1)
    column_of = np.clip(np.searchsorted(edges, time, side="right") - 1, 0, columns - 1)
    drawn_column = np.clip(np.searchsorted(edges, drawn.time_s, side="right") - 1, 0, columns - 1)
    width = (end - begin) / columns
    # A bin reaches beyond the view: of one value throughout any of its samples may be the one that is drawn.
    seen = (drawn.time_s >= begin - 2 * width) & (drawn.time_s <= end + 2 * width)
    for column in np.unique(column_of[inside]):
        own = values[inside & (column_of == column)]
        # The finest bins may be up to two pixel columns wide; those of the other levels are narrower than one.
        near = seen & (np.abs(drawn_column - column) <= 2)
        assert near.any(), (column, width)
        assert drawn.values[near].max() >= own.max()
        assert drawn.values[near].min() <= own.min()


@settings(max_examples=60, deadline=None)
@given(signals, st.integers(1, 300))
def test_the_whole_view_contains_every_extreme(values, columns):
    drawn = _even(values).view(-1.0, values.size * 0.1 + 1.0, columns)
    assert drawn.values.max() == values.max()
    assert drawn.values.min() == values.min()
    assert drawn.time_s[0] == 0.0
    assert drawn.time_s[-1] == pytest.approx((values.size - 1) * 0.1)


@settings(max_examples=60, deadline=None)
@given(signals, st.integers(1, 300))
def test_every_drawn_point_is_a_recorded_sample_in_order_of_time(values, columns):
    time = np.arange(values.size) * 0.1
    drawn = _even(values).view(0.0, float(time[-1]) + 0.1, columns)
    assert np.all(np.diff(drawn.time_s) > 0)
    index = np.searchsorted(time, drawn.time_s)
    assert np.array_equal(time[index], drawn.time_s)
    assert np.array_equal(values[index], drawn.values)


@settings(max_examples=60, deadline=None)
@given(st.integers(4000, 9000), st.integers(0, 8999), st.integers(20, 500))
def test_one_sample_beyond_a_level_never_vanishes(count, where, columns):
    values = np.zeros(count)
    values[where % count] = 1031.0
    drawn = _even(values).view(0.0, count * 0.1, columns)
    assert (drawn.values > 1030.0).any()


def test_a_spike_in_the_last_partial_bin_is_drawn():
    values = np.zeros(100_003)
    values[-1] = 5.0
    drawn = _even(values).view(0.0, 10_001.0, 700)
    assert drawn.reduced
    assert drawn.values[-1] == 5.0


@settings(max_examples=40, deadline=None)
@given(st.integers(3000, 8000), st.lists(st.integers(1, 7999), min_size=1, max_size=30), st.integers(10, 400))
def test_a_line_never_crosses_a_gap(count, where, columns):
    steps = np.full(count - 1, 0.1)
    gaps = sorted({w % (count - 1) for w in where})
    steps[gaps] = 50.0
    time = np.r_[0.0, np.cumsum(steps)]
    breaks = np.zeros(count - 1, bool)
    breaks[gaps] = True
    drawn = Envelope(time, np.sin(time), breaks).view(-1.0, float(time[-1]) + 1.0, columns)
    for gap in gaps:
        across = (drawn.time_s[:-1] <= time[gap]) & (drawn.time_s[1:] >= time[gap + 1])
        assert not drawn.connect[:-1][across].any()


def test_a_missing_value_breaks_the_line_and_costs_no_neighbour():
    values = np.arange(10_000.0)
    values[5_000] = np.nan
    time = np.arange(10_000) * 0.1
    drawn = Envelope(time, values).view(499.0, 501.0, 1000)
    assert np.isfinite(drawn.values).all()
    assert {4999.0, 5001.0} <= set(drawn.values)
    broken = (drawn.values[:-1] == 4999.0) & (drawn.values[1:] == 5001.0)
    assert not drawn.connect[:-1][broken].any()


def test_a_sample_between_two_gaps_is_told_as_isolated():
    time = np.array([0.0, 0.1, 0.2, 50.0, 100.0, 100.1])
    drawn = Envelope(time, np.ones(6), np.array([False, False, True, True, False])).view(0.0, 101.0, 100)
    assert drawn.time_s[drawn.isolated].tolist() == [50.0]


@settings(max_examples=30, deadline=None)
@given(st.integers(5000, 20000), st.integers(100, 1000))
def test_a_reduced_picture_has_a_bounded_number_of_points(count, columns):
    drawn = _even(np.random.default_rng(1).normal(size=count)).view(0.0, count * 0.1, columns)
    assert drawn.time_s.size <= 4 * (columns + 3)


def test_uneven_sampling_keeps_each_extreme_at_its_own_time():
    dense = np.arange(0.0, 600.0, 0.05)
    sparse = np.arange(600.0, 20_000.0, 1.0)
    time = np.r_[dense, sparse]
    values = np.zeros(time.size)
    peak = dense.size + 7_777
    values[peak] = 9.0
    drawn = Envelope(time, values).view(0.0, 20_000.0, 900)
    assert drawn.time_s[drawn.values == 9.0].tolist() == [time[peak]]


def test_nothing_to_draw_gives_nothing():
    empty = Envelope(np.zeros(0), np.zeros(0))
    assert empty.view(0.0, 1.0, 100).time_s.size == 0
    assert empty.lowest is None


def test_gaps_are_those_of_the_analysis():
    time = np.r_[np.arange(0.0, 60.0, 0.1), np.arange(65.0, 120.0, 0.1)]
    assert np.flatnonzero(gap_breaks(time)).tolist() == [599]
