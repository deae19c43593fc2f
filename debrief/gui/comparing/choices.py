"""The starts that can be compared, wherever they come from: one list for the window."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QObject, Signal, Slot

from debrief.analysis.model import Assessment, Start
from debrief.gui.comparing.other_recordings import OtherRecordings
from debrief.gui.replay.replay_controller import Replay
from debrief.session.comparing.compared_start import start_in_play
from debrief.session.comparing.start_curves import Comparable, start_curves
from debrief.session.session import Session
from debrief.session.texts.plain_names import itt_unit
from debrief.words.events import OUTCOME_WORDS
from debrief.words.numbers import value_text

_MOST_READ = 3
"""Recordings whose starts stay at hand."""


@dataclass(frozen=True)
class Choice:
    """A start that is offered; one that cannot be taken says why in its note."""

    words: str
    comparable: Comparable | None = None
    note: str = ""
    is_completed: bool = False

    @property
    def is_there(self) -> bool:
        """Whether it can be compared."""
        return self.comparable is not None


class Choices(QObject):
    """Offers starts, and lays what was taken behind.

    Signals
    -------
    changed
        There are others.
    chosen
        One was laid behind.
    """

    changed = Signal()
    chosen = Signal()

    def __init__(self, replay: Replay, others: OtherRecordings, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._others = others
        self._read: list[Assessment] = []
        self._paths: dict[str, Path] = {}
        self._lays_next = False
        others.read.connect(self._recording_read)
        others.failed.connect(self._failed)

    def offered(self) -> list[Choice]:
        """Return the starts that can be compared with the one at the playhead."""
        session = self._replay.session
        if session is None:
            return []
        own = session.assessment
        sha256 = own.recording.provenance.sha256
        in_play = start_in_play(own.starts, session.engine, self._replay.position_s)
        found = [
            _choice(own, one, f"Start {one.number}")
            for one in own.starts
            if one.engine == session.engine and one is not in_play
        ]
        for other in self._read:
            if other.recording.provenance.sha256 != sha256:
                file = other.recording.provenance.file_name
                found += [_choice(other, one, f"{file}, start {one.number}") for one in other.starts]
        return found

    def path_of(self, sha256: str) -> Path | None:
        """Return where a recording that was read lies; None where it was not."""
        return self._paths.get(sha256)

    def take(self, choice: Choice) -> None:
        """Lay a start behind."""
        if choice.comparable is not None:
            self._replay.comparison.choose(choice.comparable)
            self.chosen.emit()

    def read(self, path: str | Path) -> None:
        """Read another recording and lay its best start behind: the first that was completed, else its first."""
        session = self._replay.session
        if str(path) and session is not None:
            self._lays_next = True
            self._others.load(path, session.assessment.units)

    @Slot(object)
    def _recording_read(self, session: Session) -> None:
        assessment = session.assessment.canonical
        sha256 = assessment.recording.provenance.sha256
        self._paths[sha256] = session.path
        kept = [one for one in self._read if one.recording.provenance.sha256 != sha256]
        self._read = [assessment, *kept][:_MOST_READ]
        if self._lays_next:
            self._lays_next = False
            completed = [one for one in assessment.starts if one.outcome == "completed"]
            start = next(iter(completed), assessment.starts[0])
            self._replay.comparison.choose(start_curves(assessment, start))
            self.chosen.emit()
        self.changed.emit()

    @Slot()
    def _failed(self) -> None:
        self._lays_next = False


def _choice(assessment: Assessment, start: Start, name: str) -> Choice:
    peak = f", peak {value_text(start.peak_itt_c, itt_unit(start))}" if start.peak_itt_c is not None else ""
    return Choice(
        f"{name}: {OUTCOME_WORDS[start.outcome].lower()}{peak}",
        start_curves(assessment, start),
        is_completed=start.outcome == "completed",
    )
