"""The page of definitions in the window, and the evidence of a measure that leads to it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from PySide6.QtCore import Qt, QUrl
from PySide6.QtWidgets import QListWidget

from debrief.analysis.model import Measure, MeasureEvidence, Reading
from debrief.gui.help.why import WhyDialog
from tests.session import assessment_maker as made


def titles(widget: QListWidget) -> list[str]:
    return [widget.item(n).text() for n in range(widget.count()) if widget.item(n).flags()]


def test_f1_opens_the_page_without_a_recording_and_esc_goes_back(desk, qtbot):
    qtbot.keyClick(desk.window, Qt.Key.Key_F1)
    assert desk.window.view == "definitions"
    view = desk.window.definitions
    assert "Peak ITT" in titles(view.titles)
    assert "Hot start" in view.text.toPlainText()
    qtbot.keyClick(view, Qt.Key.Key_Escape)
    assert desk.window.view == "start"


def test_a_search_leaves_the_entries_that_hold_every_word_best_first(desk, qtbot):
    desk.window.views.show_definitions()
    view = desk.window.definitions
    qtbot.keyClicks(view.field, "peak itt")
    assert titles(view.titles)[0] == "Peak ITT"
    assert "run-down" not in view.text.toPlainText().lower()[:400]
    view.field.setText("no such words anywhere")
    assert titles(view.titles) == []
    assert "No entry holds these words." in view.text.toPlainText()


def test_a_link_leads_to_its_entry(desk, qtbot):
    desk.window.views.show_definitions()
    view = desk.window.definitions
    view.text.anchorClicked.emit(QUrl("definition:event/hot_start"))
    assert view.titles.currentItem().text() == "Hot start"
    assert view.text.verticalScrollBar().value() > 0


@pytest.mark.parametrize("choice", ["light", "dark", "contrast"])
def test_the_text_has_the_colours_of_the_theme(desk, qtbot, choice):
    desk.window._theme.choose(choice)
    desk.window.views.show_definitions()
    ink = desk.window._theme.palette.ink
    block = desk.window.definitions.text.document().begin()
    colors = set()
    while block.isValid():
        parts = block.begin()
        while not parts.atEnd():
            colors.add(parts.fragment().charFormat().foreground().color().name().upper())
            parts += 1
        block = block.next()
    assert ink.upper() in colors


def test_a_click_on_a_measure_shows_its_samples_and_its_link_opens_the_entry(desk, qtbot):
    session = desk.show(made.hot_start())
    desk.window.views.show_starts()
    start = session.assessment.starts[0]
    names = [factor.measure or "" for factor in start.factors] + list(start.measures)
    row = names.index(next(iter(start.measures)))
    qtbot.waitUntil(lambda: desk.window.starts.measures.rowCount() > row)
    desk.window.starts.measures.cellClicked.emit(row, 0)
    dialog = desk.window.findChild(WhyDialog)
    assert dialog is not None
    assert "Rule:" in dialog.text.toPlainText()
    dialog.text.anchorClicked.emit(QUrl(f"definition:measure/{names[row]}"))
    assert desk.window.view == "definitions"
    assert desk.window.definitions.titles.currentItem() is not None


def test_why_shows_what_the_measures_of_the_flight_were_read_from(desk):
    proof = MeasureEvidence(
        "highest sample", (), (Reading("itt", "degC", "highest", (1,), (31.0,), (846.0,)),)
    )
    flight = {"flight_measures": {"highest_itt_running": Measure(846.0, "degC")}}
    desk.show(replace(made.hot_start(), **flight, flight_evidence={"highest_itt_running": proof}))
    desk.window.explaining.show_why()
    dialog = desk.window.findChild(WhyDialog)
    told = dialog.text.toPlainText().split("Over the whole recording")[1]
    assert "Highest ITT, running: 846 °C" in told
    assert "0:31.00 846 °C" in told.replace("\N{NO-BREAK SPACE}", " ")


def test_no_view_is_marked_while_the_page_is_shown_and_its_list_has_no_bar_across(desk, qtbot):
    def lit():
        return [tab.text() for tab in desk.window.header._tabs.buttons() if tab.isChecked()]

    desk.show(made.hot_start())
    desk.window.views.show_starts()
    assert lit() == ["Starts"]
    desk.window.views.show_definitions()
    assert lit() == []
    assert not desk.window.definitions.titles.horizontalScrollBar().isVisible()
    desk.window.header._tabs.button(0).click()
    assert lit() == ["Replay"]
    assert desk.window.view == "replay"
    desk.window.views.show_definitions()
    qtbot.keyClick(desk.window.definitions, Qt.Key.Key_Escape)
    assert lit() == ["Replay"]
