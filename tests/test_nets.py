"""The nets under every test hold: what would otherwise pass unseen fails."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]

MADE_TESTS = """
import os
import threading
import warnings
from pathlib import Path

from PySide6.QtCore import QObject, QRunnable, QThreadPool, QTimer, qWarning
from PySide6.QtWidgets import QLabel, QMainWindow

KEPT = []


def test_clean_window(qtbot):
    window = QMainWindow()
    qtbot.addWidget(window)
    window.show()


def test_left_thread():
    threading.Thread(target=threading.Event().wait, args=(1.5,), name="worker").start()


def test_left_visible_widget(qtbot):
    KEPT.append(QLabel("still here"))
    KEPT[-1].show()


def test_widget_of_the_test_before_is_closed(qtbot):
    KEPT.pop().deleteLater()


def test_left_window(qtbot):
    KEPT.append(QMainWindow())


def test_window_of_the_test_before_is_closed(qtbot):
    KEPT.pop().deleteLater()


def test_left_timer(qtbot):
    timer = QTimer()
    timer.start(100000)
    KEPT.append(timer)


def test_timer_of_the_test_before_is_stopped(qtbot):
    KEPT.pop().stop()


def test_timer_that_rests(qtbot):
    KEPT.append(QTimer())


def test_left_timer_of_an_earlier_test(qtbot):
    KEPT[-1].start(100000)


def test_timer_of_an_earlier_test_is_stopped(qtbot):
    KEPT.pop().stop()


def test_left_job(qtbot):
    class Job(QRunnable):
        def run(self):
            threading.Event().wait(1.5)

    QThreadPool.globalInstance().start(Job())


def test_slot_that_raises(qtbot):
    def fail():
        raise RuntimeError("in a slot")

    QTimer.singleShot(0, fail)
    qtbot.wait(50)


def test_qt_warning(qtbot):
    qWarning("something that Qt dislikes")


def test_python_warning():
    warnings.warn("old", DeprecationWarning)


def test_home_is_fresh_and_empty():
    home = Path(os.environ["DEBRIEF_HOME"])
    assert list(home.iterdir()) == []
    (home / "file").write_text("x")


def test_home_is_fresh_and_empty_again():
    assert list(Path(os.environ["DEBRIEF_HOME"]).iterdir()) == []
"""

EXPECTED = {
    "test_clean_window": "passed",
    "test_left_thread": "left",
    "test_left_visible_widget": "left",
    "test_widget_of_the_test_before_is_closed": "passed",
    "test_left_window": "left",
    "test_window_of_the_test_before_is_closed": "passed",
    "test_left_timer": "left",
    "test_timer_of_the_test_before_is_stopped": "passed",
    "test_timer_that_rests": "passed",
    "test_left_timer_of_an_earlier_test": "left",
    "test_timer_of_an_earlier_test_is_stopped": "passed",
    "test_left_job": "left",
    "test_slot_that_raises": "failed",
    "test_qt_warning": "failed",
    "test_python_warning": "failed",
    "test_home_is_fresh_and_empty": "passed",
    "test_home_is_fresh_and_empty_again": "passed",
}


def test_each_net_fails_the_test_that_it_is_for_and_no_other(tmp_path: Path) -> None:
    for name in ("conftest.py", "screen.json"):
        shutil.copy(ROOT / "tests" / name, tmp_path)
    (tmp_path / "test_made.py").write_text(MADE_TESTS, encoding="utf-8")
    options = ["-rA", "-p", "no:cacheprovider", "-p", "no:xdist", "--rootdir", str(tmp_path)]
    result = subprocess.run(
        [sys.executable, "-m", "pytest", *options, "-c", str(ROOT / "pyproject.toml"), "test_made.py"],
        cwd=tmp_path,
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    found: dict[str, str] = {}
    # a test that passes and then fails in its teardown has a line for each: the later, worse one counts
    for word, outcome in {"PASSED": "passed", "FAILED": "failed", "ERROR": "left"}.items():
        for name in re.findall(rf"^{word} \S+::(\w+)", result.stdout, re.MULTILINE):
            found[name] = outcome
    assert found == EXPECTED, result.stdout + result.stderr
