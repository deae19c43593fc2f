"""What is done to the recording on the table, off the event loop: open, assess again, more lanes."""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, Signal, Slot

from debrief.gui.background.error_words import told_of
from debrief.gui.background.jobs import JobReport, Jobs
from debrief.gui.replay.replay_controller import Replay
from debrief.history.service.earlier_flights import known_if_any, remember_rest
from debrief.recording.model import Recording
from debrief.session.assessing.file_assessment import Choices
from debrief.session.assessing.starter_rest import Known, runs_before
from debrief.session.importing.import_opening import Unsure
from debrief.session.lanes.lane_stack import LaneData, LaneRow, prepare_lane
from debrief.session.opening.opening_steps import (
    Progress,
    assess_recording,
    open_recording,
    show_engine,
    show_units,
)
from debrief.session.session import Session
from debrief.words.channels import within_sentence
from debrief.words.display_units import ShownUnits

Opener = Callable[..., Generator[Any, None, Session]]
_JOBS = ("open", "lane", "units", "flights", "again")


class Desk(QObject):
    """Starts the long jobs and hands their results to the replay; what went wrong it tells.

    Parameters
    ----------
    replay : Replay
        Gets what was opened.
    opener : callable
        Makes the generator that opens a path; injected so that a test can be slow or fail.
    layout : callable
        Returns the lanes that are remembered; none: the usual ones.
    units : callable
        Returns the units in which numbers are shown.
    known : callable
        Tells what is known of the time before a recording; may read the history.

    Signals
    -------
    opened : Session
        A recording, or the same one judged anew, is on the table.
    progressed : Progress or None
        What is being done; None when it has ended.
    told : str, bool, str
        A sentence for the user, whether it is a problem, and details to copy.
    coming
        A recording is ready and will be on the table in the next turn of the event loop.
    unsure : FileProposal
        The file that was to be opened has to be asked about first.
    """

    opened = Signal(object)
    progressed = Signal(object)
    told = Signal(str, bool, str)
    coming = Signal()
    unsure = Signal(object)

    def __init__(
        self,
        replay: Replay,
        opener: Opener = open_recording,
        parent: QObject | None = None,
        layout: Callable[[], Sequence[LaneRow]] = tuple,
        units: Callable[[], ShownUnits] = ShownUnits,
        known: Callable[[Recording], Known] = known_if_any,
    ) -> None:
        super().__init__(parent)
        self.is_in_place = False
        """Whether the recording that is shown now was on the table already: who reads stays where they are."""
        self.jobs = Jobs(self)
        self._replay = replay
        self._opener = opener
        self._layout = layout
        self._units = units
        self._known = known
        self._ready: Session | None = None
        self.jobs.advanced.connect(self.progressed)
        self.jobs.succeeded.connect(self._job_succeeded)
        self.jobs.failed.connect(self._job_failed)

    def open(self, path: Path) -> None:
        """Open a recording; what is shown stays until it is ready."""
        self._begin("open", f"Opening {path.name}", self.arranged(partial(self._opener, path)))

    def use_profile(self, name: str) -> None:
        """Assess the open recording again with this profile."""
        session = self._replay.session
        if session is not None:
            self._assess_again(session, replace(session.choices, profile=name))

    def use_starter_rest(self, said: Choices) -> None:
        """Assess the open recording again with what these choices say of the starter's rest, and keep that."""
        session = self._replay.session
        if session is None:
            return
        rests = said.starter_rest_s, said.starter_rests
        choices = replace(session.choices, starter_rest_s=rests[0], starter_rests=rests[1])
        again = partial(_with_rest, session, choices, self._known)
        self._begin("open", "Assessing", self.arranged(again))

    @Slot()
    def look_at_flights(self) -> None:
        """Assess the open recording again where the flights kept tell something else of the time before it."""
        session = self._replay.session
        if session is not None and not self.jobs.is_running("open"):
            self.jobs.start("flights", partial(_flights_steps, session, self._known))

    def _assess_again(self, session: Session, choices: Choices) -> None:
        again = partial(assess_recording, session.path, session.source, choices, self._known)
        self._begin("open", "Assessing", self.arranged(again))

    def show_engine(self, engine: int) -> None:
        """Show another engine of the open recording."""
        session = self._replay.session
        if session is not None and engine != session.engine:
            work = self.arranged(partial(show_engine, session, engine))
            self._begin("open", f"Preparing engine {engine}", work)

    def arranged(
        self, work: Callable[[], Generator[Any, None, Session]]
    ) -> Callable[[], Generator[Any, None, Session]]:
        """Return the work with more steps: the units that were chosen, and the lanes as they are remembered."""
        return partial(_arranged, work, tuple(self._layout()), self._units())

    @Slot()
    def use_units(self) -> None:
        """Show the open recording in the units that are chosen now."""
        session = self._replay.session
        if session is not None:
            self._begin("units", "Preparing the units", self.arranged(partial(_as_it_is, session)))

    @Slot(str)
    def add_lane(self, name: str) -> None:
        """Show one more channel in a lane of its own."""
        self._prepare_lane(name, None)

    @Slot(str, str)
    def join_lane(self, lane: str, name: str) -> None:
        """Show one more channel in a lane that is there."""
        self._prepare_lane(name, lane)

    def _prepare_lane(self, name: str, into: str | None) -> None:
        session = self._replay.session
        if session is not None:
            words = f"Preparing {within_sentence(session.names.words(name))}"
            self._begin("lane", words, partial(_lane_steps, session, name, into))

    def _begin(self, name: str, words: str, work: Callable[[], Generator[Any, None, Any]]) -> None:
        self.progressed.emit(Progress(words))
        self.jobs.start(name, work)

    @Slot()
    def cancel(self) -> None:
        """Stop what is running; what it still says is dropped."""
        for name in _JOBS:
            self.jobs.cancel(name)
        self.progressed.emit(None)

    def close(self) -> None:
        """Stop everything and wait for it."""
        self.jobs.close()

    @Slot(object)
    def _job_succeeded(self, report: JobReport) -> None:
        if report.name not in ("lane", "flights"):
            self.progressed.emit(None)
        if report.name == "open":
            self.receive(report.value)
        elif report.name == "flights":
            looked_at: Session = report.value[0]
            if report.value[1] and looked_at is self._replay.session and not self.jobs.is_running("open"):
                again = partial(_in_place, looked_at, looked_at.choices, self._known)
                self._begin("again", "Assessing", self.arranged(again))
        elif report.name in ("units", "again"):
            self.is_in_place = True
            try:
                self._replay.show(report.value)
            finally:
                self.is_in_place = False
        elif report.name == "lane":
            session, lane, into = report.value
            if session is self._replay.session and into is None:
                self._replay.add_lane(lane)
            elif session is self._replay.session:
                self._replay.join_lane(into, lane)
            # What lies below the progress is painted when the lanes' picture is there, not twice.
            self._replay.turns.take(self._end_progress)

    @Slot()
    def _end_progress(self) -> None:
        if not any(self.jobs.is_running(name) for name in _JOBS):
            self.progressed.emit(None)

    @Slot(object)
    def receive(self, session: Session) -> None:
        """Put a recording that is ready on the table, in the next turn of the event loop.

        The page for it is laid out in this one.
        """
        self._ready = session
        self.coming.emit()
        self._replay.turns.take(self._show_ready)

    @Slot()
    def _show_ready(self) -> None:
        session, self._ready = self._ready, None
        if session is not None:
            self._replay.show(session)
            self.opened.emit(session)

    @Slot(object)
    def _job_failed(self, report: JobReport) -> None:
        self.progressed.emit(None)
        if isinstance(report.error, Unsure):
            self.unsure.emit(report.error.proposal)
        elif report.error is not None:
            self.tell_bug(report.error)

    def tell_bug(self, error: BaseException) -> None:
        """Say what went wrong; a fault of the program is logged, and the window goes on."""
        words, details = told_of(error)
        self.told.emit(words, True, details)


def _lane_steps(
    session: Session, name: str, into: str | None
) -> Generator[Progress, None, tuple[Session, LaneData, str | None]]:
    yield Progress(f"Preparing {within_sentence(session.names.words(name))}")
    return session, prepare_lane(session.assessment, name, session.engine), into


def _in_place(
    session: Session, choices: Choices, known: Callable[[Recording], Known]
) -> Generator[Any, None, Session]:
    """Assess a recording again and stay where the reader is."""
    out = yield from assess_recording(session.path, session.source, choices, known)
    if session.engine != out.engine:
        out = yield from show_engine(out, session.engine)
    out.playback.seek(session.playback.position_s)
    out.framing.frame(session.framing.begin_s, session.framing.end_s)
    return out


def _with_rest(
    session: Session, choices: Choices, known: Callable[[Recording], Known]
) -> Generator[Any, None, Session]:
    yield Progress("Assessing")
    remember_rest(session.recording.provenance.sha256, choices.starter_rest_s, choices.starter_rests)
    return (yield from _in_place(session, choices, known))


def _flights_steps(
    session: Session, known: Callable[[Recording], Known]
) -> Generator[None, None, tuple[Session, bool]]:
    """Return whether the flights kept tell something else than the assessment was made with."""
    yield None
    found = known(session.source)
    said = session.choices.knowing(found)
    runs = runs_before(session.source, found.runs, said.starter_rest_s, said.starter_rests)
    return session, runs != session.assessment.context


def _as_it_is(session: Session) -> Generator[Any, None, Session]:
    yield Progress("Preparing the units")
    return session


def _arranged(
    work: Callable[[], Generator[Any, None, Session]], rows: Sequence[LaneRow], units: ShownUnits
) -> Generator[Any, None, Session]:
    session = yield from show_units((yield from work()), units)
    if rows:
        yield Progress("Preparing the lanes")
        session.arrange_lanes(rows)
    return session
