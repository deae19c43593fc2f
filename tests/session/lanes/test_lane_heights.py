"""Heights of lanes: by weight, and never below their least."""

import hypothesis.strategies as st
import pytest
from hypothesis import given

from debrief.session.lanes.lane_heights import presented, presented_least, shared_heights

ROWS = st.lists(st.tuples(st.floats(0.1, 20.0), st.floats(1.0, 150.0)), min_size=1, max_size=8)


@given(ROWS, st.floats(10.0, 2000.0))
def test_all_room_is_shared_and_none_is_below_its_least(rows, room):
    weights, least = zip(*rows, strict=True)
    heights = shared_heights(weights, least, room)
    assert all(height >= low - 1e-6 for height, low in zip(heights, least, strict=True))
    if room >= sum(least):
        assert sum(heights) == pytest.approx(room)


def test_with_room_enough_heights_are_as_the_weights():
    assert shared_heights([1.0, 3.0], [10.0, 10.0], 200.0) == [50.0, 150.0]


@given(st.permutations(["ng", "itt", "torque", "bus_volts", "np", "oil_temp"]), st.floats(300.0, 1500.0))
def test_on_a_projector_temperature_and_speed_come_first_and_all_that_stay_have_room(names, room):
    kept = presented(names, room, 8.0)
    assert {"ng", "itt"} <= set(kept)
    assert sum(map(presented_least, kept)) + 8.0 * (len(kept) - 1) <= room
    assert [name for name in names if name in kept] == list(kept)
