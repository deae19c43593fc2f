"""Other recordings whose starts can be compared: read in the background, kept while the window is open."""

from __future__ import annotations

from collections.abc import Generator
from functools import partial
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, Signal, Slot

from debrief.gui.background.error_words import told_of
from debrief.gui.background.jobs import JobReport, Jobs
from debrief.session.importing.import_opening import Unsure, open_or_ask
from debrief.session.opening.opening_steps import Progress, show_units
from debrief.session.session import Session
from debrief.words.display_units import ShownUnits

_UNSURE = (
    "That recording leaves questions about its columns: open it by itself first, answer them and let them be "
    "remembered."
)


class OtherRecordings(QObject):
    """Reads one recording at a time.

    Signals
    -------
    read : Session
        A recording that has starts was read.
    failed
        It was not; why was told.
    told : str, bool, str
        A sentence for the user, whether it is a problem, and details to copy.
    progressed : Progress or None
        Of the reading; None when it has ended.
    """

    read = Signal(object)
    failed = Signal()
    told = Signal(str, bool, str)
    progressed = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.jobs = Jobs(self)
        self._wanted_sha256 = ""
        self.jobs.progressed.connect(self._job_progressed)
        self.jobs.succeeded.connect(self._job_succeeded)
        self.jobs.failed.connect(self._job_failed)

    def load(self, path: str | Path, units: ShownUnits, sha256: str = "") -> None:
        """Read a recording, in the units of the one that it is compared with.

        With `sha256` it is told, and not taken, where it is another file than that.
        """
        self._wanted_sha256 = sha256
        self.progressed.emit(Progress(f"Reading {Path(path).name}"))
        self.jobs.start("load", partial(_load_steps, units, Path(path)))

    @Slot()
    def cancel(self) -> None:
        """Stop reading."""
        if self.jobs.cancel("load"):
            self.progressed.emit(None)
            self.failed.emit()

    def close(self) -> None:
        """Stop everything and wait for it."""
        self.jobs.close()

    @Slot(object)
    def _job_progressed(self, report: JobReport) -> None:
        if isinstance(report.value, Progress):
            self.progressed.emit(report.value)

    @Slot(object)
    def _job_succeeded(self, report: JobReport) -> None:
        self.progressed.emit(None)
        session: Session = report.value
        wanted = self._wanted_sha256
        if wanted and session.recording.provenance.sha256 != wanted:
            self._fail(
                f"{session.path.name} is not the file that was kept: its SHA-256 is another. It is not laid over."
            )
        elif not session.assessment.starts:
            why = "no engine profile is known for it" if session.profile is None else "it has none"
            self._fail(f"No start of {session.path.name} can be compared: {why}.")
        else:
            self.read.emit(session)

    @Slot(object)
    def _job_failed(self, report: JobReport) -> None:
        self.progressed.emit(None)
        error = report.error
        assert error is not None
        if isinstance(error, Unsure):
            self._fail(_UNSURE)
        else:
            self._fail(*told_of(error))

    def _fail(self, words: str, details: str = "") -> None:
        self.told.emit(words, True, details)
        self.failed.emit()


def _load_steps(units: ShownUnits, path: Path) -> Generator[Any, None, Session]:
    return (yield from show_units((yield from open_or_ask(path)), units))
