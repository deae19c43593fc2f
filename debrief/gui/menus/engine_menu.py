"""Which engine of a recording is shown."""

from __future__ import annotations

from PySide6.QtCore import Signal, Slot
from PySide6.QtGui import QAction
from PySide6.QtWidgets import QMenu, QWidget

from debrief.gui.replay.replay_controller import Replay


class EngineMenu(QMenu):
    """Lists the engines of the recording on the table; hidden where there is only one.

    Signals
    -------
    engine_chosen : int
        Another engine is to be shown.
    """

    engine_chosen = Signal(int)

    def __init__(self, replay: Replay, parent: QWidget) -> None:
        super().__init__("&Engine", parent)
        self._replay = replay
        self.triggered.connect(self._triggered)
        replay.session_changed.connect(self._fill)
        self._fill()

    @Slot(QAction)
    def _triggered(self, action: QAction) -> None:
        self.engine_chosen.emit(int(action.data()))

    @Slot()
    def _fill(self) -> None:
        session = self._replay.session
        engines = session.recording.engines if session is not None else ()
        self.clear()
        self.menuAction().setVisible(len(engines) > 1)
        for engine in engines:
            action = self.addAction(f"Engine &{engine}")
            action.setData(engine)
            action.setCheckable(True)
            action.setChecked(session is not None and engine == session.engine)
