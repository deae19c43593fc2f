"""The curves and signs of a still chart and where they lie: panes, ranges, ticks."""

from __future__ import annotations

from collections import defaultdict
from math import isfinite

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF, QSize, Qt, Slot
from PySide6.QtGui import QPen, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from debrief.gui.background.guarded import guarded
from debrief.gui.style.theme import Theme
from debrief.session.charts.chart_words import Placed, View
from debrief.session.charts.still_chart import (
    SIGN_SIZES,
    Axis,
    MarkShape,
    Pane,
    StillChart,
    Stop,
    Style,
    Tick,
)
from debrief.session.drawing.placing import Box
from debrief.words.visible import visible

_LEAST_PANE, _LOW_PANE = 46, 60
"""Panes lower than this, [px at usual text size], have the room of the titles too."""
_INSTANTS, _LOW_INSTANTS = 28, 22
"""How high a row of named instants is, also in a low chart, in pixels at usual text size."""
_LEAST_SHARE = 1e-3
"""Of an axis: no more is zoomed in."""
_DASHES: dict[Style, list[float]] = {"solid": [], "dashed": [5.0, 3.0], "dotted": [1.0, 2.5]}
_SYMBOLS: dict[MarkShape, str] = {"triangle": "t1", "small_triangle": "t1", "diamond": "d"}
_HOLLOW: dict[MarkShape, str] = {"hollow": "panel", "ring": ""}


class PaneBox(pg.ViewBox):  # type: ignore[misc]
    """Where the curves of a pane lie: all axes are shares, 0 to 1, so that no number is too large to be drawn."""

    def __init__(self) -> None:
        super().__init__(enableMenu=False, defaultPadding=0.0)
        self.disableAutoRange()
        self.setLimits(xMin=0, xMax=1, yMin=0, yMax=1, minXRange=_LEAST_SHARE, minYRange=_LEAST_SHARE)

    def mouseDragEvent(self, event: object, axis: int | None = None) -> None:
        """Pan with the left button; the right one is for the menu."""
        if event.button() == Qt.MouseButton.RightButton:  # type: ignore[attr-defined]
            event.ignore()  # type: ignore[attr-defined]
        else:
            super().mouseDragEvent(event, axis)


class DrawnChart(pg.GraphicsView):  # type: ignore[misc]
    """A chart without words: what is drawn, and where."""

    def __init__(self, theme: Theme, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent, background=None)
        self._theme = theme
        self._chart: StillChart | None = None
        self._boxes: list[PaneBox] = []
        self._stops: tuple[Stop, ...] = ()
        self._places = np.zeros((0, 3))
        self._current: int | None = None
        self._is_copied = False
        self._placed: dict[int, tuple[tuple[float, ...], tuple[Placed, ...], tuple[str, ...]]] = {}
        self.words: tuple[tuple[str, QRectF], ...] = ()
        """The words inside the panes with their places, as painted last, [px]."""
        self.setAccessibleName(name)
        self.setCacheMode(pg.GraphicsView.CacheModeFlag.CacheNone)
        self.setViewportUpdateMode(pg.GraphicsView.ViewportUpdateMode.FullViewportUpdate)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self._is_titled = True
        self.setMinimumSize(220, self.least_height())
        self.setAntialiasing(True)
        theme.changed.connect(self._dress)

    @guarded(QSize())
    def sizeHint(self) -> QSize:
        """Return a comfortable size."""
        return QSize(460, 340)

    def least_height(self) -> int:
        """Return how high it is at least with the text of now, [px]."""
        panes = 1 if self._chart is None else len(self._chart.panes)
        return max(160, self._theme.px(145)) if panes < 2 else self._theme.px(80 + _LEAST_PANE * panes)

    # --- what is shown ----------------------------------------------------------------------------------

    @property
    def chart(self) -> StillChart | None:
        """What is drawn."""
        return self._chart

    @property
    def current(self) -> int | None:
        """Which of the chart's stops is read out, or None."""
        return self._current

    def clear(self) -> None:
        """Show nothing at all until there is a chart, or none to show."""
        self.show_chart(None)

    def show_chart(self, chart: StillChart | None) -> None:
        """Show another chart, all of it."""
        self._chart = chart
        self._current = None
        panes = chart.panes if chart is not None else ()
        self._stops = chart.stops() if chart is not None else ()
        self._places = self._shares_of_stops()
        while len(self._boxes) > len(panes):
            box = self._boxes.pop()
            box.clear()
            self.scene().removeItem(box)
        while len(self._boxes) < len(panes):
            box = PaneBox()
            box.sigRangeChanged.connect(self._range_changed)
            self.addItem(box)
            if self._boxes:
                box.setXLink(self._boxes[0])
            self._boxes.append(box)
        if chart is not None:
            self.setAccessibleDescription(visible(chart.problem or chart.words))
        self._dress()
        self.show_all()

    def _shares_of_stops(self) -> np.ndarray:
        """Return pane, and the shares of both axes, of all stops, (n, 3)."""
        if self._chart is None or not self._stops:
            return np.zeros((0, 3))
        rows = np.array([(stop.pane, stop.x, stop.y) for stop in self._stops])
        rows[:, 1] = self._chart.x.shares(rows[:, 1])
        for number, pane in enumerate(self._chart.panes):
            inside = rows[:, 0] == number
            rows[inside, 2] = pane.y.shares(rows[inside, 2])
        return rows

    @Slot()
    def _dress(self) -> None:
        """Make the curves and signs anew in the present colours."""
        chart = self._chart
        self.setMinimumHeight(self.least_height())
        self._placed.clear()
        for box, pane in zip(self._boxes, chart.panes if chart is not None else (), strict=True):
            box.clear()
            for curve in pane.curves:
                item = pg.PlotCurveItem(
                    chart.x.shares(curve.x) if chart is not None else curve.x,
                    pane.y.shares(curve.y),
                    pen=self.pen(curve.role, curve.style, 1.0 if curve.thin else 1.6),
                    connect="finite",
                    antialias=True,
                )
                box.addItem(item, ignoreBounds=True)
            self._add_marks(box, pane)
        self._arrange()

    def _add_marks(self, box: PaneBox, pane: Pane) -> None:
        """Add all signs of one look in one go: an engine may have thousands of starts."""
        chart = self._chart
        assert chart is not None
        looks: dict[tuple[str, MarkShape], list[tuple[float, float]]] = defaultdict(list)
        for mark in pane.marks:
            if isfinite(mark.x) and isfinite(mark.y):
                looks[mark.role, mark.shape].append((mark.x, mark.y))
        for (role, shape), places in looks.items():
            x, y = np.array(places).T
            hollow = _HOLLOW.get(shape)
            brush = None if hollow == "" else self._theme.color(hollow or role)
            pen = self.pen(role, width=1.4) if hollow is not None else self.pen("panel")
            item = pg.ScatterPlotItem(
                chart.x.shares(x), pane.y.shares(y), symbol=_SYMBOLS.get(shape, "o"), size=self._theme.px(SIGN_SIZES[shape]),
                pen=None if "small" in shape else pen, brush=brush, antialias=True,
            )  # fmt: skip
            box.addItem(item, ignoreBounds=True)

    def pen(self, role: str, style: Style = "solid", width: float = 1.0) -> QPen:
        """Return the pen of a line."""
        pen = QPen(self._theme.color(role), width)
        pen.setCosmetic(True)
        if _DASHES[style]:
            pen.setDashPattern(_DASHES[style])
            pen.setCapStyle(Qt.PenCapStyle.FlatCap)
        return pen

    # --- where things are -------------------------------------------------------------------------------

    def _margins(self, chart: StillChart) -> tuple[float, float, float, float]:
        """Return the room for words on the left, above, on the right and below, [px]."""
        theme, px = self._theme, self._theme.px
        small = theme.metrics(11).horizontalAdvance
        ticks = [small(tick.text) for pane in chart.panes for tick in pane.y.ticks()]
        above = px(18) * any(one.above and one.label for pane in chart.panes for one in pane.areas)
        below = px(18) * bool(chart.subtitle) + above + px(8)
        left = max([px(34), *(wide + px(12) for wide in ticks), px(36) * bool(chart.instants)])
        self._is_titled = not self._is_low(chart, below + px(_INSTANTS) * len(chart.instants))
        return (
            left,
            px(20) * self._is_titled + below + self._instants_px * len(chart.instants),
            self.right_margin(chart),
            px(20) + px(18) * self._is_titled,
        )

    @property
    def _instants_px(self) -> int:
        """How high a row of named instants is, [px]."""
        return self._theme.px(_INSTANTS if self._is_titled else _LOW_INSTANTS)

    def _is_low(self, chart: StillChart, others: float) -> bool:
        """Whether titles of chart and axis give their room to several panes: the page says them beside the chart."""
        room = self.height() - others - self._theme.px(78)
        return len(chart.panes) > 1 and room < len(chart.panes) * self._theme.px(_LOW_PANE)

    def right_margin(self, chart: StillChart) -> float:
        """Return the room for words right of the panes, [px]."""
        small, px = self._theme.metrics(11).horizontalAdvance, self._theme.px
        beside = (small(one.label) for pane in chart.panes for one in pane.levels if one.beside)
        return max([float(px(12)), *(wide + px(12) for wide in beside)])

    @Slot()
    def _arrange(self) -> None:
        chart = self._chart
        if chart is not None and self._boxes:
            left, top, right, bottom = self._margins(chart)
            gap = self._theme.px(6)
            width = max(self.width() - left - right, 20.0)
            room = max(self.height() - top - bottom, 20.0) - gap * (len(self._boxes) - 1)
            shares = sum(pane.share for pane in chart.panes)
            for box, pane in zip(self._boxes, chart.panes, strict=True):
                height = max(room * pane.share / shares, 10.0)
                box.setGeometry(QRectF(left, top, width, height))
                top += height + gap
        self.viewport().update()

    def area(self, pane: int = 0) -> QRectF:
        """Return where a pane's points lie, [px]; empty without one."""
        return QRectF(self._boxes[pane].geometry()) if self._boxes else QRectF()

    def view(self, pane: int = 0) -> View:
        """Return the part of a pane that is shown, with its place, [px]."""
        area, ((x0, x1), (y0, y1)) = self.area(pane), self._boxes[pane].viewRange()
        return View(Box(area.x(), area.y(), area.width(), area.height()), (x0, x1), (y0, y1))

    def at(self, x: float, y: float, pane: int = 0) -> QPointF:
        """Return the pixel of a point."""
        assert self._chart is not None
        shares = (
            np.array([axis.share(v)]) for axis, v in ((self._chart.x, x), (self._chart.panes[pane].y, y))
        )
        return QPointF(*self.view(pane).at(*shares)[0].tolist())

    def place_of(self, index: int) -> QPointF:
        """Return the pixel of a stop."""
        stop = self._stops[index]
        return self.at(stop.x, stop.y, stop.pane)

    def x_at(self, px: float) -> float:
        """Return the value of the x axis at a pixel."""
        assert self._chart is not None
        view = self.view()
        share = view.x[0] + (px - view.area.left) / view.area.width * (view.x[1] - view.x[0])
        return self._chart.x.value(share)

    def shown_ticks(self, pane: int | None = None) -> tuple[Tick, ...]:
        """Return the ticks of the shown part of the x axis, or of a pane's y axis."""
        assert self._chart is not None
        view = self.view(pane or 0)
        axis: Axis = self._chart.x if pane is None else self._chart.panes[pane].y
        low, high = view.x if pane is None else view.y
        return axis.ticks(*(None if edge in (0.0, 1.0) else axis.value(edge) for edge in (low, high)))

    @property
    def is_whole(self) -> bool:
        """Whether all of the chart is shown."""
        return all(np.allclose(box.viewRange(), ((0.0, 1.0), (0.0, 1.0)), atol=1e-9) for box in self._boxes)

    @Slot()
    def show_all(self) -> None:
        """Show the whole chart."""
        for box in self._boxes:
            box.setRange(xRange=(0.0, 1.0), yRange=(0.0, 1.0), padding=0)

    @Slot()
    def _range_changed(self) -> None:
        self.viewport().update()

    @guarded()
    def resizeEvent(self, event: QResizeEvent | None) -> None:
        """Take the room there is."""
        super().resizeEvent(event)
        if event is not None:
            self._arrange()

    @guarded(True)
    def close(self) -> bool:
        """Close as any widget: the library's own way tears the viewport off, and it could not be shown again."""
        return QWidget.close(self)
