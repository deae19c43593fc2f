"""How long a person waits: ``python -m tests.gui.waits`` does long work in the window, and stops it.

Long flights, thousands of events, a large history, many files: for each work the seconds until progress is seen, the
longest without a change of it, the longest stall of the event loop, the longest from Cancel to the end of the work
(asked at several moments), and from closing the window in its midst to its end. One line of JSON each.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QEventLoop
from PySide6.QtWidgets import QApplication, QProgressBar

from debrief.gui.app import make_app
from debrief.gui.background.interpreter import calm_interpreter
from debrief.gui.shell.window import Window
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from tests.benchmarks.long_flight import write_long_flight
from tests.gui.user import busy

DEMO = Path(__file__).resolve().parents[2] / "demo_flights"
LONGEST_S = 300.0


def new_window() -> Window:
    theme = Theme("light")
    theme.apply()
    window = Window(theme, Settings())
    theme.use_turns(window.replay.turns)
    window.resize(1280, 720)
    window.show()
    calm_interpreter()
    return window


def cancel(window: Window) -> None:
    window.progress.cancel_wanted.emit()


def run(window: Window, work: Callable[[], object], stop_at: float | None = None) -> dict[str, float]:
    """Do it, or stop it after these seconds; return what a person saw, [s]."""
    begun = last = changed = time.monotonic()
    shown = stopped = None
    said: tuple[str, int] = ("", 0)
    silent = stall = 0.0
    work()
    while True:
        now = time.monotonic()
        stall = max(stall, now - last)
        last = now
        progress = window.progress
        here = (progress.words, progress.findChild(QProgressBar).value())
        if progress.words and shown is None:
            shown = now - begun
        if here != said or not progress.words:
            if said[0]:
                silent = max(silent, now - changed)
            said, changed = here, now
        if stop_at is not None and stopped is None and now - begun >= stop_at:
            cancel(window)
            stopped = now
        if not busy(window):
            break
        if now - begun > LONGEST_S:
            raise TimeoutError
        QApplication.processEvents(QEventLoop.ProcessEventsFlag.AllEvents, 5)
        time.sleep(0.001)
    end = time.monotonic()
    out = {
        "whole": end - begun,
        "progress after": -1.0 if shown is None else shown,
        "longest without change": silent,
        "stall": stall,
    }
    if stopped is not None:
        out["cancelled in"] = end - stopped
    return {name: round(value, 2) for name, value in out.items()}


def measured(name: str, prepare: Callable[[Window], Callable[[], object]]) -> None:
    """Do a work to its end, stop it at some moments, close the window in its midst; print what came of it."""
    window = new_window()
    work = prepare(window)
    out = run(window, work)
    window.close()
    whole = out["whole"]
    for share in (0.1, 0.4, 0.8):
        window = new_window()
        work = prepare(window)
        out["cancelled in"] = max(
            out.get("cancelled in", 0.0), run(window, work, share * whole).get("cancelled in", 0.0)
        )
        window.close()
    window = new_window()
    prepare(window)()
    end = time.monotonic() + 0.4 * whole
    while time.monotonic() < end:
        QApplication.processEvents(QEventLoop.ProcessEventsFlag.AllEvents, 5)
    begun = time.monotonic()
    window.close()
    out["closed in"] = round(time.monotonic() - begun, 2)
    print(json.dumps({"work": name, **out}), flush=True)


def settled(window: Window, path: Path) -> None:
    run(window, lambda: window.open_path(path))


def main(folder: Path, only: str) -> None:
    from debrief.history.storage.store import Store
    from tests.history.history_making import series

    make_app()
    hour = write_long_flight(folder / "hour.csv", hours=1.0, columns=20)
    ten = write_long_flight(folder / "ten_hours.csv", hours=10.0, columns=40)
    # A hot start again and again: thousands of events.
    lines = (DEMO / "02_early_fuel_hot.csv").read_text(encoding="utf-8").splitlines()
    head = next(i for i, line in enumerate(lines) if not line.startswith("#"))
    rows = [line.partition(",")[2] for line in lines[head + 1 :]][::4]
    many = [f"{i / 2:g},{row}" for i, row in enumerate(rows * 500)]
    events = folder / "events.csv"
    titles = "Time (s)," + lines[head].partition(",")[2]
    events.write_text("\n".join([*lines[:head], titles, *many]) + "\n", encoding="utf-8")
    files = []
    for i in range(100):
        flight = sorted(DEMO.glob("*.csv"))[i % 19]
        copy = folder / f"{i}_{flight.name}"
        copy.write_text(flight.read_text(encoding="utf-8") + "\n" * (i + 1), encoding="utf-8")
        files.append(str(copy))

    def opening(path: Path) -> Callable[[Window], Callable[[], object]]:
        return lambda window: lambda: window.open_path(path)

    def after_opening(
        path: Path, work: Callable[[Window], Callable[[], object]]
    ) -> Callable[[Window], Callable[[], object]]:
        def prepare(window: Window) -> Callable[[], object]:
            settled(window, path)
            return work(window)

        return prepare

    works: dict[str, Callable[[Window], Callable[[], object]]] = {
        "open an hour at 16 Hz": opening(hour),
        "open ten hours at 16 Hz": opening(ten),
        "open thousands of events": opening(events),
        "starts of ten hours": after_opening(ten, lambda window: window.views.show_starts),
        "report of ten hours": after_opening(ten, lambda window: window.views.show_report),
        "report of thousands of events": after_opening(events, lambda window: window.views.show_report),
        "save the paper of ten hours": after_opening(
            ten, lambda window: lambda: window.report.save("pdf", str(folder / "paper.pdf"))
        ),
        "add a hundred files": lambda window: lambda: window.history.add(files),
    }
    for name, prepare in works.items():
        if only in name:
            measured(name, prepare)
            (folder / "paper.pdf").unlink(missing_ok=True)
    if only in "a history of two thousand flights":
        shutil.rmtree(os.environ["DEBRIEF_HOME"], ignore_errors=True)
        with Store.open() as store:
            for flight in series([742.0 + (index * 7 % 11) - 5 for index in range(2000)]):
                store.keep(flight)
        measured(
            "a history of two thousand flights",
            after_opening(DEMO / "01_cool_normal_start.csv", lambda window: window.views.show_history),
        )


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        os.environ["DEBRIEF_HOME"] = str(Path(made) / "home")
        main(Path(made), sys.argv[1] if len(sys.argv) > 1 else "")
