"""Choosing what to lay over a start, where to align, and the measures of both beside each other."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QPushButton,
    QSizePolicy,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from debrief.analysis.model import Start
from debrief.gui.background.error_words import told_of
from debrief.gui.background.guarded import guarded
from debrief.gui.background.jobs import JobReport, Jobs
from debrief.gui.charts.two_starts_view import TwoStartsView
from debrief.gui.plain_text import entry, plain_tip
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.asking import Asker, ask_for_recording
from debrief.gui.widgets.cells import WrappedCells
from debrief.gui.widgets.choice_boxes import ChoiceBox
from debrief.gui.widgets.labels import PlainLabel, WrappedLabel
from debrief.gui.widgets.whole_rows import WholeRows
from debrief.session.charts.start_overlay import difference_rows, overlay, start_levels
from debrief.session.comparing.start_curves import INSTANT_WORDS, INSTANTS, start_curves
from debrief.session.importing.import_opening import Unsure, open_or_ask
from debrief.session.opening.opening_steps import Progress, show_units
from debrief.session.session import Session
from debrief.words.display_units import AS_COMPUTED, ShownUnits
from debrief.words.events import OUTCOME_WORDS
from debrief.words.numbers import value_text

if TYPE_CHECKING:
    from debrief.history.service.start_history import EarlierStart, StartsPage

_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_TABLE_WIDTH = 380
_NOTHING = (
    "This recording has no other start. Lay one of another recording over it: from the history in the list above, "
    "or from any file."
)


@dataclass(frozen=True)
class _Other:
    """An entry of the list: a start of an open session, or one that is still to be read."""

    words: str
    session: Session | None = None
    start: Start | None = None
    earlier: EarlierStart | None = None


class OverlayPanel(QWidget):
    """Two starts over each other.

    Signals
    -------
    told : str, bool, str
        A sentence for the user, whether it is a problem, and details to copy.
    progressed : Progress or None
        Of the reading of another recording; None when it has ended.
    pair_shown : int, str, int
        A person looks at two starts: number of the start, path of the other's recording, number of the other.
    """

    told = Signal(str, bool, str)
    progressed = Signal(object)
    pair_shown = Signal(int, str, int)

    def __init__(
        self,
        replay: Replay,
        theme: Theme,
        ask: Asker = ask_for_recording,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self._ask = ask
        self._start: Start | None = None
        self._others: list[_Other] = []
        self._other: _Other | None = None
        self._loaded: Session | None = None
        self._earlier: tuple[EarlierStart, ...] = ()
        self._wanted: EarlierStart | None = None
        self.jobs = Jobs(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addLayout(self._make_choices())
        row = QHBoxLayout()
        row.setSpacing(18)
        column.addLayout(row, 1)
        self.chart = TwoStartsView(theme)
        row.addWidget(self.chart, 13)
        right = QVBoxLayout()
        right.setSpacing(4)
        row.addLayout(right, 7)
        self._words = WrappedLabel()
        self._words.setProperty("role", "small")
        self.table = _table()
        right.addWidget(self._words)
        right.addWidget(self.table, 1)
        WholeRows(self.table, theme)
        theme.changed.connect(self._theme_changed)
        self._theme_changed()
        self.jobs.progressed.connect(self._job_progressed)
        self.jobs.succeeded.connect(self._job_succeeded)
        self.jobs.failed.connect(self._job_failed)

    def _make_choices(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(8)
        self.other = ChoiceBox(self._theme)
        self.other.setAccessibleName("The other start")
        self.other.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.other.setMinimumContentsLength(18)
        self.other.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.other.activated.connect(self._other_chosen)
        self.instant = ChoiceBox(self._theme)
        self.instant.setAccessibleName("Where both are aligned")
        for instant in INSTANTS:
            self.instant.addItem(INSTANT_WORDS[instant], instant)
        self.instant.setCurrentIndex(1)
        self.instant.currentIndexChanged.connect(self._show)
        self.file_button = QPushButton("&Other recording...")
        self.file_button.setToolTip("Take a start of any recording")
        self.file_button.clicked.connect(self.ask_file)
        for words, box in (("&Beside", self.other), ("Ali&gned at", self.instant)):
            label = PlainLabel(words)
            label.setBuddy(box)
            row.addWidget(label)
            row.addWidget(box, 1 if box is self.other else 0)
        row.addWidget(self.file_button)
        return row

    @Slot()
    def _theme_changed(self) -> None:
        # Room for three values beside the name of a measure.
        self.table.setMinimumWidth(self._theme.px(_TABLE_WIDTH))

    # --- what is chosen ---------------------------------------------------------------------------------

    def show_start(self, start: Start | None) -> None:
        """Lay the other over this start of the recording on the table."""
        self._start = start
        self._fill()

    def show_page(self, page: StartsPage | None) -> None:
        """Offer the earlier starts of the engine."""
        self._earlier = page.earlier if page is not None else ()
        self._fill()

    def forget(self) -> None:
        """Take back everything that belonged to the recording before."""
        self.jobs.cancel("load")
        self._start, self._other, self._loaded, self._earlier = None, None, None, ()
        self._others = []
        self.other.clear()

    def close_jobs(self) -> None:
        """Stop everything and wait for it."""
        self.jobs.close()

    @Slot()
    def cancel(self) -> None:
        """Stop reading another recording."""
        if self.jobs.cancel("load"):
            self.progressed.emit(None)
            self._fill()

    def _fill(self) -> None:
        session, start = self._replay.session, self._start
        if session is None or start is None:
            return
        before = self._other
        others = [
            _Other(_words(one), session, one)
            for one in session.assessment.starts
            if (one.engine, one.number) != (start.engine, start.number)
        ]
        loaded = self._loaded
        if loaded is not None:
            name = loaded.path.name
            others += [_Other(f"{_words(one)}, {name}", loaded, one) for one in loaded.assessment.starts]
        others += [_Other(_earlier_words(one), earlier=one) for one in self._earlier]
        self._others = others
        self.other.clear()
        for one in others:
            self.other.addItem(entry(one.words))
        same = [i for i, one in enumerate(others) if before is not None and _same(one, before)]
        completed = [i for i, one in enumerate(others) if one.start and one.start.outcome == "completed"]
        ready = [i for i, one in enumerate(others) if one.start is not None]
        index = next(iter(same or completed or ready), -1)
        self.other.setCurrentIndex(index)
        self.other.setEnabled(bool(others))
        self._other = others[index] if index >= 0 else None
        self._show()

    @Slot(int)
    def _other_chosen(self, index: int) -> None:
        if not 0 <= index < len(self._others):
            return
        chosen = self._others[index]
        if chosen.earlier is None:
            self._other = chosen
            self._show()
            return
        if not chosen.earlier.is_there:
            where = chosen.earlier.path or "an unknown folder"
            words = f"{chosen.earlier.file_name} is no longer where it was when it was kept, {where}."
            self.told.emit(f"{words} Other recording opens it from where it is now.", True, "")
            self._fill()
            return
        self._wanted = chosen.earlier
        self._load(chosen.earlier.path)

    def _tell_pair(self) -> None:
        start, other = self._start, self._other
        if not self.isVisible():
            return  # a pair that nobody has seen was not chosen
        if start is not None and other is not None and other.session is not None and other.start is not None:
            self.pair_shown.emit(start.number, str(other.session.path), other.start.number)

    @Slot()
    def ask_file(self) -> None:
        """Ask for another recording and read it."""
        session = self._replay.session
        if session is not None:
            self._ask(self, str(session.path.parent), self.load)

    @Slot(str)
    def load(self, path: str) -> None:
        """Read another recording, whose starts can then be chosen."""
        if path:
            self._wanted = None
            self._load(path)

    def _load(self, path: str) -> None:
        self.progressed.emit(Progress(f"Reading {Path(path).name}"))
        self.jobs.start("load", partial(_load_steps, self._units(), Path(path)))

    # --- what is shown ----------------------------------------------------------------------------------

    @guarded()
    def showEvent(self, event: QShowEvent) -> None:
        """Tell which pair is looked at."""
        super().showEvent(event)
        self._tell_pair()

    @Slot()
    def _show(self) -> None:
        session, start, other = self._replay.session, self._start, self._other
        if session is None or start is None:
            return
        if other is None or other.session is None or other.start is None:
            self.chart.show_overlay(None)
            self.table.setRowCount(0)
            self.table.horizontalHeader().hide()
            self._words.setText(_NOTHING if len(session.assessment.starts) < 2 else "")
            return
        foreign = other.session is not session
        mine, label = f"Start {start.number}", f"Start {other.start.number}"
        if foreign:
            label += f" of {other.session.path.name}"
        units = session.assessment.units
        first = start_curves(session.assessment, start, mine).shown(units)
        second = start_curves(other.session.assessment, other.start, label).shown(units)
        instant = INSTANTS[max(0, self.instant.currentIndex())]
        levels = start_levels(session.assessment, start)
        self.chart.show_overlay(overlay(first, second, instant, levels))
        # A file's name may be longer than the column; the chart has it.
        against = f"Start {other.start.number} of the other file" if foreign else label
        self._words.setText(
            f"Differences: {mine} minus {against}. Arrow keys in the chart move the cursor by 0.1 s, with Shift "
            "by 1 s."
        )
        other_title = "Other file" if foreign else label
        self._fill_table(start, other.start, (mine, other_title))
        self._tell_pair()

    def _fill_table(self, first: Start, second: Start, names: tuple[str, str]) -> None:
        table = self.table
        table.setHorizontalHeaderLabels(["Measure", *names, "Difference"])
        rows = difference_rows(first, second)
        table.setRowCount(len(rows))
        table.horizontalHeader().show()
        for row, cells in enumerate(rows):
            for column, text in enumerate(cells):
                item = QTableWidgetItem(text)
                item.setToolTip(plain_tip(text))
                if column:
                    item.setTextAlignment(_RIGHT)
                table.setItem(row, column, item)
        header = table.horizontalHeader()
        for column in range(1, 4):
            title = table.horizontalHeaderItem(column)
            if title is not None:
                title.setTextAlignment(_RIGHT)
            header.setSectionResizeMode(column, QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        table.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)

    def _units(self) -> ShownUnits:
        session = self._replay.session
        return AS_COMPUTED if session is None else session.assessment.units

    # --- jobs -------------------------------------------------------------------------------------------

    @Slot(object)
    def _job_progressed(self, report: JobReport) -> None:
        if isinstance(report.value, Progress):
            self.progressed.emit(report.value)

    @Slot(object)
    def _job_succeeded(self, report: JobReport) -> None:
        self.progressed.emit(None)
        session: Session = report.value
        wanted, self._wanted = self._wanted, None
        starts = session.assessment.starts
        if wanted is not None and session.recording.provenance.sha256 != wanted.sha256:
            self.told.emit(
                f"{session.path.name} is not the file that was kept: its SHA-256 is another. It is not laid over.",
                True,
                "",
            )
        elif not starts:
            why = "no engine profile is known for it" if session.profile is None else "it has none"
            self.told.emit(f"No start of {session.path.name} can be laid over: {why}.", True, "")
        else:
            found = [one for one in starts if wanted and (one.engine, one.number) == _place(wanted)]
            completed = [one for one in starts if one.outcome == "completed"]
            start = next(iter(found or completed), starts[0])
            self._loaded = session
            self._other = _Other("", session, start)
        self._fill()

    @Slot(object)
    def _job_failed(self, report: JobReport) -> None:
        self.progressed.emit(None)
        error = report.error
        assert error is not None
        if isinstance(error, Unsure):
            self.told.emit(
                "That recording leaves questions about its columns: open it by itself first, answer them and let "
                "them be remembered.",
                True,
                "",
            )
        else:
            words, details = told_of(error)
            self.told.emit(words, True, details)
        self._fill()


def _table() -> QTableWidget:
    table = QTableWidget(0, 4)
    table.setAccessibleName("Measures of both starts")
    table.verticalHeader().hide()
    table.setShowGrid(False)
    table.setTabKeyNavigation(False)
    table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    table.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
    table.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    table.setWordWrap(True)
    table.setItemDelegate(WrappedCells(table, (1, 2, 3)))
    return table


def _words(start: Start) -> str:
    return f"Start {start.number}: {OUTCOME_WORDS[start.outcome].lower()}"


def _earlier_words(one: EarlierStart) -> str:
    peak = f", peak {value_text(one.peak_c, one.peak_unit)}" if one.peak_c is not None else ""
    outcome = OUTCOME_WORDS.get(one.outcome, one.outcome).lower()
    gone = "" if one.is_there else " (file not there)"
    return f"{one.date or 'undated'}, {one.file_name}, start {one.number}: {outcome}{peak}{gone}"


def _place(one: EarlierStart) -> tuple[int, int]:
    return one.engine, one.number


def _same(one: _Other, other: _Other) -> bool:
    if one.start is None or other.start is None:
        return one.earlier is not None and one.earlier == other.earlier
    return one.session is other.session and (one.start.engine, one.start.number) == (
        other.start.engine,
        other.start.number,
    )


def _load_steps(units: ShownUnits, path: Path) -> Generator[Progress, None, Session]:
    """Open another recording, in the units of the one that it is laid over."""
    return (yield from show_units((yield from open_or_ask(path)), units))
