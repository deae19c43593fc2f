"""What was answered about the columns of a file outlives a program that is killed."""

import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication

from debrief.session.importing.import_opening import open_or_ask
from tests.gui.user import User, until

pytestmark = pytest.mark.qt_log_ignore("This plugin does not support", extend=True)

ROOT = Path(__file__).parents[3]
PROGRAM = """
import sys
from PySide6.QtCore import QTimer
from debrief.gui.app import make_app
from debrief.gui.shell.window import Window
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from tests.gui.importing.test_kept_answers import answer, dialog_of
from tests.gui.user import User, until

app = make_app()
theme = Theme("light")
theme.apply()
window = Window(theme, Settings())
window.show()
window.open_path(sys.argv[1])
answer(dialog_of(window))
QTimer.singleShot(1900, lambda: print("now", flush=True))
app.exec()
"""
KEPT = "The program ended before the columns of first.csv were opened."


def dialog_of(window) -> User:
    until(lambda: window.importer.dialog is not None and window.importer.dialog.is_ready, 20.0)
    return User(window.importer.dialog)


def answer(dialog: User) -> None:
    dialog.clicks(actual(dialog))
    dialog.types("ZZ-TRN", into="Aircraft")
    dialog.types("2031-05-04T09:30:00+02:00", into="Start of the recording")


def actual(dialog: User) -> str:
    """Return the answer that the percents are Ng."""
    (name,) = [
        one.accessibleName()
        for one in dialog.root.findChildren(type(dialog.find("Open")))
        if one.isVisible() and '"RPM (actual %)"' in one.accessibleName()
    ][:1]
    return name


def unsure(file: Path, offset: float = 0.0) -> Path:
    lines = ["Time (s),RPM (actual),RPM (actual %),ITT (degC)"]
    for i in range(120):
        speed = min(60.0, i)
        lines.append(
            f"{i * 0.5:g},{1000 * speed:g},{max(0.0, 3 * speed - 90):g},{20 + offset + min(500, 7 * i)}"
        )
    file.write_text("\n".join(lines) + "\n")
    return file


def drafts(debrief_home: Path) -> list[Path]:
    return sorted((debrief_home / "unsaved").glob("*.json"))


@pytest.fixture(scope="module")
def left_by_kill(tmp_path_factory):
    """Return the file that was asked about, and what was left when the program was killed two seconds after the last answer."""
    if os.name == "nt":
        pytest.skip("there is no such kill")
    folder = tmp_path_factory.mktemp("killed")
    file = unsure(folder / "first.csv")
    program = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, str(file)],
        stdout=subprocess.PIPE, cwd=ROOT,
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen", "PYTHONPATH": str(ROOT), "DEBRIEF_HOME": str(folder / "home")},
    )  # fmt: skip
    assert program.stdout is not None
    assert program.stdout.readline() == b"now\n"
    program.send_signal(signal.SIGKILL)
    program.wait()
    program.stdout.close()
    (left,) = drafts(folder / "home")
    return file, left


@pytest.fixture
def killed(desk, left_by_kill, debrief_home):
    """Return a window in the home that the killed one left."""
    file, left = left_by_kill
    (debrief_home / "unsaved").mkdir(parents=True)
    shutil.copy(left, debrief_home / "unsaved")
    desk.opener = open_or_ask
    desk.file = file
    return desk


def test_it_is_offered_for_the_next_file_of_the_kind(killed, debrief_home, tmp_path):
    killed.window.open_path(unsure(tmp_path / "second.csv", 3.0))
    dialog = dialog_of(killed.window)
    assert dialog.sees(KEPT)
    assert not dialog.find(actual(dialog)).isChecked()
    dialog.presses("Space")  # what has the focus: Bring back
    assert not dialog.sees(KEPT)
    assert dialog.find(actual(dialog)).isChecked()
    assert dialog.find("Aircraft").text() == "ZZ-TRN"
    assert dialog.find("Start of the recording").text() == ""  # that was another recording's
    # Kept again, now as this dialog's, until the file is open.
    assert [json.loads(one.read_bytes())["path"] for one in drafts(debrief_home)] == [
        str(tmp_path / "second.csv")
    ]
    dialog.clicks("Open")
    until(lambda: killed.window.replay.session is not None, 20.0)
    assert killed.window.replay.session.recording.identity.aircraft == "ZZ-TRN"
    assert list((debrief_home / "unsaved").iterdir()) == []


def test_the_same_file_has_all_again_also_when_it_is_brought_back_at_the_start(killed, debrief_home):
    killed.window.unsaved.offer()
    box = killed.user.dialog("Not saved")
    assert box.sees("Columns of first.csv")
    box.clicks("Bring back")
    dialog = dialog_of(killed.window)
    until(lambda: dialog.find("Aircraft").text() == "ZZ-TRN")
    assert not dialog.sees(KEPT)
    assert dialog.find(actual(dialog)).isChecked()
    assert dialog.find("Start of the recording").text() == "2031-05-04T09:30:00+02:00"
    dialog.root.reject()
    assert drafts(debrief_home) == []


def test_put_off_at_the_start_it_is_offered_in_the_dialog_and_can_be_discarded(
    killed, debrief_home, tmp_path
):
    killed.window.unsaved.offer()
    killed.user.dialog("Not saved").clicks("Later")
    killed.window.open_path(killed.file)
    dialog = dialog_of(killed.window)
    assert dialog.sees(KEPT)
    dialog.clicks("Removes what was answered then")
    assert not dialog.sees(KEPT)
    assert drafts(debrief_home) == []
    dialog.root.reject()


def test_a_dialog_that_is_left_alone_leaves_it_for_the_next_time(killed, debrief_home):
    killed.window.open_path(killed.file)
    dialog_of(killed.window).presses("Esc")
    assert len(drafts(debrief_home)) == 1
    killed.window.open_path(killed.file)
    dialog = dialog_of(killed.window)
    assert dialog.sees(KEPT)
    dialog.root.reject()


def left(debrief_home: Path, signature: str, **values: object) -> Path:
    folder = debrief_home / "unsaved"
    folder.mkdir(parents=True, exist_ok=True)
    out = folder / "columns-1.json"
    out.write_text(json.dumps({"kind": "columns", "path": "/x/first.csv", "signature": signature, **values}))
    return out


def test_files_of_another_kind_are_not_asked_about(desk, debrief_home, tmp_path):
    desk.opener = open_or_ask
    path = left(debrief_home, "of another header")
    desk.window.open_path(unsure(tmp_path / "second.csv"))
    dialog = dialog_of(desk.window)
    assert not dialog.sees("The program ended")
    dialog.root.reject()
    assert path.exists()


def test_answers_about_a_file_that_needs_none_are_brought_back_too(desk, debrief_home, tmp_path):
    desk.opener = open_or_ask
    file = tmp_path / "flight.csv"
    shutil.copy(next((ROOT / "demo_flights").glob("06*.csv")), file)
    desk.window.open_path(file)
    until(lambda: desk.window.replay.session is not None, 20.0)
    desk.user.presses("Ctrl+U")
    dialog = dialog_of(desk.window)
    dialog.types("ZZ-OWN", into="Aircraft")
    dialog.root.put_off()
    desk.window.unsaved.offer()  # as the next program does
    desk.user.dialog("Not saved").clicks("Bring back")
    dialog = dialog_of(desk.window)
    until(lambda: dialog.find("Aircraft").text() == "ZZ-OWN")
    dialog.root.reject()
    assert drafts(debrief_home) == []


def test_a_program_that_is_ended_over_answers_keeps_them(desk, debrief_home, tmp_path):
    desk.opener = open_or_ask
    desk.window.open_path(unsure(tmp_path / "first.csv"))
    answer(dialog_of(desk.window))
    desk.window.close()
    QApplication.processEvents()
    assert len(drafts(debrief_home)) == 1
    desk.window.unsaved.offer()  # as the next program does
    box = desk.user.dialog("Not saved")
    assert box.sees("Columns of first.csv")
    box.clicks("Discard")
