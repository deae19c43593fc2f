"""A program that is killed loses nothing that was typed: it is offered at the next opening."""

import json
import os
import signal
import stat
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest
from PySide6.QtCore import QLockFile
from PySide6.QtWidgets import QApplication

from tests.gui.user import until
from tests.session import assessment_maker as made

PROGRAM = """
import sys
from dataclasses import replace
from pathlib import Path
from PySide6.QtTest import QTest
from PySide6.QtCore import QTimer
from debrief.gui.app import make_app
from debrief.gui.shell.window import Window
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from debrief.session.profiles.profile_form import ProfileForm
from debrief.session.session import Session, prepare
from tests.session import assessment_maker as made
from tests.gui.shell.test_unsaved import noted
from tests.gui.user import User

app = make_app()
theme = Theme("light")
theme.apply()
window = Window(theme, Settings())
window.show()
found = noted()
window.replay.show(Session(Path(sys.argv[1]), found, prepare(found)))
if "note" in sys.argv[2]:
    window.replay.seek(40.0)
    window.notes.ask_new()
    dialog = next(d for d in window.children() if d.inherits("QDialog") and d.windowTitle() == "Note")
    QTest.keyClicks(dialog.text, "Hand moved la")
    QTest.keyClicks(dialog.author, "J. Larkin")
if "profile" in sys.argv[2]:
    window.editing.show()
    editor = window.editing.editor
    form = ProfileForm()
    editor.bring_back("", form.text + '# typed by hand\\n')
if "wizard" in sys.argv[2]:
    window.editing.make_new()
    wizard = window.editing.wizard
    User(wizard).types("Own engine", into="Name")
QTimer.singleShot(1900, lambda: print("now", flush=True))
app.exec()
"""


def noted():
    assessment = made.hot_start()
    provenance = replace(assessment.recording.provenance, sha256="5" * 64)
    return replace(assessment, recording=replace(assessment.recording, provenance=provenance))


def killed(file: Path, what: str) -> None:
    """Run the program, type, and kill it two seconds after the last key."""
    program = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, str(file), what],
        stdout=subprocess.PIPE, cwd=Path(__file__).parents[3],
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen", "PYTHONPATH": str(Path(__file__).parents[3])},
    )  # fmt: skip
    assert program.stdout is not None
    assert program.stdout.readline() == b"now\n"
    program.send_signal(signal.SIGKILL)
    program.wait()
    program.stdout.close()


@pytest.fixture
def file(tmp_path):
    out = tmp_path / "flight.csv"
    out.write_text("x")
    return out


def drafts(debrief_home: Path) -> list[Path]:
    return sorted((debrief_home / "unsaved").glob("*.json"))


@pytest.mark.skipif(os.name == "nt", reason="there is no such kill")
def test_a_killed_program_loses_neither_a_note_nor_a_profile(desk, debrief_home, file):
    killed(file, "note and profile")
    left = drafts(debrief_home)
    assert len(left) == 2
    assert {stat.S_IMODE(path.stat().st_mode) for path in (debrief_home / "unsaved").iterdir()} == {0o600}
    desk.assessments["flight.csv"] = noted()
    desk.window.unsaved.offer()
    box = desk.user.dialog("Not saved")
    assert box.sees("Note on flight.csv: Hand moved la")
    assert box.sees("Engine profile: a new one")
    box.clicks("Bring back")
    until(lambda: any(one.windowTitle() == "Note" for one in QApplication.topLevelWidgets()))
    note = desk.user.dialog("Note")
    assert note.reads("Text of the note") == "Hand moved la"
    assert note.find("By").text() == "J. Larkin"
    assert note.find("Pinned to").currentText().startswith("0:40")
    assert desk.window.editing.editor is not None
    assert "# typed by hand" in desk.window.editing.editor.form.text
    # Kept again, under names of their own, until they are saved or given up.
    assert len(drafts(debrief_home)) == 2
    assert not set(drafts(debrief_home)) & set(left)
    note.clicks("Cancel")
    desk.window.editing.editor.discard()
    assert list((debrief_home / "unsaved").iterdir()) == []


@pytest.mark.skipif(os.name == "nt", reason="there is no such kill")
def test_what_was_answered_in_the_wizard_goes_on_in_the_editor(desk, debrief_home, file):
    killed(file, "wizard")
    desk.window.unsaved.offer()
    desk.user.dialog("Not saved").clicks("Bring back")
    editor = desk.window.editing.editor
    assert editor is not None
    assert 'name = "Own engine"' in editor.form.text
    editor.discard()
    assert drafts(debrief_home) == []


def left_note(debrief_home: Path, file: Path, name: str = "note-1", **values: object) -> Path:
    folder = debrief_home / "unsaved"
    folder.mkdir(parents=True, exist_ok=True)
    out = folder / f"{name}.json"
    out.write_text(json.dumps({"kind": "note", "path": str(file), "text": "Once\n<b>more</b>", **values}))
    return out


@pytest.mark.parametrize(("answer", "stays"), [("Discard", False), ("Later", True)])
def test_what_is_declined_is_removed_and_what_is_put_off_is_offered_again(
    desk, debrief_home, file, answer, stays
):
    path = left_note(debrief_home, file)
    desk.window.unsaved.offer()
    desk.user.dialog("Not saved").clicks(answer)
    assert path.exists() == stays
    desk.window.unsaved.offer()
    assert (
        any(one.windowTitle() == "Not saved" for one in QApplication.topLevelWidgets() if one.isVisible())
        == stays
    )
    if stays:
        desk.user.dialog("Not saved").clicks("Discard")


def test_nothing_is_asked_where_nothing_was_left(desk, debrief_home):
    desk.window.unsaved.offer()
    assert not [one for one in QApplication.topLevelWidgets() if one.windowTitle() == "Not saved"]


def test_what_another_running_program_writes_is_not_offered(desk, debrief_home, file):
    path = left_note(debrief_home, file)
    lock = QLockFile(str(path.with_suffix(".lock")))
    assert lock.tryLock(0)
    desk.window.unsaved.offer()
    assert not [one for one in QApplication.topLevelWidgets() if one.windowTitle() == "Not saved"]
    lock.unlock()


def test_a_note_whose_recording_is_gone_can_be_copied_and_stays(desk, debrief_home, tmp_path):
    path = left_note(debrief_home, tmp_path / "gone.csv")
    desk.window.unsaved.offer()
    desk.user.dialog("Not saved").clicks("Bring back")
    assert desk.user.sees("gone.csv is not there any more; the note on it can be copied from the details.")
    desk.user.clicks("Copy details")
    assert QApplication.clipboard().text() == "Once\n<b>more</b>"
    assert path.exists()


@pytest.mark.parametrize(
    "data", [b"", b"[", b"[1]", b"{}", b'{"kind": "other"}', b"\xff\xfe", b'{"kind": ["note"]}']
)
def test_a_broken_file_is_passed_over(desk, debrief_home, file, data):
    left_note(debrief_home, file).write_bytes(data)
    desk.window.unsaved.offer()
    assert not [one for one in QApplication.topLevelWidgets() if one.windowTitle() == "Not saved"]


def test_a_note_that_is_saved_leaves_nothing_and_nothing_is_kept_of_none(desk, debrief_home):
    desk.show(noted())
    until(lambda: desk.window.notebook.is_read)
    desk.user.presses("Ctrl+N")
    note = desk.user.dialog("Note")
    note.types("Seen", into="Text of the note")
    began = time.monotonic()
    until(lambda: drafts(debrief_home) != [], 5.0)
    assert time.monotonic() - began < 2.0
    note.presses("Ctrl+Return", on="Text of the note")
    assert drafts(debrief_home) == []
    until(lambda: desk.window.notebook.is_kept)
