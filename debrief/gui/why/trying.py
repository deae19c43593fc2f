"""What is tried in place of a limit's level: worked out in the background, the latest wish first."""

from __future__ import annotations

from collections.abc import Generator

from PySide6.QtCore import QObject, Signal, Slot

from debrief.analysis.model import LevelResult
from debrief.gui.background.jobs import JobReport, Jobs
from debrief.session.limits.trial import LimitTrial, Nearest

_NEAREST, _TRY = "nearest", "try"


class Trying(QObject):
    """Holds one trial at a time; every wish replaces the one before, so that a drag is never waited for.

    Signals
    -------
    changed
        Another level is tried, or other numbers of it, or none.
    judged : LevelResult
        What the latest numbers came to.
    nearest_found : Nearest
        Which change would turn the profile's own result.
    failed : BaseException
        A fault of the program.
    """

    changed = Signal()
    judged = Signal(object)
    nearest_found = Signal(object)
    failed = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.jobs = Jobs(self)
        self.jobs.succeeded.connect(self._succeeded)
        self.jobs.failed.connect(self._failed)
        self._trial: LimitTrial | None = None
        self._level = 0.0
        self._seconds = 0.0
        self._asked: tuple[float, float] | None = None

    @property
    def trial(self) -> LimitTrial | None:
        """The level that can be tried now; None where there is none."""
        return self._trial

    @property
    def level(self) -> float:
        """The level, in the unit shown: the profile's while nothing is tried."""
        return self._level

    @property
    def seconds(self) -> float:
        """The seconds allowed, [s]: the profile's while nothing is tried."""
        return self._seconds

    @property
    def is_on(self) -> bool:
        """Whether other numbers than the profile's are tried."""
        trial = self._trial
        return trial is not None and (self._level, self._seconds) != (trial.level, trial.seconds)

    def offer(self, trial: LimitTrial | None) -> None:
        """Offer a level to be tried, or none; what was tried before is forgotten."""
        self.jobs.cancel(_TRY)
        self.jobs.cancel(_NEAREST)
        self._trial, self._asked = trial, None
        if trial is not None:
            self._level, self._seconds = trial.level, trial.seconds
            self.jobs.start(_NEAREST, trial.nearest)
        self.changed.emit()

    def try_numbers(self, level: float, seconds: float) -> None:
        """Try these numbers, in the unit shown and [s]."""
        if self._trial is None or (level, seconds) == (self._level, self._seconds):
            return
        self._level, self._seconds = level, seconds
        self.changed.emit()
        self._ask()

    def leave(self) -> bool:
        """Go back to the profile's numbers; return whether others were tried."""
        trial = self._trial
        if trial is None or not self.is_on:
            return False
        self.jobs.cancel(_TRY)
        self._asked = None
        self._level, self._seconds = trial.level, trial.seconds
        self.changed.emit()
        return True

    def _ask(self) -> None:
        """Judge the latest numbers as soon as the ones before are done."""
        trial, wanted = self._trial, (self._level, self._seconds)
        if trial is None or self._asked is not None:
            return
        self._asked = wanted

        def work() -> Generator[None, None, tuple[LimitTrial, tuple[float, float], LevelResult]]:
            yield
            return trial, wanted, trial.judged(*wanted)

        self.jobs.start(_TRY, work)

    @Slot(object)
    def _succeeded(self, report: JobReport) -> None:
        if report.name == _NEAREST:
            if isinstance(report.value, Nearest):
                self.nearest_found.emit(report.value)
            return
        trial, done, result = report.value
        self._asked = None
        if trial is not self._trial or not self.is_on:
            return
        self.judged.emit(result)
        if done != (self._level, self._seconds):
            self._ask()

    @Slot(object)
    def _failed(self, report: JobReport) -> None:
        self._asked = None
        self.failed.emit(report.error)

    def close(self) -> None:
        """End what runs."""
        self._trial = None
        self.jobs.close()
