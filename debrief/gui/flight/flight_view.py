"""The flight on one page: its profile with phases and loads, the margin, and tables of what was measured."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import QButtonGroup, QHBoxLayout, QPushButton, QSplitter, QVBoxLayout, QWidget

from debrief.gui.background.guarded import guarded
from debrief.gui.charts.chart_view import ChartView
from debrief.gui.flight.flight_table import FlightTableView
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import PlainLabel, WrappedLabel
from debrief.session.flight.flight_charts import FLIGHT, MARGIN, flight_chart, margin_chart
from debrief.session.flight.flight_tables import FlightTable, flight_tables
from debrief.session.texts.recording_kind import is_flight

_HINT = "A double click or Enter shows the moment in the replay, or what a measure was read from."


class FlightView(QWidget):
    """Charts above, the chosen table below.

    Signals
    -------
    moment_wanted : float
        To be shown in the replay, [s].
    why_wanted : str
        The evidence of this measure of the flight is to be shown.
    """

    moment_wanted = Signal(float)
    why_wanted = Signal(str)

    def __init__(self, replay: Replay, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._tables: tuple[FlightTable, ...] = ()
        self._chosen = ""
        self._is_old = True
        self._steps = (self._show_flight, self._show_margin, self._show_tables)
        self.setObjectName("panel")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 10, 18, 10)
        column.setSpacing(6)
        self.flight = ChartView(theme, FLIGHT)
        self.margin = ChartView(theme, MARGIN)
        charts = QSplitter(Qt.Orientation.Horizontal)
        charts.setChildrenCollapsible(False)
        charts.addWidget(self.flight)
        charts.addWidget(self.margin)
        charts.setSizes([700, 300])
        column.addWidget(charts, 7)
        self._bar = QHBoxLayout()
        self._bar.setSpacing(4)
        self.buttons = QButtonGroup(self)
        self.buttons.idToggled.connect(self._switched)
        column.addLayout(self._bar)
        self.about = WrappedLabel()
        self.about.setProperty("role", "small")
        column.addWidget(self.about)
        self.table = FlightTableView(theme)
        column.addWidget(self.table, 4)
        hint = PlainLabel(_HINT)
        hint.setProperty("role", "small")
        column.addWidget(hint)
        self.table.moment_wanted.connect(self.moment_wanted)
        self.table.why_wanted.connect(self.why_wanted)
        for chart in (self.flight, self.margin):
            chart.chosen.connect(self._mark_chosen)
        replay.session_changed.connect(self._session_changed)
        replay.clock_changed.connect(self._session_changed)
        theme.changed.connect(self._session_changed)

    @property
    def is_filled(self) -> bool:
        """Whether everything stands in its place."""
        return not self._is_old and not any(self._replay.turns.waits(step) for step in self._steps)

    @Slot()
    def _session_changed(self) -> None:
        """Fill the page when it is looked at, not while a recording is being opened."""
        self._is_old = True
        if self.isVisible():
            self._fill()

    @guarded()
    def showEvent(self, event: QShowEvent) -> None:
        """Fill the page if something has changed since."""
        super().showEvent(event)
        if self._is_old:
            self._fill()

    def _fill(self) -> None:
        self._is_old = False
        # Until its turn comes each part is empty, never of another recording.
        self._replay.turns.drop(*self._steps)
        self.flight.clear()
        self.margin.clear()
        self.table.setRowCount(0)
        if self._replay.session is not None:
            self._replay.turns.take(*self._steps)

    def _show_flight(self) -> None:
        session = self._replay.session
        if session is not None:
            self.flight.show_chart(flight_chart(session.assessment, session.engine, self._replay.clock))

    def _show_margin(self) -> None:
        session = self._replay.session
        if session is not None:
            chart = margin_chart(session.assessment, session.engine, self._replay.clock)
            self.margin.show_chart(chart)
            # What never flew has no curve of it: the room belongs to the recording.
            self.margin.setVisible(not chart.problem or is_flight(session.assessment))

    def _show_tables(self) -> None:
        session = self._replay.session
        if session is None:
            return
        self._tables = flight_tables(session.assessment, self._replay.clock)
        titles = [table.title for table in self._tables]
        self._make_buttons(titles)
        wanted = self._chosen if self._chosen in titles else titles[0]
        button = self.buttons.button(titles.index(wanted))
        if button.isChecked():
            self._show_table(titles.index(wanted))
        else:
            button.setChecked(True)

    def _make_buttons(self, titles: list[str]) -> None:
        """Make a button for each table, unless they are there."""
        if [button.property("title") for button in self.buttons.buttons()] == titles:
            return
        for button in self.buttons.buttons():
            self.buttons.removeButton(button)
            button.deleteLater()
        while self._bar.count():
            self._bar.takeAt(0)
        for index, title in enumerate(titles):
            button = QPushButton(title)
            button.setProperty("title", title)
            button.setProperty("role", "flat")
            button.setCheckable(True)
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            self.buttons.addButton(button, index)
            self._bar.addWidget(button)
        self._bar.addStretch(1)

    @Slot(int, bool)
    def _switched(self, index: int, on: bool) -> None:
        if on and index < len(self._tables):
            self._chosen = self._tables[index].title
            self._show_table(index)

    def _show_table(self, index: int) -> None:
        table = self._tables[index]
        self.about.setText(table.about)
        self.table.show_table(table)

    @Slot(str)
    def _mark_chosen(self, time_s: str) -> None:
        self.moment_wanted.emit(float(time_s))
