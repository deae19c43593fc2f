"""Faults in the midst of painting: ``python tests/gui/paint_faults.py HOME`` paints each widget with one at some line.

It runs in a process of its own, since what it looks for would end it. A fault is raised at several lines of what is
painted, also of the pictures that are painted in between. Prints one line of JSON for each class of widget.
"""

from __future__ import annotations

import inspect
import itertools
import json
import logging
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QAbstractItemView, QAbstractScrollArea, QApplication, QInputDialog, QWidget

import debrief.gui
from debrief.gui.app import make_app
from debrief.gui.background import error_words, guarded, last_net
from debrief.gui.background.last_net import LastNet
from debrief.gui.importing.import_dialog import ImportDialog
from debrief.gui.shell.drop_target import DropTarget
from debrief.gui.shell.window import Window
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from debrief.gui.why.trying import Trying
from debrief.gui.widgets.choice_boxes import ChoiceBox, TickBox
from debrief.gui.widgets.qt_dialog_looks import dress_dialog
from debrief.history.storage.store import Store
from debrief.session.comparing.start_curves import start_curves
from debrief.session.importing.file_proposal import propose_steps
from debrief.session.session import Session, prepare
from tests.gui.shots import session_from
from tests.gui.user import until
from tests.history.history_making import made_assessment, series
from tests.session import assessment_maker as made

GUI = str(Path(debrief.gui.__file__).parent)
DEMO = Path(__file__).resolve().parents[2] / "demo_flights"
NUMBERS = itertools.count()
NOT_HERE = {inspect.getsourcefile(one) for one in (guarded, error_words, last_net)}


class Planted(Exception):
    """The fault."""


class Lines:
    """Counts the lines that run while one object paints, and raises at one of them, each time that it paints."""

    def __init__(self, owner: object, code: CodeType, raise_at: int = -1) -> None:
        self._owner, self._code, self._raise_at = owner, code, raise_at
        # Of a class of its own: two faults of one class from one line, which is the line here, are of one kind.
        self._fault = type(f"Planted{next(NUMBERS)}", (Planted,), {})
        self._count, self._inside = 0, False
        self.most = 0

    def __call__(self, frame: FrameType, event: str, arg: object) -> Any:
        if frame.f_code is self._code and frame.f_locals.get("self") is self._owner:
            self._inside, self._count = True, 0
        file = frame.f_code.co_filename
        if not self._inside or not file.startswith(GUI) or file in NOT_HERE:
            return None
        return self._line

    def _line(self, frame: FrameType, event: str, arg: object) -> Any:
        if event == "return" and frame.f_code is self._code:
            self._inside = False
        if event == "line":
            self._count += 1
            self.most = max(self.most, self._count)
            if self._count == self._raise_at:
                self._inside = False
                raise self._fault(f"at line {frame.f_lineno} of {Path(frame.f_code.co_filename).name}")
        return self._line


@contextmanager
def watched(lines: Lines) -> Iterator[Lines]:
    sys.settrace(lines)
    try:
        yield lines
    finally:
        sys.settrace(None)


def result_of(steps: Any) -> Any:
    while True:
        try:
            next(steps)
        except StopIteration as done:
            return done.value


def two_starts() -> Session:
    """Return two starts of an engine that the history knows."""
    hot = made.hot_start()
    second = replace(
        hot.starts[0], number=2, outcome="completed", light_off_s=16.2, fuel_on_s=15.0, idle_s=40.0
    )
    known = replace(hot.recording, identity=made_assessment("made.csv").recording.identity)
    assessment = replace(hot, recording=known, starts=(hot.starts[0], second))
    return Session(Path("made.csv"), assessment, prepare(assessment))


def painters(of: QWidget) -> tuple[object, CodeType]:
    """Return who paints a widget, and the code that does."""
    method: Any = type(of).paintEvent
    if guarded.is_guarded(method):
        return of, method.__wrapped__.__code__
    assert isinstance(of, QAbstractItemView)
    for delegate in (of.itemDelegate(), *(of.itemDelegateForColumn(i) for i in range(8))):
        method = getattr(type(delegate), "paint", None) if delegate is not None else None
        if guarded.is_guarded(method):
            return delegate, method.__wrapped__.__code__
    raise AssertionError(of)


def is_painter(of: QWidget) -> bool:
    try:
        painters(of)
    except AssertionError:
        return False
    return True


def device_of(widget: QWidget) -> QWidget:
    return widget.viewport() if isinstance(widget, QAbstractScrollArea) else widget


def picture(widget: QWidget, size: QSize) -> QImage:
    """Paint a widget, nothing of it kept from before."""
    widget.resize(size.width() + 1, size.height())
    widget.resize(size)
    return device_of(widget).grab().toImage()


def words_alone(widget: QWidget) -> QImage:
    """Return the picture of a widget that says that it cannot be drawn, its parts left out."""
    device = device_of(widget)
    image = QImage(device.size(), QImage.Format.Format_RGB32)
    with QPainter(image) as painter:
        painter.setFont(device.font())
        guarded.say_undrawn(painter, device.rect(), device.palette())
    return image


def tried(widget: QWidget, log: Counting) -> dict[str, Any]:
    """Plant faults in a widget's painting; say what came of it."""
    owner, code = painters(widget)
    size = widget.size()
    before = picture(widget, size)
    with watched(Lines(owner, code)) as lines:
        picture(widget, size)
    places = sorted({max(1, round(share * lines.most)) for share in (0, 0.2, 0.4, 0.6, 0.8, 1)})
    said, told = [], []
    for place in places:
        count = log.count
        images = []
        lines = Lines(owner, code, place)
        for _ in range(3):
            with watched(lines):
                images.append(picture(widget, size))
        QApplication.processEvents()
        told.append(log.count - count)
        said.append(images[-1] != before)
    alone = words_alone(widget)
    parts = device_of(widget).findChildren(QWidget, options=Qt.FindChildOption.FindDirectChildrenOnly)
    covered = any(part.isVisible() and not part.isWindow() for part in parts)  # where words could not be read
    words = owner is not widget or covered or images[-1].convertToFormat(alone.format()) == alone
    with watched(Lines(owner, code)):
        after = picture(widget, size)
    return {
        "lines": lines.most,
        "changed": all(said),
        "words": words,
        "told": told,
        "back": after == before,
    }


class Counting(logging.Handler):
    """Counts the faults that were logged."""

    def __init__(self) -> None:
        super().__init__()
        self.count = 0

    def emit(self, record: logging.LogRecord) -> None:
        self.count += "Planted" in record.getMessage()


def main() -> None:
    with Store.open() as store:
        for flight in series([742.0 + (index * 7 % 11) - 5 for index in range(30)]):
            store.keep(flight)
    make_app()
    theme = Theme("light")
    theme.apply()
    window = Window(theme, Settings())
    window.resize(1600, 1000)
    log = Counting()
    logging.getLogger("debrief").addHandler(log)
    done: set[str] = set()

    def try_all(root: QWidget) -> None:
        for widget in [root, *root.findChildren(QWidget)]:
            name = type(painters(widget)[0]).__name__ if is_painter(widget) else ""
            if name and name not in done and widget.isVisible() and widget.width() * widget.height() > 100:
                done.add(name)
                print(json.dumps({"name": name, **tried(widget, log)}), flush=True)

    with LastNet() as net:
        net.told.connect(window.messages.tell, Qt.ConnectionType.QueuedConnection)
        window.show()
        window.lanes.show_strips(False)  # the list of switches is painted while they are hidden
        window.replay.show(two_starts())
        window.messages.tell("A word.", True)
        window.replay.turns.finish()
        QApplication.processEvents()
        try_all(window)
        assessment = window.replay.session.assessment
        window.replay.comparison.choose(start_curves(assessment, assessment.starts[1]))
        until(lambda: not window.replay.turns.count)
        try_all(window)
        window.replay.show(session_from(str(next(DEMO.glob("06*.csv")))))
        until(lambda: not window.replay.turns.count)
        window.beside.toggle()
        trying = window.findChild(Trying)
        until(lambda: trying.trial is not None)
        trying.try_numbers(trying.level + 20, trying.seconds)
        until(lambda: trying.is_on and not trying.jobs.count)
        try_all(window)
        window.beside.close_panel()
        window.replay.show(two_starts())
        until(lambda: not window.replay.turns.count)
        window.looks.toggle_tapes()
        until(lambda: not window.replay.turns.count)
        try_all(window)
        window.views.show_starts()
        until(lambda: window.starts.is_filled and not window.replay.turns.count)
        try_all(window)
        window.starts.buttons.button(2).setChecked(True)
        until(lambda: not window.replay.turns.count)
        try_all(window)
        window.views.show_history()
        until(lambda: window.history.trends.chart and window.history.trends.chart.isVisible())
        try_all(window)
        window.resize(1280, 720)
        QApplication.processEvents()
        try_all(window)
        window.views.show_report()
        until(lambda: window.report.pages_view.sharp_pages)
        try_all(window)
        dialog = ImportDialog(result_of(propose_steps(DEMO / "02_early_fuel_hot.csv")), theme, window)
        dialog.open()
        until(lambda: dialog.is_ready)
        try_all(dialog)
        dialog.reject()
        for extra in (ChoiceBox(theme), TickBox("Words", theme)):
            if isinstance(extra, TickBox):
                extra.setChecked(True)
            extra.resize(300, 60)
            extra.show()
            try_all(extra)
            extra.close()
        asking = QInputDialog()
        asking.setComboBoxItems(["ITT"])
        dress_dialog(asking)
        asking.show()
        try_all(asking)
        asking.close()
        target = DropTarget(theme, window)
        target.show_files(["made.csv"])
        try_all(target)
        window.close()
    QApplication.processEvents()
    print(json.dumps({"name": "alive"}), flush=True)


if __name__ == "__main__":
    os.environ["DEBRIEF_HOME"] = sys.argv[1]
    main()
