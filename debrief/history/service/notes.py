"""A person's notes on a recording: in the history where the flight is kept, else beside the settings.

A note never waits for a flight to be kept, and never gets lost with a history that cannot be written: until the
history takes it, it is a small file of its own. Each note is one file; a lock makes reading it, comparing and
writing one step, so that two windows that write at the same time overwrite nothing unseen. Nothing heavy is loaded
where there is no history.
"""

from __future__ import annotations

import json
import re
import uuid
from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from debrief.errors import UserError
from debrief.history.model import LONGEST_NOTE, Note, require_note_text
from debrief.history.service.locking import locked
from debrief.history.storage.changes import change_of, next_version, replaced_text
from debrief.home import history_file, home
from debrief.output.private import write_private

if TYPE_CHECKING:
    from debrief.history.storage.store import Store


@dataclass(frozen=True)
class Written:
    """What became of a note.

    Attributes
    ----------
    note : Note or None
        As it is kept now; None where it was removed.
    told : str
        What the user has to be told, if anything.
    version : str
        Of the note as it is kept, or of the mark of its removal: what the next change is based on.
    """

    note: Note | None
    told: str = ""
    version: str = ""


@dataclass(frozen=True)
class _Loose:
    """A note that is a file: as it is, whether it is the mark of a removed one, and which versions it replaces."""

    note: Note
    removed: bool
    replaces: frozenset[str]


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
    with _kept_store(sha256) as store:
        if store is not None:
            adopt_notes(store, sha256)
            return store.notes(sha256)
    return waiting_notes(sha256)


def notes_in(sha256: str, db: str | None) -> tuple[Note, ...]:
    """Return the notes on a recording: the user's own, or those of a history that is named.

    Raises
    ------
    UserError
        The history cannot be read.
    """
    if db is None:
        return own_notes(sha256)
    from debrief.history.storage.store import Store

    with Store.open(db) as store:
        return store.notes(sha256)


def waiting_notes(sha256: str) -> tuple[Note, ...]:
    """Return the notes on a recording that no history has taken yet: what there is when it cannot be read."""
    notes = [loose.note for loose in _loose(sha256) if not loose.removed]
    return tuple(sorted(notes, key=lambda n: (n.time_s is not None, n.time_s or 0.0, n.note_id)))


def write_own_note(note: Note, based_on: str | None = None) -> Written:
    """Keep a note, new or changed.

    Parameters
    ----------
    note : Note
        An empty `note_id` makes a new one.
    based_on : str, optional
        `version` of the note as it was read before it was changed; where somebody else has changed it since,
        theirs stays and this one is kept beside it.

    Raises
    ------
    UserError
        The text is empty, or no place takes it.
    """
    require_note_text(note.text)
    problem = ""
    try:
        with _kept_store(note.sha256) as store:
            if store is not None:
                adopt_notes(store, note.sha256)
                kept = store.write_note(
                    note.sha256, note.text, author=note.author, time_s=note.time_s,
                    event_kind=note.event_kind, note_id=note.note_id or None, based_on=based_on,
                )  # fmt: skip
                return Written(kept, _beside(note.note_id, kept), kept.version)
    except UserError as error:
        problem = f"{error} The note is kept beside the settings until the history takes it."
    new = replace(note, note_id=note.note_id or str(uuid.uuid4()), changed_at=_now())
    with _locked():
        there = _read(_file(new))
        if there is not None and based_on is not None and there.note.version != based_on:
            new, there, based_on = replace(new, note_id=str(uuid.uuid4())), None, None
        new = _write(new, removed=False, replaces=_replaced(there, based_on))
    return Written(new, problem or _beside(note.note_id, new), new.version)


def remove_own_note(note: Note, based_on: str | None = None) -> Written:
    """Remove a note; writing it again brings it back. One that somebody else has changed since stays.

    Raises
    ------
    UserError
        No place takes the removal.
    """
    problem = ""
    changed = "Somebody else has changed this note meanwhile: it was not removed."
    try:
        with _kept_store(note.sha256) as store:
            if store is not None:
                adopt_notes(store, note.sha256)
                version = store.remove_note(note.note_id, based_on)
                return (
                    Written(note, changed, note.version)
                    if version is None
                    else Written(None, version=version)
                )
    except UserError as error:
        problem = f"{error} The removal is kept beside the settings until the history takes it."
    with _locked():
        there = _read(_file(note))
        if there is not None and based_on is not None and there.note.version != based_on:
            return Written(note, changed, note.version)
        gone = _write(
            replace(note, changed_at=_now()),
            removed=True,
            replaces=_replaced(there, based_on or note.version),
        )
    return Written(None, problem, gone.version)


def adopt_notes(store: Store, sha256: str) -> None:
    """Bring the notes that waited beside the settings into a history that keeps the recording."""
    if not any(_loose(sha256)):
        return
    with _locked():
        for loose in _loose(sha256):
            store.take_note(loose.note, loose.removed, loose.replaces)
            _file(loose.note).unlink(missing_ok=True)


def _replaced(there: _Loose | None, based_on: str | None) -> frozenset[str]:
    """Return the versions that a new change replaces."""
    known = frozenset([based_on] if based_on else [])
    return known if there is None else known | there.replaces | {there.note.version}


def _beside(asked: str, kept: Note) -> str:
    if not asked or asked == kept.note_id:
        return ""
    return "Somebody else has changed this note meanwhile: theirs stays, and yours is kept beside it."


@contextmanager
def _kept_store(sha256: str) -> Iterator[Store | None]:
    """Open the user's history where it keeps the recording; give None otherwise."""
    if not history_file().exists():
        yield None
        return
    from debrief.history.storage.store import Store

    with Store.open() as store:
        yield store if store.flight(sha256) is not None else None


# --- the files ------------------------------------------------------------------------------------------


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="microseconds")


def _file(note: Note) -> Path:
    return notes_folder() / note.sha256 / f"{note.note_id}.json"


def _locked() -> AbstractContextManager[None]:
    return locked(notes_folder() / ".lock")


def _loose(sha256: str) -> list[_Loose]:
    """Return the notes of a recording that are files."""
    try:
        files = sorted((notes_folder() / sha256).glob("*.json"))
    except OSError as error:
        raise UserError(f"The notes in {notes_folder()} cannot be read: {error.strerror}.") from error
    read = [_read(file) for file in files]
    return [loose for loose in read if loose is not None]


def _read(file: Path) -> _Loose | None:
    """Return a note from its file; None where there is none, or it is not one."""
    try:
        row = json.loads(file.read_text(encoding="utf-8"))
        removed = bool(row.pop("removed"))
        replaces = row.pop("replaces", "")
        note = Note(**row)
        change = change_of({**_words(note, removed), "version": note.version, "replaces": replaces})
        if file != _file(note) or not _is_note(note):
            return None
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return None
    return _Loose(replace(note, version=change.version), removed, change.replaces)


def _is_note(note: Note) -> bool:
    """Whether what a file says is a note that a history can take."""
    texts = (note.text, note.author, note.changed_at, note.event_kind or "")
    return (
        all(isinstance(text, str) and len(text) <= LONGEST_NOTE for text in texts)
        and re.fullmatch("[0-9A-Za-z-]{1,36}", note.note_id) is not None
        and (note.time_s is None or (type(note.time_s) in (int, float) and abs(note.time_s) <= 1e9))
        and datetime.fromisoformat(note.changed_at) is not None
    )


def _words(note: Note, removed: bool) -> dict[str, object]:
    return {name: value for name, value in asdict(note).items() if name != "note_id"} | {"removed": removed}


def _write(note: Note, removed: bool, replaces: frozenset[str]) -> Note:
    """Write a note as a new change of it, under the lock; return it with its version."""
    note = replace(note, version=next_version(replaces))
    # Escaped, so that any text comes back as it was.
    text = json.dumps({**asdict(note), "removed": removed, "replaces": replaced_text(replaces)})
    write_private(_file(note), text.encode("ascii"), "The note")
    return note
