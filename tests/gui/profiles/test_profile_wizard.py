"""The wizard for a new profile, as a person uses it: words, pages, keys, a chart to draw in, and a verdict that follows."""

from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication, QEvent, QPoint, Qt
from PySide6.QtGui import QAccessible
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLineEdit, QMessageBox, QScrollArea
from shiboken6 import isValid

from debrief.analysis.model import TimeAbove
from debrief.gui.profiles.limit_chart import LimitChart
from debrief.gui.profiles.profile_wizard import ProfileWizard
from debrief.gui.style.theme import Theme
from debrief.profile.loader import find
from debrief.session.importing.import_opening import open_or_ask
from debrief.session.profiles.profile_form import own_folder
from tests.gui.user import User, drag, painted, until
from tests.session import assessment_maker as made

DEMO = next((Path(__file__).parents[3] / "demo_flights").glob("06*.csv"))


@pytest.fixture
def wizard(qtbot, debrief_home):
    theme = Theme("light")
    theme.apply()
    above = TimeAbove("itt", "degC", (400.0, 800.0, 1000.0), (40.0, 15.0, 0.0), (40.0, 9.0, 0.0))
    window = ProfileWizard(theme, above=above)
    window.show()
    qtbot.waitExposed(window)
    yield User(window)
    if isValid(window):
        window.discard()
        window.deleteLater()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


def settled(user):
    """Wait until what was typed has been looked at."""
    QTest.qWait(300)


def to_page(user, name):
    table = user.table("Questions")
    (row,) = (n for n, text in enumerate(table.choices) if text.strip("\N{CHECK MARK}\N{EN DASH}! ") == name)
    table.clicks(row)


def marks(user):
    """What stands before each page in the list."""
    names = user.table("Questions").choices
    return {text.lstrip("\N{CHECK MARK}\N{EN DASH}! "): text[:1].strip() for text in names}


def table_of(user):
    """The rows of the start temperature table."""
    lines = [one for one in user.root.findChildren(QLineEdit) if one.isVisible()]
    cells = {one.accessibleName(): one.text() for one in lines}
    rows = []
    for n in range(1, 31):
        above = cells.get(f"Allowed in a start, row {n}, above")
        if above is not None:
            rows.append((above, cells[f"Allowed in a start, row {n}, no longer than, s"]))
    return rows


def test_nothing_is_wrong_before_it_is_typed_and_what_is_wrong_is_said_at_its_field(wizard):
    pages = wizard.table("Questions").choices
    for name in pages:
        to_page(wizard, name.strip())
        assert "refused" not in wizard.words.lower()
        assert set(marks(wizard).values()) == {""}
    to_page(wizard, "Idle")
    wizard.types("high", "Ng at idle")
    settled(wizard)
    assert marks(wizard)["Idle"] == "!"
    wizard.find("Longest time from light-off to idle").setFocus()
    wizard.types("58", "Ng at idle")
    settled(wizard)
    assert marks(wizard)["Idle"] == "\N{CHECK MARK}"
    assert "is not a number" not in wizard.words


def test_each_page_says_where_it_stands_in_a_manual_and_what_cannot_be_judged_without_it(wizard):
    to_page(wizard, "Starter")
    assert "In the manual: engine limits section" in wizard.words
    assert "Without it cannot be judged: Ng at starter on, starter duty." in wizard.words


def test_enter_goes_from_field_to_field_and_a_table_grows_while_it_is_typed(wizard):
    to_page(wizard, "Start temperature")
    wizard.find("Allowed in a start, row 1, above").setFocus()
    for text in ("830", "20", "920", "6", "1030", "0"):
        wizard.types(text)
        wizard.presses("Return")
    assert table_of(wizard) == [("830", "20"), ("920", "6"), ("1030", "0"), ("", "")]
    chart = wizard.find("Chart of the limit", LimitChart)
    assert chart.points == ((830, 20), (920, 6), (1030, 0))
    assert "920, 6 s" in " ".join(one.text for one in painted(chart.viewport()))


def test_the_table_is_drawn_by_mouse_and_both_stay_in_step(wizard):
    to_page(wizard, "Start temperature")
    chart = wizard.find("Chart of the limit", LimitChart)
    area = chart.area().toRect()
    first = QPoint(area.left() + area.width() * 3 // 4, area.top() + area.height() * 3 // 4)
    second = QPoint(area.left() + area.width() // 4, area.top() + area.height() // 4)
    QTest.mouseClick(chart.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, first)
    assert len(chart.points) == 1
    QTest.mouseClick(chart.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, second)
    (low, long), (high, short) = chart.points
    assert low < high
    assert long > short
    assert table_of(wizard)[:2] == [(f"{low:g}", f"{long:g}"), (f"{high:g}", f"{short:g}")]
    begin = chart.at(short, high).toPoint()
    drag(chart.viewport(), begin, begin + QPoint(0, -30))
    moved = chart.points[1]
    assert moved[0] > high
    assert moved[1] == short
    assert table_of(wizard)[1] == (f"{moved[0]:g}", f"{short:g}")
    wizard.presses("Ctrl+Z")
    assert chart.points[1] == (high, short)  # the whole drag is one step
    wizard.presses("Ctrl+Z")
    assert chart.points == ((low, long),)
    wizard.presses("Ctrl+Shift+Z")
    assert chart.points[1] == (high, short)


def test_the_axes_stand_while_a_corner_is_dragged_and_follow_when_it_is_let_go(wizard):
    to_page(wizard, "Start temperature")
    for cell, text in (("row 1, above", "830"), ("row 1, no longer than, s", "20")):
        wizard.types(text, f"Allowed in a start, {cell}")
    chart = wizard.find("Chart of the limit", LimitChart)
    before = chart.chart.x.range, chart.chart.panes[0].y.range
    at = chart.at(20, 830).toPoint()
    QTest.mousePress(chart.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, at)
    for step in (20, 60, 100):
        QTest.mouseMove(chart.viewport(), at + QPoint(step // 2, -step))
        assert (chart.chart.x.range, chart.chart.panes[0].y.range) == before
    end = at + QPoint(50, -100)
    QTest.mouseRelease(chart.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, end)
    assert chart.points[0][0] > 830
    assert (chart.chart.x.range, chart.chart.panes[0].y.range) != before


def test_the_table_is_drawn_by_keys_alone(wizard):
    to_page(wizard, "Start temperature")
    chart = wizard.find("Chart of the limit", LimitChart)
    chart.setFocus(Qt.FocusReason.TabFocusReason)
    wizard.presses("Ins")
    wizard.presses("Ins")
    assert len(chart.points) == 2
    level, seconds = chart.points[1]
    for keys in ("Up", "Shift+Up", "Left"):
        wizard.presses(keys)
    assert chart.points[1] == (level + 55, seconds - 1)
    assert "Corner 2 of 2" in chart.accessibleDescription()
    wizard.presses("PgDown")
    wizard.presses("Del")
    assert chart.points == ((level + 55, seconds - 1),)
    assert table_of(wizard) == [(f"{level + 55:g}", f"{seconds - 1:g}"), ("", "")]


def test_ctrl_z_takes_back_what_was_typed_on_any_page_and_goes_there(wizard):
    to_page(wizard, "Idle")
    wizard.types("58", "Ng at idle")
    to_page(wizard, "Voltage")
    wizard.types("23", "Least resting voltage before the start, V")
    wizard.presses("Ctrl+Z")
    assert wizard.find("Least resting voltage before the start, V", QLineEdit).text() == ""
    wizard.presses("Ctrl+Z")
    assert wizard.find("Ng at idle", QLineEdit).text() == ""
    wizard.presses("Ctrl+Y")
    assert wizard.find("Ng at idle", QLineEdit).text() == "58"


def test_what_the_manual_does_not_have_is_skipped_and_named(wizard):
    to_page(wizard, "Idle")
    wizard.types("58", "Ng at idle")
    wizard.clicks("Not in my manual")
    settled(wizard)
    assert marks(wizard)["Idle"] == "\N{EN DASH}"
    table = wizard.table("What can be judged with this profile")
    (line,) = (n for n, text in enumerate(table.choices) if "Outcome of the start" in text)
    assert table.choices[line].endswith("no idle Ng")
    table.clicks(line)
    assert wizard.find("Ng at idle", QLineEdit).hasFocus()


def test_closing_asks_where_something_was_answered_and_nothing_is_saved(wizard):
    wizard.types("Mine", "Name")
    wizard.presses("Escape")
    box = wizard.root.findChild(QMessageBox)
    assert box is not None
    assert wizard.root.isVisible()
    box.reject()
    wizard.root.discard()
    assert not own_folder().exists()


def test_without_a_name_it_is_not_saved_and_leads_to_the_name(wizard):
    to_page(wizard, "Summary")
    wizard.clicks("Save the profile")
    assert wizard.find("Name", QLineEdit).hasFocus()
    assert "no name yet" in wizard.words
    assert not list(own_folder().glob("*"))


def test_every_field_of_every_page_has_a_name_and_takes_the_keys(wizard):
    for name in wizard.table("Questions").choices:
        to_page(wizard, name.strip())
        lines = [one for one in wizard.root.findChildren(QLineEdit) if one.isVisible()]
        assert lines
        names = [one.accessibleName() for one in lines]
        assert all(names)
        assert len(set(names)) == len(names)


def test_a_profile_is_made_for_the_open_recording_and_the_verdict_follows(
    desk, qtbot, debrief_home, tmp_path
):
    """A common starter, a start temperature table and two running limits: what it takes is counted in the report."""
    text = DEMO.read_text(encoding="utf-8").splitlines(keepends=True)
    file = tmp_path / "theirs.csv"
    file.write_text(
        "".join(line for line in text if not line.startswith("# engine-profile")), encoding="utf-8"
    )
    desk.opener = open_or_ask
    desk.window.open_path(file)
    until(lambda: desk.window.replay.session is not None)
    assert desk.window.replay.session.profile is None
    bar = desk.user.part("Verdict")
    bar.clicks("New engine profile")
    wizard = desk.user.dialog("New engine profile")
    wizard.types("Our trainer", "Name")
    wizard.clicks("Next")
    for text in ("58", "45"):
        wizard.types(text)
        wizard.presses("Return")
    wizard.clicks("Next")
    for text in ("45", "90", "45", "90", "45", "40 min"):
        wizard.types(text)
        wizard.presses("Return")
    to_page(wizard, "Start temperature")
    wizard.find("Allowed in a start, row 1, above").setFocus()
    for text in ("830", "20", "920", "6", "1030", "0"):
        wizard.types(text)
        wizard.presses("Return")
    to_page(wizard, "Running levels")
    wizard.types("830", "Levels, ITT, highest, limit")
    wizard.presses("Return")
    wizard.types("5")
    to_page(wizard, "Summary")
    settled(wizard)
    assert "ITT above 830 °C 20 s, 920 °C 6 s, 1030 °C not at any time" in wizard.words
    wizard.clicks("Save the profile")
    until(lambda: desk.window.replay.session.profile is not None)
    session = desk.window.replay.session
    assert session.profile.name == "Our trainer"
    assert Path(session.profile.path) == own_folder() / "our-trainer.toml"
    assert session.assessment.verdict == "exceeded"
    assert any(event.kind == "hot_start" for event in session.assessment.events)
    assert desk.window.editing.wizard is None
    assert find("our-trainer").limits[1].allowed[0].level == 830


def test_the_open_start_lies_behind_the_table(desk, qtbot, debrief_home):
    desk.opener = open_or_ask
    desk.window.open_path(DEMO)
    until(lambda: desk.window.replay.session is not None)
    (start,) = desk.window.replay.session.assessment.starts
    desk.user.takes("File", "New engine profile...")
    wizard = desk.user.dialog("New engine profile")
    to_page(wizard, "Start temperature")
    (curve,) = wizard.find("Chart of the limit", LimitChart).chart.panes[0].curves
    assert curve.x.tolist() == list(start.time_above.total_s)
    assert curve.y.tolist() == list(start.time_above.levels)
    wizard.chooses("each stay beyond the level by itself", "The seconds count")
    (curve,) = wizard.find("Chart of the limit", LimitChart).chart.panes[0].curves
    assert curve.x.tolist() == list(start.time_above.longest_s)
    wizard.root.close()


def test_the_rules_that_no_manual_has_are_offered_at_the_end_and_filled_in_only_when_asked(wizard):
    to_page(wizard, "Summary")
    assert marks(wizard)["How it is recognised"] == ""
    assert "Nothing yet." in wizard.words
    wizard.clicks("Fill in the common rules of recognition")
    assert marks(wizard)["How it is recognised"] == "\N{CHECK MARK}"
    assert "Ng of a standing engine: 5 %" in wizard.words
    assert not wizard.has("Fill in the common rules of recognition")
    wizard.presses("Ctrl+Z")
    assert wizard.find("Ng below which the engine stands, %", QLineEdit).text() == ""


def test_it_is_offered_where_nothing_is_open_and_in_the_menus(desk, qtbot, debrief_home):
    desk.user.clicks("New engine profile...")
    wizard = desk.user.dialog("New engine profile")
    desk.user.takes("File", "New engine profile...")  # one at a time
    assert desk.user.dialog("New engine profile").root is wizard.root
    wizard.types("Mine", "Name")
    to_page(wizard, "Summary")
    wizard.clicks("Save the profile")
    QApplication.processEvents()
    assert (own_folder() / "mine.toml").exists()
    assert "It is offered wherever a profile is chosen" in desk.user.words
    desk.show(made.hot_start())
    entry = desk.user.menu("File", "Engine profile", "New profile...")
    entry.trigger()
    desk.user.dialog("New engine profile").root.close()


def test_the_window_never_closes_over_answers(desk, qtbot, debrief_home):
    desk.user.clicks("New engine profile...")
    wizard = desk.user.dialog("New engine profile")
    wizard.types("Mine", "Name")
    desk.window.close()
    assert desk.window.isVisible()
    wizard.root.discard()


def test_a_click_on_a_page_begins_in_its_first_field_and_the_window_in_the_name(wizard):
    assert wizard.find("Name", QLineEdit).hasFocus()
    to_page(wizard, "Running levels")
    assert wizard.find("Levels, ITT, highest, caution", QLineEdit).hasFocus()


def test_in_the_columns_dialog_a_new_profile_is_made_and_chosen(desk, qtbot, debrief_home):
    desk.opener = open_or_ask
    desk.window.open_path(DEMO)
    until(lambda: desk.window.replay.session is not None)
    desk.user.takes("File", "Columns...")
    until(lambda: desk.window.importer.dialog is not None and desk.window.importer.dialog.is_ready)
    columns = User(desk.window.importer.dialog)
    columns.clicks("New engine profile")
    wizard = desk.user.dialog("New engine profile")
    wizard.types("Their engine", "Name")
    to_page(wizard, "Summary")
    wizard.clicks("Save the profile")
    QApplication.processEvents()
    assert columns.reads("Engine profile") == "their-engine"
    columns.clicks("Open")
    until(lambda: desk.window.replay.session.profile.name == "Their engine")


@pytest.mark.parametrize("scale", [1.0, 1.2, 1.6])
def test_nothing_leaves_the_window_at_any_text_size(qtbot, debrief_home, scale):
    theme = Theme("light", scale)
    theme.apply()
    window = ProfileWizard(theme)
    window.resize(1240, 660)
    window.show()
    qtbot.waitExposed(window)
    user = User(window)
    assert window.width() <= 1280
    assert window.height() <= 720
    for name in user.table("Questions").choices:
        to_page(user, name.strip())
        QApplication.processEvents()
        for area in window.findChildren(QScrollArea):
            if area.isVisible():
                # With six steps more it may scroll.
                assert scale > 1.2 or area.horizontalScrollBar().maximum() == 0, (name, scale)
    window.discard()
    window.deleteLater()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


def test_a_screen_reader_is_told_each_page_and_whether_it_is_answered(wizard):
    to_page(wizard, "Idle")
    wizard.types("58", "Ng at idle")
    settled(wizard)
    pages = QAccessible.queryAccessibleInterface(wizard.find("Questions"))
    told = [pages.child(n).text(QAccessible.Text.Name) for n in range(pages.childCount())]
    assert "Idle, answered" in told
    assert "Starter, not answered yet" in told
    chart_page = wizard
    to_page(chart_page, "Start temperature")
    chart = QAccessible.queryAccessibleInterface(wizard.find("Chart of the limit"))
    assert chart.text(QAccessible.Text.Name) == "Chart of the limit"
    assert chart.text(QAccessible.Text.Description) == "No level yet."
