import threading

import pytest
from hypothesis import given
from hypothesis import strategies as st

from debrief.gui.background.jobs import Jobs
from debrief.gui.menus.actions import COMMANDS
from debrief.session.drawing.axes import nice_step, tick_text, ticks, time_ticks
from debrief.session.drawing.placing import Box, Placer


def _count_to(number):
    yield from range(number)
    return number


def test_a_job_yields_progress_and_returns_its_value(qtbot):
    jobs = Jobs()
    progress = []
    jobs.progressed.connect(lambda report: progress.append(report.value))
    with qtbot.waitSignal(jobs.succeeded) as done:
        jobs.start("count", lambda: _count_to(3))
    assert done.args[0].value == 3
    assert progress == [0, 1, 2]
    jobs.close()


def test_an_error_is_delivered_not_raised(qtbot):
    def work():
        yield 1
        raise ValueError("no")

    jobs = Jobs()
    with qtbot.waitSignal(jobs.failed) as failed:
        jobs.start("x", work)
    assert isinstance(failed.args[0].error, ValueError)
    jobs.close()


def test_a_replaced_job_says_nothing_any_more(qtbot):
    go_on = threading.Event()

    def old():
        yield 0
        go_on.wait(5)
        return "old"

    jobs = Jobs()
    heard = []
    jobs.succeeded.connect(lambda report: heard.append(report.value))
    jobs.start("open", old)
    jobs.start("open", lambda: _count_to(1))
    go_on.set()
    qtbot.waitUntil(lambda: jobs.count == 0)
    assert heard == [1]
    jobs.close()


def test_closing_waits_for_the_pool(qtbot):
    begun, ended = threading.Event(), threading.Event()

    def work():
        try:
            while True:
                begun.set()
                yield 0
        finally:
            ended.set()

    jobs = Jobs()
    jobs.start("x", work)
    assert begun.wait(5)
    jobs.close()
    assert ended.is_set()
    assert jobs.count == 0


boxes = st.lists(
    st.tuples(st.integers(0, 300), st.integers(0, 100), st.integers(5, 80), st.integers(8, 20)), max_size=40
)


@given(boxes)
def test_placed_words_never_overlap_and_stay_inside(wanted):
    area = Box(0, 0, 320, 120)
    placer = Placer(area, gap=1.0)
    placed = []
    for left, top, width, height in wanted:
        candidates = [Box(left, top + row * 15, width, height) for row in range(-3, 4)]
        box = placer.place(candidates)
        if box is not None:
            placed.append(box)
    for i, first in enumerate(placed):
        assert first.within(area)
        assert not any(first.meets(other) for other in placed[i + 1 :])


def test_a_place_that_the_trace_crosses_is_the_last_choice():
    placer = Placer(Box(0, 0, 100, 100))
    crossed, free = Box(0, 0, 20, 10), Box(0, 50, 20, 10)
    assert placer.place([crossed, free], lambda box: box is crossed) is free
    assert placer.place([crossed, free], lambda box: box is crossed) is crossed


@given(st.floats(-1e5, 1e5), st.floats(1e-3, 1e5), st.integers(2, 12))
def test_ticks_are_round_inside_and_not_too_many(low, span, most):
    found = ticks(low, low + span, most)
    assert len(found) <= most + 1
    step = nice_step(span, most)
    assert all(low - 1e-6 * step <= tick <= low + span + 1e-6 * step for tick in found)


@pytest.mark.parametrize(
    ("value", "step", "text"),
    [(0.5, 0.5, "0.5"), (1200, 200, "1200"), (-40, 20, "−40"), (0.02, 0.01, "0.02")],
)
def test_tick_numbers_have_the_decimals_of_their_step(value, step, text):
    assert tick_text(value, step) == text


def test_time_ticks_are_round_times():
    assert time_ticks(5.0, 56.0, 6) == (10.0, 20.0, 30.0, 40.0, 50.0)
    assert time_ticks(0.0, 36000.0, 6) == (0.0, 7200.0, 14400.0, 21600.0, 28800.0, 36000.0)


def test_no_key_does_two_things():
    keys = [key for command in COMMANDS for key in command.keys]
    assert len(keys) == len(set(keys))
