"""What this engine usually does: its kept flights, the trends of its starts, and what has shifted.

The database is loaded when the view is first shown, and only away from the event loop.
"""

from __future__ import annotations

import logging
import traceback
from collections.abc import Generator
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QModelIndex, Qt, Signal, Slot
from PySide6.QtGui import QHideEvent, QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QPushButton,
    QSizePolicy,
    QStackedWidget,
    QTableView,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from debrief.errors import UserError
from debrief.gui.flight_list import FlightModel, shape_icon
from debrief.gui.jobs import JobReport, Jobs
from debrief.gui.labels import ElidedLabel, WrappedLabel
from debrief.gui.replay import Replay
from debrief.gui.theme import Theme

if TYPE_CHECKING:
    from debrief.analysis.model import Assessment
    from debrief.gui.trend_chart import TrendChart
    from debrief.history.desk import HistoryPage
    from debrief.history.series import Trend

log = logging.getLogger(__name__)

ALL_FLIGHTS = "All flights"
EMPTY = (
    "No flight is kept yet.\n\n"
    "\N{LEFT DOUBLE QUOTATION MARK}Keep this flight\N{RIGHT DOUBLE QUOTATION MARK} adds the open recording to "
    "the history. After 15 completed starts of an engine the history says what is usual for it, and whether "
    "something has shifted. Usual is not a limit."
)
_BUG = (
    "The program failed here; this is its fault, not the recording's, and nothing was changed. "
    "Copy the details to report it."
)
_KEPT_WORDS = {
    "new": "Kept in the history",
    "renewed": "Kept anew, as it is judged now",
    "unchanged": "Already kept, unchanged",
}
_NARROW = 600
_SENTENCE, _FILE = 4, 3
_LEGEND_WITHOUT_BAND = "Dots: completed starts. Ring: this recording. A click opens the flight."
_LEGEND = (
    "Tint: usual band. Blue line: moving average, dotted its control limits. Triangle: outside the usual band. "
    "Hollow: left out by a person. Ring: this recording. A click opens the flight."
)
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


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
    """

    open_wanted = Signal(str)
    back_wanted = Signal()
    told = Signal(str, bool, str)

    def __init__(self, replay: Replay, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self._page: HistoryPage | None = None
        self._engine: str | None = None
        self._stale = True
        self._filling = False
        self._expected: tuple[str, str] | None = None
        self.chart: TrendChart | None = None
        self.jobs = Jobs(self)
        self.setObjectName("panel")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 12, 18, 12)
        column.setSpacing(10)
        column.addLayout(self._make_top())
        self._stack = QStackedWidget()
        column.addWidget(self._stack, 1)
        self._empty = QLabel("Reading the history...")
        self._empty.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._empty.setWordWrap(True)
        self._empty.setMargin(60)
        self._stack.addWidget(self._empty)
        self._stack.addWidget(self._make_body())
        self.jobs.succeeded.connect(self._job_succeeded)
        self.jobs.failed.connect(self._job_failed)
        replay.session_changed.connect(self._session_changed)
        theme.changed.connect(self._theme_changed)
        self._show_keep()

    # --- the parts --------------------------------------------------------------------------------------

    def _make_top(self) -> QHBoxLayout:
        row = QHBoxLayout()
        row.setSpacing(10)
        self.back_button = QPushButton("&Back to the start page")
        self.back_button.clicked.connect(self.back_wanted)
        row.addWidget(self.back_button)
        row.addWidget(_heading("History of"))
        self.engines = QComboBox()
        self.engines.setAccessibleName("Engine")
        self.engines.setMinimumContentsLength(14)
        self.engines.addItem(ALL_FLIGHTS, "")
        self.engines.currentIndexChanged.connect(self._engine_chosen)
        row.addWidget(self.engines)
        self._summary = ElidedLabel()
        self._summary.setProperty("role", "muted")
        row.addWidget(self._summary, 1)
        self.keep_button = QPushButton("&Keep this flight")
        self.keep_button.clicked.connect(self.keep)
        row.addWidget(self.keep_button)
        return row

    def _make_body(self) -> QWidget:
        body = QWidget()
        row = QHBoxLayout(body)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(18)
        left = QVBoxLayout()
        left.setSpacing(6)
        left.addWidget(_heading("Flights"))
        self._model = FlightModel(self._theme)
        self.flights = QTableView()
        self.flights.setModel(self._model)
        _dress(self.flights, "Flights in the history")
        self.flights.activated.connect(self._flight_chosen)
        left.addWidget(self.flights, 1)
        hint = QLabel("Enter or a double click opens the flight.")
        hint.setProperty("role", "small")
        left.addWidget(hint)
        row.addLayout(left, 2)
        right = QVBoxLayout()
        right.setSpacing(6)
        right.addWidget(_heading("Trends of completed starts"))
        self.measures = _table("Trends", ("", "Measure", "Last", "Usual", "Band", "What it says"))
        self.measures.currentCellChanged.connect(self._measure_chosen)
        right.addWidget(self.measures)
        self._title = _heading("")
        right.addWidget(self._title)
        self._words = WrappedLabel()
        self._words.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        right.addWidget(self._words)
        self._chart_place = QVBoxLayout()
        self._blank = QWidget()  # holds the chart's room until there is one
        self._chart_place.addWidget(self._blank, 1)
        right.addLayout(self._chart_place, 1)
        self._legend = WrappedLabel(_LEGEND)
        self._legend.setProperty("role", "small")
        right.addWidget(self._legend)
        row.addLayout(right, 3)
        return body

    # --- what is shown ----------------------------------------------------------------------------------

    @property
    def page(self) -> HistoryPage | None:
        """What is shown; None until the history was read."""
        return self._page

    @Slot()
    def refresh(self) -> None:
        """Read the history again, away from the event loop."""
        self._stale = False
        session = self._replay.session
        assessment = session.assessment if session is not None else None
        number = session.engine if session is not None else 1
        self.jobs.start("look", partial(_look_steps, assessment, number, self._engine))

    @Slot()
    def keep(self) -> None:
        """Keep the open recording."""
        session = self._replay.session
        if session is not None:
            self.keep_button.setEnabled(False)
            self.jobs.start("keep", partial(_keep_steps, session.assessment))

    def close_jobs(self) -> None:
        """Stop everything and wait for it."""
        self.jobs.close()

    def showEvent(self, event: QShowEvent) -> None:
        """Read the history if that is not done yet."""
        super().showEvent(event)
        if self._stale:
            self.refresh()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Show as many columns as there is room for."""
        super().resizeEvent(event)
        self._fit_columns()

    def hideEvent(self, event: QHideEvent) -> None:
        """Stop reading; it is read again when it is next looked at."""
        if self.jobs.cancel("look"):
            self._stale = True
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
        self._stale = True
        self._show_keep()
        if self.isVisible():
            self.refresh()

    def _show_keep(self) -> None:
        session = self._replay.session
        known = session is not None and len(session.recording.provenance.sha256) == 64
        self.keep_button.setEnabled(known and not self.jobs.is_running("keep"))
        kept = self._page.kept if self._page is not None and session is not None else None
        if kept is not None and session is not None and kept.sha256 == session.recording.provenance.sha256:
            self.keep_button.setText("&Keep anew as judged now")
            self.keep_button.setToolTip("This flight is kept. Its notes stay when it is kept anew.")
        else:
            self.keep_button.setText("&Keep this flight")
            self.keep_button.setToolTip("Add the open recording to the history")
        self.keep_button.setVisible(session is not None)
        self.back_button.setVisible(session is None)

    def _show_page(self, page: HistoryPage) -> None:
        self._page = page
        self._filling = True
        self.engines.clear()
        for engine in page.engines:
            self.engines.addItem(engine, engine)
        self.engines.addItem(ALL_FLIGHTS, "")
        self.engines.setCurrentIndex(max(0, self.engines.findData(page.engine or "")))
        self.engines.setEnabled(page.total > 0)
        self._filling = False
        self._show_keep()
        if not page.total:
            self._summary.setText(page.place)
            self._empty.setText(EMPTY)
            self._stack.setCurrentIndex(0)
            return
        self._summary.setText(_summary(page))
        self._stack.setCurrentIndex(1)
        self._fill_flights(page)
        self._fill_measures(page)

    def _fill_flights(self, page: HistoryPage) -> None:
        self._model.show(page.flights, page.kept.sha256 if page.kept is not None else "")
        self.flights.setColumnWidth(0, 40)
        self._fit_columns()

    def _fit_columns(self) -> None:
        """Leave the sentence to the tool tip where there is no room for both it and the file's name."""
        narrow = self.flights.width() < self._theme.px(_NARROW)
        modes = QHeaderView.ResizeMode
        self.flights.setColumnHidden(_SENTENCE, narrow)
        header = self.flights.horizontalHeader()
        header.setStretchLastSection(False)  # the last one may be hidden
        header.setSectionResizeMode(_FILE, modes.Stretch if narrow else modes.ResizeToContents)
        header.setSectionResizeMode(_SENTENCE, modes.Stretch)

    def _fill_measures(self, page: HistoryPage) -> None:
        from debrief.history.measures import USUAL_MEASURES

        table = self.measures
        chosen = self._trend_at(table.currentRow())
        self._filling = True
        table.setRowCount(0)
        table.setRowCount(len(page.trends))
        for row, trend in enumerate(page.trends):
            cells = [QTableWidgetItem(text) for text in trend_cells(trend)]
            mark = QTableWidgetItem()
            if trend.changes or trend.points[-1].outside:
                mark.setIcon(shape_icon("triangle", self._theme))
                mark.setData(Qt.ItemDataRole.AccessibleTextRole, "look here")
            for column, cell in enumerate((mark, *cells)):
                if column in (2, 3, 4):
                    cell.setTextAlignment(_RIGHT)
                cell.setToolTip(trend.words)
                table.setItem(row, column, cell)
        self._filling = False
        rows = max(1, min(len(page.trends), len(USUAL_MEASURES)))
        height = table.horizontalHeader().height() + rows * table.verticalHeader().defaultSectionSize() + 4
        table.setFixedHeight(height)
        shown = bool(page.trends)
        table.setVisible(shown)
        self._legend.setVisible(shown)
        if shown:
            names = [trend.measure for trend in page.trends]
            first = next((i for i, trend in enumerate(page.trends) if trend.changes), 0)
            wanted = names.index(chosen) if chosen in names else first
            table.selectRow(wanted)
            self._measure_chosen(wanted)
        else:
            self._title.setText("")
            self._words.setText(
                "Choose an engine above to see its trends."
                if page.engine is None and page.engines
                else "Nothing to trend: it takes dated flights of a named engine with completed starts."
            )
            if self.chart is not None:
                self.chart.show_trend(None)

    def _trend_at(self, row: int) -> str | None:
        item = self.measures.item(row, 1)
        return str(item.data(Qt.ItemDataRole.UserRole) or "") if item is not None else None

    @Slot(int, int, int, int)
    def _measure_chosen(self, row: int, column: int = 0, old_row: int = 0, old_column: int = 0) -> None:
        page = self._page
        if self._filling or page is None or not 0 <= row < len(page.trends):
            return
        from debrief.gui.trend_chart import TrendChart, axis_title

        trend = page.trends[row]
        if self.chart is None:
            self.chart = TrendChart(self._theme)
            self.chart.point_chosen.connect(self._open)
            self._chart_place.addWidget(self.chart, 1)
            self._blank.hide()
        self._title.setText(axis_title(trend))
        self._legend.setText(_LEGEND if trend.band.enough else _LEGEND_WITHOUT_BAND)
        since = f" Learnt anew since: {trend.band.since}." if trend.band.since else ""
        self._words.setText(trend.words + since)
        session = self._replay.session
        self.chart.show_trend(trend, session.recording.provenance.sha256 if session is not None else "")

    # --- choosing ---------------------------------------------------------------------------------------

    @Slot(int)
    def _engine_chosen(self, index: int) -> None:
        if not self._filling:
            self._engine = str(self.engines.itemData(index) or "")
            self.refresh()

    @Slot(QModelIndex)
    def _flight_chosen(self, index: QModelIndex) -> None:
        flight = self._model.flight(index.row())
        if flight is not None:
            self._open(flight.sha256)

    @Slot(str)
    def _open(self, sha256: str) -> None:
        """Open a kept flight's file, if it is still where it was."""
        page, session = self._page, self._replay.session
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
            file_name, how = report.value
            self.told.emit(f"{_KEPT_WORDS[how]}: {file_name}", False, "")
            self._stale = True
            self._show_keep()
            if self.isVisible():
                self.refresh()

    @Slot(object)
    def _job_failed(self, report: JobReport) -> None:
        error = report.error
        assert error is not None
        self._show_keep()
        if isinstance(error, UserError):
            words, details = str(error), ""
        else:
            words, details = _BUG, "".join(traceback.format_exception(error))
            log.error("A fault of the program:\n%s", details)
        if report.name == "look":
            self._empty.setText("The history could not be read.")
            self._stack.setCurrentIndex(0)
        self.told.emit(words, True, details)

    # --- looks ------------------------------------------------------------------------------------------

    @Slot()
    def _theme_changed(self) -> None:
        if self._page is not None and self._page.total:
            self._fill_flights(self._page)
            self._fill_measures(self._page)


def trend_cells(trend: Trend) -> tuple[str, str, str, str, str]:
    """Return measure, last value, what is usual, its band, and what is to be said, in short."""
    from debrief.history.baseline import MIN_STARTS
    from debrief.session.definitions import measure_title
    from debrief.session.wording import decimals_for, number, value_text

    band, last = trend.band, trend.points[-1]
    value = value_text(last.value, trend.unit)
    if band.centre is None or band.low is None or band.high is None:
        counted = f"{band.count} of {MIN_STARTS} {band.counted(2).split()[-1]}: not enough"
        return measure_title(trend.measure), value, "", "", counted
    decimals = decimals_for(trend.unit)
    edges = f"{number(band.low, decimals)} to {number(band.high, decimals)}"
    if trend.changes:
        shift = trend.changes[-1][0]
        since = trend.points[trend.charted[shift.since]].date
        way = "higher" if shift.size > 0 else "lower"
        says = f"Shifted {value_text(abs(shift.size), trend.unit)} {way} from {since}"
    else:
        which = band.counted(1).split()[-1]
        says = f"Last {which} outside the band" if last.outside else "No lasting shift"
    return measure_title(trend.measure), value, value_text(band.centre, trend.unit), edges, says


def _summary(page: HistoryPage) -> str:
    many = len(page.flights)
    words = f"{many} flight{'' if many == 1 else 's'}"
    if page.engine is not None:
        words += f", {page.starts} start{'' if page.starts == 1 else 's'}"
    return f"{words}. Usual is not a limit. Kept in {page.place}"


def _heading(words: str) -> QLabel:
    label = QLabel(words)
    label.setProperty("role", "heading")
    label.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
    return label


def _table(name: str, titles: tuple[str, ...]) -> QTableWidget:
    table = QTableWidget()
    table.setColumnCount(len(titles))
    table.setHorizontalHeaderLabels(list(titles))
    _dress(table, name)
    return table


def _dress(table: QTableView, name: str) -> None:
    """Let a table look like all others here: rows are chosen, nothing is edited, no lines."""
    table.setAccessibleName(name)
    table.verticalHeader().hide()
    table.setShowGrid(False)
    table.setWordWrap(False)
    table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
    table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    table.setTabKeyNavigation(False)
    table.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    table.verticalHeader().setDefaultSectionSize(27)
    header = table.horizontalHeader()
    header.setHighlightSections(False)
    header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
    header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
    # The width follows the rows in view: all of thousands would take too long.
    header.setResizeContentsPrecision(0)
    header.setStretchLastSection(True)
    header.setMinimumSectionSize(36)
    header.setSectionResizeMode(0, QHeaderView.ResizeMode.Fixed)
    table.setColumnWidth(0, 40)


# --- the work, on another thread ------------------------------------------------------------------------


def _look_steps(
    assessment: Assessment | None, number: int, engine: str | None
) -> Generator[None, None, HistoryPage]:
    yield None
    # The chart's module, and what measures are called, are loaded here too: on the event loop they would be felt.
    import debrief.gui.trend_chart  # noqa: F401
    from debrief.history.desk import engine_names, look
    from debrief.session.definitions import measure_title

    measure_title("peak_itt")
    yield None
    if assessment is None:
        return look(engine=engine)
    names = engine_names(assessment, first=number)
    return look(assessment.recording.provenance.sha256, engine, names)


def _keep_steps(assessment: Assessment) -> Generator[None, None, tuple[str, str]]:
    yield None
    from debrief.history.desk import keep

    return assessment.recording.provenance.file_name, keep(assessment)
