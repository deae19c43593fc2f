"""The import dialog as a user meets it: when it opens, what it shows, what keys and answers do."""

from __future__ import annotations

from datetime import date
from functools import partial
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, Qt
from PySide6.QtWidgets import (
    QAbstractButton,
    QAbstractScrollArea,
    QApplication,
    QComboBox,
    QLabel,
    QMessageBox,
    QScrollBar,
    QWidget,
)

from debrief.errors import UserError
from debrief.gui.importing.import_dialog import ImportDialog
from debrief.gui.importing.import_model import CHANNEL, NAME, SURENESS, TRACE, UNIT
from debrief.gui.importing.traces import joined_trace
from debrief.gui.style.settings import Settings
from debrief.recording.matching.remembered import Remembered
from debrief.session.importing.import_opening import open_or_ask
from tests.gui.user import User

# The offscreen platform says so of every list that opens.
pytestmark = pytest.mark.qt_log_ignore("This plugin does not support", extend=True)

DEMO = Path(__file__).parents[3] / "demo_flights"


def write(file: Path, header: str, rows: int = 120) -> Path:
    lines = [header] if header else []
    for i in range(rows):
        speed = min(60.0, i)
        first = i * 0.5 if "Time" in header else i % 7
        lines.append(f"{first:g},{1000 * speed:g},{max(0.0, 3 * speed - 90):g},{20 + min(500, 7 * i)}")
    file.write_text("\n".join(lines) + "\n")
    return file


@pytest.fixture
def unsure(tmp_path):
    return write(tmp_path / "unsure.csv", "Time (s),RPM (actual),RPM (actual %),ITT (degC)")


@pytest.fixture
def timeless(tmp_path):
    return write(tmp_path / "timeless.csv", "Alpha,Beta,Ng (%),ITT (degC)")


@pytest.fixture
def window(desk):
    desk.opener = open_or_ask
    return desk.window


def ask(window, qtbot, path: Path) -> ImportDialog:
    window.open_path(path)
    qtbot.waitUntil(lambda: window.importer.dialog is not None, timeout=20000)
    dialog = window.importer.dialog
    qtbot.waitExposed(dialog)
    qtbot.waitUntil(lambda: dialog.is_ready)
    return dialog


def opened(window, qtbot, before=None):
    qtbot.waitUntil(
        lambda: window.replay.session is not None and window.replay.session is not before, timeout=20000
    )
    qtbot.waitUntil(lambda: window.importer.dialog is None)
    return window.replay.session


def cell(dialog: ImportDialog, row: int, column: int) -> str:
    return dialog.table.model().index(row, column).data()


def choose(dialog: ImportDialog, qtbot, row: int, column: int, data: str) -> None:
    """Choose by keyboard alone, from a cell of the table."""
    dialog.table.setFocus()
    dialog.table.setCurrentIndex(dialog.table.model().index(row, column))
    qtbot.keyClick(dialog.table, Qt.Key.Key_Return)
    combo = dialog.table.findChild(QComboBox)
    assert combo is not None
    wanted, present = combo.findData(data), combo.currentIndex()
    assert wanted >= 0
    key = Qt.Key.Key_Down if wanted > present else Qt.Key.Key_Up
    for _ in range(abs(wanted - present)):
        qtbot.keyClick(combo.view(), key)
    qtbot.keyClick(combo.view(), Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: dialog.table.findChild(QComboBox) is None)


def test_a_sure_file_opens_without_the_dialog(window, qtbot):
    window.open_path(DEMO / "02_early_fuel_hot.csv")
    opened(window, qtbot)
    assert window.importer.dialog is None


def test_an_unsure_file_is_asked_about_and_the_answer_opens_it(window, qtbot, unsure):
    dialog = ask(window, qtbot, unsure)
    assert window.view == "start"
    assert window.messages.words == ""
    assert "gas generator speed" in User(dialog.questions).words
    assert "--map" not in User(dialog.questions).words
    button = next(b for b in dialog.questions.buttons if "RPM (actual), rpm" in b.text())
    button.setFocus()
    qtbot.keyClick(button, Qt.Key.Key_Space)
    assert button.isChecked()
    assert cell(dialog, 1, CHANNEL) == "Gas generator speed"
    assert cell(dialog, 1, UNIT) == "rpm"
    User(dialog).clicks("Open")
    session = opened(window, qtbot)
    assert session.recording.channels["ng"].column == "RPM (actual)"
    assert window.view == "replay"
    assert [one.path for one in Settings().recent] == [str(unsure.resolve())]


def test_the_same_answer_again_takes_it_back(window, qtbot, unsure):
    dialog = ask(window, qtbot, unsure)
    button = dialog.questions.buttons[0]
    button.click()
    button.click()
    assert not button.isChecked()
    assert dialog.form.column_of("ng") is None
    dialog.reject()


def test_a_file_without_times_reaches_the_dialog_and_the_rate_opens_it(window, qtbot, timeless):
    dialog = ask(window, qtbot, timeless)
    assert "samples per second" in User(dialog.questions).words
    assert not User(dialog).find("Open").isEnabled()
    assert dialog.focusWidget() is dialog.fields.rate
    qtbot.keyClicks(dialog.fields.rate, "ten")
    assert '"ten" is no rate' in dialog.words
    dialog.fields.rate.clear()
    qtbot.keyClicks(dialog.fields.rate, "4")
    assert User(dialog).find("Open").isEnabled()
    qtbot.keyClick(dialog.fields.rate, Qt.Key.Key_Return)
    session = opened(window, qtbot)
    assert session.recording.channels["itt"].interval_s == pytest.approx(0.25)


def test_cancel_leaves_the_window_as_it_was(window, qtbot, unsure, desk):
    window.open_path(DEMO / "02_early_fuel_hot.csv")
    first = opened(window, qtbot)
    dialog = ask(window, qtbot, unsure)
    assert window.replay.session is first
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: window.importer.dialog is None)
    assert window.replay.session is first
    assert window.messages.words == ""
    assert window.progress.words == ""
    assert str(unsure.resolve()) not in [one.path for one in Settings().recent]


def test_the_columns_of_the_open_flight_are_shown_on_request_and_corrected_by_keys(window, qtbot):
    window.open_path(DEMO / "02_early_fuel_hot.csv")
    first = opened(window, qtbot)
    qtbot.keyClick(window, Qt.Key.Key_U, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: window.importer.dialog is not None, timeout=20000)
    dialog = window.importer.dialog
    qtbot.waitUntil(lambda: dialog.is_ready)
    assert dialog.questions.isHidden()
    assert dialog.fields.rate.isHidden()
    assert dialog.fields.aircraft.placeholderText() == "ZZ-TRN (from the file)"
    row = dialog.form.column_of("oil_temp")
    assert cell(dialog, row, NAME) == "Oil temp (degC)"
    choose(dialog, qtbot, row, UNIT, "degF")
    assert cell(dialog, row, SURENESS) == "chosen here"
    choose(dialog, qtbot, dialog.form.column_of("oil_press"), CHANNEL, "fuel_press")
    assert dialog.form.column_of("oil_press") is None
    qtbot.keyClicks(dialog.fields.aircraft, "ZZ-TRX")
    dialog.accept()
    session = opened(window, qtbot, before=first)
    assert session.recording.channels["oil_temp"].column_unit == "degF"
    assert session.recording.channels["fuel_press"].column == "Oil press (psi)"
    assert session.recording.identity.aircraft == "ZZ-TRX"
    assert session.profile is first.profile or session.profile.name == first.profile.name


def test_escape_in_a_list_changes_nothing_and_keeps_the_dialog(window, qtbot, unsure):
    dialog = ask(window, qtbot, unsure)
    dialog.table.setFocus()
    dialog.table.setCurrentIndex(dialog.table.model().index(3, CHANNEL))
    qtbot.keyClick(dialog.table, Qt.Key.Key_Space)
    combo = dialog.table.findChild(QComboBox)
    qtbot.keyClick(combo.view(), Qt.Key.Key_Down)
    qtbot.keyClick(combo.view(), Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: dialog.table.findChild(QComboBox) is None)
    assert dialog.isVisible()
    assert dialog.form.channel(3) == "itt"
    dialog.reject()


def test_a_choice_that_cannot_be_read_is_said_in_the_dialog_which_stays(window, qtbot, timeless, monkeypatch):
    dialog = ask(window, qtbot, timeless)
    dialog.fields.rate.setText("4")

    def refused(accepted, known):
        raise UserError("timeless.csv changed while it was read.")
        yield

    monkeypatch.setattr("debrief.gui.importing.importer.open_as", refused)
    dialog.accept()
    qtbot.waitUntil(lambda: "changed while it was read" in dialog.words)
    assert dialog.isVisible()
    assert User(dialog).find("Open").isEnabled()
    assert window.replay.session is None
    dialog.reject()


def test_a_fault_of_the_program_while_importing_is_called_one(window, qtbot, timeless, monkeypatch, caplog):
    dialog = ask(window, qtbot, timeless)
    dialog.fields.rate.setText("4")

    def broken(accepted, known):
        raise ZeroDivisionError("inner")
        yield

    monkeypatch.setattr("debrief.gui.importing.importer.open_as", broken)
    dialog.accept()
    qtbot.waitUntil(lambda: "its fault" in window.messages.words)
    assert "failed" in dialog.words
    assert "inner" not in dialog.words
    assert "ZeroDivisionError" in caplog.text
    dialog.reject()


def test_the_reading_can_be_stopped_and_the_dialog_stays(window, qtbot, timeless, monkeypatch):
    import threading

    from debrief.session.opening.opening_steps import Progress

    dialog = ask(window, qtbot, timeless)
    dialog.fields.rate.setText("4")
    go_on = threading.Event()

    def slow(accepted, known):
        yield Progress("Reading slowly", 0.2)
        go_on.wait(5)
        yield Progress("Reading slowly", 0.4)
        raise AssertionError("stopped jobs go no further")

    monkeypatch.setattr("debrief.gui.importing.importer.open_as", slow)
    dialog.accept()
    qtbot.waitUntil(lambda: User(dialog).sees("Reading slowly"))
    assert not dialog.table.isEnabled()
    User(dialog).part("Progress").clicks("Cancel")
    assert dialog.words == "The reading was stopped."
    assert dialog.table.isEnabled()
    go_on.set()
    qtbot.waitUntil(lambda: window.importer.jobs.count == 0)
    assert window.replay.session is None
    dialog.reject()


def test_remembered_columns_open_the_next_file_and_the_window_says_so(window, qtbot, unsure, tmp_path):
    dialog = ask(window, qtbot, unsure)
    dialog.questions.buttons[0].click()
    assert not dialog.remember.isChecked()
    dialog.remember.click()
    dialog.accept()
    first = opened(window, qtbot)
    assert list(Remembered()) == [first.recording.provenance.header_signature]
    second = tmp_path / "second.csv"
    second.write_text(unsure.read_text())
    window.open_path(second)
    session = opened(window, qtbot, before=first)
    assert session.path == second
    assert "as remembered for this kind of file" in window.messages.words


def test_whose_it_was_is_offered_said_with_its_day_and_forgotten(desk, window, qtbot, timeless, tmp_path):
    dialog = ask(window, qtbot, timeless)
    dialog.fields.rate.setText("4")
    dialog.fields.aircraft.setText("ZZ-ONE")
    dialog.fields.engine_serial.setText("S1")
    dialog.fields.profile.setCurrentIndex(dialog.fields.profile.findData("tarn-tg7"))
    dialog.remember.click()
    dialog.accept()
    first = opened(window, qtbot)
    desk.opener = partial(open_or_ask, asks_whose=True)
    second = tmp_path / "second.csv"
    second.write_text(timeless.read_text())
    dialog = ask(window, qtbot, second)
    today = date.today()
    said = User(dialog.questions).words
    assert f"Remembered on {today.day} {today:%b %Y} for this kind of file: 4 samples per second," in said
    assert "profile Tarn TG-7 (training example), aircraft ZZ-ONE, engine S1. The same engine again?" in said
    assert dialog.fields.aircraft.text() == ""
    assert dialog.fields.profile.currentData() is None
    use = User(dialog).find("Use them")
    assert dialog.focusWidget() is use
    before = places(dialog)
    qtbot.keyClick(use, Qt.Key.Key_Space)
    QApplication.processEvents()
    assert places(dialog) == before
    assert states(dialog)[0] == "Settled"
    assert (dialog.fields.aircraft.text(), dialog.fields.engine_serial.text()) == ("ZZ-ONE", "S1")
    assert dialog.fields.profile.currentData() == "tarn-tg7"
    User(dialog).clicks("Not this time")
    assert dialog.fields.aircraft.text() == ""
    User(dialog).clicks("Use them")
    dialog.accept()
    session = opened(window, qtbot, before=first)
    assert session.recording.identity.aircraft == "ZZ-ONE"
    assert session.recording.identity.aircraft_source == "entered"
    third = ask(window, qtbot, second)
    User(third).clicks("Forget")
    qtbot.waitUntil(lambda: "Forgotten" in User(third.questions).words)
    assert len(Remembered()) == 0
    assert not third.remember.isChecked()
    third.done(0)


def test_a_recognised_column_set_to_not_used_is_remembered_as_such(window, qtbot, unsure):
    dialog = ask(window, qtbot, unsure)
    dialog.questions.buttons[0].click()
    assert dialog.remember.isEnabled()
    choose(dialog, qtbot, 3, CHANNEL, "")
    dialog.remember.click()
    dialog.accept()
    first = opened(window, qtbot)
    assert "itt" not in first.recording.channels
    window.open_path(unsure)
    second = opened(window, qtbot, before=first)
    assert "itt" not in second.recording.channels
    assert '"ITT (degC)" is not used, as is remembered' in second.recording.provenance.decisions


def test_a_question_can_be_answered_by_none_of_its_columns(window, qtbot, unsure):
    dialog = ask(window, qtbot, unsure)
    button = dialog.questions.buttons[-1]
    assert button.text() == "None of them"
    assert button.accessibleName() == "Gas generator speed: none of them"
    button.click()
    assert button.isChecked()
    dialog.questions.buttons[0].click()
    assert not button.isChecked()
    assert cell(dialog, 1, CHANNEL) == "Gas generator speed"
    button.click()
    assert cell(dialog, 1, CHANNEL) == "Not used"
    dialog.remember.click()
    dialog.accept()
    first = opened(window, qtbot)
    window.open_path(unsure)
    session = opened(window, qtbot, before=first)
    assert session.recording.provenance.questions == ()


def test_a_profile_can_be_chosen_where_the_file_names_none(window, qtbot, timeless):
    dialog = ask(window, qtbot, timeless)
    assert dialog.fields.profile.currentText() == "None: nothing is judged"
    dialog.fields.profile.setCurrentIndex(dialog.fields.profile.findData("tarn-tg7"))
    dialog.fields.rate.setText("4")
    dialog.accept()
    assert opened(window, qtbot).profile.name == "Tarn TG-7 (training example)"


def test_columns_are_found_by_name(window, qtbot, unsure):
    dialog = ask(window, qtbot, unsure)
    qtbot.keyClicks(dialog.finder, "itt")
    assert [dialog.table.isRowHidden(row) for row in range(4)] == [True, True, True, False]
    dialog.finder.clear()
    assert not any(dialog.table.isRowHidden(row) for row in range(4))
    dialog.reject()


def test_the_chosen_column_is_marked_in_the_first_rows(window, qtbot, unsure):
    dialog = ask(window, qtbot, unsure)
    dialog.table.setCurrentIndex(dialog.table.model().index(3, CHANNEL))
    chosen = {index.column() for index in dialog.preview.selectionModel().selectedIndexes()}
    assert chosen == {3}
    assert dialog.preview.model().index(0, 3).data() == "20"
    dialog.reject()


@pytest.mark.parametrize("choice", ["light", "dark", "contrast"])
def test_the_trace_of_a_column_is_drawn_in_every_theme_and_an_empty_one_is_not(
    desk, window, qtbot, unsure, choice
):
    desk.theme.choose(choice)
    dialog = ask(window, qtbot, unsure)
    index = dialog.table.model().index(3, TRACE)
    dialog.table.setCurrentIndex(dialog.table.model().index(0, CHANNEL))
    picture = dialog.table.viewport().grab().toImage()
    rect = dialog.table.visualRect(index)
    colours = {
        picture.pixelColor(x, y).name()
        for x in range(rect.left(), min(rect.right(), picture.width()))
        for y in range(rect.top(), rect.bottom())
    }
    assert desk.theme.color("speed").name() in colours
    assert desk.theme.color("panel").name() in colours
    dialog.reject()
    desk.theme.choose("light")


def test_the_questions_and_their_answers_are_seen_whole(window, qtbot, unsure):
    dialog = ask(window, qtbot, unsure)
    button = dialog.questions.buttons[0]
    qtbot.waitUntil(lambda: dialog.questions.height() >= button.height() + 12)
    assert len(dialog.questions.buttons) == 3
    dialog.reject()


@pytest.mark.parametrize("scale", [1.0, 1.5])
def test_the_first_rows_are_shown_whole_and_the_table_keeps_room(desk, window, qtbot, unsure, scale):
    desk.theme.set_scale(scale)
    dialog = ask(window, qtbot, unsure)
    row = dialog.preview.rowHeight(0)
    shown, rest = divmod(dialog.preview.viewport().height(), row)
    assert shown >= 1
    assert rest <= 3
    table = dialog.table
    assert table.viewport().height() >= 2 * table.rowHeight(0)
    widths = [table.columnWidth(column) for column in range(6)]
    assert widths[NAME] >= widths[TRACE]
    assert min(widths[NAME], widths[CHANNEL]) >= max(widths[UNIT], widths[SURENESS], widths[TRACE])
    dialog.reject()


def places(dialog: ImportDialog) -> dict[str, object]:
    """Return where each part of the dialog is on the screen, how far the scrolled ones are scrolled, and the focus."""
    out: dict[str, object] = {}
    for number, part in enumerate(dialog.findChildren(QWidget)):
        if part.isVisible() and not isinstance(part, QScrollBar):
            out[f"{number} {type(part).__name__}"] = (
                part.mapTo(dialog, QPoint(0, 0)).toTuple(), part.size().toTuple()
            )  # fmt: skip
    for number, area in enumerate(dialog.findChildren(QAbstractScrollArea)):
        out[f"scrolled {number}"] = (area.verticalScrollBar().value(), area.horizontalScrollBar().value())
    table = dialog.table
    out["rows"] = [
        str(table.visualRect(table.model().index(row, 0))) for row in range(table.model().rowCount())
    ]
    out["current"] = (table.currentIndex().row(), table.currentIndex().column())
    return out


def states(dialog: ImportDialog) -> list[str]:
    """Return how far each question is answered, as it is written before it."""
    words = (label.text() for label in dialog.questions.findChildren(QLabel))
    return [text for text in words if text in ("To answer", "Proposed", "Settled")]


def write_many(file: Path) -> Path:
    """Write a file with questions of several kinds, more of them than are seen at once."""
    names = ["Counter", "RPM (actual)", "RPM (actual %)", *(f"Turbine_Exit_{n}" for n in (1, 2, 3)), "N2",
             "Fuel Flow", "Oil Temperature", "Torque", *(f"Spare {n}" for n in range(12))]  # fmt: skip
    rows = [",".join(names)]
    for i in range(200):
        hot = 20 + min(640, max(0, 20 * (i - 40)))
        row = [
            i,
            900 * min(i, 60),
            min(i, 62),
            hot,
            hot + 9,
            hot - 14,
            min(30.0, i / 4),
            i % 200,
            20 + i,
            4 * i,
        ]
        rows.append(",".join(f"{value:g}" for value in [*row, *(i % (n + 2) for n in range(12))]))
    file.write_text("\n".join(rows) + "\n")
    return file


@pytest.mark.parametrize("size", [(880, 690), (1240, 880)])
def test_nothing_moves_while_one_answers_chooses_or_types(window, qtbot, tmp_path, size):
    dialog = ask(window, qtbot, write_many(tmp_path / "many.csv"))
    dialog.resize(*size)
    QApplication.processEvents()
    fields = dialog.fields
    assert len(states(dialog)) > 4

    def stays(*, focus: QWidget) -> None:
        QApplication.processEvents()
        now = places(dialog)
        assert {
            name: (before.get(name), now.get(name))
            for name in {*before, *now}
            if before.get(name) != now.get(name)
        } == {}
        assert dialog.focusWidget() is focus

    for button in dialog.questions.buttons:
        button.setFocus()
        QApplication.processEvents()
        before = places(dialog)
        qtbot.keyClick(button, Qt.Key.Key_Space)
        stays(focus=button)
    for line, text in (
        (fields.rate, "x4"),
        (fields.aircraft, "ZZ-A"),
        (fields.start, "no date"),
        (fields.altimeter, "9"),
    ):
        line.setFocus()
        QApplication.processEvents()
        before = places(dialog)
        for letter in text:
            qtbot.keyClicks(line, letter)
            stays(focus=line)
        line.clear()
        stays(focus=line)
    for row, channel, unit in (
        (12, "oil_press", "psi"),
        (3, "itt.mean", "degC"),
        (4, "itt.mean", "degC"),
        (3, "", ""),
    ):
        table = dialog.table
        table.setFocus()
        table.setCurrentIndex(table.model().index(row, CHANNEL))
        QApplication.processEvents()
        before = places(dialog)
        choose(dialog, qtbot, row, CHANNEL, channel)
        stays(focus=table)
        if unit:
            table.setCurrentIndex(table.model().index(row, UNIT))
            QApplication.processEvents()
            before = places(dialog)
            choose(dialog, qtbot, row, UNIT, unit)
            stays(focus=table)
    dialog.done(0)


def test_a_question_is_settled_only_once_it_is(window, qtbot, tmp_path):
    """What the reader proposes is proposed; an answer without its unit, or a mean of one probe, settles nothing."""
    file = tmp_path / "plain.csv"
    rows = [f"{i},{min(i, 62)},{min(30.0, i / 4):g},{20 + 3 * i},{i % 9}" for i in range(240)]
    file.write_text("Time (s),N1,N2,Temp A,Fuel Flow\n" + "\n".join(rows) + "\n")
    dialog = ask(window, qtbot, file)
    form = dialog.form
    by_channel = {question.channel: question for question in form.proposal.questions}
    assert form.state_of(by_channel["ng"]) == "proposed"  # taken in %, and nobody has said so
    assert form.state_of(by_channel["itt"]) == "open"
    choose(dialog, qtbot, 3, CHANNEL, "itt")
    assert form.state_of(by_channel["itt"]) == "open"  # its unit is not known
    assert not User(dialog).find("Open").isEnabled()
    choose(dialog, qtbot, 3, UNIT, "degC")
    assert form.state_of(by_channel["itt"]) == "settled"
    percent = next(
        b
        for b in dialog.questions.buttons
        if b.text().strip() == "It is in %" and "Gas" in b.accessibleName()
    )
    assert percent.isChecked()
    percent.click()  # confirms what is proposed
    assert percent.isChecked()
    assert form.state_of(by_channel["ng"]) == "settled"
    percent.click()  # and again takes it back
    assert not percent.isChecked()
    assert form.state_of(by_channel["ng"]) == "open"
    choose(dialog, qtbot, 3, CHANNEL, "itt.mean")
    assert form.state_of(by_channel["itt"]) == "open"
    assert "Choose a second probe for the mean of ITT" in dialog.words
    dialog.done(0)


def test_the_problem_is_settled_and_open_again_where_it_stands(window, qtbot, timeless):
    dialog = ask(window, qtbot, timeless)
    assert "No column of times" in User(dialog.questions).words
    assert states(dialog)[0] == "To answer"
    dialog.fields.rate.setText("4")
    assert states(dialog)[0] == "Settled"
    dialog.fields.rate.clear()
    assert states(dialog)[0] == "To answer"
    dialog.done(0)


def test_an_answer_settles_its_question_and_the_problem_at_once_whatever_else_is_open(
    window, qtbot, tmp_path
):
    rows = "".join(f"{0.5 * n + n // 9},{20 + n},{60 + n},{500 + n}\n" for n in range(60))
    file = tmp_path / "counter.csv"
    file.write_text(f"Counter,RPM (actual),RPM (actual %),ITT (degC)\n{rows}")
    dialog = ask(window, qtbot, file)
    panel = dialog.questions
    (time,) = (one for one in panel.buttons if one.accessibleName().startswith("Time"))
    time.click()
    assert states(dialog).count("Settled") == 2
    (label,) = (
        one for one in panel.findChildren(QLabel) if one.accessibleName().startswith('Settled: "Counter')
    )
    assert label.property("role") == "muted"
    dialog.form.start_text = "no date"
    panel.show_answers()
    assert states(dialog).count("Settled") == 2
    time.click()  # the same answer again takes it back
    assert "Settled" not in User(panel).words
    dialog.done(0)


PROBES = "Time (s),Ng (%),EGT TC1 (degC),EGT TC2 (degC),EGT TC3 (degC)"


def write_probes(file: Path, header: str = PROBES) -> Path:
    hot = [20 + min(640, max(0, 20 * (i - 40))) for i in range(200)]
    rows = [f"{i},{min(i, 62)},{t},{t + 9},{t - 14}" for i, t in enumerate(hot)]
    file.write_text("\n".join([header, *rows]) + "\n")
    return file


def test_the_mean_of_the_probes_is_one_click_and_comes_back_as_it_was_chosen(window, qtbot, tmp_path):
    dialog = ask(window, qtbot, write_probes(tmp_path / "probes.csv"))
    assert "23 °C apart while hot" in User(dialog.questions).words
    (first, *_) = dialog.questions.buttons
    assert first.text().strip() == "EGT TC1 (degC) (20 to 660)"
    assert first.accessibleName() == 'Interturbine temperature: "EGT TC1 (degC)", from 20 to 660'
    assert not first.icon().isNull()
    User(dialog).clicks("Mean of the 3")
    assert states(dialog) == ["Settled"]
    assert [cell(dialog, row, CHANNEL) for row in (2, 3, 4)] == ["ITT, mean of the probes"] * 3
    User(dialog).clicks("Highest of the 3")
    assert states(dialog) == ["Settled"]
    User(dialog).clicks("Mean of the 3")
    User(dialog).clicks("Open")
    session = opened(window, qtbot)
    assert (
        session.recording.channels["itt"].column
        == 'mean of "EGT TC1 (degC)", "EGT TC2 (degC)", "EGT TC3 (degC)"'
    )
    assert session.recording.channels["itt"].map_source == "entered"
    assert session.choices.maps == tuple(f"itt.mean=EGT TC{n} (degC):degC" for n in (1, 2, 3))
    window.activateWindow()
    qtbot.waitUntil(window.isActiveWindow)
    qtbot.keyClick(window, Qt.Key.Key_U, Qt.KeyboardModifier.ControlModifier)
    qtbot.waitUntil(lambda: window.importer.dialog is not None and window.importer.dialog.is_ready)
    again = window.importer.dialog
    assert [again.form.channel(row) for row in (2, 3, 4)] == ["itt.mean"] * 3
    choose(again, qtbot, 2, CHANNEL, "itt")
    assert "was moved from" in again.words
    assert again.form.columns_of("itt") == (2,)
    again.done(0)


def test_the_spread_of_the_probes_is_seen_on_their_answer(window, qtbot, tmp_path):
    hot = [20 + min(640, max(0, 20 * (i - 40))) for i in range(200)]
    rows = [f"{i},{min(i, 62)},{t},{1.3 * t:.1f},{0.7 * t:.1f}" for i, t in enumerate(hot)]
    file = tmp_path / "apart.csv"
    file.write_text("\n".join([PROBES, *rows]) + "\n")
    dialog = ask(window, qtbot, file)
    together = joined_trace(dialog.form.proposal.columns[2:5])
    assert together.high[-1] - together.low[-1] == pytest.approx(0.6 * 660)
    mean = User(dialog).find("Mean of the 3", QAbstractButton)
    assert of_trace(mean) > 2 * of_trace(dialog.questions.buttons[0])
    dialog.done(0)


def of_trace(button: QAbstractButton) -> int:
    """Return how many pixels the trace on an answer has."""
    picture = button.icon().pixmap(button.iconSize()).toImage()
    return sum(
        picture.pixelColor(x, y).alpha() > 100
        for x in range(picture.width())
        for y in range(picture.height())
    )


def test_two_numbered_temperatures_can_be_said_to_be_of_two_engines(window, qtbot, tmp_path):
    header = "Time (s),Ng (%),EGT 1 (degC),EGT 2 (degC),Spare"
    dialog = ask(window, qtbot, write_probes(tmp_path / "two.csv", header))
    User(dialog).clicks("One engine each of the 2")
    assert [dialog.form.channel(row) for row in (2, 3)] == ["itt", "itt.2"]
    assert states(dialog) == ["Settled"]
    User(dialog).clicks("Open")
    assert {"itt", "itt.2"} <= set(opened(window, qtbot).recording.channels)


def test_a_file_without_any_lane_comes_here_and_goes_on_with_one_key(window, qtbot, tmp_path):
    file = tmp_path / "sparse.csv"
    file.write_text(
        "Time (s),Fuel Valve,Igniter,Gearbox V\n" + "".join(f"{i},{i % 2},1,{i}\n" for i in range(60))
    )
    dialog = ask(window, qtbot, file)
    assert (
        "Only fuel, ignition found: no speed, temperature, torque or bus voltage."
        in User(dialog.questions).words
    )
    assert (
        "Not found: Ng (hung start, gas generator overspeed), ITT (hot start, overtemperature)"
        in dialog.words
    )
    assert dialog.focusWidget() is User(dialog).find("Open")
    qtbot.keyClick(dialog.focusWidget(), Qt.Key.Key_Return)
    assert set(opened(window, qtbot).recording.channels) == {"fuel_on", "ignition"}


def test_what_is_not_judged_follows_what_is_chosen(window, qtbot, tmp_path):
    dialog = ask(window, qtbot, write_probes(tmp_path / "probes.csv"))
    assert "ITT (hot start, overtemperature)" in dialog.words
    User(dialog).clicks("Highest of the 3")
    assert "ITT" not in dialog.words
    assert "torque (overtorque)" in dialog.words
    dialog.done(0)


def test_a_list_is_as_wide_as_its_words(window, qtbot, unsure):
    dialog = ask(window, qtbot, unsure)
    dialog.table.setCurrentIndex(dialog.table.model().index(3, UNIT))
    qtbot.keyClick(dialog.table, Qt.Key.Key_Return)
    combo = dialog.table.findChild(QComboBox)
    assert combo.view().width() >= combo.view().sizeHintForColumn(0)
    qtbot.keyClick(combo.view(), Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: dialog.table.findChild(QComboBox) is None)
    dialog.reject()


def test_every_part_has_a_name_for_screen_readers(window, qtbot, timeless):
    dialog = ask(window, qtbot, timeless)
    parts = [
        dialog.fields.rate,
        dialog.fields.profile,
        dialog.fields.aircraft,
        dialog.fields.engine_serial,
        dialog.fields.start,
        dialog.fields.altimeter,
    ]
    parts += [dialog.table, dialog.preview, dialog.finder, dialog.shown, *dialog.questions.buttons]
    assert all(part.accessibleName() for part in parts)
    said = dialog.table.model().index(3, CHANNEL).data(Qt.ItemDataRole.AccessibleTextRole)
    assert said == "ITT (degC), use as: Interturbine temperature"
    trace = dialog.table.model().index(3, TRACE).data(Qt.ItemDataRole.AccessibleTextRole)
    assert trace == "ITT (degC), trace: from 20 to 520"
    dialog.reject()


@pytest.mark.parametrize("scale", [1.0, 1.5])
def test_no_word_of_a_button_is_cut(desk, window, qtbot, timeless, scale):
    desk.theme.set_scale(scale)
    dialog = ask(window, qtbot, timeless)
    for button in filter(QAbstractButton.isVisible, dialog.findChildren(QAbstractButton)):
        assert button.width() >= button.minimumSizeHint().width()
        assert button.height() >= button.fontMetrics().height()
    dialog.reject()
    desk.theme.set_scale(1.0)


def test_a_choice_of_a_theme_while_the_dialog_is_open_reaches_it(desk, window, qtbot, unsure):
    dialog = ask(window, qtbot, unsure)
    before = dialog.styleSheet()
    desk.theme.choose("dark")
    assert dialog.styleSheet() != before
    desk.theme.choose("light")
    dialog.reject()


def test_the_window_closes_while_the_dialog_is_open_and_reads(window, qtbot, timeless, monkeypatch):
    import threading

    from debrief.session.opening.opening_steps import Progress

    dialog = ask(window, qtbot, timeless)
    dialog.fields.rate.setText("4")
    ticking = threading.Event()

    def endless(accepted, known):
        while True:
            ticking.set()
            yield Progress("Reading", 0.1)

    monkeypatch.setattr("debrief.gui.importing.importer.open_as", endless)
    dialog.accept()
    assert ticking.wait(5)
    window.close()
    assert window.importer.dialog is None
    assert window.importer.jobs.count == 0


def test_escape_over_what_was_chosen_asks_first(window, qtbot, unsure):
    dialog = ask(window, qtbot, unsure)
    dialog.questions.buttons[0].click()
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    box = dialog.findChild(QMessageBox)
    assert box is not None
    qtbot.keyClick(box, Qt.Key.Key_Escape)
    assert window.importer.dialog is dialog  # Escape on the question loses nothing
    assert dialog.questions.buttons[0].isChecked()
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    boxes = [one for one in dialog.findChildren(QMessageBox) if one.isVisible()]
    discard = next(button for button in boxes[-1].buttons() if "Discard" in button.text())
    discard.click()
    qtbot.waitUntil(lambda: window.importer.dialog is None)


def test_escape_over_nothing_chosen_closes_at_once(window, qtbot, unsure):
    dialog = ask(window, qtbot, unsure)
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    qtbot.waitUntil(lambda: window.importer.dialog is None)


def test_nothing_moves_where_the_first_word_below_the_table_comes(window, qtbot, tmp_path):
    """Of a file with all that is judged nothing is said below the table, until something wrong is typed."""
    rows = [f"{i},{min(i, 62)},{20 + 3 * i},{25 + 3 * i},{i % 40},{24 + i % 3}" for i in range(200)]
    file = tmp_path / "whole.csv"
    file.write_text("Time (s),Ng (%),EGT 1 (degC),EGT 2 (degC),Torque (%),Bus (V)\n" + "\n".join(rows) + "\n")
    dialog = ask(window, qtbot, file)
    dialog.questions.buttons[0].click()
    assert dialog.words == ""
    dialog.fields.start.setFocus()
    QApplication.processEvents()
    before = places(dialog)
    qtbot.keyClicks(dialog.fields.start, "no")
    QApplication.processEvents()
    assert '"no"' in dialog.words
    assert places(dialog) == before
    dialog.done(0)


def test_a_file_without_names_opens_with_a_channel_and_its_unit(window, qtbot, tmp_path):
    file = tmp_path / "bare.csv"
    rows = (
        f"{9 + i * 0.1:.1f},{min(62, i * 0.5):.1f},{20 + min(640, max(0, 5 * (i - 40)))}" for i in range(200)
    )
    file.write_text("\n".join(rows) + "\n", encoding="utf-8")
    dialog = ask(window, qtbot, file)
    words = User(dialog.questions).words
    assert "The file has no names of columns" in words
    assert '"Column 1" only rises, by 0.1 from row to row' in words
    assert states(dialog) == ["To answer", "Proposed"]
    assert dialog.table.currentIndex().row() == 1  # where something is wanted
    choose(dialog, qtbot, 1, CHANNEL, "itt")
    choose(dialog, qtbot, 1, UNIT, "degC")
    assert states(dialog)[0] == "Settled"
    User(dialog).clicks("Open")
    session = opened(window, qtbot)
    assert session.recording.duration_s == pytest.approx(19.9)
