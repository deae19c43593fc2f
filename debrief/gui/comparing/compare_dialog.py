"""Choosing the start that is compared: another of this recording, one of another, or one from the history."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QDialog, QListWidget, QListWidgetItem, QWidget

from debrief.gui.comparing.choices import Choice, Choices
from debrief.gui.plain_text import entry, plain_tip
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.choice_boxes import ChoiceBox
from debrief.gui.widgets.labels import PlainLabel, WrappedLabel
from debrief.gui.widgets.parts import column_layout, made_button, row_layout
from debrief.session.comparing.start_curves import INSTANT_WORDS, INSTANTS

_NONE = "This recording has no other start, and no other recording has been read yet: take another recording."


class CompareDialog(QDialog):
    """Lists what there is; Enter or a double click lays it behind.

    Signals
    -------
    file_wanted
        A start of another recording is wanted.
    """

    file_wanted = Signal()

    def __init__(self, replay: Replay, choices: Choices, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._choices = choices
        self._theme = theme
        self._offered: list[Choice] = []
        self.setWindowTitle("Compare with another start")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
        self.setModal(True)
        column = column_layout(self, margins=(18, 16, 18, 14), spacing=8)
        column.addWidget(
            PlainLabel("The start that you choose lies behind the one in the replay, dashed.", role="muted")
        )
        label = PlainLabel("&Starts")
        self.list = QListWidget()
        self.list.setAccessibleName("Starts to compare with")
        self.list.setMinimumSize(theme.px(560), theme.px(250))
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.setTextElideMode(Qt.TextElideMode.ElideRight)
        label.setBuddy(self.list)
        column.addWidget(label)
        column.addWidget(self.list, 1)
        self._note = WrappedLabel(role="small")
        column.addWidget(self._note)
        row = row_layout(spacing=8)
        at = PlainLabel("Al&ign at")
        self.instant = ChoiceBox(theme)
        self.instant.setAccessibleName("Where both starts are aligned")
        for instant in INSTANTS:
            self.instant.addItem(INSTANT_WORDS[instant], instant)
        self.instant.setCurrentIndex(INSTANTS.index(replay.comparison.instant))
        at.setBuddy(self.instant)
        row.addWidget(at)
        row.addWidget(self.instant)
        row.addStretch(1)
        row.addWidget(made_button("&Another recording...", self.file_wanted))
        row.addWidget(made_button("Cancel", self.reject))
        self.compare_button = made_button("&Compare", self._take, role="primary")
        self.compare_button.setDefault(True)
        row.addWidget(self.compare_button)
        column.addLayout(row)
        self.list.itemActivated.connect(self._take)
        self.list.currentRowChanged.connect(self._row_changed)
        choices.changed.connect(self._fill)
        choices.chosen.connect(self.accept)
        self._fill()
        self.list.setFocus()

    @Slot()
    def _fill(self) -> None:
        row = self.list.currentRow()
        before = self._offered[row].words if 0 <= row < len(self._offered) else ""
        self._offered = self._choices.offered()
        self.list.clear()
        for choice in self._offered:
            item = QListWidgetItem(entry(choice.words))
            item.setToolTip(plain_tip(choice.note or choice.words))
            if not choice.is_there:
                # It can be gone to all the same: below stands why it cannot be compared.
                item.setForeground(self._theme.color("muted"))
            self.list.addItem(item)
        rows = [i for i, one in enumerate(self._offered) if one.is_there]
        same = [i for i in rows if self._offered[i].words == before]
        good = [i for i in rows if self._offered[i].is_completed]
        self.list.setCurrentRow(next(iter(same or good or rows), -1))
        self._row_changed()

    @Slot()
    def _row_changed(self) -> None:
        row = self.list.currentRow()
        chosen = self._offered[row] if 0 <= row < len(self._offered) else None
        self.compare_button.setEnabled(chosen is not None and chosen.is_there)
        self._note.setText(_NONE if not self._offered else chosen.note if chosen is not None else "")

    @Slot()
    def _take(self) -> None:
        row = self.list.currentRow()
        if 0 <= row < len(self._offered) and self._offered[row].is_there:
            self._replay.comparison.align(INSTANTS[max(0, self.instant.currentIndex())])
            self._choices.take(self._offered[row])
