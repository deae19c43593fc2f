"""The program as a whole, in a process of its own: it starts, opens what was named, and ends."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]

RUN = """
import sys
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from debrief.gui import app
from debrief.gui.shell.window import Window

made = app.make_app()
tries = 0

def look():
    global tries
    tries += 1
    window = next(w for w in QApplication.topLevelWidgets() if isinstance(w, Window))
    shown = window.replay.session is not None or window.messages.words
    if shown or tries > 300:
        print("title:", window.windowTitle())
        print("view:", window.view)
        print("message:", window.messages.words)
        window.close()

timer = QTimer()
timer.timeout.connect(look)
timer.start(100)
code = app.main(sys.argv[1:])
timer.stop()
print("code:", code)
"""


def _run(*arguments: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", RUN, *arguments],
        cwd=ROOT,
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
        capture_output=True,
        text=True,
        timeout=90,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_the_program_opens_the_file_that_was_named_and_ends():
    said = _run("demo_flights/02_early_fuel_hot.csv")
    assert "title: ZZ-TRN" in said
    assert "view: replay" in said
    assert "code: 0" in said


def test_two_files_that_were_named_are_compared():
    said = _run("demo_flights/02_early_fuel_hot.csv", "demo_flights/01_cool_normal_start.csv")
    assert "title: ZZ-TRN" in said
    assert "view: starts" in said  # both laid over each other
    assert "code: 0" in said


def test_a_file_that_is_not_there_gives_one_sentence_and_the_window_stays(tmp_path):
    said = _run(str(tmp_path / "absent.csv"))
    assert "view: start" in said
    assert "absent.csv" in said.split("message:")[1]
    assert "code: 0" in said
