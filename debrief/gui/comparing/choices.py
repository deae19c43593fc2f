"""The starts that can be compared, wherever they come from: one list for the window."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Signal, Slot

from debrief.analysis.model import Assessment, Start
from debrief.gui.background.error_words import told_of
from debrief.gui.background.jobs import JobReport, Jobs
from debrief.gui.comparing.other_recordings import OtherRecordings
from debrief.gui.replay.replay_controller import Replay
from debrief.session.comparing.compared_start import not_with_itself, start_beside, start_in_play
from debrief.session.comparing.start_curves import Comparable, StartKey, key_of, start_curves
from debrief.session.opening.opening_steps import Progress
from debrief.session.session import Session
from debrief.session.texts.plain_names import itt_unit
from debrief.words.events import OUTCOME_WORDS
from debrief.words.numbers import value_text

if TYPE_CHECKING:
    from debrief.history.service.start_history import EarlierStart, StartsPage

_MOST_READ = 3
"""Recordings whose starts stay at hand."""


@dataclass(frozen=True)
class Choice:
    """A start that is offered; one of a file is read when it is taken, one that cannot be taken says why in its note."""

    words: str
    comparable: Comparable | None = None
    note: str = ""
    is_completed: bool = False
    file: str = ""
    key: StartKey | None = None

    @property
    def is_there(self) -> bool:
        """Whether it can be compared."""
        return self.comparable is not None or bool(self.file)


class Choices(QObject):
    """Offers starts, and lays what was taken behind.

    Signals
    -------
    changed
        There are others.
    chosen
        One was laid behind.
    told : str, bool, str
        A sentence for the user, whether it is a problem, and details to copy.
    """

    changed = Signal()
    chosen = Signal()
    told = Signal(str, bool, str)

    def __init__(self, replay: Replay, others: OtherRecordings, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._others = others
        self.jobs = Jobs(self)
        self._read: list[Assessment] = []
        self._paths: dict[str, Path] = {}
        self._page: StartsPage | None = None
        self._page_of: Assessment | None = None
        self._lays_next = False
        self._wanted: StartKey | None = None
        self._follows_engine = False
        self._asked_of = ""
        self._sought: StartKey | None = None
        self._sought_name = ""
        others.read.connect(self._recording_read)
        others.failed.connect(self._failed)
        self.jobs.succeeded.connect(self._page_read)
        self.jobs.failed.connect(self._page_failed)
        replay.session_changed.connect(self._session_changed)
        replay.comparison.changed.connect(self._comparison_changed)

    def offered(self) -> list[Choice]:
        """Return the starts that can be compared with the one at the playhead."""
        session = self._replay.session
        if session is None:
            return []
        own = session.assessment
        sha256 = own.recording.provenance.sha256
        in_play = start_in_play(own.starts, session.engine, self._replay.position_s)
        mine = [one for one in own.starts if one is not in_play]
        mine.sort(key=lambda one: one.engine != session.engine)  # the same engine's first
        found = [_choice(own, one, _engine(own, one, f"Start {one.number}")) for one in mine]
        for other in self._read:
            if other.recording.provenance.sha256 != sha256:
                file = other.recording.provenance.file_name
                found += [
                    _choice(other, one, _engine(other, one, f"{file}, start {one.number}"))
                    for one in other.starts
                ]
        page = self._page if self._page_of is own else None
        if page is None or in_play is None:
            return found
        usual = page.usual_starts.get((in_play.engine, in_play.number))
        if usual is not None:
            there = None if usual.problem else usual
            found.append(Choice("The usual start of this engine", there, usual.problem))
        there_already = {one.key for one in found}
        return found + [one for one in map(_earlier_choice, page.earlier) if one.key not in there_already]

    def path_of(self, sha256: str) -> Path | None:
        """Return where a recording that was read lies; None where it was not."""
        return self._paths.get(sha256)

    def take(self, choice: Choice) -> None:
        """Lay a start behind; one of a file when it is read."""
        if choice.comparable is not None:
            self._lay(choice.comparable)
        elif choice.file and choice.key is not None:
            self.read(choice.file, choice.key)

    def _lay(self, comparable: Comparable) -> None:
        self._follows_engine = comparable.key is None
        self._replay.comparison.choose(comparable)
        self.chosen.emit()

    def read(self, path: str | Path, wanted: StartKey | None = None) -> None:
        """Read another recording and lay a start of it behind: the wanted one, else the first that was completed."""
        session = self._replay.session
        if str(path) and session is not None:
            self._lays_next, self._wanted = True, wanted
            self._others.load(path, session.assessment.units, "" if wanted is None else wanted[0])

    def lay_again(self, key: StartKey | None, path: str, name: str) -> None:
        """Lay a start behind that was before: of this recording, of a file, of the history; None: the usual one."""
        session = self._replay.session
        if session is None or not session.assessment.starts:
            return
        own = {key_of(session.assessment, one): one for one in session.assessment.starts}
        if key is None:
            self._follows_engine = True
            self.ask_history()
        elif key in own:
            self._lay(start_curves(session.assessment, own[key]))
        elif path and Path(path).is_file():
            self.read(path, key)
        else:
            self._sought, self._sought_name = key, name
            self.ask_history()

    def ask_history(self) -> None:
        """Ask the history for the engine's earlier starts and its usual one."""
        session = self._replay.session
        if session is not None and session.assessment.starts:
            self._asked_of = session.recording.provenance.sha256
            self.jobs.start("history", partial(_page_steps, session.assessment))

    def close(self) -> None:
        """Stop everything and wait for it."""
        self.jobs.close()

    @Slot()
    def _comparison_changed(self) -> None:
        if self._replay.comparison.chosen is None:
            self._follows_engine = False

    @Slot()
    def _session_changed(self) -> None:
        """Ask again for a recording that was judged anew, and where the usual start of the one before was compared."""
        session = self._replay.session
        if session is None:
            return
        is_judged_anew = session.recording.provenance.sha256 == self._asked_of
        if is_judged_anew or (self._follows_engine and self._replay.comparison.chosen is None):
            self.ask_history()

    @Slot(object)
    def _recording_read(self, session: Session) -> None:
        assessment = session.assessment.canonical
        sha256 = assessment.recording.provenance.sha256
        self._paths[sha256] = session.path
        kept = [one for one in self._read if one.recording.provenance.sha256 != sha256]
        self._read = [assessment, *kept][:_MOST_READ]
        if self._lays_next:
            self._lays_next = False
            start = start_beside(assessment, self._key_in_play(), self._wanted)
            if start is None:
                self.told.emit(not_with_itself(session.path.name), True, "")
            else:
                self._lay(start_curves(assessment, start))
        self.changed.emit()

    def _key_in_play(self) -> StartKey | None:
        session = self._replay.session
        if session is None:
            return None
        start = start_in_play(session.assessment.starts, session.engine, self._replay.position_s)
        return None if start is None else key_of(session.assessment, start)

    @Slot()
    def _failed(self) -> None:
        self._lays_next = False

    @Slot(object)
    def _page_read(self, report: JobReport) -> None:
        assessment, page = report.value
        session = self._replay.session
        if session is None or session.assessment is not assessment:
            return
        self._page_of, self._page = assessment, page
        if self._follows_engine and self._replay.comparison.chosen is None:
            self._follow_engine(session, page)
        sought, self._sought = self._sought, None
        if sought is not None and self._replay.comparison.chosen is None:
            found = [one.curves for one in page.earlier if (one.sha256, one.engine, one.number) == sought]
            if found and found[0] is not None:
                self._lay(found[0])
            else:
                self.told.emit(
                    f"{self._sought_name}, which this recording was compared with, is no longer there: compare (C) "
                    "opens it from where it is now.",
                    False,
                    "",
                )
        self.changed.emit()

    def _follow_engine(self, session: Session, page: StartsPage) -> None:
        start = start_in_play(session.assessment.starts, session.engine, self._replay.position_s)
        usual = page.usual_starts.get((start.engine, start.number)) if start is not None else None
        if usual is not None and not usual.problem:
            self._lay(usual)
        elif usual is not None:
            self._follows_engine = False
            self.told.emit(usual.problem, False, "")

    @Slot(object)
    def _page_failed(self, report: JobReport) -> None:
        assert report.error is not None
        words, details = told_of(report.error)
        self.told.emit(words, True, details)


def _page_steps(assessment: Assessment) -> Generator[Progress, None, tuple[Assessment, StartsPage]]:
    from debrief.history.service.start_history import own_starts_page

    yield Progress("Looking into the history")
    return assessment, own_starts_page(assessment)


def _engine(assessment: Assessment, start: Start, name: str) -> str:
    return f"{name} of engine {start.engine}" if assessment.recording.has_several_engines else name


def _choice(assessment: Assessment, start: Start, name: str) -> Choice:
    peak = f", peak {value_text(start.peak_itt_c, itt_unit(start))}" if start.peak_itt_c is not None else ""
    return Choice(
        f"{name}: {OUTCOME_WORDS[start.outcome].lower()}{peak}",
        start_curves(assessment, start),
        is_completed=start.outcome == "completed",
        key=key_of(assessment, start),
    )


def _earlier_choice(one: EarlierStart) -> Choice:
    peak = f", peak {value_text(one.peak_c, one.peak_unit)}" if one.peak_c is not None else ""
    outcome = OUTCOME_WORDS.get(one.outcome, one.outcome).lower()
    words = f"{one.date or 'undated'}, {one.file_name}, start {one.number}: {outcome}{peak}"
    key = (one.sha256, one.engine, one.number)
    is_completed = one.outcome == "completed"
    if one.curves is not None:
        return Choice(words, one.curves, is_completed=is_completed, key=key)
    if one.is_there:
        return Choice(words, is_completed=is_completed, file=one.path, key=key)
    note = (
        f"{one.file_name} is no longer where it was when it was kept, {one.path or 'an unknown folder'}, and its traces "
        "are not in the history. Another recording opens it from where it is now."
    )
    return Choice(words, note=note, is_completed=is_completed, key=key)
