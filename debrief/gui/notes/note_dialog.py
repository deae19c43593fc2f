"""Writing one note: its text, who writes, and what it is pinned to. Everything by keyboard."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal, Slot
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QDialog, QFormLayout, QHBoxLayout, QLineEdit, QPlainTextEdit, QWidget

from debrief.gui.background.drafts import Draft
from debrief.gui.style.theme import Theme
from debrief.gui.widgets.choice_boxes import ChoiceBox
from debrief.gui.widgets.labels import PlainLabel
from debrief.gui.widgets.parts import column_layout, made_button
from debrief.session.session import Session
from debrief.session.texts.recording_kind import recording_word
from debrief.words.clock import Clock
from debrief.words.events import event_title

if TYPE_CHECKING:
    from debrief.history.model import Note


@dataclass(frozen=True)
class Pin:
    """What a note can be pinned to: a time, an event at its time, or the whole recording (no time)."""

    words: str
    time_s: float | None
    event_kind: str | None = None


def pin_words(clock: Clock, time_s: float | None, event_kind: str | None, whole: str) -> str:
    """Return what a note is pinned to, in words; `whole` is what the recording is called, a flight or a run."""
    if time_s is None:
        return f"Whole {whole}"
    what = f", {event_title(event_kind).lower()}" if event_kind else ""
    return f"{clock.text(time_s)}{what}"


def pins(session: Session, note: Note | None = None) -> list[Pin]:
    """Return what a note can be pinned to, what it is pinned to now, or most likely will be, first."""
    playhead, clock = session.playback.position_s, session.clock
    out = [Pin(f"{clock.text(playhead)}, where the playhead is", playhead)]
    for step in session.story:
        event = step.event
        if event is None:
            continue
        pin = Pin(f"{clock.text(step.time_s)}, {step.title.lower()}", step.time_s, event.kind)
        inside = event.start_s - 1e-6 <= playhead <= event.end_s + 1e-6
        if inside and step.is_finding and out[0].event_kind is None:
            out.insert(0, pin)
        else:
            out.append(pin)
    whole = recording_word(session.assessment)
    out.append(Pin(f"the whole {whole}", None))
    if note is not None:
        own = Pin(pin_words(clock, note.time_s, note.event_kind, whole), note.time_s, note.event_kind)
        same = (own.time_s, own.event_kind)
        out = [own, *(pin for pin in out if (pin.time_s, pin.event_kind) != same)]
    return out


class NoteDialog(QDialog):
    """A note to be written or changed. Ctrl+Enter keeps it, Escape leaves everything as it was.

    Signals
    -------
    written : str, str, Pin
        The text, the author, and what it is pinned to.
    """

    written = Signal(str, str, object)

    def __init__(
        self,
        session: Session,
        theme: Theme,
        author: str,
        note: Note | None = None,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("Note" if note is None else "Change the note")
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose, True)
        self.setModal(True)
        column = column_layout(self, margins=(18, 16, 18, 14), spacing=10)
        self.text = QPlainTextEdit(note.text if note is not None else "")
        self.text.setAccessibleName("Text of the note")
        self.text.setPlaceholderText("What was seen, said or done")
        self.text.setTabChangesFocus(True)
        self.text.setMinimumSize(theme.px(420), theme.px(130))
        self.author = QLineEdit(note.author if note is not None else author)
        self.author.setPlaceholderText("Name or function; may be left empty")
        self.pin = ChoiceBox(theme)
        self.pin.setSizeAdjustPolicy(ChoiceBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.pin.setMinimumContentsLength(24)
        self._pins = pins(session, note)
        self.pin.addItems([pin.words for pin in self._pins])
        form = QFormLayout(horizontalSpacing=12, verticalSpacing=8)
        form.addRow("&Note", self.text)
        form.addRow("&Pinned to", self.pin)
        form.addRow("&By", self.author)
        column.addLayout(form)
        hint = PlainLabel(
            "Printed on the paper's page of notes. It changes no finding and no verdict.",
            role="small",
            wraps=True,
        )
        column.addWidget(hint)
        row = QHBoxLayout()
        row.addStretch(1)
        self.cancel_button = made_button("Cancel", self.reject)
        self.keep_button = made_button("&Save note (Ctrl+Enter)", self._keep, role="primary")
        row.addWidget(self.cancel_button)
        row.addWidget(self.keep_button)
        column.addLayout(row)
        for keys in ("Ctrl+Return", "Ctrl+Enter"):
            QShortcut(QKeySequence(keys), self).activated.connect(self._keep)
        self._path = str(session.path.resolve())
        self._before = self.text.toPlainText()
        self.draft = Draft("note", self._unsaved, self)
        self.text.textChanged.connect(self._text_changed)
        self._text_changed()
        for changed in (self.text.textChanged, self.author.textChanged, self.pin.currentIndexChanged):
            changed.connect(self.draft.touch)
        self.finished.connect(self.draft.end)
        self.text.setFocus()

    def _unsaved(self) -> dict[str, object] | None:
        """Return what a crash would lose; None where nothing was typed."""
        text, pin = self.text.toPlainText(), self._pins[self.pin.currentIndex()]
        if not text.strip() or text == self._before:
            return None
        return {
            "path": self._path,
            "text": text,
            "author": self.author.text(),
            "time_s": pin.time_s,
            "event_kind": pin.event_kind or "",
        }

    def bring_back(self, text: str, author: str, time_s: float | None, event_kind: str | None) -> None:
        """Show what was typed when the program ended, and keep it again at once."""
        self.text.setPlainText(text)
        self.author.setText(author)
        same = [n for n, pin in enumerate(self._pins) if (pin.time_s, pin.event_kind) == (time_s, event_kind)]
        self.pin.setCurrentIndex(same[0] if same else 0)
        self.draft.keep()

    @Slot()
    def _text_changed(self) -> None:
        self.keep_button.setEnabled(bool(self.text.toPlainText().strip()))

    @Slot()
    def _keep(self) -> None:
        text = self.text.toPlainText()
        if text.strip():
            self.written.emit(
                text.strip("\n"), self.author.text().strip(), self._pins[self.pin.currentIndex()]
            )
            self.accept()
