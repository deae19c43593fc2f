"""Values beside the playhead: never on each other or on a title, and steady while it moves."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.session.drawing.placing import Box, Placer
from debrief.session.lanes.value_layout import GAP, Wish, Word, spread, stand

LANE = Box(100.0, 50.0, 500.0, 160.0)
HEIGHT = 19.0

heights = st.floats(20.0, 240.0)
wishes = st.lists(st.builds(Wish, st.floats(20.0, 90.0), heights), min_size=1, max_size=4)
boxes = st.builds(
    Box, st.floats(100.0, 560.0), st.floats(50.0, 190.0), st.floats(5.0, 160.0), st.floats(5.0, 30.0)
)
written = st.lists(st.builds(Word, boxes, st.booleans()), max_size=8)
heads = st.floats(90.0, 610.0)


@given(heads, wishes, written)
def test_no_value_stands_on_another_on_a_fixed_word_or_outside_the_lane(x, wanted, words):
    placed = [box for box in stand(LANE, x, wanted, HEIGHT, words).boxes if box is not None]
    for i, box in enumerate(placed):
        assert box.within(LANE)
        assert not any(box.meets(other) for other in placed[i + 1 :])
        assert not any(word.fixed and box.meets(word.box) for word in words)


@given(heads, wishes, written)
def test_a_word_is_hidden_exactly_where_a_value_would_cover_it(x, wanted, words):
    now = stand(LANE, x, wanted, HEIGHT, words)
    placed = [box for box in now.boxes if box is not None]
    for index, word in enumerate(words):
        covered = any(word.box.meets(box, 1.0) for box in placed)
        assert (index in now.hidden) == (covered and not word.fixed)


@given(st.lists(st.tuples(heads, wishes), min_size=2, max_size=12), written)
def test_the_same_holds_all_along_a_way_of_the_playhead(way, words):
    before = None
    for x, wanted in way:
        before = stand(LANE, x, wanted, HEIGHT, words, before)
        placed = [box for box in before.boxes if box is not None]
        for i, box in enumerate(placed):
            assert not any(box.meets(other) for other in placed[i + 1 :])
            for index, word in enumerate(words):
                assert index in before.hidden or not box.meets(word.box)


@given(st.floats(110.0, 590.0), wishes)
def test_in_a_lane_without_fixed_words_every_value_has_a_place(x, wanted):
    assert None not in stand(LANE, x, wanted, HEIGHT, ()).boxes


@given(st.lists(heights, min_size=1, max_size=4), st.floats(-1.0, 1.0))
def test_values_follow_their_traces_without_a_jump(ys, by):
    first = stand(LANE, 300.0, [Wish(40.0, y) for y in ys], HEIGHT, ())
    then = stand(LANE, 300.5, [Wish(40.0, y + by) for y in ys], HEIGHT, (), first)
    for a, b in zip(first.boxes, then.boxes, strict=True):
        assert abs(a.top - b.top) <= abs(by) + 1e-6


@given(st.lists(st.floats(-0.9, 0.9), min_size=4, max_size=30), wishes, written, st.floats(150.0, 550.0))
def test_noise_of_two_pixels_neither_swaps_values_nor_flickers_words(noise, wanted, words, x):
    """A word may be hidden for good or a side be changed for good, but nothing goes to and fro."""
    words = [Word(word.box) for word in words]
    before, order, hidden = None, None, []
    for shift in noise:
        moved = [Wish(wish.width, wish.y + shift) for wish in wanted]
        before = stand(LANE, x, moved, HEIGHT, words, before)
        order = before.order if order is None else order
        assert before.order == order
        hidden.append((before.on_left, before.hidden))
    on_one_side = [words for side, words in hidden if side == hidden[-1][0]]
    for one, other in itertools.pairwise(on_one_side):
        assert one <= other


def test_values_leave_a_side_only_where_it_covers_more_words_than_the_other():
    word = Word(Box(330.0, 90.0, 60.0, 14.0))
    wanted = [Wish(40.0, 100.0)]
    assert not stand(LANE, 200.0, wanted, HEIGHT, [word]).on_left
    left = stand(LANE, 300.0, wanted, HEIGHT, [word])
    assert left.on_left
    assert left.hidden == frozenset()
    both = [word, Word(Box(240.0, 90.0, 40.0, 14.0))]
    assert not stand(LANE, 300.0, wanted, HEIGHT, both).on_left
    assert stand(LANE, 300.0, wanted, HEIGHT, both).hidden == {0}


def test_a_hidden_word_comes_back_only_when_the_value_is_well_past():
    both = [Word(Box(330.0, 90.0, 60.0, 14.0)), Word(Box(200.0, 90.0, 70.0, 14.0))]
    wanted = [Wish(40.0, 100.0)]
    now = stand(LANE, 300.0, wanted, HEIGHT, both)
    assert now.hidden == {0}
    x = 300.0
    while 0 in now.hidden:
        x -= 1.0
        now = stand(LANE, x, wanted, HEIGHT, both, now)
    assert 330.0 - (x + 10.0 + 40.0) == pytest.approx(8.0, abs=1.0)


def test_where_there_is_no_room_for_all_the_last_are_left_out():
    low = Box(100.0, 50.0, 84.0, 30.0)
    placed = stand(low, 140.0, [Wish(30.0, 60.0)] * 4, 24.0, ()).boxes
    assert [box is not None for box in placed] == [True, True, False, False]


@given(st.lists(st.floats(-50.0, 150.0), min_size=1, max_size=6))
def test_spread_places_keep_their_distance_and_stay_inside(wanted):
    places = spread(wanted, 10.0, 0.0, 100.0, range(len(wanted)))
    assert all(b - a >= 10.0 - 1e-9 for a, b in itertools.pairwise(places))
    assert min(places) >= -1e-9
    assert max(places) <= 100.0 + 1e-9
    apart = all(b - a >= 10.0 for a, b in itertools.pairwise(wanted))
    if apart and min(wanted) >= 0 and max(wanted) <= 100:
        assert places == pytest.approx(wanted)


@given(
    st.lists(st.tuples(st.lists(boxes, min_size=1, max_size=5), st.booleans()), max_size=12),
    st.floats(0.0, 4.0),
)
def test_still_words_never_overlap_and_the_earlier_one_never_gives_way(wanted, gap):
    """Title, limits, findings, moments, bands are placed in this order of priority."""
    placer = Placer(LANE, gap)
    first = [placer.place(places, lambda box, c=crosses: c) for places, crosses in wanted]
    placed = [box for box in first if box is not None]
    for i, box in enumerate(placed):
        assert box.within(LANE)
        assert not any(box.meets(other, gap) for other in placed[i + 1 :])
    # Leaving out the last words changes nothing for those before them.
    again = Placer(LANE, gap)
    half = wanted[: len(wanted) // 2]
    assert [again.place(places, lambda box, c=crosses: c) for places, crosses in half] == first[: len(half)]


def test_values_keep_a_gap():
    top, bottom = stand(LANE, 300.0, [Wish(40.0, 100.0), Wish(40.0, 100.0)], HEIGHT, ()).boxes
    assert bottom.top - top.bottom == pytest.approx(GAP)
