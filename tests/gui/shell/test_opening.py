import threading
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QGuiApplication
from PySide6.QtWidgets import QPushButton

from debrief.errors import UserError
from debrief.session.opening.opening_steps import Progress
from debrief.words.cautions import CAUTION
from tests.gui.lane_words import tag_words
from tests.gui.user import User, entries
from tests.session import assessment_maker as made

DEMO = Path(__file__).parents[3] / "demo_flights"


def test_the_start_page_says_what_to_do_and_carries_the_caution(desk):
    assert desk.window.view == "start"
    assert CAUTION in User(desk.window.start_page).words
    assert "drop a file here" in User(desk.window.start_page).words


def test_a_path_is_opened_in_the_background_and_shown(desk):
    desk.window.open_path("flight.csv")
    assert desk.window.view == "start"
    desk.opened()
    assert desk.window.view == "replay"
    assert "1030" in User(desk.window.verdict).words
    assert desk.window.progress.words == ""


def test_the_dialog_s_answer_is_opened(desk, qtbot):
    desk.answers["files"] = ["chosen.csv"]
    desk.user.presses("Ctrl+O")
    assert desk.opened().path.name == "chosen.csv"


def test_a_dropped_file_is_opened(desk, tmp_path):
    file = tmp_path / "dropped.csv"
    file.write_text("x")
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(file))])
    actions, button, none = (
        Qt.DropAction.CopyAction,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    enter = QDragEnterEvent(QPoint(50, 50), actions, data, button, none)
    desk.window.dragEnterEvent(enter)
    assert enter.isAccepted()
    desk.window.dropEvent(QDropEvent(QPointF(50, 50), actions, data, button, none))
    assert desk.opened().path.name == "dropped.csv"


def test_a_wrong_file_gives_its_sentence_and_leaves_the_window_usable(desk, qtbot):
    desk.assessments["bad.csv"] = UserError("bad.csv has a header but no data rows.")
    desk.window.open_path("bad.csv")
    qtbot.waitUntil(lambda: desk.window.messages.words != "")
    assert desk.window.messages.words == "bad.csv has a header but no data rows."
    assert desk.window.view == "start"
    desk.window.open_path("good.csv")
    desk.opened()
    assert desk.window.messages.words == ""


def test_what_is_shown_stays_when_the_next_file_is_wrong(desk, qtbot):
    first = desk.show(made.hot_start())
    desk.assessments["bad.csv"] = UserError("bad.csv is empty.")
    desk.window.open_path("bad.csv")
    qtbot.waitUntil(lambda: desk.window.messages.words != "")
    assert desk.window.replay.session is first
    assert desk.window.view == "replay"


def test_a_fault_of_the_program_is_called_one_and_can_be_copied(desk, qtbot, caplog):
    desk.assessments["odd.csv"] = ZeroDivisionError("inner detail")
    desk.window.open_path("odd.csv")
    qtbot.waitUntil(lambda: desk.window.messages.words != "")
    assert "its fault" in desk.window.messages.words
    assert "inner detail" not in desk.window.messages.words
    desk.user.clicks("Copy details")
    assert "ZeroDivisionError: inner detail" in QGuiApplication.clipboard().text()
    assert "ZeroDivisionError" in caplog.text


def test_opening_can_be_cancelled_and_its_result_is_dropped(desk, qtbot):
    go_on = threading.Event()

    def slow(path, profile=None):
        yield Progress("Reading", 0.1)
        go_on.wait(5)
        yield Progress("Reading", 0.5)
        raise AssertionError("cancelled jobs go no further")

    desk.opener = slow
    desk.window.open_path("slow.csv")
    qtbot.waitUntil(lambda: desk.window.progress.words == "Reading")
    desk.user.clicks("Cancel")
    assert desk.window.progress.words == ""
    go_on.set()
    qtbot.waitUntil(lambda: desk.window.desk.jobs.count == 0)
    assert desk.window.replay.session is None
    assert desk.window.messages.words == ""


def test_the_later_of_two_files_wins_whichever_is_ready_first(desk, qtbot):
    go_on = threading.Event()
    usual = desk.opener

    def first_slow(path, profile=None):
        if path.name == "first.csv":
            yield Progress("Reading", 0.1)
            go_on.wait(5)
        return (yield from usual(path, profile))

    desk.opener = first_slow
    desk.window.open_path("first.csv")
    desk.window.open_path("second.csv")
    desk.opened()
    go_on.set()
    qtbot.waitUntil(lambda: desk.window.desk.jobs.count == 0)
    assert desk.window.replay.session.path.name == "second.csv"


def test_the_window_closes_while_a_job_runs(desk, qtbot):
    ticking = threading.Event()

    def endless(path, profile=None):
        while True:
            ticking.set()
            yield Progress("Reading", 0.1)

    desk.opener = endless
    desk.window.open_path("endless.csv")
    assert ticking.wait(5)
    desk.window.close()
    assert desk.window.desk.jobs.count == 0


def test_a_recent_file_is_offered_on_the_start_page(desk, tmp_path):
    file = tmp_path / "before.csv"
    file.write_text("x")
    desk.window.open_path(str(file))
    desk.opened()
    desk.user.takes("File", "Close the recording")
    assert desk.window.view == "start"
    assert desk.user.sees("Recent")
    (button,) = [one for one in desk.user.all_called("", QPushButton) if one.text().startswith("before.csv")]
    desk.user.clicks(button.text())
    assert desk.opened().path == file


def test_a_demo_flight_is_read_assessed_and_shown_for_real(desk, qtbot):
    from debrief.session.opening.opening_steps import open_recording

    desk.opener = open_recording
    desk.window.open_path(DEMO / "02_early_fuel_hot.csv")
    qtbot.waitUntil(lambda: desk.window.replay.session is not None, timeout=20000)
    assert User(desk.window.verdict).words.startswith("Exceeded")
    assert "Do not attempt another start before consulting the manual." in desk.window.verdict.after.text()
    assert "Limits not from approved data." in desk.window.verdict.after.text()


def test_without_a_profile_one_is_offered_and_used(desk, qtbot):
    session = desk.show(made.without_profile())
    assert session.profile is None
    assert desk.user.part("Verdict").has("Choose a profile...")
    desk.user.takes("File", "Engine profile", "Tarn TG-7 (training example)")
    qtbot.waitUntil(lambda: desk.window.replay.session.profile is not None, timeout=10000)
    assert "Tarn TG-7" in desk.window.replay.session.profile.name
    assert not desk.user.part("Verdict").has("Choose a profile...")


def test_an_unknown_profile_gives_its_sentence(desk, qtbot):
    desk.show(made.without_profile())
    desk.window.requests.use_profile("no-such-engine")
    qtbot.waitUntil(lambda: desk.window.messages.words != "")
    assert "no-such-engine" in desk.window.messages.words


def test_the_report_is_saved_in_the_background(desk, qtbot, tmp_path):
    desk.show(made.hot_start())
    desk.answers["report"] = str(tmp_path / "start.pdf")
    desk.user.clicks("Save report...")
    qtbot.waitUntil(lambda: desk.window.messages.words != "", timeout=20000)
    assert desk.window.messages.words == f"Report saved: {tmp_path / 'start.pdf'}"
    assert (tmp_path / "start.pdf").read_bytes().startswith(b"%PDF")


def test_the_starter_s_rest_before_the_recording_can_be_told(desk, qtbot):
    from debrief.session.opening.opening_steps import open_recording

    desk.opener = open_recording
    desk.window.open_path(DEMO / "01_cool_normal_start.csv")
    first = desk.opened()
    desk.answers["rest"] = "1440"
    desk.user.takes("File", "Starter rest before the recording...")
    qtbot.waitUntil(lambda: desk.window.replay.session is not first, timeout=10000)
    assert desk.window.replay.session.choices.starter_rest_s == 86400.0
    assert not any("rest before" in n.what for n in desk.window.replay.session.assessment.not_judged)
    desk.answers["rest"] = "a day"
    desk.user.takes("File", "Starter rest before the recording...")
    assert '"a day" is no length of time' in desk.window.messages.words


def test_a_second_engine_can_be_shown(desk, qtbot):
    one = made.hot_start_recording()
    second = {f"{name}.2": channel for name, channel in one.channels.items() if name in ("ng", "itt")}
    both = one.with_channels({**one.channels, **{n: replace(c, name=n) for n, c in second.items()}})
    desk.show(made.hot_start(both))
    assert list(entries(desk.user.menu("View", "Engine").menu())) == ["Engine 1", "Engine 2"]
    desk.user.takes("View", "Engine", "Engine 2")
    qtbot.waitUntil(lambda: desk.window.replay.session.engine == 2)
    assert desk.window.gauges.gauge("torque").words == "not recorded"
    assert tag_words(desk.window.lanes)["temperature"] != ""
