"""The panel that explains: which question, its tables and words, what is open, and what would change the verdict."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QHideEvent, QKeySequence, QShortcut, QShowEvent
from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QFrame,
    QScrollArea,
    QSizePolicy,
    QWidget,
)

from debrief.analysis.model import NotJudged, Start
from debrief.gui.background.guarded import guarded
from debrief.gui.help.remedies import Cure, cures_of
from debrief.gui.lanes.lanes_view import LanesView
from debrief.gui.plain_text import entry
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.gui.why.clipboard import copy_tables
from debrief.gui.why.evidence_table import EvidenceTable
from debrief.gui.why.trial_box import TrialBox
from debrief.gui.why.trial_line import TrialLine
from debrief.gui.why.trying import Trying
from debrief.gui.widgets.choice_boxes import ChoiceBox
from debrief.gui.widgets.labels import PlainLabel, WrappedLabel
from debrief.gui.widgets.parts import column_layout, made_button, remove_parts, row_layout, set_ground
from debrief.session.evidence.why_page import (
    LEVELS,
    Subject,
    WhyPage,
    WhyRow,
    as_html,
    as_text,
    limit_of,
    subjects,
    why_page,
)
from debrief.session.texts.plain_names import not_judged_title
from debrief.words.cautions import CAUTION

LEAST_WIDTH = 300


class WhyPanel(QWidget):
    """Explains the verdict, a finding, a limit or a measure of the recording on the table.

    Signals
    -------
    close_wanted
        The panel's button was pressed.
    definition_wanted : str, str
        Group and name of an entry of the page of definitions.
    command_wanted : str
        A command of the menus that settles what is open.
    broken : BaseException
        A fault of the program while something was tried.
    """

    close_wanted = Signal()
    definition_wanted = Signal(str, str)
    command_wanted = Signal(str)
    broken = Signal(object)

    def __init__(self, replay: Replay, lanes: LanesView, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._trying = Trying(self)
        self._trying.failed.connect(self.broken)
        self._line = TrialLine(self._trying, replay, lanes, theme)
        self._replay = replay
        self._theme = theme
        self._subject = Subject()
        self._page: WhyPage | None = None
        self._is_stale = False
        self._parts: list[QWidget] = []
        self._tables: list[EvidenceTable] = []
        set_ground(self, "gauges", "Why")
        column = column_layout(self, margins=(8, 8, 4, 6), spacing=6)
        top = row_layout(spacing=6)
        self._choice = ChoiceBox(theme)
        self._choice.setAccessibleName("Explain")
        self._choice.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self._choice.activated.connect(self._chosen)
        top.addWidget(self._choice, 1)
        copy = made_button("Copy", self.copy, role="small", tip="Copy the tables and words (Ctrl+C)")
        close = made_button("Close", self.close_wanted, role="small", name="Close Why", tip="Close (Esc)")
        for button in (copy, close):
            button.setFocusPolicy(Qt.FocusPolicy.TabFocus)
            top.addWidget(button)
        column.addLayout(top)
        self._scroll = QScrollArea(widgetResizable=True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        body = QWidget()
        body.setObjectName("panel")
        self._column = column_layout(body, margins=(0, 2, 4, 8), spacing=6)
        self._column.addStretch(1)
        self._scroll.setWidget(body)
        column.addWidget(self._scroll, 1)
        QShortcut(
            QKeySequence(QKeySequence.StandardKey.Copy),
            self,
            self.copy,
            context=Qt.ShortcutContext.WidgetWithChildrenShortcut,
        )
        replay.session_changed.connect(self._session_changed)
        replay.selection_changed.connect(self._selection_changed)
        replay.clock_changed.connect(self._clock_changed)
        theme.changed.connect(self._fill)
        self._session_changed()

    @property
    def holds_focus(self) -> bool:
        """Whether the keyboard is in it."""
        focus = QApplication.focusWidget()
        return focus is not None and (focus is self or self.isAncestorOf(focus))

    def take_focus(self) -> None:
        """Put the keyboard on the first table, else on the choice."""
        first = self._tables[0] if self._tables else self._choice
        first.show()  # the layout shows it in the next turn only
        first.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def leave(self) -> bool:
        """Leave what is only a trial; return whether there was one."""
        return self._trying.leave()

    def close_jobs(self) -> None:
        """End what is worked out in the background."""
        self._trying.close()

    @guarded()
    def showEvent(self, event: QShowEvent) -> None:
        """Show what has come meanwhile, and offer what can be tried again, unless something else is asked at once."""
        super().showEvent(event)
        self._replay.turns.take(self._refill)

    @guarded()
    def hideEvent(self, event: QHideEvent) -> None:
        """End a trial: nothing of it stays when its panel is closed."""
        super().hideEvent(event)
        self._trying.offer(None)
        self._is_stale = True

    @Slot()
    def _refill(self) -> None:
        if self._is_stale and self.isVisible():
            self._fill()

    # --- what is explained ------------------------------------------------------------------------------

    def explain_verdict(self) -> None:
        """Explain the verdict."""
        self._show(Subject())

    def explain_chosen(self) -> None:
        """Explain the finding that is chosen and in play, else the verdict."""
        self._show(self._chosen_finding() or Subject())

    def explain_measure(self, start: Start | None, name: str) -> None:
        """Explain a measure of a start, or without one of the flight."""
        session = self._replay.session
        if session is not None:
            starts = session.assessment.starts
            own = None if start is None else (start.number, start.engine)
            index = next((i for i, x in enumerate(starts) if (x.number, x.engine) == own), -1)
            self._show(Subject("measure", index, name))

    def _chosen_finding(self) -> Subject | None:
        session = self._replay.session
        if session is None or session.step_in_play is None:
            return None
        event = session.story[session.step_in_play].event
        return next(
            (Subject("finding", i) for i, one in enumerate(session.assessment.events) if one is event), None
        )

    @Slot()
    def _session_changed(self) -> None:
        self._subject = Subject()
        session = self._replay.session
        self._choice.clear()
        if session is not None:
            for subject, title in subjects(session.assessment, session.clock):
                self._choice.addItem(entry(title), subject)
        if session is None or self.isVisible():
            self._fill()
        else:
            self._is_stale = True

    @Slot()
    def _clock_changed(self) -> None:
        """Name and explain the same thing anew; a trial that is at work there ends."""
        subject = self._subject
        self._session_changed()
        if subject != self._subject and self._replay.session is not None:
            self._show(subject)

    @Slot()
    def _selection_changed(self) -> None:
        found = self._chosen_finding()
        if found is not None and not self.isHidden():
            self._show(found)

    @Slot(int)
    def _chosen(self, index: int) -> None:
        subject = self._choice.itemData(index)
        if isinstance(subject, Subject):
            self._show(subject)

    def _show(self, subject: Subject) -> None:
        self._subject = subject
        index = next((i for i in range(self._choice.count()) if self._choice.itemData(i) == subject), -1)
        session = self._replay.session
        if index < 0 and session is not None:
            self._choice.addItem(
                entry(why_page(session.assessment, subject, clock=session.clock).title), subject
            )
            index = self._choice.count() - 1
        self._choice.setCurrentIndex(index)
        self._fill()
        self._scroll.verticalScrollBar().setValue(0)

    @Slot()
    def _fill(self) -> None:
        if self.isHidden():
            # What could be tried has a grip in the lanes, which goes with the panel.
            self._is_stale = True
            return
        had_focus = self.holds_focus and QApplication.focusWidget() is not self._choice
        self._is_stale = False
        self._trying.offer(None)
        remove_parts(self._column, self._parts)
        self._tables = []
        self._page = None
        session = self._replay.session
        self.setMinimumWidth(self._theme.px(LEAST_WIDTH))
        if session is None:
            return
        page = self._page = why_page(session.assessment, self._subject, session.sentence, session.clock)
        if self._subject != Subject():  # the verdict stands above all
            self._add(WrappedLabel(page.title, role="heading"))
            self._add(WrappedLabel(page.said))
        limit = limit_of(session.assessment, self._subject)
        for table in page.tables:
            shown = EvidenceTable(table, self._theme)
            shown.row_taken.connect(self._taken)
            title = PlainLabel(table.title, role="muted")
            title.setBuddy(shown)
            self._add(title)
            self._add(shown)
            self._tables.append(shown)
            if table.title == LEVELS and limit is not None and limit.levels:
                self._line.show_engine(session.engine)
                self._add(TrialBox(self._trying, self._theme, session.assessment, limit))
        self._add_open(page.open_points)
        for what, text in page.words:
            self._add(PlainLabel(what, role="small"))
            label = WrappedLabel(text)
            label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
            self._add(label)
        if page.entry is not None:
            self._add(_small(made_button("Its definition", self._define, role="small")))
        self._add(WrappedLabel(CAUTION, role="small"))
        if had_focus:
            self.take_focus()

    def _add_open(self, points: tuple[NotJudged, ...]) -> None:
        """Show what is open, with the buttons that settle it."""
        session = self._replay.session
        if not points or session is None:
            return
        self._add(PlainLabel("What is open", role="muted"))
        offered: set[Cure] = set()
        for item in points:
            title = not_judged_title(item)
            self._add(WrappedLabel(f"{title[:1].upper()}{title[1:]}: {item.why}."))
            for cure in cures_of(item, session.recording):
                if cure not in offered:
                    offered.add(cure)
                    button = made_button(cure.button, role="small", tip=cure.words)
                    button.setProperty("command", cure.command)
                    button.clicked.connect(self._settle)
                    self._add(_small(button))

    def _add(self, part: QWidget) -> None:
        self._column.insertWidget(self._column.count() - 1, part)
        self._parts.append(part)

    # --- what is done with it ---------------------------------------------------------------------------

    @Slot(object)
    def _taken(self, row: WhyRow) -> None:
        if row.time_s is not None:
            self._replay.seek(row.time_s)
        if row.subject is not None:
            self._show(row.subject)

    def explained(self) -> tuple[str, str] | None:
        """Return the entry of what the evidence is of."""
        entry = None if self._page is None else self._page.entry
        return None if entry is None else (entry.group, entry.name)

    @Slot()
    def _define(self) -> None:
        if self._page is not None and self._page.entry is not None:
            self.definition_wanted.emit(self._page.entry.group, self._page.entry.name)

    @Slot()
    def _settle(self) -> None:
        button = self.sender()
        if isinstance(button, QAbstractButton):
            self.command_wanted.emit(str(button.property("command")))

    @Slot()
    def copy(self) -> None:
        """Put the page on the clipboard: lines with tabs for a spreadsheet, tables for a letter."""
        if self._page is None:
            return
        copy_tables(as_text(self._page), as_html(self._page))
        self._replay.told.emit("copied")


def _small(button: QAbstractButton) -> QAbstractButton:
    """Return a button no wider than its words."""
    button.setSizePolicy(QSizePolicy.Policy.Maximum, QSizePolicy.Policy.Fixed)
    return button
