"""What people add to the history: notes, exclusions, maintenance actions. Loads SQLAlchemy."""

from __future__ import annotations

import uuid
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine

from debrief.errors import UserError
from debrief.history import schema as tables
from debrief.history.database import now_text, writing
from debrief.history.failures import told
from debrief.history.measures import start_epoch
from debrief.history.model import Maintenance, Note
from debrief.history.values import storable


class PeoplesWords:
    """The part of a store that people write by hand."""

    engine: Engine
    place: str

    def notes(self, sha256_key: str) -> tuple[Note, ...]:
        """Return the notes of a recording: those of the whole flight first, then by time."""
        n = tables.notes
        query = (
            sa.select(n)
            .where(n.c.sha256 == sha256_key, n.c.removed.is_not(True))
            .order_by(n.c.time_s.is_not(None), n.c.time_s, n.c.note_id)
        )
        with told(self.place), self.engine.connect() as connection:
            rows = connection.execute(query).mappings().all()
        return tuple(Note(**{k: v for k, v in row.items() if k != "removed"}) for row in rows)

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
            `changed_at` of the note that was read before it was changed: if somebody else has changed it
            since, theirs stays and this one becomes a note of its own, so that neither is lost.

        Raises
        ------
        UserError
            The text is empty, or the recording is not in the history.
        """
        if not text.strip():
            raise UserError("An empty note is not kept: write something, or remove the note.")
        key = note_id or str(uuid.uuid4())
        row = {
            "sha256": sha256_key,
            "time_s": time_s,
            "event_kind": event_kind,
            "author": storable(author),
            "text": storable(text),
            "changed_at": now_text(),
        }
        n = tables.notes
        with told(self.place), writing(self.engine) as connection:
            _require(connection, sha256_key)
            there = connection.scalar(sa.select(n.c.changed_at).where(n.c.note_id == key))
            if there is not None and based_on is not None and there != based_on:
                key, there = str(uuid.uuid4()), None
            if there is None:
                connection.execute(n.insert().values(note_id=key, removed=False, **row))
            else:
                connection.execute(n.update().where(n.c.note_id == key).values(removed=False, **row))
        return Note(note_id=key, **row)  # type: ignore[arg-type]

    def remove_note(self, note_id: str, based_on: str | None = None) -> str | None:
        """Remove a note and return when; writing it again with its id brings it back.

        Returns None, and leaves it, where somebody else has changed it since `based_on`.
        """
        n = tables.notes
        which = n.c.note_id == note_id
        if based_on is not None:
            which &= n.c.changed_at == based_on
        now = now_text()
        with told(self.place), writing(self.engine) as connection:
            done = connection.execute(n.update().where(which).values(removed=True, changed_at=now)).rowcount
        return now if done else None

    def take_note(self, note: Note, removed: bool) -> None:
        """Bring a note from elsewhere: of the same id the one changed last stands.

        Raises
        ------
        UserError
            The recording is not in the history.
        """
        n = tables.notes
        row = {
            "sha256": note.sha256,
            "time_s": note.time_s,
            "event_kind": note.event_kind,
            "author": storable(note.author),
            "text": storable(note.text),
            "changed_at": note.changed_at,
            "removed": removed,
        }
        with told(self.place), writing(self.engine) as connection:
            _require(connection, note.sha256)
            there = connection.scalar(sa.select(n.c.changed_at).where(n.c.note_id == note.note_id))
            if there is None:
                connection.execute(n.insert().values(note_id=note.note_id, **row))
            elif note.changed_at > there:
                connection.execute(n.update().where(n.c.note_id == note.note_id).values(**row))

    def exclude(
        self, sha256_key: str, number: int, reason: str, *, engine: int = 1, author: str = ""
    ) -> None:
        """Leave one start out of its engine's usual band, with the reason, which is required."""
        if not reason.strip():
            raise UserError("Leaving a start out of the usual band needs a reason: say it with --reason.")
        self._exclusion(sha256_key, engine, number, reason, author, withdrawn=False)

    def include(self, sha256_key: str, number: int, *, engine: int = 1, author: str = "") -> None:
        """Take an exclusion back."""
        self._exclusion(sha256_key, engine, number, "", author, withdrawn=True)

    def _exclusion(
        self, sha256_key: str, engine: int, number: int, reason: str, author: str, *, withdrawn: bool
    ) -> None:
        s, x = tables.starts, tables.exclusions
        row = {"reason": reason, "author": author, "changed_at": now_text(), "withdrawn": withdrawn}
        with told(self.place), writing(self.engine) as connection:
            _require(connection, sha256_key)
            there = sa.select(s.c.number).where(
                s.c.sha256 == sha256_key, s.c.engine == engine, s.c.number == number
            )
            if connection.execute(there).first() is None:
                raise UserError(f"This recording has no start {number} of engine {engine}.")
            which = (x.c.sha256 == sha256_key) & (x.c.engine == engine) & (x.c.start_number == number)
            if connection.execute(x.update().where(which).values(**row)).rowcount == 0:
                connection.execute(
                    x.insert().values(sha256=sha256_key, engine=engine, start_number=number, **row)
                )

    def note_maintenance(self, engine: str, at: datetime, what: str, *, author: str = "") -> str:
        """Note a maintenance action: what is usual for the engine is learnt anew from then on."""
        if not what.strip():
            raise UserError("A maintenance action needs words: say what was done.")
        epoch, _ = start_epoch(at)
        key = str(uuid.uuid4())
        with told(self.place), writing(self.engine) as connection:
            connection.execute(
                tables.maintenance.insert().values(
                    action_id=key,
                    engine_key=engine,
                    at_epoch_s=epoch,
                    what=what,
                    author=author,
                    changed_at=now_text(),
                )
            )
        return key

    def maintenance(self, engine: str) -> tuple[Maintenance, ...]:
        """Return the maintenance actions of one engine in order of time."""
        m = tables.maintenance
        query = sa.select(m).where(m.c.engine_key == engine).order_by(m.c.at_epoch_s, m.c.action_id)
        with told(self.place), self.engine.connect() as connection:
            rows = connection.execute(query).mappings().all()
        return tuple(Maintenance(**{k: v for k, v in row.items() if k != "changed_at"}) for row in rows)


def _require(connection: Connection, sha256_key: str) -> None:
    r = tables.recordings
    if connection.execute(sa.select(r.c.sha256).where(r.c.sha256 == sha256_key)).first() is None:
        raise UserError("This recording is not in the history: add it first.")
