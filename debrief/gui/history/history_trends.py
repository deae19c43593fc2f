"""The trends of one engine: a table of its measures, and a chart of the chosen one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QTableWidgetItem, QVBoxLayout, QWidget

from debrief.gui.background.guarded import guarded
from debrief.gui.plain_text import plain_tip
from debrief.gui.style.shapes import shape_icon
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import WrappedLabel
from debrief.gui.widgets.parts import column_layout
from debrief.gui.widgets.tables import heading, made_table
from debrief.gui.widgets.whole_rows import WholeRows

if TYPE_CHECKING:
    from debrief.gui.charts.chart_view import ChartView
    from debrief.history.service.history_service import HistoryPage
    from debrief.history.trends.series import Trend

_CLICK = "A click opens the flight."
_SPARED = (4, 3)
_LEAST_ROWS, _MOST_ROWS = 3, 9
_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter


class TrendsPanel(QWidget):
    """Measures, what they say, and a chart whose points can be chosen.

    Signals
    -------
    flight_chosen : str
        SHA-256 of the recording of a point.
    """

    flight_chosen = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._page: HistoryPage | None = None
        self._own = ""
        self._filling = False
        self.chart: ChartView | None = None
        self.trend: Trend | None = None
        right = column_layout(self, margins=(0, 0, 0, 0), spacing=6)
        right.addWidget(heading("Trends of completed starts"))
        self.measures = made_table(
            "Trends", ("", "Measure", "Last", "Middle", "Normal range", "What it says")
        )
        WholeRows(self.measures, theme)
        self.measures.currentCellChanged.connect(self._measure_chosen)
        right.addWidget(self.measures)
        self.words = WrappedLabel()
        self.words.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Maximum)
        right.addWidget(self.words)
        self._chart_place = QVBoxLayout()
        self._blank = QWidget()  # holds the chart's room until there is one
        self._chart_place.addWidget(self._blank, 1)
        right.addLayout(self._chart_place, 1)
        self._legend = WrappedLabel(_CLICK, role="small")
        right.addWidget(self._legend)

    def show_page(self, page: HistoryPage, own_sha256: str) -> None:
        """Show an engine's trends; the starts of the open recording are named."""
        self._page, self._own = page, own_sha256
        self._fill_measures(page)

    def _fill_measures(self, page: HistoryPage) -> None:
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
                cell.setToolTip(plain_tip(trend.words))
                table.setItem(row, column, cell)
        self._filling = False
        self._fit_columns()
        self._fit_height()
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
            self.words.setText(
                "Nothing to trend: it takes dated flights of a named engine with completed starts."
            )
            if self.chart is not None:
                self.chart.clear()
                self.trend = None

    def _fit_height(self) -> None:
        """Be as tall as the rows where words and chart below leave room; the rest scrolls."""
        table = self.measures
        header, row = table.horizontalHeader().height(), table.verticalHeader().defaultSectionSize()
        words = 0
        for label in (self.words, self._legend):
            # Never on the chart: rather the whole window scrolls.
            label.setMinimumHeight(max(0, label.heightForWidth(self.width())))
            words += label.minimumHeight()
        chart = self._blank.minimumHeight() if self.chart is None else self.chart.least_height()
        rest = words + self._theme.px(24) + chart + 6 * 6
        most = (self.height() - rest - header - 4) // row
        rows = max(1, min(table.rowCount(), _MOST_ROWS, max(_LEAST_ROWS, most)))
        table.setFixedHeight(header + rows * row + 4)

    def _fit_columns(self) -> None:
        """Leave out what the words below tell as well where there is no room: what a measure says is read whole."""
        table = self.measures
        for column in _SPARED:
            table.setColumnHidden(column, False)
        titles = table.horizontalHeader()
        columns = range(1, table.columnCount())
        model, rows = table.model(), range(table.rowCount())
        wanted = {
            # Of all rows: those that are scrolled away have to fit as well.
            c: max(
                [
                    titles.sectionSizeHint(c),
                    *(table.sizeHintForIndex(model.index(r, c)).width() + 1 for r in rows),
                ]
            )
            for c in columns
        }
        room = self.width() - table.columnWidth(0) - 12
        for column in _SPARED:
            if sum(wanted.values()) <= room:
                break
            table.setColumnHidden(column, True)
            del wanted[column]

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the height anew."""
        super().resizeEvent(event)
        self._fit_columns()
        self._fit_height()

    def _trend_at(self, row: int) -> str | None:
        item = self.measures.item(row, 1)
        return str(item.data(Qt.ItemDataRole.UserRole) or "") if item is not None else None

    @Slot(int, int, int, int)
    def _measure_chosen(self, row: int, column: int = 0, old_row: int = 0, old_column: int = 0) -> None:
        page = self._page
        if self._filling or page is None or not 0 <= row < len(page.trends):
            return
        from debrief.gui.charts.chart_view import ChartView
        from debrief.session.charts.trend_chart import trend_chart, trend_legend

        trend = page.trends[row]
        if self.chart is None:
            self.chart = ChartView(self._theme, "Trend")
            self.chart.chosen.connect(self.flight_chosen)
            self._chart_place.addWidget(self.chart, 1)
            self._blank.hide()
        self._legend.setText(f"{trend_legend([trend])} {_CLICK}")
        since = f" Learnt anew since: {trend.band.since}." if trend.band.since else ""
        self.words.setText(trend.words + since)
        self.trend = trend
        shown = trend_chart(trend, self._own)
        self.chart.setAccessibleName(shown.words)
        self.chart.show_chart(shown)
        self._fit_height()


def trend_cells(trend: Trend) -> tuple[str, str, str, str, str]:
    """Return measure, last value, what is usual, its band, and what is to be said, in short."""
    from debrief.history.usual.baseline import MIN_STARTS
    from debrief.words.numbers import decimals_for, number, value_text

    band, last = trend.band, trend.points[-1]
    value = value_text(last.value, trend.unit)
    if band.centre is None or band.low is None or band.high is None:
        counted = f"{band.count} of {MIN_STARTS} {band.noun(2)}: not enough"
        return trend.title, value, "", "", counted
    decimals = decimals_for(trend.unit)
    edges = f"{number(band.low, decimals)} to {number(band.high, decimals)}"
    if trend.changes:
        shift = trend.changes[-1][0]
        since = trend.points[trend.charted[shift.since]].date
        way = "higher" if shift.size > 0 else "lower"
        says = f"Shifted {value_text(abs(shift.size), trend.unit)} {way} from {since}"
    else:
        says = f"Last {band.noun(1)} outside the range" if last.outside else "No lasting shift"
    return trend.title, value, value_text(band.centre, trend.unit), edges, says
