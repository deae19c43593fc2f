"""The measures of one start in a table: what was present, every value with its bounds, what is usual."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableWidget, QTableWidgetItem, QWidget

from debrief.analysis.model import Start
from debrief.gui.plain_text import plain_tip
from debrief.gui.story.story_facts import factor_words
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.cells import WrappedCells
from debrief.session.session import Session
from debrief.session.texts.definitions import definition_of, measure_title
from debrief.session.texts.plain_names import keys_in_words
from debrief.words.numbers import decimals_for, number, range_text, unit_words, value_text

if TYPE_CHECKING:
    from debrief.history.usual.comparing import Comparison

_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


class MeasuresTable(QTableWidget):
    """One row a factor or measure.

    Signals
    -------
    why_wanted : str
        The evidence of this measure is to be shown.
    """

    why_wanted = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._names: list[str] = []
        self._known: set[str] = set()
        self.setAccessibleName("Measures of the chosen start")
        self.verticalHeader().hide()
        self.setShowGrid(False)
        self.setTabKeyNavigation(False)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.cellClicked.connect(self._ask_why)
        self.itemActivated.connect(self._ask_why_of_current)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setWordWrap(True)
        self.setItemDelegate(WrappedCells(self, (1,)))

    def explained(self) -> tuple[str, str] | None:
        """Return the entry of the chosen measure."""
        row = self.currentRow()
        name = self._names[row] if 0 <= row < len(self._names) else ""
        return ("measure", name) if name else None

    def show_start(self, session: Session, start: Start, usual: dict[str, Comparison]) -> None:
        """Show the factors and measures of a start; `usual` has what the history says, by measure."""
        rows: list[tuple[str, str, str]] = []
        names = session.assessment.names(start.engine)
        tips: dict[int, str] = {}
        self._names = [factor.measure or "" for factor in start.factors] + list(start.measures)
        self._known = set(start.measures)
        for factor in start.factors:
            name, value, reference = factor_words(factor)
            rows.append((name, value, f"outside the limit ({reference})"))
        for name, measure in start.measures.items():
            value = value_text(measure.value, measure.unit)
            parts = [measure.why or ""]
            if measure.low is not None and measure.high is not None:
                parts = [range_text(measure.low, measure.high, measure.unit) or parts[0]]
            parts += measure.marks
            parts.append(usual_words(usual[name]) if name in usual else "")
            meaning = definition_of(name, "measure", names)
            if meaning is not None:
                formula = keys_in_words(meaning.formula, session.profile, names)
                tips[len(rows)] = f"{formula} Unknown when: {meaning.null_when}"
            rows.append((measure_title(name, names), value, "; ".join(part for part in parts if part)))
        # With heights that follow the words every cell that is set measures all rows anew.
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.horizontalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.setColumnCount(3)
        self.setHorizontalHeaderLabels(["Measure", "Value", "Range, or why unknown"])
        self.setRowCount(len(rows))
        for index, cells in enumerate(rows):
            for position, text in enumerate(cells):
                item = QTableWidgetItem(text)
                if position == 1:
                    item.setTextAlignment(_RIGHT)
                item.setToolTip(plain_tip(text if position == 2 and text else tips.get(index, "")))
                self.setItem(index, position, item)
        header = self.horizontalHeader()
        # The value is never cut; names and bounds share what is left and wrap.
        header.setSectionResizeMode(QHeaderView.ResizeMode.Stretch)
        header.setSectionResizeMode(1, QHeaderView.ResizeMode.ResizeToContents)
        self.verticalHeader().setMinimumSectionSize(self._theme.px(25))
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)
        header.setDefaultAlignment(Qt.AlignmentFlag.AlignLeft)

    @Slot(int, int)
    def _ask_why(self, row: int, column: int = 0) -> None:
        name = self._names[row] if 0 <= row < len(self._names) else ""
        if name in self._known:
            self.why_wanted.emit(name)

    @Slot()
    def _ask_why_of_current(self) -> None:
        self._ask_why(self.currentRow())


def usual_words(comparison: Comparison) -> str:
    """Return a measure's normal range in short; empty where the history is not enough for one."""
    band = comparison.band
    if band.low is None or band.high is None:
        return ""
    decimals = decimals_for(band.unit)
    edges = f"normal {number(band.low, decimals)} to {number(band.high, decimals)} {unit_words(band.unit)}"
    return f"outside {edges}" if comparison.outside else edges
