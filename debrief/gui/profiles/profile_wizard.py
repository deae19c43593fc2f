"""The wizard for a new profile: one question on a page, in the order of a manual, and at the end a profile that is used."""

from __future__ import annotations

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QCloseEvent, QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QScrollArea,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from debrief.analysis.model import TimeAbove
from debrief.errors import UserError
from debrief.gui.background.drafts import Draft
from debrief.gui.background.guarded import guarded
from debrief.gui.plain_text import plain_tip
from debrief.gui.profiles.answer_fields import AnswerPage
from debrief.gui.profiles.completeness_list import CompletenessList
from debrief.gui.profiles.editor_bar import show_step
from debrief.gui.profiles.limit_chart import LimitChart
from debrief.gui.profiles.summary_page import SummaryPage
from debrief.gui.profiles.undo_keys import UndoKeys
from debrief.gui.style.theme import Theme
from debrief.gui.style.theme_sheet import dialog_sheet
from debrief.gui.widgets.asking import ask_about_unsaved
from debrief.gui.widgets.labels import PlainLabel, WrappedLabel
from debrief.gui.widgets.parts import (
    column_layout,
    fit_to_screen,
    made_button,
    restyle,
    row_layout,
    set_ground,
)
from debrief.session.profiles.wizard import Wizard
from debrief.session.profiles.wizard_pages import COUNT, PAGES, TABLE

CHECK_MS = 250
_SIGNS = {"answered": "\N{CHECK MARK}  ", "skipped": "\N{EN DASH}  ", "open": "    "}
_STATUS = {"answered": "answered", "skipped": "not in the manual", "open": "not answered yet"}
_DRAW = (
    "Click in the chart to add a corner, drag to move it, Delete removes it. By keys: Insert adds, Page up and down "
    "choose, arrows move."
)


class ProfileWizard(QWidget):
    """A window of its own.

    Parameters
    ----------
    theme : Theme
    parent : QWidget
    above : TimeAbove, optional
        Of a start of the open recording, shown behind the start temperature table.
    is_used : bool
        Whether there is a recording that the finished profile is used for.

    Signals
    -------
    saved : str
        Path of the finished profile.
    """

    saved = Signal(str)

    def __init__(
        self,
        theme: Theme,
        parent: QWidget | None = None,
        above: TimeAbove | None = None,
        is_used: bool = False,
    ) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self._theme = theme
        self._above = above if above is not None and above.unit in ("degC", "degF") else None
        self._wizard = Wizard()
        self._discards = False
        self.setWindowTitle("New engine profile[*]")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
        set_ground(self, "ground")
        self._draft = Draft("profile", self._unsaved, self)
        self._keys = UndoKeys(self, self.undo, self.redo)
        self._timer = QTimer(self, singleShot=True, interval=CHECK_MS)
        self._timer.timeout.connect(self.check)
        column = column_layout(self, margins=(14, 12, 14, 12), spacing=10)
        row = row_layout(spacing=12)
        column.addLayout(row, 1)
        row.addLayout(self._make_list())
        # Made when they are first shown: all of them at once would hold the event loop up.
        self._pages: dict[int, AnswerPage] = {}
        self._stack = QStackedWidget()
        for _ in PAGES:
            self._stack.addWidget(self._scrolled())
        self._summary = SummaryPage(self._wizard, is_used)
        self._summary.edited.connect(self._suggested)
        self._stack.addWidget(self._scrolled(self._summary))
        row.addWidget(self._stack, 8)
        self._side = QStackedWidget()
        self._side.addWidget(self._make_gaps())
        self._side.addWidget(self._make_chart())
        row.addWidget(self._side, 5)
        self._told = WrappedLabel()
        column.addLayout(self._make_buttons(is_used))
        QShortcut(QKeySequence("Escape"), self).activated.connect(self.close)
        QShortcut(QKeySequence("Alt+Right"), self).activated.connect(self.go_on)
        QShortcut(QKeySequence("Alt+Left"), self).activated.connect(self.go_back)
        fit_to_screen(self, theme.px(1180), theme.px(640))
        theme.changed.connect(self._dress)
        self._dress()
        self._go_to(0)

    # --- the parts --------------------------------------------------------------------------------------

    def _scrolled(self, page: QWidget | None = None) -> QScrollArea:
        area = QScrollArea(widgetResizable=True)
        area.setFrameShape(QFrame.Shape.NoFrame)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # its fields take the keys
        if page is not None:
            area.setWidget(page)
        return area

    @Slot()
    def _dress(self) -> None:
        self.setStyleSheet(dialog_sheet(self._theme.palette, self._theme.px))
        self._list.setFixedWidth(self._theme.px(190))

    def _make_list(self) -> QVBoxLayout:
        left = column_layout(spacing=6)
        label = PlainLabel("&Questions", role="heading")
        self._list = QListWidget()
        self._list.setAccessibleName("Questions")
        self._list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._list.addItems([page.name for page in PAGES] + ["Summary"])
        self._list.currentRowChanged.connect(self._page_chosen)
        # By keys one goes through the list; a click means the page.
        self._list.clicked.connect(self._take_focus)
        label.setBuddy(self._list)
        left.addWidget(label)
        left.addWidget(self._list, 1)
        return left

    def _make_gaps(self) -> QWidget:
        side = QWidget()
        column = column_layout(side, margins=(0, 0, 0, 0), spacing=6)
        self._gaps = CompletenessList(self._theme)
        self._gaps.wanted.connect(self._go_to_key)
        column.addWidget(self._gaps)
        return side

    def _make_chart(self) -> QWidget:
        side = QWidget()
        column = column_layout(side, margins=(0, 0, 0, 0), spacing=4)
        self._chart = LimitChart(self._theme)
        self._chart.drawn.connect(self._drawn)
        self._chart.settled.connect(self._wizard.history.pause)
        column.addWidget(self._chart, 1)
        column.addWidget(WrappedLabel(_DRAW, role="small"))
        return side

    def _make_buttons(self, is_used: bool) -> QHBoxLayout:
        row = row_layout(spacing=8)
        self._undo = made_button("&Undo", self.undo)
        self._redo = made_button("&Redo", self.redo)
        row.addWidget(self._undo)
        row.addWidget(self._redo)
        row.addWidget(self._told, 1)
        self._skip = made_button(
            "Not in &my manual", self.skip, tip="Leaves this page empty: what needs it is not judged"
        )
        self._back = made_button("&Back", self.go_back, tip="Alt+Left")
        self._next = made_button("&Next", self.go_on, role="primary", tip="Alt+Right")
        self._finish = made_button(
            "&Save and use" if is_used else "&Save", self.finish, role="primary", name="Save the profile"
        )
        for button in (self._skip, self._back, self._next, self._finish):
            row.addWidget(button)
        return row

    # --- pages ------------------------------------------------------------------------------------------

    @property
    def _row(self) -> int:
        return self._list.currentRow()

    @property
    def _page(self) -> AnswerPage | None:
        return self._page_at(self._row) if self._row < len(PAGES) else None

    def _page_at(self, row: int) -> AnswerPage:
        page = self._pages.get(row)
        if page is None:
            page = self._pages[row] = AnswerPage(self._wizard, PAGES[row], self._theme, self._keys)
            page.edited.connect(self._edited)
            area = self._stack.widget(row)
            assert isinstance(area, QScrollArea)
            area.setWidget(page)
        return page

    @Slot(int)
    def _page_chosen(self, row: int) -> None:
        self._wizard.history.pause()
        self._stack.setCurrentIndex(row)
        page = self._page
        self._side.setCurrentIndex(int(page is not None and any(q.key == TABLE for q in page.page.questions)))
        is_last = page is None
        for button, shown in (
            (self._skip, row not in (0, len(PAGES))),
            (self._next, not is_last),
            (self._finish, is_last),
        ):
            button.setVisible(shown)
        self._back.setEnabled(row > 0)
        if is_last:
            self._summary.refill()
        self.check()

    def _go_to(self, row: int, key: str = "") -> None:
        self._list.setCurrentRow(row)
        self._take_focus(key)

    @Slot()
    def _take_focus(self, key: object = "") -> None:
        page = self._page
        if page is not None:
            page.take_focus(key if isinstance(key, str) else "")
        else:
            self._finish.setFocus()

    @Slot()
    def go_on(self) -> None:
        """Go to the next page."""
        if self._row < len(PAGES):
            self._go_to(self._row + 1)

    @Slot()
    def go_back(self) -> None:
        """Go to the page before."""
        if self._row:
            self._go_to(self._row - 1)

    @Slot()
    def skip(self) -> None:
        """Say that the manual does not have it, and go on."""
        page = self._page
        if page is not None and self._skip.isVisible():
            self._wizard.skip(page.page)
            page.refill()
            self.go_on()

    @Slot(str)
    def _go_to_key(self, key: str) -> None:
        for row, page in enumerate(PAGES):
            known = [*(one.key for one in page.questions), *page.keys]
            if key in known:
                self._go_to(row, key)
                return

    # --- edits ------------------------------------------------------------------------------------------

    @Slot()
    def _edited(self) -> None:
        self._show_chart()
        self._show_undo()
        self._timer.start()

    @Slot(object)
    def _drawn(self, points: tuple[tuple[float, float], ...]) -> None:
        self._wizard.draw(points)
        page = self._page
        if page is not None:
            page.refill()
        self._show_undo()
        self._timer.start()

    @Slot()
    def _suggested(self) -> None:
        self._pages_follow()
        self.check()

    def _pages_follow(self) -> None:
        for page in self._pages.values():
            page.refill()

    @Slot()
    def undo(self) -> None:
        """Take the last step back."""
        self._after(self._wizard.history.undo())

    @Slot()
    def redo(self) -> None:
        """Do again what was taken back."""
        self._after(self._wizard.history.redo())

    def _after(self, place: object) -> None:
        if place is None:
            return
        self._pages_follow()
        for row, one in enumerate(PAGES):
            if any(place == f"{one.name}/{key}" for key in ("", *(q.key for q in one.questions))):
                self._list.setCurrentRow(row)
        self._show_chart()
        self.check()

    def _show_undo(self) -> None:
        history = self._wizard.history
        show_step(self._undo, "Undo", history.undo_words)
        show_step(self._redo, "Redo", history.redo_words)
        self.setWindowModified(not self._wizard.is_empty)

    def _show_chart(self) -> None:
        page = self._page
        if page is not None and self._side.currentIndex() == 1:
            counts = self._wizard.history.state.get(COUNT)
            self._chart.show_table(
                self._wizard.start_points(),
                self._wizard.unit(page.page, "temperature"),
                self._above,
                str(counts),
            )

    # --- what is said -----------------------------------------------------------------------------------

    def _unsaved(self) -> dict[str, object] | None:
        """Return what a crash would lose: the profile that the answers make, for the editor to go on with."""
        return None if self._wizard.is_empty else {"path": "", "text": self._wizard.read().form.text}

    @Slot()
    def check(self) -> None:
        """Say on the page what is wrong with what was typed, and what can be judged by now."""
        self._timer.stop()
        self._draft.touch()
        reading = self._wizard.read()
        page = self._page
        if page is not None:
            page.tell(reading.problems)
        if reading.profile is not None:
            if page is None:
                self._summary.show_profile(reading.profile)
            self._gaps.show_profile(reading.profile)
        for row, one in enumerate(PAGES):
            status = self._wizard.status(one)
            item = self._list.item(row)
            wrong = any(q.key in reading.problems for q in one.questions)
            item.setText(("!   " if wrong else _SIGNS[status]) + one.name)
            self._describe(item, one.name, "needs another look" if wrong else _STATUS[status])
        self._list.item(len(PAGES)).setText(_SIGNS["open"] + "Summary")
        self._show_chart()
        self._show_undo()
        problems = len(reading.problems) if page is None else 0
        some = "One answer needs" if problems == 1 else f"{problems} answers need"
        self._tell(f"{some} another look." if problems else "", is_problem=bool(problems))

    def _describe(self, item: QListWidgetItem, name: str, words: str) -> None:
        item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{name}, {words}")
        item.setToolTip(plain_tip(words))

    def _tell(self, words: str, *, is_problem: bool) -> None:
        restyle(self._told, "role", "problem" if is_problem else "muted")
        self._told.setText(words)

    # --- the end ----------------------------------------------------------------------------------------

    @Slot()
    def finish(self) -> None:
        """Save the profile and have it used; say what is missing."""
        if self._page is not None:
            return
        reading = self._wizard.read()
        try:
            path = self._wizard.save(self._summary.file_name)
        except UserError as error:
            first = next(iter(reading.problems), "")
            if first:
                self._go_to_key(first)
            elif not str(self._wizard.history.state.get("name", "")).strip():
                self._go_to(0, "name")
            self._tell(str(error), is_problem=True)
            return
        self._discards = True
        self.saved.emit(str(path))
        self.close()

    @guarded()
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Have Enter in a field go to the next one: a table is typed with one hand."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and isinstance(self.focusWidget(), QLineEdit):
            self.focusNextChild()
        else:
            super().keyPressEvent(event)

    @guarded()
    def closeEvent(self, event: QCloseEvent) -> None:
        """Ask first where something was answered."""
        if not self._discards and not self._wizard.is_empty:
            event.ignore()
            ask_about_unsaved(self, self.discard)
            return
        self._timer.stop()
        self._draft.end()
        super().closeEvent(event)

    @Slot()
    def discard(self) -> None:
        """Close without saving."""
        self._discards = True
        self.close()
