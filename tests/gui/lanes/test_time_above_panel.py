"""The panel that says how long a channel was above a level that is typed."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QApplication

from debrief.analysis.level_time import level_time
from debrief.gui.lanes.time_above_panel import TimeAbovePanel
from debrief.session.limits.typed_level import level_words
from tests.session import assessment_maker as made


@pytest.fixture
def panel(desk) -> TimeAbovePanel:
    desk.show(made.hot_start())
    desk.user.takes("View", "Lanes", "Time above a level...")
    QApplication.processEvents()
    return desk.window.findChild(TimeAbovePanel)


def test_a_typed_level_is_counted_over_all_between_the_cursors_and_in_a_start(desk, panel, qtbot):
    session = desk.window.replay.session
    itt, start = session.recording.channels["itt"], session.assessment.starts[0]
    assert panel.told.text() == "Type a level, such as 800."
    qtbot.keyClicks(panel.level, "900")
    whole = level_time(itt, 900.0, 0.0, session.recording.duration_s)
    assert whole.runs
    assert level_words(whole) in panel.told.text()
    panel.where.setCurrentIndex(panel.where.findText(f"Start {start.number}"))
    assert level_words(level_time(itt, 900.0, start.begin_s, start.window_end_s)) in panel.told.text()
    panel.where.setCurrentIndex(panel.where.findText("Between the cursors"))
    assert "second cursor" in panel.told.text()
    replay = desk.window.replay
    replay.seek(whole.longest_begin_s - 1.0)
    replay.toggle_mark()
    replay.seek(whole.longest_begin_s + 1.0)
    part = level_time(itt, 900.0, whole.longest_begin_s - 1.0, whole.longest_begin_s + 1.0)
    qtbot.waitUntil(lambda: level_words(part) in panel.told.text(), timeout=3000)


def test_a_level_that_is_none_is_said_and_another_channel_can_be_chosen(panel, qtbot):
    qtbot.keyClicks(panel.level, "hot")
    assert "is no level of ITT" in panel.told.text()
    panel.level.setText("10")
    panel.channels.setCurrentIndex(panel.channels.findData("ng"))
    assert panel.told.text().startswith("Ng was above 10 % for")


def test_it_closes_with_its_recording(desk, panel):
    assert panel.isVisible()
    desk.window.close_recording()
    assert not panel.isVisible()
