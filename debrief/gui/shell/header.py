"""The top row: whose recording it is, and the views."""

from __future__ import annotations

from PySide6.QtCore import Signal, Slot
from PySide6.QtWidgets import QButtonGroup, QWidget

from debrief.gui.replay.replay_controller import Replay
from debrief.gui.widgets.labels import ElidedLabel
from debrief.gui.widgets.parts import made_button, row_layout, set_ground
from debrief.session.session import Session
from debrief.words.numbers import length_text, number

VIEWS = ("Replay", "Starts", "Flight", "History", "Report")


class Header(QWidget):
    """Identity on the left, the views on the right.

    Signals
    -------
    view_wanted : int
        Index into `VIEWS`.
    report_wanted
        The paper is to be saved.
    """

    view_wanted = Signal(int)
    report_wanted = Signal()

    def __init__(self, replay: Replay, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        set_ground(self, "header")
        row = row_layout(self, margins=(18, 0, 18, 0), spacing=14)
        self._title = ElidedLabel(keeps_width=True, role="title")
        row.addWidget(self._title)
        self._about = ElidedLabel(role="muted")
        row.addWidget(self._about, 1)
        report = made_button(
            "Save report...", self.report_wanted, role="flat", tip="Write the paper as a PDF (Ctrl+S)"
        )
        row.addWidget(report)
        self._tabs = QButtonGroup(self, exclusive=True)
        for index, name in enumerate(VIEWS):
            tab = made_button(name, role="tab", name=f"View {name}", tip=f"Ctrl+{index + 1}", checkable=True)
            self._tabs.addButton(tab, index)
            row.addWidget(tab)
        self._tabs.idClicked.connect(self.view_wanted)
        replay.session_changed.connect(self._session_changed)
        replay.clock_changed.connect(self._session_changed)
        self._session_changed()

    def show_view(self, index: int) -> None:
        """Mark a view as the one shown; none where another page is, which has no number here."""
        button = self._tabs.button(index)
        # A group that allows only one has no way to check none.
        self._tabs.setExclusive(button is not None)
        for tab in self._tabs.buttons():
            tab.setChecked(tab is button)

    @Slot()
    def _session_changed(self) -> None:
        session = self._replay.session
        self.setVisible(session is not None)
        if session is not None:
            self._title.setText(session.title)
            self._about.setText(about_words(session))


def about_words(session: Session) -> str:
    """Return aircraft, engine, date, length and rate of the recording in one line."""
    recording = session.recording
    who = recording.identity
    parts = []
    if session.profile is not None and session.profile.aircraft and who.aircraft:
        parts.append(session.profile.aircraft)
    if len(recording.engines) > 1:
        parts.append(f"engine {session.engine} of {len(recording.engines)}")
    if serial := who.serial_of(session.engine):
        parts.append(f"engine no. {serial}")
    if session.clock.begins:
        parts.append(session.clock.begins)
    elif who.aircraft:
        parts.append(session.path.name)
    parts.append(f"recording {length_text(recording.duration_s)}")
    rate = session.prepared.rate_hz
    if rate is not None:
        parts.append(f"{number(rate, 0 if rate >= 3 else 1)} per second")
    return " · ".join(parts)
