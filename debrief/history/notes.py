"""A person's notes on a recording: in the history where the flight is kept, else beside the settings.

A note never waits for a flight to be kept, and never gets lost with a history that cannot be written: until the
history takes it, it is a small file of its own. Each note is one file, so that two windows that write at the same
time cannot overwrite each other's. Nothing heavy is loaded where there is no history.
"""

from __future__ import annotations

import json
import uuid
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from debrief.errors import UserError
from debrief.history.desk import default_file
from debrief.history.model import Note
from debrief.home import home
from debrief.output.private import write_private

if TYPE_CHECKING:
    from debrief.history.store import Store


@dataclass(frozen=True)
class Written:
    """What became of a note: as it is kept now (None: removed), and what the user has to be told, if anything."""

    note: Note | None
    told: str = ""


def notes_folder() -> Path:
    """Return where the notes are that no history has taken yet; it need not be there."""
    return home() / "notes"


def own_notes(sha256: str) -> tuple[Note, ...]:
    """Return the user's notes on a recording: those of the whole flight first, then by time.

    Raises
    ------
    UserError
        The history cannot be read; the notes outside it are still there.
    """
    found = {note.note_id: (note, removed) for note, removed in _loose(sha256)}
    with _kept_store(sha256) as store:
        if store is not None:
            for note in _adopted(store, sha256, found):
                found[note.note_id] = (note, False)
    notes = [note for note, removed in found.values() if not removed]
    return tuple(sorted(notes, key=lambda n: (n.time_s is not None, n.time_s or 0.0, n.note_id)))


def notes_in(sha256: str, db: str | None) -> tuple[Note, ...]:
    """Return the notes on a recording: the user's own, or those of a history that is named.

    Raises
    ------
    UserError
        The history cannot be read.
    """
    if db is None:
        return own_notes(sha256)
    from debrief.history.store import Store

    with Store.open(db) as store:
        return store.notes(sha256)


def waiting_notes(sha256: str) -> tuple[Note, ...]:
    """Return the notes on a recording that no history has taken yet: what there is when it cannot be read."""
    notes = [note for note, removed in _loose(sha256) if not removed]
    return tuple(sorted(notes, key=lambda n: (n.time_s is not None, n.time_s or 0.0, n.note_id)))


def write_own_note(note: Note, based_on: str | None = None) -> Written:
    """Keep a note, new or changed.

    Parameters
    ----------
    note : Note
        An empty `note_id` makes a new one.
    based_on : str, optional
        `changed_at` of the note as it was read before it was changed; where somebody else has changed it since,
        theirs stays and this one is kept beside it.

    Raises
    ------
    UserError
        The text is empty, or no place takes it.
    """
    if not note.text.strip():
        raise UserError("An empty note is not kept: write something, or remove the note.")
    problem = ""
    try:
        with _kept_store(note.sha256) as store:
            if store is not None:
                _adopted(store, note.sha256)
                kept = store.write_note(
                    note.sha256, note.text, author=note.author, time_s=note.time_s,
                    event_kind=note.event_kind, note_id=note.note_id or None, based_on=based_on,
                )  # fmt: skip
                return Written(kept, _beside(note.note_id, kept))
    except UserError as error:
        problem = f"{error} The note is kept beside the settings until the history takes it."
    new = replace(note, note_id=note.note_id or str(uuid.uuid4()), changed_at=_now())
    there = _read(_file(new))
    if there is not None and based_on is not None and there[0].changed_at != based_on:
        new = replace(new, note_id=str(uuid.uuid4()))
    _write(new, removed=False)
    return Written(new, problem or _beside(note.note_id, new))


def remove_own_note(note: Note, based_on: str | None = None) -> Written:
    """Remove a note; writing it again brings it back. One that somebody else has changed since stays.

    Raises
    ------
    UserError
        No place takes the removal.
    """
    problem = ""
    try:
        with _kept_store(note.sha256) as store:
            if store is not None:
                _adopted(store, note.sha256)
                if store.remove_note(note.note_id, based_on) is not None:
                    return Written(None)
                return Written(note, "Somebody else has changed this note meanwhile: it was not removed.")
    except UserError as error:
        problem = f"{error} The removal is kept beside the settings until the history takes it."
    there = _read(_file(note))
    if there is not None and based_on is not None and there[0].changed_at != based_on:
        return Written(note, "Somebody else has changed this note meanwhile: it was not removed.")
    _write(replace(note, changed_at=_now()), removed=True)
    return Written(None, problem)


def adopt_notes(store: Store, sha256: str) -> None:
    """Bring the notes that waited beside the settings into a history that keeps the recording."""
    _adopted(store, sha256)


def _beside(asked: str, kept: Note) -> str:
    if not asked or asked == kept.note_id:
        return ""
    return "Somebody else has changed this note meanwhile: theirs stays, and yours is kept beside it."


class _kept_store:
    """Opens the user's history where it keeps the recording; gives None otherwise."""

    def __init__(self, sha256: str) -> None:
        self._sha256 = sha256
        self._store: Store | None = None

    def __enter__(self) -> Store | None:
        if not default_file().exists():
            return None
        from debrief.history.store import Store

        self._store = Store.open()
        try:
            return self._store if self._store.flight(self._sha256) is not None else None
        except BaseException:
            self._store.close()
            raise

    def __exit__(self, *_exc: object) -> None:
        if self._store is not None:
            self._store.close()


def _adopted(
    store: Store, sha256: str, loose: dict[str, tuple[Note, bool]] | None = None
) -> tuple[Note, ...]:
    """Move the loose notes of a recording into its history; return the notes that the history has then."""
    found = loose if loose is not None else {note.note_id: (note, gone) for note, gone in _loose(sha256)}
    for note, removed in list(found.values()):
        store.take_note(note, removed)
        _file(note).unlink(missing_ok=True)
        found.pop(note.note_id)
    return store.notes(sha256)


# --- the files ------------------------------------------------------------------------------------------


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="microseconds")


def _file(note: Note) -> Path:
    return notes_folder() / note.sha256 / f"{note.note_id}.json"


def _loose(sha256: str) -> list[tuple[Note, bool]]:
    """Return the notes of a recording that are files, and whether each is removed."""
    try:
        files = sorted((notes_folder() / sha256).glob("*.json"))
    except OSError as error:
        raise UserError(f"The notes in {notes_folder()} cannot be read: {error.strerror}.") from error
    read = [_read(file) for file in files]
    return [pair for pair in read if pair is not None]


def _read(file: Path) -> tuple[Note, bool] | None:
    """Return a note from its file and whether it is removed; None where there is none, or it is not one."""
    try:
        row = json.loads(file.read_text(encoding="utf-8"))
        removed = bool(row.pop("removed"))
        note = Note(**row)
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return None
    return note, removed


def _write(note: Note, removed: bool) -> None:
    # Escaped, so that any text comes back as it was.
    text = json.dumps({**asdict(note), "removed": removed})
    write_private(_file(note), text.encode("ascii"), "The note")
