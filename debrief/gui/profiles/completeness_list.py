"""What can be judged with a profile as it stands, and what cannot: always beside the one who writes it."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QListWidget, QListWidgetItem, QWidget

from debrief.gui.plain_text import entry
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import PlainLabel
from debrief.gui.widgets.parts import column_layout
from debrief.profile.model import EngineProfile
from debrief.session.profiles.profile_gaps import completeness

_MISSING, _THERE = "\N{WHITE CIRCLE}  ", "\N{CHECK MARK}  "


class CompletenessList(QWidget):
    """A list of everything that can be judged; what lacks something stands first, with what it lacks.

    Signals
    -------
    wanted : str
        The first key that an entry lacks: its field is to be shown.
    """

    wanted = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        column = column_layout(self, margins=(0, 0, 0, 0), spacing=6)
        self._heading = PlainLabel("Cannot be &judged yet", role="heading")
        self.list = QListWidget()
        self.list.setAccessibleName("What can be judged with this profile")
        self.list.setWordWrap(True)
        self.list.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.list.itemActivated.connect(self._activated)
        self.list.itemClicked.connect(self._activated)
        self._heading.setBuddy(self.list)
        column.addWidget(self._heading)
        column.addWidget(self.list, 1)

    def show_profile(self, profile: EngineProfile) -> None:
        """Show what can be judged with a profile."""
        rows = completeness(profile)
        missing = sum(bool(one.absent) for one in rows)
        self._heading.setText(
            f"Cannot be &judged yet: {missing} of {len(rows)}"
            if missing
            else f"All {len(rows)} can be &judged"
        )
        self.list.clear()
        for one in rows:
            item = QListWidgetItem(entry((_MISSING if one.absent else _THERE) + one.words))
            item.setData(Qt.ItemDataRole.UserRole, one.absent[0] if one.absent else "")
            state = "cannot be judged" if one.absent else "judged"
            item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{state}: {one.words}")
            if not one.absent:
                item.setForeground(self._theme.color("muted"))
            self.list.addItem(item)

    @Slot(QListWidgetItem)
    def _activated(self, item: QListWidgetItem) -> None:
        key = item.data(Qt.ItemDataRole.UserRole)
        if key:
            self.wanted.emit(str(key))
