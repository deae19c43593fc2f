"""Long work away from the event loop: a job is a generator that yields progress and returns a value."""

from __future__ import annotations

import threading
from collections.abc import Callable, Generator
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QObject, QThreadPool, Signal, Slot

from debrief.gui.background.guarded import guarded
from debrief.session.opening.opening_steps import Progress

Work = Callable[[], Generator[Any, None, Any]]


@dataclass(frozen=True)
class JobReport:
    """What a job says: its number, its name, and a progress, a result or an error."""

    number: int
    name: str
    value: Any = None
    error: BaseException | None = None


class _Runner:
    """Runs one generator; only the owner has signals, so nothing dies on the pool's thread.

    The pool gets its method, not a `QRunnable`: one that is made in Python stays for good.
    """

    def __init__(self, number: int, name: str, work: Work, progressed: Any, finished: Any) -> None:
        self.number = number
        self.name = name
        self.cancelled = threading.Event()
        self._work: Work | None = work
        self._progressed = progressed
        self._finished = finished

    @guarded()
    def run(self) -> None:
        """Step the generator until it returns, fails or is cancelled."""
        report = JobReport(self.number, self.name)
        work, self._work = self._work, None
        try:
            assert work is not None
            steps = work()
            while True:
                if self.cancelled.is_set():
                    steps.close()
                    break
                try:
                    progress = next(steps)
                except StopIteration as done:
                    report = JobReport(self.number, self.name, value=done.value)
                    break
                self._progressed.emit(JobReport(self.number, self.name, value=progress))
        except BaseException as error:
            # Everything is handed over: what is a bug is decided, logged and shown at one place.
            report = JobReport(self.number, self.name, error=error)
        self._finished.emit(report)
        del report  # the traceback of an error holds this frame, and this frame the error


class Jobs(QObject):
    """Runs jobs, numbers them, and passes on only what is still wanted.

    Notes
    -----
    Two jobs of one name replace each other: the older one is cancelled and whatever it still says is
    dropped. A job is cancelled between its yields.

    Signals
    -------
    progressed, succeeded, failed : JobReport
    advanced : Progress
        How far a wanted job is, of one that tells it.
    ended : JobReport
        A job has left the pool, wanted or not.
    """

    progressed = Signal(object)
    succeeded = Signal(object)
    failed = Signal(object)
    ended = Signal(object)
    advanced = Signal(object)
    _step = Signal(object)
    _done = Signal(object)

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._pool = QThreadPool(self, maxThreadCount=2)
        self._running: dict[int, _Runner] = {}
        self._wanted: dict[str, int] = {}
        self._last = 0
        self._step.connect(self._on_step)
        self._done.connect(self._on_done)

    def start(self, name: str, work: Work) -> int:
        """Start a job, in place of an earlier one of the same name; return its number."""
        self.cancel(name)
        self._last += 1
        runner = _Runner(self._last, name, work, self._step, self._done)
        self._running[self._last] = runner
        self._wanted[name] = self._last
        self._pool.start(runner.run)
        return self._last

    def cancel(self, name: str) -> bool:
        """Ask the job of this name to end and ignore what it says; return whether there was one."""
        number = self._wanted.pop(name, None)
        runner = self._running.get(number) if number is not None else None
        if runner is None:
            return False
        runner.cancelled.set()
        return True

    def is_running(self, name: str) -> bool:
        """Return whether a wanted job of this name runs."""
        return name in self._wanted

    @property
    def count(self) -> int:
        """Jobs that have not left the pool yet, wanted or not."""
        return len(self._running)

    def close(self) -> None:
        """Cancel everything and wait until the pool is empty."""
        for runner in self._running.values():
            runner.cancelled.set()
        self._wanted.clear()
        self._pool.clear()
        self._pool.waitForDone()
        self._running.clear()

    @Slot(object)
    def _on_step(self, report: JobReport) -> None:
        if self._wanted.get(report.name) == report.number:
            self.progressed.emit(report)
            if isinstance(report.value, Progress):
                self.advanced.emit(report.value)

    @Slot(object)
    def _on_done(self, report: JobReport) -> None:
        self._running.pop(report.number, None)
        wanted = self._wanted.get(report.name) == report.number
        if wanted:
            del self._wanted[report.name]
            if report.error is not None:
                self.failed.emit(report)
            else:
                self.succeeded.emit(report)
        self.ended.emit(report)
