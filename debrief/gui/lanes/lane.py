"""One lane: the traces of one channel, or of a few with an axis for each, in a rectangle of its own."""

from __future__ import annotations

from PySide6.QtCore import QRectF
from PySide6.QtGui import QPainter

from debrief.gui.lanes.trace import SIGNS, Trace
from debrief.gui.style.theme import Theme
from debrief.session.comparing.compared_start import ComparedStart
from debrief.session.lanes.lane_plan import LanePlan
from debrief.session.lanes.lane_stack import LaneData
from debrief.words.channels import usual_weight

_ROLES = ("speed", "temperature", "torque", "voltage", "ink")


class Lane:
    """A lane of the view.

    Parameters
    ----------
    data : LaneData
        What it shows.
    theme : Theme
        Colours.

    Attributes
    ----------
    plan : LanePlan
        Of the channel that the lane is named after.
    weight : float
        Share of the height.
    rect : QRectF
        Where it lies in the view, [px].
    traces : tuple of Trace
        Those of its channels that are recorded, in order.
    missing : tuple of LanePlan
        Those that are not.
    """

    def __init__(self, data: LaneData, theme: Theme) -> None:
        self.plan: LanePlan = data.plan
        self.names = data.names
        self.weight = data.weight if data.weight is not None else usual_weight(data.plan.name)
        self.rect = QRectF()
        every = (data, *data.others)
        there = [one for one in every if one.envelope is not None]
        roles = _colours([one.plan for one in there])
        self.traces = tuple(
            Trace(one, theme, role, sign) for one, role, sign in zip(there, roles, SIGNS, strict=False)
        )
        self.missing = tuple(one.plan for one in every if one.envelope is None)

    @property
    def recorded(self) -> bool:
        """Whether there is a trace."""
        return bool(self.traces)

    @property
    def shared(self) -> bool:
        """Whether several channels were put into this lane."""
        return len(self.names) > 1

    @property
    def low(self) -> float:
        """The value of the first trace at the lower edge."""
        return self.traces[0].low if self.traces else 0.0

    @property
    def high(self) -> float:
        """The value of the first trace at the upper edge."""
        return self.traces[0].high if self.traces else 1.0

    @property
    def reduced(self) -> bool:
        """Whether samples are left out of the picture now."""
        return any(trace.reduced for trace in self.traces)

    def place(self, rect: QRectF) -> None:
        """Put the lane where it belongs, [px]."""
        self.rect = rect
        for trace in self.traces:
            trace.place(rect)

    def show_range(self, begin_s: float, end_s: float, fit: bool = False, closer_only: bool = False) -> None:
        """Take this stretch of time; `fit` takes the vertical ranges from what is in view."""
        for trace in self.traces:
            trace.show_range(begin_s, end_s, fit, closer_only)

    def lay_behind(self, compared: ComparedStart | None) -> None:
        """Draw the traces of a compared start behind these, or none."""
        for trace in self.traces:
            channel = trace.plan.channel
            if compared is None or channel is None:
                trace.lay_behind(None)
            else:
                trace.lay_behind(compared.behind(trace.plan.name, channel.unit))

    def paint(self, painter: QPainter) -> None:
        """Draw the traces, that of the lane's own channel last, over those of a compared start."""
        for trace in self.traces:
            trace.paint_behind(painter)
        for trace in reversed(self.traces):
            trace.paint(painter)

    def y_of(self, value: float) -> float:
        """Return the pixel height of a value of the first trace."""
        return self.traces[0].y_of(value)

    def crossed(self, left: float, right: float, top: float, bottom: float) -> bool:
        """Return whether a trace runs through a box of the view, [px]."""
        return any(trace.crosses(left, right, top, bottom) for trace in self.traces)


def _colours(plans: list[LanePlan]) -> list[str]:
    """Return a colour role for each channel of a lane, its usual one where no other has it."""
    taken: list[str] = []
    for plan in plans:
        free = [role for role in _ROLES if role not in taken]
        taken.append(plan.role if plan.role not in taken else free[0])
    return taken
