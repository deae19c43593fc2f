"""What is asked of the user, and what is begun with the answer: open, judge otherwise, save."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtGui import QUndoCommand, QUndoStack
from PySide6.QtWidgets import QWidget

from debrief.analysis.rules.starter_duty import REST_BEFORE
from debrief.errors import UserError
from debrief.gui.background.guarded import guarded
from debrief.gui.importing.importer import Importer
from debrief.gui.menus.recent import RecentFiles
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.report.report_view import ReportView
from debrief.gui.shell.open_jobs import Desk
from debrief.gui.widgets.asking import Askers, RestQuestion, typed_rest_s
from debrief.gui.widgets.message_bar import MessageBar
from debrief.session.assessing.file_assessment import Choices
from debrief.session.assessing.starter_rest import FIRST_START_TODAY_S
from debrief.session.session import Session
from debrief.words.numbers import length_text


class Requests(QObject):
    """Asks, and starts what was asked for.

    Signals
    -------
    files_chosen : list of str
        Recordings to open, of which two are compared.
    keep_wanted : list of str
        Recordings to add to the history.
    """

    files_chosen = Signal(list)
    keep_wanted = Signal(list)

    def __init__(
        self,
        window: QWidget,
        askers: Askers,
        recent: RecentFiles,
        replay: Replay,
        desk: Desk,
        importer: Importer,
        report: ReportView,
        messages: MessageBar,
        undo_stack: QUndoStack,
    ) -> None:
        super().__init__(window)
        self._window = window
        self._askers = askers
        self._recent = recent
        self._replay = replay
        self._desk = desk
        self._importer = importer
        self._report = report
        self._messages = messages
        self._undo_stack = undo_stack

    @Slot()
    def ask_open(self) -> None:
        """Ask for a recording, or for two that are compared, and open it."""
        self._askers.files(self._window, "", self.files_chosen.emit)

    @Slot(str)
    def open_path(self, path: str | Path) -> None:
        """Open a recording in the background; what is shown stays until it is ready."""
        if str(path):
            self._messages.dismiss()
            self._desk.open(Path(path))

    def open_first(self, files: Sequence[str]) -> None:
        """Open the first of these files; of the others say that they are ignored, and offer to keep them."""
        self.open_path(files[0])
        others = list(files[1:])
        if others:
            self._messages.tell_offer(
                f"Opened {Path(files[0]).name}; {len(others)} others ignored.",
                "Add the others to the &history",
                partial(self.keep_wanted.emit, others),
            )

    @Slot(str)
    def open_recent(self, path: str) -> None:
        """Open a recording that was open before; offer to take it off the list where it is missing."""
        if Path(path).is_file():
            self.open_path(path)
            return
        self._messages.tell_offer(
            f"{Path(path).name} is not in {Path(path).parent} any more.",
            "&Remove it from Recent",
            partial(self._recent.remove, path),
            problem=True,
        )

    @Slot()
    def open_demo(self) -> None:
        """Open the invented hot start."""
        from debrief.report.formats.demo import demo_flight

        try:
            self.open_path(demo_flight())
        except UserError as error:
            self._messages.tell(str(error))

    @Slot(str)
    def use_profile(self, name: str) -> None:
        """Assess the open recording again with this profile."""
        self._messages.dismiss()
        self._desk.use_profile(name)

    @Slot()
    def show_columns(self) -> None:
        """Show what the columns of the open recording were taken for, to correct it."""
        session = self._replay.session
        if session is not None:
            self._messages.dismiss()
            self._importer.show_columns(session)

    @Slot()
    def ask_starter_rest(self) -> None:
        """Ask how long the starter of the engine in view had rested before the recording, and judge with it."""
        session = self._replay.session
        if session is not None:
            engine = _engine_asked(session)
            known = session.choices.rest_of(session.engine if engine is None else engine)
            question = RestQuestion("" if known is None else length_text(known), engine)
            self._askers.rest(self._window, question, partial(self._use_typed_rest, engine))

    @Slot()
    def tell_first_start(self) -> None:
        """Judge the recording as the first start of the day: the starter had rested over night."""
        session = self._replay.session
        if session is not None:
            self.tell_starter_rest(_engine_asked(session), FIRST_START_TODAY_S)

    def _use_typed_rest(self, engine: int | None, text: str) -> None:
        try:
            self.tell_starter_rest(engine, typed_rest_s(text))
        except UserError as error:
            self._messages.tell(str(error))

    @Slot(object, float)
    def tell_starter_rest(self, engine: int | None, seconds: float | None) -> None:
        """Judge the recording with this rest before it, and keep that; it can be undone. None: nobody knows."""
        session = self._replay.session
        if session is not None:
            self._messages.dismiss()
            after = session.choices.with_rest(engine, seconds)
            self._undo_stack.push(_Rest(self._desk, session.choices, after))

    @Slot()
    def ask_save_report(self) -> None:
        """Ask for a name and write the report there."""
        session = self._replay.session
        if session is not None:
            self._askers.report(self._window, str(session.path.with_suffix(".pdf")), self._save_report)

    @Slot(str)
    def _save_report(self, path: str) -> None:
        if path:
            self._messages.dismiss()
            self._report.save("pdf", path)


def _engine_asked(session: Session) -> int | None:
    """Return which engine a question of the rest is about: the one in view, or another while that one's alone is open.

    None where there is one engine.
    """
    if len(session.recording.engines) < 2:
        return None
    is_open = {item.engine for item in session.assessment.not_judged if item.what == REST_BEFORE}
    return session.engine if session.engine in is_open else min(is_open, default=session.engine)


class _Rest(QUndoCommand):
    """What a person says of the starter's rest, in place of what was said before."""

    def __init__(self, desk: Desk, before: Choices, after: Choices) -> None:
        super().__init__("Starter rest")
        self._desk = desk
        self._before = before
        self._after = after

    @guarded()
    def redo(self) -> None:
        """Judge with it."""
        self._desk.use_starter_rest(self._after)

    @guarded()
    def undo(self) -> None:
        """Judge as before."""
        self._desk.use_starter_rest(self._before)
