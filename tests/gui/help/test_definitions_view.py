"""The page of definitions in the window, and the evidence of a measure that leads to it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from debrief.analysis.model import Measure, MeasureEvidence, Reading
from debrief.session.evidence.why_page import subjects, why_page
from tests.gui.user import colours, rgb
from tests.session import assessment_maker as made


def test_f1_opens_the_page_without_a_recording_and_esc_goes_back(desk, qtbot):
    desk.user.presses("F1")
    assert "Peak ITT" in desk.user.table("Entries").choices
    assert "Hot start" in desk.user.reads("Definitions")
    desk.user.presses("Esc")
    assert desk.user.has("Start page")


def test_a_search_leaves_the_entries_that_hold_every_word_best_first(desk, qtbot):
    desk.user.takes("Help", "What every number means")
    desk.user.types("peak itt", "Search the definitions")
    titles = desk.user.table("Entries")
    assert titles.choices[0] == "Peak ITT"
    assert "run-down" not in desk.user.reads("Definitions").lower()[:400]
    desk.user.types("no such words anywhere", "Search the definitions")
    assert titles.choices == []
    assert "No entry holds these words." in desk.user.reads("Definitions")


def test_a_link_leads_to_its_entry(desk, qtbot):
    desk.user.presses("F1")
    desk.user.follows("starter off", "Definitions")
    assert desk.window.definitions.titles.currentItem().text() == "Starter off"
    assert desk.window.definitions.text.verticalScrollBar().value() > 0


@pytest.mark.parametrize("choice", ["light", "dark", "contrast"])
def test_the_text_has_the_colours_of_the_theme(desk, qtbot, choice):
    desk.theme.choose(choice)
    desk.user.takes("Help", "What every number means")
    page = colours(desk.user.find("Definitions"))
    assert {rgb(desk.theme.palette.ink), rgb(desk.theme.palette.panel)} <= page


def test_a_click_on_a_measure_shows_its_samples_and_its_link_opens_the_entry(desk, qtbot):
    desk.show(made.hot_start())
    desk.user.clicks("View Starts")
    measures = desk.user.table("Measures of the chosen start")
    qtbot.waitUntil(lambda: any("Time above 830 °C" in row for row in measures.rows))
    measures.clicks("Time above 830 °C")
    desk.user.clicks("Its definition")
    assert desk.user.has("What every number means")
    assert desk.window.definitions.titles.currentItem().text() == "Time above N °C"


@pytest.fixture
def chosen(desk):
    """Return the title at which F1 opens the page."""

    def title():
        desk.user.presses("F1")
        item = desk.window.definitions.titles.currentItem()
        return None if item is None else item.text()

    return title


@pytest.mark.parametrize(
    ("row", "entry"), [("Hot start", "Hot start"), ("Peak ITT", "Peak ITT"), ("Fuel on", "Early fuel")]
)
def test_f1_opens_at_the_row_of_the_story(desk, chosen, row, entry):
    desk.show(made.hot_start())
    steps = desk.window.story.list
    (index,) = (n for n, step in enumerate(desk.window.replay.session.story) if step.title == row)
    steps.setCurrentRow(index)
    steps.setFocus()
    assert chosen() == entry


def test_f1_opens_at_the_measure(desk, chosen, qtbot):
    desk.show(made.hot_start())
    desk.user.clicks("View Starts")
    table = desk.window.starts.measures
    qtbot.waitUntil(lambda: table.rowCount() > 0)
    (row,) = (n for n in range(table.rowCount()) if table.item(n, 0).text() == "Time above 830 °C")
    table.setCurrentCell(row, 0)
    table.setFocus()
    assert chosen() == "Time above N °C"


def test_f1_opens_at_the_gauge_and_at_the_lane(desk, chosen):
    desk.show(made.hot_start())
    desk.window.gauges.gauge("bus_volts").setFocus()
    assert chosen() == "Lowest volts after 1 s"
    desk.user.presses("Esc")
    desk.window.lanes.setFocus()
    desk.user.presses("Down")
    assert chosen() in ("Peak ITT", "Ng at fuel", "Highest torque, running", "Lowest volts after 1 s")


def test_why_shows_what_a_measure_of_the_flight_was_read_from(desk):
    proof = MeasureEvidence(
        "highest sample", (), (Reading("itt", "degC", "highest", (1,), (31.0,), (846.0,)),)
    )
    flight = {"flight_measures": {"highest_itt_running": Measure(846.0, "degC")}}
    desk.show(replace(made.hot_start(), **flight, flight_evidence={"highest_itt_running": proof}))
    assessment = desk.window.replay.session.assessment
    (subject,) = (one for one, title in subjects(assessment) if title == "Highest ITT, running")
    cells = [
        cell for table in why_page(assessment, subject).tables for row in table.rows for cell in row.cells
    ]
    assert any("0:31.00" in cell for cell in cells)
    assert any("846" in cell for cell in cells)


def test_no_view_is_marked_while_the_page_is_shown_and_its_list_has_no_bar_across(desk, qtbot):
    def lit():
        tabs = {name: desk.user.find(f"View {name}") for name in ("Replay", "Starts", "History", "Report")}
        return [name for name, tab in tabs.items() if tab.isChecked()]

    desk.show(made.hot_start())
    desk.user.clicks("View Starts")
    assert lit() == ["Starts"]
    desk.user.takes("Help", "What every number means")
    assert lit() == []
    assert not desk.window.definitions.titles.horizontalScrollBar().isVisible()
    desk.user.clicks("View Replay")
    assert lit() == ["Replay"]
    assert desk.window.view == "replay"
    desk.user.presses("F1")
    desk.user.presses("Esc")
    assert lit() == ["Replay"]
