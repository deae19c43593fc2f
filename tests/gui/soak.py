"""Whether the window grows: ``python -m tests.gui.soak [OPENINGS [FLIGHTS]]`` opens recordings, demo flights in turn.

Between them it looks at all views, opens dialogs, stops an opening in the midst, opens what is refused. After each
round of all flights it counts what is there: objects of Python that live, those that only the collector could free
(they would stay for good, since what is there when a recording was opened is put aside), widgets, and the
resident memory. Prints one line for each round, then growth for each hundred openings, over the second half.
"""

from __future__ import annotations

import collections
import gc
import json
import os
import sys
import tempfile
from collections.abc import Callable
from dataclasses import asdict, dataclass
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QApplication

from debrief.gui.app import make_app
from debrief.gui.background.interpreter import calm_interpreter, put_aside
from debrief.gui.shell.window import Window
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from tests.gui.user import busy, until

DEMO = Path(__file__).resolve().parents[2] / "demo_flights"
WAIT_S = 60


@dataclass(frozen=True)
class Count:
    """What was there after so many openings."""

    openings: int
    objects: int
    frozen: int
    dead: int
    widgets: int
    rss_mb: float


class Soak:
    """One window, used again and again."""

    def __init__(self) -> None:
        self.app = make_app()
        theme = Theme("light")
        theme.apply()
        self.window = Window(theme, Settings())
        theme.use_turns(self.window.replay.turns)
        self.window.resize(1280, 720)
        self.window.show()
        calm_interpreter()
        self.window.desk.opened.connect(put_aside)
        self.openings = 0
        self.kinds: collections.Counter[str] = collections.Counter()

    def settle(self) -> None:
        until(lambda: not busy(self.window), WAIT_S)
        QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)

    def open(self, path: Path) -> None:
        before = self.window.replay.session
        self.window.open_path(path)
        until(lambda: self.window.replay.session is not before and self.window.replay.session is not None)
        self.openings += 1
        self.settle()

    def round(self, flights: list[Path], broken: Path) -> None:
        """Open all flights once, and use the window."""
        window = self.window
        for index, flight in enumerate(flights):
            self.open(flight)
            for show in (window.views.show_starts, window.views.show_history, window.views.show_report):
                show()
                self.settle()
            window.views.show_replay()
            window.replay.next_finding()
            if index % 4 == 0:
                window.beside.explain_verdict()
                self.settle()
                window.beside.close_panel()
            if index % 4 == 1:
                window.open_path(broken)
                until(lambda: window.messages.words)
                window.messages.dismiss()
            if index % 4 == 2:
                window.open_path(flights[0])
                QApplication.processEvents()
                window.desk.cancel()
            if index % 8 == 3:
                assert window.replay.session is not None
                window.importer.show_columns(window.replay.session)
                until(lambda: window.importer.dialog is not None and window.importer.dialog.is_ready)
                assert window.importer.dialog is not None
                window.importer.dialog.reject()
            self.settle()
        window.notebook.undo_stack.clear()

    def count(self) -> Count:
        """Count all that is there; what was put aside is put aside again."""
        frozen = gc.get_freeze_count()
        gc.unfreeze()
        dead = gc.collect()
        there = gc.get_objects()
        self.kinds = collections.Counter(f"{type(one).__module__}.{type(one).__qualname__}" for one in there)
        objects = len(there)
        del there
        widgets = len(QApplication.allWidgets())
        gc.freeze()
        return Count(self.openings, objects, frozen, dead, widgets, _rss_mb())


def _rss_mb() -> float:
    """Return the resident memory (Linux; 0 elsewhere)."""
    try:
        pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    except OSError:
        return 0.0
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def growth(counts: list[Count]) -> dict[str, float]:
    """Return what came for each hundred openings, over the second half: the first still fills what is kept ready."""
    half = counts[len(counts) // 2 :] if len(counts) > 3 else counts[1:]
    first, last = half[0], half[-1]
    openings = last.openings - first.openings
    return {
        name: round(100 * (getattr(last, name) - getattr(first, name)) / openings, 1)
        for name in ("objects", "frozen", "widgets", "rss_mb")
    } | {"dead": round(100 * sum(one.dead for one in half[1:]) / openings, 1)}


def soak(openings: int, flights: list[Path], say: Callable[[str], None] = print) -> dict[str, float]:
    """Open so many recordings, in whole rounds; return the growth for each hundred."""
    with tempfile.TemporaryDirectory() as folder:
        broken = Path(folder) / "broken.csv"
        broken.write_text("no, table\nat all\n", encoding="utf-8")
        soaked = Soak()
        counts: list[Count] = []
        kinds: list[collections.Counter[str]] = []
        while soaked.openings < openings or len(counts) < 3:
            soaked.round(flights, broken)
            counts.append(soaked.count())
            kinds.append(soaked.kinds)
            say(json.dumps(asdict(counts[-1])))
        middle = kinds[len(kinds) // 2] if len(kinds) > 3 else kinds[1]
        more = {name: count - middle[name] for name, count in kinds[-1].items() if count > middle[name] + 20}
        if more:
            say(json.dumps({"more of": more}))
        soaked.window.close()
        return growth(counts)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as home:
        os.environ["DEBRIEF_HOME"] = home
        wanted, of = (int(sys.argv[i]) if len(sys.argv) > i else usual for i, usual in ((1, 300), (2, 100)))
        print(json.dumps({"growth for each hundred openings": soak(wanted, sorted(DEMO.glob("*.csv"))[:of])}))
