"""Highest, lowest and mean between the cursors: by hand, and against the trace sampled closely."""

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given

from debrief.recording.model import Channel
from debrief.session.limits.cursor_extent import extent, sums_of
from debrief.session.limits.cursor_measure import interpolated


def channel_of(times, values, unit="degC", name="itt"):
    return Channel(name, unit, np.array(times, float), np.array(values, float), "Column")


def between(channel, begin, end, gaps=()):
    breaks = np.zeros(max(channel.time_s.size - 1, 0), dtype=bool)
    breaks[list(gaps)] = True
    return extent(channel, breaks, sums_of(channel, breaks), begin, end), breaks


def test_a_triangle_by_hand():
    found, _ = between(channel_of([0, 10, 20], [100, 300, 100]), 5.0, 20.0)
    assert (found.highest, found.highest_s, found.lowest, found.lowest_s) == (300, 10, 100, 20)
    # From 200 to 300 in 5 s and from 300 to 100 in 10 s: (1250 + 2000) / 15.
    assert found.mean == pytest.approx(3250 / 15)
    assert found.unknown_s == 0
    assert found.forms()[0] == "highest 300 at 0:10.0, lowest 100 at 0:20.0, mean 217 °C"


def test_what_is_not_known_counts_for_nothing_and_is_said():
    channel = channel_of([0, 10, 40, 50], [100, 100, 500, 500])
    found, _ = between(channel, 0.0, 60.0, gaps=[1])
    assert found.mean == pytest.approx(300)  # ten seconds of each
    assert found.unknown_s == pytest.approx(40)
    assert all(form.endswith("; 40.0 s not known") for form in found.forms())
    assert between(channel, 15.0, 35.0, gaps=[1])[0] is None
    assert between(channel, 70.0, 80.0)[0] is None


def test_a_switch_holds_its_value():
    found, _ = between(channel_of([0, 10, 20], [0, 1, 1], "0/1", "starter"), 5.0, 15.0)
    assert found.mean == pytest.approx(0.5)


@given(
    values=st.lists(st.one_of(st.floats(-100, 1200), st.just(float("nan"))), min_size=2, max_size=8),
    gap=st.integers(0, 6),
    ends=st.tuples(st.floats(-2, 9), st.floats(0.01, 9)),
)
def test_it_is_what_a_close_look_at_the_trace_gives(values, gap, ends):
    channel = channel_of(range(len(values)), values)
    begin, end = ends[0], ends[0] + ends[1]
    found, breaks = between(channel, begin, end, gaps=[gap] if gap < len(values) - 1 else [])
    step = (end - begin) / 4000
    seen = [interpolated(channel, breaks, begin + step * (i + 0.5)) for i in range(4000)]
    known = [value for value in seen if value is not None]
    if found is None:
        assert len(known) <= 1
        return
    span = 1300 * (4 * step + 1e-6)
    assert found.unknown_s == pytest.approx((4000 - len(known)) * step, abs=10 * step)
    if len(known) > 20:
        assert found.highest >= max(known) - 1e-6
        assert found.lowest <= min(known) + 1e-6
        assert found.mean == pytest.approx(np.mean(known), abs=span + 1300 * 12 / len(known))
