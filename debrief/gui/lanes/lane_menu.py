"""The menu of lanes: which channels are shown, in which order, and which of them share a lane."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QPoint, Signal, Slot
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu, QWidget

from debrief.gui.plain_text import unmarked
from debrief.gui.replay.replay_controller import Replay
from debrief.session.lanes.lane_stack import MOST_IN_LANE, LaneData
from debrief.session.session import Session
from debrief.words.channels import within_sentence


class LaneMenu(QMenu):
    """Ticks what is shown; filled when it is opened.

    Signals
    -------
    lane_wanted : str
        A channel to be added in a lane of its own; it is prepared in the background.
    join_wanted : str, str
        A lane, and a channel to be shown in it.
    level_wanted : str
        How long this channel was above a level is to be asked.
    """

    lane_wanted = Signal(str)
    join_wanted = Signal(str, str)
    level_wanted = Signal(str)

    def __init__(self, replay: Replay, parent: QWidget) -> None:
        super().__init__("La&nes", parent)
        self._replay = replay
        self._lane: str | None = None
        self._chosen: str | None = None
        # Kept, not made anew: a submenu that was cleared away lives on in its parent.
        self._also = QMenu("&Also in this lane", self)
        self.aboutToShow.connect(self._about_to_show)
        self.triggered.connect(self._triggered)

    @Slot()
    def _about_to_show(self) -> None:
        self.fill(self._lane if self._lane is not None else self._chosen)
        self._lane = None

    @Slot(object)
    def choose(self, lane: str | None) -> None:
        """Offer what can be done with this lane when the menu is opened from the menu bar."""
        self._chosen = lane

    def fill(self, lane: str | None) -> None:
        """List all channels; above them what can be done with this lane."""
        self.clear()
        self._also.clear()
        session = self._replay.session
        if session is None:
            return
        data = session.lane_stack.find(lane) if lane is not None else None
        if data is not None:
            self._fill_for(session, data)
        shown = session.lane_stack.names
        for name in session.lane_choices():
            entry = self.addAction(unmarked(session.names.words(name)))
            entry.setCheckable(True)
            entry.setChecked(name in shown)
            entry.setData(("toggle", name))
        self.addSeparator()
        self.addAction("The &usual lanes").setData(("usual", ""))
        self.addAction("&Time above a level...").setData(("level", lane or ""))

    def _fill_for(self, session: Session, data: LaneData) -> None:
        name = data.plan.name
        words = unmarked(within_sentence(session.names.words(name)))
        for text, action in (
            (f"Move {words} &up", "up"),
            (f"Move {words} &down", "down"),
            (f"&Remove {words}", "remove"),
        ):
            self.addAction(text).setData((action, name))
        full = len(data.names) >= MOST_IN_LANE
        for other in session.lane_choices():
            if other == name:
                continue
            entry = self._also.addAction(unmarked(session.names.words(other)))
            entry.setCheckable(True)
            entry.setChecked(other in data.names)
            entry.setEnabled(not full or other in data.names)
            entry.setData(("part" if other in data.names else "join", (name, other)))
        self.addMenu(self._also)
        self.addSeparator()

    @Slot(object, object)
    def offer(self, place: QPoint, lane: str | None) -> None:
        """Open the menu for a lane."""
        self._lane = lane
        self.popup(place)

    @Slot(QAction)
    def _triggered(self, action: QAction) -> None:
        data = action.data()
        session = self._replay.session
        if session is None or data is None:
            return
        what, name = data
        if what == "join":
            self.join_wanted.emit(*name)
            return
        if what == "level":
            self.level_wanted.emit(name)
            return
        if what == "part":
            self._replay.part_lane(*name)
            return
        moves: dict[str, Callable[[], None]] = {
            "up": partial(self._replay.move_lane, name, -1),
            "down": partial(self._replay.move_lane, name, 1),
            "remove": partial(self._replay.remove_lane, name),
            "usual": self._replay.reset_lanes,
        }
        if what in moves:
            moves[what]()
        elif name in session.lane_stack.names:
            self._replay.remove_lane(name)
        else:
            self.lane_wanted.emit(name)
