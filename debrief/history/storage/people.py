"""What people add to the history: notes, exclusions, maintenance actions. Loads SQLAlchemy."""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Mapping
from dataclasses import asdict, fields, replace
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine

from debrief.errors import UserError
from debrief.history.measures import start_epoch
from debrief.history.model import Maintenance, Note, require_note_text
from debrief.history.storage import schema as tables
from debrief.history.storage.changes import next_version, replaced_text
from debrief.history.storage.database import now_text, writing
from debrief.history.storage.failures import told
from debrief.history.storage.joining import exclusion_changes, join_notes, note_change
from debrief.history.storage.rows import storable_row
from debrief.history.storage.values import sound_rows
from debrief.words.remedies import REASON, advised


class PeoplesWords:
    """The part of a store that people write by hand."""

    engine: Engine
    place: str
    left_out: set[str]

    def notes(self, sha256_key: str) -> tuple[Note, ...]:
        """Return the notes of a recording: those of the whole flight first, then by time."""
        n = tables.notes
        query = (
            sa.select(n)
            .where(n.c.sha256 == sha256_key, n.c.removed.is_not(True))
            .order_by(n.c.time_s.is_not(None), n.c.time_s, n.c.note_id)
        )
        with told(self.place), self.engine.connect() as connection:
            rows = sound_rows(n.name, connection.execute(query).mappings().all(), self.left_out)
        return tuple(_note_of(row) for row in rows)

    def write_note(
        self,
        sha256_key: str,
        text: str,
        *,
        author: str = "",
        time_s: float | None = None,
        event_kind: str | None = None,
        note_id: str | None = None,
        based_on: str | None = None,
    ) -> Note:
        """Keep a note, or change the one of this id, and return it as it is kept.

        Parameters
        ----------
        sha256_key, text, author, time_s, event_kind
            Which recording, and what the note says.
        note_id : str, optional
            Of the note to change; one that is not there yet is made with this id.
        based_on : str, optional
            `version` of the note that was read before it was changed: if somebody else has changed it since,
            theirs stays and this one becomes a note of its own, so that neither is lost.

        Raises
        ------
        UserError
            The text is empty, or the recording is not in the history.
        """
        require_note_text(text)
        key = note_id or str(uuid.uuid4())
        row = {
            "sha256": sha256_key,
            "time_s": time_s,
            "event_kind": event_kind,
            "author": author,
            "text": text,
            "changed_at": now_text(),
        }
        n = tables.notes
        with told(self.place), writing(self.engine) as connection:
            _require(connection, sha256_key)
            there = connection.execute(sa.select(n).where(n.c.note_id == key)).mappings().first()
            replaced = frozenset([based_on] if based_on else [])
            if there is not None:
                before = note_change(there)
                replaced = before.line
                if based_on is not None and before.version != based_on:
                    key, there, replaced = str(uuid.uuid4()), None, frozenset()
            row |= {"version": next_version(replaced), "replaces": replaced_text(replaced)}
            row = storable_row(n, {"note_id": key, "removed": False, **row}, "The note")
            if there is None:
                connection.execute(n.insert().values(**row))
            else:
                connection.execute(n.update().where(n.c.note_id == key).values(**row))
        return _note_of(row)

    def remove_note(self, note_id: str, based_on: str | None = None) -> str | None:
        """Remove a note and return the version of its mark; writing it again with its id brings it back.

        Returns None, and leaves it, where somebody else has changed it since `based_on`.
        """
        n = tables.notes
        which = n.c.note_id == note_id
        with told(self.place), writing(self.engine) as connection:
            there = connection.execute(sa.select(n).where(which)).mappings().first()
            if there is None or (based_on is not None and note_change(there).version != based_on):
                return None
            replaced = note_change(there).line
            version = next_version(replaced)
            connection.execute(
                n.update()
                .where(which)
                .values(
                    removed=True, changed_at=now_text(), version=version, replaces=replaced_text(replaced)
                )
            )
        return version

    def take_note(self, note: Note, removed: bool, replaces: Iterable[str] = ()) -> None:
        """Bring a note from elsewhere: where it was changed here as well, both stay.

        Parameters
        ----------
        note : Note
        removed : bool
            Whether it is the mark of a note that was removed.
        replaces : iterable of str
            Versions that it replaces.

        Raises
        ------
        UserError
            The recording is not in the history.
        """
        row = {**asdict(note), "removed": removed, "replaces": replaced_text(replaces), "beside": None}
        with told(self.place), writing(self.engine) as connection:
            _require(connection, note.sha256)
            join_notes(connection, [storable_row(tables.notes, row, "The note")])

    def exclude(
        self, sha256_key: str, number: int, reason: str, *, engine: int = 1, author: str = ""
    ) -> None:
        """Leave one start out of its engine's normal range, with the reason, which is required."""
        if not reason.strip():
            raise UserError(
                advised("Leaving a start out of the normal range needs a reason{how}.", how=REASON)
            )
        self._exclusion(sha256_key, engine, number, reason, author, withdrawn=False)

    def include(self, sha256_key: str, number: int, *, engine: int = 1, author: str = "") -> None:
        """Take an exclusion back."""
        self._exclusion(sha256_key, engine, number, "", author, withdrawn=True)

    def _exclusion(
        self, sha256_key: str, engine: int, number: int, reason: str, author: str, *, withdrawn: bool
    ) -> None:
        s, x = tables.starts, tables.exclusions
        row: dict[str, Any] = {
            "reason": reason, "author": author, "changed_at": now_text(), "withdrawn": withdrawn, "others": "[]",
        }  # fmt: skip
        with told(self.place), writing(self.engine) as connection:
            _require(connection, sha256_key)
            there = sa.select(s.c.number).where(
                s.c.sha256 == sha256_key, s.c.engine == engine, s.c.number == number
            )
            if connection.execute(there).first() is None:
                raise UserError(f"This recording has no start {number} of engine {engine}.")
            which = (x.c.sha256 == sha256_key) & (x.c.engine == engine) & (x.c.start_number == number)
            here = connection.execute(sa.select(x).where(which)).mappings().first()
            # Who says something of a start sees all that is said of it, and replaces it.
            replaced = frozenset[str]().union(
                *(change.line for change in (() if here is None else exclusion_changes(here)))
            )
            row |= {"version": next_version(replaced), "replaces": replaced_text(replaced)}
            row = storable_row(x, row, "The reason")
            if here is None:
                connection.execute(
                    x.insert().values(sha256=sha256_key, engine=engine, start_number=number, **row)
                )
            else:
                connection.execute(x.update().where(which).values(**row))

    def note_maintenance(self, engine: str, at: datetime, what: str, *, author: str = "") -> str:
        """Note a maintenance action: what is usual for the engine is learnt anew from then on."""
        if not what.strip():
            raise UserError("A maintenance action needs words: say what was done.")
        epoch, _ = start_epoch(at)
        m = tables.maintenance
        row = {
            "action_id": str(uuid.uuid4()),
            "engine_key": engine,
            "at_epoch_s": epoch,
            "what": what,
            "author": author,
            "changed_at": now_text(),
            "withdrawn": False,
        }
        with told(self.place), writing(self.engine) as connection:
            connection.execute(m.insert().values(**storable_row(m, row, "The action")))
        return str(row["action_id"])

    def withdraw_maintenance(self, engine: str, name: str) -> Maintenance:
        """Take a maintenance action back, for good: what is usual is learnt on as if it had not been noted.

        Parameters
        ----------
        engine : str
        name : str
            The first digits of its id, at least four.

        Raises
        ------
        UserError
            No action of the engine, or more than one, is named so, or it was taken back before.
        """
        m = tables.maintenance
        every = self.maintenance(engine, withdrawn=True)
        hits = [one for one in every if len(name) >= 4 and one.action_id.startswith(name.lower())]
        if len(hits) != 1:
            many = "no action" if not hits else f"{len(hits)} actions"
            raise UserError(
                f"{engine} has {many} {name}: give the first digits as `debrief history maintenance` lists them."
            )
        if hits[0].withdrawn:
            raise UserError(f"This action was taken back before: {hits[0].what}")
        with told(self.place), writing(self.engine) as connection:
            connection.execute(m.update().where(m.c.action_id == hits[0].action_id).values(withdrawn=True))
        return replace(hits[0], withdrawn=True)

    def maintenance(self, engine: str, *, withdrawn: bool = False) -> tuple[Maintenance, ...]:
        """Return the maintenance actions of one engine in order of time; on demand also those taken back."""
        m = tables.maintenance
        query = sa.select(m).where(m.c.engine_key == engine).order_by(m.c.at_epoch_s, m.c.action_id)
        if not withdrawn:
            query = query.where(m.c.withdrawn.is_not(True))
        with told(self.place), self.engine.connect() as connection:
            rows = sound_rows(m.name, connection.execute(query).mappings().all(), self.left_out)
        return tuple(Maintenance(**{k: v for k, v in row.items() if k != "changed_at"}) for row in rows)


def _note_of(row: Mapping[Any, Any]) -> Note:
    names = {field.name for field in fields(Note)}
    values = {name: value for name, value in row.items() if name in names}
    return Note(**{**values, "version": note_change(row).version})


def _require(connection: Connection, sha256_key: str) -> None:
    r = tables.recordings
    if connection.execute(sa.select(r.c.sha256).where(r.c.sha256 == sha256_key)).first() is None:
        raise UserError("This recording is not in the history: add it first.")
