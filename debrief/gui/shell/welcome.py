"""What is shown while nothing is open: what the program is for, what to do, and the caution."""

from __future__ import annotations

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QWidget

from debrief.gui.menus.recent import RecentFiles, sign_icon
from debrief.gui.plain_text import unmarked
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import PlainLabel
from debrief.gui.widgets.parts import column_layout, made_button, row_layout, set_ground
from debrief.words.cautions import CAUTION

_WIDTH = 620
_SHOWN = 5
"""Recordings on the page; the menu has more."""


class StartPage(QWidget):
    """Words and three ways in: open, drop, look at an invented flight.

    Signals
    -------
    open_wanted
        Ask for a file.
    demo_wanted
        Open the invented hot start.
    profile_wanted
        Make an engine profile.
    file_wanted : str
        Open this recent file.
    """

    open_wanted = Signal()
    demo_wanted = Signal()
    profile_wanted = Signal()
    file_wanted = Signal(str)

    def __init__(self, theme: Theme, recent: RecentFiles, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._files = recent
        set_ground(self, "ground", "Start page")
        outer = QHBoxLayout(self)
        outer.addStretch(1)
        self._body = QWidget()
        column = column_layout(self._body, margins=(0, 0, 0, 0), spacing=10)
        column.addStretch(2)
        column.addWidget(PlainLabel("Turbine Debrief", role="display"))
        self._lines = [
            PlainLabel(
                "Open the recording of a turbine engine start or flight. It is read, never changed, and you "
                "see what was done, what the engine did, whether a limit was exceeded, when and by how much."
            )
        ]
        self._lines[0].setProperty("role", "verdict")
        column.addWidget(self._lines[0])
        column.addSpacing(10)
        row = row_layout(spacing=10)
        self._open = made_button("Open a recording...", self.open_wanted, role="primary", tip="Ctrl+O")
        row.addWidget(self._open)
        row.addWidget(made_button("Try an example hot start", self.demo_wanted))
        row.addWidget(PlainLabel("or drop a file here", role="muted"))
        row.addStretch(1)
        column.addLayout(row)
        kinds = PlainLabel(
            "CSV, also .csv.gz, or one CSV in a .zip; any column names, asked for where unsure.",
            role="small",
            wraps=True,
        )
        column.addWidget(kinds)
        profile = made_button("New engine profile...", self.profile_wanted, role="flat")
        column.addWidget(profile, 0, Qt.AlignmentFlag.AlignLeft)
        self._recent = QWidget()
        self._recent_column = column_layout(self._recent, margins=(0, 14, 0, 0), spacing=2)
        column.addWidget(self._recent)
        column.addStretch(1)
        caution = PlainLabel(CAUTION)
        caution.setAccessibleName("Caution")
        caution.setWordWrap(True)
        column.addWidget(caution)
        self._lines.append(caution)
        column.addStretch(2)
        for line in self._lines:
            line.setWordWrap(True)
        outer.addWidget(self._body)
        outer.addStretch(1)
        recent.changed.connect(self.show_recent)
        theme.changed.connect(self._theme_changed)
        self._theme_changed()

    @Slot()
    def show_recent(self) -> None:
        """List the recordings that were open before."""
        while (item := self._recent_column.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        files = self._files.files[:_SHOWN]
        self._recent.setVisible(bool(files))
        if not files:
            return
        self._recent_column.addWidget(PlainLabel("Recent", role="heading"))
        for file in files:
            there = file.is_there
            button = made_button(
                unmarked(file.words(there)), self._recent_clicked, role="flat", tip=file.path
            )
            button.setIcon(sign_icon(file, there, self._theme))
            button.setProperty("path", file.path)
            self._recent_column.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)

    @Slot()
    def _recent_clicked(self) -> None:
        sender = self.sender()
        if sender is not None:
            self.file_wanted.emit(str(sender.property("path")))

    @Slot()
    def _theme_changed(self) -> None:
        self._body.setFixedWidth(self._theme.px(_WIDTH))
        self.show_recent()
