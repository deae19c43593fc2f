"""What is shown while nothing is open: what the program is for, what to do, and the caution."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from debrief.gui.plain_text import plain_tip, unmarked
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import PlainLabel
from debrief.words.cautions import CAUTION

_WIDTH = 620


class StartPage(QWidget):
    """Words and three ways in: open, drop, look at an invented flight.

    Signals
    -------
    open_wanted
        Ask for a file.
    demo_wanted
        Open the invented hot start.
    file_wanted : str
        Open this recent file.
    """

    open_wanted = Signal()
    demo_wanted = Signal()
    file_wanted = Signal(str)

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self.setObjectName("ground")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground, True)
        self.setAccessibleName("Start page")
        outer = QHBoxLayout(self)
        outer.addStretch(1)
        self._body = QWidget()
        column = QVBoxLayout(self._body)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(10)
        column.addStretch(2)
        title = PlainLabel("Turbine Debrief")
        title.setProperty("role", "display")
        column.addWidget(title)
        self._lines = [
            PlainLabel(
                "Open the recording of a turbine engine start or flight. It is read, never changed, and you "
                "see what was done, what the engine did, whether a limit was exceeded, when and by how much."
            )
        ]
        self._lines[0].setProperty("role", "verdict")
        column.addWidget(self._lines[0])
        column.addSpacing(10)
        row = QHBoxLayout()
        row.setSpacing(10)
        self._open = QPushButton("Open a recording...")
        self._open.setProperty("role", "primary")
        self._open.setToolTip("Ctrl+O")
        self._open.clicked.connect(self.open_wanted)
        row.addWidget(self._open)
        demo = QPushButton("Look at an invented hot start")
        demo.clicked.connect(self.demo_wanted)
        row.addWidget(demo)
        drop = PlainLabel("or drop a file here")
        drop.setProperty("role", "muted")
        row.addWidget(drop)
        row.addStretch(1)
        column.addLayout(row)
        kinds = PlainLabel(
            "CSV, also .csv.gz, or one CSV in a .zip; any column names, asked for where unsure."
        )
        kinds.setProperty("role", "small")
        kinds.setWordWrap(True)
        column.addWidget(kinds)
        self._recent = QWidget()
        self._recent_column = QVBoxLayout(self._recent)
        self._recent_column.setContentsMargins(0, 14, 0, 0)
        self._recent_column.setSpacing(2)
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
        theme.changed.connect(self._theme_changed)
        self._theme_changed()

    @property
    def words(self) -> str:
        """All the words of the page."""
        return "\n".join(label.text() for label in self.findChildren(QLabel))

    def show_recent(self, paths: Sequence[str]) -> None:
        """List files that were open before."""
        while (item := self._recent_column.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        self._recent.setVisible(bool(paths))
        if not paths:
            return
        heading = PlainLabel("Opened before")
        heading.setProperty("role", "heading")
        self._recent_column.addWidget(heading)
        for path in paths:
            button = QPushButton(unmarked(Path(path).name))
            button.setProperty("role", "flat")
            button.setProperty("path", path)
            button.setToolTip(plain_tip(path))
            button.clicked.connect(self._recent_clicked)
            self._recent_column.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)

    @Slot()
    def _recent_clicked(self) -> None:
        sender = self.sender()
        if sender is not None:
            self.file_wanted.emit(str(sender.property("path")))

    @Slot()
    def _theme_changed(self) -> None:
        self._body.setFixedWidth(self._theme.px(_WIDTH))
