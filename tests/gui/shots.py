"""Pictures of the window in every state, to look at: ``python tests/gui/shots.py FOLDER [FILE]``.

No test: pictures are judged by eye. Without a file the invented assessments of the tests are shown.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

from PySide6.QtWidgets import QApplication

from debrief.analysis.model import Assessment
from debrief.gui.app import make_app
from debrief.gui.shell.window import Window
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Choice, Theme
from debrief.session.opening.opening_steps import open_recording
from debrief.session.session import Session, prepare
from tests.session import assessment_maker as made

SIZES = {"1280": (1280, 720), "1440": (1440, 900), "1920": (1920, 1080), "2560": (2560, 1440)}


def session_of(assessment: Assessment) -> Session:
    return Session(Path("hot_start.csv"), assessment, prepare(assessment))


def session_from(path: str) -> Session:
    steps = open_recording(path)
    while True:
        try:
            next(steps)
        except StopIteration as done:
            session: Session = done.value
            return session


def shoot(window: Window, file: Path) -> None:
    for _ in range(4):
        QApplication.processEvents()
    window.grab().save(str(file))


def main(folder: Path, recording: str | None) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    app = make_app()
    theme = Theme("light")
    theme.apply()
    window = Window(theme, Settings())
    choices: tuple[Choice, ...] = ("light", "dark")
    for choice in choices:
        theme.choose(choice)
        for name, (width, height) in SIZES.items():
            window.resize(width, height)
            window.show()
            window.replay.show(None)
            shoot(window, folder / f"start_page_{choice}_{name}.png")
            cases = {"hot": made.hot_start, "none": made.without_profile, "many": made.many_events}
            if recording is not None:
                window.replay.show(session_from(recording))
                shoot(window, folder / f"replay_{choice}_{name}.png")
                window.views.show_starts()
                shoot(window, folder / f"starts_{choice}_{name}.png")
                continue
            for case, make in cases.items():
                window.replay.show(session_of(make()))
                shoot(window, folder / f"{case}_{choice}_{name}.png")
            window.replay.show(session_of(made.hot_start()))
            window.views.show_starts()
            shoot(window, folder / f"starts_{choice}_{name}.png")
    window.close()
    app.processEvents()


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2] if len(sys.argv) > 2 else None)
