"""What mouse and keyboard do in the lanes: scrub, pan, frame, measure, resize and move lanes."""

from __future__ import annotations

from PySide6.QtCore import QObject, QPointF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent

from debrief.gui.lanes.lane_scene import LANE_GAP, Scene
from debrief.gui.replay.replay_controller import Replay

_LEAST_HEIGHT = 40.0
_CLICK = 4.0


class LaneGestures(QObject):
    """Reads presses, moves and keys over the lanes.

    Parameters
    ----------
    scene : Scene
        Where everything lies.
    replay : Replay
        What is moved.

    Signals
    -------
    lane_menu_wanted : QPointF
        A click with another button at this place.
    resized
        The heights of lanes have changed.
    drop_changed
        The place where a dragged lane would come to lie.
    chosen_changed
        Another lane was chosen by keyboard.
    """

    lane_menu_wanted = Signal(object)
    resized = Signal()
    drop_changed = Signal()
    chosen_changed = Signal()

    def __init__(self, scene: Scene, replay: Replay, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._scene = scene
        self._replay = replay
        self._drag: str | None = None
        self._from = QPointF()
        self._range = (0.0, 0.0)
        self._border = 0
        self._taken: str | None = None
        self._drop: int | None = None

    @property
    def dragging(self) -> bool:
        """Whether a button is held for something."""
        return self._drag is not None

    @property
    def drop_y(self) -> float | None:
        """Where a lane that is being dragged would come to lie, [px], or None."""
        if self._drop is None:
            return None
        lanes = self._scene.lanes
        if self._drop < len(lanes):
            return lanes[self._drop].rect.top() - LANE_GAP / 2
        return lanes[-1].rect.bottom() + LANE_GAP / 2 - 2

    # --- what lies where --------------------------------------------------------------------------

    def time_at(self, point: QPointF) -> float:
        """Return the time at a point, [s], within what is in view."""
        scene = self._scene
        return scene.time_of(min(max(point.x(), scene.plot_left), scene.plot_right))

    def in_ribbon(self, point: QPointF) -> bool:
        """Return whether a point lies in the ribbon above the lanes."""
        return point.y() < self._scene.ribbon_top + self._scene.ribbon_height + 4

    def lane_at(self, point: QPointF) -> str | None:
        """Return the channel that the lane at a point is named after, or None."""
        return next((lane.plan.name for lane in self._scene.lanes if lane.rect.contains(point)), None)

    def _title_at(self, point: QPointF) -> str | None:
        return next((name for name, box in self._scene.handles.items() if box.contains(point)), None)

    def _border_at(self, point: QPointF) -> int | None:
        """Return the index of the lane above the gap at a point, where both its lanes can be resized."""
        lanes = self._scene.lanes
        for index in range(len(lanes) - 1):
            above, below = lanes[index], lanes[index + 1]
            in_gap = above.rect.bottom() - 1 <= point.y() <= below.rect.top() + 1
            if in_gap and above.recorded and below.recorded:
                return index
        return None

    def cursor_at(self, point: QPointF) -> Qt.CursorShape:
        """Return the shape of the mouse that says what a press would do."""
        if self._border_at(point) is not None:
            return Qt.CursorShape.SizeVerCursor
        return Qt.CursorShape.OpenHandCursor if self._title_at(point) else Qt.CursorShape.ArrowCursor

    # --- the mouse --------------------------------------------------------------------------------

    def press(self, event: QMouseEvent) -> Qt.CursorShape | None:
        """Begin a drag; return the shape of the mouse while it lasts."""
        session = self._replay.session
        if session is None:
            return None
        point = event.position()
        self._from = point
        self._range = (session.framing.begin_s, session.framing.end_s)
        if event.button() != Qt.MouseButton.LeftButton:
            self._drag = "pan"
            self._replay.remember_frame()
            return Qt.CursorShape.ClosedHandCursor
        border, title = self._border_at(point), self._title_at(point)
        plain = event.modifiers() == Qt.KeyboardModifier.NoModifier
        if border is not None:
            self._drag, self._border = "resize", border
            return Qt.CursorShape.SizeVerCursor
        if title is not None and plain:
            self._drag, self._taken = "lane", title
            return Qt.CursorShape.ClosedHandCursor
        self._drag = "frame" if event.modifiers() & Qt.KeyboardModifier.ShiftModifier else "scrub"
        if event.modifiers() & Qt.KeyboardModifier.ControlModifier:
            self._replay.set_mark(self.time_at(point))
        if self._drag == "scrub":
            self._replay.seek(self.time_at(point))
        return None

    def move(self, point: QPointF) -> None:
        """Go on with the drag."""
        if self._drag == "scrub":
            self._replay.seek(self.time_at(point))
        elif self._drag == "pan":
            begin, end = self._range
            width = self._scene.plot_right - self._scene.plot_left
            moved = (point.x() - self._from.x()) / width * (end - begin)
            self._replay.set_frame(begin - moved, end - moved)
        elif self._drag == "resize":
            self._resize(point.y())
        elif self._drag == "lane":
            far = abs(point.y() - self._from.y()) > _CLICK
            drop = self._drop_at(point.y()) if far else None
            if drop != self._drop:
                self._drop = drop
                self.drop_changed.emit()

    def release(self, event: QMouseEvent) -> None:
        """End the drag."""
        point = event.position()
        drag, self._drag = self._drag, None
        if drag == "frame":
            first, last = sorted((self.time_at(self._from), self.time_at(point)))
            if abs(point.x() - self._from.x()) > _CLICK:
                self._replay.frame(first, last)
        elif drag == "pan" and (point - self._from).manhattanLength() < _CLICK:
            self.lane_menu_wanted.emit(point)
        elif drag == "resize":
            lanes = self._scene.lanes[self._border : self._border + 2]
            self._replay.resize_lanes({lane.plan.name: lane.weight for lane in lanes})
        elif drag == "lane":
            self._put_down(point)

    def _put_down(self, point: QPointF) -> None:
        name, drop = self._taken, self._drop
        self._taken = self._drop = None
        if name is None:
            return
        if drop is None:
            if (point - self._from).manhattanLength() < _CLICK:
                self._replay.seek(self.time_at(point))
            return
        self.drop_changed.emit()
        index = [lane.plan.name for lane in self._scene.lanes].index(name)
        self._replay.place_lane(name, drop - (drop > index))

    def cancel(self) -> bool:
        """Let go of a lane that is being dragged, as with Esc; return whether there was one."""
        if self._drag != "lane":
            return False
        self._drag = self._taken = self._drop = None
        self.drop_changed.emit()
        return True

    def _drop_at(self, y: float) -> int | None:
        """Return before which lane one would be put down; None where it would stay."""
        lanes = self._scene.lanes
        index = sum(lane.rect.center().y() < y for lane in lanes)
        own = [lane.plan.name for lane in lanes].index(self._taken or "")
        return None if index in (own, own + 1) else index

    def _resize(self, y: float) -> None:
        """Move the border between two lanes; the others keep their heights."""
        above, below = self._scene.lanes[self._border : self._border + 2]
        together = above.rect.height() + below.rect.height()
        height = min(max(y - above.rect.top() - LANE_GAP / 2, _LEAST_HEIGHT), together - _LEAST_HEIGHT)
        weight = above.weight + below.weight
        above.weight = weight * height / together
        below.weight = weight - above.weight
        self.resized.emit()

    # --- the keyboard -----------------------------------------------------------------------------

    def key(self, event: QKeyEvent) -> bool:
        """Choose, move, resize or remove a lane; return whether the key was one of these."""
        key, held = event.key(), event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
        if key == Qt.Key.Key_Escape:
            if self.cancel():
                return True
            had = self._scene.chosen is not None
            self._choose(None)
            return had
        if key == Qt.Key.Key_Delete and self._scene.chosen is not None:
            self._replay.remove_lane(self._scene.chosen)
            return True
        if key not in (Qt.Key.Key_Up, Qt.Key.Key_Down):
            return False
        step = 1 if key == Qt.Key.Key_Down else -1
        chosen = self._scene.chosen
        if held == Qt.KeyboardModifier.NoModifier:
            self._choose_next(step)
        elif chosen is not None and held == Qt.KeyboardModifier.ControlModifier:
            self._replay.move_lane(chosen, step)
        elif chosen is not None and held == Qt.KeyboardModifier.ShiftModifier:
            lane = next(lane for lane in self._scene.lanes if lane.plan.name == chosen)
            lane.weight = min(max(lane.weight * (0.8 if step > 0 else 1.25), 0.1), 20.0)
            self._replay.resize_lanes({chosen: lane.weight})
            self.resized.emit()
        else:
            return False
        return True

    def _choose_next(self, step: int) -> None:
        names = [lane.plan.name for lane in self._scene.lanes]
        if not names:
            return
        if self._scene.chosen in names:
            index = names.index(self._scene.chosen) + step
            self._choose(names[min(max(index, 0), len(names) - 1)])
        else:
            self._choose(names[0] if step > 0 else names[-1])

    def _choose(self, name: str | None) -> None:
        if name != self._scene.chosen:
            self._scene.chosen = name
            self.chosen_changed.emit()
