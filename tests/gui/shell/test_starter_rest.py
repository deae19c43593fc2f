"""The starter's rest before the recording: asked beside the verdict, kept with the flight, told by the flights kept."""

from __future__ import annotations

from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication, QLabel, QWidget

from debrief.gui.widgets.asking import ask_for_rest
from debrief.gui.widgets.line_dialog import LineDialog
from debrief.history.service.earlier_flights import known_if_any
from debrief.session.importing.import_opening import open_or_ask

DEMO = Path(__file__).parents[3] / "demo_flights"
REST = "starter rest before the first start"


@pytest.fixture
def opened(desk, tmp_path):
    """The normal start on the table, as the program opens it."""
    desk.opener = lambda path: open_or_ask(path, known_if_any)
    desk.window.open_path(DEMO / "01_cool_normal_start.csv")
    desk.opened()
    QApplication.processEvents()
    return desk


def session(desk):
    return desk.window.replay.session


def is_open(desk) -> bool:
    return any(item.what == REST for item in session(desk).assessment.not_judged)


def waits_for_another(desk, qtbot, first) -> None:
    qtbot.waitUntil(lambda: session(desk) is not first, timeout=10000)
    QApplication.processEvents()


def test_the_footnote_has_its_answers_beside_it_and_they_are_kept(opened, qtbot):
    first = session(opened)
    assert is_open(opened)
    first.framing.frame(20.0, 40.0)
    opened.user.clicks("First start today")
    waits_for_another(opened, qtbot, first)
    assert not is_open(opened)
    assert session(opened).choices.starter_rest_s == 8 * 3600
    assert (session(opened).framing.begin_s, session(opened).framing.end_s) == (20.0, 40.0)
    assert not opened.user.has("First start today")
    second = session(opened)
    opened.window.open_path(DEMO / "01_cool_normal_start.csv")
    waits_for_another(opened, qtbot, second)
    assert session(opened).choices.starter_rest_s == 8 * 3600
    third = session(opened)
    opened.answers["rest"] = ""
    opened.user.takes("File", "Starter rest before the recording...")
    waits_for_another(opened, qtbot, third)
    assert is_open(opened)
    opened.answers["rest"] = "20 s"
    third = session(opened)
    opened.user.clicks("Starter rest before the recording")
    waits_for_another(opened, qtbot, third)
    assert [e.reason for e in session(opened).assessment.events] == ["rest_too_short"]


def test_a_flight_that_comes_into_the_history_judges_the_open_one_again(opened, qtbot, tmp_path):
    first = session(opened)
    text = (DEMO / "01_cool_normal_start.csv").read_text(encoding="utf-8")
    begun = first.recording.identity.start.isoformat()
    line = next(line for line in text.splitlines() if line.lower().startswith("# start"))
    before = tmp_path / "before.csv"
    before.write_text(text.replace(line, f"# start: {begun.replace('T09:12', 'T09:11')}"), encoding="utf-8")
    assert before.read_text(encoding="utf-8") != text
    opened.answers["recordings"] = [str(before)]
    opened.window.views.show_history()
    opened.user.clicks("Add flights...")
    waits_for_another(opened, qtbot, first)
    (run,) = session(opened).assessment.context
    assert (run.source, run.file_name) == ("history", "before.csv")
    assert not is_open(opened)


def test_the_dialog_stays_with_the_reason_until_the_answer_is_a_time(qtbot):
    parent, answers = QWidget(), []
    qtbot.addWidget(parent)
    ask_for_rest(parent, "30 min", answers.append)
    (dialog,) = parent.findChildren(LineDialog)
    assert dialog.line.text() == "30 min"
    for text in ("a day", "-5"):
        dialog.line.setText(text)
        dialog.accept()
        assert dialog.isVisible()
        assert dialog.told.text().startswith(f'"{text}" is no length of time')
    dialog.line.clear()
    qtbot.keyClicks(dialog.line, "1:30")
    assert dialog.told.text() == "A rest of 1 min 30 s"
    dialog.accept()
    assert not dialog.isVisible()
    assert answers == ["1:30"]


@pytest.mark.parametrize("named", [True, False])
def test_the_sentence_has_the_width_of_the_window_with_and_without_a_row_below(desk, tmp_path, named):
    text = (DEMO / "01_cool_normal_start.csv").read_text(encoding="utf-8")
    lines = text.splitlines(keepends=True)
    file = tmp_path / "flight.csv"
    file.write_text("".join(lines if named else lines[1:]), encoding="utf-8")
    desk.opener = lambda path: open_or_ask(path, known_if_any)
    desk.window.open_path(file)
    desk.opened()
    QApplication.processEvents()
    bar = desk.window.verdict
    assert bar.height() < 100
    sentence = next(label for label in bar.findChildren(QLabel) if label.property("role") == "verdict")
    assert sentence.width() > 0.6 * bar.width()
