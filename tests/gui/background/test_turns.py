"""Work in portions: one step in each turn of the event loop."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QWidget

from debrief.gui.background.turns import Turns


class Steps:
    def __init__(self):
        self.done = []

    def one(self):
        self.done.append("one")

    def two(self):
        self.done.append("two")


@pytest.fixture
def turns(qtbot):
    made = Turns()
    yield made
    made.stop()


@pytest.fixture
def steps():
    return Steps()


def test_between_two_steps_the_event_loop_goes_round(turns, steps, qtbot):
    between = []
    beat = QTimer()
    beat.setInterval(0)
    beat.timeout.connect(lambda: between.append(tuple(steps.done)))
    beat.start()
    turns.take(steps.one, steps.two)
    assert steps.done == []
    qtbot.waitUntil(lambda: len(steps.done) == 2)
    beat.stop()
    assert steps.done == ["one", "two"]
    assert ("one",) in between


def test_a_step_that_waits_is_done_once(turns, steps, qtbot):
    turns.take(steps.one, steps.two)
    turns.take(steps.one)
    qtbot.waitUntil(lambda: not turns.waits(steps.two))
    assert steps.done == ["one", "two"]


def test_a_step_asked_for_again_after_it_was_done_is_done_again(turns, steps, qtbot):
    turns.take(steps.one)
    qtbot.waitUntil(lambda: steps.done == ["one"])
    turns.take(steps.one)
    qtbot.waitUntil(lambda: steps.done == ["one", "one"])


def test_a_dropped_step_is_not_done(turns, steps, qtbot):
    turns.take(steps.one, steps.two)
    turns.drop(steps.one)
    qtbot.waitUntil(lambda: not turns.waits(steps.two))
    assert steps.done == ["two"]


def test_finishing_does_what_waits_at_once_and_nothing_else(turns, steps):
    turns.take(steps.one, steps.two)
    turns.finish(steps.two)
    assert steps.done == ["two"]
    assert turns.waits(steps.one)
    turns.finish(steps.two)
    assert steps.done == ["two"]


def test_a_step_that_fails_does_not_hold_up_the_others(turns, steps, qtbot):
    def broken():
        raise ValueError("broken")

    turns.take(broken, steps.two)
    with qtbot.captureExceptions() as caught:
        qtbot.waitUntil(lambda: steps.done == ["two"])
    assert [kind for kind, _, _ in caught] == [ValueError]


def test_parts_appear_one_after_the_other(turns, qtbot):
    window = QWidget()
    qtbot.addWidget(window)
    first, second = QWidget(window), QWidget(window)
    window.show()
    turns.appear(first, second)
    seen = [(first.updatesEnabled(), second.updatesEnabled())]
    beat = QTimer()
    beat.setInterval(0)
    beat.timeout.connect(lambda: seen.append((first.updatesEnabled(), second.updatesEnabled())))
    beat.start()
    qtbot.waitUntil(second.updatesEnabled)
    beat.stop()
    assert seen[0] == (False, False)
    assert (True, False) in seen
    assert (False, True) not in seen
