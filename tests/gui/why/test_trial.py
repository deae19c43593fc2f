"""What would change the verdict: tried by grip, keys and fields, never kept."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QPoint, QRectF, Qt
from PySide6.QtGui import QAccessible
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QWidget

from debrief.session.document import assessment_document, dumps
from tests.demo_assessing import DEMOS, assessed
from tests.gui.user import LEFT, NONE, image_of, painted_anew, pixels, until

HOT = next(path for path in DEMOS if path.name.startswith("06"))
KEPT = next(path for path in DEMOS if path.name.startswith("01"))
GRIP = "Tried level of ITT, °C"


@pytest.fixture
def hot(desk):
    desk.show(assessed(HOT))
    desk.user.presses("W")
    return desk


def _why(desk):
    return desk.user.part("Why")


def _came_to(desk, words):
    until(lambda: words in _why(desk).reads("What the trial came to"))


def test_the_nearest_change_is_said_without_being_asked_for(hot):
    until(lambda: "Would be within" in _why(hot).reads("Nearest change"))
    assert _why(hot).reads("Nearest change") == (
        "Would be within if the limit were 1163 °C or more or if 3.3 s or more were allowed."
    )


def test_a_level_that_is_dragged_is_counted_anew_and_marked_as_a_trial(hot):
    document = dumps(assessment_document(hot.window.replay.session.assessment))
    assert not _why(hot).sees("TRIAL")
    grip = hot.user.find(GRIP)
    before = pixels(image_of(hot.window.lanes))
    middle = grip.rect().center()
    QTest.mousePress(grip, LEFT, NONE, middle)
    QTest.mouseMove(grip, middle - QPoint(0, 3))
    QTest.mouseRelease(grip, LEFT, NONE, middle)
    assert _why(hot).sees("TRIAL, not saved")
    level = int(hot.user.find("Try another level of ITT").text())
    assert 1030 < level < 1159
    _came_to(hot, f"Above {level} °C for")
    assert _why(hot).sees("not allowed at any time: exceeded")
    words = [one.text for one in painted_anew(hot.user.find("Lanes"))]
    assert any(text.startswith(f"TRIAL {level} °C") for text in words)
    assert (before != pixels(image_of(hot.window.lanes))).any()
    hot.user.presses("Escape")
    assert not _why(hot).sees("TRIAL")
    assert hot.user.find("Try another level of ITT").text() == "1030"
    hot.user.presses("Escape")
    assert not hot.user.has("Why")
    assert not hot.user.has(GRIP)
    # Neither the assessment nor what is written of it knows anything of the trial.
    assert dumps(assessment_document(hot.window.replay.session.assessment)) == document


def test_the_grip_goes_with_the_panel_and_does_not_come_back_with_other_colours_or_another_recording(hot):
    assert hot.user.has(GRIP)
    hot.user.presses("Escape")
    assert not hot.user.has(GRIP)
    hot.window.looks.use_colours("dark")
    assert not hot.user.has(GRIP)
    hot.user.presses("Shift+N")
    hot.user.presses("Shift+N")
    assert not hot.user.has(GRIP)
    hot.show(assessed(KEPT))
    hot.show(assessed(HOT))
    assert not hot.user.has(GRIP)
    hot.user.presses("W")
    assert hot.user.has(GRIP)


def test_the_grip_is_a_slider_to_keys_and_screen_readers(hot):
    grip = hot.user.find(GRIP)
    reader = QAccessible.queryAccessibleInterface(grip)
    assert reader.role() == QAccessible.Role.Slider
    assert reader.text(QAccessible.Text.Name) == GRIP
    assert reader.valueInterface().currentValue() == 1030
    grip.setFocus()
    QTest.keyClick(grip, Qt.Key.Key_Up)
    QTest.keyClick(grip, Qt.Key.Key_Up, Qt.KeyboardModifier.ShiftModifier)
    assert hot.user.find("Try another level of ITT").text() == "1041"
    _came_to(hot, "Above 1041 °C")


def test_level_and_seconds_can_be_typed_in_words_of_their_own(hot):
    hot.user.types("2000 degF", into="Try another level of ITT")
    _came_to(hot, "Above 1093")
    hot.user.types("1 min", into="Try other seconds")
    _came_to(hot, "60 s allowed: within")
    hot.user.types("1 furlong", into="Try other seconds")
    assert _why(hot).sees("is no length of time")
    _came_to(hot, " 1 s allowed: exceeded")  # what could be read last
    _why(hot).clicks("Back to the profile's")
    assert hot.user.find("Try other seconds").text() == "0"


def test_a_limit_that_was_kept_says_how_far_away_it_was(desk):
    desk.show(assessed(KEPT))
    desk.window.beside.explain_verdict()
    _why(desk).table("Levels").clicks("ITT, hot start (itt-start)")
    until(lambda: "Would no longer be within" in _why(desk).reads("Nearest change"))
    assert "away)" in _why(desk).reads("Nearest change")
    _why(desk).chooses("ITT above 1030 °C, allowed: none", "Level of the limit")
    until(lambda: "Would no longer be within" in _why(desk).reads("Nearest change"))
    assert desk.user.find("Try another level of ITT").text() == "1030"
    desk.user.types("700", into="Try another level of ITT")
    _came_to(desk, "exceeded")


def test_nothing_pops_up_beside_the_window(hot):
    """A part that is shown before it has a parent is a window of its own, which takes the keyboard."""
    assert hot.window.isActiveWindow()
    assert [one for one in hot.window.findChildren(QWidget) if one.isWindow() and one.isVisible()] == []


@pytest.mark.parametrize("size", [(1280, 720), (2560, 1440)])
@pytest.mark.parametrize("number", ["02", "06", "12"])
def test_the_grip_covers_no_word_of_its_lane(desk, number, size):
    """A level ends at the right edge, where the grip lies: its name stands beside it."""
    desk.window.resize(*size)
    desk.show(assessed(next(path for path in DEMOS if path.name.startswith(number))))
    desk.user.presses("W")
    until(lambda: desk.user.has(GRIP))
    lanes = desk.user.find("Lanes")
    grip = QRectF(desk.user.find(GRIP).geometry())
    words = painted_anew(lanes)
    named = [one for one in words if ": never" in one.text or " s" in one.text]
    assert named
    covered = [one.text for one in words if one.rect.intersects(grip)]
    assert not covered
    desk.user.presses("Escape")
    farthest = max(one.rect.right() for one in words)
    assert max(one.rect.right() for one in painted_anew(lanes)) >= farthest, "its room is free again"
