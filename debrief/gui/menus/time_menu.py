"""The menu of how moments are told: elapsed, local or UTC. It is remembered, and seen at once."""

from __future__ import annotations

from PySide6.QtCore import Slot
from PySide6.QtGui import QAction, QActionGroup
from PySide6.QtWidgets import QMenu, QWidget

from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.settings import Settings
from debrief.words.clock import TIMES_SHOWN, TimeShown, time_choice


class TimeMenu(QMenu):
    """Three choices; one that the recording on the table cannot be told by is grey and says why."""

    def __init__(self, replay: Replay, settings: Settings, parent: QWidget) -> None:
        super().__init__("Cloc&k", parent)
        self._replay = replay
        self._settings = settings
        self._group = QActionGroup(self)
        for shown in TIMES_SHOWN:
            action = QAction(self, checkable=True)
            action.setData(shown)
            self._group.addAction(action)
            self.addAction(action)
        self._group.triggered.connect(self._chosen)
        replay.session_changed.connect(self._fill)
        self.use(settings.time_shown)
        self._fill()

    def choices(self) -> list[tuple[TimeShown, str, bool]]:
        """Return each choice with its words, and whether the recording on the table can be told so."""
        session = self._replay.session
        if session is None:
            return [(shown, time_choice(shown), True) for shown in TIMES_SHOWN]
        reasons = {shown: session.clock.why_not(shown) for shown in TIMES_SHOWN}
        return [(shown, time_choice(shown, why), not why) for shown, why in reasons.items()]

    @Slot()
    def _fill(self) -> None:
        for action, (_, words, can_be) in zip(self._group.actions(), self.choices(), strict=True):
            action.setText(f"&{words}")
            action.setEnabled(can_be)

    @Slot(QAction)
    def _chosen(self, action: QAction) -> None:
        self.use(next(shown for shown in TIMES_SHOWN if shown == action.data()))

    def use(self, shown: TimeShown) -> None:
        """Tell moments so, and remember it."""
        for action in self._group.actions():
            action.setChecked(action.data() == shown)
        if shown != self._settings.time_shown:
            self._settings.time_shown = shown
        self._replay.show_time(shown)
