"""The starts of the recording in a table, and of the chosen one charts, measures, or another laid over it."""

from __future__ import annotations

import logging
import traceback
from collections.abc import Generator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QHideEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QButtonGroup,
    QHBoxLayout,
    QPushButton,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from debrief.analysis.model import Assessment, Start
from debrief.errors import UserError
from debrief.gui.background.guarded import guarded
from debrief.gui.background.jobs import JobReport, Jobs
from debrief.gui.charts.chart_view import ChartView
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.starts.overlay_panel import OverlayPanel
from debrief.gui.starts.start_measures import MeasuresTable
from debrief.gui.starts.starts_table import StartsTable
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import ElidedLabel, PlainLabel, WrappedLabel
from debrief.gui.widgets.parts import row_layout
from debrief.gui.widgets.scrolled import LowStack
from debrief.gui.widgets.whole_rows import WholeRows
from debrief.session.charts.start_charts import PLANE, TIME_ABOVE, plane_chart, time_chart
from debrief.session.comparing.compared_start import start_in_play
from debrief.session.session import Session
from debrief.session.texts.plain_names import no_factor
from debrief.words.display_units import ShownUnits
from debrief.words.starts import start_title

if TYPE_CHECKING:
    from debrief.history.service.start_history import StartsPage

log = logging.getLogger(__name__)

_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_PAGES = ("A&gainst speed", "&Time above", "Two &starts")
_HINT = "Enter or a double click shows the start in the replay."
_NONE = "Starter, fuel, speed and temperature show no beginning of one."
_NO_PROFILE = "Choose the engine's profile: it says what a start of this engine is."
_ONE = "&This start"
_PLANE, _TIME, _TWO = range(3)


class StartsView(QWidget):
    """A table, and of the chosen start charts and measures; Enter or a double click shows it in the replay.

    Signals
    -------
    why_wanted : Start, str
        Show what this measure of the start was read from.
    start_wanted : Start
        To be shown in the replay.
    told : str, bool, str
        A sentence for the user, whether it is a problem, and details to copy.
    progressed : Progress or None
        Of another recording that is read to be laid over; None when that has ended.
    """

    start_wanted = Signal(object)
    why_wanted = Signal(object, str)
    told = Signal(str, bool, str)
    progressed = Signal(object)

    def __init__(self, replay: Replay, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self._page: StartsPage | None = None
        self._page_of: Assessment | None = None
        self._of: tuple[str, ShownUnits] | None = None
        self._is_old = True
        self._shown_path: Path | None = None
        self._lays_over = False
        self._no_band = ""
        self._is_filling = False
        self._steps = (self._show_plane, self._show_time, self._show_measures)
        self.jobs = Jobs(self)
        self.setObjectName("panel")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 10, 18, 10)
        column.setSpacing(6)
        column.addLayout(self._make_top())
        self.table = StartsTable(theme)
        self.table.itemActivated.connect(self._activated)
        self.table.currentCellChanged.connect(self._current_changed)
        column.addWidget(self.table)
        self._left_out = ElidedLabel()
        self._left_out.setProperty("role", "small")
        self._left_out.hide()
        self.table.left_out_changed.connect(self._tell_left_out)
        column.addWidget(self._left_out)
        self.overlay = OverlayPanel(replay, theme)
        column.addLayout(self._make_switch())
        self._stack = LowStack()
        self._stack.addWidget(self._make_one())
        self.overlay.told.connect(self.told)
        self.overlay.progressed.connect(self.progressed)
        self.overlay.replay_wanted.connect(self.start_wanted)
        self._stack.addWidget(self.overlay)
        column.addWidget(self._stack, 1)
        self.jobs.succeeded.connect(self._page_read)
        self.jobs.failed.connect(self._page_failed)
        replay.session_changed.connect(self._session_changed)
        replay.clock_changed.connect(self._session_changed)
        theme.changed.connect(self._session_changed)

    # --- the parts --------------------------------------------------------------------------------------

    def _make_top(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(14)
        self._heading = PlainLabel("Starts in this recording")
        self._heading.setProperty("role", "heading")
        row.addWidget(self._heading)
        self._hint = ElidedLabel(_HINT)
        self._hint.setProperty("role", "small")
        row.addWidget(self._hint, 1)
        return row

    def _make_switch(self) -> QBoxLayout:
        """Return what chooses a page, and beside or below it what is compared on the last one."""
        self._choosing = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._choosing.setSpacing(6)
        self._switch = QWidget()
        row = row_layout(self._switch, margins=(0, 0, 0, 0), spacing=4)
        self._measures_heading = PlainLabel()
        self._measures_heading.setProperty("role", "heading")
        row.addWidget(self._measures_heading)
        row.addSpacing(10)
        self.buttons = QButtonGroup(self)
        for index, words in enumerate(_PAGES):
            button = QPushButton(words)
            button.setProperty("role", "flat")
            button.setCheckable(True)
            button.setChecked(index == _PLANE)
            self.buttons.addButton(button, index)
            row.addWidget(button)
        row.addStretch(1)
        self.buttons.idToggled.connect(self._switched)
        self._choosing.addWidget(self._switch)
        self._choosing.addWidget(self.overlay.choices, 1)
        return self._choosing

    def _make_one(self) -> QWidget:
        one = QWidget()
        below = QHBoxLayout(one)
        below.setContentsMargins(0, 0, 0, 0)
        below.setSpacing(18)
        self.plane = ChartView(self._theme, PLANE)
        self.time = ChartView(self._theme, TIME_ABOVE)
        left = QVBoxLayout()
        left.setSpacing(2)
        self._charts = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._charts.setSpacing(12)
        self._charts.addWidget(self.plane, 1)
        self._charts.addWidget(self.time, 1)
        left.addLayout(self._charts, 1)
        self._usual = WrappedLabel()
        self._usual.setProperty("role", "small")
        left.addWidget(self._usual)
        below.addLayout(left, 10)
        words = QVBoxLayout()
        words.setSpacing(4)
        below.addLayout(words, 8)
        hint = WrappedLabel(
            "A click or Enter shows what a measure was read from. What was present is not proven to be the cause."
        )
        hint.setProperty("role", "small")
        words.addWidget(hint)
        self.measures = MeasuresTable(self._theme)
        WholeRows(self.measures, self._theme)
        self.measures.why_wanted.connect(self._ask_why)
        words.addWidget(self.measures, 1)
        self._notes = WrappedLabel()
        self._notes.setProperty("role", "small")
        words.addWidget(self._notes)
        return one

    # --- which part is shown ----------------------------------------------------------------------------

    def show_two(self) -> None:
        """Show the start at the playhead and the one that it is compared with."""
        session = self._replay.session
        if session is None:
            return
        self.buttons.button(_TWO).setChecked(True)
        starts = session.assessment.starts
        start = start_in_play(starts, session.engine, self._replay.position_s)
        if start is not None:
            self.table.selectRow(starts.index(start))

    @Slot(int, bool)
    def _switched(self, index: int, on: bool) -> None:
        if on:
            self._lays_over = index == _TWO
            self._arrange()

    def _arrange(self) -> None:
        """Show both charts of one start where there is room, else the chosen one of them."""
        session = self._replay.session
        some = session is not None and bool(session.assessment.starts)
        self._stack.setVisible(some)
        self.table.setVisible(some)
        for button in self.buttons.buttons():
            button.setVisible(some)
        self._stack.setCurrentIndex(1 if self._lays_over else 0)
        self.overlay.choices.setVisible(some and self._lays_over)
        beside = self._switch.sizeHint().width() + self.overlay.choices.minimumSizeHint().width() + 6 + 36
        self._choosing.setDirection(
            QBoxLayout.Direction.LeftToRight if beside <= self.width() else QBoxLayout.Direction.TopToBottom
        )
        wide = self.width() >= self._theme.px(1300)
        # Low windows show one chart well instead of two that cannot be read.
        both = wide or self._stack.height() >= self._theme.px(470)
        self._charts.setDirection(
            QBoxLayout.Direction.LeftToRight if wide else QBoxLayout.Direction.TopToBottom
        )
        self.buttons.button(_PLANE).setText(_ONE if both else _PAGES[_PLANE])
        self.buttons.button(_TIME).setVisible(some and not both)
        if both and self.buttons.checkedId() == _TIME:
            self.buttons.button(_PLANE).setChecked(True)
        self.plane.setVisible(both or self.buttons.checkedId() != _TIME)
        self.time.setVisible(both or self.buttons.checkedId() == _TIME)

    @Slot(str)
    def _tell_left_out(self, words: str) -> None:
        self._left_out.setText(words)
        self._left_out.setVisible(bool(words))

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Arrange the charts for the room there is."""
        super().resizeEvent(event)
        self.table.take_height(self.height() // 3)
        self._arrange()

    # --- what is shown ----------------------------------------------------------------------------------

    @Slot()
    def _session_changed(self) -> None:
        """Fill the view when it is looked at, not while a recording is being opened."""
        self._is_old = True
        session = self._replay.session
        if session is None or session.assessment is not self._page_of:
            self.jobs.cancel("history")
            self._page = self._page_of = None
            self._no_band = ""
            self.overlay.forget(judged_anew=self._is_judged_anew(session))
        if self.isVisible():
            self._fill()

    def _is_judged_anew(self, session: Session | None) -> bool:
        """Return whether it is the recording that was here, with its numbers in the same units."""
        before, self._of = self._of, None
        if session is not None:
            self._of = (session.recording.provenance.sha256, session.assessment.units)
        return before is not None and before == self._of

    @guarded()
    def showEvent(self, event: QShowEvent) -> None:
        """Fill the view if something has changed since, and ask the history anew."""
        super().showEvent(event)
        if self._is_old:
            self._fill()
        else:
            self._ask_history()

    @guarded()
    def hideEvent(self, event: QHideEvent) -> None:
        """Stop asking the history; it is asked again when the view is next looked at."""
        self.jobs.cancel("history")
        super().hideEvent(event)

    def close_jobs(self) -> None:
        """Stop everything and wait for it."""
        self.jobs.close()
        self.overlay.close_jobs()

    @Slot()
    def cancel(self) -> None:
        """Stop reading another recording."""
        self.overlay.cancel()

    @Slot()
    def follow_history(self) -> None:
        """Ask it again where the view is looked at: somebody else has written to it."""
        if self.isVisible():
            self._ask_history()

    def _ask_history(self) -> None:
        session = self._replay.session
        if session is not None and session.assessment.starts:
            self.jobs.start("history", partial(_page_steps, session.assessment))

    @Slot(object)
    def _page_read(self, report: JobReport) -> None:
        assessment, page = report.value
        session = self._replay.session
        if session is None or session.assessment is not assessment:
            return
        self._page, self._page_of, self._no_band = page, assessment, ""
        self.overlay.show_page(page)
        self._replay.turns.take(*self._steps)

    @Slot(object)
    def _page_failed(self, report: JobReport) -> None:
        error = report.error
        if isinstance(error, UserError):
            self._tell_no_band(f"No normal range: {error}")
            return
        assert error is not None
        details = "".join(traceback.format_exception(error))
        log.error("A fault of the program:\n%s", details)
        self._tell_no_band("No normal range: the program failed to read the history; this is its fault.")
        self.told.emit("The program failed to read the history; this is its fault.", True, details)

    def _tell_no_band(self, words: str) -> None:
        self._no_band = words
        self._usual.setText(words)

    def _fill(self) -> None:
        self._is_old = False
        # Until its turn comes each part is empty, never of another start.
        self._replay.turns.drop(*self._steps)
        self.plane.clear()
        self.time.clear()
        self._usual.setText("")
        self._notes.setVisible(False)
        session = self._replay.session
        row = self.table.currentRow() if self._shown_path == (session.path if session else None) else 0
        self._shown_path = session.path if session is not None else None
        self.table.show_starts(session.assessment if session is not None else None, self._replay.clock)
        self.measures.setRowCount(0)
        self._measures_heading.setText("")
        self._arrange()
        if session is None:
            return
        starts = session.assessment.starts
        self._heading.setText("Starts in this recording" if starts else "No start in this recording")
        self._hint.setText(_HINT if starts else (_NONE if session.profile is not None else _NO_PROFILE))
        if starts:
            self._is_filling = True
            self.table.selectRow(min(max(row, 0), len(starts) - 1))
            self._is_filling = False
            self._replay.turns.take(*self._steps)
            self._ask_history()

    def _chosen(self) -> Start | None:
        session, row = self._replay.session, self.table.currentRow()
        if session is None or not 0 <= row < len(session.assessment.starts):
            return None
        return session.assessment.starts[row]

    @Slot(QTableWidgetItem)
    def _activated(self, item: QTableWidgetItem) -> None:
        session = self._replay.session
        if session is not None:
            self.start_wanted.emit(session.assessment.starts[item.row()])

    @Slot(int, int, int, int)
    def _current_changed(self, row: int, column: int, old_row: int, old_column: int) -> None:
        session, start = self._replay.session, self._chosen()
        if session is None or start is None or (row == old_row and self._measures_heading.text()):
            return
        self._measures_heading.setText(
            start_title(start.number, session.assessment.start_count(start.engine))
        )
        self.overlay.show_start(start)
        if self._is_filling:
            return
        self._replay.turns.drop(*self._steps)
        for step in self._steps:
            step()

    @Slot(str)
    def _ask_why(self, name: str) -> None:
        start = self._chosen()
        if start is not None:
            self.why_wanted.emit(start, name)

    @property
    def is_filled(self) -> bool:
        """Whether the history was asked and everything stands in its place."""
        return self._page is not None and not any(self._replay.turns.waits(step) for step in self._steps)

    def _show_plane(self) -> None:
        session, start = self._replay.session, self._chosen()
        if session is not None and start is not None:
            plane = self._page.plane(start) if self._page is not None else None
            self.plane.show_chart(plane_chart(session.assessment, start, plane))
            self._usual.setText(plane.words if plane is not None else self._no_band)

    def _show_time(self) -> None:
        session, start = self._replay.session, self._chosen()
        if session is not None and start is not None:
            self.time.show_chart(time_chart(session.assessment, start))

    def _show_measures(self) -> None:
        session, start = self._replay.session, self._chosen()
        if session is not None and start is not None:
            usual = self._page.usual(start) if self._page is not None else {}
            self.measures.show_start(session, start, usual)
            notes = [no_factor(session.assessment, start), *start.notes]
            self._notes.setText("\n".join(filter(None, notes)))
            self._notes.setVisible(bool(self._notes.text()))


def _page_steps(assessment: Assessment) -> Generator[None, None, tuple[Assessment, StartsPage]]:
    yield None
    from debrief.history.service.start_history import own_starts_page

    return assessment, own_starts_page(assessment)
