"""What this engine usually does: its kept flights, the trends of its starts, and what has shifted.

The database is loaded when the view is first shown, and only away from the event loop.
"""

from __future__ import annotations

from collections.abc import Generator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import QHBoxLayout, QWidget

from debrief.gui.background.error_words import told_of
from debrief.gui.background.guarded import guarded
from debrief.gui.background.jobs import JobReport, Jobs
from debrief.gui.history.history_flights import FlightsPanel
from debrief.gui.history.history_trends import TrendsPanel
from debrief.gui.plain_text import entry, plain_tip
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.asking import USUAL_ASKERS, Askers
from debrief.gui.widgets.choice_boxes import ChoiceBox
from debrief.gui.widgets.labels import ElidedLabel, PlainLabel
from debrief.gui.widgets.parts import column_layout, made_button, row_layout, set_ground
from debrief.gui.widgets.scrolled import LowStack
from debrief.gui.widgets.tables import heading
from debrief.history.same_flight import SameFlight
from debrief.session.opening.opening_steps import Progress
from debrief.session.texts.recording_kind import recording_word
from debrief.words.display_units import AS_COMPUTED, ShownUnits

if TYPE_CHECKING:
    from debrief.analysis.model import Assessment
    from debrief.history.service.history_service import Added, HistoryPage

ALL_FLIGHTS = "All flights"
EMPTY = (
    "No flight is kept yet.\n\n"
    "\N{LEFT DOUBLE QUOTATION MARK}Add to history\N{RIGHT DOUBLE QUOTATION MARK} adds the open recording to "
    "the history, \N{LEFT DOUBLE QUOTATION MARK}Add flights\N{RIGHT DOUBLE QUOTATION MARK} any number of "
    "files. After 15 completed starts of an engine the history has its normal range, and says whether "
    "something has shifted. The normal range is not a limit."
)
_KEPT_WORDS = {
    "new": "Kept in the history",
    "renewed": "Kept anew, as it is judged now",
    "unchanged": "Already kept, unchanged",
}


class HistoryView(QWidget):
    """One engine's page of the history.

    Signals
    -------
    open_wanted : str
        Path of a kept flight to open.
    back_wanted
        No recording is open, and the start page is to be shown.
    told : str, bool, str
        A sentence for the user, whether it is a problem, and details to copy.
    progressed : Progress or None
        Of the adding of files; None when that has ended.
    changed
        A flight was kept.
    """

    open_wanted = Signal(str)
    back_wanted = Signal()
    told = Signal(str, bool, str)
    progressed = Signal(object)
    changed = Signal()

    def __init__(
        self,
        replay: Replay,
        theme: Theme,
        askers: Askers = USUAL_ASKERS,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._askers = askers
        self._replay = replay
        self._theme = theme
        self.page: HistoryPage | None = None
        self._engine: str | None = None
        self._units = AS_COMPUTED
        self._filling = False
        self._expected: tuple[str, str] | None = None
        self._twice = ""  # of the flight that was asked about, since the history has it from another file
        self.jobs = Jobs(self)
        set_ground(self, "panel")
        column = column_layout(self, margins=(18, 12, 18, 12), spacing=10)
        column.addLayout(self._make_top())
        self._stack = LowStack()
        column.addWidget(self._stack, 1)
        self._empty = PlainLabel("Reading the history...")
        self._empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._empty.setWordWrap(True)
        self._empty.setMargin(60)
        self._stack.addWidget(self._empty)
        self._stack.addWidget(self._make_body())
        self.jobs.advanced.connect(self.progressed)
        self.jobs.succeeded.connect(self._job_succeeded)
        self.jobs.failed.connect(self._job_failed)
        self.jobs.ended.connect(self._job_ended)
        replay.session_changed.connect(self._session_changed)
        theme.changed.connect(self._theme_changed)
        self._show_keep()

    # --- the parts --------------------------------------------------------------------------------------

    def _make_top(self) -> QHBoxLayout:
        row = row_layout(spacing=10)
        self.back_button = made_button("&Back to the start page", self.back_wanted)
        row.addWidget(self.back_button)
        row.addWidget(heading("History of"))
        self.engines = ChoiceBox(self._theme)
        self.engines.setMinimumContentsLength(14)
        self.engines.setAccessibleName("Engine")
        self.engines.addItem(ALL_FLIGHTS, "")
        self.engines.currentIndexChanged.connect(self._engine_chosen)
        row.addWidget(self.engines)
        self._summary = ElidedLabel(role="muted")
        row.addWidget(self._summary, 1)
        self.add_button = made_button(
            "&Add flights...",
            self.ask_files,
            tip="Assess any number of recordings and keep them in the history",
        )
        row.addWidget(self.add_button)
        self.keep_button = made_button("Add to h&istory", self.keep)
        row.addWidget(self.keep_button)
        return row

    def _make_body(self) -> QWidget:
        body = QWidget()
        row = row_layout(body, margins=(0, 0, 0, 0), spacing=18)
        self._flights = FlightsPanel(self._theme)
        self._flights.flight_chosen.connect(self._open)
        self.trends = TrendsPanel(self._theme)
        self.trends.flight_chosen.connect(self._open)
        self.flights, self.measures = self._flights.table, self.trends.measures
        row.addWidget(self._flights, 5)
        row.addWidget(self.trends, 7)
        return body

    # --- what is shown ----------------------------------------------------------------------------------

    @Slot()
    def use_units(self, units: ShownUnits) -> None:
        """Show the trends in these units."""
        self._units = units
        if self.isVisible():
            self.refresh()

    def refresh(self) -> None:
        """Read the history again, away from the event loop."""
        session = self._replay.session
        assessment = session.assessment if session is not None else None
        number = session.engine if session is not None else 1
        self.jobs.start("look", partial(_look_steps, assessment, number, self._engine, self._units))

    @Slot()
    def follow(self) -> None:
        """Read it again where it is looked at: somebody else has written to it."""
        if self.isVisible() and not any(map(self.jobs.is_running, ("keep", "add"))):
            self.refresh()

    @Slot()
    def keep(self) -> None:
        """Keep the open recording."""
        session = self._replay.session
        if session is not None:
            self.keep_button.setEnabled(False)
            both = self._twice == session.recording.provenance.sha256
            self.jobs.start("keep", partial(_keep_steps, session.assessment, both))

    @Slot()
    def ask_files(self) -> None:
        """Ask for recordings to keep."""
        session = self._replay.session
        self._askers.recordings(self, str(session.path.parent) if session is not None else "", self.add)

    @Slot(list)
    def add(self, paths: list[str]) -> None:
        """Assess these recordings and keep them, away from the event loop."""
        if not paths:
            return
        self.add_button.setEnabled(False)
        self.progressed.emit(Progress("Adding to the history"))
        self.jobs.start("add", partial(_add_steps, [Path(path) for path in paths]))

    @Slot()
    def cancel(self) -> None:
        """Stop adding; what was added until now stays."""
        if self.jobs.cancel("add"):
            self._adding_ended()
            self.told.emit("Stopped; the flights that were added until now stay in the history.", False, "")

    def _adding_ended(self) -> None:
        self.progressed.emit(None)
        self.add_button.setEnabled(True)

    @Slot(object)
    def _job_ended(self, report: JobReport) -> None:
        """Look again when nothing is written any more, also after the file at which it was stopped."""
        if report.name == "add":
            self._look_again()

    def _look_again(self) -> None:
        self._show_keep()
        if self.isVisible():
            self.refresh()

    def close_jobs(self) -> None:
        """Stop everything and wait for it."""
        self.jobs.close()

    @guarded()
    def showEvent(self, event: QShowEvent) -> None:
        """Read the history: others may have written to it, or mended it, since it was last looked at."""
        super().showEvent(event)
        self.refresh()

    @guarded()
    def hideEvent(self, event: QHideEvent) -> None:
        """Stop reading; it is read again when it is next looked at."""
        self.jobs.cancel("look")
        super().hideEvent(event)

    @Slot()
    def _session_changed(self) -> None:
        session = self._replay.session
        # The page of the engine on the table comes first, until another is chosen.
        self._engine = None
        expected, self._expected = self._expected, None
        if (
            session is not None
            and expected is not None
            and expected[0] == str(session.path)
            and expected[1] != session.recording.provenance.sha256
        ):
            self.told.emit(
                f"{session.path.name} is not the file that was kept: its SHA-256 is another. "
                "It was changed or replaced since.",
                True,
                "",
            )
        self._look_again()

    def _show_keep(self) -> None:
        session = self._replay.session
        known = session is not None and len(session.recording.provenance.sha256) == 64
        self.keep_button.setEnabled(known and not self.jobs.is_running("keep"))
        word = recording_word(session.assessment) if session is not None else ""
        kept = self.page.kept if self.page is not None and session is not None else None
        if kept is not None and session is not None and kept.sha256 == session.recording.provenance.sha256:
            self.keep_button.setText(f"&Update the kept {word}")
            self.keep_button.setToolTip(
                plain_tip(
                    f"This {word} is kept already. What is kept of it becomes what is found in it now, with the profile "
                    "in use; its notes stay."
                )
            )
        elif session is not None and self._twice == session.recording.provenance.sha256:
            self.keep_button.setText("&Keep both")
            self.keep_button.setToolTip(
                plain_tip(
                    f"The history has this {word} already, from another file. Kept twice, its starts count twice"
                )
            )
        else:
            self.keep_button.setText("Add to h&istory")
            self.keep_button.setToolTip("Add the open recording to the history")
        self.keep_button.setVisible(session is not None)
        self.back_button.setVisible(session is None)

    def _show_page(self, page: HistoryPage) -> None:
        self.page = page
        self._filling = True
        self.engines.clear()
        for engine in page.engines:
            self.engines.addItem(entry(engine), engine)
        self.engines.addItem(ALL_FLIGHTS, "")
        self.engines.setCurrentIndex(max(0, self.engines.findData(page.engine or "")))
        self.engines.setEnabled(page.total > 0)
        self._filling = False
        self._show_keep()
        if not page.total:
            self._summary.setText(" ".join(filter(None, (page.left_out, page.place))))
            self._empty.setText(EMPTY)
            self._stack.setCurrentIndex(0)
            return
        self._summary.setText(_summary(page))
        self._stack.setCurrentIndex(1)
        self._fill(page)

    def _fill(self, page: HistoryPage) -> None:
        session = self._replay.session
        # All flights have no trends: their sentences have the room.
        self.trends.setVisible(page.engine is not None or not page.engines)
        self._flights.show_page(page)
        self.trends.show_page(page, session.recording.provenance.sha256 if session is not None else "")

    # --- choosing ---------------------------------------------------------------------------------------

    @Slot(int)
    def _engine_chosen(self, index: int) -> None:
        if not self._filling:
            self._engine = str(self.engines.itemData(index) or "")
            self.refresh()

    @Slot(str)
    def _open(self, sha256: str) -> None:
        """Open a kept flight's file, if it is still where it was."""
        page, session = self.page, self._replay.session
        flight = next((f for f in page.flights if f.sha256 == sha256), None) if page is not None else None
        if flight is None:
            return
        if session is not None and session.recording.provenance.sha256 == sha256:
            self.told.emit(f"{flight.file_name} is the flight that is open.", False, "")
        elif not flight.path or not Path(flight.path).is_file():
            where = flight.path or "an unknown folder"
            self.told.emit(
                f"{flight.file_name} is no longer where it was when it was kept, {where}: "
                "what was found in it stays in the history; open it from where it is now.",
                True,
                "",
            )
        else:
            self._expected = (flight.path, sha256)
            self.open_wanted.emit(flight.path)

    # --- jobs -------------------------------------------------------------------------------------------

    @Slot(object)
    def _job_succeeded(self, report: JobReport) -> None:
        if report.name == "look":
            self._show_page(report.value)
        elif report.name == "keep":
            file_name, how, followed = report.value
            words = f"{_KEPT_WORDS[how]}: {file_name}"
            self.told.emit(f"{words}. {followed}" if followed else words, False, "")
            self.changed.emit()
            self._look_again()
        elif report.name == "add":
            self._adding_ended()
            added: Added = report.value
            self.told.emit(added.words, bool(added.refused), added.details)
            self.changed.emit()

    @Slot(object)
    def _job_failed(self, report: JobReport) -> None:
        error = report.error
        assert error is not None
        session = self._replay.session
        if report.name == "keep" and isinstance(error, SameFlight) and session is not None:
            self._twice = session.recording.provenance.sha256
        self._show_keep()
        words, details = told_of(error)
        if report.name == "add":
            self._adding_ended()
        if report.name == "look":
            self._empty.setText("The history could not be read.")
            self._stack.setCurrentIndex(0)
        self.told.emit(words, True, details)

    # --- looks ------------------------------------------------------------------------------------------

    @Slot()
    def _theme_changed(self) -> None:
        if self.page is not None and self.page.total:
            self._fill(self.page)


def _summary(page: HistoryPage) -> str:
    many = len(page.flights)
    words = f"{many} flight{'' if many == 1 else 's'}"
    if page.engine is not None:
        words += f", {page.starts} start{'' if page.starts == 1 else 's'}"
    # What is amiss comes first: the end of a long line is not seen.
    return " ".join(
        filter(None, (page.left_out, f"{words}. The normal range is not a limit. Kept in {page.place}"))
    )


# --- the work, on another thread ------------------------------------------------------------------------


def _look_steps(
    assessment: Assessment | None, number: int, engine: str | None, units: ShownUnits
) -> Generator[None, None, HistoryPage]:
    """Read what is shown of an engine, or of all flights; yields between its parts."""
    yield None
    # The chart's module, and what measures are called, are loaded here too: on the event loop they would be felt.
    import debrief.gui.charts.chart_view  # noqa: F401
    from debrief.history.service.history_service import engine_names, look
    from debrief.session.texts.definitions import measure_title

    measure_title("peak_itt")
    yield None
    if assessment is None:
        return look(engine=engine, units=units)
    names = engine_names(assessment, first=number)
    return look(assessment.recording.provenance.sha256, engine, names, units)


def _keep_steps(assessment: Assessment, both: bool) -> Generator[None, None, tuple[str, str, str]]:
    """Keep a flight; returns its file's name, whether it was new, and what is to be said of those that follow."""
    yield None
    from debrief.history.service.history_service import keep

    return assessment.recording.provenance.file_name, *keep(assessment, both)


def _add_steps(paths: list[Path]) -> Generator[Progress, None, Added]:
    """Assess files and keep them; yields its progress and returns what became of them."""
    yield Progress("Adding to the history")
    from debrief.history.service.history_service import add_files

    return (yield from add_files(paths))
