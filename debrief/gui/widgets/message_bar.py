"""A calm bar for what could not be done, and for progress: the window stays usable."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QEvent, QObject, Qt, QUrl, Signal, Slot
from PySide6.QtGui import QDesktopServices, QGuiApplication, QPainter, QPaintEvent
from PySide6.QtWidgets import QProgressBar, QSizePolicy, QWidget

from debrief.gui.background.guarded import guarded, painted
from debrief.gui.plain_text import plain_tip, shortened
from debrief.gui.style.shapes import draw_shape
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.labels import ElidedLabel, WrappedLabel
from debrief.gui.widgets.parts import made_button, row_layout, set_ground
from debrief.gui.widgets.spoken import announce
from debrief.words.secrets import redacted
from debrief.words.visible import visible

_LONGEST = 600
"""Characters of a message: more would push the page out of the window."""


class MessageBar(QWidget):
    """One message at a time, until it is closed or replaced."""

    def __init__(self, theme: Theme, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._theme = theme
        self._details = ""
        self._is_problem = False
        self._file: Path | None = None
        self._act: Callable[[], object] | None = None
        self.setAccessibleName("Message")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Maximum)
        row = row_layout(self, margins=(46, 8, 16, 9), spacing=8)
        self._text = WrappedLabel()
        row.addWidget(self._text, 1)
        self._opens = [
            made_button("Op&en", self._open_file, tip="Open the file in its own program"),
            made_button("Show in fo&lder", self._open_folder, tip="Open the folder that the file is in"),
        ]
        self._offered = made_button("", self._take_offer)
        for button in (*self._opens, self._offered):
            row.addWidget(button, 0, Qt.AlignmentFlag.AlignVCenter)
        self._copy = made_button("Copy details", self._copy_details)
        row.addWidget(self._copy, 0, Qt.AlignmentFlag.AlignVCenter)
        self._close = made_button("Close", self.dismiss, name="Close the message")
        row.addWidget(self._close, 0, Qt.AlignmentFlag.AlignVCenter)
        theme.changed.connect(self.update)
        self.hide()

    @property
    def words(self) -> str:
        """What is said now; empty when nothing is."""
        return self._text.text() if not self.isHidden() else ""

    def tell(self, text: str, problem: bool = True, details: str = "") -> None:
        """Say something; details are what "Copy details" copies."""
        whole = visible(redacted(text), keep="\n")
        said = shortened(whole, _LONGEST)
        self._text.setToolTip(plain_tip(whole) if said != whole else "")
        self._text.setText(said)
        self._text.setAccessibleName(said)
        self._details = redacted(details)
        self._is_problem = problem
        self._copy.setVisible(bool(details))
        self._offer(None)
        self.show()
        self.update()
        announce(self, said, urgent=problem)

    def tell_file(self, text: str, path: str) -> None:
        """Say that a file was written, with buttons that open it and its folder."""
        self.tell(text, False)
        self._offer(Path(path))

    def tell_offer(self, text: str, words: str, act: Callable[[], object], problem: bool = False) -> None:
        """Say something with a button of these words, which closes the message and does what is offered."""
        self.tell(text, problem)
        self._act = act
        self._offered.setText(words)
        self._offered.show()

    @Slot()
    def _take_offer(self) -> None:
        act = self._act
        self.dismiss()
        if act is not None:
            act()

    def _offer(self, file: Path | None) -> None:
        self._file = file
        self._act = None
        self._offered.hide()
        for button in self._opens:
            button.setVisible(file is not None)

    @Slot()
    def _open_file(self) -> None:
        if self._file is not None:
            self._open(self._file, f"No program opened {self._file.name}; it is in {self._file.parent}.")

    @Slot()
    def _open_folder(self) -> None:
        if self._file is not None:
            self._open(self._file.parent, f"No program opened the folder {self._file.parent}.")

    def _open(self, place: Path, else_: str) -> None:
        if not QDesktopServices.openUrl(QUrl.fromLocalFile(str(place.absolute()))):
            self.tell(else_, True)

    @Slot()
    def dismiss(self) -> None:
        """Close it."""
        self.hide()

    @Slot()
    def _copy_details(self) -> None:
        QGuiApplication.clipboard().setText(self._details)

    @painted
    def paintEvent(self, painter: QPainter, event: QPaintEvent) -> None:
        """Draw the ground and the shape."""
        theme = self._theme
        ground = "tint_caution" if self._is_problem else "selection"
        painter.fillRect(self.rect(), theme.color(ground))
        painter.setPen(theme.color("hairline"))
        painter.drawLine(0, self.height() - 1, self.width(), self.height() - 1)
        if self._is_problem:
            draw_shape(painter, "triangle", 26, self.height() / 2, theme.px(7), theme, ground)


class ProgressBar(QWidget):
    """What is being done, how far, and a way to stop it.

    Signals
    -------
    cancel_wanted
        The user wants it stopped.
    """

    cancel_wanted = Signal()

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._over: QWidget | None = None
        self._is_calm = False
        set_ground(self, "panel", "Progress")
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Maximum)
        row = row_layout(self, margins=(16, 7, 16, 7), spacing=12)
        self._text = ElidedLabel(mode=Qt.TextElideMode.ElideMiddle, keeps_width=True)
        row.addWidget(self._text)
        self._bar = QProgressBar(textVisible=False)
        self._bar.setRange(0, 1000)
        self._bar.setFixedHeight(8)
        row.addWidget(self._bar, 1)
        row.addWidget(made_button("Cancel", self.cancel_wanted))
        self.hide()

    def float_over(self, page: QWidget) -> None:
        """Lie over the upper edge of a sibling from now on: nothing moves when work begins and ends."""
        self._over = page
        page.installEventFilter(self)
        self._follow()

    @guarded(False)
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Go along with the page below."""
        if event.type() in (QEvent.Type.Resize, QEvent.Type.Move):
            self._follow()
        return False

    def _follow(self) -> None:
        if self._over is not None:
            place = self._over.geometry()
            self.setGeometry(place.x(), place.y(), place.width(), self.sizeHint().height())
            self.raise_()

    @Slot(bool)
    def reduce_motion(self, reduced: bool) -> None:
        """Show words alone while it is not known how far the work is."""
        self._is_calm = reduced

    @property
    def words(self) -> str:
        """What is being done; empty when nothing is."""
        return self._text.text() if not self.isHidden() else ""

    def tell(self, text: str, fraction: float | None) -> None:
        """Show what is being done and how far."""
        self._text.setText(text)
        # How far is not known: Qt lets the bar run to and fro, unless nothing is to move.
        self._bar.setVisible(fraction is not None or not self._is_calm)
        if fraction is None:
            self._bar.setRange(0, 0 if not self._is_calm else 1000)
        else:
            self._bar.setRange(0, 1000)
            self._bar.setValue(round(1000 * fraction))
        self._follow()
        self.show()
