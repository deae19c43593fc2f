"""The paper before it is printed: choices on the left, the same pages as in the file on the right."""

from __future__ import annotations

import logging
import traceback
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import (
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from debrief.errors import UserError
from debrief.gui.asking import Asker, ask_for_report
from debrief.gui.jobs import JobReport, Jobs
from debrief.gui.labels import ElidedLabel
from debrief.gui.pages_view import PagesView
from debrief.gui.replay import Replay
from debrief.gui.report_jobs import PaperChoice, image_steps, pages_steps, print_steps, save_steps
from debrief.gui.theme import Theme
from debrief.session.opening import Progress

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter

    from debrief.report.layout import Pages

log = logging.getLogger(__name__)

PrinterAsker = Callable[[QWidget, "QPrinter", Callable[[], None]], None]

SIDE_WIDTH = 268
_READERS = (("Technician", "technician"), ("Pilot", "pilot"), ("Student", "student"))
_PAPERS = (("A4", "a4"), ("Letter", "letter"))
_HISTORY = (("Notes only", False), ("Notes and trends", True))
_ENDINGS = (("pdf", "PDF"), ("csv", "CSV"), ("json", "JSON"), ("png", "Lanes PNG"), ("svg", "Lanes SVG"))
_BUG = (
    "The program failed here; this is its fault, not the recording's, and nothing was changed. "
    "Copy the details to report it."
)


def ask_for_printer(parent: QWidget, printer: QPrinter, answer: Callable[[], None]) -> None:
    """Ask which printer without blocking; call `answer` when it is chosen."""
    from PySide6.QtPrintSupport import QPrintDialog

    dialog = QPrintDialog(printer, parent)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
    dialog.setWindowModality(Qt.WindowModality.WindowModal)
    dialog.accepted.connect(answer)
    dialog.show()


class ReportView(QWidget):
    """Preview, choices, and every way out: files and the printer.

    Signals
    -------
    told : str, bool, str
        A sentence for the user, whether it is a problem, and details to copy.
    progressed : Progress or None
        What is being written; None when that has ended.
    """

    told = Signal(str, bool, str)
    progressed = Signal(object)

    def __init__(
        self,
        replay: Replay,
        theme: Theme,
        ask_save: Asker = ask_for_report,
        ask_printer: PrinterAsker = ask_for_printer,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self._ask_save = ask_save
        self._ask_printer = ask_printer
        self._pages: Pages | None = None
        self._stale = True
        self._printer: QPrinter | None = None
        self._filling = False
        self.jobs = Jobs(self)
        self._make_parts()
        self.jobs.progressed.connect(self._job_progressed)
        self.jobs.succeeded.connect(self._job_succeeded)
        self.jobs.failed.connect(self._job_failed)
        replay.session_changed.connect(self._session_changed)
        theme.changed.connect(self._theme_changed)
        self._theme_changed()
        self._session_changed()

    # --- the parts --------------------------------------------------------------------------------------

    def _make_parts(self) -> None:
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(0)
        row.addWidget(self._make_side())
        right = QVBoxLayout()
        right.setSpacing(0)
        self.pages_view = PagesView(self._theme)
        right.addWidget(self.pages_view, 1)
        right.addWidget(self._make_bottom())
        row.addLayout(right, 1)
        self.pages_view.images_wanted.connect(self._draw)
        self.pages_view.page_changed.connect(self._page_changed)
        self.pages_view.zoom_changed.connect(self._zoom_changed)

    def _make_side(self) -> QWidget:
        side = QWidget()
        side.setObjectName("story")
        side.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
        column = QVBoxLayout(side)
        column.setContentsMargins(16, 14, 14, 14)
        column.setSpacing(8)
        column.addWidget(_heading("Report"))
        grid = QGridLayout()
        grid.setHorizontalSpacing(10)
        grid.setVerticalSpacing(7)
        grid.setColumnStretch(1, 1)
        self.reader = self._choice(grid, 0, "&For", "Who reads the paper", _READERS)
        self.select = self._choice(grid, 1, "&What", "What goes on the paper", ())
        self.paper = self._choice(grid, 2, "&Paper", "Size of the paper", _PAPERS)
        self.history = self._choice(grid, 3, "H&istory", "What the history adds", _HISTORY)
        self.history.setToolTip("Notes on this flight, how usual its starts are, and trends of its engine")
        column.addLayout(grid)
        column.addSpacing(4)
        column.addWidget(_heading("Pages"))
        self.contents = QListWidget()
        self.contents.setAccessibleName("Pages of the report")
        self.contents.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.contents.setMinimumHeight(40)  # a message above must not push the last button out of the window
        self.contents.currentRowChanged.connect(self._content_chosen)
        column.addWidget(self.contents, 1)
        column.addWidget(_heading("Save and print"))
        buttons = QGridLayout()
        buttons.setSpacing(6)
        self.buttons: dict[str, QPushButton] = {}
        slots = (self.ask_pdf, self.ask_csv, self.ask_json, self.ask_png, self.ask_svg)
        places = ((0, 0, 2), (1, 0, 1), (1, 1, 1), (2, 0, 1), (2, 1, 1))
        for (ending, words), slot, (line, left, wide) in zip(_ENDINGS, slots, places, strict=True):
            button = self._button(f"Save as {words}..." if ending == "pdf" else f"{words}...", slot)
            button.setAccessibleName(f"Save as {words}")
            self.buttons[ending] = button
            buttons.addWidget(button, line, left, 1, wide)
        self.buttons["pdf"].setProperty("role", "primary")
        self.buttons["csv"].setToolTip("Starts and events of what is chosen above, as a table")
        self.buttons["json"].setToolTip("The whole assessment, whatever is chosen above")
        for ending in ("png", "svg"):
            self.buttons[ending].setToolTip("A picture of the chosen start, else of the whole recording")
        self.buttons["print"] = self._button("P&rint...", self.ask_print)
        buttons.addWidget(self.buttons["print"], 3, 0, 1, 2)
        column.addLayout(buttons)
        self._side = side
        return side

    def _make_bottom(self) -> QWidget:
        bottom = QWidget()
        bottom.setObjectName("bottom")
        bottom.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
        row = QHBoxLayout(bottom)
        row.setContentsMargins(16, 5, 16, 5)
        row.setSpacing(6)
        self._where = ElidedLabel()
        row.addWidget(self._where, 1)
        self._fit_buttons = {
            "width": self._flat("Fit width", self.pages_view.fit_width, checkable=True),
            "page": self._flat("Fit page", self.pages_view.fit_page, checkable=True),
        }
        smaller = self._flat("\N{MINUS SIGN}", self.pages_view.zoom_out)
        smaller.setAccessibleName("Smaller")
        smaller.setToolTip("Smaller (-, or Ctrl and the wheel)")
        larger = self._flat("+", self.pages_view.zoom_in)
        larger.setAccessibleName("Larger")
        larger.setToolTip("Larger (+, or Ctrl and the wheel)")
        self._percent = QLabel()
        self._percent.setProperty("role", "muted")
        self._percent.setAlignment(Qt.AlignmentFlag.AlignCenter)
        for widget in (*self._fit_buttons.values(), smaller, self._percent, larger):
            row.addWidget(widget)
        self._zoom_changed()
        return bottom

    def _choice(
        self,
        grid: QGridLayout,
        line: int,
        words: str,
        name: str,
        entries: tuple[tuple[str, object], ...],
    ) -> QComboBox:
        box = QComboBox()
        box.setAccessibleName(name)
        # Long outcomes of a start must not widen the column.
        box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        box.setMinimumContentsLength(8)
        for text, value in entries:
            box.addItem(text, value)
        box.currentIndexChanged.connect(self._changed)
        label = QLabel(words)
        label.setBuddy(box)
        grid.addWidget(label, line, 0)
        grid.addWidget(box, line, 1)
        return box

    def _button(self, words: str, slot: Callable[[], None]) -> QPushButton:
        button = QPushButton(words)
        button.clicked.connect(slot)
        return button

    def _flat(self, words: str, slot: Callable[[], None], checkable: bool = False) -> QPushButton:
        button = self._button(words, slot)
        button.setProperty("role", "flat")
        button.setCheckable(checkable)
        return button

    # --- what is chosen ---------------------------------------------------------------------------------

    @property
    def choice(self) -> PaperChoice:
        """What the paper is to be."""
        return PaperChoice(
            str(self.select.currentData() or "all"),
            str(self.reader.currentData()),
            str(self.paper.currentData()),
            bool(self.history.currentData()),
        )

    @property
    def pages(self) -> Pages | None:
        """What is previewed; None until it is laid out."""
        return self._pages

    @Slot()
    def _session_changed(self) -> None:
        session = self._replay.session
        before = self.select.currentData()
        self._filling = True
        self.select.clear()
        self.select.addItem("Everything", "all")
        self.select.addItem("Exceedances only", "exceedances")
        if session is not None:
            from debrief.session.wording import OUTCOME_WORDS

            for start in session.assessment.starts:
                text = f"Start {start.number}: {OUTCOME_WORDS[start.outcome].lower()}"
                self.select.addItem(text, f"start:{start.number}")
        self.select.setCurrentIndex(max(0, self.select.findData(before)))
        self._filling = False
        for button in self.buttons.values():
            button.setEnabled(session is not None)
        self._changed()

    @Slot()
    def _changed(self) -> None:
        if self._filling:
            return
        self._stale = True
        self.jobs.cancel("pages")
        self.jobs.cancel("images")
        if self._replay.session is None:
            self._pages = None
            self.contents.clear()
            self.pages_view.say("No recording is open.")
        elif self.isVisible():
            self._begin_pages()

    @Slot()
    def notes_changed(self) -> None:
        """Lay the pages out anew: the notes on them are others."""
        self._changed()

    def _begin_pages(self) -> None:
        session = self._replay.session
        if session is None:
            return
        self._stale = False
        if self._pages is None:
            self.pages_view.say("Laying out the pages...")
        self._where.setText("Laying out the pages...")
        self.jobs.start("pages", partial(pages_steps, session.assessment, self.choice))

    def showEvent(self, event: QShowEvent) -> None:
        """Lay the pages out if that is not done yet."""
        super().showEvent(event)
        if self._stale:
            self._begin_pages()

    def hideEvent(self, event: QHideEvent) -> None:
        """Stop drawing what nobody sees."""
        if self.jobs.cancel("pages"):
            self._stale = True
        super().hideEvent(event)

    # --- the pages --------------------------------------------------------------------------------------

    def _show_pages(self, pages: Pages) -> None:
        page = self.pages_view.page if self._pages is not None else 0
        self._pages = pages
        self.contents.blockSignals(True)
        self.contents.clear()
        seen, title = 0, ""
        for mark in pages.bookmarks:
            for number in range(seen, mark.page):
                self._add_content(number, f"{title}, continued")
            title = mark.title
            self._add_content(mark.page, title)
            seen = mark.page + 1
        for number in range(seen, len(pages.pages)):
            self._add_content(number, f"{title}, continued")
        self.contents.blockSignals(False)
        self.pages_view.show_pages(len(pages.pages), (pages.width, pages.height))
        self.pages_view.go_to(min(page, len(pages.pages) - 1))
        self._page_changed(self.pages_view.page)

    def _add_content(self, page: int, title: str) -> None:
        item = QListWidgetItem(f"{page + 1}   {title}")
        item.setData(Qt.ItemDataRole.UserRole, page)
        item.setData(Qt.ItemDataRole.AccessibleTextRole, f"Page {page + 1}, {title}")
        item.setToolTip(title)
        self.contents.addItem(item)

    @Slot(int)
    def _content_chosen(self, row: int) -> None:
        item = self.contents.item(row)
        if item is not None:
            self.pages_view.go_to(int(item.data(Qt.ItemDataRole.UserRole)))

    @Slot(int)
    def _page_changed(self, page: int) -> None:
        pages = self._pages
        if pages is None:
            return
        count = len(pages.pages)
        self._where.setText(f"Page {page + 1} of {count}")
        from debrief.report.shapes import Text

        words = " ".join(shape.text for shape in pages.pages[page] if isinstance(shape, Text))
        self.pages_view.setAccessibleDescription(f"Page {page + 1} of {count}. {words}")
        current = self.contents.currentItem()
        if current is not None and current.data(Qt.ItemDataRole.UserRole) == page:
            return
        for row in range(self.contents.count()):
            if self.contents.item(row).data(Qt.ItemDataRole.UserRole) == page:
                self.contents.blockSignals(True)
                self.contents.setCurrentRow(row)
                self.contents.blockSignals(False)
                return

    @Slot(object, int)
    def _draw(self, wanted: tuple[int, ...], dpi: int) -> None:
        pages = self._pages
        if pages is not None:
            self.jobs.start("images", partial(image_steps, pages, wanted, dpi))

    @Slot()
    def _zoom_changed(self) -> None:
        for fit, button in self._fit_buttons.items():
            button.setChecked(self.pages_view.fit == fit)
        self._percent.setText(f"{self.pages_view.percent} %")

    # --- files and the printer --------------------------------------------------------------------------

    @Slot()
    def ask_pdf(self) -> None:
        """Ask for a name and save the paper."""
        self._ask("pdf", self.save_pdf)

    @Slot()
    def ask_csv(self) -> None:
        """Ask for a name and save starts and events as a table."""
        self._ask("csv", self.save_csv)

    @Slot()
    def ask_json(self) -> None:
        """Ask for a name and save the assessment."""
        self._ask("json", self.save_json)

    @Slot()
    def ask_png(self) -> None:
        """Ask for a name and save the lanes as a picture."""
        self._ask("png", self.save_png)

    @Slot()
    def ask_svg(self) -> None:
        """Ask for a name and save the lanes as a drawing."""
        self._ask("svg", self.save_svg)

    def _ask(self, ending: str, answer: Callable[[str], None]) -> None:
        session = self._replay.session
        if session is not None:
            suggested = session.path.with_suffix(f".{ending}")
            if suggested == session.path:
                suggested = session.path.with_name(f"{session.path.stem}_report.{ending}")
            self._ask_save(self, str(suggested), answer)

    @Slot(str)
    def save_pdf(self, path: str) -> None:
        """Write the paper in the background."""
        self._save("pdf", path)

    @Slot(str)
    def save_csv(self, path: str) -> None:
        """Write the table in the background."""
        self._save("csv", path)

    @Slot(str)
    def save_json(self, path: str) -> None:
        """Write the assessment in the background."""
        self._save("json", path)

    @Slot(str)
    def save_png(self, path: str) -> None:
        """Write the picture in the background."""
        self._save("png", path)

    @Slot(str)
    def save_svg(self, path: str) -> None:
        """Write the drawing in the background."""
        self._save("svg", path)

    def _save(self, format_: str, path: str) -> None:
        session = self._replay.session
        if session is None or not path:
            return
        self.progressed.emit(Progress(f"Writing {Path(path).name}"))
        self.jobs.start("save", partial(save_steps, session, self.choice, format_, Path(path)))

    @Slot()
    def ask_print(self) -> None:
        """Ask for a printer and print."""
        if self._replay.session is None:
            return
        from PySide6.QtGui import QPageSize
        from PySide6.QtPrintSupport import QPrinter

        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        printer.setFullPage(True)
        size = QPageSize.PageSizeId.A4 if self.choice.paper == "a4" else QPageSize.PageSizeId.Letter
        printer.setPageSize(QPageSize(size))
        printer.setDocName(f"Engine debrief {self._replay.session.path.name}")
        if self._pages is not None:
            printer.setFromTo(1, len(self._pages.pages))
        self._printer = printer
        self._ask_printer(self, printer, self.print_pages)

    @Slot()
    def print_pages(self) -> None:
        """Print on the printer that was chosen, in the background."""
        session, printer = self._replay.session, self._printer
        self._printer = None
        if session is not None and printer is not None:
            self.progressed.emit(Progress("Printing"))
            self.jobs.start("save", partial(print_steps, session.assessment, self.choice, printer))

    @Slot()
    def cancel(self) -> None:
        """Stop writing or printing."""
        if self.jobs.cancel("save"):
            self.progressed.emit(None)

    def close_jobs(self) -> None:
        """Stop everything and wait for it."""
        self.jobs.close()

    # --- jobs -------------------------------------------------------------------------------------------

    @Slot(object)
    def _job_progressed(self, report: JobReport) -> None:
        if report.name == "images" and report.value is not None:
            page, dpi, image = report.value
            self.pages_view.show_image(page, dpi, image)
        elif isinstance(report.value, Progress) and report.name == "save":
            self.progressed.emit(report.value)

    @Slot(object)
    def _job_succeeded(self, report: JobReport) -> None:
        if report.name == "pages":
            self._show_pages(report.value)
        elif report.name == "save":
            self.progressed.emit(None)
            self.told.emit(report.value, False, "")

    @Slot(object)
    def _job_failed(self, report: JobReport) -> None:
        error = report.error
        assert error is not None
        if report.name == "save":
            self.progressed.emit(None)
        if isinstance(error, UserError):
            words, details = str(error), ""
        else:
            details = "".join(traceback.format_exception(error))
            words = _BUG
            log.error("A fault of the program:\n%s", details)
        if report.name == "pages":
            self._pages = None
            self.contents.clear()
            self.pages_view.say(words if not details else "The pages could not be laid out.")
        self.told.emit(words, True, details)

    @Slot()
    def _theme_changed(self) -> None:
        self._side.setFixedWidth(self._theme.px(SIDE_WIDTH))
        self._percent.setMinimumWidth(self._theme.px(52))


def _heading(words: str) -> QLabel:
    label = QLabel(words)
    label.setProperty("role", "heading")
    return label
