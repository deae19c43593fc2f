"""The left side: the row of the first view can be seen, the start in plain words, no text is cut."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel, QWidget

from debrief.gui.widgets.labels import ElidedLabel
from tests.demo_assessing import DEMOS, assessed
from tests.gui.user import User, busy, until
from tests.session import assessment_maker as made

DEMO = {path.name[:2]: path for path in DEMOS}
WORDS = "The start in plain words"


def settled(desk) -> None:
    until(lambda: not busy(desk.window))
    QApplication.processEvents()


def row_is_seen(desk) -> bool:
    story = desk.window.story.list
    return story.visibleRegion().boundingRect().contains(story.visualItemRect(story.currentItem()))


@pytest.mark.parametrize("number", ["12", "18", "19"])
def test_the_row_of_the_first_view_can_be_seen_without_scrolling(desk, number):
    desk.show(assessed(DEMO[number]))
    settled(desk)
    assert desk.window.story.list.currentItem() is not None
    assert row_is_seen(desk)


def test_each_row_that_is_gone_to_can_be_seen(desk):
    session = desk.show(assessed(DEMO["11"]))
    settled(desk)
    desk.window.replay.seek(0.0)
    for _ in range(sum(step.shape != "heading" for step in session.story)):
        desk.user.presses("N")
        assert row_is_seen(desk)


def test_a_start_is_told_in_plain_words_behind_one_click_where_the_screen_is_low(desk):
    desk.show(assessed(DEMO["02"]))
    settled(desk)
    assert not desk.user.has(WORDS)
    assert desk.window.story.list.visibleRegion().boundingRect().height() > 350  # the story has the room
    desk.user.clicks("In plain words")
    assert desk.user.reads(WORDS).startswith("Fuel came in at 9.8 % Ng, 5.2 % Ng below the minimum of 15 %.")
    desk.show(assessed(DEMO["01"]))
    settled(desk)
    assert desk.user.reads(WORDS).startswith("Fuel came in at 20.3 % Ng")  # what was chosen holds
    desk.user.find("In plain words").setFocus(Qt.FocusReason.TabFocusReason)
    desk.user.presses("Space", on="In plain words")
    assert not desk.user.has(WORDS)


def test_on_a_high_screen_the_plain_words_are_open_and_fold_when_it_becomes_low(desk):
    desk.show(assessed(DEMO["01"]))
    desk.window.resize(1920, 1080)
    settled(desk)
    assert desk.user.has(WORDS)
    desk.window.resize(1280, 720)
    settled(desk)
    assert not desk.user.has(WORDS)


def test_the_plain_words_are_those_of_the_start_that_was_chosen(desk):
    session = desk.show(assessed(DEMO["09"]))
    settled(desk)
    desk.window.replay.choose(next(i for i, s in enumerate(session.story) if s.start_number == 2))
    desk.user.clicks("In plain words: start 2")
    assert "209 °C" in desk.user.reads(WORDS)
    desk.window.replay.choose(next(i for i, s in enumerate(session.story) if s.start_number == 1))
    assert desk.user.has("In plain words: start 1")
    assert "209 °C" not in desk.user.reads(WORDS)
    desk.show(replace(made.without_profile(), starts=()))
    assert not desk.user.has(WORDS)


def cut(label: QLabel) -> bool:
    """Whether a label does not show its text whole; a file's name has an ellipsis and is whole behind the mouse."""
    if isinstance(label, ElidedLabel):
        return label.text() != "".join(label.text().split())
    metrics = label.fontMetrics()
    if not label.wordWrap():
        return metrics.horizontalAdvance(label.text()) > label.width()
    words = label.text().split(" ")
    return label.heightForWidth(label.width()) > label.height() or any(
        metrics.horizontalAdvance(word) > label.width() for word in words
    )


@pytest.mark.parametrize("steps", [0, 2, 6])
@pytest.mark.parametrize("number", ["02", "12"])
def test_no_text_of_the_story_s_side_is_cut(desk, number, steps):
    for _ in range(steps):
        desk.window.looks.larger()
    desk.show(assessed(DEMO[number]))
    settled(desk)
    facts: QWidget = desk.window.story.facts
    assert "Running time" in User(facts).words
    assert [label.text() for label in facts.findChildren(QLabel) if label.isVisible() and cut(label)] == []


def test_the_side_tells_a_length_of_time_without_its_bounds_which_are_behind_the_mouse(desk):
    desk.show(assessed(DEMO["12"]))
    settled(desk)
    labels = desk.window.story.facts.findChildren(QLabel)
    title = next(index for index, label in enumerate(labels) if label.text() == "Running time")
    value = labels[title + 1]
    assert value.text().endswith(" s")
    assert f"{value.text()} (" in value.toolTip()
