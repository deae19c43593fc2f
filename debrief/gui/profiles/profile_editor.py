"""The profile editor: a form over the TOML file, checked by the profile's own reader while one types."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QCloseEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QFormLayout,
    QFrame,
    QHBoxLayout,
    QListWidget,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from debrief.errors import UserError
from debrief.gui.background.guarded import guarded
from debrief.gui.plain_text import entry, plain_tip, titled
from debrief.gui.profiles.completeness_list import CompletenessList
from debrief.gui.profiles.field_editors import FieldEditor
from debrief.gui.profiles.profile_preview import ProfilePreview
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.asking import (
    USUAL_ASKERS,
    Askers,
    ask_about_unsaved,
)
from debrief.gui.widgets.labels import PlainLabel, WrappedLabel
from debrief.gui.widgets.parts import column_layout, made_button, row_layout, set_ground
from debrief.profile.fields import ProfileError
from debrief.profile.naming import is_shipped
from debrief.session.profiles.profile_form import FieldError, ProfileForm, Section, Value, own_folder
from debrief.words.cautions import NOT_APPROVED
from debrief.words.channels import CANONICAL, DISCRETE, within_sentence

CHECK_MS = 250
_SAVE_FIRST = "Save it first: a recording is judged by a file."
_Place = tuple[tuple[str | int, ...], str]


class ProfileEditor(QWidget):
    """A window of its own. The shipped profiles are opened as patterns: they are only saved under a new name.

    Signals
    -------
    saved : str
        Path of what was saved.
    use_wanted : str
        The open recording is to be assessed with this file.
    """

    saved = Signal(str)
    use_wanted = Signal(str)

    def __init__(
        self,
        theme: Theme,
        parent: QWidget | None = None,
        askers: Askers = USUAL_ASKERS,
    ) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self._theme = theme
        set_ground(self, "ground")
        self._askers = askers
        self.form = ProfileForm()
        self._sections: tuple[Section, ...] = ()
        self._editors: list[FieldEditor] = []
        self._problem: ProfileError | None = None
        self._unread: dict[_Place, tuple[Value, str]] = {}
        self._discards = False
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
        self.resize(theme.px(1180), theme.px(660))
        self._timer = QTimer(self, singleShot=True, interval=CHECK_MS)
        self._timer.timeout.connect(self.check)
        column = column_layout(self, margins=(16, 14, 16, 12), spacing=10)
        row = row_layout(spacing=14)
        column.addLayout(row, 1)
        row.addLayout(self._make_list())
        self._scroll = QScrollArea(widgetResizable=True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        row.addWidget(self._scroll, 3)
        self.preview = ProfilePreview(theme)
        self.preview.setFixedWidth(theme.px(270))
        right = column_layout(spacing=6)
        right.addWidget(self.preview, 1)
        self.gaps = CompletenessList(theme)
        self.gaps.setFixedSize(theme.px(270), theme.px(180))
        self.gaps.wanted.connect(self._go_to_key)
        right.addWidget(self.gaps)
        row.addLayout(right)
        column.addLayout(self._make_message())
        column.addLayout(self._make_buttons())
        QShortcut(QKeySequence("Ctrl+S"), self).activated.connect(self.ask_save)
        QShortcut(QKeySequence("Escape"), self).activated.connect(self.close)
        self._show_form(self.form)

    # --- the parts --------------------------------------------------------------------------------------

    def _make_list(self) -> QVBoxLayout:
        left = column_layout(spacing=6)
        label = PlainLabel("Pa&rts", role="heading")
        self.list = QListWidget()
        self.list.setAccessibleName("Parts of the profile")
        self.list.setFixedWidth(self._theme.px(270))
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.currentRowChanged.connect(self._section_chosen)
        label.setBuddy(self.list)
        left.addWidget(label)
        left.addWidget(self.list, 1)
        for words, slot in (
            ("Add a &gauge...", self.ask_gauge),
            ("Add a &limit", self.add_limit),
            ("Remo&ve this part", self.remove_part),
        ):
            button = _button(words, slot)
            left.addWidget(button)
            if slot == self.remove_part:
                self.remove_button = button
        return left

    def _make_message(self) -> QHBoxLayout:
        row = row_layout(spacing=10)
        self.message = WrappedLabel()
        row.addWidget(self.message, 1)
        self.go_button = _button("Go &to it", self.go_to_problem)
        row.addWidget(self.go_button)
        return row

    def _make_buttons(self) -> QHBoxLayout:
        row = row_layout(spacing=8)
        row.addWidget(_button("&Open...", self.ask_open))
        row.addWidget(_button("&New", self.start_anew))
        row.addStretch(1)
        self.use_button = _button("&Use for this recording", self._use)
        self.save_button = _button("&Save as...", self.ask_save)
        self.save_button.setProperty("role", "primary")
        self.close_button = _button("&Close", self.close)
        for button in (self.use_button, self.save_button, self.close_button):
            row.addWidget(button)
        return row

    # --- the file ---------------------------------------------------------------------------------------

    @property
    def problem(self) -> ProfileError | None:
        """What is refused now."""
        return self._problem

    @property
    def is_unsaved(self) -> bool:
        """Whether closing would lose something: a change, or text that the file cannot take."""
        return self.form.is_changed or bool(self._unread)

    def open_path(self, path: str | Path) -> None:
        """Edit this file."""
        if not str(path):
            return
        try:
            form = ProfileForm.open(Path(path))
        except UserError as error:
            self._say(str(error), False)
            return
        self._show_form(form)

    @Slot()
    def ask_open(self) -> None:
        """Ask for a file to edit, and first about unsaved changes."""
        self._unless_unsaved(self._ask_open_now)

    @Slot()
    def _ask_open_now(self) -> None:
        self._askers.profile(self, str(own_folder(make=True)), self.open_path)

    @Slot()
    def start_anew(self) -> None:
        """Begin an empty profile; ask first where something is not saved."""
        self._unless_unsaved(self._start_anew_now)

    @Slot()
    def _start_anew_now(self) -> None:
        self._show_form(ProfileForm())

    def _unless_unsaved(self, go: Callable[[], None]) -> None:
        """Go on at once, or after the question whether unsaved changes may be lost."""
        if self.is_unsaved:
            ask_about_unsaved(self, go)
        else:
            go()

    @Slot()
    def ask_save(self) -> None:
        """Ask for a name and save, unless something is refused."""
        self.check()
        if self._problem is not None or self._unread:
            return
        self._askers.new_profile(self, str(own_folder(make=True) / self._suggested_name()), self.save_to)

    def _suggested_name(self) -> str:
        path = self.form.path
        if path is None:
            return "my-engine.toml"
        # An own file of a shipped one's name would hide it wherever a profile is named.
        return f"my-{path.name}" if is_shipped(path) else path.name

    @Slot(str)
    def save_to(self, path: str) -> None:
        """Save under this name."""
        if not path:
            return
        try:
            self.form.save(Path(path))
        except UserError as error:
            self._say(str(error), False)
            return
        self.check()
        self._say(f"Saved: {self.form.path}.", False)
        self.saved.emit(str(self.form.path))

    @Slot()
    def _use(self) -> None:
        if self.form.path is not None and not self.is_unsaved:
            self.use_wanted.emit(str(self.form.path))

    # --- the form ---------------------------------------------------------------------------------------

    def _show_form(self, form: ProfileForm) -> None:
        self.form = form
        self._unread.clear()
        self._fill_list(0)
        self.check()

    def _fill_list(self, row: int) -> None:
        self._sections = self.form.sections()
        self.list.blockSignals(True)
        self.list.clear()
        self.list.addItems([entry(section.title) for section in self._sections])
        for number, section in enumerate(self._sections):
            self.list.item(number).setToolTip(plain_tip(section.title))
        self.list.setCurrentRow(min(row, len(self._sections) - 1))
        self.list.blockSignals(False)
        self._section_chosen(self.list.currentRow())

    @Slot(int)
    def _section_chosen(self, row: int) -> None:
        if not 0 <= row < len(self._sections):
            return
        section = self._sections[row]
        self.remove_button.setEnabled(section.removable)
        if section.path[:1] == ("gauges",):
            self.preview.show_first(str(section.path[1]))
        page = QWidget()
        page.setObjectName("panel")
        layout = QFormLayout(page)
        layout.setContentsMargins(14, 12, 14, 12)
        layout.setHorizontalSpacing(14)
        layout.setVerticalSpacing(8)
        layout.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
        self._editors = []
        for field in section.fields:
            # What could not be read stays as it was typed until it is mended.
            value, _ = self._unread.get((section.path, field.key), (self.form.value(section, field), ""))
            editor = FieldEditor(field, value, self._theme)
            editor.edited.connect(partial(self._edited, section, editor))
            label = PlainLabel(field.title)
            label.setBuddy(editor)
            layout.addRow(label, editor)
            self._editors.append(editor)
        self._scroll.setWidget(page)

    def _edited(self, section: Section, editor: FieldEditor) -> None:
        field = editor.field
        try:
            self.form.set(section, field, editor.value)
            self._unread.pop((section.path, field.key), None)
        except FieldError as error:
            self._unread[section.path, field.key] = (
                editor.value,
                f"{section.name}, {within_sentence(str(error))}",
            )
        self._show_unsaved()
        if section.path[:1] == ("limits",) and field.key in ("id", "event"):
            item = self.list.currentItem()
            if item is not None:
                item.setText(entry(self.form.sections()[self.list.currentRow()].title))
        self._timer.start()

    def editor(self, key: str) -> FieldEditor:
        """Return the editor of a key on the page that is shown."""
        return next(one for one in self._editors if one.field.key == key)

    @Slot()
    def check(self) -> None:
        """Have the file read as it is now; show its gauges, or what is refused and where."""
        self._timer.stop()
        self._problem = None
        self.setWindowTitle(f"Engine profile: {titled(self.form.path.name) if self.form.path else 'new'}[*]")
        self._show_unsaved()
        if self._unread:
            self.save_button.setEnabled(False)
            self._say(next(iter(self._unread.values()))[1], True)
            return
        try:
            profile = self.form.check()
        except ProfileError as error:
            self._problem = error
            self.save_button.setEnabled(False)
            self._say(f"Refused: {error}", self.form.locate(error.key) is not None)
            return
        self.save_button.setEnabled(True)
        self.preview.show_profile(profile)
        self.gaps.show_profile(profile)
        limits, gauges = len(profile.limits), len(profile.gauges)
        approved = "" if profile.approved_data else f" {NOT_APPROVED}."
        self._say(
            f"Nothing is refused: {limits} limit{'' if limits == 1 else 's'}, {gauges} "
            f"gauge{'' if gauges == 1 else 's'}. What is left out is not judged.{approved}"
            + ("" if self.use_button.isEnabled() else f" {_SAVE_FIRST}"),
            False,
        )

    def _show_unsaved(self) -> None:
        self.setWindowModified(self.is_unsaved)
        can_use = self.form.path is not None and not self.is_unsaved
        self.use_button.setEnabled(can_use)
        self.use_button.setToolTip("" if can_use else _SAVE_FIRST)

    def _say(self, words: str, can_go: bool) -> None:
        self.message.setText(words)
        self.go_button.setVisible(can_go)

    @Slot()
    def go_to_problem(self) -> None:
        """Show the field that is refused."""
        if self._unread:
            path, key = next(iter(self._unread))
        else:
            found = self.form.locate(self._problem.key) if self._problem is not None else None
            if found is None:
                return
            path, key = found[0].path, found[1].key if found[1] is not None else ""
        self._show_field(path, key)

    @Slot(str)
    def _go_to_key(self, key: str) -> None:
        """Show the field of a key that is lacking; of a limit that is lacking there is none."""
        found = self.form.locate(key)
        if found is not None:
            self._show_field(found[0].path, found[1].key if found[1] is not None else "")

    def _show_field(self, path: tuple[str | int, ...], key: str) -> None:
        rows = [one.path for one in self._sections]
        if path in rows:
            self.list.setCurrentRow(rows.index(path))
        if key:
            editor = self.editor(key)
            self._scroll.ensureWidgetVisible(editor)
            editor.setFocus(Qt.FocusReason.OtherFocusReason)

    # --- gauges and limits ------------------------------------------------------------------------------

    @Slot()
    def ask_gauge(self) -> None:
        """Ask of which channel a gauge is to be added."""
        taken = {section.path[1] for section in self._sections if section.path[:1] == ("gauges",)}
        free = [name for name in CANONICAL if name not in taken and name not in DISCRETE]
        self._askers.channel(self, free, self.add_gauge)

    @Slot(str)
    def add_gauge(self, channel: str) -> None:
        """Add a gauge and show its page."""
        try:
            section = self.form.add_gauge(channel, CANONICAL[channel])
        except FieldError as error:
            self._say(str(error), False)
            return
        self._fill_list(0)
        self.list.setCurrentRow([one.path for one in self._sections].index(section.path))
        self.check()

    @Slot()
    def add_limit(self) -> None:
        """Add a limit and show its page."""
        self.form.add_limit()
        self._fill_list(len(self.form.sections()) - 1)
        self.check()

    @Slot()
    def remove_part(self) -> None:
        """Take the gauge or limit that is shown out of the profile."""
        row = self.list.currentRow()
        if 0 <= row < len(self._sections) and self._sections[row].removable:
            gone = self._sections[row].path
            self.form.remove(self._sections[row])
            self._unread = {
                _moved_up(path, gone): kept for path, kept in self._unread.items() if path[0] != gone
            }
            self._fill_list(max(0, row - 1))
            self.check()

    # --- closing ----------------------------------------------------------------------------------------

    @guarded()
    def closeEvent(self, event: QCloseEvent) -> None:
        """Ask first where something is not saved."""
        if self.is_unsaved and not self._discards:
            event.ignore()
            ask_about_unsaved(self, self.discard)
            return
        self._timer.stop()
        super().closeEvent(event)

    @Slot()
    def discard(self) -> None:
        """Close without saving."""
        self._discards = True
        self.close()


def _button(words: str, slot: Callable[[], object]) -> QPushButton:
    button = made_button(words, slot)
    return button


def _moved_up(place: _Place, gone: tuple[str | int, ...]) -> _Place:
    """Return the place of a field after the part `gone` was taken out: later limits move up by one."""
    path, key = place
    if path[:1] == ("limits",) == gone[:1] and int(path[1]) > int(gone[1]):
        return ("limits", int(path[1]) - 1), key
    return place
