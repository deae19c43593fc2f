"""A still chart in the window: zoom with the wheel, drag to pan, read out under the pointer, copy as a picture."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from math import hypot, isfinite

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QEvent, QLineF, QPointF, QRect, QRectF, QSize, Qt, Signal, Slot
from PySide6.QtGui import (
    QAction,
    QContextMenuEvent,
    QFocusEvent,
    QGuiApplication,
    QKeyEvent,
    QKeySequence,
    QMouseEvent,
    QPainter,
    QPainterStateGuard,
    QPaintEvent,
    QPen,
    QPolygonF,
    QResizeEvent,
)
from PySide6.QtWidgets import QMenu, QSizePolicy, QWidget

from debrief.gui.background.guarded import guarded, painted_over
from debrief.gui.style.theme import Theme
from debrief.session.charts.chart_words import LINE, Placed, View, place_words, thinned
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
from debrief.session.drawing.mark_names import place_names
from debrief.session.drawing.placing import Box
from debrief.words.visible import visible

LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
CENTRE = Qt.AlignmentFlag.AlignCenter
_WRAPPED = int(CENTRE) | int(Qt.TextFlag.TextWordWrap)
_LOW_PANE = 60
"""Panes lower than this, [px at usual text size], have the room of the titles too."""
_REACH_PX = 14.0
_CLICK_PX = 4.0
_INSTANTS, _LOW_INSTANTS = 28, 22
"""How high a row of named instants is, also in a low chart, in pixels at usual text size."""
_LEAST_SHARE = 1e-3
"""Of an axis: no more is zoomed in."""
_STEP = 1.4
"""How far a key zooms."""
_LARGE_STEP = 10
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


class ChartView(pg.GraphicsView):  # type: ignore[misc]
    """A chart to look at, to zoom and to read out.

    Signals
    -------
    chosen : str
        What a clicked mark leads to.
    """

    chosen = Signal(str)

    def __init__(self, theme: Theme, name: str, parent: QWidget | None = None) -> None:
        super().__init__(parent, background=None)
        self._theme = theme
        self._chart: StillChart | None = None
        self._boxes: list[PaneBox] = []
        self._stops: tuple[Stop, ...] = ()
        self._places = np.zeros((0, 3))
        self._current: int | None = None
        self._pressed: QPointF | None = None
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
        return max(160, self._theme.px(145))

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

    # --- zooming ----------------------------------------------------------------------------------------

    @property
    def is_whole(self) -> bool:
        """Whether all of the chart is shown."""
        return all(np.allclose(box.viewRange(), ((0.0, 1.0), (0.0, 1.0)), atol=1e-9) for box in self._boxes)

    @Slot()
    def show_all(self) -> None:
        """Show the whole chart."""
        for box in self._boxes:
            box.setRange(xRange=(0.0, 1.0), yRange=(0.0, 1.0), padding=0)

    def zoom(self, factor: float) -> None:
        """Show less of the chart with a factor above 1, around what is read out or else the middle."""
        for number, box in enumerate(self._boxes):
            (x0, x1), (y0, y1) = box.viewRange()
            middle = QPointF((x0 + x1) / 2, (y0 + y1) / 2)
            if self._current is not None and self._places[self._current, 0] == number:
                middle = QPointF(*self._places[self._current, 1:].tolist())
            if number == 0 or not self._boxes[0].linkedView(0):
                box.scaleBy((1 / factor, 1 / factor), center=middle)

    @Slot()
    def _range_changed(self) -> None:
        self.viewport().update()

    # --- reading out ------------------------------------------------------------------------------------

    def _pixels_of_stops(self) -> np.ndarray:
        """Return the places of all stops, (n, 2), [px]."""
        out = np.full((len(self._places), 2), np.nan)
        for number in range(len(self._boxes)):
            inside = self._places[:, 0] == number
            out[inside] = self.view(number).at(self._places[inside, 1], self._places[inside, 2])
        return out

    def nearest(self, at: QPointF) -> int | None:
        """Return which stop lies within reach of a pixel, or None."""
        if not self._stops or not any(self.area(n).contains(at) for n in range(len(self._boxes))):
            return None
        away = np.abs(self._pixels_of_stops() - (at.x(), at.y())).sum(axis=1)
        index = int(np.nanargmin(away))
        return index if away[index] < self._theme.px(_REACH_PX) else None

    def read_out(self, index: int | None) -> None:
        """Read out a stop, or nothing."""
        if index == self._current:
            return
        self._current = index
        if index is not None and self._chart is not None:
            self.setAccessibleDescription(visible(self._chart.reading(self._stops[index])))
            self._bring(self._places[index])
        self.viewport().update()

    def _bring(self, place: np.ndarray) -> None:
        """Move the shown part so that a place is in it."""
        box = self._boxes[int(place[0])]
        (x0, x1), (y0, y1) = box.viewRange()
        dx, dy = (
            min(0.0, v - low) + max(0.0, v - high)
            for v, low, high in ((place[1], x0, x1), (place[2], y0, y1))
        )
        if (dx or dy) and 0 <= place[1] <= 1 and 0 <= place[2] <= 1:
            box.translateBy(x=dx, y=dy)

    def _step(self, by: int) -> None:
        if self._stops:
            last = len(self._stops) - 1
            self.read_out(last if self._current is None else min(max(self._current + by, 0), last))

    def _open(self) -> None:
        mark = self._stops[self._current].mark if self._current is not None else None
        if mark is not None and mark.leads_to:
            self.chosen.emit(mark.leads_to)

    # --- events -----------------------------------------------------------------------------------------

    @guarded()
    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Begin a click or a pan."""
        self._pressed = event.position()
        super().mousePressEvent(event)
        event.accept()

    @guarded()
    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Read out under the pointer, or pan."""
        super().mouseMoveEvent(event)
        if event.buttons() == Qt.MouseButton.NoButton:
            self.point_at(event.position())

    def point_at(self, at: QPointF) -> None:
        """Read out what lies under the pointer."""
        self.read_out(self.nearest(at))
        mark = self._stops[self._current].mark if self._current is not None else None
        leads = mark is not None and bool(mark.leads_to)
        self.setCursor(Qt.CursorShape.PointingHandCursor if leads else Qt.CursorShape.ArrowCursor)

    @guarded()
    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Open what a clicked mark leads to."""
        super().mouseReleaseEvent(event)
        event.accept()
        pressed, self._pressed = self._pressed, None
        if pressed is None or event.button() != Qt.MouseButton.LeftButton:
            return
        moved = event.position() - pressed
        if hypot(moved.x(), moved.y()) < _CLICK_PX:
            self.point_at(event.position())
            self._open()

    @guarded()
    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Show the whole chart."""
        super().mouseDoubleClickEvent(event)
        event.accept()
        self._pressed = None
        self.show_all()

    @guarded()
    def leaveEvent(self, event: QEvent) -> None:
        """Read out nothing any more."""
        super().leaveEvent(event)
        if not self.hasFocus():
            self.read_out(None)

    @guarded()
    def focusInEvent(self, event: QFocusEvent) -> None:
        """Begin at the last point when reached by keys."""
        if event.reason() in (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason):
            self._step(0)
        super().focusInEvent(event)
        self.viewport().update()

    @guarded()
    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Read out nothing any more."""
        if event.reason() != Qt.FocusReason.PopupFocusReason:
            self.read_out(None)
        super().focusOutEvent(event)
        self.viewport().update()

    @guarded()
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Arrows go from point to point, with Shift by ten; Enter opens; plus and minus zoom, 0 shows all."""
        large = event.modifiers() & Qt.KeyboardModifier.ShiftModifier
        if event.matches(QKeySequence.StandardKey.Copy):
            self.copy_picture()
            return
        action = self._action_of(Qt.Key(event.key()), _LARGE_STEP if large else 1)
        if action is None:
            QWidget.keyPressEvent(self, event)
        else:
            action()

    def _action_of(self, key: Qt.Key, by: int) -> Callable[[], None] | None:
        """Return what a key does, or None."""
        actions: dict[Qt.Key, Callable[[], None]] = {
            Qt.Key.Key_Left: lambda: self._step(-by),
            Qt.Key.Key_Right: lambda: self._step(by),
            Qt.Key.Key_Home: lambda: self._step(-len(self._stops)),
            Qt.Key.Key_End: lambda: self._step(len(self._stops)),
            Qt.Key.Key_Return: self._open,
            Qt.Key.Key_Enter: self._open,
            Qt.Key.Key_Plus: lambda: self.zoom(_STEP),
            Qt.Key.Key_Minus: lambda: self.zoom(1 / _STEP),
            Qt.Key.Key_0: self.show_all,
        }
        return actions.get(key) if self._boxes else None

    @guarded()
    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Offer what can be done with the chart."""
        if self._boxes:
            menu = self.made_menu()
            menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
            menu.popup(event.globalPos())
        event.accept()

    def made_menu(self) -> QMenu:
        """Return the chart's menu."""
        menu = QMenu(self)
        whole = QAction("&Whole chart\tDouble click", menu)
        whole.setEnabled(not self.is_whole)
        whole.triggered.connect(self.show_all)
        copy = QAction("&Copy picture\tCtrl+C", menu)
        copy.triggered.connect(self.copy_picture)
        menu.addActions([whole, copy])
        return menu

    @Slot()
    def copy_picture(self) -> None:
        """Put the chart as it is shown on the clipboard, without what is read out."""
        self._is_copied = True
        try:
            QGuiApplication.clipboard().setPixmap(self.grab())
        finally:
            self._is_copied = False

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

    # --- painting ---------------------------------------------------------------------------------------

    @guarded()
    def drawBackground(self, painter: QPainter, rect: QRectF | QRect) -> None:
        """Draw what lies below the curves: tints, grid, levels."""
        chart, theme = self._chart, self._theme
        painter.fillRect(rect, theme.color("panel"))
        if chart is None or chart.problem:
            return
        across = [chart.x.share(tick.value) for tick in self.shown_ticks()]
        with QPainterStateGuard(painter):
            for number, pane in enumerate(chart.panes):
                view, area = self.view(number), self.area(number)
                painter.setClipRect(area)
                painter.setPen(Qt.PenStyle.NoPen)
                for tint in pane.areas:
                    painter.setBrush(theme.color(tint.tint))
                    corners = view.at(chart.x.shares(tint.corners[:, 0]), pane.y.shares(tint.corners[:, 1]))
                    painter.drawPolygon(QPolygonF([QPointF(*corner) for corner in corners.tolist()]))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)
                painter.setPen(theme.color("grid"))
                up = [pane.y.share(tick.value) for tick in self.shown_ticks(number)]
                for x, _ in view.at(np.array(across), np.zeros(len(across))).tolist():
                    painter.drawLine(QLineF(x, area.top(), x, area.bottom()))
                for _, y in view.at(np.zeros(len(up)), np.array(up)).tolist():
                    painter.drawLine(QLineF(area.left(), y, area.right(), y))
                for level in pane.levels:
                    painter.setPen(self.pen(level.role, level.style))
                    y = self.at(chart.x.range[0], level.value, number).y()
                    painter.drawLine(QLineF(area.left(), y, area.right(), y))
                painter.setClipping(False)
                painter.setPen(theme.color("hairline"))
                painter.drawRect(area)

    @painted_over(pg.GraphicsView.paintEvent)
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the words over the curves, and what is read out."""
        chart = self._chart
        if chart is None:
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        self._paint_titles(painter, chart)
        if chart.problem:
            return
        self._paint_ticks(painter, chart)
        self._paint_instants(painter, chart)
        found: list[tuple[str, QRectF]] = []
        left_out: list[str] = []
        for number, pane in enumerate(chart.panes):
            placed, lacking = self._paint_words(painter, chart, pane, number)
            found += placed
            left_out += lacking
        self.words = tuple(found)
        self._paint_x_title(painter, chart, left_out)
        if not self._is_copied:
            self.paint_reading(painter, chart)
            if self.hasFocus():
                painter.setPen(QPen(self._theme.color("ink"), 1, Qt.PenStyle.DotLine))
                painter.setBrush(Qt.BrushStyle.NoBrush)
                painter.drawRect(QRectF(self.viewport().rect()).adjusted(0.5, 0.5, -1, -1))

    def write(
        self, painter: QPainter, box: QRectF, flags: Qt.AlignmentFlag | int, words: str, size: float = 11,
        role: str = "muted", bold: bool = False,
    ) -> None:  # fmt: skip
        """Write words into a box, shortened where they are longer than it."""
        font = self._theme.font(size, bold)
        painter.setFont(font)
        painter.setPen(self._theme.color(role))
        metrics = self._theme.metrics(size, bold)
        painter.drawText(
            box, int(flags), metrics.elidedText(visible(words), Qt.TextElideMode.ElideRight, box.width() + 1)
        )

    def _paint_titles(self, painter: QPainter, chart: StillChart) -> None:
        px, width, top = self._theme.px, self.width() - 4, 0
        if self._is_titled:
            self.write(painter, QRectF(2, 0, width, px(20)), LEFT, chart.title, 13, "ink", bold=True)
            top = px(20)
        below = chart.problem or chart.subtitle
        self.write(painter, QRectF(2, top, width, px(18)), LEFT, below, 12)

    def _paint_ticks(self, painter: QPainter, chart: StillChart) -> None:
        theme, height = self._theme, self._theme.px(16)
        advance = theme.metrics(11).horizontalAdvance
        shown = self.shown_ticks()
        bottom = self.area(len(self._boxes) - 1).bottom()
        wide = [advance(tick.text) + 2 for tick in shown]
        # The outermost may stand inwards of their ticks rather than be cut.
        places = [self.at(tick.value, chart.panes[0].y.range[0]).x() for tick in shown]
        places = [min(max(x, w / 2 + 1), self.width() - w / 2 - 1) for x, w in zip(places, wide, strict=True)]
        for row in thinned(places, wide, theme.px(6)):
            box = QRectF(places[row] - wide[row] / 2, bottom + 3, wide[row], height)
            self.write(painter, box, CENTRE, shown[row].text)
        for number in range(len(self._boxes)):
            area, ticks = self.area(number), self.shown_ticks(number)
            ups = [self.at(chart.x.range[0], tick.value, number).y() for tick in ticks]
            # Between panes there is no room for half a number.
            over = height / 2 if len(self._boxes) == 1 else theme.px(3)
            for row in thinned(ups, [float(theme.px(12))] * len(ups), 1.0):
                top = min(max(ups[row] - height / 2, area.top() - over), area.bottom() - height + over)
                self.write(painter, QRectF(0, top, area.left() - 5, height), RIGHT, ticks[row].text)

    def _paint_x_title(self, painter: QPainter, chart: StillChart, left_out: list[str]) -> None:
        if not self._is_titled:
            return
        area, px = self.area(len(self._boxes) - 1), self._theme.px
        words = chart.x.titled
        if left_out:
            words += f"; tint without a name: {', '.join(left_out)}"
        box = QRectF(area.left(), area.bottom() + px(18), self.width() - area.left() - 2, px(18))
        self.write(painter, box, LEFT if left_out else CENTRE, words)

    def _paint_instants(self, painter: QPainter, chart: StillChart) -> None:
        """Draw the named instants of each start above the panes: a line as that of its curves, a tick below each name."""
        theme, area, px = self._theme, self.area(), self._theme.px
        end = min(self.width() - 2.0, area.right() + px(12))  # what is read out stands beside them
        painter.setFont(theme.font(11))
        for number, instants in enumerate(chart.instants):
            line = area.top() - self._instants_px * (len(chart.instants) - number - 1) - px(7)
            painter.setPen(self.pen("ink", instants.style, 1.6))
            painter.drawLine(QLineF(2, line, area.right(), line))
            places = sorted((self.at(x, chart.panes[0].y.range[0]).x(), word) for x, word in instants.marks)
            marks = [(x, word) for x, word in places if area.left() - 1 <= x <= area.right() + 1]
            widths = [theme.metrics(11).horizontalAdvance(word) + 2.0 for _, word in marks]
            lefts = place_names([x for x, _ in marks], widths, 2.0, end, float(px(6)))
            for (x, word), wide, left in zip(marks, widths, lefts, strict=True):
                foot = line - (self._instants_px - px(19))
                painter.setPen(QPen(theme.color("ink"), 1.6))
                painter.drawLine(QLineF(x, line - px(3), x, line + px(3)))
                painter.setPen(QPen(theme.color("muted"), 1.0))
                painter.drawLine(QLineF(left + wide / 2, foot, x, line - px(3)))
                painter.setPen(theme.color("ink"))
                painter.drawText(QRectF(left, foot - px(15), wide, px(15)), CENTRE, word)

    def _paint_words(
        self, painter: QPainter, chart: StillChart, pane: Pane, number: int
    ) -> tuple[list[tuple[str, QRectF]], tuple[str, ...]]:
        """Write the names inside a pane; return them with their places, and the names that found none."""
        theme, view, area = self._theme, self.view(number), self.area(number)
        scale = theme.px(LINE) / LINE
        small = View(
            Box(area.x() / scale, area.y() / scale, area.width() / scale, area.height() / scale),
            view.x,
            view.y,
        )

        def width_of(words: str, bold: bool) -> float:
            return theme.metrics(11, bold).horizontalAdvance(visible(words)) / scale

        margin = (self.width() - area.right()) / scale
        key = (area.x(), area.y(), area.width(), area.height(), *view.x, *view.y)
        known, placed, left_out = self._placed.get(number, ((), (), ()))
        if known != key:  # not at each move of the pointer
            placed, left_out = place_words(pane, small, chart.x.shares, margin, width_of)
            self._placed[number] = key, placed, left_out
        found = []
        for one in placed:
            box = QRectF(
                *(edge * scale for edge in (one.box.left, one.box.top, one.box.width, one.box.height))
            )
            painter.setFont(theme.font(11, one.bold))
            painter.setPen(theme.color(one.role))
            if one.leader is not None:
                painter.drawLine(QLineF(*(edge * scale for edge in one.leader)))
            painter.drawText(box, LEFT, visible(one.text))
            found.append((one.text, box))
        if pane.problem:
            room = area.adjusted(theme.px(90), 0, -theme.px(90), 0)
            self.write(painter, room, CENTRE, pane.problem, 12)
        return found, left_out

    def paint_reading(self, painter: QPainter, chart: StillChart) -> None:
        """Draw what is read out: a square around the point, its words in a box beside it."""
        if self._current is None:
            return
        theme, px = self._theme, self._theme.px
        stop = self._stops[self._current]
        place = self.place_of(self._current)
        if not self.area(stop.pane).adjusted(-2, -2, 2, 2).contains(place):
            return
        painter.setPen(QPen(theme.color("ink"), 1.4))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(QRectF(place.x() - 6, place.y() - 6, 12, 12))
        words = visible(chart.reading(stop))
        metrics = theme.metrics(12)
        room = QRectF(0, 0, min(self.width() - px(16), px(360)), px(200))
        size = metrics.boundingRect(room, _WRAPPED, words)
        width, height = size.width() + px(14), size.height() + px(8)
        left = min(max(place.x() - width / 2, 2.0), self.width() - width - 2)
        above = place.y() - height - 12
        box = QRectF(left, above if above > 0 else place.y() + 12, width, height)
        painter.setPen(theme.color("hairline"))
        painter.setBrush(theme.color("panel"))
        painter.drawRect(box)
        painter.setFont(theme.font(12))
        painter.setPen(theme.color("ink"))
        painter.drawText(box, _WRAPPED, words)
