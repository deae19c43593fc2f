"""The import dialog: what the columns of a file are, where the reader is unsure or the user wants to look."""

from __future__ import annotations

from collections.abc import Iterator

from PySide6.QtCore import QModelIndex, Qt, QTimer, Signal, Slot
from PySide6.QtGui import QCloseEvent, QGuiApplication, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QComboBox, QDialog, QHBoxLayout, QLineEdit, QVBoxLayout, QWidget

from debrief.gui.background.drafts import LeftDraft
from debrief.gui.background.guarded import guarded
from debrief.gui.importing.import_fields import FileFields
from debrief.gui.importing.import_model import ColumnsModel, number_words
from debrief.gui.importing.import_preview import PreviewTable
from debrief.gui.importing.import_table import ColumnsTable
from debrief.gui.importing.kept_answers import KeptAnswers
from debrief.gui.importing.question_list import QuestionsPanel
from debrief.gui.plain_text import plain_tip, titled
from debrief.gui.style.theme import Theme
from debrief.gui.style.theme_sheet import dialog_sheet
from debrief.gui.widgets.asking import ask_about_choices
from debrief.gui.widgets.choice_boxes import ChoiceBox, TickBox
from debrief.gui.widgets.labels import ElidedLabel, WrappedLabel
from debrief.gui.widgets.message_bar import ProgressBar
from debrief.gui.widgets.parts import column_layout, made_button, row_layout
from debrief.session.importing.column_proposal import ColumnProposal
from debrief.session.importing.file_proposal import FileProposal
from debrief.session.importing.import_form import ImportForm
from debrief.session.importing.import_opening import Accepted
from debrief.session.importing.judgement_gaps import gap_words

_MANY_COLUMNS = 24
_SAID_LINES = 2
_REMEMBERS = "Columns, rate, profile, aircraft and engine. The last three are offered next time, not taken."


class ImportDialog(QDialog):
    """Shows a proposed file and takes corrections; opening the file is the importer's business.

    It is put together in steps of the event loop, so that a file of some hundred columns does not hold the
    window up; nothing can be opened before `is_ready`.

    Signals
    -------
    ready
        All is there.
    open_wanted : Accepted
        The user accepts what is shown.
    cancel_wanted
        The user stops the reading that goes on.
    new_profile_wanted
        The user asks to make a profile.
    forget_wanted : str
        What is remembered for files of this header signature is to be forgotten.
    """

    new_profile_wanted = Signal()

    ready = Signal()
    open_wanted = Signal(object)
    cancel_wanted = Signal()
    forget_wanted = Signal(str)

    def __init__(
        self,
        proposal: FileProposal,
        theme: Theme,
        parent: QWidget | None = None,
        left: LeftDraft | None = None,
        brings_back: bool = False,
    ) -> None:
        super().__init__(parent)
        self._theme = theme
        self.form = ImportForm(proposal)
        self._answers = KeptAnswers(self.form, left, self)
        self._answers.brought_back.connect(self._brought_back)
        self._brings_back = brings_back
        self._model = ColumnsModel(self.form, self)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
        self.setWindowTitle(f"Columns of {titled(proposal.path.name)}")
        self.setStyleSheet(
            dialog_sheet(theme.palette, theme.px)
        )  # before there is anything that it would be laid over anew
        self._column = column_layout(self, margins=(18, 14, 18, 14), spacing=8)
        self._column.addLayout(self._make_top())
        self._fit_to_screen()
        self._ready = False
        self._steps: Iterator[None] | None = self._build()
        self._timer = QTimer(self, singleShot=True, interval=0)
        self._timer.timeout.connect(self._go_on)
        self._timer.start()

    # --- the parts --------------------------------------------------------------------------------

    @property
    def is_ready(self) -> bool:
        """Whether all is there."""
        return self._ready

    @Slot()
    def _go_on(self) -> None:
        """Do the next step of what is to be done."""
        if self._steps is None:
            return
        if next(self._steps, self) is not self:
            self._timer.start()
        else:
            self._steps = None

    def _build(self) -> Iterator[None]:
        """Make the parts from top to bottom, and then what takes long in them, each step a short one."""
        theme, form = self._theme, self.form
        row = None if self._brings_back else self._answers.make_row()
        if row is not None:
            self._column.addWidget(row)
            yield
        self.questions = QuestionsPanel(form, theme)
        self.questions.answered.connect(self._model.tell_changed)
        self.questions.forget_wanted.connect(self._forget)
        self._column.addWidget(self.questions)
        yield
        self.fields = FileFields(form, theme)
        self.fields.typed.connect(self._typed)
        self.fields.new_profile_wanted.connect(self.new_profile_wanted)
        self._column.addWidget(self.fields)
        yield
        self.preview = PreviewTable(form.proposal, theme)
        self.preview.fit_height(self.height())
        yield
        self._column.addWidget(self.preview)
        yield
        self._column.addLayout(self._make_filter())
        self.table = ColumnsTable(self._model, theme)
        yield
        self._column.addWidget(self.table, 1)
        yield
        self._make_bottom(self._column)
        yield from self.questions.ask_all()
        yield
        yield from self.preview.fit_widths()
        yield
        self.table.selectionModel().currentChanged.connect(self._current_changed)
        self._model.form_changed.connect(self._form_changed)
        theme.changed.connect(self._theme_changed)
        self._filter()
        self._form_changed("")
        self._focus_first()
        self._ready = True
        if self._brings_back:
            self._answers.bring_back()
        self.ready.emit()

    def _make_top(self) -> QHBoxLayout:
        proposal = self.form.proposal
        row = row_layout(spacing=14)
        title = ElidedLabel(f"What are the columns of {proposal.path.name}?", keeps_width=True, role="title")
        row.addWidget(title)
        self._summary = ElidedLabel(role="muted")
        row.addWidget(self._summary, 1)
        return row

    def _make_filter(self) -> QHBoxLayout:
        columns = self.form.proposal.columns
        row = row_layout(spacing=8)
        self.shown = ChoiceBox(self._theme)
        self.shown.setAccessibleName("Which columns are listed")
        self.shown.addItem("All columns")
        self.shown.addItem("Used or unsure")
        marked = sum(1 for column in columns if _is_marked(column))
        self.shown.setCurrentIndex(1 if len(columns) > _MANY_COLUMNS and marked else 0)
        self.shown.currentIndexChanged.connect(self._filter)
        row.addWidget(self.shown)
        self.finder = QLineEdit(placeholderText="Find a column", clearButtonEnabled=True)
        self.finder.setAccessibleName("Find a column by its name")
        self.finder.setMaximumWidth(self._theme.px(260))
        self.finder.textChanged.connect(self._filter)
        row.addWidget(self.finder)
        self._listed = ElidedLabel(role="small")
        row.addWidget(self._listed, 1)
        return row

    def _make_bottom(self, column: QVBoxLayout) -> None:
        # Always there and always as high, so that nothing moves when it has something to say.
        self._said = WrappedLabel()
        self._said.setAccessibleName("What is still to be done")
        self._said.setAlignment(Qt.AlignmentFlag.AlignTop)
        column.addWidget(self._said)
        self._fit_said()
        self._progress = ProgressBar()
        self._progress.cancel_wanted.connect(self.cancel_wanted)
        column.addWidget(self._progress)
        row = row_layout(spacing=10)
        self.remember = TickBox("&Remember this for this kind of file", self._theme)
        self.remember.setChecked(self.form.remember)
        self.remember.toggled.connect(self._remember_toggled)
        row.addWidget(self.remember)
        row.addStretch(1)
        self._cancel = made_button("Cancel", self.reject)
        row.addWidget(self._cancel)
        self._open = made_button("&Open", role="primary")
        self._open.setDefault(True)
        self._open.clicked.connect(self.accept)
        row.addWidget(self._open)
        column.addLayout(row)

    def _fit_said(self) -> None:
        self._said.setFixedHeight(round(_SAID_LINES * self._theme.metrics(13).lineSpacing()) + 4)

    def _fit_to_screen(self) -> None:
        theme = self._theme
        screen = self.screen() or QGuiApplication.primaryScreen()
        room = screen.availableGeometry()
        parent = self.parentWidget()
        high = min(theme.px(900), room.height() - 50)
        if parent is not None:
            high = min(high, max(parent.height() - 30, theme.px(600)))
        self.resize(min(theme.px(1260), room.width() - 60), high)

    def _focus_first(self) -> None:
        """Begin where something is wanted."""
        if self._answers.row is not None:
            self._answers.row.take_focus()
        elif not self.form.proposal.has_header and not self.form.needs_rate:
            self.table.setFocus()  # what the columns are is all that is wanted
        elif self.form.needs_rate and self.form.rate_hz is None and not self.questions.has_time_answer:
            self.fields.rate.setFocus()
        elif not self.questions.focus_first():
            (self.table if self.form.proposal.has_a_lane else self._open).setFocus()
        columns = self.form.proposal.columns
        marked = [c.number for c in columns if _is_marked(c) and c.channel != "time"]
        if not self.form.proposal.has_header:
            marked += [c.number for c in columns if not c.channel]
        first = next(iter(marked), 0)
        self.table.setCurrentIndex(self._model.index(first, 1))

    # --- what changes -----------------------------------------------------------------------------

    @property
    def words(self) -> str:
        """What is said below the table."""
        return self._said.text()

    @Slot(str)
    def _form_changed(self, said: str) -> None:
        self._answers.touch()
        problems = self.form.problems()
        parts = [said] if said else []
        parts += problems[:2]
        if len(problems) > 2:
            parts.append(f"{len(problems) - 2} more are open.")
        if not parts:
            parts.append(gap_words(self.form.kept_channels()))
        words = " ".join(filter(None, parts))
        self._said.setText(words)
        self._said.setToolTip(plain_tip(words))
        self._open.setEnabled(not problems)
        can_remember = self.form.has_something_to_remember
        self.remember.setEnabled(can_remember)
        self.remember.setToolTip(_REMEMBERS if can_remember else "All columns that are used are sure.")
        self.fields.show_form()
        self.fields.show_wanted()
        self.questions.show_answers()
        used = len([c for c in self.form.kept_channels() if c])
        rows, count = self.form.proposal.rows, len(self.form.proposal.columns)
        self._summary.setText(f"{number_words(rows)} rows, {count} columns, {used} used")

    @Slot()
    def _typed(self) -> None:
        if self.is_ready:
            self._form_changed("")

    @Slot(bool)
    def _remember_toggled(self, checked: bool) -> None:
        self.form.remember = checked
        self._answers.touch()

    @Slot()
    def _filter(self) -> None:
        """List the columns that are wanted, by use and by name."""
        wanted = self.finder.text().strip().casefold()
        marked_only = self.shown.currentIndex() == 1 and not wanted
        listed = 0
        for column in self.form.proposal.columns:
            fits = wanted in column.name.casefold()
            hidden = not fits or (
                marked_only and not _is_marked(column) and not self.form.channel(column.number)
            )
            self.table.setRowHidden(column.number, hidden)
            listed += not hidden
        left = len(self.form.proposal.columns) - listed
        words = "Click, Enter or Space on a cell chooses."
        self._listed.setText(f"{left} columns are not listed. {words}" if left else words)

    @Slot(QModelIndex, QModelIndex)
    def _current_changed(self, current: QModelIndex, previous: QModelIndex) -> None:
        """Show the same column in the first rows of the file."""
        if current.isValid():
            self.preview.show_column(current.row())

    @Slot()
    def _theme_changed(self) -> None:
        self.setStyleSheet(dialog_sheet(self._theme.palette, self._theme.px))
        self.table.resize_rows()
        self.questions.show_theme()
        self._fit_said()
        self.preview.fit_height(self.height())
        self._steps = self.preview.fit_widths()
        self._timer.start()

    @Slot()
    def _brought_back(self) -> None:
        self.remember.setChecked(self.form.remember)
        self._model.tell_changed()
        self._focus_first()

    def put_off(self) -> None:
        """Close, since the program ends, and have what was answered offered the next time."""
        self._answers.put_off()
        self.reject()

    # --- opening ----------------------------------------------------------------------------------

    @guarded()
    def accept(self) -> None:
        """Ask for the file to be opened as it is shown; the dialog stays until that has worked."""
        if not self.is_ready:
            return
        if self.form.problems():
            self._form_changed("")
            return
        form = self.form
        remember: bool | None = None
        if self.remember.isEnabled() and form.remember:
            remember = True
        elif not form.proposal.kept.is_empty:
            remember = False
        self._set_busy(True)
        file = form.proposal
        self.open_wanted.emit(
            Accepted(file.path, form.choices(), form.kept_channels(), remember, file.sha256)
        )

    @guarded()
    def done(self, result: int) -> None:
        """Close, also where not all is there yet."""
        self._timer.stop()
        self._steps = None
        self._answers.end()
        super().done(result)

    def tell_progress(self, words: str, fraction: float | None) -> None:
        """Show how far the reading is."""
        self._progress.tell(words, fraction)

    @Slot()
    def _forget(self) -> None:
        self.forget_wanted.emit(self.form.proposal.signature)

    def tell_forgotten(self) -> None:
        """Show that nothing is remembered for this kind of file any more."""
        self.remember.setChecked(False)
        self.questions.tell_forgotten()

    def tell_failed(self, words: str) -> None:
        """Say why it could not be opened, or that it was stopped; everything can be chosen anew."""
        self._set_busy(False)
        self._form_changed(words)

    def _set_busy(self, busy: bool) -> None:
        parts = (self.questions, self.fields, self.preview, self.table, self._open, self.remember)
        for part in parts:
            part.setEnabled(not busy)
        if not busy:
            self._progress.hide()
        self._said.setVisible(not busy)

    @guarded()
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Let Enter in a field open the file only where nothing is missing."""
        enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if enter and isinstance(self.focusWidget(), QComboBox):
            event.accept()
            return
        if event.matches(QKeySequence.StandardKey.Cancel):
            event.accept()
            self._leave()
            return
        super().keyPressEvent(event)

    @guarded()
    def closeEvent(self, event: QCloseEvent) -> None:
        """Ask first where a person closes the window over what was chosen."""
        if event.spontaneous() and self._answers.is_touched:
            event.ignore()
            self._leave()
            return
        super().closeEvent(event)

    def _leave(self) -> None:
        """Close as Escape does: at once where nothing was chosen, else after the question whether it may go."""
        if self._answers.is_touched:
            ask_about_choices(self, self.reject)
        else:
            self.reject()


def _is_marked(column: ColumnProposal) -> bool:
    return bool(column.channel or column.candidates)
