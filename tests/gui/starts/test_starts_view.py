"""The starts view: the table at every width, the normal range, and two starts over each other."""

from dataclasses import replace
from datetime import timedelta
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QTableWidget

from debrief.gui.charts.chart_view import ChartView
from debrief.gui.starts.starts_table import start_row
from debrief.history.storage.store import Store
from debrief.profile.model import Band
from debrief.recording.model import Channel
from debrief.session.assessing.file_assessment import Choices, assess_recording, read_recording
from debrief.session.charts.start_charts import time_chart
from debrief.session.evidence.measure_tables import start_rows
from tests.demo_assessing import DEMOS, assessed
from tests.history.history_making import FIRST, made_assessment, made_start
from tests.session import assessment_maker as made

DEMO = Path(__file__).resolve().parents[3] / "demo_flights"
LIT = np.arange(0.0, 80.0, 0.25)


def two_starts():
    """The made hot start, and the same again, fuel a second later and completed."""
    assessment = made.hot_start()
    first = assessment.starts[0]
    second = replace(
        first, number=2, outcome="completed", light_off_s=16.2, fuel_on_s=15.0, idle_s=40.0, factors=()
    )
    return replace(assessment, starts=(first, second))


@pytest.fixture
def starts(desk, qtbot):
    desk.show(two_starts())
    qtbot.keyClick(desk.window, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: desk.window.starts.is_filled, timeout=20_000)
    return desk.window.starts


def lay_over(starts):
    starts.buttons.button(2).setChecked(True)
    QApplication.processEvents()
    return starts.overlay


@pytest.mark.parametrize("size", [(1024, 700), (1280, 720), (1440, 900), (900, 640)])
def test_the_table_never_scrolls_sideways_and_cuts_no_cell(desk, starts, size):
    desk.window.resize(*size)
    QApplication.processEvents()
    table = starts.table
    assert not table.horizontalScrollBar().isVisible()
    assert table.horizontalScrollBar().maximum() == 0
    shown = [c for c in range(table.columnCount()) if not table.isColumnHidden(c)]
    for column in shown:
        assert table.columnWidth(column) >= table.sizeHintForColumn(column)
        assert table.columnWidth(column) >= table.horizontalHeader().sectionSizeHint(column)
    assert {1, 3, 7, 8} <= set(shown)
    left_out = [table.horizontalHeaderItem(c).text() for c in range(table.columnCount()) if c not in shown]
    assert desk.user.sees("Left out for want of room") == bool(left_out)
    for title in left_out:
        assert title.replace("\n", " ") in desk.user.words


def test_all_columns_are_there_at_1024(desk, starts):
    desk.window.resize(1024, 700)
    QApplication.processEvents()
    assert not any(starts.table.isColumnHidden(c) for c in range(starts.table.columnCount()))


def test_larger_text_leaves_columns_out_and_says_so(desk, starts):
    desk.window.resize(1024, 700)
    desk.theme.set_scale(1.5)
    QApplication.processEvents()
    assert starts.table.horizontalScrollBar().maximum() == 0
    assert "\nLeft out for want of room, in the measures below: " in desk.user.words
    desk.theme.set_scale(1.0)


def test_a_low_window_shows_one_chart_and_a_large_one_both(desk, starts):
    desk.window.resize(1024, 700)
    QApplication.processEvents()
    assert starts.plane.isVisible()
    assert not starts.time.isVisible()
    starts.buttons.button(1).setChecked(True)
    assert starts.time.isVisible()
    assert not starts.plane.isVisible()
    desk.window.resize(1440, 900)
    QApplication.processEvents()
    assert starts.plane.isVisible()
    assert starts.time.isVisible()
    assert not starts.buttons.button(1).isVisible()


def test_without_a_history_the_reason_for_no_band_is_said(desk, starts):
    assert "\nAdd 15 starts to see this engine's normal range: History, Add to history." in desk.user.words
    assert starts.plane.chart.panes[0].areas == ()


def lit(name, peak, day):
    """A completed start of the history's engine, with a trace."""
    assessment = made_assessment(name, at=FIRST + timedelta(days=day), starts=(made_start(peak_itt_c=peak),))
    ng = np.clip(20.0 + (LIT - 22.0) * 1.5, 0.0, 62.0)
    itt = np.clip(100.0 + (LIT - 22.0) * (peak - 100.0) / 2.0, 100.0, peak)
    channels = {"ng": Channel("ng", "%", LIT, ng), "itt": Channel("itt", "degC", LIT, itt)}
    return replace(assessment, recording=replace(assessment.recording, channels=channels))


@pytest.fixture
def kept(debrief_home):
    with Store.open() as store:
        for day in range(20):
            store.keep(lit(f"f{day:02d}.csv", 730.0 + day, day))


def known(assessment, path=""):
    """The assessment as read from a file of the history's engine."""
    identity = made_assessment(at=FIRST + timedelta(days=90)).recording.identity
    provenance = replace(assessment.recording.provenance, sha256=sha256(b"now").hexdigest(), path=path)
    return replace(
        assessment, recording=replace(assessment.recording, identity=identity, provenance=provenance)
    )


def test_the_usual_band_is_drawn_and_says_how_it_was_made(kept, desk, qtbot):
    desk.show(known(two_starts()))
    desk.window.views.show_starts()
    view = desk.window.starts
    qtbot.waitUntil(lambda: view.is_filled, timeout=20_000)
    assert view.plane.chart.panes[0].areas
    assert "middle 90 % of 20 other completed battery starts of TG7-0042" in desk.user.words
    assert "The normal range is not a limit." in desk.user.words
    assert "middle 90 %" in view.plane.accessibleDescription()
    # A pixel between the 5th and the 95th percentile has the band's colour, one far above has not.
    desk.window.resize(1440, 900)
    QApplication.processEvents()
    picture = view.plane.grab().toImage()
    band = desk.theme.color("selection").name()
    inside, outside = view.plane.at(47.0, 737.0), view.plane.at(45.0, 300.0)
    assert picture.pixelColor(inside.toPoint()).name() == band
    assert picture.pixelColor(outside.toPoint()).name() != band


def test_measures_say_what_is_usual(kept, desk, qtbot):
    assessment = known(two_starts())
    measured = replace(assessment.starts[0], measures={"peak_itt": made.Measure(1087.0, "degC")})
    desk.show(replace(assessment, starts=(measured,)))
    desk.window.views.show_starts()
    view = desk.window.starts
    qtbot.waitUntil(lambda: view.is_filled, timeout=20_000)
    cells = [view.measures.item(r, 2).text() for r in range(view.measures.rowCount())]
    assert any(cell.startswith("outside normal 7") for cell in cells)


def test_a_history_that_cannot_be_read_is_said(desk, debrief_home, qtbot):
    (debrief_home / "history.sqlite").write_text("no database, words" * 40, encoding="utf-8")
    desk.show(known(two_starts()))
    desk.window.views.show_starts()
    qtbot.waitUntil(lambda: "is not a history database" in desk.user.words, timeout=20_000)


def test_two_starts_are_read_out_at_one_cursor_with_their_difference(desk, starts, qtbot):
    panel = lay_over(starts)
    assert panel.other.currentText() == "Start 2: completed"
    chart = panel.chart
    chart.move_cursor(4.0)
    names = [row[0] for row in chart.readings()]
    assert names == ["Ng", "ITT", "Bus"]
    session = desk.window.replay.session
    itt = session.recording.channels["itt"]
    first = np.interp(18.0, itt.time_s, itt.values)
    second = np.interp(19.0, itt.time_s, itt.values)
    row = chart.readings()[1]
    assert row[1] == f"{first:.0f} °C"
    assert row[2] == f"{second:.0f} °C"
    assert row[3].lstrip("+\N{MINUS SIGN}") == f"{abs(first - second):.0f} °C"
    assert "4.0 s after fuel on" in chart.accessibleDescription()


def test_the_cursor_is_moved_by_mouse_and_keys(starts, qtbot):
    chart = lay_over(starts).chart
    chart.setFocus()
    qtbot.keyClick(chart, Qt.Key.Key_Home)
    assert chart.cursor_s == chart.overlay.begin_s
    QTest.mouseMove(chart.viewport(), chart.area().center().toPoint())
    QTest.mouseClick(chart.viewport(), Qt.MouseButton.LeftButton, pos=chart.area().center().toPoint())
    middle = (chart.overlay.begin_s + chart.overlay.end_s) / 2
    assert chart.cursor_s == pytest.approx(middle, abs=0.3)
    before = chart.cursor_s
    qtbot.keyClick(chart, Qt.Key.Key_Right)
    assert chart.cursor_s == pytest.approx(before + 0.1, abs=0.06)
    qtbot.keyClick(chart, Qt.Key.Key_Left, Qt.KeyboardModifier.ShiftModifier)
    assert chart.cursor_s == pytest.approx(before - 0.9, abs=0.06)


def test_the_two_traces_differ_without_colour(starts):
    """One is solid and one dashed: along the dashed one, the ground shows between the dashes."""
    chart = lay_over(starts).chart
    for pane in chart.chart.panes:
        first, second = pane.curves
        one, other = chart.pen(first.role, first.style), chart.pen(second.role, second.style)
        assert not one.dashPattern()
        assert other.dashPattern()
        assert one.widthF() == other.widthF()


def test_a_start_that_lacks_the_instant_is_said_and_another_can_be_chosen(desk, qtbot):
    assessment = two_starts()
    dark = replace(assessment.starts[0], light_off_s=None)
    desk.show(replace(assessment, starts=(dark, assessment.starts[1])))
    desk.window.views.show_starts()
    panel = lay_over(desk.window.starts)
    panel.instant.setCurrentIndex(2)
    assert panel.chart.overlay.problem == "No light-off is known in Start 1: align at another instant."
    assert "light-off" in panel.chart.accessibleDescription()
    panel.instant.setCurrentIndex(0)
    assert panel.chart.overlay.problem == ""


def test_a_single_start_says_what_can_be_laid_over_it(desk):
    desk.show(made.hot_start())
    desk.window.views.show_starts()
    panel = lay_over(desk.window.starts)
    assert "no other start" in desk.user.words
    assert not panel.other.isEnabled()


def test_a_start_of_another_recording_is_laid_over(starts, qtbot):
    panel = lay_over(starts)
    panel.load(str(DEMO / "01_cool_normal_start.csv"))
    qtbot.waitUntil(lambda: panel._loaded is not None, timeout=60_000)
    assert panel.chart.overlay.second.name == "Start 1 of 01_cool_normal_start.csv"
    assert panel.other.currentText() == "Start 1: completed, 01_cool_normal_start.csv"
    assert panel.table.horizontalHeaderItem(2).text() == "Other file"
    assert panel.table.rowCount() > 10
    desk = starts.window()
    desk.resize(1024, 700)
    QApplication.processEvents()
    assert panel.table.columnWidth(0) >= 100
    assert sum(panel.table.columnWidth(c) for c in range(4)) <= panel.table.viewport().width() + 1


def test_the_other_recording_is_read_out_in_the_units_of_this_one(desk, qtbot):
    from debrief.session.texts.in_units import in_units
    from debrief.words.display_units import ShownUnits

    desk.show(in_units(two_starts(), ShownUnits((("degC", "degF"),))))
    desk.window.views.show_starts()
    panel = lay_over(desk.window.starts)
    panel.load(str(DEMO / "01_cool_normal_start.csv"))
    qtbot.waitUntil(lambda: panel._loaded is not None, timeout=60_000)
    itt = panel.chart.overlay.lanes[1]
    assert itt.unit == "degF"
    assert itt.problem == ""
    assert itt.second.unit == "degF"


def test_a_file_that_cannot_be_read_is_told_and_the_picture_stays(desk, starts, qtbot, tmp_path):
    panel = lay_over(starts)
    before = panel.chart.overlay.second.name
    bad = tmp_path / "bad.csv"
    bad.write_bytes(b"")
    panel.load(str(bad))
    qtbot.waitUntil(lambda: "bad.csv" in desk.window.messages.words, timeout=20_000)
    assert panel.chart.overlay.second.name == before


def without_traces():
    """The history as an earlier program left it."""
    with Store.open() as store, store.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE start_traces SET curves = NULL")


def test_a_kept_start_needs_no_file_and_the_usual_one_has_the_medians(kept, desk, qtbot):
    desk.show(known(two_starts()))
    desk.window.views.show_starts()
    qtbot.waitUntil(lambda: desk.window.starts.is_filled, timeout=20_000)
    panel = lay_over(desk.window.starts)
    names = [panel.other.itemText(i) for i in range(panel.other.count())]
    desk.user.chooses(next(name for name in names if "f19.csv" in name), "The other start")
    assert panel.chart.overlay.second.name == "start 1 of f19.csv"
    assert panel.chart.overlay.problem == ""
    rows = {row[0]: row for row in desk.user.table("Measures of both starts").rows}
    assert rows["Peak ITT"][2] == "749 °C"
    desk.user.chooses("The usual start of this engine", "The other start")
    assert desk.user.sees("Differences: Start 1 minus the usual start. Median of ")
    rows = {row[0]: row for row in desk.user.table("Measures of both starts").rows}
    page = desk.window.starts._page
    assert rows["Peak ITT"][2] == f"{page.usual(two_starts().starts[0])['peak_itt'].band.centre:.0f} °C"


def test_both_are_played_from_the_view_of_two_starts(starts, desk):
    lay_over(starts)
    desk.user.clicks("Play both")
    assert desk.window.view == "replay"
    assert desk.user.reads("Which start is compared") == "Compared with start 2"
    assert desk.window.replay.comparison.instant == "fuel_on"


def test_a_kept_start_whose_file_is_gone_is_told(kept, desk, qtbot):
    without_traces()
    desk.show(known(two_starts()))
    desk.window.views.show_starts()
    view = desk.window.starts
    qtbot.waitUntil(lambda: view.is_filled, timeout=20_000)
    panel = lay_over(view)
    index = next(i for i in range(panel.other.count()) if "f19.csv" in panel.other.itemText(i))
    assert panel.other.itemText(index).endswith("(file not there)")
    panel._other_chosen(index)
    assert "is no longer where it was" in desk.window.messages.words
    assert panel.other.currentText() == "Start 2: completed"


def test_a_kept_start_is_read_from_its_file_and_laid_over(desk, debrief_home, qtbot):
    from debrief.session.assessing.file_assessment import assess_file

    with Store.open() as store:
        store.keep(assess_file(str(DEMO / "01_cool_normal_start.csv")))
        identity = assess_file(str(DEMO / "02_early_fuel_hot.csv")).recording.identity
    without_traces()
    hot = two_starts()
    desk.show(replace(hot, recording=replace(hot.recording, identity=identity)))
    desk.window.views.show_starts()
    view = desk.window.starts
    qtbot.waitUntil(lambda: view.is_filled, timeout=20_000)
    panel = lay_over(view)
    index = next(i for i in range(panel.other.count()) if "01_cool" in panel.other.itemText(i))
    panel._other_chosen(index)
    qtbot.waitUntil(lambda: panel._loaded is not None, timeout=60_000)
    assert panel.chart.overlay.second.name == "Start 1 of 01_cool_normal_start.csv"


def test_another_recording_on_the_table_takes_the_overlay_away(desk, starts, qtbot):
    lay_over(starts)
    desk.show(made.hot_start())
    QApplication.processEvents()
    assert starts.overlay.chart.overlay is None


def test_the_view_lives_through_a_change_of_colours(desk, starts):
    lay_over(starts)
    for choice in ("dark", "contrast", "light"):
        desk.theme.choose(choice)
        QApplication.processEvents()
        assert not starts.grab().toImage().isNull()


def test_many_starts_leave_room_for_the_charts(desk, qtbot):
    assessment = two_starts()
    many = tuple(replace(assessment.starts[0], number=i + 1) for i in range(14))
    desk.show(replace(assessment, starts=many))
    desk.window.views.show_starts()
    desk.window.resize(1024, 700)
    QApplication.processEvents()
    view = desk.window.starts
    assert view.plane.height() >= 190
    assert view.table.verticalScrollBar().maximum() > 0
    assert view.table.horizontalScrollBar().maximum() == 0


def test_what_was_measured_over_the_whole_recording_stands_in_the_story_as_on_the_paper(desk):
    from debrief.session.evidence.measure_tables import flight_rows

    measures = {
        "highest_itt_running": made.Measure(847.0, "degC", 846.0, 848.0),
        "run_down": made.Measure(None, "s", why="no shutdown in the recording"),
    }
    desk.show(replace(made.hot_start(), flight_measures=measures))
    words = desk.window.story.facts.words
    assert "Over the whole recording" in words
    (known_row,) = [row for row in flight_rows(measures) if row.known]
    assert known_row.value == "847 °C (846 to 848)"
    assert words[words.index(known_row.title) + 1] == "847 °C"
    assert not any("Run-down" in text for text in words)


def test_without_such_a_measure_nothing_is_headed(desk):
    desk.show(made.hot_start())
    assert "Over the whole recording" not in desk.window.story.facts.words


def test_the_chosen_start_stays_chosen_through_a_change_of_colours(desk, starts):
    starts.table.selectRow(1)
    desk.theme.choose("dark")
    QApplication.processEvents()
    assert starts.table.currentRow() == 1
    assert desk.user.has("Start 2")
    desk.theme.choose("light")


def test_without_a_start_the_reason_is_said_and_no_empty_table_stands_there(desk):
    desk.show(replace(made.without_profile(), starts=()))
    desk.window.views.show_starts()
    view = desk.window.starts
    QApplication.processEvents()
    assert desk.user.has("No start in this recording")
    assert "Choose the engine's profile" in desk.user.words
    assert not view.table.isVisible()
    assert not any(button.isVisible() for button in view.buttons.buttons())
    desk.show(replace(made.hot_start(), starts=()))
    desk.window.views.show_starts()
    assert "no beginning of one" in desk.user.words
    desk.show(two_starts())
    desk.window.views.show_starts()
    QApplication.processEvents()
    assert view.table.isVisible()
    assert "\nEnter or a double click" in desk.user.words


def test_a_clicked_cell_has_the_plain_colour_of_the_selection(desk, qtbot):
    desk.show(made.hot_start())
    desk.window.views.show_starts()
    for table in desk.window.starts.findChildren(QTableWidget):
        if not table.isVisible() or not table.rowCount():
            continue
        column = next(n for n in range(1, table.columnCount()) if not table.isColumnHidden(n))
        rect = table.visualItemRect(table.item(0, column))
        QTest.mouseClick(table.viewport(), Qt.MouseButton.LeftButton, pos=rect.center())
        image = table.viewport().grab().toImage()
        wanted = desk.theme.color("selection").rgb()
        # Along the left padding of the cell, where no text stands: a native box is a gradient there.
        column_of_pixels = {image.pixel(rect.left() + 3, y) for y in range(rect.top() + 2, rect.bottom() - 1)}
        assert column_of_pixels == {wanted}, table.accessibleName()


@pytest.mark.parametrize("width", [1024, 1280, 1920])
def test_the_tint_of_a_row_reaches_the_right_edge(desk, starts, width):
    desk.window.resize(width, 720)
    QApplication.processEvents()
    table = starts.table
    assert table.horizontalHeader().length() == table.viewport().width()


def test_the_tint_of_a_band_ends_where_the_profiles_chart_ends(desk):
    theme = desk.theme
    assessment = assess_recording(read_recording(DEMO / "05_hot_start_aborted_motored.csv"), Choices())
    bands = (("I", ((1030.0, 0.0), (830.0, 20.0))), ("II", ((1100.0, 10.0), (930.0, 30.0))))
    limits = tuple(
        replace(one, bands=tuple(Band(name, points) for name, points in bands) if one.bands else ())
        for one in assessment.profile.limits
    )
    profile = replace(assessment.profile, limits=limits)
    view = ChartView(theme, "Time above")
    view.resize(420, 420)
    view.show_chart(time_chart(replace(assessment, profile=profile), assessment.starts[0]))
    picture = view.grab().toImage()

    def color(seconds, level):
        return picture.pixelColor(view.at(seconds, level).toPoint()).name()

    caution, limit = theme.color("tint_caution").name(), theme.color("tint_limit").name()
    assert color(4.0, 1085.0) == caution
    assert color(22.0, 1085.0) == limit
    # A peak of 1126 lies in no band, nor does a time beyond 30 s.
    assert {color(4.0, 1115.0), color(22.0, 1115.0)}.isdisjoint({caution, limit})
    view.deleteLater()


def test_a_start_is_named_by_what_it_is_marked_for_where_its_outcome_does_not_say_it():
    path = next(DEMO.glob("11_*.csv"))
    assessment = assess_recording(read_recording(path), Choices())
    outcomes = [start_row(assessment, start)[2] for start in assessment.starts]
    rest = "starter rest too short"
    assert outcomes == ["No light-off", f"No light-off, {rest}", f"Completed, {rest}"]
    clean = assess_recording(read_recording(next(DEMO.glob("01_*.csv"))), Choices())
    assert start_row(clean, clean.starts[0])[2] == "Completed"


def test_bounds_are_the_same_on_screen_and_paper(desk, qtbot):
    assessment = assessed(DEMOS[1])
    desk.show(assessment)
    desk.window.views.show_starts()
    view = desk.window.starts
    qtbot.waitUntil(lambda: view.is_filled, timeout=20_000)
    shown = {
        view.measures.item(row, 0).text(): view.measures.item(row, 2).text()
        for row in range(view.measures.rowCount())
    }
    start = assessment.starts[0]
    printed = {
        row.title: row.value.partition(" (")[2].rstrip(")")
        for row in start_rows(start, assessment.profile)
        if start.measures[row.name].unit == "degC"
    }
    assert printed["Peak ITT"] == "1177 to 1183"
    for title, bounds in printed.items():
        assert shown[title] == (f"{bounds} °C" if bounds else "")
