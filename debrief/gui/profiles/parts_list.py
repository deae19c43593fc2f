"""The parts of a profile, with what adds and removes them."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QListWidget, QWidget

from debrief.gui.plain_text import entry, plain_tip
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import PlainLabel
from debrief.gui.widgets.parts import column_layout, made_button

_WIDTH = 270


class PartsList(QWidget):
    """A list to choose from.

    Signals
    -------
    chosen : int
        Place of the part that is to be shown.
    gauge_wanted, limit_wanted, power_check_wanted
        One more is to be added.
    removal_wanted
        The part that is shown is to be taken out.
    """

    chosen = Signal(int)
    gauge_wanted = Signal()
    limit_wanted = Signal()
    power_check_wanted = Signal()
    removal_wanted = Signal()

    def __init__(self, theme: Theme) -> None:
        super().__init__()
        self._theme = theme
        column = column_layout(self, margins=(0, 0, 0, 0), spacing=6)
        label = PlainLabel("Pa&rts", role="heading")
        self.list = QListWidget()
        self.list.setAccessibleName("Parts of the profile")
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.currentRowChanged.connect(self.chosen)
        label.setBuddy(self.list)
        column.addWidget(label)
        column.addWidget(self.list, 1)
        column.addWidget(made_button("Add a &gauge...", self.gauge_wanted))
        column.addWidget(made_button("Add a &limit", self.limit_wanted))
        column.addWidget(made_button("Add a po&wer check", self.power_check_wanted))
        self.remove_button = made_button("Remo&ve this part", self.removal_wanted)
        column.addWidget(self.remove_button)

    def take_width(self, most: int) -> None:
        """Be as wide as is usual, but no wider than this where it can, [px]."""
        self.setFixedWidth(min(self._theme.px(_WIDTH), max(self.minimumSizeHint().width(), most)))

    def show_titles(self, titles: Sequence[str], row: int) -> None:
        """Show the titles of all parts, and choose one."""
        self.list.blockSignals(True)
        self.list.clear()
        self.list.addItems([entry(title) for title in titles])
        for number, title in enumerate(titles):
            self.list.item(number).setToolTip(plain_tip(title))
        self.list.setCurrentRow(min(row, len(titles) - 1))
        self.list.blockSignals(False)
        self.chosen.emit(self.list.currentRow())

    def rename(self, title: str) -> None:
        """Show another title of the part that is chosen."""
        item = self.list.currentItem()
        if item is not None:
            item.setText(entry(title))
