"""One lane: a channel's trace in a plot box of its own, fed from the envelope."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QRectF

from debrief.gui.theme import Theme
from debrief.session.envelope import Drawn, Envelope
from debrief.session.lane_plan import LanePlan
from debrief.session.readings import nice_range

HEIGHT_WEIGHTS = {"ng": 1.25, "itt": 2.5, "torque": 1.2, "bus_volts": 1.05}
_TITLE_STRIP = 22
_BOLD_POINTS = 900
_SMOOTH_POINTS = 2500


class Lane:
    """The trace of one plan.

    Parameters
    ----------
    plan : LanePlan
        What it shows.
    envelope : Envelope or None
        Its samples; None for a lane that says "not recorded".
    theme : Theme
        Colours.
    weight : float, optional
        Share of the height, where the user has changed it.

    Attributes
    ----------
    plan : LanePlan
        As given.
    weight : float
        Share of the height.
    rect : QRectF
        Where it lies in the view, [px].
    low, high : float
        The values at the lower and upper edge of the lane.
    reduced : bool
        Whether samples are left out of the picture now.
    """

    def __init__(
        self, plan: LanePlan, envelope: Envelope | None, theme: Theme, weight: float | None = None
    ) -> None:
        self.plan = plan
        self.weight = weight if weight is not None else HEIGHT_WEIGHTS.get(plan.name, 1.1)
        self.rect = QRectF()
        self.low, self.high = plan.low, plan.high
        self.reduced = False
        self._envelope = envelope
        self._theme = theme
        self._box: pg.ViewBox | None = None
        self._curve: pg.PlotCurveItem | None = None
        self._dots: pg.PlotCurveItem | None = None
        self._drawn: Drawn | None = None
        self._weight = -1
        if envelope is None:
            return
        self._box = pg.ViewBox(enableMouse=False, enableMenu=False, defaultPadding=0.0)
        self._box.disableAutoRange()
        # A view box puts itself far below everything else.
        self._box.setZValue(0)
        self._curve = pg.PlotCurveItem(antialias=False)
        self._dots = pg.PlotCurveItem(antialias=False)
        for item in (self._curve, self._dots):
            # Options that are set before the item is in its box are silently reset.
            self._box.addItem(item, ignoreBounds=True)
        self.restyle()

    @property
    def item(self) -> pg.ViewBox | None:
        """What the scene holds, or None for a slim lane."""
        return self._box

    @property
    def recorded(self) -> bool:
        """Whether there is a trace."""
        return self._box is not None

    def restyle(self) -> None:
        """Take the theme's colours."""
        if self._curve is None or self._dots is None:
            return
        self._dots.setPen(pg.mkPen(self._theme.color(self.plan.role), width=1))
        self._weight = -1

    def place(self, rect: QRectF) -> None:
        """Put the lane where it belongs, [px]."""
        self.rect = rect
        if self._box is not None:
            self._box.setGeometry(rect)
        self._scale(self.plan.low, self.plan.high)

    def _scale(self, low: float, high: float) -> None:
        """Show this vertical range; a strip at the top is kept free for the title."""
        strip = min(float(self._theme.px(_TITLE_STRIP)), 0.3 * self.rect.height())
        share = self.rect.height() / max(self.rect.height() - strip, 1.0)
        self.low, self.high = low, low + (high - low) * share
        if self._box is not None:
            self._box.setYRange(self.low, self.high, padding=0)

    def _fit(self, begin_s: float, end_s: float) -> None:
        """Show the vertical range of what is in view, with the limit levels near it."""
        drawn = self._drawn
        if drawn is None or drawn.values.size == 0:
            return
        inside = drawn.values[(drawn.time_s >= begin_s) & (drawn.time_s <= end_s)]
        values = inside if inside.size else drawn.values
        low, high = float(values.min()), float(values.max())
        span = max(high - low, 0.02 * (self.plan.high - self.plan.low))
        levels = [
            line.level
            for line in self.plan.lines
            if line.end_s >= begin_s and line.begin_s <= end_s and low - span <= line.level <= high + span
        ]
        low, high = min([low, *levels]), max([high, *levels])
        room = 0.06 * max(high - low, span)
        self._scale(*nice_range(low - room, high + room))

    def show_range(self, begin_s: float, end_s: float, fit: bool = False) -> None:
        """Draw this stretch of time; `fit` takes the vertical range from what is in view."""
        if self._box is None or self._curve is None or self._dots is None or self._envelope is None:
            return
        columns = max(1, int(self.rect.width()))
        drawn = self._envelope.view(begin_s, end_s, columns)
        self._drawn = drawn
        self.reduced = drawn.reduced
        if fit:
            self._fit(begin_s, end_s)
        else:
            self._scale(self.plan.low, self.plan.high)
        self._box.setXRange(begin_s, end_s, padding=0)
        self._weigh(drawn.time_s.size)
        connect = "all" if drawn.connect[:-1].all() else drawn.connect.astype(np.int32)
        self._curve.setData(drawn.time_s, drawn.values, connect=connect, skipFiniteCheck=True)
        alone = drawn.isolated
        if alone.any():
            # A sample between two gaps has no line: show it as a short dash, two pixels long.
            half = (end_s - begin_s) / columns
            x = np.repeat(drawn.time_s[alone], 2)
            x[0::2] -= half
            x[1::2] += half
            self._dots.setData(x, np.repeat(drawn.values[alone], 2), connect="pairs", skipFiniteCheck=True)
        else:
            self._dots.setData([], [])

    def y_of(self, value: float) -> float:
        """Return the pixel height of a value in the view."""
        share = (value - self.low) / (self.high - self.low)
        return self.rect.bottom() - share * self.rect.height()

    def _weigh(self, points: int) -> None:
        """Draw few points bolder and smoother.

        A wide pen costs many times a thin one along a path of thousands of points; a thin smooth one
        costs little; few points cost little either way, drawn segment by segment.
        """
        assert self._curve is not None
        weight = 0 if points > _SMOOTH_POINTS else 1 if points > _BOLD_POINTS else 2
        if weight == self._weight:
            return
        self._weight = weight
        self._curve.opts["antialias"] = weight > 0
        self._curve.setSegmentedLineMode("on" if weight == 2 else "off")
        self._curve.setPen(pg.mkPen(self._theme.color(self.plan.role), width=1.5 if weight == 2 else 1))

    def trace_between(self, begin_s: float, end_s: float) -> tuple[float, float] | None:
        """Return the highest and lowest pixel that the trace reaches between two times, or None."""
        drawn = self._drawn
        if drawn is None or drawn.time_s.size == 0:
            return None
        first = max(0, int(np.searchsorted(drawn.time_s, begin_s, side="right")) - 1)
        last = min(drawn.time_s.size, int(np.searchsorted(drawn.time_s, end_s, side="left")) + 1)
        values = drawn.values[first:last]
        if values.size == 0:
            return None
        return self.y_of(float(values.max())), self.y_of(float(values.min()))

    def remove(self) -> None:
        """Take the items out of the scene."""
        if self._box is not None:
            scene = self._box.scene()
            if scene is not None:
                scene.removeItem(self._box)
            self._box = self._curve = self._dots = None
