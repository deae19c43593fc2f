"""The notes of the recording on the table: read, changed with undo, and written away from the event loop."""

from __future__ import annotations

import logging
import uuid
from collections import deque
from collections.abc import Generator
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal, Slot
from PySide6.QtGui import QUndoCommand, QUndoStack

from debrief.errors import UserError
from debrief.gui.background.error_words import told_of
from debrief.gui.background.guarded import guarded
from debrief.gui.background.jobs import JobReport, Jobs
from debrief.gui.replay.replay_controller import Replay

if TYPE_CHECKING:
    from debrief.history.model import Note

log = logging.getLogger(__name__)

READ_AFTER_MS = 250
_BUG = (
    "The program failed here; this is its fault, and a note may not have been kept. "
    "Copy the details to report it."
)


@dataclass(frozen=True)
class _Wish:
    """One change that is still to be written: the note as it is to be, or its removal."""

    note: Note
    removed: bool


class Notebook(QObject):
    """Notes with undo. What is shown changes at once; what is kept follows, in the order of the changes.

    Signals
    -------
    changed
        Notes came, went or are others.
    written
        What was changed is kept: who reads the notes from their place reads them as shown.
    told : str, bool, str
        A sentence for the user, whether it is a problem, and details to copy.
    """

    changed = Signal()
    written = Signal()
    told = Signal(str, bool, str)

    def __init__(self, replay: Replay, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self._replay = replay
        self._sha256 = ""
        self._problem = ""
        self._notes: dict[str, Note] = {}
        self._known: dict[str, str] = {}
        self._wishes: deque[_Wish] = deque()
        self._changes = 0
        self._is_read = True
        self.undo_stack = QUndoStack(self)
        self.jobs = Jobs(self)
        self._timer = QTimer(self, singleShot=True, interval=READ_AFTER_MS)
        self._timer.timeout.connect(self.refresh)
        self.jobs.succeeded.connect(self._job_succeeded)
        self.jobs.failed.connect(self._job_failed)
        replay.session_changed.connect(self._session_changed)

    @property
    def notes(self) -> tuple[Note, ...]:
        """The notes: those of the whole flight first, then by time."""
        notes = self._notes.values()
        return tuple(sorted(notes, key=lambda n: (n.time_s is not None, n.time_s or 0.0, n.note_id)))

    @property
    def can_write(self) -> bool:
        """Whether there is a recording to note something on."""
        return bool(self._sha256)

    @property
    def is_kept(self) -> bool:
        """Whether nothing is left to be written."""
        return not self._wishes and not self.jobs.is_running("write")

    @property
    def is_read(self) -> bool:
        """Whether the notes that are kept are shown, all of them."""
        return self._is_read

    @property
    def sha256(self) -> str:
        """The flight that notes are added to; empty for none."""
        return self._sha256

    def add(
        self,
        text: str,
        author: str,
        time_s: float | None,
        event_kind: str | None = None,
        sha256: str | None = None,
    ) -> None:
        """Add a note, pinned to a time or to the whole flight: to this flight, or to the one on the table."""
        flight = self._sha256 if sha256 is None else sha256
        if not flight or not text.strip():
            return
        from debrief.history.model import Note

        note = Note(str(uuid.uuid4()), flight, text, author, time_s, event_kind)
        if flight != self._sha256:
            self._keep_aside(note)
            return
        self.undo_stack.push(_Change(self, None, note, "Add a note"))

    def change(
        self, old: Note, text: str, author: str, time_s: float | None, event_kind: str | None = None
    ) -> None:
        """Change a note."""
        new = replace(old, text=text, author=author, time_s=time_s, event_kind=event_kind)
        if text.strip() and new != old and old.sha256 != self._sha256:
            self._keep_aside(new)
        elif text.strip() and new != old and old.note_id in self._notes:
            self.undo_stack.push(_Change(self, old, new, "Change a note"))

    def _keep_aside(self, note: Note) -> None:
        """Keep a note on a flight that was on the table when it was begun, while another has come."""
        self._wishes.append(_Wish(note, removed=False))
        self._write()
        self.told.emit(
            "Another flight has come on the table while the note was written: it is kept on its own.",
            False,
            "",
        )

    def remove(self, note: Note) -> None:
        """Remove a note."""
        if note.note_id in self._notes:
            self.undo_stack.push(_Change(self, note, None, "Remove a note"))

    def show(self, before: Note | None, after: Note | None) -> None:
        """Put one state of a note in place of another, and have it written."""
        self._changes += 1
        if after is not None:
            self._notes[after.note_id] = after
            self._wishes.append(_Wish(after, removed=False))
        elif before is not None:
            self._notes.pop(before.note_id, None)
            self._wishes.append(_Wish(before, removed=True))
        self.changed.emit()
        self._write()

    def close(self) -> None:
        """Write what is left, and wait for it."""
        self._timer.stop()
        self.jobs.close()
        try:
            for _ in _write_steps(self._wishes, self._known):
                pass
        except Exception:
            # The window is going: the log is the only place left to say it.
            log.exception("A note could not be kept")

    # --- reading and writing ----------------------------------------------------------------------------

    @Slot()
    def _session_changed(self) -> None:
        session = self._replay.session
        sha256 = session.recording.provenance.sha256 if session is not None else ""
        if len(sha256) != 64:
            sha256 = ""
        if sha256 == self._sha256:
            return
        self._sha256 = sha256
        self._notes = {}
        self.undo_stack.clear()
        self.changed.emit()
        self.jobs.cancel("read")
        self._is_read = not sha256
        # The first picture of the recording comes before its notes.
        self._timer.start()

    @Slot()
    def refresh(self) -> None:
        """Read the notes again; those that are still being written stay."""
        self._timer.stop()
        self._is_read = not self._sha256
        if self._sha256 and self.is_kept:
            self.jobs.start("read", partial(_read_steps, self._sha256, self._changes))

    def _write(self) -> None:
        if self._wishes and not self.jobs.is_running("write"):
            self.jobs.start("write", partial(_write_steps, self._wishes, self._known))

    @Slot(object)
    def _job_succeeded(self, report: JobReport) -> None:
        if report.name == "read":
            sha256, changes, notes, problem = report.value
            if sha256 != self._sha256:
                return
            if problem and problem != self._problem:
                self.told.emit(problem, True, "")
            self._problem = problem
            if changes != self._changes:
                self.refresh()  # something was changed since: what was read may lack it
                return
            self._is_read = True
            self._notes = {note.note_id: note for note in notes}
            self._known.update({note.note_id: note.version for note in notes})
            self.changed.emit()
            return
        for words in report.value:
            self.told.emit(words, True, "")
        if self._wishes:
            self._write()
            return
        self.written.emit()
        if report.value or not self._is_read:
            self.refresh()

    @Slot(object)
    def _job_failed(self, report: JobReport) -> None:
        error = report.error
        if error is not None:
            words, details = told_of(error, _BUG)
            self.told.emit(words, True, details)
        if report.name == "write":
            self._write()
            if self.is_kept and not self._is_read:
                self.refresh()


class _Change(QUndoCommand):
    """From one state of a note to another; None is no note."""

    def __init__(self, book: Notebook, before: Note | None, after: Note | None, words: str) -> None:
        super().__init__(words)
        self._book = book
        self._before = before
        self._after = after

    @guarded()
    def redo(self) -> None:
        """Make the change."""
        self._book.show(self._before, self._after)

    @guarded()
    def undo(self) -> None:
        """Take it back."""
        self._book.show(self._after, self._before)


# --- the work, on another thread ------------------------------------------------------------------------


def _read_steps(sha256: str, changes: int) -> Generator[None, None, tuple[str, int, tuple[Note, ...], str]]:
    yield None
    from debrief.history.service.notes import own_notes, waiting_notes

    try:
        return sha256, changes, own_notes(sha256), ""
    except UserError as error:
        return sha256, changes, waiting_notes(sha256), str(error)


def _write_steps(wishes: deque[_Wish], known: dict[str, str]) -> Generator[None, None, list[str]]:
    """Write what is wished, in order; return what the user has to be told.

    Notes
    -----
    Nothing is yielded between taking a wish and keeping it: a job that is stopped has lost none.
    """
    from debrief.history.service.notes import remove_own_note, write_own_note

    told: list[str] = []
    while wishes:
        wish = wishes.popleft()
        note = wish.note
        try:
            if wish.removed:
                written = remove_own_note(note, known.get(note.note_id))
            else:
                written = write_own_note(note, known.get(note.note_id))
        except UserError as error:
            told.append(str(error))
            continue
        # Of a removed one as well: bringing it back must not overwrite what somebody else made of it meanwhile.
        known[written.note.note_id if written.note is not None else note.note_id] = written.version
        if written.told:
            told.append(written.told)
        yield None
    return told
