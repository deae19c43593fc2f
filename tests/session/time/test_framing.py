import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.session.time.framing import Framing

moves = st.lists(
    st.one_of(
        st.tuples(st.just("zoom"), st.floats(0.01, 100.0), st.floats(-10.0, 110.0)),
        st.tuples(st.just("pan"), st.floats(-500.0, 500.0), st.just(0.0)),
        st.tuples(st.just("frame"), st.floats(-50.0, 150.0), st.floats(0.0, 80.0)),
        st.tuples(st.just("include"), st.floats(0.0, 100.0), st.just(0.0)),
        st.tuples(st.just("back"), st.just(0.0), st.just(0.0)),
    ),
    max_size=20,
)


@given(moves)
def test_the_range_never_leaves_the_recording_nor_turns_over(steps):
    framing = Framing(100.0)
    for kind, first, second in steps:
        if kind == "zoom":
            framing.zoom(first, second)
        elif kind == "pan":
            framing.pan(first)
        elif kind == "frame":
            framing.frame(first, first + second)
        elif kind == "include":
            framing.include(first)
        else:
            framing.back()
        assert -1e-9 <= framing.begin_s < framing.end_s <= 100.0 + 1e-9
        assert framing.span_s >= 0.5 - 1e-9


def test_zooming_keeps_the_time_under_the_mouse_in_place():
    framing = Framing(100.0)
    framing.zoom(0.5, 40.0)
    assert (framing.begin_s, framing.end_s) == (20.0, 70.0)
    assert (40.0 - framing.begin_s) / framing.span_s == pytest.approx(0.4)


def test_back_returns_to_the_range_before_and_forward_undoes_it():
    framing = Framing(100.0)
    framing.frame(10.0, 20.0)
    framing.frame(12.0, 14.0)
    framing.back()
    assert (framing.begin_s, framing.end_s) == (10.0, 20.0)
    framing.back()
    assert framing.shows_all
    framing.forward()
    framing.forward()
    assert (framing.begin_s, framing.end_s) == (12.0, 14.0)
    assert not framing.forward()


def test_a_time_outside_is_brought_into_view_without_zooming():
    framing = Framing(100.0)
    framing.frame(10.0, 20.0)
    assert framing.include(50.0)
    assert framing.begin_s < 50.0 < framing.end_s
    assert framing.span_s == pytest.approx(10.0)
    assert not framing.include(51.0)


def test_an_empty_range_is_widened_around_its_middle():
    framing = Framing(100.0)
    framing.frame(50.0, 50.0)
    assert (framing.begin_s, framing.end_s) == (49.75, 50.25)
