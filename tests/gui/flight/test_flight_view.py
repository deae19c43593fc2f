"""The page of the flight, as a person finds it: charts, tables, and where they lead.

Expected values are those of ``demo_flights/scenarios/20_flight_to_the_ceiling.toml``: cruise from 1350 s at 150 kt and 12 640 ft,
bleed on at 1620 s and off at 1920 s.
"""

from pathlib import Path

import pytest
from PySide6.QtCore import QRect, Qt

from debrief.session.assessing.file_assessment import assess_file
from tests.gui.user import until

FLIGHTS = Path(__file__).resolve().parents[3] / "demo_flights"


@pytest.fixture(scope="module")
def flown():
    return assess_file(FLIGHTS / "20_flight_to_the_ceiling.csv")


@pytest.fixture
def page(desk, flown):
    desk.show(flown)
    desk.user.presses("Ctrl+3")
    until(lambda: desk.window.flight.is_filled)
    return desk


def test_the_page_shows_each_steady_stretch_with_what_was_on(page):
    table = page.user.table("Steady running")
    assert [heading.replace("\n", " ") for heading in table.headings][:4] == [
        "from",
        "lasting",
        "phase",
        "altitude, ft",
    ]
    bleed_off, bleed_on = table.rows[0], table.rows[1]
    # From a minute after the speed stands still to the bleed, and from a minute after that to its end.
    assert bleed_off[2:4] == bleed_on[2:4] == ["Cruise", "12640"]
    assert bleed_on[0] == "28:00"
    assert "bleed" in bleed_on[-1]
    assert "bleed" not in bleed_off[-1]
    # The model's own temperatures in the two stretches are 670.6 and 704.7 degC.
    column = next(i for i, heading in enumerate(table.headings) if heading.replace("\n", " ") == "ITT, °C")
    assert int(bleed_off[column]) == pytest.approx(671, abs=1)
    assert int(bleed_on[column]) == pytest.approx(705, abs=1)


def test_a_stretch_leads_to_its_moment_in_the_replay(page):
    page.user.table("Steady running").double_clicks("28:00")
    assert page.window.view == "replay"
    assert page.window.replay.position_s == pytest.approx(1680.0, abs=1.0)


def test_a_count_leads_to_its_evidence(page):
    page.user.clicks("Counts")
    table = page.user.table("Counts")
    assert table.row("Touch-and-goes")[1] == "1"
    table.double_clicks("Touch-and-goes")
    until(lambda: page.user.sees("Touch-and-goes"))
    assert page.window.view == "flight"
    assert page.window.beside.panel is not None
    assert page.window.beside.panel.isVisible()


def test_the_chart_names_the_phases_and_shows_the_steady_stretches(page):
    chart = page.window.flight.flight.chart
    assert chart is not None
    names = [name for _, name in chart.instants[0].marks if name]
    assert names[0] == "ground"
    assert {"climb", "cruise", "descent"} <= set(names)
    assert [pane.label.split(",")[0] for pane in chart.panes][:2] == [
        "Pressure altitude",
        "Indicated airspeed",
    ]


def test_what_has_no_flight_says_so_and_keeps_its_page(desk):
    desk.show(assess_file(FLIGHTS / "01_cool_normal_start.csv"))
    desk.user.presses("Ctrl+3")
    until(lambda: desk.window.flight.is_filled)
    assert desk.user.sees("No stretch of three minutes")
    assert not desk.window.flight.margin.isVisible()
    assert desk.window.flight.flight.isVisible()


def test_every_table_is_reached_by_keys(page):
    for button in page.window.flight.buttons.buttons():
        assert button.focusPolicy() & Qt.FocusPolicy.TabFocus
        assert button.text()


@pytest.mark.parametrize("steps", [0, 2])
@pytest.mark.parametrize(
    "title", ["Steady running", "Loads", "Taxi and propeller", "Shutdown", "Counts", "Power check"]
)
def test_no_cell_is_cut_in_the_smallest_window(page, title, steps):
    """Times and phases ended in dots, and words of the last column were cut where they could wrap."""
    page.window.resize(1280, 720)
    for _ in range(steps):
        page.window.looks.larger()
    table = page.window.flight.table
    if table.accessibleName() != title:
        page.user.clicks(title)
    until(lambda: table.accessibleName() == title)
    metrics = table.fontMetrics()
    for row in range(table.rowCount()):
        for column in range(table.columnCount()):
            index = table.model().index(row, column)
            text, room = str(index.data()), table.visualRect(index)
            # Without the sheet's padding (10) and edge (1), and the margin that Qt adds (3), on both sides.
            words = QRect(0, 0, room.width() - 28, 2000)
            needed = metrics.boundingRect(words, int(Qt.TextFlag.TextWordWrap), text)
            assert needed.width() <= words.width(), text
            assert needed.height() <= room.height() - 8, text
            if len(text) < 20:
                assert needed.height() < 2 * metrics.height(), text


def test_what_was_not_recorded_is_named_once(desk):
    desk.show(assess_file(FLIGHTS / "12_flight_overtemperature_in_climb.csv"))
    desk.user.presses("Ctrl+3")
    until(lambda: desk.window.flight.is_filled)
    assert desk.user.sees("Generator load, bleed, separator: not recorded.")


def test_a_load_over_the_chart_tells_the_change_of_the_story_and_none_that_is_not_clear(page):
    chart = page.window.flight.flight.chart
    assert chart is not None
    told = [mark.about() for pane in chart.panes for mark in pane.marks if mark.about is not None]
    assert "Bleed on: ITT +31 °C at 27:00" in told
    assert "Generator on at 1:26" in told  # so soon after the start the temperature still settles
    details = {step.title: step.detail for step in page.window.replay.session.story}
    assert details["Bleed on"] == "ITT +31 °C"
    assert details["Generator on"] == ""
