"""Reduced motion: the replay moves in steps and by pages, nothing moves by itself; it is remembered."""

import time

import pytest
from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication, QProgressBar

from debrief.gui.style.settings import Settings
from tests.gui.user import until
from tests.session import assessment_maker as made


@pytest.fixture
def calm(desk):
    desk.user.takes("View", "Reduced motion")
    yield desk
    if desk.user.menu("View", "Reduced motion").isChecked():
        desk.user.takes("View", "Reduced motion")


def moments_while_playing(desk, count: int) -> list[tuple[float, float]]:
    """Return when, [s], the replay came to which positions, the first of which is where it began."""
    seen: list[tuple[float, float]] = []
    desk.window.replay.position_changed.connect(lambda at: seen.append((time.monotonic(), at)))
    desk.window.replay.toggle()
    until(lambda: advanced(desk) and len(seen) > count)
    desk.window.replay.pause()
    return seen[: count + 1]


def advanced(desk) -> bool:
    """Let the time of the replay go on with the clock on the wall."""
    desk.clock.now = time.monotonic()
    return True


def test_playhead_and_pointers_move_once_a_second(calm):
    advanced(calm)
    calm.show(made.hot_start())
    calm.window.replay.seek(20.0)
    first, second, third = moments_while_playing(calm, 2)
    for before, after in ((first, second), (second, third)):
        assert 0.9 < after[0] - before[0] < 1.6
        assert 0.8 < after[1] - before[1] < 1.6


def test_it_moves_smoothly_as_it_did_without(desk):
    advanced(desk)
    desk.show(made.hot_start())
    desk.window.replay.seek(20.0)
    seen = moments_while_playing(desk, 10)
    assert seen[-1][0] - seen[0][0] < 1.0


def test_the_view_turns_by_pages(calm, qtbot):
    session = calm.show(made.hot_start())
    replay = calm.window.replay
    replay.frame(0.0, 30.0)
    replay.seek(10.0)
    pages = []
    replay.frame_changed.connect(lambda: pages.append(session.framing.begin_s))
    replay.toggle()
    for now in (15.0, 30.0):
        calm.clock.now = now
        before = calm.user.reads("Time at the playhead")
        until(lambda: calm.user.reads("Time at the playhead") != before)  # noqa: B023
    # Within the page nothing moved; then one page, on which the playhead stands near the left edge.
    assert pages == [pytest.approx(37.0)]


def test_pausing_shows_at_once_where_it_is(calm):
    calm.show(made.hot_start())
    calm.window.replay.seek(10.0)
    calm.window.replay.toggle()
    calm.clock.now += 0.5
    calm.user.presses("Space", on="Lanes")
    assert calm.user.reads("Time at the playhead") == "0:10.5"


def test_nothing_runs_blinks_or_slides(desk):
    bar = desk.window.progress
    flash = QGuiApplication.styleHints().cursorFlashTime()
    effects = [one for one in Qt.UIEffect if QApplication.isEffectEnabled(one)]
    desk.user.takes("View", "Reduced motion")
    assert QGuiApplication.styleHints().cursorFlashTime() == 0
    assert not [one for one in Qt.UIEffect if one.name != "UI_General" and QApplication.isEffectEnabled(one)]
    bar.tell("Preparing the units", None)
    assert desk.user.sees("Preparing the units")
    assert not [one for one in bar.findChildren(QProgressBar) if one.isVisible() and one.maximum() == 0]
    bar.tell("Reading", 0.5)  # how far is known: the bar stands there
    assert [one.value() for one in bar.findChildren(QProgressBar) if one.isVisible()] == [500]
    desk.user.takes("View", "Reduced motion")
    assert QGuiApplication.styleHints().cursorFlashTime() == flash
    assert [one for one in Qt.UIEffect if QApplication.isEffectEnabled(one)] == effects
    bar.tell("Preparing the units", None)
    assert [one for one in bar.findChildren(QProgressBar) if one.isVisible() and one.maximum() == 0]
    bar.hide()


def test_the_choice_is_remembered_and_stands_in_the_settings(calm):
    assert Settings().reduced_motion
    calm.user.presses("Ctrl+,")
    dialog = calm.user.dialog("Settings")
    words = "Reduced motion: the replay moves once a second"
    assert dialog.find(words).isChecked()
    dialog.clicks(words)
    assert not Settings().reduced_motion
    dialog.clicks("Cancel")
    assert Settings().reduced_motion
    assert calm.user.menu("View", "Reduced motion").isChecked()
