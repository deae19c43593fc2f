"""A window for each test, with everything asked of the user answered by the test."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtWidgets import QApplication

from debrief.analysis.model import Assessment
from debrief.gui.shell.open_jobs import Opener
from debrief.gui.shell.window import Window
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.asking import Askers
from debrief.session.opening.opening_steps import Progress
from debrief.session.session import Session, prepare
from tests.gui.user import User
from tests.session import assessment_maker as made


class Clock:
    """Time that only the test moves."""

    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


def answering(answers: dict[str, Any]) -> Askers:
    """Return askers that answer at once, each with what stands in `answers` under its name, or not at all.

    An answer that can be called gets what is suggested, and returns the answer.
    """

    def asker(name: str) -> Callable[..., None]:
        def ask(parent: object, suggested: object, answer: Callable[..., None]) -> None:
            if name in answers:
                given = answers[name]
                given = given(suggested) if callable(given) else given
                answer(*([] if given is None else [given]))

        return ask

    return Askers(**{one.name: asker(one.name) for one in fields(Askers)})


class Desk:
    """The window under test, and the answers to what it asks."""

    def __init__(self, qtbot) -> None:
        self.clock = Clock()
        self.opener: Opener = self._open
        """What opens a recording; `_open` gives one of `assessments`, by its name."""
        self.assessments: dict[str, Assessment | Exception] = {}
        self.answers: dict[str, Any] = {}
        app = QApplication.instance()
        app.setStyle("Fusion")
        self.theme = Theme("light")
        self.theme.apply()
        # Each part of the window is styled whenever it is put into another: three times the work for one look.
        sheet = app.styleSheet()
        app.setStyleSheet("")
        self.window = Window(
            self.theme,
            Settings(),
            answering(self.answers),
            opener=lambda path, *choices: self.opener(path, *choices),
        )
        app.setStyleSheet(sheet)
        qtbot.addWidget(self.window)
        self.window.resize(1280, 720)
        self.window.show()
        self.user = User(self.window)
        qtbot.waitExposed(self.window)
        self._qtbot = qtbot

    def _open(self, path: Path, profile=None):
        yield Progress("Reading", 0.1)
        found = self.assessments.get(path.name, made.hot_start())
        if isinstance(found, Exception):
            raise found
        yield Progress("Assessing", 0.8)
        return Session(path, found, prepare(found), clock=self.clock)

    def show(self, assessment: Assessment) -> Session:
        """Put an assessment on the table at once."""
        session = Session(Path("made.csv"), assessment, prepare(assessment), clock=self.clock)
        self.window.replay.show(session)
        QApplication.processEvents()
        return session

    def opened(self) -> Session:
        """Wait until a recording is on the table."""
        self._qtbot.waitUntil(lambda: self.window.replay.session is not None, timeout=5000)
        return self.window.replay.session


@pytest.fixture
def desk(qtbot):
    made_desk = Desk(qtbot)
    yield made_desk
    made_desk.window.close()
    made_desk.window.deleteLater()
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
