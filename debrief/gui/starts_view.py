"""The starts of the recording in a table, with the measures and factors of the chosen one."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QPersistentModelIndex, QRect, QSize, Qt, Signal, Slot
from PySide6.QtGui import QIcon, QPainter, QPixmap, QResizeEvent, QShowEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QBoxLayout,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from debrief.analysis.model import Assessment, Event, Start
from debrief.gui.charts import PlaneChartView, TimeChartView
from debrief.gui.labels import WrappedLabel
from debrief.gui.replay import Replay
from debrief.gui.shapes import draw_shape
from debrief.gui.story_panel import factor_words
from debrief.gui.theme import Theme
from debrief.session.definitions import definition_of, measure_title
from debrief.session.saying import in_words, keys_in_words, no_factor
from debrief.session.start_charts import plane_chart, time_chart
from debrief.session.story import SHAPE_WORDS, Shape, shape_of
from debrief.session.wording import (
    OUTCOME_WORDS,
    clock_text,
    decimals_for,
    number,
    plain,
    unit_words,
    value_text,
)

_ORDER = {"limit": 0, "possible": 1, "caution": 2, "note": 3}
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
NOT_KNOWN = "\N{EM DASH}"


def start_columns(assessment: Assessment) -> list[str]:
    """Return the table's headings; the level is the lowest start level of the profile."""
    level = _lowest_level(assessment)
    above = f"Above {plain(level)} °C, s" if level is not None else "Above a level, s"
    return ["", "Start", "Began", "Outcome", "Ng at fuel, %", "Lowest V from 1 s", "Residual, °C", "Peak ITT, °C", above,
            "Fuel to light-off, s", "Light-off to idle, s", "Starter, s"]  # fmt: skip


def start_row(assessment: Assessment, start: Start) -> list[str]:
    """Return one start's cells, from the second column on; a dash where it is not known."""
    return [
        str(start.number),
        clock_text(start.begin_s),
        OUTCOME_WORDS[start.outcome],
        _cell(start.ng_at_fuel_pct, 1),
        _cell(start.min_bus_volts, 1),
        _cell(start.residual_itt_c, 0),
        _cell(start.peak_itt_c, 0),
        _cell(_above(assessment, start), 1),
        _cell(_between(start.fuel_on_s, start.light_off_s), 1),
        _cell(_between(start.light_off_s, start.idle_s), 1),
        _cell(_between(start.starter_on_s, start.starter_off_s), 1),
    ]


def _cell(value: float | None, decimals: int) -> str:
    return NOT_KNOWN if value is None else number(value, decimals)


def _between(begin: float | None, end: float | None) -> float | None:
    return None if begin is None or end is None else end - begin


def _lowest_level(assessment: Assessment) -> float | None:
    profile = assessment.profile
    if profile is None:
        return None
    levels = [r.level for x in profile.limits if x.when == "start" and x.channel == "itt" for r in x.allowed]
    return min(levels, default=None)


def _above(assessment: Assessment, start: Start) -> float | None:
    """Return the seconds above the lowest start level, as the analysis found them."""
    level = _lowest_level(assessment)
    if level is None:
        return None
    measure = start.measures.get(f"time_above_{level:g}")
    return measure.value if measure is not None else None


def _events_of(assessment: Assessment, start: Start) -> list[Event]:
    return [e for e in assessment.events if e.start_number == start.number and e.engine == start.engine]


class _Wrapped(QStyledItemDelegate):
    """Gives wrapped cells the height that they need: Qt's own counts without the padding."""

    def __init__(self, table: QTableWidget) -> None:
        super().__init__(table)
        self._table = table

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex | QPersistentModelIndex) -> QSize:
        """Return the size of a cell at its column's width; that of the value is never wrapped."""
        text = str(index.data(Qt.ItemDataRole.DisplayRole) or "")
        metrics = self._table.fontMetrics()
        if index.column() == 1:
            return QSize(metrics.horizontalAdvance(text) + 28, metrics.height() + 10)
        room = QRect(0, 0, max(self._table.columnWidth(index.column()) - 30, 20), 2000)
        return QSize(
            room.width(), metrics.boundingRect(room, int(Qt.TextFlag.TextWordWrap), text).height() + 10
        )


class StartsView(QWidget):
    """A table, and of the chosen start two charts and all measures; Enter or a double click shows the start in the replay.

    Signals
    -------
    start_wanted : int
        Number of the start to show in the replay.
    """

    start_wanted = Signal(int)

    def __init__(self, replay: Replay, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self.setObjectName("panel")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 14, 18, 14)
        column.setSpacing(8)
        self._heading = QLabel("Starts in this recording")
        self._heading.setProperty("role", "heading")
        column.addWidget(self._heading)
        hint = QLabel("Enter or a double click shows the start in the replay.")
        hint.setProperty("role", "small")
        column.addWidget(hint)
        self.table = QTableWidget()
        self.table.setAccessibleName("Starts")
        self.table.verticalHeader().hide()
        self.table.setShowGrid(False)
        self.table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.table.itemActivated.connect(self._activated)
        self.table.currentCellChanged.connect(self._current_changed)
        column.addWidget(self.table)
        below = QHBoxLayout()
        below.setSpacing(18)
        column.addSpacing(6)
        column.addLayout(below, 1)
        self.plane = PlaneChartView(theme)
        self.time = TimeChartView(theme)
        self._charts = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._charts.setSpacing(12)
        self._charts.addWidget(self.plane, 1)
        self._charts.addWidget(self.time, 1)
        below.addLayout(self._charts, 10)
        words = QVBoxLayout()
        words.setSpacing(4)
        below.addLayout(words, 8)
        self._measures_heading = QLabel()
        self._measures_heading.setProperty("role", "heading")
        words.addWidget(self._measures_heading)
        hint = QLabel("Measured; what was present is not proven to be the cause.")
        hint.setProperty("role", "small")
        hint.setWordWrap(True)
        words.addWidget(hint)
        self.measures = QTableWidget()
        self.measures.setAccessibleName("Measures of the chosen start")
        self.measures.verticalHeader().hide()
        self.measures.setShowGrid(False)
        self.measures.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.measures.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
        self.measures.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.measures.setWordWrap(True)
        self.measures.setItemDelegate(_Wrapped(self.measures))
        words.addWidget(self.measures, 1)
        self._notes = WrappedLabel()
        self._notes.setProperty("role", "small")
        words.addWidget(self._notes)
        self._is_old = True
        replay.session_changed.connect(self._session_changed)
        theme.changed.connect(self._session_changed)

    @Slot()
    def _session_changed(self) -> None:
        """Fill the view when it is looked at, not while a recording is being opened."""
        self._is_old = True
        if self.isVisible():
            self._fill()

    def showEvent(self, event: QShowEvent) -> None:
        """Fill the view if something has changed since."""
        super().showEvent(event)
        if self._is_old:
            self._fill()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Put the charts above each other where they would leave no room for the measures."""
        super().resizeEvent(event)
        narrow = self.width() < self._theme.px(1300)
        wanted = QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        if self._charts.direction() != wanted:
            self._charts.setDirection(wanted)

    def _fill(self) -> None:
        self._is_old = False
        session = self._replay.session
        self.table.clear()
        self.table.setRowCount(0)
        self.measures.setRowCount(0)
        for chart in (self.plane, self.time):
            chart.setVisible(session is not None and bool(session.assessment.starts))
        if session is None:
            return
        assessment = session.assessment
        headings = start_columns(assessment)
        self.table.setColumnCount(len(headings))
        self.table.setHorizontalHeaderLabels(headings)
        self.table.setRowCount(len(assessment.starts))
        for row, start in enumerate(assessment.starts):
            worst = min(_events_of(assessment, start), key=lambda e: _ORDER[e.severity], default=None)
            mark = QTableWidgetItem()
            if worst is not None and worst.severity != "note":
                mark.setIcon(self._icon(shape_of(worst)))
                mark.setData(Qt.ItemDataRole.AccessibleTextRole, SHAPE_WORDS[shape_of(worst)])
                mark.setToolTip(worst.message)
            self.table.setItem(row, 0, mark)
            for offset, text in enumerate(start_row(assessment, start)):
                item = QTableWidgetItem(text)
                if offset != 2:
                    item.setTextAlignment(_RIGHT)
                self.table.setItem(row, offset + 1, item)
        header = self.table.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setHighlightSections(False)
        for column in range(len(headings)):
            title = self.table.horizontalHeaderItem(column)
            if title is not None and column not in (0, 3):
                title.setTextAlignment(_RIGHT)
        rows_height = sum(self.table.rowHeight(row) for row in range(min(len(assessment.starts), 8)))
        # As tall as its rows, so that what belongs to the chosen start follows at once.
        self.table.setFixedHeight(header.sizeHint().height() + max(rows_height, 30) + 14)
        self._heading.setText(
            "Starts in this recording" if assessment.starts else "No start in this recording"
        )
        if assessment.starts:
            self.table.selectRow(0)

    def _icon(self, shape: Shape) -> QIcon:
        picture = QPixmap(20, 20)
        picture.fill(Qt.GlobalColor.transparent)
        painter = QPainter(picture)
        draw_shape(painter, shape, 10, 10, 6.5, self._theme)
        painter.end()
        icon = QIcon(picture)
        icon.addPixmap(picture, QIcon.Mode.Selected)
        return icon

    @Slot(QTableWidgetItem)
    def _activated(self, item: QTableWidgetItem) -> None:
        session = self._replay.session
        if session is not None:
            self.start_wanted.emit(session.assessment.starts[item.row()].number)

    @Slot(int, int, int, int)
    def _current_changed(self, row: int, column: int, old_row: int, old_column: int) -> None:
        session = self._replay.session
        if session is None or not 0 <= row < len(session.assessment.starts):
            return
        start = session.assessment.starts[row]
        self._measures_heading.setText(f"Start {start.number}")
        self.plane.show_chart(plane_chart(session.assessment, start))
        self.time.show_chart(time_chart(session.assessment, start))
        rows: list[tuple[str, str, str]] = []
        tips: dict[int, str] = {}
        for factor in start.factors:
            name, value, reference = factor_words(factor)
            rows.append((name, value, f"{reference}; present"))
        for name, measure in start.measures.items():
            value = value_text(measure.value, measure.unit)
            aside = measure.why or ""
            if measure.low is not None and measure.high is not None:
                decimals = decimals_for(measure.unit) + 1
                low, high = number(measure.low, decimals), number(measure.high, decimals)
                if low != high:
                    aside = f"{low} to {high} {unit_words(measure.unit)}".strip()
            if measure.inferred:
                aside = f"{aside}; inferred" if aside else "inferred"
            meaning = definition_of(name, "measure")
            if meaning is not None:
                formula = keys_in_words(meaning.formula, session.profile)
                tips[len(rows)] = f"{formula} Unknown when: {meaning.null_when}"
            rows.append((measure_title(name), value, aside))
        notes = [no_factor(session.assessment, start), *start.notes]
        self._notes.setText("\n".join(in_words(note) for note in notes if note))
        self._notes.setVisible(bool(self._notes.text()))
        self.measures.setColumnCount(3)
        self.measures.setHorizontalHeaderLabels(["Measure", "Value", "Bounds, or why"])
        self.measures.setRowCount(len(rows))
        for index, cells in enumerate(rows):
            for position, text in enumerate(cells):
                item = QTableWidgetItem(text)
                if position == 1:
                    item.setTextAlignment(_RIGHT)
                item.setToolTip(text if position == 2 and text else tips.get(index, ""))
                self.measures.setItem(index, position, item)
        header = self.measures.horizontalHeader()
        # The value is never cut; names and bounds share what is left and wrap.
        header.setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        header.setSectionResizeMode(1, QHeaderView.ResizeMode.ResizeToContents)
        self.measures.verticalHeader().setMinimumSectionSize(self._theme.px(25))
        self.measures.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)
