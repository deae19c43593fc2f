import shutil
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime
from hashlib import sha256
from itertools import pairwise
from pathlib import Path

import pytest
from PySide6.QtCore import QPointF, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel, QPushButton

from debrief.cli import main
from debrief.gui.history.flight_list import FlightModel
from debrief.gui.style.shapes import shape_icon
from debrief.history.service.history_service import look
from debrief.history.storage.store import Store
from debrief.home import history_file
from debrief.session.charts.trend_chart import point_words
from debrief.words.events import headline
from tests.gui.user import Table
from tests.history.history_making import made_assessment, made_event, series
from tests.session import assessment_maker as made

ENGINE = "TG7-0042"
STEADY = [742.0 + (index * 7 % 11) - 5 for index in range(40)]


def named(assessment, name="hot_start.csv", path=""):
    """The assessment as if read from a file of this name, of the engine that the history knows."""
    recording = assessment.recording
    known = made_assessment(name).recording
    provenance = replace(
        recording.provenance, sha256=sha256(name.encode()).hexdigest(), file_name=name, path=path
    )
    return replace(assessment, recording=replace(recording, provenance=provenance, identity=known.identity))


@pytest.fixture
def kept(debrief_home):
    """A history of forty steady starts, then fifteen hotter ones."""
    flights = series([*STEADY, *(value + 30 for value in STEADY[:15])])
    with Store.open() as store:
        for flight in flights:
            store.keep(flight)
    return flights


@pytest.fixture
def history(desk, qtbot):
    """The history, looked at with a flight of its engine on the table."""
    desk.show(named(made.hot_start()))
    qtbot.keyClick(desk.window, Qt.Key.Key_4, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: desk.window.history.page is not None, timeout=20_000)
    return desk.window.history


def test_nothing_is_read_before_the_history_is_looked_at(desk, kept):
    desk.show(named(made.hot_start()))
    assert desk.window.history.page is None
    assert desk.window.history.jobs.count == 0


def test_an_empty_history_says_what_it_is_for_and_makes_no_file(desk, history):
    assert desk.user.sees("No flight is kept yet")
    assert desk.user.sees("The normal range is not a limit")
    assert not history.flights.isVisible()
    assert not history_file().exists()


def test_keeping_the_open_flight_adds_it(desk, history, qtbot):
    history.keep_button.click()
    qtbot.waitUntil(
        lambda: "Kept in the history: hot_start.csv" in desk.window.messages.words, timeout=20_000
    )
    qtbot.waitUntil(lambda: history.page.total == 1, timeout=20_000)
    assert history.page.kept.file_name == "hot_start.csv"
    assert history.keep_button.text() == "&Update the kept run", "nothing shows that it flew"
    assert "notes stay" in history.keep_button.toolTip()
    with Store.open() as store:
        assert [flight.file_name for flight in store.flights()] == ["hot_start.csv"]


def test_a_flight_kept_twice_is_one_flight(desk, history, qtbot):
    for words in ("Kept in the history", "unchanged"):
        history.keep_button.click()
        qtbot.waitUntil(lambda words=words: words in desk.window.messages.words, timeout=20_000)
        qtbot.waitUntil(lambda: history.page.kept is not None, timeout=20_000)
    assert history.page.total == 1


def test_the_page_is_that_of_the_engine_on_the_table(kept, history):
    assert history.page.engine == ENGINE
    assert history.engines.currentText() == ENGINE
    assert history.page.starts == len(kept)
    model = history.flights.model()
    assert model.rowCount() == len(kept)
    newest = model.index(0, 1).data()
    assert newest == max(f.recording.identity.start for f in kept).date().isoformat()


def test_a_shift_is_flagged_with_its_size_and_since_when(kept, history):
    row = next(
        r for r in range(history.measures.rowCount()) if history.measures.item(r, 1).text() == "Peak ITT"
    )
    expected = next(trend for trend in look(engine=ENGINE).trends if trend.measure == "peak_itt")
    assert expected.changes
    shift, sentence = expected.changes[-1]
    since = expected.points[expected.charted[shift.since]].date
    assert history.measures.item(row, 5).text().startswith("Shifted")
    assert since in history.measures.item(row, 5).text()
    assert not history.measures.item(row, 0).icon().isNull()
    assert history.measures.currentRow() == row
    assert sentence in history.trends.words.text()
    assert "The normal range is not a limit." in history.trends.words.text()
    assert sentence in history.trends.chart.accessibleName()


def test_every_other_measure_can_be_charted(kept, history):
    for row in range(history.measures.rowCount()):
        history.measures.selectRow(row)
        assert history.trends.trend is history.page.trends[row]
        assert history.trends.chart.chart.panes[0].y.title in history.measures.item(row, 1).text()


def test_too_few_starts_are_said_and_nothing_is_called_usual(debrief_home, desk, qtbot):
    with Store.open() as store:
        for flight in series(STEADY[:5]):
            store.keep(flight)
    desk.show(named(made.hot_start()))
    desk.window.views.show_history()
    view = desk.window.history
    qtbot.waitUntil(lambda: view.page is not None, timeout=20_000)
    assert view.measures.item(0, 3).text() == ""
    assert "5 of 15" in view.measures.item(0, 5).text()
    assert "Not enough history" in view.trends.words.text()


def test_an_instant_that_cannot_be_is_left_out_of_the_charts_and_said(kept, desk, qtbot):
    with Store.open() as store, store.engine.begin() as connection:
        sha = store.find("flight-003.csv")
        connection.exec_driver_sql("UPDATE starts SET at_epoch_s = 1e18 WHERE sha256 = ?", (sha,))
    desk.show(named(made.hot_start()))
    desk.window.views.show_history()
    view = desk.window.history
    qtbot.waitUntil(lambda: view.page is not None, timeout=20_000)
    assert "\n1 row of the history that cannot be right is left out" in desk.user.words
    assert len(view.page.trends[0].points) == len(kept) - 1
    assert not view.grab().isNull()


def test_all_flights_hold_the_undated_one_too(debrief_home, desk, qtbot):
    with Store.open() as store:
        for flight in [*series(STEADY[:3]), made_assessment("undated.csv", at=None)]:
            store.keep(flight)
    desk.show(named(made.hot_start()))
    desk.window.views.show_history()
    view = desk.window.history
    qtbot.waitUntil(lambda: view.page is not None, timeout=20_000)
    view.engines.setCurrentIndex(view.engines.findData(""))
    qtbot.waitUntil(lambda: view.page.engine is None, timeout=20_000)
    model = view.flights.model()
    assert model.rowCount() == 4
    assert model.index(3, 1).data() == "undated"
    assert "undated" in model.index(3, 1).data(Qt.ItemDataRole.ToolTipRole)


def test_a_click_on_a_point_opens_its_flight(desk, debrief_home, qtbot, tmp_path):
    file = tmp_path / "there.csv"
    file.write_text("a recording", encoding="utf-8")
    with Store.open() as store:
        for flight in series(STEADY[:4]):
            provenance = replace(flight.recording.provenance, path=str(file))
            store.keep(replace(flight, recording=replace(flight.recording, provenance=provenance)))
    desk.show(named(made.hot_start()))
    desk.window.views.show_history()
    view = desk.window.history
    qtbot.waitUntil(lambda: view.trends.chart is not None and view.trends.chart.isVisible(), timeout=20_000)
    wanted = []
    view.open_wanted.connect(wanted.append)
    QTest.mouseClick(
        view.trends.chart.viewport(), Qt.MouseButton.LeftButton, pos=view.trends.chart.place_of(2).toPoint()
    )
    assert wanted == [str(file)]
    qtbot.waitUntil(lambda: desk.window.replay.session.path == file, timeout=20_000)
    assert desk.window.view == "replay"


@pytest.mark.parametrize(
    ("verdict", "severities", "said"),
    [
        ("undetermined", ("note", "caution"), "Cannot be told; caution"),
        ("within", ("caution",), "Nothing exceeded; caution"),
        ("undetermined", ("note",), "Cannot be told"),
        ("within", (), "Nothing exceeded"),
        ("exceeded", ("caution", "limit"), "Exceeded; caution"),
        ("possible", ("possible", "caution"), "Possibly exceeded; caution"),
    ],
)
def test_a_flight_has_the_sign_and_the_word_of_its_verdict_as_above_the_recording(
    desk, debrief_home, verdict, severities, said
):
    flight = made_assessment("one.csv", events=tuple(made_event(severity=one) for one in severities))
    with Store.open() as store:
        store.keep(replace(flight, verdict=verdict))
        (listed,) = store.flights()
    theme = desk.theme
    model = FlightModel(theme)
    model.show((listed,), "")
    cell = model.index(0, 0)
    assert cell.data() == said
    sign = cell.data(Qt.ItemDataRole.DecorationRole)
    shape = headline(verdict, flight.events).sign  # the verdict bar draws the same
    assert (sign is None) == (shape is None) == said.startswith("Nothing exceeded")
    if shape is not None:
        assert sign.pixmap(20, 20).toImage() == shape_icon(shape, theme).pixmap(20, 20).toImage()


def test_a_file_that_is_gone_is_told_and_stays_in_the_history(desk, kept, history, qtbot):
    history.flights.selectRow(0)
    history.flights.setFocus()
    qtbot.keyClick(history.flights, Qt.Key.Key_Return)
    assert "is no longer where it was" in desk.window.messages.words
    assert history.page.total == len(kept)


def test_a_file_that_was_changed_since_is_told(desk, debrief_home, qtbot, tmp_path):
    file = tmp_path / "flight000.csv"
    file.write_text("another content", encoding="utf-8")
    flight = series(STEADY[:1])[0]
    provenance = replace(flight.recording.provenance, path=str(file))
    with Store.open() as store:
        store.keep(replace(flight, recording=replace(flight.recording, provenance=provenance)))
    desk.show(named(made.hot_start()))
    desk.window.views.show_history()
    view = desk.window.history
    qtbot.waitUntil(lambda: view.page is not None, timeout=20_000)
    Table(view.flights).double_clicks(0, 3)
    qtbot.waitUntil(lambda: "its SHA-256 is another" in desk.window.messages.words, timeout=20_000)


def test_the_chart_is_walked_by_keys(kept, history, qtbot):
    chart = history.trends.chart
    chart.setFocus(Qt.FocusReason.TabFocusReason)
    qtbot.waitUntil(chart.hasFocus)
    trend = history.trends.trend
    last = len(trend.points) - 1
    assert chart.current == last
    qtbot.keyClick(chart, Qt.Key.Key_Left)
    assert chart.current == last - 1
    assert chart.accessibleDescription() == point_words(trend, trend.points[last - 1])


def test_every_point_is_drawn_inside_the_chart(kept, history):
    chart = history.trends.chart
    for index in range(len(history.trends.trend.points)):
        place = chart.place_of(index)
        assert chart.area().adjusted(-1, -1, 1, 1).contains(place)
        chart.point_at(QPointF(place))
        trend = history.trends.trend
        assert chart.accessibleDescription() == point_words(trend, trend.points[index])


def test_a_history_that_cannot_be_read_is_told(desk, debrief_home, qtbot):
    history_file().write_text("this is no database, it is words", encoding="utf-8")
    desk.show(named(made.hot_start()))
    desk.window.views.show_history()
    qtbot.waitUntil(lambda: desk.window.messages.words != "", timeout=20_000)
    assert "history" in desk.window.messages.words
    assert "fault" not in desk.window.messages.words


def test_a_history_that_was_put_back_is_seen_when_the_page_is_shown_again(kept, desk, qtbot):
    whole = history_file().read_bytes()
    history_file().write_bytes(whole[: len(whole) // 2])
    desk.show(named(made.hot_start()))
    qtbot.keyClick(desk.window, Qt.Key.Key_4, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: "is damaged" in desk.window.messages.words, timeout=20_000)
    assert desk.window.history.page is None
    history_file().write_bytes(whole)
    for key in (Qt.Key.Key_1, Qt.Key.Key_4):
        qtbot.keyClick(desk.window, key, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: desk.window.history.page is not None, timeout=5_000)
    assert desk.window.history.page.total == len(kept)


def test_the_history_survives_a_change_of_colours(desk, kept, history):
    desk.theme.choose("dark")
    assert history.flights.model().rowCount() == len(kept)
    assert history.trends.chart.chart is not None
    desk.theme.choose("light")


def test_every_control_has_a_name(kept, history):
    for widget in (history.engines, history.flights, history.measures, history.trends.chart):
        assert widget.accessibleName()
    for button in history.findChildren(QPushButton):
        assert button.text()


def test_the_default_file_is_the_one_that_the_store_opens(debrief_home):
    from debrief.history.storage.places import database_url

    assert database_url(None).database == str(history_file())


def test_the_path_of_a_kept_flight_is_whole(debrief_home):
    with Store.open() as store:
        store.keep(made_assessment("one.csv"))
        assert Path(store.flights()[0].path).is_absolute()


def test_looking_at_the_history_does_not_change_it(debrief_home, kept, tmp_path):
    before = tmp_path / "before.sqlite"
    shutil.copy(history_file(), before)
    look(engine=ENGINE)
    with Store.open(str(before)) as old, Store.open() as now:
        assert old.flights() == now.flights()


def test_showing_the_window_does_not_load_the_database():
    code = (
        "import sys\n"
        "import debrief.gui.history.history_view, debrief.gui.report.report_view\n"
        "raise SystemExit('sqlalchemy' in sys.modules or 'sqlite3' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=60).returncode == 0


def test_the_history_can_be_looked_at_without_a_recording(desk, kept, qtbot):
    window = desk.window
    qtbot.keyClick(window, Qt.Key.Key_4, Qt.KeyboardModifier.ControlModifier)
    assert window.view == "history"
    view = window.history
    qtbot.waitUntil(lambda: view.page is not None, timeout=20_000)
    assert not view.keep_button.isVisible()
    assert view.flights.model().rowCount() == len(kept)
    view.engines.setCurrentIndex(view.engines.findData(ENGINE))
    qtbot.waitUntil(
        lambda: view.trends.chart is not None and view.trends.chart.chart is not None, timeout=20_000
    )
    view.back_button.click()
    assert window.view == "start"


def test_a_narrow_list_keeps_the_files_and_leaves_the_sentence_to_the_tool_tip(desk, kept, history):
    assert history.flights.isColumnHidden(4)
    assert not history.flights.isColumnHidden(3)
    assert "Nothing exceeded" in history.flights.model().index(0, 3).data(Qt.ItemDataRole.ToolTipRole)
    desk.window.resize(1920, 1080)
    assert not history.flights.isColumnHidden(4)


@pytest.mark.parametrize("size", [(1280, 720), (1440, 900), (2560, 1440)])
def test_all_flights_have_the_width_and_no_verdict_date_or_file_is_cut(desk, kept, history, qtbot, size):
    """Also not below the rows in view: a column is as wide as the longest of all its words."""
    long_name = "the_recording_of_the_second_engine_run_after_the_change_of_the_starter.csv"
    flight = made_assessment(
        long_name, at=datetime(2030, 1, 1, tzinfo=UTC), events=(made_event(severity="caution"),)
    )
    with Store.open() as store:
        store.keep(replace(flight, verdict="within"))
    desk.window.resize(*size)
    history.engines.setCurrentIndex(history.engines.count() - 1)
    qtbot.waitUntil(lambda: history.page.engine is None, timeout=20_000)
    QApplication.processEvents()
    assert not history.trends.isVisible()
    assert desk.user.sees("Choose an engine above to see its trends")
    table, model = history.flights, history.flights.model()
    assert not table.isColumnHidden(4)
    rows = [[model.index(row, c).data() for c in range(4)] for row in range(model.rowCount())]
    assert ["Nothing exceeded; caution", "2030-01-01", "1", long_name] in rows
    for row in range(model.rowCount()):
        for column in range(4):
            assert table.columnWidth(column) >= table.sizeHintForIndex(model.index(row, column)).width()


@pytest.mark.parametrize("size", [(1024, 700), (1280, 720), (1440, 900)])
def test_nothing_of_the_trends_stands_on_anything_else(desk, kept, history, size):
    desk.window.resize(*size)
    QApplication.processEvents()
    panel = history.trends
    labels = [one for one in panel.findChildren(QLabel) if one.isVisible() and one.text()]
    parts = [history.measures, *labels, history.trends.chart]
    parts = sorted(parts, key=lambda part: part.y())
    assert len(parts) == 5  # a heading, the table, the sentence, the chart, its legend
    for above, below in pairwise(part.geometry() for part in parts):
        assert above.bottom() < below.top()
    assert parts[-1].geometry().bottom() <= panel.height()
    table = history.measures
    widths = [table.columnWidth(c) for c in range(table.columnCount()) if not table.isColumnHidden(c)]
    assert sum(widths) <= table.viewport().width() + 1
    assert table.columnWidth(5) >= table.sizeHintForColumn(5)
    assert history.measures.height() >= history.measures.horizontalHeader().height() + 3 * 27


DEMO = Path(__file__).resolve().parents[3] / "demo_flights"


def test_several_flights_are_added_at_once_and_each_refusal_is_told(desk, history, qtbot, tmp_path):
    broken = tmp_path / "broken.csv"
    broken.write_text("nothing of use\n")
    files = [DEMO / "01_cool_normal_start.csv", broken, DEMO / "02_early_fuel_hot.csv"]
    folders = []

    desk.answers["recordings"] = lambda folder: folders.append(folder) or [str(path) for path in files]
    told = []
    said = []
    history.told.connect(lambda *words: told.append(words))
    history.progressed.connect(said.append)
    history.add_button.click()
    assert not history.add_button.isEnabled()
    qtbot.waitUntil(lambda: bool(told), timeout=60_000)
    words, is_problem, details = told[0]
    assert words.startswith("History: 2 added, 1 not added. ")
    assert "broken.csv" in words
    assert is_problem
    assert "broken.csv: not added: " in details
    assert history.add_button.isEnabled()
    assert [one.message for one in said if one is not None and one.fraction is not None] == [
        f"Adding {path.name}, {number} of 3" for number, path in enumerate(files, start=1)
    ]
    assert said[-1] is None
    qtbot.waitUntil(lambda: history.page.total == 2, timeout=20_000)
    assert folders == ["."]


def test_the_window_adds_what_the_command_adds(desk, history, qtbot, tmp_path):
    file = DEMO / "02_early_fuel_hot.csv"
    assert main(["history", "add", str(file), "--db", str(tmp_path / "other.sqlite")]) == 0
    history.add([str(file)])
    qtbot.waitUntil(lambda: "History: 1 added." in desk.window.messages.words, timeout=60_000)
    with Store.open() as mine, Store.open(str(tmp_path / "other.sqlite")) as other:
        assert [replace(one, added_at="") for one in mine.flights()] == [
            replace(one, added_at="") for one in other.flights()
        ]
        assert len(mine.flights()) == 1


def test_adding_can_be_stopped_and_what_was_added_stays(desk, history, qtbot):
    files = sorted(str(path) for path in DEMO.glob("*.csv"))
    told = []
    history.told.connect(lambda *words: told.append(words))
    said = []
    history.progressed.connect(said.append)
    history.add(files)
    qtbot.waitUntil(lambda: any(one and "2 of" in one.message for one in said), timeout=60_000)
    desk.window.progress.cancel_wanted.emit()
    assert [words for words, _, _ in told] == [
        "Stopped; the flights that were added until now stay in the history."
    ]
    assert history.add_button.isEnabled()
    qtbot.waitUntil(lambda: history.jobs.count == 0, timeout=60_000)
    assert 1 <= history.page.total < len(files)


def test_the_same_flight_from_another_file_is_asked_about_and_both_can_be_kept(desk, qtbot):
    def shown(name):
        one = named(made.hot_start(), name)
        provenance = replace(one.recording.provenance, fingerprint="ab" * 16)
        return replace(one, recording=replace(one.recording, provenance=provenance))

    with Store.open() as store:
        store.keep(shown("first.csv"))
    desk.show(shown("again.csv"))
    qtbot.keyClick(desk.window, Qt.Key.Key_4, Qt.KeyboardModifier.ControlModifier)
    history = desk.window.history
    qtbot.waitUntil(lambda: history.page is not None, timeout=20_000)
    told = []
    history.told.connect(lambda words, *_: told.append(words))
    history.keep()
    qtbot.waitUntil(lambda: bool(told), timeout=20_000)
    assert "again.csv is the flight of first.csv" in told[0]
    assert "--keep-both" not in told[0]
    assert history.keep_button.text() == "&Keep both"
    history.keep()
    qtbot.waitUntil(lambda: len(told) > 1, timeout=20_000)
    with Store.open() as store:
        assert len(store.flights()) == 2
