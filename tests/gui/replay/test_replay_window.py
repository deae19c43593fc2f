from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from PySide6.QtCore import QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QAction, QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractButton, QApplication, QLabel, QWidget

from debrief.analysis.model import NotJudged
from debrief.gui.gauges.gauge_column import SwitchList
from debrief.gui.style.palettes import qt_color
from debrief.words.colours import CONTRAST, DARK, LIGHT
from tests.demo_assessing import DEMOS, assessed
from tests.gui.lane_words import (
    border_below,
    hover_words,
    measured_words,
    scale_of,
    tag_words,
    title_of,
)
from tests.gui.user import (
    User,
    busy,
    drag,
    has_room_for_its_text,
    of_colour,
    painted,
    painted_anew,
    pixels,
    until,
)
from tests.session import assessment_maker as made

NONE = Qt.KeyboardModifier.NoModifier
LEFT = Qt.MouseButton.LeftButton


def _row(desk, title):
    session = desk.window.replay.session
    return next(i for i, step in enumerate(session.story) if step.title == title)


def _click_step(desk, title):
    story = desk.window.story.list
    rect = story.visualItemRect(story.item(_row(desk, title)))
    QTest.mouseClick(story.viewport(), LEFT, NONE, rect.center())


def test_clicking_a_step_moves_the_playhead_there(desk):
    desk.show(made.hot_start())
    _click_step(desk, "Light-off")
    assert desk.window.replay.position_s == pytest.approx(15.2)
    _click_step(desk, "Fuel cut-off")
    assert desk.window.replay.position_s == pytest.approx(27.0)


def test_clicking_the_chosen_step_again_goes_back_to_it(desk):
    desk.show(made.hot_start())
    _click_step(desk, "Light-off")
    desk.window.replay.seek(40.0)
    _click_step(desk, "Light-off")
    assert desk.window.replay.position_s == pytest.approx(15.2)


def test_arrow_keys_in_the_story_choose_steps(desk, qtbot):
    desk.show(made.hot_start())
    _click_step(desk, "Fuel on")
    qtbot.keyClick(desk.window.story.list, Qt.Key.Key_Down)
    assert desk.window.replay.position_s == pytest.approx(15.2)


def test_giving_the_story_the_focus_chooses_nothing(desk):
    desk.show(made.many_events(3))
    desk.window.replay.seek(5.0)
    desk.window.story.list.setFocus(Qt.FocusReason.TabFocusReason)
    assert desk.window.replay.position_s == 5.0


def test_n_and_p_visit_every_row_of_the_story_and_with_shift_the_findings(desk):
    desk.show(made.hot_start())
    story = desk.window.story.list
    desk.window.replay.seek(0.0)
    for keys, title in (
        ("N", "Starter on"),
        ("PgDown", "Fuel on"),
        ("N", "Light-off"),
        ("P", "Fuel on"),
        ("Shift+N", "Hot start"),
        ("Shift+PgUp", "Fuel on"),
        ("PgUp", "Starter on"),
    ):
        desk.user.presses(keys)
        assert story.currentRow() == _row(desk, title), keys
    desk.user.clicks("Next step of the story")
    assert story.currentRow() == _row(desk, "Fuel on")
    desk.user.clicks("Previous step of the story")
    assert desk.window.replay.position_s == pytest.approx(10.0)


def test_space_plays_by_the_clock_and_pauses(desk, qtbot):
    desk.show(made.hot_start())
    desk.window.replay.seek(20.0)
    qtbot.keyClick(desk.window, Qt.Key.Key_Space)
    desk.clock.now += 7.5
    qtbot.waitUntil(lambda: desk.window.playback_bar.clock.text() == "0:27.5")
    qtbot.keyClick(desk.window, Qt.Key.Key_Space)
    desk.clock.now += 50.0
    QApplication.processEvents()
    assert desk.window.replay.position_s == pytest.approx(27.5)


def test_space_presses_a_button_that_has_the_focus(desk, qtbot):
    desk.show(made.hot_start())
    desk.window.activateWindow()
    button = next(
        b for b in desk.window.playback_bar.findChildren(QAbstractButton) if b.accessibleName() == "Speed 5"
    )
    button.setFocus(Qt.FocusReason.TabFocusReason)
    qtbot.waitUntil(button.hasFocus)
    qtbot.keyClick(button, Qt.Key.Key_Space)
    assert desk.window.replay.session.playback.rate == 5.0
    assert not desk.window.replay.session.playback.playing


def test_playing_turns_the_page_before_the_playhead_leaves(desk, qtbot):
    session = desk.show(made.hot_start())
    desk.window.replay.frame(0.0, 30.0)
    desk.window.replay.seek(10.0)
    desk.window.replay.toggle()
    desk.clock.now += 45.0
    qtbot.waitUntil(lambda: session.framing.begin_s > 30.0)
    assert session.framing.begin_s < desk.window.replay.position_s < session.framing.end_s
    assert session.framing.span_s == pytest.approx(30.0)


def test_arrow_keys_step_by_sample_and_home_and_end_go_to_the_edges(desk, qtbot):
    desk.show(made.hot_start())
    desk.window.replay.seek(20.0)
    qtbot.keyClick(desk.window, Qt.Key.Key_Right)
    assert desk.window.replay.position_s == pytest.approx(20.1)
    qtbot.keyClick(desk.window, Qt.Key.Key_Left)
    qtbot.keyClick(desk.window, Qt.Key.Key_Left)
    assert desk.window.replay.position_s == pytest.approx(19.9)
    qtbot.keyClick(desk.window, Qt.Key.Key_End)
    assert desk.window.replay.position_s == pytest.approx(110.0)
    qtbot.keyClick(desk.window, Qt.Key.Key_Home)
    assert desk.window.replay.position_s == 0.0


def test_zoom_keys_and_frame_keys(desk, qtbot):
    session = desk.show(made.hot_start())
    qtbot.keyClick(desk.window, Qt.Key.Key_A)
    assert session.framing.shows_all
    qtbot.keyClick(desk.window, Qt.Key.Key_Plus)
    assert session.framing.span_s == pytest.approx(55.0)
    qtbot.keyClick(desk.window, Qt.Key.Key_Minus)
    assert session.framing.shows_all
    qtbot.keyClick(desk.window, Qt.Key.Key_E)
    step = session.story[session.selected]
    assert session.framing.begin_s == pytest.approx(step.begin_s)
    qtbot.keyClick(desk.window, Qt.Key.Key_Backspace)
    assert session.framing.shows_all


def test_the_speed_keys_change_the_rate_and_its_button(desk, qtbot):
    session = desk.show(made.hot_start())
    qtbot.keyClick(desk.window, Qt.Key.Key_BracketRight)
    assert session.playback.rate == 2.0
    buttons = desk.window.playback_bar.findChildren(QAbstractButton)
    checked = [b.accessibleName() for b in buttons if b.isChecked()]
    assert checked == ["Speed 2"]


def test_dragging_in_the_lanes_scrubs(desk):
    desk.show(made.hot_start())
    lanes = desk.window.lanes
    view = lanes
    y = view.height() // 2
    QTest.mousePress(view, LEFT, NONE, QPoint(round(lanes.x_of(12.0)), y))
    assert desk.window.replay.position_s == pytest.approx(12.0, abs=0.1)
    QTest.mouseMove(view, QPoint(round(lanes.x_of(30.0)), y))
    QTest.mouseRelease(view, LEFT, NONE, QPoint(round(lanes.x_of(30.0)), y))
    assert desk.window.replay.position_s == pytest.approx(30.0, abs=0.1)


def test_the_wheel_zooms_about_the_mouse(desk):
    session = desk.show(made.hot_start())
    lanes = desk.window.lanes
    x = round(lanes.x_of(20.0))
    span = session.framing.span_s
    place = QPointF(x, 200)
    event = QWheelEvent(place, lanes.mapToGlobal(place), QPoint(), QPoint(0, 120),
                        Qt.MouseButton.NoButton, NONE, Qt.ScrollPhase.NoScrollPhase, False)  # fmt: skip
    QApplication.sendEvent(lanes, event)
    assert session.framing.span_s == pytest.approx(0.8 * span)
    assert lanes.x_of(20.0) == pytest.approx(x, abs=1.5)


def test_shift_and_drag_frames_a_range(desk):
    session = desk.show(made.hot_start())
    lanes = desk.window.lanes
    first, last = QPoint(round(lanes.x_of(15.0)), 300), QPoint(round(lanes.x_of(25.0)), 300)
    shift = Qt.KeyboardModifier.ShiftModifier
    QTest.mousePress(lanes, LEFT, shift, first)
    QTest.mouseMove(lanes, last)
    QTest.mouseRelease(lanes, LEFT, shift, last)
    assert session.framing.begin_s == pytest.approx(15.0, abs=0.1)
    assert session.framing.end_s == pytest.approx(25.0, abs=0.1)


def test_all_lanes_and_the_axis_share_one_range(desk):
    desk.show(made.hot_start())
    desk.window.replay.frame(12.0, 34.0)
    lanes = desk.window.lanes
    until(lambda: not busy(desk.window))
    words = {one.text: one.rect.center().x() for one in painted_anew(lanes)}
    assert words["0:20"] == pytest.approx(lanes.x_of(20.0), abs=2)
    left, right = round(lanes.x_of(12.0)), round(lanes.x_of(34.0))
    assert right - left > 500
    desk.window.replay.seek(34.0)  # the values stand at the right edge
    picture = pixels(lanes)
    # Right of the titles: each falls from its highest at a time that is known, Ng and the bus as fuel is cut.
    for role, time_s in (("temperature", 18.4), ("speed", 27.0), ("voltage", 27.0)):
        ink = of_colour(picture, desk.theme.color(role), desk.theme.color("panel"))[:, : right - 120]
        ink[:, : left + 150] = False
        rows = np.where(ink, np.arange(ink.shape[0])[:, None], 10_000)
        top = rows.min(axis=0)
        assert np.flatnonzero(top <= top.min() + 1)[-1] == pytest.approx(lanes.x_of(time_s), abs=13), role


def test_dragging_the_window_of_the_timeline_pans(desk):
    session = desk.show(made.hot_start())
    desk.window.replay.frame(10.0, 40.0)
    line = desk.window.timeline
    y = int(line.area().center().y())
    QTest.mousePress(line, LEFT, NONE, QPoint(round(line.x_of(25.0)), y))
    QTest.mouseMove(line, QPoint(round(line.x_of(45.0)), y))
    QTest.mouseRelease(line, LEFT, NONE, QPoint(round(line.x_of(45.0)), y))
    assert session.framing.begin_s == pytest.approx(30.0, abs=0.3)
    assert session.framing.span_s == pytest.approx(30.0)


def test_dragging_an_edge_of_the_window_resizes_it(desk):
    session = desk.show(made.hot_start())
    desk.window.replay.frame(10.0, 40.0)
    line = desk.window.timeline
    y = int(line.area().center().y())
    QTest.mousePress(line, LEFT, NONE, QPoint(round(line.x_of(40.0)), y))
    QTest.mouseMove(line, QPoint(round(line.x_of(80.0)), y))
    QTest.mouseRelease(line, LEFT, NONE, QPoint(round(line.x_of(80.0)), y))
    assert session.framing.begin_s == pytest.approx(10.0)
    assert session.framing.end_s == pytest.approx(80.0, abs=0.3)


def test_a_mark_on_the_timeline_goes_to_its_finding(desk):
    desk.show(made.hot_start())
    line = desk.window.timeline
    QTest.mouseClick(line, LEFT, NONE, QPoint(round(line.x_of(14.0)), 6))
    assert desk.window.replay.position_s == pytest.approx(14.0)


def test_gauges_follow_the_playhead_and_say_what_is_not_recorded(desk):
    desk.show(made.hot_start())
    desk.window.replay.seek(60.0)
    gauges = desk.window.gauges
    assert gauges.gauge("torque").words == "not recorded"
    assert gauges.gauge("itt").words == tag_words(desk.window.lanes)["temperature"]
    assert gauges.gauge("itt").extreme_words == "highest so far 1087 at 0:18.4"
    assert gauges.gauge("bus_volts").extreme_words.startswith("min so far 20.")


def test_the_tag_is_filled_only_while_the_limit_that_applies_is_exceeded(desk):
    desk.show(made.hot_start())
    itt = desk.window.gauges.gauge("itt")
    levels = made.hot_start().events[1].levels
    desk.window.replay.seek(levels[0].start_s + 0.3)
    assert not itt.is_filled
    assert itt.used_words == "above 830: 0.3 s, 20 s allowed"
    desk.window.replay.seek(levels[-1].start_s + 0.3)
    assert itt.is_filled
    assert "none allowed" in itt.used_words
    desk.window.replay.seek(levels[-1].end_s + 0.3)
    assert not itt.is_filled


def test_switches_follow_the_playhead(desk):
    desk.show(made.hot_start())
    desk.window.replay.seek(20.0)
    (switches,) = desk.window.gauges.findChildren(SwitchList)
    assert switches.accessibleDescription() == "Starter on, Ignition not recorded, Fuel on"


def test_a_missing_channel_has_a_lane_that_says_so(desk):
    desk.show(made.hot_start())
    lanes = desk.window.lanes
    assert title_of(lanes, "Torque: not recorded").height() < 20
    assert title_of(lanes, "Voltage").top() - title_of(lanes, "Torque: not recorded").top() < 40


def test_the_story_side_tells_profile_quality_and_what_was_not_judged(desk):
    desk.show(made.hot_start())
    words = desk.window.story.facts.words
    assert any("Tarn TG-7" in w for w in words)
    assert "Limits not from approved data." in words
    assert "ITT is recorded in whole degrees." in words
    assert "Overtorque: torque is not recorded" in words


def test_an_undetermined_verdict_shows_no_green_and_asks_for_a_profile(desk):
    desk.show(made.without_profile())
    assert User(desk.window.verdict).words.startswith("Cannot be told")
    assert "--" not in User(desk.window.verdict).words
    assert desk.window.verdict.after.text() == ""


def test_the_starts_view_shows_each_start_and_leads_back_to_the_replay(desk, qtbot):
    desk.show(made.hot_start())
    qtbot.keyClick(desk.window, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    assert desk.window.view == "starts"
    table = desk.window.starts.table
    cells = [table.item(0, column).text() for column in range(1, table.columnCount())]
    assert cells[:3] == ["1", "0:10.0", "Aborted, hot start"]
    assert cells[3:7] == ["8.6", "19.6", "15", "1087"]
    assert "\N{EM DASH}" in cells
    table.setCurrentCell(0, 1)
    table.itemActivated.emit(table.item(0, 1))
    assert desk.window.view == "replay"


def test_the_picture_says_when_it_is_reduced(desk):
    desk.show(made.many_events(40))
    desk.window.replay.frame_all()
    desk.window.resize(1280, 720)
    assert desk.window.lanes.is_reduced == desk.user.sees("simplified for speed, peaks kept")
    desk.window.replay.frame(0.0, 30.0)
    assert not desk.window.lanes.is_reduced
    assert not desk.user.sees("reduced picture")


def test_everything_that_takes_the_focus_has_a_name_for_screen_readers(desk):
    desk.show(made.hot_start())
    nameless = [
        type(w).__name__
        for w in desk.window.findChildren(QWidget)
        if w.focusPolicy() & Qt.FocusPolicy.TabFocus
        and not w.accessibleName()
        and not (isinstance(w, QAbstractButton) and w.text())
        and w.isVisible()
    ]
    assert nameless == []


@pytest.mark.parametrize("choice", ["light", "dark", "contrast"])
def test_the_trace_and_the_event_are_painted_in_the_theme_s_colours(desk, choice):
    desk.show(made.hot_start())
    desk.theme.choose(choice)
    QApplication.processEvents()
    image = desk.window.lanes.grab().toImage()
    seen = {
        image.pixelColor(x, y).name().upper()
        for x in range(60, image.width(), 2)
        for y in range(30, image.height(), 2)
    }
    palette = desk.theme.palette
    assert palette.panel.upper() in seen
    assert palette.tint_limit.upper() in seen


def test_larger_text_scales_the_window(desk):
    desk.show(made.hot_start())
    before = desk.window.story.width()
    desk.window.looks.larger()
    assert desk.window.story.width() > before
    desk.window.looks.usual_size()
    assert desk.window.story.width() == before


def test_the_window_fits_a_small_screen(desk):
    desk.show(made.hot_start())
    desk.window.resize(1280, 720)
    QApplication.processEvents()
    assert (desk.window.width(), desk.window.height()) == (1280, 720)


def test_measuring_from_a_mark_to_the_playhead(desk, qtbot):
    desk.show(made.hot_start())
    desk.window.replay.seek(15.2)
    qtbot.keyClick(desk.window, Qt.Key.Key_M)
    desk.window.replay.seek(18.4)
    words = measured_words(desk.window.lanes)
    assert len(words) == 3
    assert words[1].startswith("+107")
    assert "°C/s, above 830 (hot start) for " in words[1]
    assert words[1].endswith("]")  # with the bounds
    assert not any("above 0" in one for one in words)
    qtbot.keyClick(desk.window, Qt.Key.Key_M)
    assert measured_words(desk.window.lanes) == []


def test_what_lies_between_the_cursors_is_heard(desk, qtbot):
    desk.show(made.hot_start())
    lanes = desk.window.lanes
    usual = lanes.accessibleDescription()
    desk.window.replay.seek(15.2)
    qtbot.keyClick(desk.window, Qt.Key.Key_M)
    desk.window.replay.seek(18.4)
    heard = lanes.accessibleDescription()
    assert heard.startswith("Between the cursors: ")
    assert "Interturbine temperature, °C: +107" in heard
    desk.window.replay.seek(18.2)
    assert lanes.accessibleDescription() not in (heard, usual)
    qtbot.keyClick(desk.window, Qt.Key.Key_M)
    assert lanes.accessibleDescription().startswith("At 0:18.2: ")


def test_ctrl_and_drag_measures(desk):
    desk.show(made.hot_start())
    lanes = desk.window.lanes
    first, last = QPoint(round(lanes.x_of(27.0)), 300), QPoint(round(lanes.x_of(40.0)), 300)
    control = Qt.KeyboardModifier.ControlModifier
    QTest.mousePress(lanes, LEFT, control, first)
    QTest.mouseMove(lanes, last)
    QTest.mouseRelease(lanes, LEFT, control, last)
    assert desk.window.replay.mark_s == pytest.approx(27.0, abs=0.1)
    assert measured_words(lanes)[1].startswith("\N{MINUS SIGN}")


def test_the_values_under_the_mouse_are_shown(desk):
    desk.show(made.hot_start())
    lanes = desk.window.lanes
    QTest.mouseMove(lanes, QPoint(round(lanes.x_of(40.0)), 300))
    QApplication.processEvents()
    assert hover_words(lanes)[0].startswith("19.")
    QApplication.sendEvent(lanes, QEvent(QEvent.Type.Leave))
    assert hover_words(lanes) == []


def test_the_start_and_the_phase_can_be_framed(desk, qtbot):
    session = desk.show(made.hot_start())
    desk.window.replay.frame_all()
    desk.window.replay.seek(20.0)
    qtbot.keyClick(desk.window, Qt.Key.Key_D)
    assert (session.framing.begin_s, session.framing.end_s) == (15.2, 27.0)
    qtbot.keyClick(desk.window, Qt.Key.Key_S)
    assert session.framing.begin_s == pytest.approx(5.0)


def test_fitted_heights_follow_what_is_in_view(desk, qtbot):
    desk.show(made.hot_start())

    def scale():
        return scale_of(desk.window.lanes, "ITT", "Torque")

    still = scale()
    assert len(still) >= 3
    desk.window.replay.frame(60.0, 100.0)
    assert scale() == still
    desk.user.presses("H")
    fitted = scale()
    assert fitted[-1] < 300.0 < still[-1]
    assert len(fitted) >= 2
    desk.user.presses("H")
    assert scale() == still


def test_a_channel_can_be_added_moved_and_removed_as_a_lane(desk, qtbot):
    session = desk.show(made.hot_start())
    menu = desk.window.lane_menu
    menu.fill(None)
    entry = next(a for a in menu.actions() if a.text() == "Indicated airspeed")
    assert not entry.isChecked()
    entry.trigger()
    qtbot.waitUntil(lambda: "ias" in desk.window.lanes.lane_names())
    menu.fill("ias")
    next(a for a in menu.actions() if a.text().endswith("&up")).trigger()
    assert desk.window.lanes.lane_names()[-2] == "ias"
    menu.fill("ias")
    next(a for a in menu.actions() if a.text().startswith("&Remove")).trigger()
    assert desk.window.lanes.lane_names() == ["ng", "itt", "torque", "bus_volts"]
    assert [lane.plan.name for lane in session.lanes] == ["ng", "itt", "torque", "bus_volts"]


def test_the_last_lane_stays(desk):
    session = desk.show(made.hot_start())
    for name in ("ng", "itt", "torque", "bus_volts"):
        desk.window.replay.remove_lane(name)
    assert len(session.lanes) == 1


def test_the_border_between_two_lanes_can_be_dragged(desk):
    desk.show(made.hot_start())
    lanes = desk.window.lanes
    tops = [title_of(lanes, symbol).top() for symbol in ("Ng", "ITT", "Torque")]
    place = border_below(lanes, "Ng")
    drag(lanes, place, place + QPoint(0, 30))
    after = [title_of(lanes, symbol).top() for symbol in ("Ng", "ITT", "Torque")]
    assert after == pytest.approx([tops[0], tops[1] + 30, tops[2]], abs=3)


def test_dragging_with_the_right_button_pans_and_a_click_opens_the_lane_menu(desk, qtbot):
    session = desk.show(made.hot_start())
    desk.window.replay.frame(20.0, 40.0)
    lanes = desk.window.lanes
    right = Qt.MouseButton.RightButton
    first = QPoint(round(lanes.x_of(30.0)), 300)
    QTest.mousePress(lanes, right, NONE, first)
    QTest.mouseMove(lanes, QPoint(round(lanes.x_of(35.0)), 300))
    QTest.mouseRelease(lanes, right, NONE, QPoint(first.x() + 100, 300))
    assert session.framing.begin_s == pytest.approx(15.0, abs=0.2)
    # The offscreen platform cannot open a menu.
    lanes.menu_wanted.disconnect(desk.window.lane_menu.offer)
    with qtbot.waitSignal(lanes.menu_wanted) as wanted:
        QTest.mouseClick(lanes, right, NONE, QPoint(first.x(), round(title_of(lanes, "ITT").bottom()) + 40))
    assert wanted.args[1] == "itt"


def test_gauges_can_be_tapes_and_say_the_same(desk, qtbot):
    desk.show(made.hot_start())
    desk.window.replay.seek(18.4)
    dials = {name: desk.window.gauges.gauge(name).words for name in ("itt", "ng", "torque", "bus_volts")}
    qtbot.keyClick(desk.window, Qt.Key.Key_T)
    tapes = {name: desk.window.gauges.gauge(name).words for name in dials}
    assert type(desk.window.gauges.gauge("itt")).__name__ == "TapeWidget"
    assert tapes == dials
    assert desk.window.gauges.gauge("itt").is_filled
    qtbot.keyClick(desk.window, Qt.Key.Key_T)
    assert type(desk.window.gauges.gauge("itt")).__name__ == "GaugeWidget"


def test_crowded_findings_stand_as_shapes_and_never_overlap(desk, qtbot):
    desk.show(made.many_events(40))
    desk.window.replay.frame_all()
    lanes = desk.window.lanes._content.words
    qtbot.waitUntil(lambda: sum(len(lane) for lane in lanes) > 10)
    words = [word.box for lane in lanes for word in lane]
    for i, first in enumerate(words):
        assert not any(first.meets(other) for other in words[i + 1 :])


def test_after_the_last_finding_and_the_last_row_the_status_says_so(desk, qtbot):
    desk.show(made.hot_start())
    desk.user.presses("End")
    desk.user.presses("N")
    assert desk.window.playback_bar.aside.text().startswith("last step")
    desk.user.presses("Shift+N")
    assert desk.window.playback_bar.aside.text().startswith("last finding")
    desk.window.replay.seek(20.0)
    assert "finding" not in desk.window.playback_bar.aside.text()


def test_the_story_marks_the_step_that_the_playhead_is_in(desk):
    desk.show(made.hot_start())
    _click_step(desk, "Light-off")
    desk.window.replay.seek(13.0)
    assert desk.window.story.list.currentRow() == _row(desk, "Starter on")
    desk.window.replay.seek(28.0)
    assert desk.window.story.list.currentRow() == _row(desk, "Fuel cut-off")


def test_clock_and_instant_are_rounded_alike(desk):
    assessment = made.hot_start()
    dated = replace(assessment.recording.identity, start=datetime(2031, 8, 21, 15, 25, tzinfo=UTC))
    desk.show(replace(assessment, recording=replace(assessment.recording, identity=dated)))
    for time_s in (20.04, 20.05, 20.06, 20.19, 20.96):
        desk.window.replay.seek(time_s)
        words = desk.window.playback_bar.aside.text()
        assert f".{desk.window.playback_bar.clock.text()[-1]}" in words.split("·")[-1]


def test_heights_that_fit_do_not_blow_noise_up(desk):
    desk.show(made.hot_start())
    desk.window.replay.frame(70.0, 80.0)
    desk.window.lanes.toggle_fit()
    scale = scale_of(desk.window.lanes, "Bus", None)
    assert scale[-1] - scale[0] >= 1.0
    assert len(scale) <= 5  # in steps of half a volt at the least


def test_the_keys_can_be_closed_with_a_button_in_view(desk):
    desk.window.explaining.show_keys()
    dialog = next(w for w in QApplication.topLevelWidgets() if w.windowTitle() == "Keys" and w.isVisible())
    button = next(b for b in dialog.findChildren(QAbstractButton) if b.text().replace("&", "") == "Close")
    assert dialog.rect().contains(button.mapTo(dialog, button.rect().bottomRight()))
    button.click()
    assert not dialog.isVisible()


def test_the_profile_is_chosen_above_quit_and_its_separator(desk):
    file_menu = next(a.menu() for a in desk.window.menuBar().actions() if a.text() == "&File")
    entries = file_menu.actions()
    names = [action.objectName() for action in entries]
    assert entries.index(desk.window.profiles.menuAction()) < names.index("quit")
    assert names[-1] == "quit"
    assert entries[-2].isSeparator()


def test_measures_of_a_start_are_never_wider_than_their_table(desk, qtbot):
    desk.show(made.hot_start())
    desk.window.views.show_starts()
    table = desk.window.starts.measures
    qtbot.waitUntil(lambda: table.rowCount() > 0)
    for width, height in ((1024, 700), (1440, 900)):
        desk.window.resize(width, height)
        QApplication.processEvents()
        assert sum(table.columnWidth(i) for i in range(3)) <= table.viewport().width() + 1
        metrics = table.fontMetrics()
        longest = max(metrics.horizontalAdvance(table.item(i, 1).text()) for i in range(table.rowCount()))
        assert table.columnWidth(1) >= longest + 20


def test_small_gauges_keep_below_the_words_of_the_large_one_in_a_low_window(desk):
    desk.show(made.hot_start())
    desk.window.resize(1024, 700)
    desk.window.replay.seek(18.4)
    QApplication.processEvents()
    large, small = desk.window.gauges.gauge("itt"), desk.window.gauges.gauge("ng")
    assert large.used_words
    (used,) = (one for one in painted(large) if one.text == large.used_words)
    assert used.rect.bottom() < large.height()
    assert large.y() + used.rect.bottom() <= small.y() + 1


def test_what_is_only_possible_is_tinted_lighter_than_what_was_exceeded(desk):
    for palette in (LIGHT, DARK, CONTRAST):
        none, full = qt_color(palette, "panel"), qt_color(palette, "tint_limit")
        part = qt_color(palette, "tint_possible")
        assert none != part != full
        assert abs(part.red() - none.red()) <= abs(full.red() - none.red())


def test_a_finding_close_to_its_limit_fills_its_lane_when_it_is_framed(desk):
    session = desk.show(made.hot_start())
    lane = next(x for x in desk.window.lanes._content.lanes if x.plan.name == "itt")
    full = lane.high - lane.low
    lane.show_range(80.0, 100.0, True, True)
    assert lane.high - lane.low < 0.5 * full
    lane.show_range(session.framing.begin_s, session.framing.end_s, True, True)
    assert lane.high - lane.low == full


def test_no_button_of_the_playback_bar_is_cut_in_a_small_window_with_a_reduced_picture(desk):
    desk.show(made.many_events(40))
    desk.window.replay.frame_all()
    bar = desk.window.playback_bar
    for width in (1024, 1280, 1440):
        desk.window.resize(width, 720)
        bar.show_reduced(True)
        QApplication.processEvents()
        for button in bar.findChildren(QAbstractButton):
            if button.isVisible():
                assert button.width() >= button.sizeHint().width(), (width, button.text())
                assert button.geometry().right() < bar.width()


def test_large_text_scrolls_inside_the_window_and_the_usual_size_scrolls_nothing(desk, qtbot):
    desk.show(made.hot_start())
    window = desk.window
    window.resize(1280, 620)
    QApplication.processEvents()
    bar = window.scrolled.verticalScrollBar()
    assert bar.maximum() == 0
    for _ in range(3):
        qtbot.keyClick(window, Qt.Key.Key_Plus, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: bar.maximum() > 0)
    assert (window.width(), window.height()) == (1280, 620)
    assert window.minimumSizeHint().height() < 620
    assert window.scrolled.horizontalScrollBar().maximum() == 0
    bar.setValue(bar.maximum())
    play = window.playback_bar
    bottom = play.mapTo(window, play.rect().bottomLeft()).y()
    assert bottom < window.height()  # what lies below can be reached
    qtbot.keyClick(window, Qt.Key.Key_0, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: bar.maximum() == 0)
    assert (window.width(), window.height()) == (1280, 620)


def test_the_words_beside_the_clock_are_whole_at_1280(desk, qtbot):
    assessment = made.hot_start()
    session = desk.show(assessment)
    begin = session.assessment.starts[0].fuel_on_s
    desk.window.replay.seek(begin + 3)
    desk.window.replay.toggle_mark()
    desk.window.replay.seek(begin + 5.2)
    aside = desk.window.playback_bar.aside
    assert "from the mark" in aside.text()
    assert "after fuel" in aside.text()
    QApplication.processEvents()
    assert aside.width() >= aside.fontMetrics().horizontalAdvance(aside.text())


def test_that_the_picture_is_reduced_is_said_in_whole_words_at_1280(desk, qtbot):
    desk.show(made.many_events(40))
    desk.window.replay.frame_all()
    desk.window.playback_bar.show_reduced(True)
    QApplication.processEvents()
    assert has_room_for_its_text(desk.user.find("simplified for speed, peaks kept"))


def test_what_was_not_judged_is_told_with_how_it_can_be(desk):
    rest = NotJudged("starter rest before the first start", "starter runs before the recording are not known")
    torque = NotJudged("overtorque", "torque is not recorded", channel="torque")
    desk.show(
        replace(
            made.hot_start(),
            events=(),
            verdict="undetermined",
            not_judged=(torque, rest, NotJudged("a", "b")),
        )
    )
    verdict = desk.window.verdict
    assert verdict.after.text().startswith("Not checked: overtorque, starter rest before the first start, a.")
    assert User(verdict).has("Columns...")
    assert User(verdict).find("Columns...").toolTip().startswith("If the file has Torque under another name")
    assert User(verdict).has("Why?")
    User(verdict).clicks("Why?")
    why = desk.user.part("Why")
    assert "starter runs before the recording are not known" in why.words
    assert {"First start today", "Starter rest...", "Columns..."} <= set(why.words.split("\n"))
    # The commands that it names are there under these words.
    menu = {action.text().replace("&", "") for action in desk.window.findChildren(QAction)}
    assert {"Starter rest before the recording...", "Columns..."} <= menu
    desk.show(replace(made.hot_start(), not_judged=(rest,)))
    assert "Starter rest" not in verdict.after.text()  # what was exceeded comes first


def _letters(texts):
    return [text[text.index("&") + 1].lower() for text in texts if "&" in text]


def test_each_menu_gives_a_letter_once_and_no_view_takes_one_of_the_menu_bar(desk):
    desk.show(made.hot_start())
    window = desk.window
    bar = _letters(action.text() for action in window.menuBar().actions())
    assert len(set(bar)) == len(bar)
    for action in window.menuBar().actions():
        shown = [one.text().replace("&&", "") for one in action.menu().actions() if one.isVisible()]
        letters = _letters(shown)
        doubles = {letter for letter in letters if letters.count(letter) > 1}
        assert not doubles, (action.text(), doubles)
    views = window.views
    for show in (views.show_replay, views.show_starts, views.show_history, views.show_report):
        show()
        QApplication.processEvents()
        labels = [one for one in window.findChildren(QLabel) if one.buddy() is not None]
        seen = [one for one in (*labels, *window.findChildren(QAbstractButton)) if one.isVisible()]
        letters = _letters(one.text().replace("&&", "") for one in seen)
        assert not set(letters) & set(bar)
        assert len(set(letters)) == len(letters)


@pytest.mark.parametrize("scale", [1.0, 1.2])
def test_beside_the_panel_no_button_of_playing_is_lost_and_the_clock_is_whole(desk, scale):
    """At 1280 px the speeds fold into one box; by themselves they have their row again."""
    desk.show(assessed(next(path for path in DEMOS if path.stem.startswith("12"))))
    desk.window.resize(1280, 720)
    desk.theme.set_scale(scale)
    QApplication.processEvents()
    desk.user.presses("W")
    QApplication.processEvents()
    names = ("Previous step of the story", "Next step of the story", "Previous sample", "Next sample")
    clock = desk.user.find("Time at the playhead")
    bar = desk.window.playback_bar
    for name in ("Play", *names, "Speed", "Repeat what is in view"):
        button = desk.user.find(name)
        assert button.width() >= button.minimumSizeHint().width(), name
        assert button.geometry().right() <= bar.width()
    assert clock.width() >= clock.fontMetrics().horizontalAdvance(clock.text())
    desk.user.chooses("2", "Speed")
    assert desk.window.replay.session.playback.rate == 2.0
    desk.user.presses("Escape")
    desk.window.resize(1920, 1000)
    QApplication.processEvents()
    assert not desk.user.has("Speed")
    assert desk.user.find("Speed 2").isChecked()
    assert desk.user.find("Previous sample").text() == "‹ sample"
