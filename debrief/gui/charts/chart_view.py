"""A still chart in the window: zoom with the wheel, drag to pan, read out under the pointer, copy as a picture."""

from __future__ import annotations

from collections.abc import Callable
from math import hypot

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QEvent, QPointF, Qt, Signal, Slot
from PySide6.QtGui import (
    QAction,
    QContextMenuEvent,
    QFocusEvent,
    QGuiApplication,
    QKeyEvent,
    QKeySequence,
    QMouseEvent,
    QPainter,
    QPaintEvent,
)
from PySide6.QtWidgets import QMenu, QWidget

from debrief.gui.background.guarded import guarded, painted_over
from debrief.gui.charts.painted_chart import PaintedChart
from debrief.gui.style.theme import Theme
from debrief.words.visible import visible

_REACH_PX = 14.0
_CLICK_PX = 4.0
_STEP = 1.4
"""How far a key zooms."""
_LARGE_STEP = 10


class ChartView(PaintedChart):
    """A chart to look at, to zoom and to read out.

    Signals
    -------
    chosen : str
        What a clicked mark leads to.
    """

    chosen = Signal(str)

    def __init__(self, theme: Theme, name: str, parent: QWidget | None = None) -> None:
        super().__init__(theme, name, parent)
        self._pressed: QPointF | None = None

    @painted_over(pg.GraphicsView.paintEvent)
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the words over the curves, and what is read out."""
        if self._chart is not None:
            self.paint_over(painter, self._chart)

    # --- zooming ----------------------------------------------------------------------------------------

    def zoom(self, factor: float) -> None:
        """Show less of the chart with a factor above 1, around what is read out or else the middle."""
        for number, box in enumerate(self._boxes):
            (x0, x1), (y0, y1) = box.viewRange()
            middle = QPointF((x0 + x1) / 2, (y0 + y1) / 2)
            if self._current is not None and self._places[self._current, 0] == number:
                middle = QPointF(*self._places[self._current, 1:].tolist())
            if number == 0 or not self._boxes[0].linkedView(0):
                box.scaleBy((1 / factor, 1 / factor), center=middle)

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
