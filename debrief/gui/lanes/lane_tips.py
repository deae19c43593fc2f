"""What the lanes say under the mouse: in full what has no room, and what a line, a shade or a strip is."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QPointF

from debrief.gui.lanes.lane import Lane
from debrief.gui.lanes.lane_scene import Scene

_NEAR = 5.0
"""So near a line it is the line that is asked for, [px]."""


def tip_at(scene: Scene, point: QPointF) -> str:
    """Return the lines of the hint at a place; nothing where there is nothing to say."""
    time_s = scene.time_of(point.x())
    if point.y() < scene.ribbon_top + scene.ribbon_height + 2:
        return next((part.word for part in scene.ribbon if part.begin_s <= time_s <= part.end_s), "")
    for strip, row in scene.strip_rows:
        if row.top() <= point.y() <= row.bottom():
            return f"{strip.words}: {strip.at(time_s)}"
    lane = next((lane for lane in scene.lanes if lane.rect.contains(point)), None)
    return "" if lane is None else "\n".join(dict.fromkeys(_of_lane(scene, lane, point, time_s)))


def _of_lane(scene: Scene, lane: Lane, point: QPointF, time_s: float) -> Iterator[str]:
    handle = scene.handles.get(lane.plan.name)
    if handle is not None and handle.contains(point):
        yield from (trace.plan.full_title for trace in lane.traces)
        yield from (f"{missing.title}: not recorded" for missing in lane.missing)
        return
    for trace in lane.traces:
        for line in trace.lines:
            if line.begin_s <= time_s <= line.end_s and abs(trace.y_of(line.level) - point.y()) <= _NEAR:
                yield f"{trace.plan.symbol} {line.text_apart}"
        yield from (one.words for one in trace.plan.unjudged if one.begin_s <= time_s <= one.end_s)
    for span in scene.labelled:
        edges = scene.clipped(span.begin_s, span.end_s)
        inside = edges is not None and edges[0] - _NEAR <= point.x() <= edges[1] + _NEAR
        if inside and span.tints(lane.names):
            yield span.label
    for mark in scene.marks:
        if abs(scene.x_of(mark.time_s) - point.x()) <= _NEAR:
            yield mark.word
