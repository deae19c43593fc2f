"""A fault in what Qt calls: the widget says so, the log has it once, and the program goes on."""

from __future__ import annotations

import ast
import importlib
import inspect
import json
import os
import pkgutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QAbstractTableModel, QSize, Qt
from PySide6.QtGui import QColor, QPalette
from PySide6.QtWidgets import QWidget

import debrief.gui
from debrief.gui.background.error_words import Repeats
from debrief.gui.background.guarded import CANNOT_BE_SHOWN, guarded, guarded_data, is_guarded, painted
from debrief.gui.background.last_net import LastNet
from debrief.gui.style.theme import Theme
from tests.session import assessment_maker as made

GUI = Path(debrief.gui.__file__).parent
MODULES = sorted(m.name for m in pkgutil.walk_packages(debrief.gui.__path__, "debrief.gui.") if not m.ispkg)


def overriding() -> Iterator[tuple[type, str, object]]:
    """Give each method of a class of the window that a class of Qt has too: Qt calls it."""
    for name in MODULES:
        module = importlib.import_module(name)
        for cls in vars(module).values():
            if not inspect.isclass(cls) or cls.__module__ != module.__name__:
                continue
            bases = [base for base in cls.__mro__ if base.__module__.startswith("PySide6")]
            for method, code in vars(cls).items():
                own = inspect.isfunction(code) and not method.startswith("__")
                if own and any(method in vars(base) for base in bases):
                    yield cls, method, code


PAINTERS = sorted({cls.__name__ for cls, method, _ in overriding() if method in ("paintEvent", "paint")})


def test_every_method_that_qt_calls_is_guarded():
    found = list(overriding())
    assert len(found) > 100
    bare = [f"{cls.__name__}.{method}" for cls, method, code in found if not is_guarded(code)]
    assert not bare, f"not guarded (debrief/gui/background/guarded.py): {bare}"


@pytest.mark.parametrize("name", MODULES)
def test_every_painter_is_ended_by_a_with_statement(name):
    """An error that leaves a painter at work on a widget or a picture ends the program."""
    tree = ast.parse(Path(GUI.parents[1], *name.split(".")).with_suffix(".py").read_text(encoding="utf-8"))
    entered = {
        id(item.context_expr) for node in ast.walk(tree) if isinstance(node, ast.With) for item in node.items
    }
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        called = ast.unparse(node.func)
        if called.endswith(("QPainter", "QPainterStateGuard")):
            assert id(node) in entered, f"line {node.lineno}: {called} outside of a with statement"
        assert not called.endswith(("painter.save", "painter.restore", "painter.begin")), (
            f"line {node.lineno}"
        )


@pytest.fixture(scope="module")
def faults(tmp_path_factory) -> dict[str, dict]:
    """What came of faults planted in the painting of each widget, in a process that they could end."""
    home = tmp_path_factory.mktemp("home")
    run = subprocess.run(
        [sys.executable, "-m", "tests.gui.paint_faults", str(home)],
        capture_output=True, text=True, timeout=100, cwd=GUI.parents[1],
    )  # fmt: skip
    said = [json.loads(line) for line in run.stdout.splitlines()]
    assert run.returncode == 0, f"ended with {run.returncode} after {said[-1:]}: {run.stderr[-2000:]}"
    return {one["name"]: one for one in said}


def test_the_program_goes_on_after_faults_in_all_painting(faults):
    assert "alive" in faults


@pytest.mark.parametrize("name", PAINTERS)
def test_a_fault_in_painting_is_said_and_logged_once(faults, name):
    came = faults[name]
    assert came["changed"], "it looks as if nothing had happened"
    assert came["words"], "it does not say that it cannot be drawn"
    assert came["told"] == [1] * len(came["told"]), "painted three times each, logged once each"
    assert came["back"], "it does not come back when it can be drawn again"


class Broken(QWidget):
    fails = True

    @painted
    def paintEvent(self, painter, event):
        painter.fillRect(self.rect(), QColor("magenta"))
        if self.fails:
            raise ValueError("planted")
        painter.fillRect(self.rect(), QColor("green"))

    @guarded(QSize(7, 7))
    def sizeHint(self):
        raise ValueError("planted")


def _luminance(color: QColor) -> float:
    """WCAG 2.2, relative luminance."""
    parts = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in color.getRgbF()[:3]]
    return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2]


@pytest.mark.parametrize("colours", ["light", "dark"])
def test_the_words_are_readable_in_each_theme_and_nothing_half_drawn_is_left(qtbot, colours, monkeypatch):
    caught = []
    monkeypatch.setattr(sys, "excepthook", lambda kind, error, trace: caught.append(error))
    Theme(colours).apply()
    widget = Broken()
    qtbot.addWidget(widget)
    widget.resize(400, 100)
    image = widget.grab().toImage()
    seen = {image.pixelColor(x, y).rgb() for x in range(400) for y in range(100)}
    assert QColor("magenta").rgb() not in seen
    ground, ink = (
        widget.palette().color(role) for role in (QPalette.ColorRole.Base, QPalette.ColorRole.Text)
    )
    assert {ground.rgb(), ink.rgb()} <= seen
    lighter, darker = sorted((_luminance(ground), _luminance(ink)), reverse=True)
    assert (lighter + 0.05) / (darker + 0.05) >= 4.5  # WCAG 2.2, 1.4.3
    assert widget.sizeHint() == QSize(7, 7)
    widget.fails = False
    assert widget.grab().toImage().pixelColor(5, 5) == QColor("green")
    assert len(caught) == 2


class Cells(QAbstractTableModel):
    @guarded_data
    def data(self, index, role=Qt.ItemDataRole.DisplayRole):
        raise ValueError("planted")

    @guarded_data
    def headerData(self, section, orientation, role=Qt.ItemDataRole.DisplayRole):
        raise ValueError("planted")


def test_a_cell_that_fails_says_so_and_is_not_left_blank(monkeypatch, qapp):
    monkeypatch.setattr(sys, "excepthook", lambda *_: None)
    cells = Cells()
    index = cells.createIndex(0, 0)
    assert cells.data(index) == CANNOT_BE_SHOWN
    assert cells.data(index, Qt.ItemDataRole.DisplayRole) == CANNOT_BE_SHOWN
    assert cells.data(index, Qt.ItemDataRole.DecorationRole) is None
    assert cells.headerData(0, Qt.Orientation.Horizontal) == CANNOT_BE_SHOWN
    assert cells.headerData(0, Qt.Orientation.Horizontal, Qt.ItemDataRole.ToolTipRole) is None


def _raised(text: str) -> ValueError:
    try:
        raise ValueError(text)
    except ValueError as error:
        return error


def test_a_fault_that_goes_on_is_told_again_only_after_a_pause():
    now = [0.0]
    repeats = Repeats(lambda: now[0])
    assert not repeats.goes_on(_raised("first"))
    for _ in range(2000):  # half a minute of frames
        now[0] += 0.015
        assert repeats.goes_on(_raised("another text"))
    now[0] += 11
    assert not repeats.goes_on(_raised("after a pause"))


def test_a_slot_of_a_timer_that_fails_is_logged_and_told_once(desk, qtbot, caplog):
    window = desk.window
    with LastNet() as net:
        net.told.connect(window.messages.tell, Qt.ConnectionType.QueuedConnection)

        def fails(position_s: float) -> None:
            raise RuntimeError("planted in a slot")

        desk.show(made.hot_start())
        window.replay.position_changed.connect(fails)
        for step in range(50):
            window.replay.seek(step / 10)
        qtbot.waitUntil(lambda: "program failed" in window.messages.words)
        window.replay.position_changed.disconnect(fails)
    assert sum("planted in a slot" in record.getMessage() for record in caplog.records) == 1
    assert window.replay.position_s == pytest.approx(4.9)


def test_a_part_that_cannot_be_closed_does_not_keep_the_window_or_the_others(desk, monkeypatch):
    caught = []
    monkeypatch.setattr(sys, "excepthook", lambda kind, error, trace: caught.append(error))
    window = desk.window

    def fails() -> None:
        raise RuntimeError("planted in closing")

    monkeypatch.setattr(window.replay, "stop", fails)
    closed = []
    monkeypatch.setattr(window.desk, "close", lambda: closed.append(True))
    assert window.close()
    assert closed
    assert [str(error) for error in caught] == ["planted in closing"]
    monkeypatch.undo()


@pytest.mark.skipif(sys.platform == "win32", reason="signals of a terminal")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_closes_the_window_as_its_button_does(number, tmp_path):
    """Also while a recording is being opened; what the window remembers is written."""
    code = (
        "import sys\n"
        "from PySide6.QtCore import QTimer\n"
        "from debrief.gui import app\n"
        "app.make_app()\n"
        "QTimer.singleShot(300, lambda: print('ready', flush=True))\n"
        "sys.exit(app.main(sys.argv[1:]))\n"
    )
    flight = GUI.parents[1] / "demo_flights" / "09_quick_turnaround.csv"
    run = subprocess.Popen(
        [sys.executable, "-c", code, str(flight)], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert run.stdout is not None
    assert run.stdout.readline() == "ready\n"
    run.send_signal(number)
    _, problems = run.communicate(timeout=20)
    assert run.returncode == 128 + number
    assert "Traceback" not in problems
    home = Path(os.environ["DEBRIEF_HOME"])
    assert any("geometry" in file.read_text(errors="replace") for file in home.rglob("*.ini"))
