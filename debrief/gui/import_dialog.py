"""The import dialog: what the columns of a file are, where the reader is unsure or the user wants to look."""

from __future__ import annotations

from dataclasses import fields

from PySide6.QtCore import QModelIndex, Qt, Signal, Slot
from PySide6.QtGui import QGuiApplication, QKeyEvent
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QDialog,
    QGridLayout,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QLineEdit,
    QPushButton,
    QTableView,
    QVBoxLayout,
    QWidget,
)

from debrief.gui.import_questions import LITTLE_HEIGHT, QuestionsPanel
from debrief.gui.import_table import (
    ChoiceBox,
    ColumnsModel,
    ColumnsTable,
    PreviewModel,
    TickBox,
    number_words,
)
from debrief.gui.labels import ElidedLabel, WrappedLabel
from debrief.gui.message_bar import ProgressBar
from debrief.gui.theme import Palette, Theme
from debrief.session.import_form import ImportForm
from debrief.session.import_opening import Accepted
from debrief.session.importing import ColumnProposal, FileProposal

_MANY_COLUMNS = 24
_SHEET = """
QLineEdit, QComboBox {{ background: {panel}; color: {ink}; border: 1px solid {muted}; border-radius: 3px;
  padding: 3px 7px; min-height: {h20}px; selection-background-color: {selection}; selection-color: {ink}; }}
QComboBox {{ combobox-popup: 0; }}
QLineEdit:focus, QComboBox:focus {{ border: 1px solid {ink}; }}
QLineEdit[wanted="true"] {{ border: 2px solid {caution}; }}
QComboBox QAbstractItemView {{ background: {panel}; color: {ink}; border: 1px solid {hairline};
  selection-background-color: {selection}; selection-color: {ink}; outline: none; }}
QTableView {{ border: 1px solid {hairline}; }}
QTableView QComboBox {{ border-radius: 0; padding: 0 7px; min-height: 0; }}
QTableView::item:selected {{ background: {selection}; color: {ink}; }}
QTableView::item:focus {{ border: 1px solid {ink}; }}
QFrame#asked {{ background: {tint_caution}; border: none; border-radius: 4px; }}
QFrame#asked QLabel {{ color: {ink}; }}
QFrame#asked QPushButton {{ background: {panel}; padding: 2px 10px; min-height: {h18}px; border: 1px solid {muted}; }}
QFrame#asked QPushButton:checked {{ background: {ink}; color: {panel}; border: 1px solid {ink}; }}
QFrame#asked QPushButton:focus {{ border: 2px solid {speed}; }}
QScrollArea#asked_area, QWidget#asked_body {{ background: transparent; }}
QComboBox::drop-down {{ border: none; width: {h20}px; }}
QPushButton[role="primary"]:disabled {{ background: {panel}; color: {muted}; border: 1px solid {hairline}; }}
QCheckBox::indicator {{ width: {s14}px; height: {s14}px; border: 1px solid {muted}; border-radius: 3px;
  background: {panel}; }}
QCheckBox::indicator:focus {{ border: 1px solid {ink}; }}
QCheckBox:focus {{ text-decoration: underline; }}
QCheckBox:disabled {{ color: {muted}; }}
"""


class ImportDialog(QDialog):
    """Shows a proposed file and takes corrections; opening the file is the importer's business.

    Parameters
    ----------
    proposal : FileProposal
        What to show.
    theme : Theme

    Signals
    -------
    open_wanted : Accepted
        The user accepts what is shown.
    cancel_wanted
        The user stops the reading that goes on.
    """

    open_wanted = Signal(object)
    cancel_wanted = Signal()

    def __init__(self, proposal: FileProposal, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.form = ImportForm(proposal)
        self._model = ColumnsModel(self.form, self)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
        self.setWindowTitle(f"Columns of {proposal.path.name}")
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 14, 18, 14)
        column.setSpacing(8)
        column.addLayout(self._make_top())
        self.questions = QuestionsPanel(self.form, theme)
        self.questions.answered.connect(self._model.tell_changed)
        column.addWidget(self.questions)
        column.addLayout(self._make_fields())
        self.preview = self._make_preview()
        column.addWidget(self.preview)
        column.addLayout(self._make_filter())
        self.table = ColumnsTable(self._model, theme)
        column.addWidget(self.table, 1)
        self._make_bottom(column)
        self._model.form_changed.connect(self._form_changed)
        self.table.selectionModel().currentChanged.connect(self._current_changed)
        theme.changed.connect(self._theme_changed)
        self._fit_to_screen()
        self._theme_changed()
        self._filter()
        self._form_changed("")
        self._focus_first()

    # --- the parts --------------------------------------------------------------------------------

    def _make_top(self) -> QHBoxLayout:
        proposal = self.form.proposal
        row = QHBoxLayout()
        row.setSpacing(14)
        title = ElidedLabel(f"What are the columns of {proposal.path.name}?", keeps_width=True)
        title.setProperty("role", "title")
        row.addWidget(title)
        self._summary = ElidedLabel()
        self._summary.setProperty("role", "muted")
        row.addWidget(self._summary, 1)
        return row

    def _make_fields(self) -> QGridLayout:
        proposal, form = self.form.proposal, self.form
        grid = QGridLayout()
        grid.setHorizontalSpacing(12)
        grid.setVerticalSpacing(3)
        self.rate = QLineEdit(form.rate_text)
        self.rate.setPlaceholderText("such as 10")
        self.rate.textChanged.connect(self._typed)
        self.profile = ChoiceBox(self._theme)
        self._fill_profiles()
        self.profile.currentIndexChanged.connect(self._profile_chosen)
        known = proposal.identity
        told = known.start.isoformat(timespec="seconds") if known.start is not None else ""
        self.aircraft = _line(form.aircraft, known.aircraft, "not known")
        self.engine_serial = _line(form.engine_serial, known.engine_serial, "not known")
        self.start = _line(form.start_text, told, "such as 2024-05-01T09:30:00+02:00")
        parts: list[tuple[str, QWidget, int]] = []
        if proposal.needs_rate:
            parts.append(("Samples &per second", self.rate, 2))
        else:
            self.rate.setParent(self)
            self.rate.hide()
        parts += [
            ("Engine pro&file", self.profile, 3),
            ("&Aircraft (optional)", self.aircraft, 2),
            ("&Engine serial (optional)", self.engine_serial, 2),
            ("&Start of the recording (optional)", self.start, 4),
        ]
        for place, (words, widget, stretch) in enumerate(parts):
            label = QLabel(words)
            label.setProperty("role", "small")
            label.setBuddy(widget)
            widget.setAccessibleName(words.replace("&", ""))
            grid.addWidget(label, 0, place)
            grid.addWidget(widget, 1, place)
            grid.setColumnStretch(place, stretch)
            if isinstance(widget, QLineEdit) and widget is not self.rate:
                widget.textChanged.connect(self._typed)
        return grid

    def _fill_profiles(self) -> None:
        proposal = self.form.proposal
        names = dict(proposal.profiles)
        if proposal.profile_name:
            self.profile.addItem(
                f"As the file says: {names.get(proposal.profile_name, proposal.profile_name)}", None
            )
        else:
            self.profile.addItem("None: nothing is judged", None)
        for stem, name in proposal.profiles:
            self.profile.addItem(name, stem)
        chosen = self.form.profile
        if chosen is not None and self.profile.findData(chosen) < 0:
            self.profile.addItem(chosen, chosen)
        self.profile.setCurrentIndex(max(0, self.profile.findData(chosen)) if chosen is not None else 0)
        self.profile.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.profile.setMinimumContentsLength(18)

    def _make_preview(self) -> QTableView:
        preview = QTableView()
        preview.setModel(PreviewModel(self.form.proposal, self))
        preview.setAccessibleName("First rows of the file")
        preview.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        preview.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectColumns)
        preview.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        preview.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        preview.setTabKeyNavigation(False)
        preview.setWordWrap(False)
        preview.verticalHeader().hide()
        preview.horizontalHeader().setHighlightSections(False)
        preview.horizontalHeader().setSectionsClickable(False)
        return preview

    def _make_filter(self) -> QHBoxLayout:
        columns = self.form.proposal.columns
        row = QHBoxLayout()
        row.setSpacing(8)
        self.shown = ChoiceBox(self._theme)
        self.shown.setAccessibleName("Which columns are listed")
        self.shown.addItem("All columns")
        self.shown.addItem("Used or unsure")
        marked = sum(1 for column in columns if _is_marked(column))
        self.shown.setCurrentIndex(1 if len(columns) > _MANY_COLUMNS and marked else 0)
        self.shown.currentIndexChanged.connect(self._filter)
        row.addWidget(self.shown)
        self.finder = QLineEdit()
        self.finder.setPlaceholderText("Find a column")
        self.finder.setAccessibleName("Find a column by its name")
        self.finder.setClearButtonEnabled(True)
        self.finder.setMaximumWidth(self._theme.px(260))
        self.finder.textChanged.connect(self._filter)
        row.addWidget(self.finder)
        self._listed = ElidedLabel()
        self._listed.setProperty("role", "small")
        row.addWidget(self._listed, 1)
        return row

    def _make_bottom(self, column: QVBoxLayout) -> None:
        self._said = WrappedLabel()
        self._said.setAccessibleName("What is still to be done")
        column.addWidget(self._said)
        self._progress = ProgressBar()
        self._progress.cancel_wanted.connect(self.cancel_wanted)
        column.addWidget(self._progress)
        row = QHBoxLayout()
        row.setSpacing(10)
        self.remember = TickBox("&Remember the columns for this kind of file", self._theme)
        self.remember.setChecked(self.form.remember)
        self.remember.toggled.connect(self._remember_toggled)
        row.addWidget(self.remember)
        row.addStretch(1)
        self._cancel = QPushButton("Cancel")
        self._cancel.setAutoDefault(False)
        self._cancel.clicked.connect(self.reject)
        row.addWidget(self._cancel)
        self._open = QPushButton("&Open")
        self._open.setProperty("role", "primary")
        self._open.setDefault(True)
        self._open.clicked.connect(self.accept)
        row.addWidget(self._open)
        column.addLayout(row)

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
        if self.form.proposal.needs_rate and not self.questions.has_time_answer:
            self.rate.setFocus()
        elif not self.questions.focus_first():
            self.table.setFocus()
        columns = self.form.proposal.columns
        first = next((c.number for c in columns if _is_marked(c) and c.channel != "time"), 0)
        self.table.setCurrentIndex(self._model.index(first, 1))

    # --- what changes -----------------------------------------------------------------------------

    @property
    def words(self) -> str:
        """What is said below the table."""
        return self._said.text()

    @Slot(str)
    def _form_changed(self, said: str) -> None:
        problems = self.form.problems()
        parts = [said] if said else []
        parts += problems[:2]
        if len(problems) > 2:
            parts.append(f"{len(problems) - 2} more are open.")
        self._said.setText(" ".join(parts))
        self._said.setVisible(bool(parts))
        self._open.setEnabled(not problems)
        can_remember = bool(self.form.maps()) or self.form.proposal.remembered
        self.remember.setEnabled(can_remember)
        self.remember.setToolTip("" if can_remember else "All columns that are used are sure.")
        if self.form.proposal.needs_rate:
            self.rate.setEnabled(self.form.needs_rate)
            wanted = self.form.needs_rate and self.form.rate_hz is None
            if self.rate.property("wanted") != wanted:
                self.rate.setProperty("wanted", wanted)
                self.rate.style().unpolish(self.rate)
                self.rate.style().polish(self.rate)
        self.questions.show_answers()
        used = len([c for c in self.form.kept_channels() if c])
        rows, count = self.form.proposal.rows, len(self.form.proposal.columns)
        self._summary.setText(f"{number_words(rows)} rows, {count} columns, {used} used")

    @Slot()
    def _typed(self) -> None:
        self.form.rate_text = self.rate.text()
        self.form.aircraft = self.aircraft.text()
        self.form.engine_serial = self.engine_serial.text()
        self.form.start_text = self.start.text()
        self._form_changed("")

    @Slot()
    def _profile_chosen(self) -> None:
        self.form.profile = self.profile.currentData()

    @Slot(bool)
    def _remember_toggled(self, checked: bool) -> None:
        self.form.remember = checked

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
            place = self.preview.model().index(0, current.row())
            self.preview.scrollTo(place)
            self.preview.selectColumn(current.row())

    @Slot()
    def _theme_changed(self) -> None:
        theme = self._theme
        values: dict[str, object] = {f.name: getattr(theme.palette, f.name) for f in fields(Palette)}
        self.setStyleSheet(_SHEET.format(**values, h20=theme.px(20), h18=theme.px(18), s14=theme.px(14)))
        self.table.resize_rows()
        preview = self.preview
        preview.verticalHeader().setMinimumSectionSize(10)
        preview.verticalHeader().setDefaultSectionSize(theme.px(22))
        header = preview.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        metrics = theme.metrics(13)
        rows = self.form.proposal.preview
        for number, name in enumerate(self.form.proposal.names):
            texts = [name or "(no name)", *(row[number] for row in rows if number < len(row))]
            width = max(metrics.horizontalAdvance(text) for text in texts) + theme.px(30)
            header.resizeSection(number, round(min(width, theme.px(240))))
        little = self.height() < theme.px(LITTLE_HEIGHT)
        shown = min(len(rows), 3 if little else 5)
        preview.setFixedHeight(header.sizeHint().height() + shown * theme.px(22) + theme.px(14))

    # --- opening ----------------------------------------------------------------------------------

    def accept(self) -> None:
        """Ask for the file to be opened as it is shown; the dialog stays until that has worked."""
        if self.form.problems():
            self._form_changed("")
            return
        form = self.form
        remember: bool | None = None
        if self.remember.isEnabled() and form.remember:
            remember = True
        elif form.proposal.remembered:
            remember = False
        self._set_busy(True)
        self.open_wanted.emit(Accepted(form.proposal.path, form.choices(), form.kept_channels(), remember))

    def tell_progress(self, words: str, fraction: float | None) -> None:
        """Show how far the reading is."""
        self._progress.tell(words, fraction)

    def tell_failed(self, words: str) -> None:
        """Say why it could not be opened, or that it was stopped; everything can be chosen anew."""
        self._set_busy(False)
        self._form_changed(words)

    def _set_busy(self, busy: bool) -> None:
        parts: tuple[QWidget, ...] = (self.questions, self.preview, self.table, self._open, self.remember)
        fields_: tuple[QWidget, ...] = (
            self.rate,
            self.profile,
            self.aircraft,
            self.engine_serial,
            self.start,
        )
        for part in (*parts, *fields_):
            part.setEnabled(not busy)
        if not busy:
            self._progress.hide()
        self._said.setVisible(not busy and bool(self._said.text()))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Let Enter in a field open the file only where nothing is missing."""
        enter = event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter)
        if enter and isinstance(self.focusWidget(), QComboBox):
            event.accept()
            return
        super().keyPressEvent(event)


def _line(text: str, known: str | None, without: str) -> QLineEdit:
    line = QLineEdit(text)
    line.setPlaceholderText(f"{known} (from the file)" if known else without)
    line.setToolTip(line.placeholderText())
    return line


def _is_marked(column: ColumnProposal) -> bool:
    return bool(column.channel or column.candidates)
