"""The menu of lanes: which channels are shown, and in which order."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import QPoint, Signal, Slot
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu, QWidget

from debrief.gui.replay import Replay
from debrief.session.wording import channel_words


class LaneMenu(QMenu):
    """Ticks what is shown; filled when it is opened.

    Signals
    -------
    lane_wanted : str
        A channel to be added; it is prepared in the background.
    """

    lane_wanted = Signal(str)

    def __init__(self, replay: Replay, parent: QWidget) -> None:
        super().__init__("&Lanes", parent)
        self._replay = replay
        self._lane: str | None = None
        self.aboutToShow.connect(self._about_to_show)
        self.triggered.connect(self._triggered)

    @Slot()
    def _about_to_show(self) -> None:
        self.fill(self._lane)
        self._lane = None

    def fill(self, lane: str | None) -> None:
        """List all channels; above them what can be done with this lane."""
        self.clear()
        session = self._replay.session
        if session is None:
            return
        shown = [data.plan.name for data in session.lanes]
        if lane is not None:
            words = channel_words(lane)
            for text, action in (
                (f"Move {words.lower()} &up", "up"),
                (f"Move {words.lower()} &down", "down"),
                (f"&Remove {words.lower()}", "remove"),
            ):
                self.addAction(text).setData((action, lane))
            self.addSeparator()
        for name in session.lane_choices():
            entry = self.addAction(channel_words(name))
            entry.setCheckable(True)
            entry.setChecked(name in shown)
            entry.setData(("toggle", name))

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
        moves = {
            "up": partial(self._replay.move_lane, name, -1),
            "down": partial(self._replay.move_lane, name, 1),
            "remove": partial(self._replay.remove_lane, name),
        }
        if what in moves:
            moves[what]()
        elif name in [lane.plan.name for lane in session.lanes]:
            self._replay.remove_lane(name)
        else:
            self.lane_wanted.emit(name)
