"""A limit's table as a chart that is edited by its corners: whatever is drawn stays a table."""

from hypothesis import given
from hypothesis import strategies as st

from debrief.analysis.model import TimeAbove
from debrief.session.charts.limit_table_chart import (
    chart_ranges,
    is_table,
    limit_table_chart,
    moved_corner,
    with_corner,
    without_corner,
)

TABLE = ((830.0, 20.0), (920.0, 6.0), (1030.0, 0.0))
ABOVE = TimeAbove("itt", "degC", (400.0, 800.0, 1000.0), (40.0, 15.0, 0.0), (40.0, 9.0, 0.0))
LEVELS, SECONDS = st.floats(-500, 3000), st.floats(0, 5000)
STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("add"), LEVELS, SECONDS, st.just(0)),
        st.tuples(st.just("move"), LEVELS, SECONDS, st.integers(0, 9)),
        st.tuples(st.just("remove"), st.just(0.0), st.just(0.0), st.integers(0, 9)),
    ),
    max_size=25,
)


@given(STEPS)
def test_whatever_is_drawn_levels_rise_and_seconds_fall(steps):
    points = ()
    for what, level, seconds, which in steps:
        if what == "add":
            found = with_corner(points, level, seconds)
            if found is not None:
                assert len(found[0]) == len(points) + 1
                points = found[0]
        elif points:
            index = which % len(points)
            points = (
                moved_corner(points, index, level, seconds)
                if what == "move"
                else without_corner(points, index)
            )
        assert is_table(points)
        assert all(seconds >= 0 for _, seconds in points)


@given(LEVELS, SECONDS)
def test_a_corner_goes_where_it_is_dragged_as_far_as_its_neighbours_let_it(level, seconds):
    (low, long), (at, held), (high, short) = moved_corner(TABLE, 1, level, seconds)
    assert (low, long, high, short) == (830, 20, 1030, 0)
    assert at == min(max(round(level / 5) * 5, 835), 1025)
    assert held == min(max(round(seconds), 1), 19)


def test_there_is_no_corner_more_where_there_is_no_room():
    assert with_corner(TABLE, 830, 10) is None  # there is one at this level
    assert with_corner(TABLE, 1100, 5) is None  # beyond "not at any time" nothing is allowed
    points, index = with_corner(TABLE, 871, 300)
    assert (points[index], index) == ((870, 19), 1)


def test_the_chart_shows_all_corners_and_the_seconds_that_the_limit_counts():
    chart = limit_table_chart(TABLE, "degC", ABOVE)
    (x_low, x_high), (y_low, y_high) = chart_ranges(TABLE, "degC", ABOVE)
    assert all(x_low <= s <= x_high and y_low <= level <= y_high for level, s in TABLE)
    start, steps = chart.panes[0].curves
    assert start.x.tolist() == [40, 15, 0]
    assert set(zip(steps.x.tolist(), steps.y.tolist(), strict=True)) >= {(20, 830), (6, 920), (0, 1030)}
    longest = limit_table_chart(TABLE, "degC", ABOVE, counts="longest").panes[0].curves[0]
    assert longest.x.tolist() == [40, 9, 0]
    assert chart.words == "830, 20 s; 920, 6 s; 1030, not at any time"


def test_the_start_behind_is_in_the_unit_of_the_table():
    in_degf = limit_table_chart((), "degF", ABOVE).panes[0]
    assert in_degf.curves[0].y.tolist() == [752, 1472, 1832]
    assert in_degf.y.range[1] >= 1832


def test_without_a_level_there_is_room_to_draw_and_nothing_is_said_to_be_allowed():
    chart = limit_table_chart((), "degC")
    assert chart.panes[0].curves == ()
    assert chart.words == "No level yet."
    assert chart.x.range[1] >= 20
