"""The starter's rest before the recording: asked beside the verdict, kept with the flight, told by the flights kept."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent
from PySide6.QtWidgets import QApplication, QLabel, QLineEdit, QWidget

from debrief.analysis import assess
from debrief.analysis.model import NotJudged
from debrief.gui.widgets.asking import RestQuestion, ask_for_rest
from debrief.gui.widgets.line_dialog import LineDialog
from debrief.history.service.earlier_flights import known_if_any
from debrief.history.storage.store import Store
from debrief.profile import find
from debrief.recording.reader import read
from debrief.session.importing.import_opening import open_or_ask
from tests.gui.user import busy, until
from tests.history.history_making import made_assessment
from tests.session import assessment_maker as made
from tests.twin_making import twin

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
    opened.answers["rest"] = lambda question: "" if question.known == "8 h" else None
    opened.user.takes("File", "Starter rest before the recording...")
    waits_for_another(opened, qtbot, third)
    assert is_open(opened)


FIELD = "Starter rest before the recording, minutes"


def test_another_rest_is_typed_beside_the_footnote(opened, qtbot):
    first = session(opened)
    opened.user.types("20 s", FIELD)
    opened.user.presses("Return", FIELD)
    waits_for_another(opened, qtbot, first)
    assert [e.reason for e in session(opened).assessment.events] == ["rest_too_short"]
    until(lambda: not busy(opened.window))
    assert opened.user.sees("Starter rest\n20 s before the recording, as entered")
    assert not opened.user.has(FIELD)


def test_what_is_asked_is_said_and_the_example_is_no_answer(opened):
    """ "30" alone, in grey, read as entered, and "or rested" did not say what."""
    assert opened.user.sees("Starter rested before this:")
    field = opened.user.find(FIELD, QLineEdit)
    assert field.text() == ""
    example = field.placeholderText()
    assert example.startswith("e.g. ")
    for scale in (1.0, 1.4):
        opened.theme.set_scale(scale)
        QApplication.processEvents()
        field = opened.user.find(FIELD, QLineEdit)
        metrics = field.fontMetrics()
        assert metrics.horizontalAdvance(example) < field.width() - 8, "the example is whole"
    opened.user.presses("Return", FIELD)
    assert opened.user.has(FIELD), "nothing was entered"
    assert session(opened).choices.starter_rest_s is None


@pytest.mark.parametrize(
    ("typed", "seconds"), [("30", 1800), ("30 min", 1800), ("1 h 10", 4200), ("90 s", 90), ("1:30", 90)]
)
def test_what_a_person_types_there_is_understood(opened, qtbot, typed, seconds):
    first = session(opened)
    opened.user.types(typed, FIELD)
    opened.user.presses("Enter", FIELD)
    waits_for_another(opened, qtbot, first)
    assert session(opened).choices.rest_of(1) == seconds


def test_an_answer_that_cannot_be_used_stays_with_its_reason_beside_it(opened):
    first = session(opened)
    opened.user.types("a day", FIELD)
    opened.user.presses("Return", FIELD)
    bar = opened.user.part("Verdict")
    assert bar.sees('"a day" is no length of time: write 30 (minutes), 1 h 10, 90 s or 1:30')
    assert bar.reads(FIELD) == "a day"
    assert session(opened) is first
    opened.user.types("3", FIELD)  # while it is mended nothing is reproached
    assert not bar.sees("is no length of time")
    opened.user.presses("Escape", FIELD)
    assert bar.find(FIELD, QLineEdit).text() == ""
    assert not bar.find(FIELD).hasFocus()


def test_what_was_told_of_the_rest_is_undone_and_done_again(opened, qtbot):
    first = session(opened)
    opened.user.clicks("First start today")
    waits_for_another(opened, qtbot, first)
    second = session(opened)
    opened.user.takes("Notes", "Undo: starter rest")
    waits_for_another(opened, qtbot, second)
    assert is_open(opened)
    assert known_if_any(session(opened).recording).rest_s is None
    third = session(opened)
    opened.user.takes("Notes", "Redo: starter rest")
    waits_for_another(opened, qtbot, third)
    assert not is_open(opened)
    assert known_if_any(session(opened).recording).rest_s == 8 * 3600


def open_engines(desk) -> set[int]:
    return {item.engine for item in session(desk).assessment.not_judged if item.what == REST}


def test_each_of_two_engines_is_asked_by_itself_and_keeps_its_own_answer(desk, qtbot, tmp_path):
    desk.opener = lambda path: open_or_ask(path, known_if_any)
    file = twin(tmp_path)
    desk.window.open_path(file)
    first = desk.opened()
    QApplication.processEvents()
    assert open_engines(desk) == {1, 2}
    desk.user.types("45", f"{FIELD}, engine 2")
    desk.user.presses("Return", f"{FIELD}, engine 2")
    waits_for_another(desk, qtbot, first)
    assert open_engines(desk) == {1}  # what was said of one says nothing of the other
    assert not desk.user.has("First start today, engine 2")
    second = session(desk)
    desk.user.clicks("First start today, engine 1")
    waits_for_another(desk, qtbot, second)
    assert open_engines(desk) == set()
    third = session(desk)
    desk.window.open_path(file)
    waits_for_another(desk, qtbot, third)
    assert [session(desk).choices.rest_of(engine) for engine in (1, 2)] == [8 * 3600, 45 * 60]
    fourth = session(desk)
    desk.answers["rest"] = lambda question: {1: "", None: None}.get(question.engine)
    desk.user.takes("File", "Starter rest before the recording...")  # of the engine in view
    waits_for_another(desk, qtbot, fourth)
    assert open_engines(desk) == {1}


def test_the_button_of_why_answers_for_one_engine_after_the_other(desk, qtbot, tmp_path):
    desk.opener = lambda path: open_or_ask(path, known_if_any)
    desk.window.open_path(twin(tmp_path))
    desk.opened()
    desk.user.presses("W")
    for left in ({2}, set()):
        before = session(desk)
        until(lambda: not busy(desk.window))
        desk.user.part("Why").clicks("First start today")
        waits_for_another(desk, qtbot, before)
        assert open_engines(desk) == left


def test_a_channel_that_nobody_found_has_its_answer_beside_the_verdict(desk):
    assessment = made.hot_start()
    missing = NotJudged("overtorque", "torque is not recorded", limit_id="torque", channel="torque")
    desk.show(replace(assessment, events=(), verdict="within", not_judged=(missing,)))
    assert desk.user.part("Verdict").has("Columns...")
    desk.show(assessment)
    assert not desk.user.part("Verdict").has("Columns...")  # what was exceeded comes first


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


def written_elsewhere(*flights):
    """As another window or the command: nothing tells this window."""
    with Store.open() as store:
        for flight in flights:
            store.keep(flight)


def test_a_flight_that_another_program_adds_is_followed_when_the_window_is_entered(opened, qtbot, tmp_path):
    """Its footnote, its history page and its normal ranges were those of when it was opened."""
    first = session(opened)
    opened.window.views.show_history()
    until(lambda: opened.user.sees("No flight is kept yet"))
    text = (DEMO / "01_cool_normal_start.csv").read_text(encoding="utf-8")
    begun = first.recording.identity.start.isoformat()
    line = next(line for line in text.splitlines() if line.lower().startswith("# start"))
    before = tmp_path / "before.csv"
    before.write_text(text.replace(line, f"# start: {begun.replace('T09:12', 'T09:11')}"), encoding="utf-8")
    written_elsewhere(assess(read(before), find("tarn-tg7")))
    QApplication.sendEvent(opened.window, QEvent(QEvent.Type.WindowActivate))
    waits_for_another(opened, qtbot, first)
    assert not is_open(opened)
    assert opened.window.view == "history", "nobody is sent elsewhere"
    listed = "Flights in the history"
    until(lambda: opened.user.has(listed) and "before.csv" in str(opened.user.table(listed).rows))


def test_what_is_typed_stays_while_the_window_follows_the_history_or_takes_other_colours(opened, qtbot):
    opened.user.types("1 h", FIELD)
    opened.user.find(FIELD).setFocus()
    for theme in ("dark", "light"):
        opened.theme.choose(theme)
        assert opened.user.find(FIELD, QLineEdit).text() == "1 h"
        assert opened.user.find(FIELD).hasFocus()
    asked = []
    opened.window.following.changed.connect(lambda: asked.append(1))
    written_elsewhere(made_assessment("another.csv"))
    QApplication.sendEvent(opened.window, QEvent(QEvent.Type.WindowActivate))
    assert asked
    until(lambda: not busy(opened.window))
    assert opened.user.find(FIELD, QLineEdit).text() == "1 h"
    asked.clear()
    QApplication.sendEvent(opened.window, QEvent(QEvent.Type.WindowActivate))
    assert not asked, "looked at, it is followed no more"


def test_the_dialog_stays_with_the_reason_until_the_answer_is_a_time(qtbot):
    parent, answers = QWidget(), []
    qtbot.addWidget(parent)
    ask_for_rest(parent, RestQuestion("30 min"), answers.append)
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
    assert sentence.width() > 0.55 * bar.width()
