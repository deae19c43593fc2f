"""Choosing what to lay over a start, where to align, and the measures of both beside each other."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QShowEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QHeaderView,
    QPushButton,
    QSizePolicy,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from debrief.analysis.model import Start
from debrief.gui.background.guarded import guarded
from debrief.gui.charts.two_starts_view import TwoStartsView
from debrief.gui.comparing.other_recordings import OtherRecordings
from debrief.gui.plain_text import entry, plain_tip
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.starts.overlay_choices import OtherStart, is_same, offered
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.asking import Asker, ask_for_recording
from debrief.gui.widgets.cells import WrappedCells
from debrief.gui.widgets.choice_boxes import ChoiceBox
from debrief.gui.widgets.labels import PlainLabel, WrappedLabel
from debrief.gui.widgets.parts import made_button, row_layout
from debrief.gui.widgets.whole_rows import WholeRows
from debrief.session.charts.start_overlay import Measures, difference_rows, overlay, start_levels
from debrief.session.comparing.compared_start import not_with_itself, start_beside
from debrief.session.comparing.start_curves import (
    INSTANT_WORDS,
    INSTANTS,
    StartKey,
    key_of,
    start_curves,
)
from debrief.session.session import Session
from debrief.words.channels import ChannelNames
from debrief.words.display_units import AS_COMPUTED, ShownUnits

if TYPE_CHECKING:
    from debrief.history.service.start_history import StartsPage

_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
_TABLE_WIDTH = 384
_NOTHING = (
    "This recording has no other start. Lay one of another recording over it: from the history in the list above, "
    "or from any file."
)


class OverlayPanel(QWidget):
    """Two starts over each other.

    Signals
    -------
    told : str, bool, str
        A sentence for the user, whether it is a problem, and details to copy.
    progressed : Progress or None
        Of the reading of another recording; None when it has ended.
    pair_shown : int, str, int
        A person looks at two starts: number of the start, path of the other's recording, number of the other.
    replay_wanted : Start
        Show this start in the replay, with the other behind it.
    """

    told = Signal(str, bool, str)
    progressed = Signal(object)
    pair_shown = Signal(int, str, int)
    replay_wanted = Signal(object)

    def __init__(
        self,
        replay: Replay,
        theme: Theme,
        ask: Asker = ask_for_recording,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self._ask = ask
        self._start: Start | None = None
        self._others: list[OtherStart] = []
        self._other: OtherStart | None = None
        self._loaded: Session | None = None
        self._page: StartsPage | None = None
        self._wanted: StartKey | None = None
        self._reader = OtherRecordings(self)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        self.choices = self._make_choices()
        """What is compared; the page puts it where it has room."""
        row = QHBoxLayout()
        row.setSpacing(18)
        column.addLayout(row, 1)
        self.chart = TwoStartsView(theme)
        row.addWidget(self.chart, 13)
        right = QVBoxLayout()
        right.setSpacing(4)
        row.addLayout(right, 7)
        self._words = WrappedLabel()
        self._words.setProperty("role", "small")
        self.table = _table()
        right.addWidget(self._words)
        right.addWidget(self.table, 1)
        WholeRows(self.table, theme)
        theme.changed.connect(self._theme_changed)
        self._theme_changed()
        self._reader.told.connect(self.told)
        self._reader.progressed.connect(self.progressed)
        self._reader.read.connect(self._recording_read)
        self._reader.failed.connect(self._fill)

    def _make_choices(self) -> QWidget:
        choices = QWidget()
        row = row_layout(choices, margins=(0, 0, 0, 0), spacing=8)
        self.other = ChoiceBox(self._theme)
        self.other.setAccessibleName("The other start")
        self.other.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.other.setMinimumContentsLength(18)
        self.other.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.other.activated.connect(self._other_chosen)
        self.instant = ChoiceBox(self._theme)
        self.instant.setAccessibleName("Where both are aligned")
        for instant in INSTANTS:
            self.instant.addItem(INSTANT_WORDS[instant], instant)
        self.instant.setCurrentIndex(1)
        self.instant.currentIndexChanged.connect(self._show)
        self.file_button = QPushButton("&Other recording...")
        self.file_button.setToolTip("Take a start of any recording")
        self.file_button.clicked.connect(self.ask_file)
        for words, box in (("Compare &with", self.other), ("Ali&gn at", self.instant)):
            label = PlainLabel(words)
            label.setBuddy(box)
            row.addWidget(label)
            row.addWidget(box, 1 if box is self.other else 0)
        row.addWidget(self.file_button)
        self.play_button = made_button(
            "&Play both", self._play, tip="Show this start in the replay, the other behind it"
        )
        row.addWidget(self.play_button)
        return choices

    @Slot()
    def _theme_changed(self) -> None:
        # Room for three values beside the name of a measure.
        self.table.setMinimumWidth(self._theme.px(_TABLE_WIDTH))

    # --- what is chosen ---------------------------------------------------------------------------------

    def show_start(self, start: Start | None) -> None:
        """Lay the other over this start of the recording on the table."""
        self._start = start
        self._fill()

    def show_page(self, page: StartsPage | None) -> None:
        """Offer the engine's earlier starts, and its usual one."""
        self._page = page
        self._fill()

    def forget(self, *, judged_anew: bool = False) -> None:
        """Take back everything that belonged to the recording before; judged anew it is compared with the same start."""
        self._start, self._page, self._others = None, None, []
        if not judged_anew:
            self._reader.cancel()
            self._other, self._loaded = None, None
        self.other.clear()

    def close_jobs(self) -> None:
        """Stop everything and wait for it."""
        self._reader.close()

    @Slot()
    def cancel(self) -> None:
        """Stop reading another recording."""
        self._reader.cancel()

    @Slot()
    def _fill(self) -> None:
        session, start = self._replay.session, self._start
        if session is None or start is None:
            return
        before = self._other
        others = self._others = offered(session, start, self._loaded, self._page)
        self.other.clear()
        for one in others:
            self.other.addItem(entry(one.words))
        chosen = self._replay.comparison.chosen
        behind = None if chosen is None else chosen.key
        same = [i for i, one in enumerate(others) if before is not None and is_same(one, before)]
        ready = [i for i, one in enumerate(others) if one.curves is not None]
        compared = [i for i in ready if behind is not None and others[i].key == behind]
        here = [i for i in ready if others[i].key is not None and others[i].title != "Other file"]
        completed = [i for i in here if others[i].is_completed]
        index = next(iter(same or compared or completed or here), -1)
        self.other.setCurrentIndex(index)
        self.other.setEnabled(bool(others))
        self._other = others[index] if index >= 0 else None
        self._show()

    @Slot(int)
    def _other_chosen(self, index: int) -> None:
        if not 0 <= index < len(self._others):
            return
        chosen = self._others[index]
        if chosen.curves is not None:
            self._other = chosen
            self._show()
        elif chosen.note:
            self.told.emit(chosen.note, True, "")
            self._fill()
        elif chosen.key is not None:
            self._wanted = chosen.key
            self._reader.load(chosen.path, self._units(), chosen.key[0])

    @Slot()
    def _play(self) -> None:
        """Show the start in the replay, with the other behind it."""
        start, other = self._start, self._other
        if start is not None and other is not None and other.curves is not None:
            self._replay.comparison.align(INSTANTS[max(0, self.instant.currentIndex())])
            self._replay.comparison.choose(other.curves)
            self.replay_wanted.emit(start)

    def _tell_pair(self) -> None:
        start, other = self._start, self._other
        if not self.isVisible():
            return  # a pair that nobody has seen was not chosen
        if start is not None and other is not None and other.key is not None and other.path:
            self.pair_shown.emit(start.number, other.path, other.key[2])

    @Slot()
    def ask_file(self) -> None:
        """Ask for another recording and read it."""
        session = self._replay.session
        if session is not None:
            self._ask(self, str(session.path.parent), self.load)

    @Slot(str)
    def load(self, path: str) -> None:
        """Read another recording, whose starts can then be chosen."""
        if path:
            self._wanted = None
            self._reader.load(path, self._units())

    @Slot(object)
    def _recording_read(self, session: Session) -> None:
        wanted, self._wanted = self._wanted, None
        self._take(session, wanted)

    @Slot(object)
    def take_compared(self, session: Session) -> None:
        """Offer the starts of a recording that was read for the replay, the one that lies behind there first."""
        chosen = self._replay.comparison.chosen
        if chosen is not None:
            self._take(session, chosen.key)

    def _take(self, session: Session, wanted: StartKey | None) -> None:
        own, mine = self._replay.session, self._start
        itself = None if own is None or mine is None else key_of(own.assessment, mine)
        start = start_beside(session.assessment, itself, wanted)
        if start is None:
            self.told.emit(not_with_itself(session.path.name), True, "")
            return
        key = key_of(session.assessment, start)
        is_here = own is not None and key[0] == own.recording.provenance.sha256
        self._loaded = self._loaded if is_here else session
        self._other = OtherStart("", key=key, path=str(session.path))
        self._fill()

    # --- what is shown ----------------------------------------------------------------------------------

    @guarded()
    def showEvent(self, event: QShowEvent) -> None:
        """Tell which pair is looked at."""
        super().showEvent(event)
        self._tell_pair()

    @Slot()
    def _show(self) -> None:
        session, start, other = self._replay.session, self._start, self._other
        if session is None or start is None:
            return
        self.play_button.setEnabled(other is not None and other.curves is not None)
        if other is None or other.curves is None:
            self.chart.show_overlay(None)
            self.table.setRowCount(0)
            self.table.horizontalHeader().hide()
            self._words.setText(_NOTHING if len(session.assessment.starts) < 2 else "")
            return
        mine, units = f"Start {start.number}", session.assessment.units
        instant = INSTANTS[max(0, self.instant.currentIndex())]
        first = start_curves(session.assessment, start, mine).shown(units)
        second = other.curves.aligned(instant).shown(units)
        second = replace(second, name=other.label or second.name)
        levels = start_levels(session.assessment, start)
        self.chart.show_overlay(overlay(first, second, instant, levels))
        # A file's name may be longer than the column; the chart has it.
        parts = (
            f"Differences: {mine} minus {other.against}.",
            second.said,
            "Arrow keys in the chart move the cursor by 0.1 s, with Shift by 1 s.",
        )
        self._words.setText(" ".join(part for part in parts if part))
        # What is usual has a few measures only.
        measures = {n: m for n, m in start.measures.items() if other.key is not None or n in other.measures}
        self._fill_table(measures, other.measures, (mine, other.title), first.names)
        self._tell_pair()

    def _fill_table(
        self, first: Measures, second: Measures, names: tuple[str, str], called: ChannelNames
    ) -> None:
        table = self.table
        table.setHorizontalHeaderLabels(["Measure", *names, "Difference"])
        rows = difference_rows(first, second, called)
        table.setRowCount(len(rows))
        table.horizontalHeader().show()
        for row, cells in enumerate(rows):
            for column, text in enumerate(cells):
                item = QTableWidgetItem(text)
                item.setToolTip(plain_tip(text))
                if column:
                    item.setTextAlignment(_RIGHT)
                table.setItem(row, column, item)
        header = table.horizontalHeader()
        for column in range(1, 4):
            title = table.horizontalHeaderItem(column)
            if title is not None:
                title.setTextAlignment(_RIGHT)
            header.setSectionResizeMode(column, QHeaderView.ResizeMode.ResizeToContents)
        header.setSectionResizeMode(0, QHeaderView.ResizeMode.Stretch)
        table.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.ResizeToContents)

    def _units(self) -> ShownUnits:
        session = self._replay.session
        return AS_COMPUTED if session is None else session.assessment.units


def _table() -> QTableWidget:
    table = QTableWidget(0, 4)
    table.setAccessibleName("Measures of both starts")
    table.verticalHeader().hide()
    table.setShowGrid(False)
    table.setTabKeyNavigation(False)
    table.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
    table.setSelectionMode(QAbstractItemView.SelectionMode.NoSelection)
    table.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
    table.setWordWrap(True)
    table.setItemDelegate(WrappedCells(table, (1, 2, 3)))
    return table
