"""All that is remembered of the window in one dialog: it is seen at once, and Cancel takes it back."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt, QUrl, Signal, Slot
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import (
    QDialog,
    QDialogButtonBox,
    QFormLayout,
    QFrame,
    QLineEdit,
    QListWidget,
    QListWidgetItem,
    QScrollArea,
    QWidget,
)

from debrief.errors import UserError
from debrief.gui.background.guarded import guarded
from debrief.gui.menus.time_menu import TimeMenu
from debrief.gui.menus.units_menu import UnitsMenu
from debrief.gui.plain_text import entry
from debrief.gui.shell.appearance import THEME_WORDS, Look, Looks
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import CHOICES as THEMES
from debrief.gui.style.theme import Theme
from debrief.gui.style.theme_sheet import dialog_sheet
from debrief.gui.widgets.choice_boxes import ChoiceBox, TickBox
from debrief.gui.widgets.labels import ElidedLabel, PlainLabel
from debrief.gui.widgets.parts import column_layout, fit_to_screen, made_button, row_layout
from debrief.home import history_file, home
from debrief.recording.matching.remembered import Kept, Remembered
from debrief.session.importing.remembered_words import remembered_words
from debrief.session.profiles.profile_form import own_folder
from debrief.words.display_units import CHOICES, shown_units
from debrief.words.numbers import unit_words

_KINDS_HEIGHT = 58
_CLOCK_HINT = (
    "Paper, command line and the sentences of findings tell elapsed time, and when the recording began."
)
_SCALES = (0.8, 0.9, 1.0, 1.1, 1.2, 1.3, 1.4, 1.6, 1.8, 2.0)
_FLAGS: tuple[tuple[Look, str], ...] = (("tapes", "&Gauges as tapes"), ("bands", "Shade the profile's &bands"), ("strips", "Show s&witches and levers"), ("reduced_motion", "Reduced &motion: the replay moves once a second"))  # fmt: skip


class SettingsDialog(QDialog):
    """Looks, units, who writes notes, what kinds of file are remembered, and where one's own data lie.

    Signals
    -------
    told : str, bool
        A sentence for the user, and whether it is a problem.
    """

    told = Signal(str, bool)

    def __init__(
        self,
        theme: Theme,
        settings: Settings,
        looks: Looks,
        units: UnitsMenu,
        times: TimeMenu,
        parent: QWidget,
    ) -> None:
        super().__init__(parent)
        self._theme = theme
        self._settings = settings
        self._looks = looks
        self._units = units
        self._times = times
        self._forgotten: list[str] = []
        self._before = (
            theme.choice,
            theme.scale,
            settings.units,
            settings.author,
            self._flags(),
            settings.time_shown,
        )
        self.setWindowTitle("Settings")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
        fit_to_screen(self, theme.px(640), theme.px(660))
        column = column_layout(self, margins=(16, 14, 16, 12), spacing=10)
        scrolled = QScrollArea(widgetResizable=True)
        scrolled.setFrameShape(QFrame.Shape.NoFrame)
        scrolled.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        scrolled.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        body = QWidget()
        body.setObjectName("panel")
        self._form = QFormLayout(body, horizontalSpacing=14, verticalSpacing=8)
        scrolled.setWidget(body)
        column.addWidget(scrolled, 1)
        self._add_looks()
        self._add_times()
        self._add_units()
        self._author = QLineEdit(settings.author)
        self._author.textEdited.connect(self._author_changed)
        self._form.addRow("&Notes are by", self._author)
        self._add_remembered()
        self._add_places()
        buttons = QDialogButtonBox()
        done = buttons.addButton("&Done", QDialogButtonBox.ButtonRole.AcceptRole)
        done.setDefault(True)
        buttons.addButton("Cancel", QDialogButtonBox.ButtonRole.RejectRole)
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        column.addWidget(buttons)
        theme.changed.connect(self._dress)
        self._dress()

    @Slot()
    def _dress(self) -> None:
        self.setStyleSheet(dialog_sheet(self._theme.palette, self._theme.px))
        self._kinds.setFixedHeight(self._theme.px(_KINDS_HEIGHT))

    def _flags(self) -> tuple[bool, ...]:
        return tuple(bool(getattr(self._settings, name)) for name, _ in _FLAGS)

    def _add_looks(self) -> None:
        colours = ChoiceBox(self._theme)
        for choice in THEMES:
            colours.addItem(THEME_WORDS[choice].replace("&", ""), choice)
        colours.setCurrentIndex(colours.findData(self._theme.choice))
        colours.currentIndexChanged.connect(self._colours_changed)
        self._colours = colours
        self._form.addRow("&Colours", colours)
        size = ChoiceBox(self._theme)
        for scale in sorted({*_SCALES, self._theme.scale}):
            size.addItem(f"{round(100 * scale)} %", scale)
        size.setCurrentIndex(size.findData(self._theme.scale))
        size.currentIndexChanged.connect(self._size_changed)
        self._size = size
        self._form.addRow("&Text size", size)
        for name, words in _FLAGS:
            tick = TickBox(words, self._theme)
            tick.setChecked(getattr(self._settings, name))
            tick.toggled.connect(partial(self._looks.use, name))
            self._form.addRow("", tick)

    def _add_times(self) -> None:
        box = ChoiceBox(self._theme)
        for row, (shown, words, can_be) in enumerate(self._times.choices()):
            box.addItem(words, shown)
            if not can_be:
                box.setItemData(row, Qt.ItemFlag.NoItemFlags, Qt.ItemDataRole.UserRole - 1)
        box.setCurrentIndex(box.findData(self._settings.time_shown))
        box.currentIndexChanged.connect(self._time_changed)
        self._time = box
        self._form.addRow("Cloc&k", box)
        self._form.addRow("", PlainLabel(_CLOCK_HINT, role="small", wraps=True))

    def _add_units(self) -> None:
        self._boxes: dict[str, ChoiceBox] = {}
        for kind, units in CHOICES.items():
            box = self._boxes[kind] = ChoiceBox(self._theme)
            for unit in units:
                box.addItem(unit_words(unit), unit)
            box.setCurrentIndex(box.findData(self._settings.units.of(units[0])))
            box.currentIndexChanged.connect(self._units_changed)
            self._form.addRow(kind.capitalize(), box)

    def _add_remembered(self) -> None:
        self._kinds = QListWidget()
        self._kinds.setAccessibleName("Remembered kinds of file")
        self._kinds.setWordWrap(True)
        self._kinds.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        nothing = "No kind of file is remembered."
        try:
            remembered = Remembered()
            kinds = {signature: remembered.kept(signature) for signature in remembered}
        except UserError as error:
            kinds, nothing = {}, str(error)
        for signature, kept in kinds.items():
            item = QListWidgetItem(entry(remembered_words(kept, {})))
            item.setData(Qt.ItemDataRole.UserRole, signature)
            self._kinds.addItem(item)
        self._forget = made_button("&Forget", self._forget_kind, name="Forget the chosen kind of file")
        self._kinds.currentRowChanged.connect(self._kind_chosen)
        self._none = PlainLabel(nothing, role="muted", wraps=True)
        self._form.addRow("&Remembered kinds of file", self._kinds)
        self._form.addRow("", self._none)
        self._forget_row = row_layout()
        self._forget_row.addWidget(self._forget)
        self._forget_row.addStretch(1)
        self._form.addRow("", self._forget_row)
        self._kind_chosen()

    @Slot()
    def _kind_chosen(self) -> None:
        any_left = self._kinds.count() > 0
        self._form.setRowVisible(self._kinds, any_left)
        self._form.setRowVisible(self._forget_row, any_left)
        self._form.setRowVisible(self._none, not any_left)
        self._forget.setEnabled(self._kinds.currentRow() >= 0)

    def _add_places(self) -> None:
        # The folder of profiles is made where it is opened.
        for words, folder, shown in (
            ("Data folder", home(), home()),
            ("Engine profiles", own_folder(), own_folder()),
            ("History", history_file().parent, history_file()),
        ):
            row = row_layout(spacing=8)
            label = ElidedLabel(str(shown), mode=Qt.TextElideMode.ElideMiddle)
            label.setAccessibleName(f"{words}: {shown}")
            row.addWidget(label, 1)
            row.addWidget(made_button("Open", partial(self._open, folder), name=f"Open folder: {words}"))
            self._form.addRow(words, row)

    def _open(self, folder: Path, *_: object) -> None:
        if folder == own_folder():
            own_folder(make=True)
        if not QDesktopServices.openUrl(QUrl.fromLocalFile(str(folder))):
            self.told.emit(f"No program opened the folder {folder}.", True)

    @Slot()
    def _colours_changed(self) -> None:
        self._looks.use_colours(self._colours.currentData())

    @Slot()
    def _size_changed(self) -> None:
        self._looks.use_scale(self._size.currentData())

    @Slot()
    def _time_changed(self) -> None:
        self._times.use(self._time.currentData())

    @Slot()
    def _units_changed(self) -> None:
        self._units.use(shown_units({kind: str(box.currentData()) for kind, box in self._boxes.items()}))

    @Slot(str)
    def _author_changed(self, author: str) -> None:
        self._settings.author = author.strip()

    @Slot()
    def _forget_kind(self) -> None:
        """Take a kind off the list; it is forgotten with Done."""
        item = self._kinds.takeItem(self._kinds.currentRow())
        if item is not None:
            self._forgotten.append(str(item.data(Qt.ItemDataRole.UserRole)))
        self._kind_chosen()

    @guarded()
    def accept(self) -> None:
        """Forget what was taken off the list; all else is as it is seen."""
        try:
            for signature in self._forgotten:
                Remembered().remember(signature, Kept())
        except UserError as error:
            self.told.emit(str(error), True)
        super().accept()

    @guarded()
    def reject(self) -> None:
        """Take everything back."""
        choice, scale, units, author, flags, time_shown = self._before
        if self._theme.choice != choice:
            self._looks.use_colours(choice)
        if self._theme.scale != scale:
            self._looks.use_scale(scale)
        for (name, _), on in zip(_FLAGS, flags, strict=True):
            self._looks.use(name, on)
        self._units.use(units)
        self._times.use(time_shown)
        self._settings.author = author
        super().reject()
