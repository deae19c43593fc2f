"""The menu of a gauge."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

from PySide6.QtCore import QPoint, Signal, Slot
from PySide6.QtWidgets import QMenu, QWidget

from debrief.gui.plain_text import unmarked
from debrief.gui.replay.replay_controller import Replay
from debrief.words.channels import within_sentence


class GaugeMenu(QMenu):
    """Filled when it is offered.

    Signals
    -------
    lane_wanted : str
        A channel to be shown in a lane.
    level_wanted : str
        How long this channel was above a level is to be asked.
    tapes_wanted
        Dials are to become tapes, or tapes dials.
    """

    lane_wanted = Signal(str)
    level_wanted = Signal(str)
    tapes_wanted = Signal()

    def __init__(self, replay: Replay, parent: QWidget) -> None:
        super().__init__(parent)
        self._replay = replay
        self.setAccessibleName("What can be done with the gauge")

    @Slot(object, str, object, bool)
    def offer(self, place: QPoint, name: str, extreme_s: float | None, lowest: bool) -> None:
        """Open it at a place of the screen for the gauge of a channel, whose extreme so far was at this time, [s]."""
        session = self._replay.session
        if session is None:
            return
        self.clear()
        words = unmarked(within_sentence(session.names.words(name)))
        if extreme_s is not None:
            side = "lowest" if lowest else "highest"
            self._offer(
                f"&Go to the {side} so far, {session.clock.text(extreme_s)}",
                partial(self._replay.seek, extreme_s),
            )
        if session.recording.get(name, session.engine) is not None:
            if session.lane_stack.find(name) is None:
                self._offer(f"Show {words} in a &lane", partial(self.lane_wanted.emit, name))
            self._offer("&Time above a level...", partial(self.level_wanted.emit, name))
            self.addSeparator()
        self._offer("Dials or &tapes", self.tapes_wanted.emit)
        self.popup(place)

    def _offer(self, words: str, slot: Callable[[], object]) -> None:
        self.addAction(words).triggered.connect(slot)
