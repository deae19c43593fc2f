"""The panel that explains, as a person opens, reads, uses and leaves it."""

from __future__ import annotations

import subprocess
import sys

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from debrief.words.numbers import clock_text
from tests.demo_assessing import DEMOS, assessed
from tests.gui.user import until
from tests.session import assessment_maker as made

KEPT = next(path for path in DEMOS if path.name.startswith("01"))
HOT = next(path for path in DEMOS if path.name.startswith("06"))


@pytest.fixture
def hot(desk):
    desk.show(assessed(HOT))
    return desk


def _why(desk):
    return desk.user.part("Why")


def test_w_explains_the_chosen_finding_beside_the_lanes_and_escape_leaves(hot):
    hot.user.presses("W")
    why = _why(hot)
    assert why.sees("Hot start at 0:31.9: exceeded")
    levels = why.table("Levels")
    assert levels.headings == ["Level", "Allowed", "Measured", "Result"]
    assert [row[3] for row in levels.rows] == ["within", "within", "exceeded"]
    lanes, panel = hot.window.lanes, why.root
    assert panel.mapTo(hot.window, panel.rect().topLeft()).x() >= (
        lanes.mapTo(hot.window, lanes.rect().topRight()).x()
    )
    assert lanes.width() >= 500
    hot.user.presses("Escape")
    assert not hot.user.has("Why")
    assert QApplication.focusWidget() is lanes  # Space plays at once


def test_samples_stand_with_their_row_of_the_file_and_a_click_or_enter_goes_there(hot):
    hot.user.presses("W")
    samples = _why(hot).table("Samples that decide, as recorded")
    text = HOT.read_text().split("\n")
    rows = [(place, row) for place, row in enumerate(samples.rows) if row[0].isdigit()]
    assert len(rows) > 4
    for _, (line, _, value) in rows:
        assert value.split()[0] in {cell.removesuffix(".0") for cell in text[int(line) - 1].split(",")}
    place, row = rows[-1]
    samples.clicks(place)
    assert clock_text(hot.window.replay.position_s, 2) == row[1]
    samples.view.setCurrentCell(rows[0][0], 0)
    QTest.keyClick(samples.view, Qt.Key.Key_Return)
    assert clock_text(hot.window.replay.position_s, 2) == rows[0][1][1]


def test_rule_profile_line_and_formula_follow_in_this_order(hot):
    hot.user.presses("W")
    words = _why(hot).words
    order = [
        "Levels",
        "Samples that decide",
        "ITT above 1030 °C at no time.",
        "line 123",
        "allowed = [",
        "Straight lines",
    ]
    places = [words.index(one) for one in order]
    assert places == sorted(places)


def test_a_click_on_the_verdict_explains_it_and_a_row_leads_on(hot):
    sentence = next(
        one for one in hot.user.part("Verdict").root.children() if "Exceeded" in getattr(one, "text", str)()
    )
    QTest.mouseClick(sentence, Qt.MouseButton.LeftButton, pos=sentence.rect().center())
    why = _why(hot)
    levels = why.table("Levels")
    assert levels.rows[0][0] == "ITT, hot start (itt-start)"  # the worst stands first
    assert why.sees("What is open")
    assert why.has("First start today")
    levels.clicks("ITT, overtemperature (itt-running)")
    assert _why(hot).sees("for no longer than 300 s")


def test_the_panel_follows_the_chosen_finding_and_a_double_click_opens_it(hot):
    steps = hot.window.replay.session.story
    place = next(i for i, step in enumerate(steps) if step.title == "Motoring too short")
    hot.user.table("What happened").double_clicks(place)
    assert _why(hot).sees("Motoring too short at")
    hot.window.replay.choose(next(i for i, step in enumerate(steps) if step.title == "Hot start"))
    assert _why(hot).sees("Hot start at")


def test_copy_gives_cells_to_a_spreadsheet_and_tables_to_a_letter(hot):
    hot.user.presses("W")
    _why(hot).clicks("Copy")
    data = QApplication.clipboard().mimeData()
    assert "1030 °C\tnone\t2.9 s (2.7 to 3.3)\texceeded" in data.text()
    assert "<td>1030 °C</td><td>none</td>" in data.html()
    QApplication.instance().aboutToQuit.emit()
    assert not QApplication.clipboard().mimeData().hasHtml()


def test_every_cell_is_whole_at_the_smallest_window(hot):
    hot.window.resize(1280, 720)
    hot.user.presses("W")
    table = _why(hot).table("Levels").view
    for row in range(table.rowCount()):
        for column in range(table.columnCount()):
            wanted = table.fontMetrics().horizontalAdvance(table.item(row, column).text())
            assert table.visualRect(table.model().index(row, column)).width() >= wanted
    assert table.horizontalHeader().length() <= table.viewport().width()


def test_its_width_is_remembered_and_other_pages_keep_their_room(hot):
    hot.window.resize(1900, 900)
    hot.user.presses("W")
    hot.window.beside.setSizes([1300, 600])
    hot.window.beside.splitterMoved.emit(1300, 1)
    width = _why(hot).root.width()
    hot.user.presses("Escape")
    hot.user.presses("W")
    assert abs(_why(hot).root.width() - width) < 8
    assert hot.window.gauges.isVisible()  # there is room for all
    hot.window.views.show_history()
    assert not hot.user.has("Why")
    hot.window.views.show_replay()
    assert hot.user.has("Why")


def test_a_measure_of_a_start_is_explained_beside_the_starts(desk):
    assessment = assessed(HOT)
    desk.show(assessment)
    desk.window.views.show_starts()
    desk.window.starts.why_wanted.emit(assessment.starts[0], "peak_itt")
    why = _why(desk)
    assert why.sees("Peak ITT (start 1)")
    assert desk.window.view == "starts"
    desk.show(made.hot_start())  # another recording: the panel is about it
    assert not why.sees("Peak ITT (start 1)")


def test_the_program_ends_well_after_a_copy(tmp_path):
    """What Python put on the clipboard must not be there when Python has gone: the program ended with a fault."""
    script = (
        "import sys; from PySide6.QtCore import QTimer; from PySide6.QtWidgets import QApplication;"
        "from debrief.gui.why.clipboard import copy_tables;"
        "app = QApplication([]); copy_tables('a\\tb', '<b>a</b>'); QTimer.singleShot(0, app.quit);"
        "app.exec(); print(app.clipboard().text())"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=60, check=False
    )
    assert (done.returncode, done.stdout) == (0, "a\tb\n")


def test_with_large_text_nothing_leaves_the_window_and_the_story_comes_back(hot):
    hot.window.resize(1280, 720)
    hot.user.presses("W")
    assert hot.user.has("What happened")
    hot.window.looks.larger()
    hot.window.looks.larger()
    until(lambda: not hot.user.has("What happened"))
    QApplication.processEvents()
    close = hot.user.find("Close Why")
    assert close.mapTo(hot.window, close.rect().topRight()).x() < hot.window.width()
    assert hot.window.lanes.width() >= 500
    hot.user.presses("Ctrl+Shift+N")  # notes lie below the story: the panel gives their room back
    assert hot.user.has("What happened")
    hot.user.presses("W")
    hot.window.looks.usual_size()
    until(lambda: hot.user.has("What happened"))


def test_gauges_come_and_go_with_the_width_of_the_window(hot):
    hot.user.presses("W")
    assert not hot.window.gauges.isVisible()
    hot.window.resize(1900, 900)
    until(hot.window.gauges.isVisible)
    hot.window.resize(1280, 720)
    until(lambda: not hot.window.gauges.isVisible())
    hot.user.presses("Escape")
    assert hot.window.gauges.isVisible()


def test_a_limit_that_never_applied_is_not_said_to_be_within(desk):
    desk.show(assessed(KEPT))
    desk.window.beside.explain_verdict()
    levels = _why(desk).table("Levels")
    place = next(i for i, row in enumerate(levels.rows) if row[0].endswith("(oil-press-min)"))
    assert levels.rows[place + 1] == ["", "", "", "did not apply"]
    levels.clicks(place)
    assert _why(desk).sees("Did not apply: what it holds for did not occur")
    assert not _why(desk).sees("What would change this")
