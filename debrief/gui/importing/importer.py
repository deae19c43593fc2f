"""Between the window and the import dialog: proposes, shows the dialog, opens as it was accepted."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import QObject, Signal, Slot
from PySide6.QtWidgets import QWidget

from debrief.errors import UserError
from debrief.gui.background.jobs import JobReport, Jobs, Work
from debrief.gui.importing.import_dialog import ImportDialog
from debrief.gui.importing.kept_answers import left_for
from debrief.gui.style.theme import Theme
from debrief.history.service.earlier_flights import known_if_any
from debrief.session.importing.file_proposal import FileProposal, propose_steps
from debrief.session.importing.import_opening import Accepted, forget_steps, open_as
from debrief.session.opening.opening_steps import Progress
from debrief.session.session import Session


class Importer(QObject):
    """Runs what the import dialog needs, off the event loop. Until a file is open the window stays as it is.

    Parameters
    ----------
    theme : Theme
    window : QWidget
        The dialog's parent.
    arranged : callable
        Adds to the work of opening that the lanes are put as they are remembered.

    Signals
    -------
    opened : Session
        The file that was asked about is open.
    progressed : Progress or None
        Of the reading before the dialog; None when it has ended.
    told : str, bool, str
        A sentence for the user, whether it is a problem, and details to copy.
    broken : BaseException
        A fault of the program.
    new_profile_wanted : ImportDialog
        A profile is to be made for the file that the dialog is about.
    """

    opened = Signal(object)
    progressed = Signal(object)
    told = Signal(str, bool, str)
    broken = Signal(object)
    new_profile_wanted = Signal(object)

    def __init__(self, theme: Theme, window: QWidget, arranged: Callable[[Work], Work]) -> None:
        super().__init__(window)
        self.jobs = Jobs(self)
        self._theme = theme
        self._window = window
        self._arranged = arranged
        self._dialog: ImportDialog | None = None
        self._wanted: Path | None = None
        self.jobs.progressed.connect(self._job_progressed)
        self.jobs.succeeded.connect(self._job_succeeded)
        self.jobs.failed.connect(self._job_failed)

    @property
    def dialog(self) -> ImportDialog | None:
        """The dialog that is open, or None."""
        return self._dialog

    def show_columns(self, session: Session) -> None:
        """Show the columns of the recording on the table."""
        self.progressed.emit(Progress(f"Reading {session.path.name}"))
        self.jobs.start("propose", partial(propose_steps, session.path, session.choices, session.source))

    @Slot(object)
    def ask(self, proposal: FileProposal) -> None:
        """Show the dialog for a proposed file."""
        if self._dialog is not None:
            self._dialog.reject()
        left = left_for(proposal.signature)
        brings_back, self._wanted = proposal.path.resolve() == self._wanted, None
        dialog = ImportDialog(proposal, self._theme, self._window, left, brings_back)
        self._dialog = dialog
        dialog.open_wanted.connect(self._open_wanted)
        dialog.cancel_wanted.connect(self._stop_reading)
        dialog.forget_wanted.connect(self._forget)
        dialog.finished.connect(self._finished)
        dialog.new_profile_wanted.connect(self._new_profile_wanted)
        dialog.open()

    def bring_back(self, path: Path) -> None:
        """Have what was answered about this file before the program ended stand in the dialog, once that is shown."""
        self._wanted = path.resolve()

    @Slot(object)
    def recording_opened(self, session: Session) -> None:
        """Show the dialog that was to be brought back also where the file needs no answer to be opened."""
        if session.path.resolve() == self._wanted:
            self.show_columns(session)
        else:
            self._wanted = None

    @Slot()
    def cancel(self) -> None:
        """Stop reading for the dialog."""
        self.jobs.cancel("propose")
        self.progressed.emit(None)

    def close(self) -> None:
        """Stop everything and wait for it."""
        if self._dialog is not None:
            self._dialog.put_off()
        self.jobs.close()

    @Slot(object)
    def _open_wanted(self, accepted: Accepted) -> None:
        self.jobs.start("import", self._arranged(partial(open_as, accepted, known_if_any)))

    @Slot(str)
    def _forget(self, signature: str) -> None:
        self.jobs.start("forget", partial(forget_steps, signature))

    @Slot()
    def _new_profile_wanted(self) -> None:
        if self._dialog is not None:
            self.new_profile_wanted.emit(self._dialog)

    @Slot()
    def _stop_reading(self) -> None:
        self.jobs.cancel("import")
        if self._dialog is not None:
            self._dialog.tell_failed("The reading was stopped.")

    @Slot(int)
    def _finished(self, result: int) -> None:
        self.jobs.cancel("import")
        self._dialog = None

    @Slot(object)
    def _job_progressed(self, report: JobReport) -> None:
        if not isinstance(report.value, Progress):
            return
        if report.name == "propose":
            self.progressed.emit(report.value)
        elif report.name == "import" and self._dialog is not None:
            self._dialog.tell_progress(report.value.message, report.value.fraction)

    @Slot(object)
    def _job_succeeded(self, report: JobReport) -> None:
        if report.name == "propose":
            self.progressed.emit(None)
            self.ask(report.value)
            return
        if report.name == "forget":
            if self._dialog is not None and self._dialog.form.proposal.signature == report.value:
                self._dialog.tell_forgotten()
            return
        if self._dialog is not None:
            self._dialog.done(ImportDialog.DialogCode.Accepted.value)
        self.opened.emit(report.value)

    @Slot(object)
    def _job_failed(self, report: JobReport) -> None:
        self.progressed.emit(None)
        known = isinstance(report.error, UserError)
        if self._dialog is not None:
            self._dialog.tell_failed(str(report.error) if known else "The program failed here.")
        elif known:
            self.told.emit(str(report.error), True, "")
        if not known and report.error is not None:
            self.broken.emit(report.error)
