"""How long the window does not answer: ``python -m tests.benchmarks.stalls FILE`` in a process of its own.

A timer beats every two milliseconds. The longest time between two beats, less the beat, is the longest stall
while something was done; it counts work on the event loop and work of other threads that holds the
interpreter. Prints one JSON object: what was done, and its longest stall by the clock, by the work of the
process in it, and by the work of the event loop's own thread, [ms]: other programs on the machine stretch the
first most; jobs that run beside the event loop without stopping it are in the second.

With ``--where`` what all threads are doing is written to standard error whenever a beat is late.
"""

from __future__ import annotations

import faulthandler
import json
import os
import sys
import time
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QObject, QPoint, QPointF, Qt, QTimer
from PySide6.QtGui import QWheelEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from debrief.gui.app import make_app
from debrief.gui.background.interpreter import calm_interpreter, put_aside
from debrief.gui.shell.window import Window
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme

BEAT_MS = 2
_LATE_S = 0.04


class Heart(QObject):
    """Beats, and keeps the longest time between two beats of each stage."""

    def __init__(self, where: bool) -> None:
        super().__init__()
        self._where = where
        self.stage = "start"
        self.longest_ms: dict[str, list[float]] = {}
        self._last = time.perf_counter()
        self._last_cpu = time.process_time()
        self._last_own = time.thread_time()
        self._timer = QTimer(self)
        self._timer.setTimerType(Qt.TimerType.PreciseTimer)
        self._timer.setInterval(BEAT_MS)
        self._timer.timeout.connect(self._beat)
        self._timer.start()

    def _beat(self) -> None:
        now, cpu, own = time.perf_counter(), time.process_time(), time.thread_time()
        late = (now - self._last) * 1000 - BEAT_MS
        # What the process did not work itself was taken by other programs.
        worked = min(late, (cpu - self._last_cpu) * 1000)
        loop = min(late, (own - self._last_own) * 1000)
        longest = self.longest_ms.setdefault(self.stage, [0.0, 0.0, 0.0])
        longest[:] = max(longest[0], late), max(longest[1], worked), max(longest[2], loop)
        self._last, self._last_cpu, self._last_own = now, cpu, own
        if self._where:
            faulthandler.dump_traceback_later(_LATE_S)

    def enter(self, stage: str) -> None:
        """Count from now on for another stage."""
        self.settle(30)
        self.stage = stage
        if self._where:
            sys.stderr.write(f"=== {stage}\n")
            sys.stderr.flush()

    def settle(self, ms: int) -> None:
        """Let the event loop run for a while."""
        end = time.perf_counter() + ms / 1000
        while time.perf_counter() < end:
            QApplication.processEvents()
            time.sleep(0.0005)

    def until(self, ready: Callable[[], bool], seconds: float = 120.0) -> None:
        """Let the event loop run until something is so."""
        end = time.perf_counter() + seconds
        while not ready():
            if time.perf_counter() > end:
                raise TimeoutError(self.stage)
            QApplication.processEvents()
            time.sleep(0.0005)


def run(path: Path, where: bool) -> dict[str, list[float]]:
    """Open the file, look at everything, close; return the longest stalls, [ms]."""
    app = make_app()
    theme = Theme("light")
    theme.apply()
    window = Window(theme, Settings())
    theme.use_turns(window.replay.turns)
    window.resize(1400, 900)
    window.show()
    calm_interpreter()
    window.desk.opened.connect(put_aside)
    heart = Heart(where)
    heart.settle(300)
    heart.enter("open the file, to the first picture")
    window.open_path(path)
    heart.until(lambda: window.replay.session is not None)
    heart.settle(300)
    session = window.replay.session
    assert session is not None
    heart.enter("choose findings")
    for _ in range(8):
        window.replay.next_finding()
        heart.settle(40)
    window.replay.frame_all()
    heart.settle(40)
    heart.enter("zoom and pan")
    place = QPointF(600, 300)
    for delta in [120] * 25 + [-120] * 25:
        event = QWheelEvent(place, window.lanes.mapToGlobal(place), QPoint(), QPoint(0, delta),
                            Qt.MouseButton.NoButton, Qt.KeyboardModifier.NoModifier,
                            Qt.ScrollPhase.NoScrollPhase, False)  # fmt: skip
        QApplication.sendEvent(window.lanes, event)
        heart.settle(16)
    heart.enter("measure over hours")
    window.replay.set_mark(60.0)
    window.replay.seek(session.playback.duration_s - 60)
    heart.settle(60)
    window.replay.set_mark(None)
    heart.enter("measure over minutes")
    window.replay.set_mark(600.0)
    window.replay.seek(900.0)
    heart.settle(200)
    window.replay.set_mark(None)
    heart.enter("play at 20 times")
    window.replay.set_rate(20.0)
    window.replay.toggle()
    heart.settle(800)
    window.replay.pause()
    for index, view in enumerate(("starts", "history", "report", "replay")):
        heart.enter(f"the view {view}")
        QTest.keyClick(
            window, Qt.Key(Qt.Key.Key_1.value + (index + 1) % 4), Qt.KeyboardModifier.ControlModifier
        )
        heart.settle(200)
        heart.until(lambda: not window.report.jobs.count and not window.history.jobs.count)
        heart.settle(200)
    heart.enter("one more lane, and one more channel in a lane")
    window.desk.add_lane("np")
    heart.until(lambda: "np" in session.lane_stack.names)
    window.desk.join_lane("itt", "fuel_flow")
    heart.until(lambda: len(session.lane_stack.layout[1].names) == 2)
    heart.settle(60)
    heart.enter("another profile")
    window.requests.use_profile("quill-b2")
    heart.until(lambda: window.replay.session is not session)
    heart.settle(300)
    heart.enter("dark, and larger text")
    theme.choose("dark")
    heart.settle(300)
    theme.set_scale(1.2)
    heart.settle(300)
    heart.enter("close the recording")
    session = None
    window.close_recording()
    heart.settle(300)
    heart.enter("close the window")
    window.close()
    heart.settle(30)
    faulthandler.cancel_dump_traceback_later()
    app.processEvents()
    return heart.longest_ms


if __name__ == "__main__":
    found = run(Path(sys.argv[1]), "--where" in sys.argv)
    sys.stdout.write(json.dumps({k: [round(x, 1) for x in v] for k, v in found.items()}))
