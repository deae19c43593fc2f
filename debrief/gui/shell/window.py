"""The window: menus, what leads from one part to another, and what is said of the whole. Its parts are `WindowParts`."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from PySide6.QtCore import QEvent, Qt, Slot
from PySide6.QtGui import QAction, QCloseEvent, QDragEnterEvent, QDragLeaveEvent, QDropEvent
from PySide6.QtWidgets import QAbstractButton, QApplication

from debrief.gui.background.guarded import guarded, tell_fault
from debrief.gui.help.explained import explained_at
from debrief.gui.help.remedies import FIRST_START
from debrief.gui.lanes.lane_menu import LaneMenu
from debrief.gui.menus.actions import COMMANDS, build_menus, menu_called
from debrief.gui.menus.engine_menu import EngineMenu
from debrief.gui.menus.recent import RecentMenu
from debrief.gui.menus.replay_slots import replay_slots
from debrief.gui.menus.time_menu import TimeMenu
from debrief.gui.menus.units_menu import UnitsMenu
from debrief.gui.plain_text import titled
from debrief.gui.profiles.profile_menu import ProfileMenu
from debrief.gui.shell.drop_target import files_in
from debrief.gui.shell.open_jobs import Opener
from debrief.gui.shell.presentation import Presentation
from debrief.gui.shell.window_parts import WITH_HISTORY, WindowParts
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.asking import USUAL_ASKERS, Askers
from debrief.gui.widgets.folders import remembering
from debrief.session.importing.remembered_words import day_words
from debrief.session.opening.opening_steps import Progress
from debrief.session.session import Session

_SIZES = ("larger", "smaller", "usual_size")


class Window(WindowParts):
    """One window, one flight on the table.

    Parameters
    ----------
    theme : Theme
        Colours and sizes.
    settings : Settings
        What is remembered.
    askers : Askers
        Ask a person for files and numbers; injected so that a test answers.
    opener : callable
        Makes the generator that opens a path; injected so that a test can be slow or fail.
    """

    def __init__(
        self,
        theme: Theme,
        settings: Settings,
        askers: Askers = USUAL_ASKERS,
        opener: Opener = WITH_HISTORY,
    ) -> None:
        super().__init__(theme, settings, remembering(askers, settings), opener)
        self._gave_way = False
        self.setAcceptDrops(True)
        self._actions = self._make_actions()
        for name in ("present", "full_screen"):
            self._actions[name].setCheckable(True)
        self.presentation = Presentation(self, self._page, theme, (self._bars,), self._keys_presented)
        for moving in (self.replay.reduce_motion, self.progress.reduce_motion):
            self.looks.motion_reduced.connect(moving)
        names = ("fit", "tapes", "bands", "strips", "reduced_motion")
        self.looks.attach(**{name: self._actions[name] for name in names})
        self._make_menus()
        self._connect()
        self._session_changed()
        self._take_size()

    # --- menus and wiring --------------------------------------------------------------------------------

    def _make_actions(self) -> dict[str, QAction]:
        slots: dict[str, Callable[[], object]] = {
            **replay_slots(self.replay),
            **self.looks.slots(),
            "open": self.requests.ask_open,
            "demo": self.requests.open_demo,
            "save_report": self.requests.ask_save_report,
            "columns": self.requests.show_columns,
            "starter_rest": self.requests.ask_starter_rest,
            "new_profile": self.editing.make_new,
            "edit_profile": self.editing.show,
            "settings": self._show_settings,
            "close_recording": self.close_recording,
            "quit": self.close,
            "compare": self.comparing.choose,
            "compare_swap": self.comparing.swap,
            "why": self.beside.toggle,
            "note_add": self.notes.ask_new,
            "note_change": self.notes.ask_change,
            "note_remove": self.notes.remove,
            "notes": self._to_notes,
            "undo": self.notebook.undo_stack.undo,
            "redo": self.notebook.undo_stack.redo,
            "view_replay": self.views.show_replay,
            "view_starts": self.views.show_starts,
            "view_flight": self.views.show_flight,
            "view_history": self.views.show_history,
            "view_report": self.views.show_report,
            "present": self._present,
            "full_screen": self._toggle_full_screen,
            "definitions": self._explain,
            "about": self.explaining.show_about,
            "keys": self.explaining.show_keys,
        }
        return build_menus(self, slots)

    @Slot()
    def _explain(self) -> None:
        """Open the page of definitions at what is chosen."""
        entry = explained_at(QApplication.focusWidget())
        if entry is None:
            self.views.show_definitions()
        else:
            self.views.show_definition(*entry)

    def _make_menus(self) -> None:
        view = menu_called(self, "&View")
        self.recent_menu = RecentMenu(self.recent, self._theme, self)
        self.recent_menu.file_wanted.connect(self.requests.open_recent)
        menu_called(self, "&File").insertMenu(self._actions["demo"], self.recent_menu)
        self.looks.make_menu(view)
        self.profiles = ProfileMenu(self.replay, self, self._askers.profile)
        self.profiles.profile_chosen.connect(self.requests.use_profile)
        self.profiles.new_wanted.connect(self.editing.make_new)
        menu_called(self, "&File").insertMenu(self._actions["close_recording"], self.profiles)
        self.engine_menu = EngineMenu(self.replay, self)
        self.engine_menu.engine_chosen.connect(self.desk.show_engine)
        view.addMenu(self.engine_menu)
        self.units_menu = UnitsMenu(self._settings, self)
        self.units_menu.units_changed.connect(self._use_units)
        view.addMenu(self.units_menu)
        self.time_menu = TimeMenu(self.replay, self._settings, self)
        view.addMenu(self.time_menu)
        self.lane_menu = LaneMenu(self.replay, self)
        self.lane_menu.lane_wanted.connect(self.desk.add_lane)
        self.lane_menu.join_wanted.connect(self.desk.join_lane)
        self.lane_menu.level_wanted.connect(self.explaining.show_time_above)
        view.addMenu(self.lane_menu)

    def _connect(self) -> None:
        self.start_page.open_wanted.connect(self.requests.ask_open)
        self.start_page.demo_wanted.connect(self.requests.open_demo)
        self.start_page.file_wanted.connect(self.requests.open_recent)
        self.requests.files_chosen.connect(self.open_files)
        self.requests.keep_wanted.connect(self.history.add)
        self.header.report_wanted.connect(self.requests.ask_save_report)
        self.verdict.why_wanted.connect(self.beside.explain_verdict)
        self.verdict.profile_wanted.connect(self.profiles.offer)
        self.verdict.rest_told.connect(self.requests.tell_starter_rest)
        self.verdict.settle_wanted.connect(self._settle)
        self.verdict.left.connect(self.views.take_focus)
        self.history.changed.connect(self.desk.look_at_flights)
        for follow in (
            self.desk.look_at_flights,
            self.history.follow,
            self.starts.follow_history,
            self.report.lay_out_anew,
        ):
            self.following.changed.connect(follow)
        self.story.profile_wanted.connect(self.profiles.offer)
        self.starts.why_wanted.connect(self.beside.explain_measure)
        self.flight.why_wanted.connect(partial(self.beside.explain_measure, None))
        self.story.list.why_wanted.connect(self.beside.explain_finding)
        self.beside.definition_wanted.connect(self.views.show_definition)
        self.beside.command_wanted.connect(self._settle)
        self.beside.broken.connect(self.desk.tell_bug)
        self.history.open_wanted.connect(self.open_path)
        self.lanes.menu_wanted.connect(self.lane_menu.offer)
        self._page.moment_menu.why_wanted.connect(self.beside.explain_finding)
        self._page.gauge_menu.lane_wanted.connect(self.desk.add_lane)
        self._page.gauge_menu.level_wanted.connect(self.explaining.show_time_above)
        self._page.gauge_menu.tapes_wanted.connect(self.looks.toggle_tapes)
        self.lanes.lane_chosen.connect(self.lane_menu.choose)
        self.replay.layout_changed.connect(self._layout_changed)
        self.desk.coming.connect(self.views.await_recording)
        self.desk.opened.connect(self._opened)
        self.desk.opened.connect(self.comparing.recording_opened)
        self.comparing.open_wanted.connect(self.open_path)
        self.comparing.pair_opened.connect(self._show_two_starts)
        self.comparing.recording_read.connect(self.starts.overlay.take_compared)
        self._page.compared_bar.swap_wanted.connect(self.comparing.swap)
        self.desk.unsure.connect(self.importer.ask)
        self.importer.opened.connect(self.desk.receive)
        self.desk.opened.connect(self.importer.recording_opened)
        self.importer.broken.connect(self.desk.tell_bug)
        for working in (self.desk, self.importer, self.starts, self.history, self.report, self.comparing):
            working.told.connect(self.messages.tell)
            working.progressed.connect(self._progressed)
            self.progress.cancel_wanted.connect(working.cancel)
        self.notebook.told.connect(self.messages.tell)
        self.report.saved.connect(self.messages.tell_file)
        self.starts.overlay.pair_shown.connect(self.report.side.compare_pair)
        self.comparing.pair_chosen.connect(self.report.side.compare_pair)
        self.notebook.written.connect(self.report.lay_out_anew)
        self.notebook.undo_stack.indexChanged.connect(self._undo_changed)
        self._undo_changed()
        self.views.changed.connect(self._enable_actions)
        self.views.changed.connect(self._leave_presentation)
        self.presentation.changed.connect(self._presentation_changed)
        self.replay.session_changed.connect(self._session_changed)
        self._theme.changed.connect(self._theme_changed)

    # --- the recording on the table ---------------------------------------------------------------

    @Slot(str)
    def open_path(self, path: str | Path) -> None:
        """Open a recording in the background; what is shown stays until it is ready."""
        self.requests.open_path(path)

    @Slot(list)
    def open_files(self, files: Sequence[str]) -> None:
        """Open the first of some recordings; of two the other one is compared with it."""
        if len(files) == 2:
            self.comparing.open_both(*files)
        elif files:
            self.requests.open_first(files)

    @Slot()
    def close_recording(self) -> None:
        """Take the recording off the table."""
        self.replay.show(None)

    @Slot(object)
    def _opened(self, session: Session) -> None:
        self.views.show_recording()
        self.recent.add(session)
        if session.choices.remembered:
            since = day_words(session.choices.remembered_on)
            self.messages.tell(
                f"Columns were read as remembered for this kind of file{since and f' on {since}'}; File, Columns shows or "
                "forgets them.",
                False,
            )

    @Slot()
    def _show_two_starts(self) -> None:
        self.views.show_starts()
        self.starts.show_two()

    @Slot(object)
    def _progressed(self, progress: Progress | None) -> None:
        if progress is None:
            self.progress.hide()
        else:
            self.progress.tell(progress.message, progress.fraction)

    # --- notes ------------------------------------------------------------------------------------

    @Slot()
    def _to_notes(self) -> None:
        self.views.show_replay()
        if not self.notes.isVisible():
            self.beside.close_panel()  # it took their room
        self.notes.take_focus()

    @Slot()
    def _undo_changed(self) -> None:
        """Say in the menu what would be undone."""
        stack = self.notebook.undo_stack
        for name, what, words in (
            ("undo", stack.undoText() if stack.canUndo() else "", "&Undo"),
            ("redo", stack.redoText() if stack.canRedo() else "", "Re&do"),
        ):
            self._actions[name].setEnabled(bool(what))
            self._actions[name].setText(f"{words}: {what.lower()}" if what else words)

    # --- what is shown ----------------------------------------------------------------------------

    @property
    def view(self) -> str:
        """Name of the page that is shown: start, or one of the header's views in small letters."""
        return self.views.view

    @Slot()
    def _theme_changed(self) -> None:
        if self._theme.holds_windows:
            self._page.appear_in_turns()

    @Slot()
    def _session_changed(self) -> None:
        session = self.replay.session
        title = "Turbine Debrief"
        self.setWindowTitle(f"{titled(session.title)} – {title}" if session is not None else title)
        if session is None:
            self.start_page.show_recent()
        if not self.desk.is_in_place:
            self.views.show_replay()

    @Slot()
    def _enable_actions(self) -> None:
        session = self.replay.session is not None
        for command in COMMANDS:
            if command.needs:
                on_replay = self.view == "replay"
                self._actions[command.name].setEnabled(session and (command.needs != "replay" or on_replay))
        self.profiles.setEnabled(session)
        self.lane_menu.setEnabled(session)

    @Slot()
    def _show_settings(self) -> None:
        from debrief.gui.shell.settings_dialog import SettingsDialog

        dialog = SettingsDialog(
            self._theme, self._settings, self.looks, self.units_menu, self.time_menu, self
        )
        dialog.told.connect(self.messages.tell)
        dialog.open()

    @Slot()
    def _toggle_full_screen(self) -> None:
        """Give the whole screen to the window, or give it back. Escape has its other uses and never does."""
        self.setWindowState(self.windowState() ^ Qt.WindowState.WindowFullScreen)

    # --- the projector ----------------------------------------------------------------------------

    @Slot()
    def _present(self) -> None:
        if not self.presentation.is_on:
            self.views.show_replay()
            self.beside.close_panel()
        self.presentation.toggle()

    def _keys_presented(self) -> list[QAction]:
        return [action for name, action in self._actions.items() if name not in (*_SIZES, "full_screen")]

    @Slot()
    def _leave_presentation(self) -> None:
        if self.view != "replay" or self.replay.session is None:
            self.presentation.leave()

    @Slot(bool)
    def _presentation_changed(self, presenting: bool) -> None:
        self._actions["present"].setChecked(presenting)
        for name in (*_SIZES, "full_screen"):
            self._actions[name].setEnabled(not presenting)

    @Slot(str)
    def _settle(self, command: str) -> None:
        """Do what settles an open question: a command of the menus, or what has a button alone."""
        alone: dict[str, Callable[[], object]] = {
            FIRST_START: self.requests.tell_first_start,
            "profile": self.profiles.offer,
        }
        alone.get(command, lambda: self._actions[command].trigger())()

    # --- lanes ------------------------------------------------------------------------------------

    @Slot()
    def _use_units(self) -> None:
        """Show the recording in other units."""
        self.history.use_units(self._settings.units)
        self.desk.use_units()

    @Slot()
    def _layout_changed(self) -> None:
        session = self.replay.session
        if session is not None:
            stack = session.lane_stack
            self._settings.lanes = () if stack.is_usual else stack.layout

    # --- the keys ---------------------------------------------------------------------------------

    @guarded()
    def changeEvent(self, event: QEvent) -> None:
        """After a dialog give the keys back to the page, where a button has them: Space plays and presses nothing."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.WindowStateChange:
            self._actions["full_screen"].setChecked(self.isFullScreen())
        if event.type() != QEvent.Type.ActivationChange:
            return
        active = QApplication.activeWindow()
        if active is not self:
            self._gave_way = active is not None  # to a dialog; not to another program
        elif self._gave_way and isinstance(self.focusWidget(), QAbstractButton):
            self.views.take_focus()

    # --- drop and close ---------------------------------------------------------------------------

    @guarded()
    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Accept files."""
        files = files_in(event.mimeData())
        self._drop_target.show_files(files)
        if files:
            event.acceptProposedAction()

    @guarded()
    def dragLeaveEvent(self, event: QDragLeaveEvent) -> None:
        """Show the window again as it was."""
        self._drop_target.show_files(())

    @guarded()
    def dropEvent(self, event: QDropEvent) -> None:
        """Open what was dropped."""
        files = files_in(event.mimeData())
        self._drop_target.show_files(())
        if files:
            event.acceptProposedAction()
            self.open_files(files)

    @guarded()
    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop everything, wait for it, and remember the window."""
        if not self.editing.may_close():
            event.ignore()
            return
        for end in (
            self.presentation.leave,
            self.following.close,
            self.replay.stop,
            self.importer.close,
            self.notebook.close,
            self.beside.close_jobs,
            self.starts.close_jobs,
            self.comparing.close,
            self.history.close_jobs,
            self.report.close_jobs,
            self.desk.close,
            self._remember_geometry,
        ):
            try:
                end()
            except Exception as error:  # the others are ended all the same, else the program would not end
                tell_fault(end, error)
        super().closeEvent(event)
