"""The window: puts the parts together and starts the long jobs. What it shows lives in the parts."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import Qt, Slot
from PySide6.QtGui import (
    QAction,
    QActionGroup,
    QCloseEvent,
    QDragEnterEvent,
    QDropEvent,
    QGuiApplication,
)
from PySide6.QtWidgets import (
    QAbstractButton,
    QHBoxLayout,
    QMainWindow,
    QStackedWidget,
    QStyle,
    QVBoxLayout,
    QWidget,
)

from debrief.analysis.model import Start
from debrief.errors import UserError
from debrief.gui.actions import COMMANDS, ButtonKeys, build_menus, keys_html, menu_called
from debrief.gui.asking import Asker, ask_for_recording, ask_for_report, ask_for_rest
from debrief.gui.definitions_view import DefinitionsView
from debrief.gui.desk import Desk, Opener
from debrief.gui.gauges import GaugePanel
from debrief.gui.header import VIEWS, Header
from debrief.gui.history_view import HistoryView
from debrief.gui.importer import Importer
from debrief.gui.lane_menu import LaneMenu
from debrief.gui.lanes import LanesView
from debrief.gui.message_bar import MessageBar, ProgressBar
from debrief.gui.notebook import Notebook
from debrief.gui.notes_panel import NotesPanel
from debrief.gui.playback_bar import PlaybackBar
from debrief.gui.profile_menu import ProfileMenu
from debrief.gui.replay import Replay
from debrief.gui.report_view import ReportView
from debrief.gui.settings import Settings
from debrief.gui.start_page import StartPage
from debrief.gui.starts_view import StartsView
from debrief.gui.story_panel import StoryPanel
from debrief.gui.theme import CHOICES, Theme
from debrief.gui.timeline import Timeline
from debrief.gui.verdict_bar import VerdictBar
from debrief.gui.why import TextDialog, WhyDialog
from debrief.session.import_opening import open_or_ask
from debrief.session.lane_stack import LaneRow
from debrief.session.opening import Progress
from debrief.session.session import Session
from debrief.session.wording import CAUTION

GAUGES_WIDTH = 272
_THEME_WORDS = {"system": "As the &system", "light": "&Light", "dark": "&Dark", "contrast": "High &contrast"}


class Window(QMainWindow):
    """One window, one flight on the table.

    Parameters
    ----------
    theme : Theme
        Colours and sizes.
    settings : Settings
        What is remembered.
    ask_open, ask_save, ask_rest : callable
        Ask the user for a path or a number; injected so that a test answers.
    opener : callable
        Makes the generator that opens a path; injected so that a test can be slow or fail.
    """

    def __init__(
        self,
        theme: Theme,
        settings: Settings,
        ask_open: Asker = ask_for_recording,
        ask_save: Asker = ask_for_report,
        ask_rest: Asker = ask_for_rest,
        opener: Opener = open_or_ask,
    ) -> None:
        super().__init__()
        self._theme = theme
        self._settings = settings
        self._ask_open = ask_open
        self._ask_save = ask_save
        self._ask_rest = ask_rest
        self.setWindowTitle("Turbine Debrief")
        self.setAcceptDrops(True)
        self.replay = Replay(self)
        self.notebook = Notebook(self.replay, self)
        self.desk = Desk(self.replay, opener, self, self._remembered_lanes)
        self.importer = Importer(theme, self, self.desk.arranged)
        self._before_definitions = 0
        self._actions = self._make_actions()
        for name in ("fit", "tapes", "bands"):
            self._actions[name].setCheckable(True)
        self._make_theme_menu()
        self._make_parts()
        self._connect()
        self._show_tapes(settings.tapes)
        self._show_bands(settings.bands)
        self._show_view(0)
        self._session_changed()
        geometry = settings.geometry
        if geometry is None or not self.restoreGeometry(geometry):
            self.resize(1440, 900)
        self._keep_on_screen()

    def _keep_on_screen(self) -> None:
        """Make the window, with the frame that the desktop puts around it, no larger than its free room."""
        if self.isMaximized() or self.isFullScreen():
            return
        free = QGuiApplication.primaryScreen().availableGeometry()
        bar = self.style().pixelMetric(QStyle.PixelMetric.PM_TitleBarHeight)
        edge = self.style().pixelMetric(QStyle.PixelMetric.PM_MdiSubWindowFrameWidth)
        self.resize(
            min(self.width(), free.width() - 2 * edge), min(self.height(), free.height() - bar - 2 * edge)
        )

    # --- the parts --------------------------------------------------------------------------------

    def _make_actions(self) -> dict[str, QAction]:
        replay = self.replay
        slots: dict[str, Callable[[], object]] = {
            "open": self.ask_open,
            "demo": self.open_demo,
            "save_report": self.ask_save_report,
            "columns": self.show_columns,
            "starter_rest": self.ask_starter_rest,
            "close_recording": self.close_recording,
            "quit": self.close,
            "toggle": replay.toggle,
            "slower": replay.slower,
            "faster": replay.faster,
            "loop": replay.toggle_loop,
            "previous_event": replay.previous_event,
            "next_event": replay.next_event,
            "step_back": replay.step_back,
            "step_forward": replay.step_forward,
            "to_begin": replay.to_begin,
            "to_end": replay.to_end,
            "why": self.show_why,
            "note_add": self._add_note,
            "note_change": self._change_note,
            "note_remove": self._remove_note,
            "notes": self._to_notes,
            "undo": self.notebook.undo_stack.undo,
            "redo": self.notebook.undo_stack.redo,
            "view_replay": self._view_replay,
            "view_starts": self._view_starts,
            "view_history": self._view_history,
            "view_report": self._view_report,
            "zoom_in": replay.zoom_in,
            "zoom_out": replay.zoom_out,
            "frame_selected": replay.frame_selected,
            "mark": replay.toggle_mark,
            "frame_start": replay.frame_start,
            "frame_phase": replay.frame_phase,
            "frame_all": replay.frame_all,
            "frame_back": replay.frame_back,
            "frame_forward": replay.frame_forward,
            "fit": self._fit_heights,
            "tapes": self._toggle_tapes,
            "bands": self._toggle_bands,
            "larger": self._larger,
            "smaller": self._smaller,
            "usual_size": self._usual_size,
            "definitions": self.show_definitions,
            "about": self.show_about,
            "keys": self.show_keys,
        }
        return build_menus(self, slots)

    def _make_theme_menu(self) -> None:
        colours = menu_called(self, "&View").addMenu("&Colours")
        group = QActionGroup(self)
        for choice in CHOICES:
            action = QAction(_THEME_WORDS[choice], self)
            action.setCheckable(True)
            action.setData(choice)
            action.setChecked(choice == self._theme.choice)
            group.addAction(action)
            colours.addAction(action)
        group.triggered.connect(self._theme_chosen)
        self.profiles = ProfileMenu(self.replay, self)
        self.profiles.profile_chosen.connect(self.use_profile)
        menu_called(self, "&File").insertMenu(self._actions["close_recording"], self.profiles)
        self._engines = menu_called(self, "&View").addMenu("&Engine")
        self._engines.triggered.connect(self._engine_chosen)
        self.lane_menu = LaneMenu(self.replay, self)
        self.lane_menu.lane_wanted.connect(self.desk.add_lane)
        self.lane_menu.join_wanted.connect(self.desk.join_lane)
        menu_called(self, "&View").addMenu(self.lane_menu)

    def _make_parts(self) -> None:
        theme, replay = self._theme, self.replay
        central = QWidget()
        central.setObjectName("ground")
        column = QVBoxLayout(central)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        self.header = Header(replay)
        self.verdict = VerdictBar(replay, theme)
        self.messages = MessageBar(theme)
        self.progress = ProgressBar()
        for bar in (self.header, self.verdict, self.messages, self.progress):
            column.addWidget(bar)
        self._stack = QStackedWidget()
        column.addWidget(self._stack, 1)
        self.start_page = StartPage(theme)
        self.story = StoryPanel(replay, theme)
        self.notes = NotesPanel(replay, self.notebook, self._settings, theme)
        self.lanes = LanesView(replay, theme)
        self.gauges = GaugePanel(replay, theme)
        self.timeline = Timeline(replay, theme)
        self.playback_bar = PlaybackBar(replay, theme)
        self.starts = StartsView(replay, theme)
        self.history = HistoryView(replay, theme)
        self.report = ReportView(replay, theme, self._ask_save)
        self._replay_page = self._lay_out_replay()
        self.definitions = DefinitionsView(theme)
        pages = (self.start_page, self._replay_page, self.starts, self.history, self.report)
        for page in (*pages, self.definitions):
            self._stack.addWidget(page)
        self.setCentralWidget(central)
        keys = ButtonKeys(self)
        for button in central.findChildren(QAbstractButton):
            button.installEventFilter(keys)
            # A click leaves the focus where it was, so that Space goes on playing; Tab still reaches all.
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)

    def _lay_out_replay(self) -> QWidget:
        page = QWidget()
        row = QHBoxLayout(page)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        left = QVBoxLayout()
        left.setSpacing(0)
        left.addWidget(self.story, 1)
        left.addWidget(self.notes)
        row.addLayout(left)
        right = QVBoxLayout()
        right.setSpacing(0)
        upper = QHBoxLayout()
        upper.setSpacing(0)
        upper.addWidget(self.lanes, 1)
        upper.addWidget(self.gauges)
        right.addLayout(upper, 1)
        bottom = QWidget()
        bottom.setObjectName("bottom")
        bottom.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
        lower = QVBoxLayout(bottom)
        lower.setContentsMargins(0, 3, 0, 0)
        lower.setSpacing(6)
        lower.addWidget(self.timeline)
        lower.addWidget(self.playback_bar)
        right.addWidget(bottom)
        row.addLayout(right, 1)
        return page

    def _connect(self) -> None:
        self.start_page.open_wanted.connect(self.ask_open)
        self.start_page.demo_wanted.connect(self.open_demo)
        self.start_page.file_wanted.connect(self.open_path)
        self.header.view_wanted.connect(self._show_view)
        self.header.report_wanted.connect(self.ask_save_report)
        self.verdict.why_wanted.connect(self.show_why)
        self.verdict.profile_wanted.connect(self.profiles.offer)
        self.story.profile_wanted.connect(self.profiles.offer)
        self.starts.start_wanted.connect(self._show_start)
        self.starts.why_wanted.connect(self._why_measure)
        self.definitions.back_wanted.connect(self._leave_definitions)
        self.starts.told.connect(self.messages.tell)
        self.starts.progressed.connect(self._progressed)
        self.progress.cancel_wanted.connect(self.desk.cancel)
        self.progress.cancel_wanted.connect(self.report.cancel)
        self.progress.cancel_wanted.connect(self.starts.cancel)
        self.history.open_wanted.connect(self.open_path)
        self.history.back_wanted.connect(self._view_replay)
        self.history.told.connect(self.messages.tell)
        self.report.told.connect(self.messages.tell)
        self.report.progressed.connect(self._progressed)
        self.lanes.menu_wanted.connect(self.lane_menu.offer)
        self.lanes.lane_chosen.connect(self.lane_menu.choose)
        self.replay.layout_changed.connect(self._layout_changed)
        self.lanes.reduced_changed.connect(self.playback_bar.show_reduced)
        self.desk.opened.connect(self._opened)
        self.desk.progressed.connect(self._progressed)
        self.desk.told.connect(self.messages.tell)
        self.desk.unsure.connect(self.importer.ask)
        self.importer.opened.connect(self.desk.take)
        self.importer.progressed.connect(self._progressed)
        self.importer.told.connect(self.messages.tell)
        self.importer.broken.connect(self.desk.tell_bug)
        self.progress.cancel_wanted.connect(self.importer.cancel)
        self.notebook.told.connect(self.messages.tell)
        self.notebook.written.connect(self.report.notes_changed)
        self.notebook.undo_stack.indexChanged.connect(self._undo_changed)
        self._undo_changed()
        self.replay.session_changed.connect(self._session_changed)
        self._theme.changed.connect(self._theme_changed)
        self._theme_changed()

    # --- opening ----------------------------------------------------------------------------------

    @Slot()
    def ask_open(self) -> None:
        """Ask for a recording and open it."""
        self._ask_open(self, self._settings.folder, self.open_path)

    @Slot(str)
    def open_path(self, path: str | Path) -> None:
        """Open a recording in the background; what is shown stays until it is ready."""
        if str(path):
            self.messages.dismiss()
            self.desk.open(Path(path))

    @Slot()
    def open_demo(self) -> None:
        """Open the invented hot start."""
        from debrief.report.demo import demo_flight

        try:
            self.open_path(demo_flight())
        except UserError as error:
            self.messages.tell(str(error))

    @Slot()
    def close_recording(self) -> None:
        """Take the recording off the table."""
        self.replay.show(None)

    @Slot(object)
    def _opened(self, session: Session) -> None:
        self._settings.add_recent(session.path)
        self._show_view(0)
        self.lanes.setFocus()
        if session.choices.remembered:
            self.messages.tell(
                "Columns were read as remembered for this kind of file; File, Columns shows them.", False
            )

    @Slot(object)
    def _progressed(self, progress: Progress | None) -> None:
        if progress is None:
            self.progress.hide()
        else:
            self.progress.tell(progress.message, progress.fraction)

    # --- profile and engine -----------------------------------------------------------------------

    @Slot(str)
    def use_profile(self, name: str) -> None:
        """Assess the open recording again with this profile."""
        self.messages.dismiss()
        self.desk.use_profile(name)

    @Slot()
    def show_columns(self) -> None:
        """Show what the columns of the open recording were taken for, to correct it."""
        session = self.replay.session
        if session is not None:
            self.messages.dismiss()
            self.importer.show_columns(session)

    @Slot()
    def ask_starter_rest(self) -> None:
        """Ask how long the starter had rested before the recording, and judge with it."""
        session = self.replay.session
        if session is not None:
            known = session.choices.starter_rest_s
            self._ask_rest(self, "" if known is None else f"{known:g}", self.use_starter_rest)

    @Slot(str)
    def use_starter_rest(self, text: str) -> None:
        """Assess the open recording again with this rest, [s]."""
        self.messages.dismiss()
        self.desk.use_starter_rest(text)

    @Slot(QAction)
    def _engine_chosen(self, action: QAction) -> None:
        self.desk.show_engine(int(action.data()))

    def _fill_engines(self) -> None:
        """List the engines; the menu is there only where there are several."""
        session = self.replay.session
        engines = session.recording.engines if session is not None else ()
        self._engines.clear()
        self._engines.menuAction().setVisible(len(engines) > 1)
        for engine in engines:
            action = self._engines.addAction(f"Engine &{engine}")
            action.setData(engine)
            action.setCheckable(True)
            action.setChecked(session is not None and engine == session.engine)

    # --- report and words -------------------------------------------------------------------------

    @Slot()
    def ask_save_report(self) -> None:
        """Ask for a name and write the report there."""
        session = self.replay.session
        if session is not None:
            suggested = session.path.with_suffix(".pdf").name
            self._ask_save(self, str(Path(self._settings.folder) / suggested), self.save_report)

    @Slot(str)
    def save_report(self, path: str) -> None:
        """Write the report in the background."""
        if path:
            self.messages.dismiss()
            self.report.save_pdf(path)

    @Slot()
    def show_why(self) -> None:
        """Show the evidence behind the findings."""
        session = self.replay.session
        if session is not None:
            self._open_why(WhyDialog(session, self._theme, self))

    @Slot(object, str)
    def _why_measure(self, start: Start, name: str) -> None:
        """Show the evidence behind one measure of a start."""
        session = self.replay.session
        # A click may also count as an activation: one dialog is enough.
        if session is not None and self.findChild(WhyDialog) is None:
            self._open_why(WhyDialog(session, self._theme, self, of=(start, name)))

    def _open_why(self, dialog: WhyDialog) -> None:
        dialog.definition_wanted.connect(self._show_definition)
        dialog.definition_wanted.connect(dialog.close)
        dialog.open()

    @Slot()
    def show_definitions(self) -> None:
        """Show what every number means."""
        if self.view != "definitions":
            self._before_definitions = self._stack.currentIndex()
        self.replay.pause()
        self._stack.setCurrentWidget(self.definitions)
        self.definitions.field.setFocus(Qt.FocusReason.OtherFocusReason)
        self._enable_actions()

    @Slot(str, str)
    def _show_definition(self, group: str, name: str) -> None:
        self.show_definitions()
        self.definitions.show_entry(group, name)

    @Slot()
    def _leave_definitions(self) -> None:
        """Go back to the page that the definitions were opened from."""
        self._show_view(max(self._before_definitions - 1, 0))

    @Slot()
    def show_about(self) -> None:
        """Say what the program is."""
        from debrief import __version__

        self._say("Turbine Debrief", f"<p>Turbine Debrief {__version__}</p><p>{CAUTION}</p>")

    @Slot()
    def show_keys(self) -> None:
        """List the keys."""
        self._say("Keys", keys_html())

    def _say(self, title: str, html: str) -> None:
        TextDialog(title, html, self._theme, parent=self).open()

    # --- notes ------------------------------------------------------------------------------------

    @Slot()
    def _add_note(self) -> None:
        self.notes.ask_new()

    @Slot()
    def _change_note(self) -> None:
        self.notes.ask_change()

    @Slot()
    def _remove_note(self) -> None:
        self.notes.remove()

    @Slot()
    def _to_notes(self) -> None:
        self._show_view(0)
        self.notes.take_focus()

    @Slot()
    def _undo_changed(self) -> None:
        """Say in the menu what would be undone."""
        stack = self.notebook.undo_stack
        for name, can, words in (
            ("undo", stack.canUndo(), f"&Undo: {stack.undoText().lower()}"),
            ("redo", stack.canRedo(), f"Re&do: {stack.redoText().lower()}"),
        ):
            self._actions[name].setEnabled(can)
            self._actions[name].setText(words if can else words.split(":")[0])

    # --- views ------------------------------------------------------------------------------------

    @property
    def view(self) -> str:
        """Name of the page that is shown: start, or one of the header's views in small letters."""
        return ("start", *(name.lower() for name in VIEWS), "definitions")[self._stack.currentIndex()]

    @Slot(int)
    def _show_view(self, index: int) -> None:
        if self.replay.session is None and VIEWS[index] != "History":  # which needs no recording
            self._stack.setCurrentWidget(self.start_page)
        else:
            self._stack.setCurrentIndex(index + 1)
        self.header.show_view(index)
        if self.view != "replay":
            self.replay.pause()
        self._enable_actions()

    @Slot()
    def _view_replay(self) -> None:
        self._show_view(0)

    @Slot()
    def _view_starts(self) -> None:
        self._show_view(1)

    @Slot()
    def _view_history(self) -> None:
        self._show_view(2)

    @Slot()
    def _view_report(self) -> None:
        self._show_view(3)

    @Slot(int)
    def _show_start(self, number: int) -> None:
        session = self.replay.session
        if session is None:
            return
        for index, step in enumerate(session.story):
            if step.start_number == number:
                self._show_view(0)
                self.replay.choose(index)
                self.replay.frame(step.begin_s, step.end_s)
                return

    @Slot()
    def _session_changed(self) -> None:
        session = self.replay.session
        title = "Turbine Debrief"
        self.setWindowTitle(f"{session.title} – {title}" if session is not None else title)
        if session is None:
            self.start_page.show_recent(self._settings.recent)
        self._fill_engines()
        self._show_view(0)

    def _enable_actions(self) -> None:
        session = self.replay.session is not None
        for command in COMMANDS:
            if command.needs:
                on_replay = self.view == "replay"
                self._actions[command.name].setEnabled(session and (command.needs != "replay" or on_replay))
        self.profiles.setEnabled(session)
        self.lane_menu.setEnabled(session)

    # --- looks ------------------------------------------------------------------------------------

    @Slot(QAction)
    def _theme_chosen(self, action: QAction) -> None:
        choice = next(c for c in CHOICES if c == action.data())
        self._settings.theme = choice
        self._theme.choose(choice)

    @Slot()
    def _theme_changed(self) -> None:
        self.gauges.setFixedWidth(self._theme.px(GAUGES_WIDTH))

    @Slot()
    def _fit_heights(self) -> None:
        self.lanes.toggle_fit()
        self._actions["fit"].setChecked(self.lanes.fits_heights)

    @Slot()
    def _toggle_tapes(self) -> None:
        self._show_tapes(not self.gauges.shows_tapes)
        self._settings.tapes = self.gauges.shows_tapes

    def _show_tapes(self, tapes: bool) -> None:
        self.gauges.show_tapes(tapes)
        self._actions["tapes"].setChecked(tapes)

    @Slot()
    def _toggle_bands(self) -> None:
        self._show_bands(not self.lanes.shows_bands)
        self._settings.bands = self.lanes.shows_bands

    def _show_bands(self, shown: bool) -> None:
        self.lanes.show_bands(shown)
        self._actions["bands"].setChecked(shown)

    def _remembered_lanes(self) -> tuple[LaneRow, ...]:
        return self._settings.lanes

    @Slot()
    def _layout_changed(self) -> None:
        session = self.replay.session
        if session is not None:
            stack = session.lane_stack
            self._settings.lanes = () if stack.is_usual else stack.layout

    @Slot()
    def _larger(self) -> None:
        self._set_scale(self._theme.scale + 0.1)

    @Slot()
    def _smaller(self) -> None:
        self._set_scale(self._theme.scale - 0.1)

    @Slot()
    def _usual_size(self) -> None:
        self._set_scale(1.0)

    def _set_scale(self, scale: float) -> None:
        self._theme.set_scale(round(scale, 1))
        self._settings.scale = self._theme.scale

    # --- drop and close ---------------------------------------------------------------------------

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Accept files."""
        if any(url.isLocalFile() for url in event.mimeData().urls()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Open the first file."""
        files = [url.toLocalFile() for url in event.mimeData().urls() if url.isLocalFile()]
        if files:
            event.acceptProposedAction()
            self.open_path(files[0])
            if len(files) > 1:
                self.messages.tell(
                    f"One flight at a time: {Path(files[0]).name} is opened, {len(files) - 1} not.",
                    problem=False,
                )

    def closeEvent(self, event: QCloseEvent) -> None:
        """Stop everything, wait for it, and remember the window."""
        self.replay.stop()
        self.importer.close()
        self.notebook.close()
        self.starts.close_jobs()
        self.history.close_jobs()
        self.report.close_jobs()
        self.desk.close()
        self._settings.geometry = self.saveGeometry()
        self._settings.sync()
        super().closeEvent(event)
