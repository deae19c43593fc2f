"""The notes below the story: a list to go to, change and remove, by keyboard too."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QPoint, QRect, Qt, Signal, Slot
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QListWidget, QListWidgetItem, QMenu, QSizePolicy, QWidget

from debrief.gui.background.guarded import guarded
from debrief.gui.notes.note_dialog import NoteDialog, Pin, pin_words
from debrief.gui.notes.notebook import Notebook
from debrief.gui.plain_text import plain_tip
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.story.story_panel import WIDTH
from debrief.gui.style.settings import Settings
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import PlainLabel
from debrief.gui.widgets.parts import column_layout, made_button, set_ground
from debrief.session.lanes.pins import NotePin
from debrief.session.texts.recording_kind import recording_word
from debrief.words.visible import visible

if TYPE_CHECKING:
    from debrief.history.model import Note

_MOST_PX = 150
_SIDES = 27 + 24


class _List(QListWidget):
    """A list that says what Enter, F2, Delete and the menu key ask for.

    Signals
    -------
    go_wanted, change_wanted, remove_wanted
        Of the current row.
    """

    go_wanted = Signal()
    change_wanted = Signal()
    remove_wanted = Signal()

    @guarded()
    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Take the keys of a list of things that can be changed."""
        key = event.key()
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.go_wanted.emit()
        elif key == Qt.Key.Key_F2:
            self.change_wanted.emit()
        elif key == Qt.Key.Key_Delete:
            self.remove_wanted.emit()
        else:
            super().keyPressEvent(event)


class NotesPanel(QWidget):
    """The notes of the recording. A click goes to the time; a double click changes the note."""

    def __init__(
        self, replay: Replay, book: Notebook, settings: Settings, theme: Theme, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self._replay = replay
        self._book = book
        self._settings = settings
        self._theme = theme
        self._shown: tuple[Note, ...] = ()
        self._changing: Note | None = None
        self._adding_to = ""
        set_ground(self, "story", "Notes")
        column = column_layout(self, margins=(18, 6, 9, 8), spacing=4)
        row = QHBoxLayout()
        self._heading = PlainLabel(role="heading")
        row.addWidget(self._heading, 1)
        self.add_button = made_button(
            "Add",
            self.ask_new,
            role="flat",
            name="Add a note",
            tip="Add a note where the playhead is (Ctrl+N)",
        )
        row.addWidget(self.add_button)
        column.addLayout(row)
        self.list = _List()
        self.list.setAccessibleName("Notes on this recording")
        self.list.setWordWrap(True)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setContextMenuPolicy(Qt.ContextMenuPolicy.CustomContextMenu)
        self.list.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.list.setVerticalScrollMode(QListWidget.ScrollMode.ScrollPerPixel)
        self.list.setSpacing(1)
        self.list.itemClicked.connect(self.go)
        self.list.go_wanted.connect(self.go)
        self.list.change_wanted.connect(self.ask_change)
        self.list.itemDoubleClicked.connect(self.ask_change)
        self.list.remove_wanted.connect(self.remove)
        self.list.customContextMenuRequested.connect(self._offer)
        column.addWidget(self.list)
        book.changed.connect(self._fill)
        replay.session_changed.connect(self._fill)
        replay.clock_changed.connect(self._fill)
        theme.changed.connect(self._fill)
        self._fill()

    @property
    def chosen(self) -> Note | None:
        """The note of the current row."""
        row = self.list.currentRow()
        return self._shown[row] if 0 <= row < len(self._shown) else None

    @Slot()
    def _fill(self) -> None:
        before = self.chosen
        self._shown = self._book.notes
        self.setFixedWidth(self._theme.px(WIDTH))
        count = len(self._shown)
        self._heading.setText(f"Notes ({count})" if count else "Notes: none")
        self.add_button.setEnabled(self._book.can_write)
        self.list.clear()
        session = self._replay.session
        whole = recording_word(session.assessment) if session is not None else "recording"
        for number, note in enumerate(self._shown, start=1):
            tail = f" ({note.author})" if note.author else ""
            pinned = pin_words(self._replay.clock, note.time_s, note.event_kind, whole)
            item = QListWidgetItem(visible(f"{number}  {pinned}: {note.text}{tail}", keep="\n"))
            item.setToolTip(plain_tip(note.text))
            self.list.addItem(item)
        if before is not None:
            ids = [note.note_id for note in self._shown]
            if before.note_id in ids:
                self.list.setCurrentRow(ids.index(before.note_id))
        self.list.setVisible(bool(count))
        self._fit_height()

        # The number leads from the mark in a lane to the line in the list.
        self._replay.show_pins(
            tuple(
                NotePin(note.time_s, f"note {number}", note.text)
                for number, note in enumerate(self._shown, start=1)
                if note.time_s is not None
            )
        )

    def _fit_height(self) -> None:
        """Be as tall as the notes, wrapped, up to a limit; Qt's own hint counts one line each."""
        room = QRect(0, 0, max(self._theme.px(WIDTH) - _SIDES, 60), 4000)
        metrics = self.list.fontMetrics()
        needed = 4
        for row in range(self.list.count()):
            text = self.list.item(row).text()
            needed += metrics.boundingRect(room, int(Qt.TextFlag.TextWordWrap), text).height() + 6
        self.list.setFixedHeight(min(needed, self._theme.px(_MOST_PX)))

    # --- what can be done -------------------------------------------------------------------------------

    @Slot()
    def take_focus(self) -> None:
        """Put the keys on the list, or on the button where there is no note yet."""
        if self._shown:
            self.list.setCurrentRow(max(0, self.list.currentRow()))
            self.list.setFocus(Qt.FocusReason.ShortcutFocusReason)
        else:
            self.add_button.setFocus(Qt.FocusReason.ShortcutFocusReason)

    @Slot()
    def go(self) -> None:
        """Go to the note's time."""
        note = self.chosen
        if note is not None and note.time_s is not None:
            self._replay.seek(note.time_s)

    @Slot()
    def ask_new(self) -> None:
        """Ask for a note, pinned to where the playhead is unless another place is chosen."""
        self._new_dialog()

    def bring_back(self, text: str, author: str, time_s: float | None, event_kind: str | None) -> None:
        """Go on with a note that was not saved, as a new one."""
        if time_s is not None:
            self._replay.seek(time_s)
        dialog = self._new_dialog()
        if dialog is not None:
            dialog.bring_back(text, author, time_s, event_kind)

    def _new_dialog(self) -> NoteDialog | None:
        session = self._replay.session
        if session is None or not self._book.can_write:
            return None
        self._adding_to = self._book.sha256
        dialog = NoteDialog(session, self._theme, self._settings.author, parent=self.window())
        dialog.written.connect(self._add)
        dialog.open()
        return dialog

    @Slot()
    def ask_change(self) -> None:
        """Ask for the chosen note's new text."""
        session, note = self._replay.session, self.chosen
        if session is None or note is None:
            return
        dialog = NoteDialog(session, self._theme, self._settings.author, note, self.window())
        self._changing = note
        dialog.written.connect(self._change)
        dialog.open()

    @Slot()
    def remove(self) -> None:
        """Remove the chosen note; undo brings it back."""
        note = self.chosen
        if note is not None:
            self._book.remove(note)

    @Slot(str, str, object)
    def _add(self, text: str, author: str, pin: Pin) -> None:
        self._settings.author = author
        self._book.add(text, author, pin.time_s, pin.event_kind, self._adding_to)

    @Slot(str, str, object)
    def _change(self, text: str, author: str, pin: Pin) -> None:
        if self._changing is not None:
            self._book.change(self._changing, text, author, pin.time_s, pin.event_kind)

    @Slot(QPoint)
    def _offer(self, place: QPoint) -> None:
        if self.chosen is None:
            return
        menu = QMenu(self)
        menu.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
        menu.addAction("&Go there").triggered.connect(self.go)
        menu.addAction("&Change...").triggered.connect(self.ask_change)
        menu.addAction("&Remove").triggered.connect(self.remove)
        menu.popup(self.list.viewport().mapToGlobal(place))
