"""What every test gets: no display needed, a home of its own, and nets for what it leaves behind."""

from __future__ import annotations

import gc
import itertools
import os
import sys
import threading
import weakref
from collections.abc import Iterator
from pathlib import Path

# Before anything imports Qt: the tests need no display, and have the smallest screen that the window is made for.
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
if os.environ["QT_QPA_PLATFORM"] == "offscreen" and os.name == "posix":  # a drive's colon would end the path
    os.environ["QT_QPA_PLATFORM"] = f"offscreen:configfile={Path(__file__).with_name('screen.json')}"
os.environ.setdefault("PYQTGRAPH_QT_LIB", "PySide6")

import pytest
from hypothesis import HealthCheck, settings

# "ci" finds the same on every run and machine; "deep" is for an evening.
settings.register_profile(
    "ci",
    max_examples=60,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.register_profile("deep", max_examples=2000, deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))

_CALL_REPORT = pytest.StashKey[pytest.TestReport]()

_KNOWN: dict[int, weakref.ref[object]] = {}
"""The pools, threads and timers met so far, by identity; they are looked at again after each test."""


@pytest.fixture(scope="session")
def _homes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Paths in one folder of their own: looking for a free name among thousands takes long."""
    parent = tmp_path_factory.mktemp("homes")
    return (parent / str(number) for number in itertools.count())


@pytest.fixture(autouse=True)
def debrief_home(_homes: Iterator[Path], monkeypatch: pytest.MonkeyPatch) -> Path:
    """A fresh, empty folder for the user's data, so that no test sees another's or the developer's."""
    folder = next(_homes)
    folder.mkdir()
    monkeypatch.setenv("DEBRIEF_HOME", str(folder))
    return folder


@pytest.hookimpl(wrapper=True)
def pytest_runtest_makereport(item: pytest.Item) -> Iterator[None]:
    report = yield
    if report.when == "call":
        item.stash[_CALL_REPORT] = report
    return report


@pytest.fixture(autouse=True)
def _nothing_outlives_the_test(request: pytest.FixtureRequest) -> Iterator[None]:
    """Fail a passing test that leaves a thread, a job, a running timer or a window behind.

    A failed test is let go: its traceback keeps its frames, and so its objects, alive.
    """
    shows = "qtbot" in request.fixturenames  # whatever shows a widget asks for it
    if shows:
        _put_aside()
    threads = set(threading.enumerate())
    yield
    report = request.node.stash.get(_CALL_REPORT, None)
    if report is None or not report.passed:
        return
    left = [
        f"thread {thread.name}"
        for thread in threading.enumerate()
        if thread not in threads and not thread.daemon and not thread.name.startswith("Dummy-")
    ]
    if shows:
        left += _qt_left_behind()
    if left:
        pytest.fail("the test left behind: " + ", ".join(sorted(left)))


def _qt_left_behind() -> list[str]:
    from PySide6.QtCore import QCoreApplication, QEvent, QThread, QThreadPool, QTimer
    from PySide6.QtWidgets import QApplication, QDialog, QMainWindow
    from shiboken6 import isValid

    for _ in range(3):  # what was told to go in a moment goes now, with what that tells to go
        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
        QCoreApplication.processEvents()
    gc.collect()
    left = [
        f"window {type(widget).__name__}"
        for widget in QApplication.topLevelWidgets()
        if widget.isVisible() or isinstance(widget, QMainWindow | QDialog)
    ]
    pools = [QThreadPool.globalInstance()]
    for thing in _alive(QThreadPool, QThread, QTimer):
        if not isValid(thing):
            continue
        if isinstance(thing, QThreadPool):
            pools.append(thing)
        elif isinstance(thing, QThread):
            if thing.isRunning() and thing is not QCoreApplication.instance().thread():
                left.append(f"running {type(thing).__name__}")
        elif thing.isActive():
            left.append(f"running {type(thing).__name__} of {type(thing.parent()).__name__}")
    left += ["job in a thread pool" for pool in pools if not pool.waitForDone(500)]
    return left


def _alive(*kinds: type) -> list[object]:
    """Return the living objects of these classes.

    What is new is looked through, each class met once, since there are many; what was put aside is known.
    """
    wanted: dict[type, bool] = {}
    for thing in gc.get_objects():
        kind = type(thing)
        if kind not in wanted:
            wanted[kind] = issubclass(kind, kinds)
        if wanted[kind]:
            _KNOWN[id(thing)] = weakref.ref(thing)
    there = {key: thing for key, known in _KNOWN.items() if (thing := known()) is not None}
    for key in _KNOWN.keys() - there.keys():
        del _KNOWN[key]
    return list(there.values())


def _put_aside() -> None:
    """Let the collector and the search pass over what is there before the test.

    Both looked through half a million objects after every test otherwise, which took longer than the tests.
    """
    from PySide6.QtCore import QThread, QThreadPool, QTimer

    gc.collect()
    _alive(QThreadPool, QThread, QTimer)
    if getattr(sys, "last_traceback", None) is None:  # else the objects of a test that failed would stay
        gc.freeze()


def pytest_collection_finish() -> None:
    """Let collections pass over the modules and the tests: there are half a million objects in them."""
    gc.collect()
    gc.freeze()


def pytest_report_header() -> list[str]:
    """Say the versions that a result depends on."""
    import importlib.metadata as metadata

    names = ("numpy", "pandas", "pyarrow", "PySide6-Essentials", "pyqtgraph", "pikepdf", "SQLAlchemy")
    versions = []
    for name in names:
        try:
            versions.append(f"{name} {metadata.version(name)}")
        except metadata.PackageNotFoundError:
            versions.append(f"{name} absent")
    return [f"on: Python {sys.version.split()[0]}, " + ", ".join(versions)]
