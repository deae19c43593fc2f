from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.session.drawing.axes import rounded_range, ticks, time_ticks
from debrief.session.drawing.mark_names import place_over_lines
from debrief.session.drawing.placing import spread

finite = st.floats(-1e5, 1e5, allow_nan=False)


@given(low=finite, span=st.floats(1e-3, 1e5), count=st.integers(1, 12))
def test_ticks_are_inside_and_not_many_more_than_asked(low: float, span: float, count: int) -> None:
    found = ticks(low, low + span, count)
    assert all(low - span * 1e-6 <= tick <= low + span * (1 + 1e-6) for tick in found)
    assert len(found) <= count + 1


def test_ticks_are_round_numbers() -> None:
    assert ticks(0, 1200, 6) == (0, 200, 400, 600, 800, 1000, 1200)
    assert ticks(17.6, 25.1, 4) == (18, 20, 22, 24)


def test_time_ticks_are_those_of_a_clock() -> None:
    assert time_ticks(0, 60, 4) == (0, 15, 30, 45, 60)
    assert time_ticks(0, 3600, 6) == (0, 600, 1200, 1800, 2400, 3000, 3600)
    assert time_ticks(11.0, 14.0, 3) == (11, 12, 13, 14)


@given(low=finite, span=st.floats(0, 1e5))
def test_rounded_range_holds_the_values_and_is_never_empty(low: float, span: float) -> None:
    a, b = rounded_range(low, low + span)
    assert a <= low + 1e-6 * max(1, abs(low))
    assert b >= low + span - 1e-6 * max(1, abs(low + span))
    assert b > a


def test_rounded_range_of_nothing_finite_is_a_plain_one() -> None:
    assert rounded_range(float("nan"), 3.0) == (0.0, 1.0)


@given(
    marks=st.lists(st.tuples(st.floats(12, 150), st.floats(4, 26)), min_size=1, max_size=9),
)
def test_labels_neither_overlap_nor_are_crossed_by_another_line(marks: list[tuple[float, float]]) -> None:
    positions = [x for x, _ in marks]
    widths = [w for _, w in marks]
    places = place_over_lines(positions, widths, 0.0, 178.0)
    for i, j in itertools.permutations(range(len(marks)), 2):
        a, b = places[i], places[j]
        if a.row == b.row:
            assert a.left + widths[i] <= b.left or b.left + widths[j] <= a.left
        if b.row > a.row:
            assert not a.left < positions[j] < a.left + widths[i]


@given(marks=st.lists(st.tuples(st.floats(0, 178), st.floats(4, 40)), min_size=1, max_size=9))
def test_labels_stay_on_the_page(marks: list[tuple[float, float]]) -> None:
    places = place_over_lines([x for x, _ in marks], [w for _, w in marks], 0.0, 178.0)
    for place, (_, width) in zip(places, marks, strict=True):
        assert place.left >= -1e-9
        assert place.left + width <= 178.0 + 1e-9


def test_a_single_label_stands_right_of_its_line_in_the_lowest_row() -> None:
    (place,) = place_over_lines([50.0], [20.0], 0.0, 178.0)
    assert place.row == 0
    assert place.left > 50.0


@given(wanted=st.lists(st.floats(0, 100), min_size=1, max_size=12), height=st.floats(0.5, 6))
def test_spread_keeps_the_distance_and_the_order(wanted: list[float], height: float) -> None:
    places = spread(wanted, height, 0.0, 100.0)
    pairs = sorted(zip(wanted, places, strict=True))
    for (_, a), (_, b) in itertools.pairwise(pairs):
        assert b >= a + height - 1e-9 or len({w for w, _ in pairs}) < len(pairs)
    ordered = sorted(places)
    assert all(b - a >= height - 1e-9 for a, b in itertools.pairwise(ordered))


def test_spread_leaves_alone_what_is_far_enough_apart() -> None:
    assert spread([10.0, 50.0, 30.0], 3.0, 0.0, 100.0) == [10.0, 50.0, 30.0]


@pytest.mark.parametrize("count", [0, 1])
def test_spread_of_none_and_one(count: int) -> None:
    assert len(spread([5.0] * count, 3.0, 0.0, 10.0)) == count
