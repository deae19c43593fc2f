"""Every tick in a row has its name, as near above it as the others leave room."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.session.drawing.mark_names import place_names

WIDTHS = (42.0, 24.0, 54.0, 24.0, 18.0, 24.0)


def test_names_with_room_stand_above_their_own_ticks():
    assert place_names([60.0, 200.0, 300.0], [40.0, 20.0, 30.0], 0.0, 600.0, 4.0) == [40.0, 190.0, 285.0]


def test_names_of_ticks_near_each_other_share_the_way():
    fuel, light_off = place_names([210.0, 222.0], [24.0, 54.0], 0.0, 600.0, 4.0)
    assert light_off - (fuel + 24.0) == pytest.approx(4.0)
    assert (210.0 - (fuel + 12.0)) == pytest.approx(light_off + 27.0 - 222.0)


@given(st.lists(st.floats(0, 600), min_size=1, max_size=6))
def test_no_two_names_meet_none_leaves_the_row_and_their_order_is_that_of_the_ticks(places):
    places = sorted(places)
    widths = WIDTHS[: len(places)]
    lefts = place_names(places, widths, 0.0, 600.0, 4.0)
    rights = [left + width for left, width in zip(lefts, widths, strict=True)]
    assert lefts[0] >= 0.0
    assert rights[-1] <= 600.0 + 1e-9
    assert all(left - right >= 4.0 - 1e-9 for left, right in zip(lefts[1:], rights, strict=False))
