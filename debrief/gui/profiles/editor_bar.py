"""What stands below the fields of the profile editor: what is said of the profile, and what can be done with it."""

from __future__ import annotations

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QPushButton, QWidget

from debrief.gui.plain_text import plain_tip
from debrief.gui.widgets.labels import WrappedLabel
from debrief.gui.widgets.parts import column_layout, made_button, row_layout

SAVE_FIRST = "Save it first: a recording is judged by a file."


class EditorBar(QWidget):
    """A sentence and two rows of buttons.

    Signals
    -------
    place_wanted
        What is wrong is to be shown.
    open_wanted, new_wanted, undo_wanted, redo_wanted, use_wanted, save_as_wanted, save_wanted, close_wanted
        As the buttons say.
    """

    place_wanted = Signal()
    open_wanted = Signal()
    new_wanted = Signal()
    undo_wanted = Signal()
    redo_wanted = Signal()
    use_wanted = Signal()
    save_as_wanted = Signal()
    save_wanted = Signal()
    close_wanted = Signal()

    def __init__(self) -> None:
        super().__init__()
        column = column_layout(self, margins=(0, 0, 0, 0), spacing=10)
        above = row_layout(spacing=10)
        self.message = WrappedLabel()
        above.addWidget(self.message, 1)
        self.go_button = made_button("Go &to it", self.place_wanted)
        above.addWidget(self.go_button)
        column.addLayout(above)
        row = row_layout(spacing=8)
        self._undo = made_button("&Undo", self.undo_wanted)
        self._redo = made_button("Re&do", self.redo_wanted)
        for button in (
            made_button("&Open...", self.open_wanted), made_button("&New", self.new_wanted), self._undo, self._redo,
        ):  # fmt: skip
            row.addWidget(button)
        row.addStretch(1)
        self.use_button = made_button("Use for this re&cording", self.use_wanted)
        self._save_as = made_button("Save &as...", self.save_as_wanted)
        self.save_button = made_button("&Save", self.save_wanted, role="primary")
        for button in (
            self.use_button, self._save_as, self.save_button, made_button("Clos&e", self.close_wanted),
        ):  # fmt: skip
            row.addWidget(button)
        column.addLayout(row)

    def say(self, words: str, can_go: bool = False) -> None:
        """Say a sentence; with the way to what it is about where there is one."""
        self.message.setText(words)
        self.go_button.setVisible(can_go)

    def allow(self, *, save: bool) -> None:
        """Allow saving, or not."""
        self.save_button.setEnabled(save)
        self._save_as.setEnabled(save)

    def allow_use(self, may: bool) -> None:
        """Allow that the recording is judged with the file, or say why not."""
        self.use_button.setEnabled(may)
        self.use_button.setToolTip("" if may else SAVE_FIRST)

    def show_steps(self, undo: str, redo: str) -> None:
        """Say what would be taken back and done again; empty where there is nothing."""
        show_step(self._undo, "Undo", undo)
        show_step(self._redo, "Redo", redo)


def show_step(button: QPushButton, name: str, words: str) -> None:
    """Have a button of undo or redo say its step; it waits where there is none."""
    button.setEnabled(bool(words))
    button.setAccessibleName(f"{name}: {words}" if words else name)
    button.setToolTip(plain_tip(f"{name}: {words}" if words else ""))
