"""Which lanes the view has, and where each of them lies."""

from __future__ import annotations

from PySide6.QtCore import QRectF

from debrief.gui.lanes.lane import Lane
from debrief.gui.lanes.lane_scene import AXIS_WIDTH, LANE_GAP, Scene
from debrief.gui.lanes.strip_layer import place_strips
from debrief.gui.style.theme import MARGIN, Theme
from debrief.session.lanes.lane_heights import LEAST, presented, presented_least, shared_heights
from debrief.session.session import Session

_SLIM, _RIBBON, _AXIS = 26, 18, 20
_TOP, _BELOW_RIBBON = 12.0, 6.0


def lanes_of(scene: Scene, session: Session, theme: Theme, height: float) -> list[Lane]:
    """Return the lanes of a recording; on a projector those that it has room for in a view of this height, [px]."""
    lanes = [Lane(data, theme) for data in session.lanes]
    if not scene.presenting:
        return lanes
    room = height - _TOP - _BELOW_RIBBON - theme.px(_RIBBON) - theme.px(_AXIS) - 2
    kept = presented([lane.plan.name for lane in lanes if lane.recorded], room, LANE_GAP)
    return [lane for lane in lanes if lane.plan.name in kept and lane.recorded]


def arrange(scene: Scene, theme: Theme, width: float, height: float) -> None:
    """Give every lane its place in a view of this size, [px]; all share the left and right edge of the plot."""
    lanes = scene.lanes
    scene.size = QRectF(0, 0, width, height)
    scene.plot_left = float(theme.px(MARGIN))
    axes = max((len(lane.traces) - 1 for lane in lanes), default=0)
    right = width - theme.px(16) - max(axes, 0) * theme.px(AXIS_WIDTH)
    scene.plot_right = max(right, scene.plot_left + 10)
    scene.ribbon_height, scene.ribbon_top = float(theme.px(_RIBBON)), _TOP
    top = _TOP + scene.ribbon_height + _BELOW_RIBBON
    scene.axis_top = height - theme.px(_AXIS)
    slim = float(theme.px(_SLIM))
    strips = place_strips(scene, theme, scene.axis_top - top)
    free = scene.axis_top - strips - top - LANE_GAP * max(len(lanes) - 1, 0) - 2
    drawn = [lane for lane in lanes if lane.recorded]
    free -= slim * (len(lanes) - len(drawn))
    least = [presented_least(lane.plan.name) if scene.presenting else LEAST for lane in drawn]
    heights = iter(shared_heights([lane.weight for lane in drawn], least, free))
    for lane in lanes:
        tall = next(heights) if lane.recorded else slim
        lane.place(QRectF(scene.plot_left, round(top), scene.plot_right - scene.plot_left, round(tall)))
        top += tall + LANE_GAP
