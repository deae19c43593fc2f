"""The lanes by mouse and keyboard: sharing, moving, resizing, bands, what is remembered."""

import re
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QContextMenuEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from debrief.analysis.model import LimitResult, LimitWindow
from debrief.gui.lanes.lane_labels import Labels
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from debrief.profile.model import Band
from debrief.session.drawing.placing import Box
from debrief.session.lanes.lane_stack import LaneRow
from debrief.session.session import Session, prepare
from debrief.words.colours import CONTRAST, DARK, LIGHT
from tests.demo_assessing import DEMOS, assessed
from tests.gui.contrast import contrast
from tests.gui.lane_words import hover_words, measured_words
from tests.gui.user import choose_unit
from tests.session import assessment_maker as made

NONE = Qt.KeyboardModifier.NoModifier
CONTROL = Qt.KeyboardModifier.ControlModifier
SHIFT = Qt.KeyboardModifier.ShiftModifier
LEFT = Qt.MouseButton.LeftButton


def _entry(menu, name):
    """The line of the menu that shows a channel in the lane, or takes it out."""
    return next(a for a in menu._also.actions() if a.data()[1][1] == name)


def _join(desk, qtbot, lane, name):
    menu = desk.window.lane_menu
    menu.fill(lane)
    _entry(menu, name).trigger()
    qtbot.waitUntil(lambda: name in desk.window.replay.session.lane_stack.find(lane).names)


def _lane(desk, name):
    return next(lane for lane in desk.window.lanes._content.lanes if lane.plan.name == name)


def _settle(desk):
    desk.window.lanes.grab()
    QApplication.processEvents()


def _banded():
    bands = (
        Band("I", ((830.0, 20.0), (920.0, 6.0), (1030.0, 0.0)), ""),
        Band("II", ((930.0, 30.0), (1030.0, 10.0), (1100.0, 10.0)), ""),
    )
    assessment = made.hot_start()
    start, *others = assessment.profile.limits
    limit = replace(start, bands=bands, band_method="peak_vs_time_above", band_base=830.0)
    return made.counted(replace(assessment, profile=replace(assessment.profile, limits=(limit, *others))))


def test_two_channels_share_a_lane_each_with_its_own_scale_colour_and_sign(desk, qtbot):
    desk.show(made.hot_start())
    _join(desk, qtbot, "itt", "ng")
    lane = _lane(desk, "itt")
    itt, ng = lane.traces
    assert (itt.high > 1000, ng.high < 120) == (True, True)
    assert itt.role != ng.role
    assert (itt.sign, ng.sign) == ("", "square")
    # Each has its own scale: the same height means other values.
    assert itt.y_of(550.0) != pytest.approx(ng.y_of(550.0), abs=1.0)


def test_all_plots_give_way_to_the_axis_of_a_further_channel(desk, qtbot):
    desk.show(made.hot_start())
    content = desk.window.lanes._content
    before = content.plot_right
    _join(desk, qtbot, "itt", "ng")
    assert content.plot_right < before
    assert all(lane.rect.right() == pytest.approx(content.plot_right) for lane in content.lanes)


def test_every_channel_of_a_shared_lane_has_its_value_at_playhead_mouse_and_cursors(desk, qtbot):
    desk.show(made.hot_start())
    desk.window.replay.seek(18.4)
    _join(desk, qtbot, "bus_volts", "itt")
    lanes = desk.window.lanes
    _settle(desk)
    shared = [tag for tag in lanes.readout.tags if tag.text.startswith(("Bus ", "ITT "))]
    assert [tag.text for tag in shared][1] == "ITT 1087"
    first, second = shared
    assert not first.box.intersects(second.box)
    QTest.mouseMove(lanes, QPoint(round(lanes.x_of(40.0)), 300))
    assert sum("ITT " in words for words in hover_words(lanes)) == 1
    desk.window.replay.set_mark(15.2)
    words = measured_words(lanes)
    assert [w.split(":")[0] for w in words[-2:]] == ["Bus", "ITT"]
    boxes = [box for box, _, _ in lanes.readout.measures[-2:]]
    assert not boxes[0].intersects(boxes[1])


def test_a_channel_is_taken_out_of_a_lane_by_the_same_menu(desk, qtbot):
    desk.show(made.hot_start())
    _join(desk, qtbot, "itt", "ng")
    menu = desk.window.lane_menu
    menu.fill("itt")
    entry = _entry(menu, "ng")
    assert entry.isChecked()
    entry.trigger()
    assert desk.window.replay.session.lane_stack.is_usual


def test_what_is_not_recorded_can_share_a_lane_and_says_so(desk, qtbot):
    desk.show(made.hot_start())
    _join(desk, qtbot, "itt", "torque")
    lane = _lane(desk, "itt")
    assert len(lane.traces) == 1
    assert [plan.title for plan in lane.missing] == ["Torque"]


def test_limit_levels_of_a_shared_lane_stand_at_their_own_channel_s_height(desk, qtbot):
    desk.show(made.hot_start())
    _join(desk, qtbot, "bus_volts", "itt")
    volts, itt = _lane(desk, "bus_volts").traces
    assert {line.level for line in itt.plan.lines} == {830.0, 920.0, 1030.0}
    assert volts.rect.top() < itt.y_of(1030.0) < volts.rect.bottom()


def _drag(lanes, first, last, release=True):
    QTest.mousePress(lanes, LEFT, NONE, first)
    QTest.mouseMove(lanes, QPoint(first.x(), (first.y() + last.y()) // 2))
    QTest.mouseMove(lanes, last)
    if release:
        QTest.mouseRelease(lanes, LEFT, NONE, last)


def test_a_lane_is_dragged_by_its_title_to_another_place(desk):
    desk.show(made.hot_start())
    _settle(desk)
    lanes = desk.window.lanes
    title = lanes._content.handles["bus_volts"].center().toPoint()
    before = desk.window.replay.position_s
    _drag(lanes, title, QPoint(title.x(), round(_lane(desk, "ng").rect.top()) + 4))
    assert lanes.lane_names() == ["bus_volts", "ng", "itt", "torque"]
    assert desk.window.replay.position_s == before
    _settle(desk)
    title = lanes._content.handles["bus_volts"].center().toPoint()
    _drag(lanes, title, QPoint(title.x(), lanes.height() - 30))
    assert lanes.lane_names() == ["ng", "itt", "torque", "bus_volts"]


def test_a_mark_shows_where_a_dragged_lane_would_come_to_lie(desk):
    desk.show(made.hot_start())
    _settle(desk)
    lanes = desk.window.lanes
    title = lanes._content.handles["ng"].center().toPoint()
    itt = _lane(desk, "itt").rect
    target = QPoint(title.x(), round(itt.center().y()) + 20)
    _drag(lanes, title, target, release=False)
    mark = lanes._gestures.drop_y
    assert mark == pytest.approx(itt.bottom() + 4, abs=2)
    image = lanes.grab().toImage()
    assert image.pixelColor(round(itt.center().x()), round(mark)).name() == desk.theme.palette.ink.lower()
    QTest.keyClick(lanes, Qt.Key.Key_Escape)
    assert lanes._gestures.drop_y is None
    QTest.mouseRelease(lanes, LEFT, NONE, target)
    assert lanes.lane_names() == ["ng", "itt", "torque", "bus_volts"]


def test_a_click_on_a_title_moves_the_playhead_as_anywhere_in_the_lane(desk):
    desk.show(made.hot_start())
    _settle(desk)
    lanes = desk.window.lanes
    place = lanes._content.handles["itt"].center().toPoint()
    QTest.mouseClick(lanes, LEFT, NONE, place)
    assert desk.window.replay.position_s == pytest.approx(lanes._content.time_of(place.x()), abs=0.01)


def test_a_lane_is_chosen_moved_resized_and_removed_by_keyboard(desk, qtbot):
    desk.show(made.hot_start())
    lanes = desk.window.lanes
    lanes.setFocus()
    qtbot.keyClick(lanes, Qt.Key.Key_Down)
    qtbot.keyClick(lanes, Qt.Key.Key_Down)
    assert lanes.chosen_lane.plan.name == "itt"
    assert "lane Temperature" in desk.window.playback_bar.aside.text()
    qtbot.keyClick(lanes, Qt.Key.Key_Up, CONTROL)
    assert lanes.lane_names()[:2] == ["itt", "ng"]
    assert lanes.chosen_lane.plan.name == "itt"
    before = _lane(desk, "itt").rect.height()
    qtbot.keyClick(lanes, Qt.Key.Key_Down, SHIFT)
    assert _lane(desk, "itt").rect.height() < before
    qtbot.keyClick(lanes, Qt.Key.Key_Delete)
    assert lanes.lane_names() == ["ng", "torque", "bus_volts"]
    assert lanes.chosen_lane is None


def test_the_menu_key_opens_the_menu_of_the_chosen_lane(desk, qtbot):
    desk.show(made.hot_start())
    lanes = desk.window.lanes
    lanes.menu_wanted.disconnect(desk.window.lane_menu.offer)
    qtbot.keyClick(lanes, Qt.Key.Key_Down)
    event = QContextMenuEvent(QContextMenuEvent.Reason.Keyboard, QPoint(5, 5), QPoint(5, 5))
    with qtbot.waitSignal(lanes.menu_wanted) as wanted:
        QApplication.sendEvent(lanes, event)
    assert wanted.args[1] == "ng"
    # The same stands in the menu bar, for the lane that is chosen.
    desk.window.lane_menu._about_to_show()
    assert any(a.data() == ("up", "ng") for a in desk.window.lane_menu.actions())


def test_lanes_and_their_heights_are_remembered_until_the_usual_ones_are_wanted(desk, qtbot):
    desk.show(made.hot_start())
    _join(desk, qtbot, "itt", "ng")
    desk.window.replay.place_lane("itt", 0)
    desk.window.replay.resize_lanes({"ng": 2.0})
    rows = Settings().lanes
    assert rows[:2] == (LaneRow(("itt", "ng")), LaneRow(("ng",), 2.0))
    desk.window.open_path("again.csv")
    qtbot.waitUntil(lambda: desk.window.replay.session.path.name == "again.csv")
    assert desk.window.lanes.lane_names() == ["itt", "ng", "torque", "bus_volts"]
    assert len(_lane(desk, "itt").traces) == 2
    assert _lane(desk, "ng").weight == 2.0
    menu = desk.window.lane_menu
    menu.fill(None)
    next(a for a in menu.actions() if a.text() == "The &usual lanes").trigger()
    assert desk.window.lanes.lane_names() == ["ng", "itt", "torque", "bus_volts"]
    assert Settings().lanes == ()


def _colours_in(image, rect):
    return {
        image.pixelColor(x, y).name()
        for x in range(round(rect.left()) + 2, round(rect.right()) - 2, 3)
        for y in range(round(rect.top()) + 2, round(rect.bottom()) - 2, 3)
    }


def test_bands_are_tinted_in_their_channel_s_lane_only_and_can_be_switched_off(desk, qtbot):
    desk.show(_banded())
    desk.window.replay.frame(5.0, 60.0)
    lanes = desk.window.lanes
    tint = desk.theme.band_tint("chart", 0.0).name()
    assert tint in _colours_in(lanes.grab().toImage(), _lane(desk, "itt").rect)
    assert tint not in _colours_in(lanes.grab().toImage(), _lane(desk, "ng").rect)
    qtbot.keyClick(desk.window, Qt.Key.Key_B)
    assert tint not in _colours_in(lanes.grab().toImage(), _lane(desk, "itt").rect)
    assert not Settings().bands
    qtbot.keyClick(desk.window, Qt.Key.Key_B)
    assert Settings().bands


def test_a_band_is_not_drawn_before_it_applies(desk):
    desk.show(_banded())
    desk.window.replay.frame(0.0, 14.0)
    lanes = desk.window.lanes
    seen = _colours_in(lanes.grab().toImage(), _lane(desk, "itt").rect)
    assert not {desk.theme.band_tint("chart", grade).name() for grade in (0.0, 1.0)} & seen


def test_band_names_keep_off_all_other_words(desk):
    desk.show(_banded())
    for size in ((1280, 720), (1440, 900)):
        desk.window.resize(*size)
        for frame in ((5.0, 60.0), (14.0, 40.0), (16.0, 30.0)):
            desk.window.replay.frame(*frame)
            _settle(desk)
            words = [word.box for lane in desk.window.lanes._content.words for word in lane]
            for i, first in enumerate(words):
                assert not any(first.meets(other) for other in words[i + 1 :])


@pytest.mark.parametrize("palette", [LIGHT, DARK, CONTRAST], ids=lambda p: p.name)
def test_words_are_legible_on_the_tints_of_bands(qapp, palette):
    theme = Theme(palette.name)
    for kind, grade in (("chart", 0.0), ("chart", 0.5), ("chart", 1.0), ("caution", 0.0), ("limit", 0.0)):
        tint = theme.band_tint(kind, grade)
        assert tint.alpha() == 255
        assert contrast(palette.ink, tint.name()) >= 7.0


def test_seconds_above_over_a_long_stretch_are_told_at_once_with_their_bounds(desk, qtbot):
    assessment = made.many_events(300)
    end = assessment.recording.duration_s
    applied = LimitWindow(0.0, end, 0.0, 0.0, end, end)
    limit = LimitResult("itt-running", "overtemp", "itt", 1, "degC", "exceeded", windows=(applied,))
    session = desk.show(made.counted(replace(assessment, limits=(limit,))))
    lanes = desk.window.lanes
    desk.window.replay.set_mark(20.0)
    desk.window.replay.seek(session.playback.duration_s - 30.0)
    itt = session.recording.channels["itt"]
    inside = (itt.time_s >= 20.0) & (itt.time_s <= session.playback.duration_s - 30.0)
    words = next(words for words in measured_words(lanes) if "°C" in words)
    level = float(words.rsplit("above ", 1)[1].split()[0])
    assert level in {row.level for one in assessment.profile.limits for row in one.allowed}
    told = re.fullmatch(r"([0-9.]+) s \[([0-9.]+) to ([0-9.]+)\]", words.rsplit("for ", 1)[1])
    assert told is not None
    seconds, least, most = (float(number) for number in told.groups())
    assert least < seconds < most
    # Half a second for each sample that is above, to the half second that each crossing can hide.
    assert seconds == pytest.approx(0.5 * (itt.values[inside] > level).sum(), abs=301)
    assert seconds > 1000


def test_a_channel_that_keeps_its_own_lane_is_said_to_do_so(desk, qtbot):
    desk.show(made.hot_start())
    _join(desk, qtbot, "itt", "ng")
    assert "keeps its own lane too" in desk.window.playback_bar.aside.text()
    desk.window.replay.remove_lane("ng")
    desk.window.replay.part_lane("itt", "ng")
    desk.window.replay.seek(20.0)
    _join(desk, qtbot, "itt", "ng")
    assert "own lane" not in desk.window.playback_bar.aside.text()


@pytest.mark.parametrize("units", ["", "degF"])
def test_values_of_a_shared_lane_never_cut_a_word_wherever_the_playhead_is(desk, qtbot, units):
    """The limit's words "Ng fuel min 15" were cut by the value of the other channel."""
    assessment = _banded()
    session = desk.show(assessment)
    if units:
        choose_unit(desk.window.units_menu, units)
        qtbot.waitUntil(lambda: desk.window.replay.session is not session)
    _join(desk, qtbot, "itt", "ng")
    desk.window.replay.frame(9.0, 50.0)
    _settle(desk)
    lanes = desk.window.lanes
    written = [list(words) for words in lanes._content.words]
    was_hidden = False
    for step in range(200):
        desk.window.replay.seek(9.0 + 41.0 * step / 199)
        boxes = [_box(tag.box) for tag in lanes.readout.tags if tag.box is not None]
        hidden = [_box(rect) for rect in lanes.readout.hidden_words]
        was_hidden = was_hidden or bool(hidden)
        for i, box in enumerate(boxes):
            assert not any(box.meets(other) for other in boxes[i + 1 :])
            for word in (word for words in written for word in words):
                gone = any(word.box.within(place) for place in hidden)
                assert gone or not box.meets(word.box)
                assert not (gone and word.fixed)
    assert was_hidden
    # The words have not moved meanwhile.
    assert lanes._content.words == written


def _box(rect):
    return Box(rect.left(), rect.top(), rect.width(), rect.height())


def test_a_word_that_gives_way_leaves_nothing_behind_and_comes_back(desk):
    desk.show(_banded())
    desk.window.replay.frame(9.0, 50.0)
    lanes = desk.window.lanes
    _settle(desk)
    at = next(t / 10 for t in range(90, 500) if desk.window.replay.seek(t / 10) or lanes.readout.hidden_words)
    desk.window.replay.seek(at)
    places = lanes.readout.hidden_words
    with_value = lanes.grab().toImage()
    bare = lanes._picture.without_words(lanes.size(), lanes.devicePixelRatioF()).toImage()
    tags = [tag.bounds for tag in lanes.readout.tags]
    seen = 0
    for place in places:
        for x in range(round(place.left()), round(place.right())):
            for y in range(round(place.top()) + 1, round(place.bottom())):
                covered = any(tag.contains(x, y) for tag in tags) or abs(x - lanes.x_of(at)) < 3
                if not covered:
                    seen += 1
                    assert with_value.pixel(x, y) == bare.pixel(x, y)
    assert seen > 50
    clear = next(
        t / 10 for t in range(90, 500) if desk.window.replay.seek(t / 10) or not lanes.readout.hidden_words
    )
    desk.window.replay.seek(clear)
    again = lanes.grab().toImage()
    place = places[0].toAlignedRect()
    pixels = [(x, y) for x in range(place.left(), place.right()) for y in range(place.top(), place.bottom())]
    assert sum(again.pixel(x, y) != bare.pixel(x, y) for x, y in pixels) > 20


@pytest.mark.parametrize("size", [(1280, 720), (1440, 900)])
def test_every_level_that_is_drawn_is_named_in_a_shared_lane(desk, qtbot, size):
    desk.window.resize(*size)
    desk.show(_banded())
    _join(desk, qtbot, "itt", "ng")
    choose_unit(desk.window.units_menu, "degF")
    qtbot.waitUntil(lambda: "°F" in _lane(desk, "itt").plan.label)
    lanes = desk.window.lanes
    for frame in ((9.0, 60.0), (14.0, 40.0), (16.0, 30.0)):
        desk.window.replay.frame(*frame)
        _settle(desk)
        lane = _lane(desk, "itt")
        drawn = {
            (trace.plan.name, line.text)
            for trace in lane.traces
            for line in trace.plan.lines
            if trace.low <= line.level <= trace.high
            and (edges := lanes._content.clipped(line.begin_s, line.end_s)) is not None
            and edges[1] - edges[0] > 160
        }
        assert drawn
        assert drawn <= set(lanes._content.named)


@pytest.mark.parametrize("choice", ["light", "dark"])
def test_words_of_limits_never_stand_on_the_tint_of_a_band(desk, choice):
    """Their colour would not be legible enough there; a ground of their own lies under them."""
    desk.theme.choose(choice)
    desk.show(_banded())
    desk.window.replay.frame(9.0, 60.0)
    lanes = desk.window.lanes
    _settle(desk)
    image = lanes.grab().toImage()
    tints = {desk.theme.band_tint("chart", grade).name() for grade in (0.0, 1.0)}
    itt = next(i for i, lane in enumerate(lanes._content.lanes) if lane.plan.name == "itt")
    limit = desk.theme.palette.limit.lower()
    seen = 0
    for word in lanes._content.words[itt]:
        box = word.box
        xs = range(round(box.left) + 1, round(box.right) - 1)
        ys = range(round(box.top) + 2, round(box.bottom) - 1)
        colours = {image.pixelColor(x, y).name() for x in xs for y in ys}
        if limit in colours and not word.fixed:
            seen += 1
            assert not colours & tints
    assert seen >= 2


def test_a_part_uncovered_while_the_lanes_are_drawn_anew_is_no_second_drawing(desk, qtbot, monkeypatch):
    desk.show(made.hot_start())
    lanes = desk.window.lanes
    qtbot.waitUntil(lambda: lanes._picture.is_drawn)
    before = lanes.grab().toImage()
    drawn = []
    whole = lanes._picture.whole
    monkeypatch.setattr(lanes._picture, "whole", lambda *args: drawn.append(None) or whole(*args))
    desk.window.replay.zoom_in()
    lanes.repaint(0, 0, 40, 12)
    assert not drawn
    assert lanes.grab().toImage() != before  # the whole is always what it is now
    qtbot.waitUntil(lambda: not desk.window.replay.turns.waits(lanes._show_picture))
    assert lanes._picture.is_drawn


def test_the_lane_of_a_finding_far_from_any_limit_is_not_blown_up_to_its_noise(desk):
    assessment = made.hot_start()
    itt = assessment.recording.channels["itt"]
    values = np.where(itt.time_s < 60.0, np.round(12 + 3 * np.sin(itt.time_s)), 700.0)
    channels = {**assessment.recording.channels, "itt": replace(itt, values=values)}
    cold = replace(assessment, recording=replace(assessment.recording, channels=channels))
    desk.show(cold)
    desk.window.lanes.toggle_fit()
    desk.window.replay.frame(20.0, 50.0)
    lane = next(lane for lane in desk.window.lanes._content.lanes if lane.plan.name == "itt")
    assert lane.low <= values.min()
    assert lane.high - lane.low >= 200.0


@pytest.mark.parametrize("size", [(1024, 680), (1280, 720)])
@pytest.mark.parametrize("scale", [1.0, 1.2])
def test_no_name_of_a_limit_covers_the_trace_where_something_was_exceeded(desk, monkeypatch, size, scale):
    placed = []
    place = Labels._place_limit_name

    def placing(self, lane, *rest):
        box = place(self, lane, *rest)
        if box is not None:
            placed.append((lane.plan.name, box, self._crosses_trace(lane, box) and self._is_in_finding(box)))
        return box

    monkeypatch.setattr(Labels, "_place_limit_name", placing)
    desk.show(assessed(next(path for path in DEMOS if path.stem.startswith("12_"))))
    desk.window.resize(*size)
    desk.theme.set_scale(scale)
    desk.window.replay.frame(435.0, 475.0)
    QApplication.processEvents()
    placed.clear()
    desk.window.lanes.grab()
    desk.window.replay.frame(434.0, 476.0)
    QApplication.processEvents()
    desk.window.lanes.grab()
    assert {"ng", "itt", "torque"} <= {name for name, _, _ in placed}
    assert not [name for name, _, covers in placed if covers]


def test_thousands_of_moments_are_drawn_in_a_moment(desk, qtbot):
    """Each word looked at every other moment: five hundred starts took five seconds at each zoom."""
    assessment = made.hot_start()
    prepared = prepare(assessment)
    marks = tuple(replace(prepared.marks[0], time_s=index * 110 / 3000) for index in range(3000))
    session = Session(Path("made.csv"), assessment, replace(prepared, marks=marks), clock=desk.clock)
    desk.window.replay.show(session)
    desk.window.replay.frame_all()
    qtbot.waitUntil(lambda: not desk.window.replay.turns.count)
    desk.window.lanes._picture.forget()
    begun = time.process_time()
    desk.window.lanes.grab()
    assert time.process_time() - begun < 2.5
