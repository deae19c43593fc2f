"""Local, UTC or elapsed time: chosen in the menu or in the settings, seen in all of the window at once, remembered."""

import re
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtGui import QContextMenuEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QComboBox, QDialog, QListWidget, QMenu

from debrief.gui.style.settings import Settings
from tests.gui.user import User, entries, painted_anew, until
from tests.session import assessment_maker as made

EAST = timezone(timedelta(hours=2))
ZONED = datetime(2031, 3, 14, 1, 59, 40, tzinfo=EAST)
LOCAL = ZONED.replace(tzinfo=None)


def begun(start):
    """Return the hot start, in a recording that began at this moment."""
    found = made.hot_start()
    identity = replace(found.recording.identity, start=start)
    return replace(found, recording=replace(found.recording, identity=identity))


def choices(desk) -> dict[str, tuple[bool, bool]]:
    """Return what the menu offers: whether it can be chosen, and is."""
    menu = desk.user.menu("View", "Clock").menu()
    return {text: (one.isEnabled(), one.isChecked()) for text, one in entries(menu).items()}


def ticks(lanes) -> list[str]:
    """Return the times below the lanes."""
    found = [
        word.text for word in painted_anew(lanes) if re.fullmatch(r"[\d:]+", word.text) and ":" in word.text
    ]
    assert found
    return found


def test_the_whole_window_follows_at_once(desk):
    session = desk.show(begun(ZONED))
    desk.user.takes("View", "Clock", "UTC")
    desk.window.replay.seek(40.0)
    # By hand: 01:59:40 at two hours east is 23:59:40 UTC, and 40 s later it is past midnight.
    user, of_day = desk.user, "00:00:20.0"
    assert user.reads("Time at the playhead") == of_day
    assert user.sees("13 Mar 2031, 23:59 UTC")
    user.waits_for("13 Mar 2031, 23:59:40 UTC")  # the fact of the story
    assert user.sees("UTC · ")
    assert user.sees("0:40.0 elapsed")
    story = user.find("What happened")
    texts = {word.text for word in painted_anew(story)}
    step = session.story[0]
    assert session.clock.text(step.time_s) in texts
    assert not any(text.startswith("0:") for text in texts)
    lanes = user.find("Lanes")
    until(lambda: all(tick.startswith(("23:59:", "00:0")) for tick in ticks(lanes)))
    timeline = user.find("Timeline of the whole recording")
    QTest.mouseMove(timeline, QPoint(timeline.width() // 2, timeline.height() // 2))
    assert any(word.text.startswith(("23:59:", "00:0")) for word in painted_anew(timeline))
    desk.window.beside.explain_verdict()
    assert any(row[0].startswith(("23:59:", "00:0")) for row in user.table("Findings").rows)
    user.takes("View", "Clock", "Local time")
    assert user.reads("Time at the playhead") == "02:00:20.0"
    assert user.sees("14 Mar 2031, 01:59 +02:00")
    assert user.table("Findings").rows[0][0].startswith(("01:59", "02:00"))
    user.waits_for("14 Mar 2031, 01:59:40 +02:00")
    desk.window.views.show_starts()
    assert session.clock.text(session.assessment.starts[0].begin_s) in user.table("Starts").rows[0]
    user.takes("View", "Clock", "Elapsed time")
    assert "0:10.0" in user.table("Starts").rows[0]
    desk.window.views.show_replay()
    assert user.reads("Time at the playhead") == "0:40.0"
    until(lambda: all(re.fullmatch(r"[01]:\d\d", tick) for tick in ticks(lanes)))


def test_notes_gauges_and_menus_tell_the_same_time(desk):
    found = begun(ZONED)
    session = desk.show(found)
    until(lambda: desk.window.notebook.is_read)
    desk.user.takes("View", "Clock", "UTC")
    desk.window.replay.seek(40.0)
    gauges = painted_anew(desk.user.find("Gauges"))
    assert any("at 00:00:" in word.text or "at 23:59:" in word.text for word in gauges)
    desk.user.takes("Notes", "Add a note...")
    note = User(next(one for one in desk.window.findChildren(QDialog) if one.isVisible()))
    pinned = note.find("Pinned to", QComboBox)
    assert "00:00:20.0, where the playhead is" in [pinned.itemText(i) for i in range(pinned.count())]
    note.presses("Esc")
    story = desk.user.find("What happened", QListWidget)
    row = story.visualItemRect(story.item(0)).center()
    at = story.viewport().mapToGlobal(row)
    event = QContextMenuEvent(QContextMenuEvent.Reason.Mouse, row, at)
    QApplication.sendEvent(story.viewport(), event)
    menu = QApplication.activePopupWidget()
    assert isinstance(menu, QMenu)
    assert session.clock.text(session.story[0].time_s) in next(iter(entries(menu)))
    assert "23:59:" in next(iter(entries(menu)))
    menu.close()
    desk.window.explaining.show_time_above("itt")
    above = desk.user.dialog("Time above a level")
    above.types("800", into="Level")
    assert "Between 23:59:40.0 and 00:01:" in above.words
    desk.user.takes("View", "Clock", "Elapsed time")
    assert "Between 0:00.0 and 1:" in above.words


def test_what_is_not_recorded_is_grey_and_says_why(desk):
    desk.show(begun(LOCAL))
    assert choices(desk) == {
        "Elapsed time": (True, True),
        "Local time": (True, False),
        "UTC (time zone not recorded)": (False, False),
    }
    assert desk.user.sees("local, zone not recorded")
    desk.show(begun(None))
    reason = "no date and time of day recorded"
    assert [text for text, (can_be, _) in choices(desk).items() if not can_be] == [
        f"Local time ({reason})",
        f"UTC ({reason})",
    ]
    desk.show(begun(ZONED.astimezone(UTC)))
    assert choices(desk)["Local time (this recording's clock is UTC)"] == (False, False)
    desk.user.presses("Ctrl+,")
    box = desk.user.dialog("Settings").find("Clock")
    can_be = [bool(box.model().index(i, 0).flags() & Qt.ItemFlag.ItemIsEnabled) for i in range(3)]
    assert can_be == [True, False, True]
    assert box.itemText(1) == "Local time (this recording's clock is UTC)"


def test_the_choice_is_remembered_and_no_zone_is_guessed_for_the_next_recording(desk):
    desk.show(begun(ZONED))
    desk.user.takes("View", "Clock", "UTC")
    assert Settings().time_shown == "utc"
    desk.show(begun(LOCAL))
    desk.window.replay.seek(40.0)
    assert desk.user.reads("Time at the playhead") == "0:40.0"
    desk.show(begun(ZONED))
    desk.window.replay.seek(40.0)
    assert desk.user.reads("Time at the playhead") == "00:00:20.0"


def test_a_window_opens_with_the_choice_of_before(qtbot):
    from tests.gui.conftest import Desk

    Settings().time_shown = "local"
    desk = Desk(qtbot)
    try:
        desk.show(begun(LOCAL))
        desk.window.replay.seek(25.0)
        assert desk.user.reads("Time at the playhead") == "02:00:05.0"
    finally:
        desk.window.close()


@pytest.mark.parametrize("kept", [True, False])
def test_the_settings_have_it_too_and_cancel_takes_it_back(desk, kept):
    desk.show(begun(ZONED))
    desk.window.replay.seek(40.0)
    desk.user.presses("Ctrl+,")
    dialog = desk.user.dialog("Settings")
    dialog.chooses("Local time", "Clock")
    assert desk.user.reads("Time at the playhead") == "02:00:20.0"
    assert choices(desk)["Local time"] == (True, True)
    dialog.clicks("Done" if kept else "Cancel")
    assert desk.user.reads("Time at the playhead") == ("02:00:20.0" if kept else "0:40.0")
    assert Settings().time_shown == ("local" if kept else "elapsed")


@pytest.mark.parametrize("words", ["Elapsed time", "Local time", "UTC"])
def test_the_clock_keeps_its_width_while_it_runs(desk, words):
    desk.show(begun(ZONED))
    desk.user.takes("View", "Clock", words)
    clock = desk.user.find("Time at the playhead")
    widths = set()
    for time_s in (0.0, 9.9, 19.9, 20.0, 59.9, 100.0, 110.0):
        desk.window.replay.seek(time_s)
        widths.add(clock.width())
        assert clock.fontMetrics().horizontalAdvance(clock.text()) <= clock.width()
    assert len(widths) == 1
