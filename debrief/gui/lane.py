"""One lane: a channel's trace in a plot box of its own, fed from the envelope."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QRectF

from debrief.gui.theme import Theme
from debrief.session.envelope import Drawn, Envelope
from debrief.session.lane_plan import LanePlan

HEIGHT_WEIGHTS = {"ng": 1.25, "itt": 2.5, "torque": 1.2, "bus_volts": 1.05}
_TITLE_STRIP = 22


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

    Attributes
    ----------
    plan : LanePlan
        As given.
    rect : QRectF
        Where it lies in the view, [px].
    high : float
        The value at the top edge: the plan's, and the strip for the title above it.
    reduced : bool
        Whether samples are left out of the picture now.
    """

    def __init__(self, plan: LanePlan, envelope: Envelope | None, theme: Theme) -> None:
        self.plan = plan
        self.rect = QRectF()
        self.high = plan.high
        self.reduced = False
        self._envelope = envelope
        self._theme = theme
        self._box: pg.ViewBox | None = None
        self._curve: pg.PlotCurveItem | None = None
        self._dots: pg.PlotCurveItem | None = None
        self._drawn: Drawn | None = None
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

    @property
    def weight(self) -> float:
        """Share of the height."""
        return HEIGHT_WEIGHTS.get(self.plan.name, 1.1)

    def restyle(self) -> None:
        """Take the theme's colours."""
        if self._curve is None or self._dots is None:
            return
        # Wider pens are many times slower, and antialiasing as well.
        pen = pg.mkPen(self._theme.color(self.plan.role), width=1)
        self._curve.setPen(pen)
        self._dots.setPen(pen)

    def place(self, rect: QRectF) -> None:
        """Put the lane where it belongs, [px]; a strip at its top is kept free for the title."""
        self.rect = rect
        strip = min(float(self._theme.px(_TITLE_STRIP)), 0.3 * rect.height())
        plan = self.plan
        share = rect.height() / max(rect.height() - strip, 1.0)
        self.high = plan.low + (plan.high - plan.low) * share
        if self._box is not None:
            self._box.setGeometry(rect)
            self._box.setYRange(plan.low, self.high, padding=0)

    def show_range(self, begin_s: float, end_s: float) -> None:
        """Draw this stretch of time."""
        if self._box is None or self._curve is None or self._dots is None or self._envelope is None:
            return
        columns = max(1, int(self.rect.width()))
        drawn = self._envelope.view(begin_s, end_s, columns)
        self._drawn = drawn
        self.reduced = drawn.reduced
        self._box.setXRange(begin_s, end_s, padding=0)
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
        share = (value - self.plan.low) / (self.high - self.plan.low)
        return self.rect.bottom() - share * self.rect.height()

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
