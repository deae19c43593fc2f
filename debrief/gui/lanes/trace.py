"""One channel's trace in a lane: its vertical scale and its line, fed from the envelope."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QLineF, QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPainterStateGuard, QPen

from debrief.gui.style.theme import Theme
from debrief.recording.model import FloatArray
from debrief.session.drawing.axes import share_of, shares_of
from debrief.session.drawing.envelope import Drawn, Envelope
from debrief.session.lanes.lane_plan import LanePlan, LevelLine
from debrief.session.lanes.lane_range import value_ticks
from debrief.session.lanes.lane_stack import LaneData
from debrief.session.lanes.lane_words import Reach
from debrief.session.limits.instrument_readings import Instrument, nice_range

_TITLE_STRIP = 22
_TICK_ROW = 28
_BOLD_POINTS = 900
_SMOOTH_POINTS = 2500
_SIGN_EVERY = 150.0
_SIGN_REACH = 24.0
_STRIP = 6.0

_SEGMENTS = pg.Qt.internals.PrimitiveArray(QLineF, 4)
"""Room for the lines of one trace: making an object of each would take longer than drawing them."""

SIGNS = ("", "square", "plus", "cross")
"""What tells the channels of one lane apart besides the colour: a small sign now and then on the trace.

A dashed line would: but between its dashes samples would vanish from the picture.
"""


def draw_sign(painter: QPainter, sign: str, x: float, y: float, theme: Theme, role: str) -> None:
    """Draw the sign of a channel, about 7 px across; nothing for the first channel of a lane."""
    if not sign:
        return
    size = 3.5
    with QPainterStateGuard(painter):
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
        painter.setPen(QPen(theme.color(role), 2.0 if sign != "square" else 1.5))
        if sign == "square":
            painter.setBrush(theme.color("panel"))
            painter.drawRect(QRectF(x - size + 0.3, y - size + 0.3, 2 * size - 0.6, 2 * size - 0.6))
        elif sign == "plus":
            painter.drawLine(QPointF(x - size, y), QPointF(x + size, y))
            painter.drawLine(QPointF(x, y - size), QPointF(x, y + size))
        else:
            painter.drawLine(QPointF(x - size, y - size), QPointF(x + size, y + size))
            painter.drawLine(QPointF(x - size, y + size), QPointF(x + size, y - size))


def behind_pen(theme: Theme) -> QPen:
    """Return the pen of a compared start, in the lanes and where it is named."""
    pen = QPen(theme.color("muted"), 1.8)
    pen.setDashPattern([4.0, 2.2])
    pen.setCapStyle(Qt.PenCapStyle.FlatCap)
    return pen


def _draw_lines(painter: QPainter, lines: np.ndarray) -> None:
    """Draw lines, (n, 4): from x, y to x, y, [px]."""
    _SEGMENTS.resize(len(lines))
    _SEGMENTS.ndarray()[:] = lines
    painter.drawLines(*_SEGMENTS.drawargs())


class Trace:
    """The trace of one plan.

    Parameters
    ----------
    data : LaneData
        Plan, samples and instrument.
    theme : Theme
        Colours.
    role : str
        Its colour of the theme.
    sign : str
        One of `SIGNS`.

    Attributes
    ----------
    plan, instrument, role, sign
        As given.
    rect : QRectF
        Where the lane lies in the view, [px].
    low, top, high : float
        The values at the lower edge of the lane, below the strip for its title, and at the upper edge.
    reduced : bool
        Whether samples are left out of the picture now.
    """

    def __init__(self, data: LaneData, theme: Theme, role: str, sign: str = "") -> None:
        self.plan: LanePlan = data.plan
        self.instrument: Instrument = data.instrument
        self.role = role
        self.sign = sign
        self.rect = QRectF()
        self.low, self.top, self.high = self.plan.low, self.plan.high, self.plan.high
        self.reduced = False
        self._envelope: Envelope | None = data.envelope
        self._theme = theme
        self._drawn: Drawn | None = None
        self._behind: Envelope | None = None
        self._drawn_behind: Drawn | None = None
        self._reach: Reach | None = None
        self._tall = 1.0  # below the strip for the title, [px]
        self._begin_s, self._end_s = 0.0, 1.0

    @property
    def recorded(self) -> bool:
        """Whether there is anything to draw."""
        return self._envelope is not None

    def lay_behind(self, envelope: Envelope | None) -> None:
        """Draw the trace of a compared start behind this one, or none; to be placed and shown anew."""
        self._behind, self._drawn_behind = envelope, None

    def _usual_range(self) -> tuple[float, float]:
        """Return the range of the whole recording, widened to what lies behind it."""
        low, high = self.plan.low, self.plan.high
        behind = self._behind
        if behind is None or behind.lowest is None or behind.highest is None:
            return low, high
        if low <= behind.lowest and behind.highest <= high:
            return low, high
        return nice_range(min(low, behind.lowest), max(high, behind.highest))

    def place(self, rect: QRectF) -> None:
        """Put the trace where its lane lies, [px]."""
        self.rect = rect
        self._scale(*self._usual_range())

    def _scale(self, low: float, high: float) -> None:
        """Show this vertical range; a strip at the top is kept free for the title."""
        strip = min(float(self._theme.px(_TITLE_STRIP)), 0.3 * self.rect.height())
        self._tall = max(self.rect.height() - strip, 1.0)
        share = self.rect.height() / self._tall
        self.low, self.top, self.high = low, high, low + (high - low) * share
        self._reach = None

    @property
    def ticks(self) -> tuple[tuple[float, str], ...]:
        """The ticks of its axis with their numbers."""
        return value_ticks(self.low, self.top, max(3, int(self._tall / self._theme.px(_TICK_ROW))))

    @property
    def lines(self) -> list[LevelLine]:
        """The levels that are drawn now."""
        between = self.plan.lines_between(self._begin_s, self._end_s)
        return [line for line in between if self.low <= line.level <= self.top]

    def show_range(self, begin_s: float, end_s: float, fit: bool = False, closer_only: bool = False) -> None:
        """Take this stretch of time; `fit` takes the vertical range from what is in view.

        With `closer_only` it does so only where that shows things at twice the size or more.
        """
        if self._envelope is None:
            return
        self._begin_s, self._end_s = begin_s, end_s
        self._drawn = self._envelope.view(begin_s, end_s, int(self.rect.width()))
        self.reduced = self._drawn.reduced
        self._reach = None
        behind = self._behind
        self._drawn_behind = behind.view(begin_s, end_s, int(self.rect.width())) if behind else None
        if fit:
            values = self._drawn.within(begin_s, end_s)
            if self._drawn_behind is not None:
                values = np.r_[values, self._drawn_behind.values]
            self._scale(*self.plan.closer(values, begin_s, end_s, only_twice=closer_only))
        else:
            self._scale(*self._usual_range())

    def paint(self, painter: QPainter) -> None:
        """Draw the trace.

        A wide pen costs many times a thin one along a path of thousands of points; a thin smooth one
        costs little; few points cost little either way, drawn segment by segment.
        """
        drawn = self._drawn
        if drawn is None or drawn.time_s.size == 0:
            return
        rect = self.rect
        x, y = self._pixels(drawn)
        points = drawn.time_s.size
        with QPainterStateGuard(painter):
            painter.setClipRect(rect)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, points <= _SMOOTH_POINTS)
            painter.setPen(QPen(self._theme.color(self.role), 1.5 if points <= _BOLD_POINTS else 1))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            joined = drawn.connect[:-1]
            if points <= _BOLD_POINTS:
                _draw_lines(painter, np.column_stack((x[:-1], y[:-1], x[1:], y[1:]))[joined])
            else:
                connect = "all" if joined.all() else drawn.connect.astype(np.int32)
                painter.drawPath(pg.arrayToQPath(x, y, connect, finiteCheck=False))
            alone = drawn.isolated
            if alone.any():
                # A sample between two gaps has no line: show it as a short dash, two pixels long.
                painter.drawLines(
                    [
                        QLineF(a - 1, b, a + 1, b)
                        for a, b in zip(x[alone].tolist(), y[alone].tolist(), strict=True)
                    ]
                )
            self._paint_signs(painter, x, y)

    def paint_behind(self, painter: QPainter) -> None:
        """Draw the trace of the compared start: dashed and quieter, so that shape and colour tell the two apart."""
        drawn = self._drawn_behind
        if drawn is None or drawn.time_s.size == 0:
            return
        x, y = self._pixels(drawn)
        with QPainterStateGuard(painter):
            painter.setClipRect(self.rect)
            painter.setRenderHint(QPainter.RenderHint.Antialiasing, True)
            painter.setPen(behind_pen(self._theme))
            painter.setBrush(Qt.BrushStyle.NoBrush)
            painter.drawPath(pg.arrayToQPath(x, y, drawn.connect.astype(np.int32), finiteCheck=False))
            for a, b in zip(x[drawn.isolated].tolist(), y[drawn.isolated].tolist(), strict=True):
                painter.drawLine(QLineF(a - 1, b, a + 1, b))

    def _paint_signs(self, painter: QPainter, x: np.ndarray, y: np.ndarray) -> None:
        """Put the channel's sign on its trace every so often, always on a drawn sample."""
        if not self.sign:
            return
        place = self.rect.left() + _SIGN_EVERY * (0.3 + 0.25 * SIGNS.index(self.sign))
        while place < self.rect.right():
            index = min(int(np.searchsorted(x, place)), x.size - 1)
            if abs(float(x[index]) - place) <= _SIGN_REACH:
                draw_sign(painter, self.sign, float(x[index]), float(y[index]), self._theme, self.role)
            elif index > 0 and self._drawn is not None and self._drawn.connect[index - 1]:
                share = (place - x[index - 1]) / max(x[index] - x[index - 1], 1e-9)
                between = float(y[index - 1] + share * (y[index] - y[index - 1]))
                draw_sign(painter, self.sign, place, between, self._theme, self.role)
            place += _SIGN_EVERY

    def y_of(self, value: float) -> float:
        """Return the pixel height of a value in the view."""
        return self.rect.bottom() - share_of(value, self.low, self.high) * self.rect.height()

    def _pixels(self, drawn: Drawn) -> tuple[FloatArray, FloatArray]:
        """Return where the points lie in the view, [px]."""
        rect = self.rect
        x: FloatArray = rect.left() + shares_of(drawn.time_s, self._begin_s, self._end_s) * rect.width()
        y: FloatArray = rect.bottom() - shares_of(drawn.values, self.low, self.high) * rect.height()
        return x, y

    def crosses(self, left: float, right: float, top: float, bottom: float) -> bool:
        """Return whether the trace runs through a box of the view, [px]; a little beside it counts too."""
        if self._reach is None:
            x, y = self._pixels(self._drawn) if self._drawn is not None else (np.zeros(0), np.zeros(0))
            self._reach = Reach(x, y, self.rect.left(), self.rect.width(), _STRIP)
        return self._reach.crosses(left, right, top, bottom)
