"""The profile editor: a form over the TOML file, checked by the profile's own reader while one types."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from pathlib import Path

from PySide6.QtCore import Qt, QTimer, Signal, Slot
from PySide6.QtGui import QCloseEvent, QKeySequence, QResizeEvent, QShortcut
from PySide6.QtWidgets import QFrame, QListWidget, QScrollArea, QWidget

from debrief.analysis.model import TimeAbove
from debrief.errors import UserError
from debrief.gui.background.drafts import Draft
from debrief.gui.background.guarded import guarded
from debrief.gui.plain_text import titled
from debrief.gui.profiles.editor_bar import SAVE_FIRST, EditorBar
from debrief.gui.profiles.editor_side import EditorSide
from debrief.gui.profiles.field_editors import FieldEditor
from debrief.gui.profiles.parts_list import PartsList
from debrief.gui.profiles.profile_preview import ProfilePreview
from debrief.gui.profiles.section_page import SectionPage
from debrief.gui.profiles.undo_keys import UndoKeys
from debrief.gui.style.theme import Theme
from debrief.gui.style.theme_sheet import dialog_sheet
from debrief.gui.widgets.asking import USUAL_ASKERS, Askers, ask_about_unsaved
from debrief.gui.widgets.parts import column_layout, fit_to_screen, row_layout, set_ground
from debrief.profile.fields import ProfileError
from debrief.profile.naming import is_shipped
from debrief.session.profiles.limit_rows import drawn_rows
from debrief.session.profiles.profile_edits import Checked, Place, ProfileEdits
from debrief.session.profiles.profile_form import FieldError, ProfileForm, Section, own_folder
from debrief.words.channels import CANONICAL, DISCRETE

CHECK_MS = 250
_FIELDS_WIDTH = 400


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
        above: TimeAbove | None = None,
    ) -> None:
        super().__init__(parent, Qt.WindowType.Window)
        self._theme = theme
        set_ground(self, "ground")
        self._askers = askers
        self._edits = ProfileEdits(ProfileForm())
        self._checked: Checked | None = None
        self._sections: tuple[Section, ...] = ()
        self._page: SectionPage | None = None
        self._discards = False
        self._keys = UndoKeys(self, self.undo, self.redo)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
        fit_to_screen(self, theme.px(1180), theme.px(660))
        self._timer = QTimer(self, singleShot=True, interval=CHECK_MS)
        self._timer.timeout.connect(self.check)
        column = column_layout(self, margins=(16, 14, 16, 12), spacing=10)
        row = row_layout(spacing=14)
        column.addLayout(row, 1)
        self._parts = PartsList(theme)
        self._parts.chosen.connect(self._section_chosen)
        self._parts.gauge_wanted.connect(self.ask_gauge)
        self._parts.limit_wanted.connect(self.add_limit)
        self._parts.power_check_wanted.connect(self.add_power_check)
        self._parts.removal_wanted.connect(self.remove_part)
        row.addWidget(self._parts)
        self._scroll = QScrollArea(widgetResizable=True)
        self._scroll.setFrameShape(QFrame.Shape.NoFrame)
        self._scroll.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # its fields take the keys
        row.addWidget(self._scroll, 3)
        self._side = EditorSide(theme, above)
        self._side.drawn.connect(self._drawn)
        self._side.settled.connect(self._settled)
        self._side.key_wanted.connect(self._go_to_key)
        row.addWidget(self._side)
        self._bar = EditorBar()
        for wish, slot in (
            (self._bar.place_wanted, self.go_to_problem), (self._bar.open_wanted, self.ask_open),
            (self._bar.new_wanted, self.start_anew), (self._bar.undo_wanted, self.undo),
            (self._bar.redo_wanted, self.redo), (self._bar.use_wanted, self._use),
            (self._bar.save_as_wanted, self.ask_save), (self._bar.save_wanted, self.save),
            (self._bar.close_wanted, self.close),
        ):  # fmt: skip
            wish.connect(slot)
        column.addWidget(self._bar)
        QShortcut(QKeySequence("Ctrl+S"), self).activated.connect(self.save)
        QShortcut(QKeySequence("Ctrl+Shift+S"), self).activated.connect(self.ask_save)
        self._draft = Draft("profile", self._unsaved, self)
        theme.changed.connect(self._dress)
        self._dress()
        QShortcut(QKeySequence("Escape"), self).activated.connect(self.close)
        self._show_form(self._edits.form)

    # --- the file ---------------------------------------------------------------------------------------

    @property
    def form(self) -> ProfileForm:
        """The profile that is edited."""
        return self._edits.form

    @property
    def list(self) -> QListWidget:
        """The parts of the profile."""
        return self._parts.list

    @property
    def bar(self) -> EditorBar:
        """What is said of the profile, and what can be done with it."""
        return self._bar

    @property
    def preview(self) -> ProfilePreview:
        """The gauges as they will look."""
        return self._side.preview

    @property
    def problem(self) -> ProfileError | None:
        """What is refused now."""
        return self._checked.problem if self._checked is not None else None

    @property
    def is_unsaved(self) -> bool:
        """Whether closing would lose something: a change, or text that the file cannot take."""
        return self._edits.is_unsaved

    def open_path(self, path: str | Path) -> None:
        """Edit this file."""
        if not str(path):
            return
        try:
            form = ProfileForm.open(Path(path))
        except UserError as error:
            self._bar.say(str(error))
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
    def save(self) -> None:
        """Save into the file that was opened; ask for a name where there is none, and for a shipped profile."""
        path = self.form.path
        if path is None or is_shipped(path):
            self.ask_save()
            return
        self.check()
        if self._is_sound:
            self.save_to(str(path))

    @property
    def _is_sound(self) -> bool:
        """Whether it can be saved."""
        return self._checked is not None and self._checked.profile is not None

    @Slot()
    def ask_save(self) -> None:
        """Ask for a name and save, unless something is refused."""
        self.check()
        if not self._is_sound:
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
            self._bar.say(str(error))
            return
        self.check()
        self._bar.say(f"Saved: {self.form.path}.", False)
        self.saved.emit(str(self.form.path))

    @Slot()
    def _use(self) -> None:
        if self._may_use:
            self.use_wanted.emit(str(self.form.path))

    # --- the form ---------------------------------------------------------------------------------------

    def bring_back(self, path: str, text: str) -> None:
        """Go on with a profile that was not saved when the program ended.

        Raises
        ------
        UserError
            Neither the file nor the text can be read.
        """
        form = ProfileForm.open(Path(path)) if path and Path(path).is_file() else ProfileForm()
        form.restore(text)
        self._show_form(form)
        self._draft.keep()

    def _unsaved(self) -> dict[str, object] | None:
        """Return what a crash would lose."""
        path = self.form.path
        return (
            {"path": "" if path is None else str(path), "text": self.form.text} if self.is_unsaved else None
        )

    def _show_form(self, form: ProfileForm) -> None:
        self._edits = ProfileEdits(form)
        self._side.show_nothing()
        self._fill_list(0)
        self.check()

    def _fill_list(self, row: int) -> None:
        self._sections = self.form.sections()
        self._parts.show_titles([section.title for section in self._sections], row)

    @Slot(int)
    def _section_chosen(self, row: int) -> None:
        if not 0 <= row < len(self._sections):
            return
        section = self._sections[row]
        self._parts.remove_button.setEnabled(section.removable)
        if section.path[:1] == ("gauges",):
            self.preview.show_first(str(section.path[1]))
        self._edits.pause()
        self._page = SectionPage(section, partial(self._edits.value, section), self._theme, self._keys)
        self._page.edited.connect(self._edited)
        self._scroll.setWidget(self._page)
        self._side.show_section(self._page)

    @Slot(object)
    def _edited(self, editor: FieldEditor) -> None:
        assert self._page is not None
        section, field = self._page.section, editor.field
        self._edits.set(section, field, editor.value)
        self._show_unsaved()
        if section.path[:1] in (("limits",), ("power_check",)) and field.key in ("id", "event", "name"):
            self._parts.rename(self.form.sections()[self.list.currentRow()].title)
        self._side.show_section(self._page)
        self._timer.start()

    def editor(self, key: str) -> FieldEditor:
        """Return the editor of a key on the page that is shown."""
        assert self._page is not None
        return self._page.editor(key)

    # --- drawing and undo -------------------------------------------------------------------------------

    @Slot(object)
    def _drawn(self, points: tuple[tuple[float, float], ...]) -> None:
        editor = self.editor("allowed")
        rows = editor.value
        editor.show_rows(drawn_rows(rows if isinstance(rows, tuple) else (), points))
        self._edited(editor)

    @Slot()
    def _settled(self) -> None:
        self._edits.pause()

    @Slot()
    def undo(self) -> None:
        """Take the last step back."""
        self._show_again(self._edits.undo())

    @Slot()
    def redo(self) -> None:
        """Do again what was taken back."""
        self._show_again(self._edits.redo())

    def _show_again(self, place: Place | None) -> None:
        """Show a state that was returned to, at the place of the step."""
        if place is not None:
            paths = [one.path for one in self.form.sections()]
            self._fill_list(paths.index(place[0]) if place[0] in paths else 0)
            self.check()

    # --- what is said -----------------------------------------------------------------------------------

    @Slot()
    def check(self) -> None:
        """Have the file read as it is now; show what can be judged with it, or what is refused and where."""
        self._timer.stop()
        checked = self._checked = self._edits.check()
        self.setWindowTitle(f"Engine profile: {titled(self.form.path.name) if self.form.path else 'new'}[*]")
        self._show_unsaved()
        self._bar.allow(save=checked.profile is not None)
        words = checked.words
        if checked.profile is not None:
            self._side.show_profile(checked.profile)
            words += "" if self._may_use else f" {SAVE_FIRST}"
        self._bar.say(words, checked.place is not None)

    def _show_unsaved(self) -> None:
        self._bar.show_steps(self._edits.undo_words, self._edits.redo_words)
        self.setWindowModified(self.is_unsaved)
        self._draft.touch()
        self._bar.allow_use(self._may_use)

    @property
    def _may_use(self) -> bool:
        """Whether the file is as it is shown."""
        return self.form.path is not None and not self.is_unsaved

    @Slot()
    def _dress(self) -> None:
        self.setStyleSheet(dialog_sheet(self._theme.palette, self._theme.px))
        self._share_width()

    def _share_width(self) -> None:
        """Give the fields theirs first, then the pictures, then the list, whose titles have tool tips."""
        rest = self.width() - self._theme.px(_FIELDS_WIDTH)
        self._side.take_width(rest // 2)
        self._parts.take_width(rest - self._side.width())

    @guarded()
    def resizeEvent(self, event: QResizeEvent) -> None:
        """Leave the fields their part of the width."""
        super().resizeEvent(event)
        self._share_width()

    @Slot()
    def go_to_problem(self) -> None:
        """Show the field that is refused."""
        if self._checked is not None and self._checked.place is not None:
            self._show_field(*self._checked.place)

    @Slot(str)
    def _go_to_key(self, key: str) -> None:
        """Show the field of a key that is lacking, or say how a limit that is lacking is made."""
        found = self.form.locate(key)
        if found is None:
            self._bar.say("Add a limit, below the parts, gives it.")
            return
        self._show_field(found[0].path, found[1].key if found[1] is not None else "")

    def _show_field(self, path: tuple[str | int, ...], key: str) -> None:
        rows = [one.path for one in self._sections]
        if path in rows:
            self.list.setCurrentRow(rows.index(path))
        if key:
            editor = self.editor(key)
            self._scroll.ensureWidgetVisible(editor)
            editor.setFocus(Qt.FocusReason.OtherFocusReason)

    # --- gauges, limits and power checks ----------------------------------------------------------------

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
            section = self._edits.add_gauge(channel)
        except FieldError as error:
            self._bar.say(str(error))
            return
        self._show_again((section.path, ""))

    @Slot()
    def add_limit(self) -> None:
        """Add a limit and show its page."""
        self._show_again((self._edits.add_limit().path, ""))

    @Slot()
    def add_power_check(self) -> None:
        """Add a power check and show its page."""
        self._show_again((self._edits.add_power_check().path, ""))

    @Slot()
    def remove_part(self) -> None:
        """Take the gauge, limit or power check that is shown out of the profile."""
        row = self.list.currentRow()
        if 0 <= row < len(self._sections) and self._sections[row].removable:
            self._edits.remove(self._sections[row])
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
        self._draft.end()
        super().closeEvent(event)

    @Slot()
    def discard(self) -> None:
        """Close without saving."""
        self._discards = True
        self.close()
