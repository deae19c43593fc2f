"""A limit's table drawn as a chart: a click adds a corner, dragging moves it, and keys do both."""

from __future__ import annotations

from math import hypot

from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent, QMouseEvent, QPainter, QPen
from PySide6.QtWidgets import QWidget

from debrief.analysis.model import TimeAbove
from debrief.gui.background.guarded import guarded
from debrief.gui.charts.chart_view import ChartView
from debrief.gui.style.theme import Theme
from debrief.session.charts.limit_table_chart import (
    LEVEL_STEP,
    SECONDS_STEP,
    TITLE,
    Point,
    chart_ranges,
    corner_words,
    is_table,
    limit_table_chart,
    moved_corner,
    with_corner,
    without_corner,
)
from debrief.session.charts.still_chart import StillChart

_REACH_PX = 14.0
_CLICK_PX = 4.0
_FAR = 10
"""How many steps a key goes with Shift."""


class LimitChart(ChartView):
    """Shows the table of a limit, and the start of the open recording behind it, and lets its corners be drawn.

    Signals
    -------
    drawn : tuple of (level, seconds)
        The corners as a person has drawn them.
    settled
        A move has ended: what is drawn next is a step of its own.
    """

    drawn = Signal(object)
    settled = Signal()

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(theme, "Chart of the limit", parent)
        self._points: tuple[Point, ...] = ()
        self._unit = "degC"
        self._above: TimeAbove | None = None
        self._counts = "total"
        self._title = TITLE
        self._chosen: int | None = None
        self._drags = False
        self._ranges: tuple[Point, Point] | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)

    @property
    def points(self) -> tuple[Point, ...]:
        """The corners that are shown, as (level, seconds)."""
        return self._points

    @property
    def chosen_corner(self) -> int | None:
        """Which corner the keys move."""
        return self._chosen

    def show_table(
        self,
        points: tuple[Point, ...],
        unit: str,
        above: TimeAbove | None,
        counts: str = "total",
        title: str = TITLE,
    ) -> None:
        """Show a table and, behind it, the time above each temperature of a start."""
        self._points, self._unit, self._above, self._counts, self._title = points, unit, above, counts, title
        if self._chosen is not None and self._chosen >= len(points):
            self._chosen = len(points) - 1 if points else None
        self._show()

    def _show(self) -> None:
        ranges = self._ranges if self._drags else None
        self.show_chart(
            limit_table_chart(
                self._points,
                self._unit,
                self._above,
                counts=self._counts,
                title=self._title,
                ranges=ranges,
            )
        )
        self._describe()

    def _describe(self) -> None:
        if self._chosen is not None:
            where = f"Corner {self._chosen + 1} of {len(self._points)}: "
            self.setAccessibleDescription(where + corner_words(self._points[self._chosen], self._unit))

    def _draw(self, points: tuple[Point, ...]) -> None:
        if points != self._points:
            self._points = points
            self._show()
            self.drawn.emit(points)

    # --- mouse ------------------------------------------------------------------------------------------

    def _corner_at(self, at: QPointF) -> int | None:
        near = [
            (hypot(place.x() - at.x(), place.y() - at.y()), index)
            for index, place in enumerate(self.at(seconds, level) for level, seconds in self._points)
        ]
        reach = self._theme.px(_REACH_PX)
        return min(near)[1] if near and min(near)[0] <= reach else None

    def value_at(self, at: QPointF) -> Point:
        """Return the level and the seconds at a pixel."""
        view, chart = self.view(), self.chart
        assert chart is not None
        share = view.y[1] - (at.y() - view.area.top) / view.area.height * (view.y[1] - view.y[0])
        return chart.panes[0].y.value(share), max(0.0, self.x_at(at.x()))

    @guarded()
    def mousePressEvent(self, event: QMouseEvent) -> None:
        """Take hold of a corner, or begin a click."""
        if event.button() != Qt.MouseButton.LeftButton:
            event.accept()
            return
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        self._pressed = event.position()
        self._chosen = self._corner_at(event.position())
        self._describe()
        self.viewport().update()
        event.accept()

    @guarded()
    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """Move the corner that is held."""
        at, pressed = event.position(), self._pressed
        if pressed is None or self._chosen is None:
            over = self._corner_at(at) is not None
            self.setCursor(Qt.CursorShape.SizeAllCursor if over else Qt.CursorShape.CrossCursor)
            return
        if not self._drags and hypot(at.x() - pressed.x(), at.y() - pressed.y()) < _CLICK_PX:
            return
        if not self._drags:
            # What is seen stays while a corner is moved: it would run away from the pointer.
            self._drags, self._ranges = True, chart_ranges(self._points, self._unit, self._above)
        self._draw(moved_corner(self._points, self._chosen, *self.value_at(at)))
        event.accept()

    @guarded()
    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        """Add a corner where nothing was held, or let go."""
        pressed, self._pressed = self._pressed, None
        event.accept()
        if event.button() != Qt.MouseButton.LeftButton or pressed is None:
            return
        if self._drags:
            self._drags = False
            self._show()
        elif self._chosen is None and self.area().contains(event.position()):
            self._add(*self.value_at(event.position()))
        self.settled.emit()

    @guarded()
    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        """Count as another press: two quick clicks draw two corners."""
        self.mousePressEvent(event)

    def point_at(self, at: QPointF) -> None:
        """Read out nothing: the corners have their words beside them."""

    # --- keys -------------------------------------------------------------------------------------------

    def _add(self, level: float, seconds: float) -> None:
        found = with_corner(self._points, level, seconds) if is_table(self._points) else None
        if found is not None:
            self._chosen = found[1]
            self._draw(found[0])

    def _add_by_key(self) -> None:
        """Add a corner beyond the last, or in the middle of an empty chart."""
        if self._points:
            level, seconds = self._points[-1]
            self._add(level + 10 * LEVEL_STEP, seconds / 2)
        else:
            area = self.area()
            self._add(*self.value_at(area.center()))

    def _choose(self, index: int) -> None:
        if self._points:
            self._chosen = min(max(index, 0), len(self._points) - 1)
            self._describe()
            self.viewport().update()

    def _remove(self) -> None:
        if self._chosen is not None:
            index = self._chosen
            left = without_corner(self._points, index)
            self._chosen = min(index, len(left) - 1) if left else None
            self._draw(left)

    @guarded()
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Page up and down choose a corner, arrows move it (with Shift farther), Insert adds one, Delete removes it."""
        key = Qt.Key(event.key())
        far = _FAR if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else 1
        moves = {
            Qt.Key.Key_Up: (LEVEL_STEP, 0.0), Qt.Key.Key_Down: (-LEVEL_STEP, 0.0),
            Qt.Key.Key_Right: (0.0, SECONDS_STEP), Qt.Key.Key_Left: (0.0, -SECONDS_STEP),
        }  # fmt: skip
        chosen = self._chosen
        if key in moves:
            if chosen is None:
                self._choose(0)
                return
            (level, seconds), (up, on) = self._points[chosen], moves[key]
            self._draw(moved_corner(self._points, chosen, level + far * up, max(0.0, seconds + far * on)))
        elif key in (Qt.Key.Key_PageUp, Qt.Key.Key_Home):
            self._choose(0 if key == Qt.Key.Key_Home or chosen is None else chosen + 1)
        elif key in (Qt.Key.Key_PageDown, Qt.Key.Key_End):
            self._choose(len(self._points) if key == Qt.Key.Key_End else (chosen or 0) - 1)
        elif key == Qt.Key.Key_Insert:
            self._add_by_key()
            self.settled.emit()
        elif key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self._remove()
            self.settled.emit()
        else:
            super().keyPressEvent(event)

    @guarded()
    def focusInEvent(self, event: QFocusEvent) -> None:
        """Begin at the first corner when reached by keys."""
        if self._chosen is None and event.reason() != Qt.FocusReason.MouseFocusReason:
            self._choose(0)
        QWidget.focusInEvent(self, event)
        self.viewport().update()

    def paint_reading(self, painter: QPainter, chart: StillChart) -> None:
        """Draw a square around the corner that keys move."""
        if self._chosen is None or self._chosen >= len(self._points):
            return
        level, seconds = self._points[self._chosen]
        place = self.at(seconds, level)
        half = self._theme.px(9)
        painter.setPen(QPen(self._theme.color("ink"), 1.6))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(QRectF(place.x() - half, place.y() - half, 2 * half, 2 * half))
