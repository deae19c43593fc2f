"""The paper before it is printed: choices on the left, the same pages as in the file on the right."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QHideEvent, QShowEvent
from PySide6.QtWidgets import QWidget

from debrief.gui.background.error_words import told_of
from debrief.gui.background.guarded import guarded
from debrief.gui.background.jobs import JobReport, Jobs
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.report.pages_view import PagesView
from debrief.gui.report.report_jobs import image_steps, pages_steps, print_steps, save_steps
from debrief.gui.report.report_side import ReportSide
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.asking import USUAL_ASKERS, Askers
from debrief.gui.widgets.labels import ElidedLabel, PlainLabel
from debrief.gui.widgets.parts import column_layout, made_button, row_layout, set_ground
from debrief.session.opening.opening_steps import Progress

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter

    from debrief.report.pdf.layout import Pages


class ReportView(QWidget):
    """Preview, choices, and every way out: files and the printer.

    Signals
    -------
    told : str, bool, str
        A sentence for the user, whether it is a problem, and details to copy.
    saved : str, str
        A sentence for the user, and the path of the file that was written.
    progressed : Progress or None
        What is being written; None when that has ended.
    """

    told = Signal(str, bool, str)
    saved = Signal(str, str)
    progressed = Signal(object)

    def __init__(
        self,
        replay: Replay,
        theme: Theme,
        settings: Settings,
        askers: Askers = USUAL_ASKERS,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self._replay = replay
        self._theme = theme
        self._askers = askers
        self.pages: Pages | None = None
        self._stale = True
        self._printer: QPrinter | None = None
        self.side = ReportSide(theme, settings, askers.recording)
        self.jobs = Jobs(self)
        self._make_parts()
        self.jobs.advanced.connect(self.progressed)
        self.jobs.progressed.connect(self._job_progressed)
        self.jobs.succeeded.connect(self._job_succeeded)
        self.jobs.failed.connect(self._job_failed)
        replay.session_changed.connect(self._session_changed)
        theme.changed.connect(self._theme_changed)
        self._theme_changed()
        self._session_changed()

    # --- the parts --------------------------------------------------------------------------------------

    def _make_parts(self) -> None:
        row = row_layout(self, margins=(0, 0, 0, 0), spacing=0)
        row.addWidget(self.side)
        right = column_layout(spacing=0)
        self.pages_view = PagesView(self._theme)
        right.addWidget(self.pages_view, 1)
        right.addWidget(self._make_bottom())
        row.addLayout(right, 1)
        self.side.changed.connect(self.lay_out_anew)
        self.side.page_wanted.connect(self.pages_view.go_to)
        self.side.save_wanted.connect(self._ask)
        self.side.print_wanted.connect(self.ask_print)
        self.pages_view.images_wanted.connect(self._draw)
        self.pages_view.page_changed.connect(self._page_changed)
        self.pages_view.zoom_changed.connect(self._zoom_changed)

    def _make_bottom(self) -> QWidget:
        bottom = QWidget()
        set_ground(bottom, "bottom")
        row = row_layout(bottom, margins=(16, 5, 16, 5), spacing=6)
        self._where = ElidedLabel()
        row.addWidget(self._where, 1)
        self._fit_buttons = {
            "width": made_button("Fit width", self.pages_view.fit_width, role="flat", checkable=True),
            "page": made_button("Fit page", self.pages_view.fit_page, role="flat", checkable=True),
        }
        smaller = made_button(
            "\N{MINUS SIGN}",
            self.pages_view.zoom_out,
            role="flat",
            name="Smaller",
            tip="Smaller (-, or Ctrl and the wheel)",
        )
        larger = made_button(
            "+", self.pages_view.zoom_in, role="flat", name="Larger", tip="Larger (+, or Ctrl and the wheel)"
        )
        self._percent = PlainLabel(role="muted")
        self._percent.setAlignment(Qt.AlignmentFlag.AlignCenter)
        for widget in (*self._fit_buttons.values(), smaller, self._percent, larger):
            row.addWidget(widget)
        self._zoom_changed()
        return bottom

    # --- what is chosen ---------------------------------------------------------------------------------

    @Slot()
    def _session_changed(self) -> None:
        self.side.show_session(self._replay.session)
        self.lay_out_anew()

    @Slot()
    def lay_out_anew(self) -> None:
        """Lay the pages out again, when they are looked at: what is on them has changed."""
        self._stale = True
        self.jobs.cancel("pages")
        self.jobs.cancel("images")
        if self._replay.session is None:
            self.pages = None
            self.side.show_contents(None)
            self.pages_view.say("No recording is open.")
        elif self.isVisible():
            self._begin_pages()

    def _begin_pages(self) -> None:
        session = self._replay.session
        if session is None:
            return
        self._stale = False
        if self.pages is None:
            self.pages_view.say("Laying out the pages...")
        self._where.setText("Laying out the pages...")
        self.jobs.start("pages", partial(pages_steps, session.assessment, self.side.choice))

    @guarded()
    def showEvent(self, event: QShowEvent) -> None:
        """Lay the pages out if that is not done yet; keys turn the pages at once."""
        super().showEvent(event)
        if not event.spontaneous():
            self.pages_view.setFocus(Qt.FocusReason.OtherFocusReason)
        if self._stale:
            self._begin_pages()

    @guarded()
    def hideEvent(self, event: QHideEvent) -> None:
        """Stop drawing what nobody sees."""
        if self.jobs.cancel("pages"):
            self._stale = True
        super().hideEvent(event)

    # --- the pages --------------------------------------------------------------------------------------

    def _show_pages(self, pages: Pages) -> None:
        page = self.pages_view.page if self.pages is not None else 0
        self.pages = pages
        self.side.show_contents(pages)
        self.pages_view.show_pages(len(pages.pages), (pages.width, pages.height))
        self.pages_view.go_to(min(page, len(pages.pages) - 1))
        self._page_changed(self.pages_view.page)

    @Slot(int)
    def _page_changed(self, page: int) -> None:
        pages = self.pages
        if pages is None:
            return
        count = len(pages.pages)
        self._where.setText(f"Page {page + 1} of {count}")
        from debrief.report.shapes import Text

        words = " ".join(shape.text for shape in pages.pages[page] if isinstance(shape, Text))
        self.pages_view.setAccessibleDescription(f"Page {page + 1} of {count}. {words}")
        self.side.mark_page(page)

    @Slot(object, int)
    def _draw(self, wanted: tuple[int, ...], dpi: int) -> None:
        pages = self.pages
        if pages is not None:
            self.jobs.start("images", partial(image_steps, pages, wanted, dpi))

    @Slot()
    def _zoom_changed(self) -> None:
        for fit, button in self._fit_buttons.items():
            button.setChecked(self.pages_view.fit == fit)
        self._percent.setText(f"{self.pages_view.percent} %")

    # --- files and the printer --------------------------------------------------------------------------

    @Slot(str)
    def _ask(self, ending: str) -> None:
        """Ask for a name and save in this format."""
        session = self._replay.session
        if session is None:
            return
        suggested = session.path.with_suffix(f".{ending}")
        if suggested == session.path:
            suggested = session.path.with_name(f"{session.path.stem}_report.{ending}")
        self._askers.report(self, str(suggested), partial(self.save, ending))

    def save(self, ending: str, path: str) -> None:
        """Write a file in this format in the background."""
        session = self._replay.session
        if session is None or not path:
            return
        self.progressed.emit(Progress(f"Writing {Path(path).name}"))
        self.jobs.start("save", partial(save_steps, session, self.side.choice, ending, Path(path)))

    @Slot()
    def ask_print(self) -> None:
        """Ask for a printer and print."""
        if self._replay.session is None:
            return
        from PySide6.QtGui import QPageSize
        from PySide6.QtPrintSupport import QPrinter

        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        printer.setFullPage(True)
        size = QPageSize.PageSizeId.A4 if self.side.choice.paper == "a4" else QPageSize.PageSizeId.Letter
        printer.setPageSize(QPageSize(size))
        printer.setDocName(f"Engine debrief {self._replay.session.path.name}")
        if self.pages is not None:
            printer.setFromTo(1, len(self.pages.pages))
        self._printer = printer
        self._askers.printer(self, printer, self.print_pages)

    @Slot()
    def print_pages(self) -> None:
        """Print on the printer that was chosen, in the background."""
        session, printer = self._replay.session, self._printer
        self._printer = None
        if session is not None and printer is not None:
            self.progressed.emit(Progress("Printing"))
            self.jobs.start("save", partial(print_steps, session.assessment, self.side.choice, printer))

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

    @Slot(object)
    def _job_succeeded(self, report: JobReport) -> None:
        if report.name == "pages":
            self._show_pages(report.value)
        elif report.name == "save":
            self.progressed.emit(None)
            words, path = report.value
            if path:
                self.saved.emit(words, path)
            else:
                self.told.emit(words, False, "")

    @Slot(object)
    def _job_failed(self, report: JobReport) -> None:
        error = report.error
        assert error is not None
        if report.name == "save":
            self.progressed.emit(None)
        words, details = told_of(error)
        if report.name == "pages":
            self.pages = None
            self.side.show_contents(None)
            self.pages_view.say(words if not details else "The pages could not be laid out.")
        self.told.emit(words, True, details)

    @Slot()
    def _theme_changed(self) -> None:
        self._percent.setMinimumWidth(self._theme.px(52))
