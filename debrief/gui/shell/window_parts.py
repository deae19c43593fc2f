"""What the window is made of: the pages, the bars, and what works behind them."""

from __future__ import annotations

from functools import partial

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QAbstractButton, QMainWindow, QStyle, QWidget

from debrief.gui.comparing.comparing import Comparing
from debrief.gui.flight.flight_view import FlightView
from debrief.gui.help.definitions_view import DefinitionsView
from debrief.gui.help.explaining import Explaining
from debrief.gui.history.following import HistoryFollower
from debrief.gui.history.history_view import HistoryView
from debrief.gui.importing.importer import Importer
from debrief.gui.menus.actions import ButtonKeys
from debrief.gui.menus.menu_key import MenuKey
from debrief.gui.menus.recent import RecentFiles
from debrief.gui.notes.notebook import Notebook
from debrief.gui.profiles.profile_editing import ProfileEditing
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.report.report_view import ReportView
from debrief.gui.shell.appearance import Looks
from debrief.gui.shell.beside import Beside
from debrief.gui.shell.drop_target import DropTarget
from debrief.gui.shell.header import Header
from debrief.gui.shell.open_jobs import Desk, Opener
from debrief.gui.shell.replay_page import ReplayPage
from debrief.gui.shell.requests import Requests
from debrief.gui.shell.unsaved import Unsaved
from debrief.gui.shell.verdict_bar import VerdictBar
from debrief.gui.shell.views import Views
from debrief.gui.shell.welcome import StartPage
from debrief.gui.starts.starts_view import StartsView
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.asking import Askers
from debrief.gui.widgets.message_bar import MessageBar, ProgressBar
from debrief.gui.widgets.parts import column_layout
from debrief.gui.widgets.scrolled import FocusInView, Scrolled
from debrief.history.service.earlier_flights import known_if_any
from debrief.session.importing.import_opening import open_or_ask
from debrief.session.lanes.lane_stack import LaneRow
from debrief.words.display_units import ShownUnits

WITH_HISTORY: Opener = partial(open_or_ask, known=known_if_any, asks_whose=True)


class WindowParts(QMainWindow):
    """All parts of the window, each knowing its own business; what leads from one to another is `Window`."""

    def __init__(self, theme: Theme, settings: Settings, askers: Askers, opener: Opener) -> None:
        super().__init__()
        self._askers = askers
        self._theme = theme
        self._settings = settings
        self.recent = RecentFiles(settings, self)
        self.setWindowTitle("Turbine Debrief")
        self.replay = Replay(self)
        self.notebook = Notebook(self.replay, self)
        self.desk = Desk(self.replay, opener, self, self._remembered_lanes, self._chosen_units)
        self.importer = Importer(theme, self, self.desk.arranged)
        self.explaining = Explaining(self.replay, theme, self)
        self._make_parts(askers)
        self.comparing = Comparing(self.replay, theme, settings, askers.recording, self)
        self.requests = Requests(
            self,
            askers,
            self.recent,
            self.replay,
            self.desk,
            self.importer,
            self.report,
            self.messages,
            self.notebook.undo_stack,
        )
        self.looks = Looks(theme, settings, self._page, self)
        self.editing = ProfileEditing(self.replay, theme, askers, self)
        self.editing.use_wanted.connect(self.requests.use_profile)
        self.editing.told.connect(self.messages.tell)
        for asking in (
            self.start_page.profile_wanted,
            self.verdict.new_profile_wanted,
            self.story.new_profile_wanted,
        ):
            asking.connect(self.editing.make_new)
        self.importer.new_profile_wanted.connect(self.editing.make_new_for)
        self.following = HistoryFollower(self)
        self.unsaved = Unsaved(self, self.desk, self.notes, self.editing, self.importer, self.messages)

    def _make_parts(self, askers: Askers) -> None:
        theme, replay = self._theme, self.replay
        central = QWidget()
        central.setObjectName("ground")
        column = column_layout(central, margins=(0, 0, 0, 0), spacing=0)
        self.header = Header(replay)
        self.verdict = VerdictBar(replay, theme)
        self.messages = MessageBar(theme)
        self.progress = ProgressBar()
        # Together: a bar shows and hides itself, a presentation both of them. What is told is seen in it too.
        self._bars = QWidget()
        bars = column_layout(self._bars, margins=(0, 0, 0, 0), spacing=0)
        for bar in (self.header, self.verdict):
            bars.addWidget(bar)
        column.addWidget(self._bars)
        column.addWidget(self.messages)
        self.start_page = StartPage(theme, self.recent)
        page = self._page = ReplayPage(replay, self.notebook, self._settings, theme)
        self.story, self.notes, self.lanes = page.story, page.notes, page.lanes
        self.gauges, self.timeline, self.playback_bar = page.gauges, page.timeline, page.playback_bar
        self.starts = StartsView(replay, theme)
        self.flight = FlightView(replay, theme)
        self.history = HistoryView(replay, theme, askers)
        self.history.use_units(self._settings.units)
        self.report = ReportView(replay, theme, self._settings, askers)
        self.definitions = DefinitionsView(theme)
        self.views = Views(
            replay,
            self.header,
            self.start_page,
            page,
            self.starts,
            self.flight,
            self.history,
            self.report,
            self.definitions,
        )
        self.beside = Beside(self.views, page, replay, self._settings, theme)
        column.addWidget(self.beside, 1)
        self.progress.setParent(central)
        self.progress.float_over(self.beside)
        # Where large text needs more than the window has, the window keeps its size and this scrolls.
        self.scrolled = Scrolled(central)
        self.setCentralWidget(self.scrolled)
        FocusInView(self)
        self._drop_target = DropTarget(theme, self)
        MenuKey(self)
        central.installEventFilter(ButtonKeys(self))
        for button in central.findChildren(QAbstractButton):
            # A click leaves the focus where it was, so that Space goes on playing; Tab still reaches all.
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)

    def _chosen_units(self) -> ShownUnits:
        return self._settings.units

    def _remembered_lanes(self) -> tuple[LaneRow, ...]:
        return self._settings.lanes

    # --- its size ---------------------------------------------------------------------------------

    def _take_size(self) -> None:
        """Be as large and where it was left."""
        geometry = self._settings.geometry
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

    def _remember_geometry(self) -> None:
        self._settings.geometry = self.saveGeometry()
        self._settings.sync()
