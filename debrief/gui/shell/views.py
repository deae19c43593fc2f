"""The pages of the window: which of them is shown, and how one comes after another."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QSizePolicy, QWidget

from debrief.analysis.model import Start
from debrief.gui.flight.flight_view import FlightView
from debrief.gui.help.definitions_view import DefinitionsView
from debrief.gui.history.history_view import HistoryView
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.report.report_view import ReportView
from debrief.gui.shell.header import VIEWS, Header
from debrief.gui.shell.replay_page import ReplayPage
from debrief.gui.shell.welcome import StartPage
from debrief.gui.starts.starts_view import StartsView
from debrief.gui.widgets.scrolled import LowStack

_REPLAY, _STARTS, _FLIGHT, _HISTORY, _REPORT = range(len(VIEWS))

_AROUND_S = 90.0


class Views(LowStack):
    """The start page, the five views of the header, and the definitions.

    A page is filled and laid out in one turn of the event loop and painted in the next: not all in one go.

    Signals
    -------
    changed
        Another page may be shown.
    """

    changed = Signal()

    def __init__(
        self,
        replay: Replay,
        header: Header,
        start_page: StartPage,
        page: ReplayPage,
        starts: StartsView,
        flight: FlightView,
        history: HistoryView,
        report: ReportView,
        definitions: DefinitionsView,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._replay = replay
        self._header = header
        self._start_page = start_page
        self._page = page
        self._definitions = definitions
        self._keyed: dict[QWidget, QWidget] = {
            page: page.lanes,
            starts: starts.table,
            flight: flight.table,
            history: history.flights,
            report: report.pages_view,
            definitions: definitions.field,
        }
        self._before_definitions = 0
        for shown in (start_page, page, starts, flight, history, report, definitions):
            self.addWidget(shown)
        self.currentChanged.connect(self._page_changed)
        header.view_wanted.connect(self.show_view)
        starts.start_wanted.connect(self.show_start)
        flight.moment_wanted.connect(self.show_moment)
        history.back_wanted.connect(self.show_replay)
        definitions.back_wanted.connect(self.leave_definitions)

    @property
    def view(self) -> str:
        """Name of the page that is shown: start, one of the header's views in small letters, or definitions."""
        return ("start", *(name.lower() for name in VIEWS), "definitions")[self.currentIndex()]

    @Slot(int)
    def show_view(self, index: int) -> None:
        """Show one of the header's views; the start page in its place where it needs a recording."""
        if self.isVisible() and self.currentIndex() != index + 1:
            self._replay.turns.appear(self)
        if self._replay.session is None and index != _HISTORY:
            self.setCurrentWidget(self._start_page)
        else:
            self.setCurrentIndex(index + 1)
        self._header.show_view(index)
        if self.view != "replay":
            self._replay.pause()
        self.changed.emit()
        self.take_focus()

    def take_focus(self) -> None:
        """Give the keys to what the page is about: the playhead, a table, the paper; never to a button that is left over.

        A page that has nothing to show yet takes them itself. The start page leaves them where they are.
        """
        page = self.currentWidget()
        keyed = None if page is None else self._keyed.get(page)
        if page is not None and keyed is not None:
            (keyed if keyed.isVisibleTo(page) else page).setFocus(Qt.FocusReason.OtherFocusReason)

    @Slot()
    def show_replay(self) -> None:
        """Show the replay, or the start page."""
        self.show_view(_REPLAY)

    @Slot()
    def show_starts(self) -> None:
        """Show the starts."""
        self.show_view(_STARTS)

    @Slot()
    def show_flight(self) -> None:
        """Show the flight after the start."""
        self.show_view(_FLIGHT)

    @Slot(float)
    def show_moment(self, time_s: float) -> None:
        """Show a moment in the replay, a minute and a half before and after it in view."""
        if self._replay.session is not None:
            self.show_replay()
            self._replay.seek(time_s)
            self._replay.frame(time_s - _AROUND_S, time_s + _AROUND_S)

    @Slot()
    def show_history(self) -> None:
        """Show the history, which needs no recording."""
        self.show_view(_HISTORY)

    @Slot()
    def show_report(self) -> None:
        """Show the paper."""
        self.show_view(_REPORT)

    @Slot(object)
    def show_start(self, start: Start) -> None:
        """Show a start in the replay."""
        session = self._replay.session
        if session is None:
            return
        for index, step in enumerate(session.story):
            if (step.engine, step.start_number) == (start.engine, start.number):
                self.show_replay()
                self._replay.choose(index)
                self._replay.frame(step.begin_s, step.end_s)
                return

    @Slot()
    def show_definitions(self) -> None:
        """Show what every number means."""
        if self.view != "definitions":
            self._before_definitions = self.currentIndex()
        self._replay.pause()
        self.setCurrentWidget(self._definitions)
        self._header.show_view(-1)
        self.changed.emit()
        self.take_focus()

    @Slot(str, str)
    def show_definition(self, group: str, name: str) -> None:
        """Show what one number means."""
        self.show_definitions()
        self._definitions.show_entry(group, name)

    @Slot()
    def leave_definitions(self) -> None:
        """Go back to the page that the definitions were opened from."""
        self.show_view(max(self._before_definitions - 1, 0))

    @Slot()
    def await_recording(self) -> None:
        """Lay the page of the replay out while it is empty; it is painted when it is filled."""
        if self.view != "replay":
            self.setUpdatesEnabled(False)
            self.setCurrentWidget(self._page)

    def show_recording(self) -> None:
        """Show the recording that has come on the table, part by part."""
        self._replay.turns.appear(self)
        self._page.appear_in_turns()
        self.show_replay()

    @Slot(int)
    def _page_changed(self, shown: int) -> None:
        """Let the page that is shown alone tell how much room is needed."""
        for index in range(self.count()):
            page = self.widget(index)
            policy = QSizePolicy.Policy.Preferred if index == shown else QSizePolicy.Policy.Ignored
            if page is not None:
                page.setSizePolicy(policy, policy)
