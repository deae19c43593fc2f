"""Every page, panel and dialog of the window, one after the other, as a person comes to them. No test module."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtWidgets import QApplication, QWidget

from debrief.gui.shell.window import Window
from debrief.gui.widgets.asking import (
    RestQuestion,
    ask_about_unsaved,
    ask_for_channel,
    ask_for_recording,
    ask_for_rest,
)
from debrief.session.session import Session, prepare
from tests.demo_assessing import DEMOS, assessed
from tests.gui.user import User, busy, until

SEVERAL_STARTS = next(path for path in DEMOS if path.stem.startswith("11"))
Place = tuple[str, QWidget]


def settled(window: Window) -> None:
    """Wait until nothing is at work."""
    for _ in range(3):
        until(lambda: not busy(window))
        QApplication.processEvents()


def shown(window: Window, path: Path = SEVERAL_STARTS) -> Session:
    """Put a demo flight on the table."""
    found = assessed(path)
    session = Session(path, found, prepare(found))
    window.replay.show(session)
    settled(window)
    return session


def walk(window: Window, path: Path = SEVERAL_STARTS) -> Iterator[Place]:
    """Give each page and dialog with its name, while it is shown."""
    window.replay.show(None)
    settled(window)
    yield "start page", window
    session = shown(window, path)
    user = User(window)
    yield from _pages(window, user)
    yield from _dialogs(window, user, session)
    yield from _profiles(window)
    window.beside.close_panel()
    window.views.show_replay()
    user.takes("View", "Present on a projector")
    settled(window)
    yield "presentation", window
    window.presentation.leave()
    settled(window)


def _pages(window: Window, user: User) -> Iterator[Place]:
    views = window.views
    window.notebook.add("Fuel came early: see the briefing of the week before", "An instructor", 5.0)
    until(lambda: window.notebook.is_kept)
    views.show_replay()
    settled(window)
    yield "replay", window
    window.beside.explain_verdict()
    settled(window)
    yield "why, verdict", window
    window.replay.next_finding()
    window.beside.explain_finding()
    settled(window)
    yield "why, finding", window
    window.beside.close_panel()
    window.comparing.choose()
    settled(window)
    dialog = user.dialog("Compare with another start")
    yield "compare dialog", dialog.root
    dialog.table("Starts to compare with").clicks(1)
    dialog.clicks("Compare")
    settled(window)
    yield "replay, compared", window
    window.replay.comparison.clear()
    for name, show in (
        ("starts", views.show_starts),
        ("flight", views.show_flight),
        ("history", views.show_history),
        ("report", views.show_report),
    ):
        show()
        if name == "report":
            until(lambda: bool(window.report.pages_view.sharp_pages))
        settled(window)
        yield name, window
        if name == "starts":
            user.clicks("Two starts")
            settled(window)
            yield "two starts", window
        if name == "history":
            user.clicks("Add to history")
            settled(window)
            user.table("Flights in the history").clicks(0)
            settled(window)
            yield "history, a flight", window
    views.show_definitions()
    settled(window)
    yield "definitions", window
    views.show_replay()
    window.messages.tell(
        "The recording cannot be read: the file ends in the midst of a row. Copy it once more."
    )
    settled(window)
    yield "message", window
    window.messages.dismiss()


def _dialogs(window: Window, user: User, session: Session) -> Iterator[Place]:
    opened: tuple[tuple[str, Callable[[], object]], ...] = (
        ("note", window.notes.ask_new),
        ("columns", lambda: window.importer.show_columns(session)),
        ("time above", lambda: window.explaining.show_time_above("itt")),
        ("keys", window.explaining.show_keys),
        ("settings", partial(user.takes, "File", "Settings...")),
        ("open a file", lambda: ask_for_recording(window, str(SEVERAL_STARTS.parent), print)),
        ("add a gauge", lambda: ask_for_channel(window, list(session.recording.channels), print)),
        ("about", window.explaining.show_about),
        ("starter rest", lambda: ask_for_rest(window, RestQuestion("", None), print)),
        ("unsaved", lambda: ask_about_unsaved(window, print)),
    )
    for name, show in opened:
        before = set(_windows())
        show()
        settled(window)
        if name == "columns":
            until(lambda: window.importer.dialog is not None and window.importer.dialog.is_ready)
            settled(window)
        (dialog,) = set(_windows()) - before
        yield name, dialog
        dialog.close()
        settled(window)


def _profiles(window: Window) -> Iterator[Place]:
    window.editing.show()
    editor: Any = window.editing.editor
    kinds: set[str] = set()
    for row in range(editor.list.count()):
        name = editor.list.item(row).text().strip()
        if name.partition(":")[0] in kinds:
            continue
        editor.list.setCurrentRow(row)
        settled(window)
        if editor.list.currentRow() == row:
            kinds.add(name.partition(":")[0])
            yield f"profile editor, {name}", editor
    editor.discard()
    settled(window)
    window.editing.make_new()
    wizard: Any = window.editing.wizard
    questions = User(wizard).table("Questions")
    for row, name in enumerate(questions.choices):
        questions.clicks(row)
        settled(window)
        yield f"wizard, {name.strip()}", wizard
    wizard.discard()
    settled(window)


def _windows() -> list[QWidget]:
    return [one for one in QApplication.topLevelWidgets() if one.isVisible() and one.windowTitle()]
