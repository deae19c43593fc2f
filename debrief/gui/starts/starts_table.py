"""The table of the starts: a row each, headings that wrap, and only the columns that there is room for."""

from __future__ import annotations

from PySide6.QtCore import QSize, Qt, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidget, QTableWidgetItem, QWidget

from debrief.analysis.model import Assessment, Event, Start
from debrief.gui.background.guarded import guarded
from debrief.gui.plain_text import plain_tip
from debrief.gui.style.shapes import shape_icon
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.tables import RowHeights
from debrief.session.texts.definitions import level_name
from debrief.session.texts.story import finding_title, shape_of, spoken_severity
from debrief.words.channels import within_sentence
from debrief.words.clock import ELAPSED, Clock
from debrief.words.events import OUTCOME_WORDS
from debrief.words.numbers import number, plain, unit_words

_ORDER = {"limit": 0, "possible": 1, "caution": 2, "note": 3}
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
_LEFT_COLUMNS = (0, 3)
NOT_KNOWN = "\N{EM DASH}"
_SPARED_FIRST = (11, 2, 6, 5, 9, 10, 4)
"""Columns that give way where there is no room, the least missed first; the measures have them all."""


def start_columns(assessment: Assessment) -> list[str]:
    """Return the table's headings in two lines; the level is the lowest start level of the profile."""
    level, itt = _lowest_level(assessment), assessment.recording.shared_names.itt
    unit = unit_words(assessment.units.of("degC"))
    above = (
        f"Above\n{plain(level, assessment.units.of('degC'))} {unit}, s"
        if level is not None
        else "Above\na level, s"
    )
    return [
        "", "Start", "Began", "Outcome", "Ng at\nfuel, %", "Lowest V\nafter 1 s", f"Residual\n{itt}, {unit}",
        f"Peak\n{itt}, {unit}", above, "Fuel to\nlight-off, s", "Light-off\nto idle, s", "Starter\non, s",
    ]  # fmt: skip


def start_row(assessment: Assessment, start: Start, clock: Clock = ELAPSED) -> list[str]:
    """Return one start's cells, from the second column on; a dash where it is not known."""
    return [
        f"{start.number}, engine {start.engine}"
        if assessment.recording.has_several_engines
        else str(start.number),
        clock.text(start.begin_s),
        _outcome(assessment, start),
        _cell(start.ng_at_fuel_pct, 1),
        _cell(start.min_bus_volts, 1),
        _cell(start.residual_itt_c, 0),
        _cell(start.peak_itt_c, 0),
        _cell(_above(assessment, start), 1),
        _cell(_between(start.fuel_on_s, start.light_off_s), 1),
        _cell(_between(start.light_off_s, start.idle_s), 1),
        _cell(_between(start.starter_on_s, start.starter_off_s), 1),
    ]


_SAID_BY = {"hung": "hung_start", "no_light_off": "no_light_off"}
"""The findings that an outcome says already."""


def _outcome(assessment: Assessment, start: Start) -> str:
    """Return how the start went, and what it is marked for where that is something else."""
    words = OUTCOME_WORDS[start.outcome]
    worst = _worst(assessment, start)
    if worst is None:
        return words
    return (
        words
        if _SAID_BY.get(start.outcome) == worst.kind
        else f"{words}, {within_sentence(finding_title(worst))}"
    )


def _worst(assessment: Assessment, start: Start) -> Event | None:
    """Return the finding that the start is marked for, or None: what the engine suffered before the procedure."""
    found = _events_of(assessment, start)
    worst = min(found, key=lambda e: (_ORDER[e.severity], e.event_class != "engine"), default=None)
    return None if worst is None or worst.severity == "note" else worst


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
    measure = start.measures.get(level_name("time_above", level, assessment.units.of("degC")))
    return measure.value if measure is not None else None


def _events_of(assessment: Assessment, start: Start) -> list[Event]:
    return list(assessment.events_of(start))


class StartsTable(QTableWidget):
    """One row a start. What finds no room is left out, and said.

    Signals
    -------
    left_out_changed : str
        Headings of the columns that there is no room for, in a sentence; empty when all are shown.
    """

    left_out_changed = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._said = ""
        self._most_px = 300
        self.setAccessibleName("Starts")
        self.verticalHeader().hide()
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.horizontalHeader().setHighlightSections(False)
        self.horizontalHeader().setMinimumSectionSize(30)
        RowHeights(self)

    def show_starts(self, assessment: Assessment | None, clock: Clock = ELAPSED) -> None:
        """Fill the table, with moments as the clock tells them."""
        self.clear()
        self.setRowCount(0)
        if assessment is None:
            return
        headings = start_columns(assessment)
        self.setColumnCount(len(headings))
        self.setHorizontalHeaderLabels(headings)
        self.setRowCount(len(assessment.starts))
        for row, start in enumerate(assessment.starts):
            self.setItem(row, 0, self._mark(assessment, start))
            for column, text in enumerate(start_row(assessment, start, clock), start=1):
                item = QTableWidgetItem(text)
                item.setTextAlignment(_LEFT if column in _LEFT_COLUMNS else _RIGHT)
                self.setItem(row, column, item)
        for column in range(len(headings)):
            title = self.horizontalHeaderItem(column)
            if title is not None:
                title.setTextAlignment(_LEFT if column in _LEFT_COLUMNS else _RIGHT)
        self._fit()
        self._take_rows()

    def take_height(self, most_px: int) -> None:
        """Be as tall as the rows, but no taller than this, at least three rows, [px]; the rest scrolls."""
        self._most_px = most_px
        self._take_rows()

    def _take_rows(self) -> None:
        header = self.horizontalHeader().sizeHint().height() + 6
        heights = [self.rowHeight(row) for row in range(self.rowCount())] or [30]
        shown = len(heights)
        while shown > 3 and header + sum(heights[:shown]) > self._most_px:
            shown -= 1
        if header + sum(heights[:shown]) != self.height():
            self.setFixedHeight(header + sum(heights[:shown]))

    def _mark(self, assessment: Assessment, start: Start) -> QTableWidgetItem:
        worst = _worst(assessment, start)
        mark = QTableWidgetItem()
        if worst is not None:
            mark.setIcon(shape_icon(shape_of(worst), self._theme))
            mark.setData(Qt.ItemDataRole.AccessibleTextRole, spoken_severity(worst))
            mark.setToolTip(plain_tip(worst.message))
        return mark

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Show as many columns as there is room for."""
        super().resizeEvent(event)
        self._fit()

    @guarded(QSize())
    def minimumSizeHint(self) -> QSize:
        """Return a width that asks for nothing: columns give way."""
        return QSize(120, super().minimumSizeHint().height())

    def _fit(self) -> None:
        """Hide columns until the rest fits, then share out what is left over."""
        count = self.columnCount()
        if not count:
            return
        header = self.horizontalHeader()
        wanted = []
        for column in range(count):
            self.setColumnHidden(column, False)
            wanted.append(max(self.sizeHintForColumn(column), header.sectionSizeHint(column)))
        # The bar of a long list, where it is needed, is not part of the viewport's width yet.
        room = self.viewport().width()
        hidden: list[int] = []
        for column in _SPARED_FIRST:
            if sum(wanted) - sum(wanted[c] for c in hidden) <= room:
                break
            hidden.append(column)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        shown = [column for column in range(count) if column not in hidden]
        # All of it, so that a row's tint reaches the right edge; the mark keeps its width.
        spare, odd = divmod(max(0, room - sum(wanted[c] for c in shown)), max(1, len(shown) - 1))
        for column in range(count):
            self.setColumnHidden(column, column in hidden)
            if column not in hidden:
                extra = (spare if column else 0) + (odd if column == shown[-1] else 0)
                self.setColumnWidth(column, wanted[column] + extra)
        titles = [self.horizontalHeaderItem(c) for c in sorted(hidden)]
        names = ", ".join(item.text().replace("\n", " ") for item in titles if item is not None)
        said = f"Left out for want of room, in the measures below: {names}." if names else ""
        if said != self._said:
            self._said = said
            self.left_out_changed.emit(said)
