"""Menus of the story, the timeline and the gauges, by mouse and by keys; what the mouse is told; the time under it."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QEvent, QPoint, Qt
from PySide6.QtGui import QContextMenuEvent, QHelpEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMenu, QWidget

from tests.gui.user import busy, painted, plain, until
from tests.session import assessment_maker as made

CORNER = QPoint(5, 5)
MOUSE, KEYS = QContextMenuEvent.Reason.Mouse, QContextMenuEvent.Reason.Keyboard


@pytest.fixture
def hot(desk):
    desk.show(made.hot_start())
    until(lambda: not busy(desk.window))
    yield desk
    for menu in desk.window.findChildren(QMenu):
        menu.close()


def asks(widget: QWidget, reason, at: QPoint = CORNER) -> dict[str, object]:
    """Ask for the menu of a widget; return what it offers."""
    QApplication.sendEvent(widget, QContextMenuEvent(reason, at, widget.mapToGlobal(at)))
    menu = QApplication.activePopupWidget()
    assert isinstance(menu, QMenu)
    return {plain(one.text()): one for one in menu.actions() if one.text()}


def takes(offered: dict[str, object], words: str) -> None:
    offered[words].trigger()
    QApplication.activePopupWidget().close()


def tip_at(widget: QWidget, at: QPoint) -> str:
    QApplication.sendEvent(widget, QHelpEvent(QEvent.Type.ToolTip, at, widget.mapToGlobal(at)))
    return widget.toolTip()


def row_of(desk, title: str) -> tuple[QWidget, QPoint, int]:
    story = desk.window.story.list
    steps = desk.window.replay.session.story
    index = next(i for i, step in enumerate(steps) if step.title == title)
    return story.viewport(), story.visualItemRect(story.item(index)).center(), index


def test_the_menu_of_a_row_by_mouse_chooses_nothing_until_it_is_used(hot):
    hot.window.replay.seek(5.0)
    story, place, _ = row_of(hot, "Hot start")
    QTest.mousePress(story, Qt.MouseButton.RightButton, pos=place)
    offered = asks(story, MOUSE, place)
    assert hot.window.replay.position_s == 5.0
    assert list(offered)[:4] == ["Go to Hot start, 0:16.8", "Play from here", "Zoom to it", "Why?"]
    takes(offered, "Go to Hot start, 0:16.8")
    assert hot.window.replay.position_s == pytest.approx(16.756, abs=0.01)
    takes(asks(story, MOUSE, place), "Why?")
    assert hot.user.has("Why")
    takes(asks(story, MOUSE, place), "Copy")
    assert QApplication.clipboard().text().startswith("0:16.8  Hot start: peak 1087 °C; ")


def test_the_menu_of_the_current_row_by_the_keys(hot):
    _, _, index = row_of(hot, "Light-off")
    story = hot.window.story.list
    hot.window.replay.choose(index)
    story.setFocus(Qt.FocusReason.TabFocusReason)
    offered = asks(story, KEYS)
    assert next(iter(offered)) == "Go to Light-off, 0:15.2"
    assert "Why?" not in offered
    takes(offered, "Measure from here")
    assert hot.window.replay.mark_s == pytest.approx(15.2)
    takes(asks(story, KEYS), "Play from here")
    assert hot.window.replay.session.playback.playing
    hot.window.replay.pause()


@pytest.mark.parametrize("part", ["What happened", "Lanes", "Timeline of the whole recording"])
def test_shift_f10_asks_what_has_the_keys(hot, qtbot, part):
    hot.window.activateWindow()
    qtbot.waitUntil(hot.window.isActiveWindow)
    hot.user.find(part).setFocus(Qt.FocusReason.TabFocusReason)
    hot.user.presses("Shift+F10")
    menu = QApplication.activePopupWidget()
    assert isinstance(menu, QMenu)
    assert [one.text() for one in menu.actions() if one.text()]


def test_the_menu_of_the_timeline_by_mouse_and_keys(hot):
    line = hot.window.timeline
    session = hot.window.replay.session
    at = QPoint(round(line.x_of(60.0)), round(line.area().center().y()))
    offered = asks(line, MOUSE, at)
    go = next(iter(offered))
    assert go.startswith("Go to 1:0") or go.startswith("Go to 0:59")
    span = session.framing.span_s
    takes(offered, "Zoom in here")
    assert session.framing.span_s < span
    assert session.framing.begin_s <= 60.0 <= session.framing.end_s
    assert hot.window.replay.position_s == pytest.approx(60.0, abs=0.2)
    takes(asks(line, MOUSE, at), "Whole recording")
    assert session.framing.shows_all
    mark = QPoint(round(line.x_of(14.0)), 6)
    assert next(iter(asks(line, MOUSE, mark))) == "Go to Fuel on, 0:14.0"
    QApplication.activePopupWidget().close()
    line.setFocus(Qt.FocusReason.TabFocusReason)
    assert line.hasFocus()
    hot.window.replay.seek(20.0)
    assert next(iter(asks(line, KEYS))) == "Go to 0:20.0"


@pytest.mark.parametrize("tapes", [False, True])
def test_the_menu_of_a_gauge_by_mouse_and_keys(hot, tapes):
    if tapes:
        hot.user.presses("T")
    hot.window.replay.seek(60.0)
    itt = hot.window.gauges.gauge("itt")
    offered = asks(itt, MOUSE)
    takes(offered, "Go to the highest so far, 0:18.4")
    assert hot.window.replay.position_s == pytest.approx(18.4)
    bus = hot.window.gauges.gauge("bus_volts")
    bus.setFocus(Qt.FocusReason.TabFocusReason)
    assert bus.hasFocus()
    offered = asks(bus, KEYS)
    assert next(iter(offered)).startswith("Go to the lowest so far, 0:")
    takes(offered, "Dials or tapes")
    assert hot.window.gauges.shows_tapes is not tapes


def test_a_gauge_of_a_channel_without_a_lane_shows_it_in_one(hot):
    hot.window.replay.remove_lane("ng")
    takes(asks(hot.window.gauges.gauge("ng"), MOUSE), "Show gas generator speed in a lane")
    until(lambda: not busy(hot.window))
    assert hot.window.replay.session.lane_stack.find("ng") is not None
    assert not any("in a lane" in words for words in asks(hot.window.gauges.gauge("ng"), MOUSE))


def test_the_mouse_is_told_all_of_a_row_and_of_a_gauge(hot):
    story = hot.window.story.list
    tips = [story.item(row).toolTip() for row in range(story.count())]
    assert all(tips)
    _, _, index = row_of(hot, "Light-off")
    assert "1.2 s after fuel" in tips[index]
    assert "At 0:15.2" in tips[index]
    hot.window.replay.seek(60.0)
    itt = hot.window.gauges.gauge("itt")
    assert itt.words in tip_at(itt, QPoint(30, 30))
    assert "highest so far 1087" in itt.toolTip()


def test_the_time_under_the_mouse_stands_beside_a_line_on_the_timeline(hot):
    line = hot.window.timeline
    y = round(line.area().center().y())

    def times() -> list[str]:
        return [word.text for word in painted(line) if ":" in word.text]

    assert times() == []
    QTest.mouseMove(line, QPoint(round(line.x_of(60.0)), y))
    (time_s,) = times()
    assert time_s in ("0:59.9", "1:00.0", "1:00.1")
    right = round(line.area().right())
    QTest.mouseMove(line, QPoint(right, y))
    (word,) = (word for word in painted(line) if ":" in word.text)
    assert word.rect.right() <= line.width()  # at the edge it stands on the other side
    QApplication.sendEvent(line, QEvent(QEvent.Type.Leave))
    assert times() == []


@pytest.mark.parametrize("where", ["middle", "left", "right"])
def test_the_time_under_the_mouse_stands_below_the_line_in_the_lanes(hot, where):
    lanes = hot.window.lanes
    framing = hot.window.replay.session.framing
    time_s = {"left": framing.begin_s + 0.2, "right": framing.end_s - 0.2, "middle": 40.0}[where]
    x = round(lanes.x_of(time_s))
    QTest.mouseMove(lanes, QPoint(x, 200))
    near = [word for word in painted(lanes) if word.text.count(":") == 1 and "." in word.text]
    (word,) = (word for word in near if word.rect.bottom() > lanes.height() - 40)
    shown = sum(float(part) * by for part, by in zip(word.text.split(":"), (60.0, 1.0), strict=True))
    assert shown == pytest.approx(time_s, abs=0.2)
    assert abs(word.rect.center().x() - x) < 40
    assert word.rect.left() >= lanes.x_of(framing.begin_s) - 1
    assert word.rect.right() <= lanes.x_of(framing.end_s) + 1
    QApplication.sendEvent(lanes, QEvent(QEvent.Type.Leave))
    assert word.text not in [one.text for one in painted(lanes)]
