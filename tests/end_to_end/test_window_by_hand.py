"""A person at the window: opens a flight, finds what went wrong and measures it, by mouse and by keyboard.

Nothing is asked of the program's insides: what is read is what stands on the screen, and what was really
so comes from the truth beside the invented flight.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QCoreApplication, QEvent, QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QPushButton

from debrief.gui.shell.window import Window
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.asking import Askers
from debrief.resources import resource
from tests.gui.lane_words import hover_words, measured_words, tag_words
from tests.gui.user import User, busy, until

NONE = Qt.KeyboardModifier.NoModifier
CONTROL = Qt.KeyboardModifier.ControlModifier
LEFT = Qt.MouseButton.LeftButton
FLIGHT = resource("demo_flights") / "05_hot_start_aborted_motored.csv"
LEVEL = 1030.0


def _truth() -> dict[str, Any]:
    start = json.loads(FLIGHT.with_suffix(".truth.json").read_text(encoding="utf-8"))["starts"][0]
    found: dict[str, Any] = next(
        one for one in start["beyond"] if one["channel"] == "itt" and one["level"] == LEVEL
    )
    return {**found, "peak": start["peak_itt"]}


@pytest.fixture
def window(qtbot, tmp_path) -> Iterator[Window]:
    app = QApplication.instance()
    assert isinstance(app, QApplication)
    app.setStyle("Fusion")
    theme = Theme("light")
    theme.apply()

    def answer_with(path: Path) -> Any:
        return lambda parent, suggested, answer: answer(str(path))

    made = Window(
        theme,
        Settings(),
        Askers(
            files=lambda parent, folder, answer: answer([str(FLIGHT)]),
            report=answer_with(tmp_path / "report.pdf"),
        ),
    )
    qtbot.addWidget(made)
    made.resize(1440, 900)
    made.show()
    qtbot.waitExposed(made)
    yield made
    made.close()
    made.deleteLater()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)


def _itt_under(window: Window, x: int) -> float:
    """Read the temperature that stands beside the mouse."""
    QTest.mouseMove(window.lanes, QPoint(x, 420))
    QApplication.processEvents()
    return float(hover_words(window.lanes)[1].replace("\N{MINUS SIGN}", "-"))


def _wheel(window: Window, x: int, turns: int) -> None:
    place = QPointF(x, 420)
    for _ in range(turns):
        event = QWheelEvent(place, window.lanes.mapToGlobal(place), QPoint(), QPoint(0, 120),
                            Qt.MouseButton.NoButton, NONE, Qt.ScrollPhase.NoScrollPhase, False)  # fmt: skip
        QApplication.sendEvent(window.lanes, event)
    QApplication.processEvents()


def test_by_mouse_a_hot_start_is_opened_found_and_measured(window, qtbot):
    truth = _truth()
    demo = next(b for b in window.start_page.findChildren(QPushButton) if "hot start" in b.text())
    QTest.mouseClick(demo, LEFT)
    qtbot.waitUntil(lambda: window.view == "replay", timeout=30_000)
    QApplication.processEvents()
    # The sentence says what, by how much, and what is allowed.
    assert f"above {LEVEL:.0f} °C for {truth['total_s']:.1f} s" in User(window.verdict).words

    # A click on the finding's shape on the timeline goes there.
    line = window.timeline
    QTest.mouseClick(line, LEFT, NONE, QPoint(round(line.x_of(truth["first_s"])), 6))
    assert window.replay.position_s == pytest.approx(truth["first_s"], abs=0.1)

    # The wheel shows it larger; the values under the mouse tell where the level is passed.
    until(lambda: not busy(window))  # what is still filled moves the lanes
    lanes = window.lanes
    _wheel(window, round(lanes.x_of(window.replay.position_s + 1.0)), 8)
    QTest.mouseClick(lanes, LEFT, NONE, QPoint(lanes.width() - 30, 420))  # the playhead out of the way
    left, right = round(lanes.x_of(31.0)), round(lanes.x_of(35.5))
    over = [x for x in range(left, right) if _itt_under(window, x) > LEVEL]
    assert over == list(range(over[0], over[-1] + 1))

    # Ctrl and drag measures from there to where it is passed again.
    QTest.mousePress(lanes, LEFT, CONTROL, QPoint(over[0], 420))
    QTest.mouseMove(lanes, QPoint(over[-1], 420))
    QTest.mouseRelease(lanes, LEFT, CONTROL, QPoint(over[-1], 420))
    seconds = float(re.match(r"([\d.]+) s from the mark", window.playback_bar.aside.text())[1])  # type: ignore[index]
    pixel_s = 1 / (lanes.x_of(33.0) - lanes.x_of(32.0))
    # Two edges, each to a pixel and to half a degree at the slope there; the recording has 16 samples a second.
    assert seconds == pytest.approx(truth["total_s"], abs=0.0625 + 2 * pixel_s)
    assert re.search(r"above 10[234]\d (\(hot start\) )?for 2\.\d s", measured_words(lanes)[1])

    # A click on the peak's step shows its value on the gauge.
    QTest.mouseClick(lanes, LEFT, NONE, QPoint(round(lanes.x_of(truth["peak"]["at_s"])), 420))
    itt = window.gauges.gauge("itt")
    assert float(itt.words) == pytest.approx(truth["peak"]["value"], abs=3.0)
    assert itt.is_filled
    assert itt.used_words.endswith(", none allowed")


def test_by_keyboard_a_hot_start_is_opened_found_measured_and_printed(window, qtbot, tmp_path):
    truth = _truth()
    qtbot.keyClick(window, Qt.Key.Key_O, CONTROL)
    qtbot.waitUntil(lambda: window.view == "replay", timeout=30_000)
    QApplication.processEvents()

    def press(key: Qt.Key, modifier: Qt.KeyboardModifier = NONE) -> None:
        qtbot.keyClick(window.lanes, key, modifier)

    press(Qt.Key.Key_Home)
    qtbot.keyClick(window.lanes, Qt.Key.Key_N, Qt.KeyboardModifier.ShiftModifier)
    assert window.story.list.currentItem() is not None
    assert window.replay.position_s == pytest.approx(truth["first_s"], abs=0.1)
    press(Qt.Key.Key_E)

    # Sample by sample to the first above the level; the mark; on to the first that is not.
    def value() -> float:
        return float(tag_words(window.lanes)["temperature"])

    while value() <= LEVEL:
        press(Qt.Key.Key_Right)
    press(Qt.Key.Key_M)
    while value() > LEVEL:
        press(Qt.Key.Key_Right)
    seconds = float(re.match(r"([\d.]+) s from the mark", window.playback_bar.aside.text())[1])  # type: ignore[index]
    # Up to one sample at either end.
    assert seconds == pytest.approx(truth["total_s"], abs=2 * 0.0625)
    press(Qt.Key.Key_M)
    assert measured_words(window.lanes) == []

    # Zoom, all, back and forward again come to the same ranges.
    session = window.replay.session
    framed = (session.framing.begin_s, session.framing.end_s)
    press(Qt.Key.Key_A)
    assert session.framing.shows_all
    press(Qt.Key.Key_Backspace)
    assert (session.framing.begin_s, session.framing.end_s) == framed
    press(Qt.Key.Key_Right, Qt.KeyboardModifier.AltModifier)
    assert session.framing.shows_all

    # The paper says the same.
    press(Qt.Key.Key_S, CONTROL)
    paper = tmp_path / "report.pdf"
    qtbot.waitUntil(lambda: paper.is_file() and not window.report.jobs.count, timeout=60_000)
    import pypdf

    words = " ".join(pypdf.PdfReader(paper).pages[0].extract_text().split())
    assert f"above {LEVEL:.0f} °C for {truth['total_s']:.1f} s" in words
