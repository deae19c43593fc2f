"""The presentation: what a room sees on a projector, and everything as before when it ends."""

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from debrief.gui.style.settings import Settings
from tests.demo_assessing import DEMOS, assessed
from tests.gui.lane_words import title_of
from tests.gui.user import busy, painted_anew, until


def show(desk, number="02"):
    session = desk.show(assessed(next(path for path in DEMOS if path.stem.startswith(number))))
    desk.window.activateWindow()
    QApplication.processEvents()
    return session


def present(desk, size=(1280, 720)):
    desk.user.presses("F11")
    until(lambda: not busy(desk.window), 5.0)
    assert desk.window.isFullScreen()
    desk.window.resize(*size)
    shown = desk.window.lanes, desk.window.gauges
    until(lambda: sum(part.width() for part in shown) >= size[0] - 2 and not busy(desk.window), 5.0)


def seen(desk):
    names = (
        "What happened",
        "Save report...",
        "Switches",
        "Timeline of the whole recording",
        "Why?",
        "Bus voltage",
    )
    return {name for name in names if desk.user.has(name)} | (
        {"menus"} if desk.window.menuBar().isVisible() else set()
    )


@pytest.mark.parametrize("size", [(1280, 720), (1920, 1080), (2560, 1440)])
@pytest.mark.parametrize("number", ["02", "06", "12"])
def test_lanes_and_the_main_gauge_alone_are_shown_large(desk, size, number):
    show(desk, number)
    before = {word.rect.height() for word in painted_anew(desk.window.lanes) if word.text == "Temperature"}
    present(desk, size)
    assert seen(desk) == set()
    assert desk.user.has("Lanes")
    assert desk.user.has("Interturbine temperature")
    assert desk.user.find("Time").text().count(":") == 1
    lanes = desk.window.lanes
    assert lanes.width() > 0.7 * size[0]
    after = {word.rect.height() for word in painted_anew(lanes) if word.text == "Temperature"}
    assert min(after) > 1.2 * max(before)
    # From the title of one lane to that of the next.
    speed = title_of(lanes, "Temperature").top() - title_of(lanes, "Speed").top()
    assert speed >= 150 + 8


def test_the_speed_keeps_its_height_whatever_lanes_were_chosen(desk, qtbot):
    show(desk)
    for name in ("np", "fuel_flow", "oil_temp", "oil_press", "battery_amps"):
        desk.window.lane_menu.lane_wanted.emit(name)
        qtbot.waitUntil(lambda name=name: name in desk.window.replay.session.lane_stack.names)
    wanted = desk.window.lanes.lane_names()
    present(desk)
    lanes = desk.window.lanes
    assert {"ng", "itt"} <= set(lanes.lane_names()) < set(wanted)
    assert title_of(lanes, "Temperature").top() - title_of(lanes, "Speed").top() >= 158
    desk.user.presses("F11")
    assert lanes.lane_names() == wanted


@pytest.mark.parametrize("key", ["Esc", "F11"])
def test_everything_is_as_before_when_it_ends(desk, key):
    session = show(desk)
    before = seen(desk), desk.theme.scale, session.framing.begin_s, desk.window.windowState()
    assert len(before[0]) == 6
    focus = desk.window.focusWidget()
    present(desk)
    desk.user.presses(key)
    desk.window.resize(1280, 720)
    QApplication.processEvents()
    assert (seen(desk), desk.theme.scale, session.framing.begin_s, desk.window.windowState()) == before
    assert desk.window.focusWidget() is focus
    assert Settings().scale == 1.0
    assert not desk.user.menu("View", "Present on a projector").isChecked()


def test_the_keys_of_the_replay_go_on_to_work(desk):
    session = show(desk)
    present(desk)
    QTest.keyClick(desk.window, Qt.Key.Key_Space)
    assert session.playback.playing
    QTest.keyClick(desk.window, Qt.Key.Key_Space)
    assert not session.playback.playing
    before = session.playback.position_s
    QTest.keyClick(desk.window, Qt.Key.Key_Right)
    assert session.playback.position_s > before
    span = session.framing.span_s
    QTest.keyClick(desk.window, Qt.Key.Key_Plus)
    assert session.framing.span_s < span
    # The size of text is the projector's.
    scale = desk.theme.scale
    QTest.keyClick(desk.window, Qt.Key.Key_Plus, Qt.KeyboardModifier.ControlModifier)
    assert desk.theme.scale == scale


def test_another_view_ends_it(desk):
    show(desk)
    present(desk)
    QTest.keyClick(desk.window, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    assert desk.window.view == "starts"
    assert not desk.window.presentation.is_on
    assert desk.window.menuBar().isVisible()


def test_a_window_closed_meanwhile_comes_back_as_it_was(desk):
    show(desk)
    present(desk)
    desk.window.close()
    assert not desk.window.isFullScreen()
    assert Settings().scale == 1.0


def test_what_is_told_is_seen_in_it(desk):
    show(desk)
    present(desk)
    desk.window.messages.tell("The file cannot be read.")
    QApplication.processEvents()
    assert desk.user.has("The file cannot be read.")
    assert seen(desk) == set()
    desk.user.presses("F11")
    assert desk.user.has("The file cannot be read.")
