"""What the paper is to be, its pages by name, and every way out: the left side of the report view."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QSignalBlocker, Qt, Signal, Slot
from PySide6.QtWidgets import (
    QGridLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QWidget,
)

from debrief.gui.plain_text import entry, plain_tip
from debrief.gui.report.report_jobs import PaperChoice
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.asking import Asker, ask_for_recording
from debrief.gui.widgets.choice_boxes import ChoiceBox
from debrief.gui.widgets.labels import PlainLabel
from debrief.gui.widgets.parts import column_layout, made_button, set_ground
from debrief.gui.widgets.tables import heading
from debrief.gui.widgets.whole_rows import WholeRows

if TYPE_CHECKING:
    from debrief.report.pdf.layout import Pages
    from debrief.session.session import Session

SIDE_WIDTH = 300
_READERS = (("Technician", "technician"), ("Pilot", "pilot"), ("Student", "student"))
_PAPERS = (("A4", "a4"), ("Letter", "letter"))
_HISTORY = (("Notes only", False), ("Notes and history", True))
_EVERYTHING, _ONE_START = "Everything", "The start that matters"
_OTHER = "?"
_HERE, _NOT_HERE = "Another start here", "No other start here"
_PICTURE = "A picture of the chosen start, else of the whole recording"
_WAYS_OUT = (
    ("pdf", "PDF", "", (0, 0, 1, 2)),
    ("csv", "CSV", "Starts and events of what is chosen above, as a table", (1, 0)),
    ("json", "JSON", "The whole assessment, whatever is chosen above", (1, 1)),
    ("png", "Lanes PNG", _PICTURE, (2, 0)),
    ("svg", "Lanes SVG", _PICTURE, (2, 1)),
)


class ReportSide(QWidget):
    """Choices, contents and buttons.

    Signals
    -------
    changed : ()
        The paper is to be another one.
    page_wanted : int
        Which page to look at, from 0.
    save_wanted : str
        In which format.
    print_wanted : ()
    """

    changed = Signal()
    page_wanted = Signal(int)
    save_wanted = Signal(str)
    print_wanted = Signal()

    def __init__(self, theme: Theme, settings: Settings, ask_open: Asker = ask_for_recording) -> None:
        super().__init__()
        self._theme = theme
        self._settings = settings
        self._ask_open = ask_open
        self._path: Path | None = None
        self._named: list[tuple[str, str]] = []
        self._pair = ("", "")
        self._labels: dict[ChoiceBox, QLabel] = {}
        set_ground(self, "story")
        column = column_layout(self, margins=(16, 14, 14, 14), spacing=8)
        column.addWidget(heading("Report"))
        column.addLayout(self._make_choices())
        column.addSpacing(4)
        column.addWidget(heading("Pages"))
        self.contents = QListWidget()
        self.contents.setAccessibleName("Pages of the report")
        self.contents.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.contents.setWordWrap(True)  # a long title takes two lines rather than lose its end
        self.contents.setTextElideMode(Qt.TextElideMode.ElideNone)
        self.contents.setMinimumHeight(40)  # a message above must not push the last button out of the window
        WholeRows(self.contents, theme)
        self.contents.currentRowChanged.connect(self._content_chosen)
        column.addWidget(self.contents, 1)
        column.addWidget(heading("Save and print"))
        column.addLayout(self._make_buttons())
        theme.changed.connect(self._theme_changed)
        self._theme_changed()
        for box, word in ((self.reader, settings.reader), (self.paper, settings.paper)):
            with QSignalBlocker(box):
                box.setCurrentIndex(max(0, box.findData(word)))
            box.activated.connect(self._remember)
        self._reader_changed()

    def _make_choices(self) -> QGridLayout:
        grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(7)
        grid.setColumnStretch(1, 1)
        self.reader = self._choice(grid, 0, "F&or", "Who reads the paper", _READERS)
        self.select = self._choice(grid, 1, "&What", "What goes on the paper", ())
        self.paper = self._choice(grid, 2, "&Paper", "Size of the paper", _PAPERS)
        self.history = self._choice(grid, 3, "A&dd", "What the history adds", _HISTORY)
        self.history.setToolTip(
            "What the paper adds from the history: only the notes on this recording, or also how its starts lie in "
            "the normal range of this engine, and the trends of the engine"
        )
        self.reference = self._choice(
            grid, 4, "Compare &with", "What a student's start is compared with", ((_NOT_HERE, ""),)
        )
        self.reference.setToolTip(
            "A student's start is explained beside another: one of this recording that was completed with nothing "
            "found in it, one of another recording, or the one that was chosen in Two starts"
        )
        self.reference.activated.connect(self._reference_chosen)
        self.reader.currentIndexChanged.connect(self._reader_changed)
        return grid

    def _make_buttons(self) -> QGridLayout:
        grid = QGridLayout()
        grid.setSpacing(6)
        self.buttons: dict[str, QPushButton] = {}
        for ending, words, tip, place in _WAYS_OUT:
            says, role = (f"Save as {words}...", "primary") if ending == "pdf" else (f"{words}...", "")
            button = made_button(says, self._save, role=role, name=f"Save as {words}", tip=tip)
            self.buttons[ending] = button
            grid.addWidget(button, *place)
        self.buttons["print"] = made_button("Pr&int...", self.print_wanted)
        grid.addWidget(self.buttons["print"], 3, 0, 1, 2)
        return grid

    def _choice(
        self, grid: QGridLayout, line: int, words: str, name: str, entries: tuple[tuple[str, object], ...]
    ) -> ChoiceBox:
        box = ChoiceBox(self._theme)
        box.setAccessibleName(name)
        # Long outcomes of a start must not widen the column.
        box.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        box.setMinimumContentsLength(8)
        for text, value in entries:
            box.addItem(text, value)
        box.currentIndexChanged.connect(self._chosen)
        label = PlainLabel(words)
        label.setBuddy(box)
        self._labels[box] = label
        grid.addWidget(label, line, 0)
        grid.addWidget(box, line, 1)
        return box

    # --- what is chosen ---------------------------------------------------------------------------------

    @property
    def choice(self) -> PaperChoice:
        """What the paper is to be."""
        reader, reference = str(self.reader.currentData()), str(self.reference.currentData() or "")
        select = str(self.select.currentData() or "all")
        if reader != "student" or reference == _OTHER:
            reference = ""
        own, other = self._pair
        if reference and reference == other and select == "all":
            select = own  # the pair is a start and what it is compared with
        return PaperChoice(
            select, reader, str(self.paper.currentData()), bool(self.history.currentData()), reference
        )

    def show_session(self, session: Session | None) -> None:
        """Offer the starts of a recording; the choices stay where they can."""
        before = self.select.currentData()
        with QSignalBlocker(self.select):
            self.select.clear()
            self.select.addItem(_EVERYTHING, "all")
            self.select.addItem("Exceedances only", "exceedances")
            if session is not None:
                from debrief.words.events import OUTCOME_WORDS
                from debrief.words.starts import start_title

                for start in session.assessment.starts:
                    title = start_title(start.number, session.assessment.start_count(start.engine))
                    text = f"{title}: {OUTCOME_WORDS[start.outcome].lower()}"
                    self.select.addItem(text, f"start:{start.number}")
            self.select.setCurrentIndex(max(0, self.select.findData(before)))
        path = session.path if session is not None else None
        if path != self._path:
            # A start "here" is one of the recording that was here.
            self._named = [one for one in self._named if not one[1].startswith(f"{self._path}:")]
            self._path, self._pair = path, ("", "")
        self._fill_references(session)
        self._reader_changed()
        for button in self.buttons.values():
            button.setEnabled(session is not None)

    @Slot()
    def _chosen(self) -> None:
        if self.sender() is not self.reference or self.reference.currentData() != _OTHER:
            self.changed.emit()

    @Slot()
    def _remember(self) -> None:
        """Remember what a person chose: other recordings, and the next window, begin with it."""
        self._settings.reader = str(self.reader.currentData())
        self._settings.paper = str(self.paper.currentData())

    @Slot()
    def _reader_changed(self) -> None:
        is_student = self.reader.currentData() == "student"
        if self.select.count():
            self.select.setItemText(0, _ONE_START if is_student else _EVERYTHING)
        for widget in (self.reference, self._labels[self.reference]):
            widget.setVisible(is_student)

    def _fill_references(self, session: Session | None) -> None:
        """Offer a start of the recording where it has one to compare with, what was named, and to name another."""
        has_one = False
        if session is not None:
            from debrief.report.content.reference_start import has_own_reference

            has_one = has_own_reference(session.assessment)
        chosen = self.reference.currentData()
        with QSignalBlocker(self.reference):
            self.reference.clear()
            self.reference.addItem(_HERE if has_one else _NOT_HERE, "")
            for words, value in self._named:
                self.reference.addItem(entry(words), value)
            self.reference.addItem("Another recording...", _OTHER)
            self.reference.setCurrentIndex(max(0, self.reference.findData(chosen)))

    @Slot(int)
    def _reference_chosen(self, index: int) -> None:
        if self.reference.itemData(index) != _OTHER:
            return
        with QSignalBlocker(self.reference):
            self.reference.setCurrentIndex(0)
        self.changed.emit()
        folder = str(self._path.parent) if self._path is not None else ""
        self._ask_open(self, folder, self.compare_with)

    @Slot(str)
    def compare_with(self, path: str) -> None:
        """Compare a student's starts with those of a recording."""
        if path and Path(path) == self._path:
            self.reference.setCurrentIndex(0)  # another start here; not itself
        elif path:
            self._compare(Path(path).name, path)

    @Slot(int, str, int)
    def compare_pair(self, start: int, path: str, other: int) -> None:
        """Compare a start of this recording with the other that was chosen in Two starts."""
        here = self._path is not None and Path(path) == self._path
        words = f"Start {other} here" if here else f"Start {other} of {Path(path).name}"
        self._pair = f"start:{start}", f"{path}:{other}"
        self._compare(words, self._pair[1])

    def _compare(self, words: str, value: str) -> None:
        if self.reference.findData(value) < 0:
            self._named.append((words, value))
            with QSignalBlocker(self.reference):
                self.reference.insertItem(self.reference.count() - 1, entry(words), value)
        with QSignalBlocker(self.reference):
            self.reference.setCurrentIndex(self.reference.findData(value))
        self.changed.emit()

    # --- the contents -----------------------------------------------------------------------------------

    def show_contents(self, pages: Pages | None) -> None:
        """List the pages by what begins on them."""
        blocked = QSignalBlocker(self.contents)
        self.contents.clear()
        seen, title = 0, ""
        for mark in pages.bookmarks if pages is not None else ():
            for number in range(seen, mark.page):
                self._add_content(number, f"{title}, continued")
            title = mark.title
            self._add_content(mark.page, title)
            seen = mark.page + 1
        for number in range(seen, len(pages.pages) if pages is not None else 0):
            self._add_content(number, f"{title}, continued")
        blocked.unblock()

    def _add_content(self, page: int, title: str) -> None:
        item = QListWidgetItem(f"{page + 1}   {entry(title)}")
        item.setData(Qt.ItemDataRole.UserRole, page)
        item.setData(Qt.ItemDataRole.AccessibleTextRole, f"Page {page + 1}, {entry(title)}")
        item.setToolTip(plain_tip(title))
        self.contents.addItem(item)

    def mark_page(self, page: int) -> None:
        """Mark the page that is looked at."""
        current = self.contents.currentItem()
        if current is not None and current.data(Qt.ItemDataRole.UserRole) == page:
            return
        for row in range(self.contents.count()):
            if self.contents.item(row).data(Qt.ItemDataRole.UserRole) == page:
                with QSignalBlocker(self.contents):
                    self.contents.setCurrentRow(row)
                return

    @Slot(int)
    def _content_chosen(self, row: int) -> None:
        item = self.contents.item(row)
        if item is not None:
            self.page_wanted.emit(int(item.data(Qt.ItemDataRole.UserRole)))

    @Slot()
    def _save(self) -> None:
        self.save_wanted.emit(next(e for e, button in self.buttons.items() if button is self.sender()))

    @Slot()
    def _theme_changed(self) -> None:
        self.setFixedWidth(self._theme.px(SIDE_WIDTH))
