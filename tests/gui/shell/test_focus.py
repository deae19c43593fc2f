"""Whoever enters a view or leaves a dialog has the keys on what the view is about: Space plays and presses no button."""

from __future__ import annotations

from functools import partial

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication

from debrief.gui.widgets.asking import RestQuestion, ask_for_rest
from tests.gui.user import User, busy, until
from tests.session import assessment_maker as made

VIEWS = {"starts": "Ctrl+2", "flight": "Ctrl+3", "history": "Ctrl+4", "report": "Ctrl+5", "definitions": "F1"}


@pytest.fixture
def open_desk(desk, qtbot):
    desk.show(made.hot_start())
    desk.window.activateWindow()
    qtbot.waitUntil(desk.window.isActiveWindow)
    until(lambda: not busy(desk.window))
    return desk


def space_plays(desk) -> bool:
    focus = QApplication.focusWidget() or desk.window
    QTest.keyClick(focus, Qt.Key.Key_Space)
    playing = desk.window.replay.session.playback.playing
    desk.window.replay.pause()
    return playing


def comes_back(desk, qtbot) -> None:
    """Let the window be active again, as a desktop does where a dialog has closed."""
    desk.window.activateWindow()
    qtbot.waitUntil(desk.window.isActiveWindow)


def left_on(desk, name: str) -> None:
    """Put the keys on a button, as by Tab."""
    desk.user.find(name, QAbstractButton).setFocus(Qt.FocusReason.TabFocusReason)
    assert QApplication.focusWidget() is desk.user.find(name, QAbstractButton)


@pytest.mark.parametrize("view", VIEWS)
def test_back_in_the_replay_space_plays_whatever_had_the_keys_before(open_desk, view):
    left_on(open_desk, "Save report...")
    open_desk.user.presses(VIEWS[view])
    until(lambda: not busy(open_desk.window))
    assert open_desk.window.view == view
    assert not isinstance(QApplication.focusWidget(), QAbstractButton)
    pressed: list[str] = []
    for button in open_desk.window.findChildren(QAbstractButton):
        button.clicked.connect(partial(pressed.append, button.text()))
    QTest.keyClick(QApplication.focusWidget(), Qt.Key.Key_Space)
    assert pressed == []
    left_on(open_desk, "Save report...")
    open_desk.user.presses("Ctrl+1")
    assert space_plays(open_desk)
    assert pressed == []


def test_entering_the_replay_again_while_it_is_shown_brings_the_keys_back(open_desk):
    left_on(open_desk, "Speed 5")
    open_desk.user.presses("Ctrl+1")
    assert space_plays(open_desk)


def test_after_another_window_of_the_program_space_plays(open_desk, qtbot):
    left_on(open_desk, "Save report...")
    open_desk.user.presses("Shift+F1")
    dialog = next(w for w in QApplication.topLevelWidgets() if w.isVisible() and w is not open_desk.window)
    dialog.activateWindow()
    qtbot.waitUntil(dialog.isActiveWindow)
    dialog.close()
    comes_back(open_desk, qtbot)
    assert space_plays(open_desk)


def test_after_a_question_that_is_answered_or_not_space_plays(open_desk, qtbot):
    for key in (Qt.Key.Key_Escape, Qt.Key.Key_Return):
        left_on(open_desk, "Save report...")
        ask_for_rest(open_desk.window, RestQuestion("30 min"), lambda text: None)
        dialog = User(open_desk.window).dialog("Starter rest before the recording").root
        qtbot.waitUntil(dialog.isActiveWindow)
        QTest.keyClick(QApplication.focusWidget() or dialog, key)
        comes_back(open_desk, qtbot)
        assert space_plays(open_desk)


def test_a_button_that_went_with_its_answer_leaves_the_keys_to_the_playhead(open_desk):
    left_on(open_desk, "Save report...")
    open_desk.show(made.hot_start())  # as after an answer: the recording is judged again
    assert space_plays(open_desk)
