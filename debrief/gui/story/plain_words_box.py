"""The start in plain words, above the story: open where there is room, else folded to one line."""

from __future__ import annotations

from PySide6.QtCore import Qt, Slot
from PySide6.QtWidgets import QWidget

from debrief.analysis.model import Start
from debrief.gui.replay.replay_controller import Replay
from debrief.gui.widgets.labels import WrappedLabel
from debrief.gui.widgets.parts import column_layout, made_button
from debrief.session.texts.plain_words import TITLE, plain_words

_OPEN, _FOLDED = "\N{BLACK DOWN-POINTING SMALL TRIANGLE}", "\N{BLACK RIGHT-POINTING SMALL TRIANGLE}"
_SHARE = 0.25
"""It opens by itself where it takes no more than this share of the panel, so that the story stays in view."""


class PlainWordsBox(QWidget):
    """A button with the title, and the sentences below it while it is open.

    What a person chose holds until the window closes, for every start and recording.
    """

    def __init__(self, replay: Replay, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._start: Start | None = None
        self._room = 0
        self._chosen: bool | None = None
        column = column_layout(self, margins=(4, 0, 6, 0), spacing=2)
        self._fold = made_button(TITLE, self._fold_clicked, role="flat", checkable=True)
        column.addWidget(self._fold, 0, Qt.AlignmentFlag.AlignLeft)
        self._words = WrappedLabel()
        self._words.setContentsMargins(6, 0, 0, 6)
        self._words.setAccessibleName("The start in plain words")
        column.addWidget(self._words)

    def show_start(self, start: Start | None) -> None:
        """Tell of this start; without one, or with nothing to tell, there is no box."""
        session = self._replay.session
        self._start = start
        lines = (
            ()
            if session is None or start is None
            else plain_words(session.assessment, start, clock=session.clock)
        )
        self._words.setText(" ".join(lines))
        self.setVisible(bool(lines))
        if lines:
            self._fit()

    def take_room(self, height: int) -> None:
        """Open where the words leave most of a panel of this height, [px], to the story; else fold."""
        if height != self._room:
            self._room = height
            if self._start is not None:
                self._fit()

    def _fit(self) -> None:
        margins = self._words.contentsMargins()
        width = max(self.width() - 10, 1)
        needed = self._words.heightForWidth(width) + margins.bottom()
        is_open = self._chosen if self._chosen is not None else needed <= _SHARE * self._room
        self._fold.setChecked(is_open)
        self._words.setVisible(is_open)
        session, start = self._replay.session, self._start
        which = ""
        if session is not None and start is not None and len(session.assessment.starts) > 1:
            which = f": start {start.number}"
            if session.recording.has_several_engines:
                which += f", engine {start.engine}"
        self._fold.setText(f"{_OPEN if is_open else _FOLDED} {TITLE}{which}")
        self._fold.setAccessibleName(f"{TITLE}{which}")
        self._fold.setToolTip("Fold the words away" if is_open else "Show the start in plain words")

    @Slot()
    def _fold_clicked(self) -> None:
        self._chosen = self._fold.isChecked()
        self._fit()
