"""The history: what was assessed, by recording, with its starts, events, notes and exclusions.

Importing this module loads SQLAlchemy.
"""

from __future__ import annotations

import os
from collections.abc import Collection, Mapping, Sequence
from types import MappingProxyType
from typing import Any, Literal, Self

import sqlalchemy as sa
from sqlalchemy.engine import Connection, Engine

from debrief import __version__
from debrief.analysis.model import Assessment
from debrief.errors import UserError
from debrief.history.measures import Kept, start_epoch
from debrief.history.model import Flight, PastStart
from debrief.history.storage import schema as tables
from debrief.history.storage.changes import line_of, next_version, replaced_text
from debrief.history.storage.column_types import or_nothing
from debrief.history.storage.damage import DamagedValue, from_the_file
from debrief.history.storage.database import connect, now_text, said, writing
from debrief.history.storage.failures import told
from debrief.history.storage.fitting import children_of, document_fits
from debrief.history.storage.joining import exclusion_reason
from debrief.history.storage.migrations import MIGRATIONS, Migration
from debrief.history.storage.people import PeoplesWords
from debrief.history.storage.places import place_words
from debrief.history.storage.rows import (
    KeptFinding,
    document_of,
    flight_of,
    keep_profile,
    keep_rows,
    keep_traces,
    merged_identity,
    profile_text,
    storable_row,
)
from debrief.history.storage.values import document_problem, row_name, row_problem, sound_rows
from debrief.history.usual.start_traces import Key, trace_of
from debrief.recording.model import Identity
from debrief.session.document import assessment_document, dumps
from debrief.words.visible import visible

Kept_as = Literal["new", "renewed", "unchanged"]


class Store(PeoplesWords):
    """An open history. Use it as a context manager, or close it.

    Attributes
    ----------
    place : str
        The file, or the URL without its password, for a person to read.
    engine : sqlalchemy.Engine
        For `debrief.history.exchange.transfer` and tests.
    left_out : set of str
        Rows that were met and cannot be right, by table and key: they are in nothing that was returned.
    """

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self.place = place_words(engine.url)
        self.left_out: set[str] = set()

    def said(self) -> tuple[str, ...]:
        """Return what the user has to be told, each once: where a copy of the history was kept."""
        return said(self.engine)

    @property
    def left_out_words(self) -> str:
        """What has to be said of the rows that were left out; empty where there was none."""
        many = len(self.left_out)
        if not many:
            return ""
        rows = (
            "row of the history that cannot be right is"
            if many == 1
            else "rows of the history that cannot be right are"
        )
        return f"{many} {rows} left out: `debrief history check` says which and why."

    def _sound(
        self, connection: Connection, query: sa.Select[Any], table: sa.Table
    ) -> list[Mapping[Any, Any]]:
        """Return what a query finds of a table, without the rows that cannot be right."""
        return sound_rows(table.name, connection.execute(query).mappings().all(), self.left_out)

    @classmethod
    def open(cls, db: str | None = None, *, migrations: Sequence[Migration] = MIGRATIONS) -> Self:
        """Open a history, making or migrating it where needed; see `debrief.history.storage.database.connect`."""
        return cls(connect(db, migrations=migrations))

    def close(self) -> None:
        """Give back every connection."""
        self.engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_exc: object) -> None:
        self.close()

    # What is kept

    def keep(self, assessment: Assessment, identity: Identity | None = None) -> Kept_as:
        """Keep an assessed recording; a second time it is the same flight, assessed anew.

        Parameters
        ----------
        assessment : Assessment
            Its recording must have a SHA-256.
        identity : Identity, optional
            What the user entered, in place of the recording's own.

        Returns
        -------
        "new", "renewed" or "unchanged"
            Notes and exclusions stay through a renewal, and so does an identity that the recording does not
            tell but was kept before.

        Raises
        ------
        UserError
            The database cannot be written.
        ValueError
            The recording has no SHA-256: it was not read from a file.
        """
        assessment = assessment.canonical
        provenance = assessment.recording.provenance
        if len(provenance.sha256) != 64:
            raise ValueError("a recording without a SHA-256 cannot be kept")
        document = assessment_document(assessment)
        toml = profile_text(assessment.profile)
        with told(self.place), writing(self.engine) as connection:
            r = tables.recordings
            old = connection.execute(sa.select(r).where(r.c.sha256 == provenance.sha256)).mappings().first()
            known = identity or assessment.recording.identity
            if old is not None:
                known = merged_identity(known, old)
            profile_key = keep_profile(connection, assessment.profile, toml)
            epoch, zone = start_epoch(known.start)
            row: dict[str, Any] = {
                "file_name": provenance.file_name,
                # Whole, so that the file is found from another folder, too.
                "path": os.path.abspath(provenance.path) if provenance.path else "",
                "byte_count": int(provenance.byte_count),
                "row_count": int(provenance.rows),
                "duration_s": float(assessment.recording.duration_s),
                "aircraft": known.aircraft,
                "engine_serial": known.engine_serial,
                "engine_model": known.engine_model,
                "start_text": None if known.start is None else known.start.isoformat(),
                "start_epoch_s": epoch,
                "start_has_zone": zone,
                "profile_key": profile_key,
                "verdict": assessment.verdict,
                "sentence": assessment.sentence,
                # Escaped, so that any text comes back as it was.
                "document": dumps(document, indent=None, ascii_only=True),
                "program": __version__,
            }
            row = storable_row(r, row)
            same = old is not None and all(old[name] == value for name, value in row.items())
            if old is not None and same and document_fits(dict(old), children_of(connection, old["sha256"])):
                # One that was kept before traces were is completed without being assessed anew.
                return "renewed" if self._complete(connection, assessment) else "unchanged"
            now = now_text()
            replaced = frozenset[str]() if old is None else line_of(old)
            row |= {"version": next_version(replaced), "replaces": replaced_text(replaced)}
            if old is None:
                connection.execute(
                    r.insert().values(sha256=provenance.sha256, added_at=now, assessed_at=now, **row)
                )
            else:
                connection.execute(
                    r.update().where(r.c.sha256 == provenance.sha256).values(assessed_at=now, **row)
                )
            # Also of one that is new here: a damaged history may hold rows whose recording is gone.
            for table in (tables.starts, tables.start_traces, tables.measures, tables.events):
                connection.execute(table.delete().where(table.c.sha256 == provenance.sha256))
            keep_rows(connection, assessment, document, known, epoch)
        return "new" if old is None else "renewed"

    @staticmethod
    def _complete(connection: Connection, assessment: Assessment) -> bool:
        t, sha256 = tables.start_traces, assessment.recording.provenance.sha256
        rows = sa.select(t.c.curves).where(t.c.sha256 == sha256)
        before = connection.scalars(rows).all()
        if before and None not in before:
            return False
        connection.execute(t.delete().where(t.c.sha256 == sha256))
        keep_traces(connection, assessment)
        return list(connection.scalars(rows).all()) != list(before)

    def document(self, sha256_prefix: str) -> dict[str, Any]:
        """Return the kept assessment document of a recording.

        Raises
        ------
        UserError
            No recording, or more than one, has a SHA-256 that begins so.
        """
        key = self.find(sha256_prefix)
        with told(self.place), self.engine.connect() as connection:
            r = tables.recordings
            text = connection.scalar(sa.select(r.c.document).where(r.c.sha256 == key))
            with from_the_file(f"the document of {key[:12]}"):
                return document_of(str(text))

    def documents(self, keys: Sequence[str]) -> dict[str, dict[str, Any]]:
        """Return the kept assessment documents of the recordings with these SHA-256, those that are kept and sound."""
        r = tables.recordings
        query = sa.select(r.c.sha256, r.c.document).where(r.c.sha256.in_(keys))
        out = {}
        with told(self.place), self.engine.connect() as connection:
            for sha, text in connection.execute(query):
                if document_problem(text, sha) is None:
                    out[sha] = document_of(text)
                else:
                    self.left_out.add(row_name(r.name, {"sha256": sha}))
        return out

    def last_starts(
        self, engine: str, until_epoch_s: float, besides: str, most: int
    ) -> list[Mapping[Any, Any]]:
        """Return the last starts of an engine until an instant, the latest first, each with when its recording began.

        Those of the recording `besides` are left out.
        """
        s, r = tables.starts, tables.recordings
        beside = (r.c.start_epoch_s, r.c.start_has_zone, r.c.start_text, r.c.duration_s, r.c.file_name)
        query = (
            sa.select(s, *beside)
            .join(r, r.c.sha256 == s.c.sha256)
            .where(s.c.engine_key == engine, s.c.at_epoch_s <= until_epoch_s, s.c.sha256 != besides)
            .order_by(s.c.at_epoch_s.desc(), s.c.sha256, s.c.engine, s.c.number)
            .limit(most)
        )
        with told(self.place), self.engine.connect() as connection:
            rows = self._sound(connection, query, s)
        # A recording that cannot be right is told where the flights are read.
        return [row for row in rows if row_problem(r.name, {"start_epoch_s": row["start_epoch_s"]}) is None]

    def next_flights(self, engine: str, since_epoch_s: float, most: int) -> list[str]:
        """Return the SHA-256 of the flights in which an engine was started after an instant, the first one first."""
        s = tables.starts
        first = sa.func.min(s.c.at_epoch_s)
        query = (
            sa.select(s.c.sha256)
            .where(s.c.engine_key == engine, s.c.at_epoch_s > since_epoch_s)
            .group_by(s.c.sha256)
            .order_by(first, s.c.sha256)
            .limit(most)
        )
        with told(self.place), self.engine.connect() as connection:
            return [str(sha) for sha in connection.scalars(query)]

    def find(self, name: str) -> str:
        """Return the SHA-256 of the recording with this file name, or whose SHA-256 begins so.

        Raises
        ------
        UserError
            It names none, or several.
        """
        wanted = visible(name.strip()).lower()
        hits = [
            flight
            for flight in self.flights()
            if flight.file_name.lower() == wanted or (len(wanted) >= 4 and flight.sha256.startswith(wanted))
        ]
        if len(hits) == 1:
            return hits[0].sha256
        if not hits:
            raise UserError(
                f"The history {self.place} has no flight named {name}: give a file name or the first digits "
                "of a SHA-256 as `debrief history list` shows them."
            )
        digits = ", ".join(flight.sha256[:12] for flight in hits)
        raise UserError(f"{len(hits)} flights are named {name}: give one of {digits}.")

    def flight(self, sha256_key: str) -> Flight | None:
        """Return one kept recording; None where it is not kept."""
        return next(iter(self._flights(tables.recordings.c.sha256 == sha256_key)), None)

    def flights(self) -> tuple[Flight, ...]:
        """Return every kept recording: the dated ones in order of time, then the undated by when added."""
        return self._flights(sa.true())

    def _flights(self, which: sa.ColumnElement[bool]) -> tuple[Flight, ...]:
        r, s, e, p = tables.recordings, tables.starts, tables.events, tables.profiles
        starts = sa.select(sa.func.count()).where(s.c.sha256 == r.c.sha256).scalar_subquery()
        events = sa.select(sa.func.count()).where(e.c.sha256 == r.c.sha256).scalar_subquery()
        query = (
            sa.select(
                r,
                or_nothing(p.c.name),
                or_nothing(p.c.revision),
                starts.label("starts"),
                events.label("events"),
            )
            .select_from(r.outerjoin(p, p.c.profile_key == r.c.profile_key))
            .where(which)
            .order_by(r.c.start_epoch_s.is_(None), r.c.start_epoch_s, r.c.added_at, r.c.sha256)
        )
        with told(self.place), self.engine.connect() as connection:
            rows = self._sound(connection, query, r)
            if any(row["profile_key"] is not None and row["name"] is None for row in rows):
                raise DamagedValue("the profile of a flight is gone")
            named: dict[str, set[str]] = {}
            for table in (tables.starts, tables.measures):
                pairs = (
                    sa.select(table.c.sha256, table.c.engine_key)
                    .join(r, r.c.sha256 == table.c.sha256)
                    .where(table.c.engine_key.is_not(None), which)
                )
                for sha, key in connection.execute(pairs.distinct()):
                    if _is_name(key):
                        named.setdefault(sha, set()).add(key)
            found: dict[str, list[KeptFinding]] = {}
            kinds = sa.select(e.c.sha256, e.c.kind, e.c.event_class, e.c.severity, e.c.reason)
            kinds = kinds.join(r, r.c.sha256 == e.c.sha256).where(which)
            for sha, *kind in connection.execute(kinds.distinct()):
                found.setdefault(sha, []).append(KeptFinding(*kind))
        return tuple(
            flight_of(row, tuple(sorted(named.get(row["sha256"], ()))), found.get(row["sha256"], ()))
            for row in rows
        )

    def engines(self) -> tuple[str, ...]:
        """Return the names of the engines that have starts or numbers of a flight, sorted."""
        keys = (table.c.engine_key for table in (tables.starts, tables.measures))
        query = sa.union(*(sa.select(key).where(key.is_not(None)) for key in keys))
        with told(self.place), self.engine.connect() as connection:
            return tuple(sorted(filter(_is_name, connection.scalars(query))))

    def starts(self, engine: str | None = None) -> tuple[PastStart, ...]:
        """Return the kept starts, of one engine where it is named, dated ones first in order of time."""
        s, m, x, r = tables.starts, tables.measures, tables.exclusions, tables.recordings
        query = sa.select(s, r.c.file_name).join(r, r.c.sha256 == s.c.sha256)
        values = sa.select(m).where(m.c.start_number > 0)
        if engine is not None:
            query = query.where(s.c.engine_key == engine)
            values = values.where(m.c.engine_key == engine)
        query = query.order_by(s.c.at_epoch_s.is_(None), s.c.at_epoch_s, s.c.sha256, s.c.engine, s.c.number)
        with told(self.place), self.engine.connect() as connection:
            rows = self._sound(connection, query, s)
            numbers: dict[tuple[str, int, int], dict[str, Kept]] = {}
            for row in self._sound(connection, values, m):
                key = (row["sha256"], row["engine"], row["start_number"])
                numbers.setdefault(key, {})[row["name"]] = Kept(row["value"], row["unit"], row["inferred"])
            out = {
                (row["sha256"], row["engine"], row["start_number"]): exclusion_reason(row)
                for row in self._sound(connection, sa.select(x), x)
            }
        return tuple(
            PastStart(
                **{k: v for k, v in row.items() if k != "number"},
                number=row["number"],
                values=MappingProxyType(numbers.get((row["sha256"], row["engine"], row["number"]), {})),
                excluded=out.get((row["sha256"], row["engine"], row["number"])),
            )
            for row in rows
        )

    def start_traces(self, engine: str) -> dict[Key, dict[int, float]]:
        """Return the kept traces of one engine's starts: ITT by whole percent of Ng, [degC]."""
        s, t = tables.starts, tables.start_traces
        same = (s.c.sha256 == t.c.sha256) & (s.c.engine == t.c.engine) & (s.c.number == t.c.number)
        columns = (t.c.sha256, t.c.engine, t.c.number, t.c.points)
        query = sa.select(*columns).join(s, same).where(s.c.engine_key == engine)
        with told(self.place), self.engine.connect() as connection:
            rows = self._sound(connection, query, t)
        return {(row["sha256"], row["engine"], row["number"]): trace_of(row["points"]) for row in rows}

    def start_curves(self, wanted: Collection[Key]) -> dict[Key, str]:
        """Return the kept traces over time of these starts, as `kept_curves` reads them; those that have any."""
        t = tables.start_traces
        query = sa.select(t.c.sha256, t.c.engine, t.c.number, t.c.curves).where(
            t.c.sha256.in_({sha256 for sha256, _, _ in wanted}), t.c.curves.is_not(None)
        )
        with told(self.place), self.engine.connect() as connection:
            rows = self._sound(connection, query, t)
        found = {(row["sha256"], row["engine"], row["number"]): row["curves"] for row in rows}
        return {key: text for key, text in found.items() if key in wanted}

    def flight_measures(self, engine: str) -> tuple[tuple[float, str, Mapping[str, Kept]], ...]:
        """Return (instant, SHA-256, numbers of the whole flight) of one engine's dated flights, in order."""
        m, r = tables.measures, tables.recordings
        query = (
            sa.select(m, r.c.start_epoch_s)
            .join(r, r.c.sha256 == m.c.sha256)
            .where(m.c.engine_key == engine, m.c.start_number == 0, r.c.start_epoch_s.is_not(None))
            .order_by(r.c.start_epoch_s, m.c.sha256)
        )
        out: dict[str, tuple[float, dict[str, Kept]]] = {}
        with told(self.place), self.engine.connect() as connection:
            for row in self._sound(connection, query, m):
                if row_problem(r.name, {"start_epoch_s": row["start_epoch_s"]}) is not None:
                    continue  # told where the flights are read
                _, numbers = out.setdefault(row["sha256"], (row["start_epoch_s"], {}))
                numbers[row["name"]] = Kept(row["value"], row["unit"], row["inferred"])
        return tuple((at, sha, MappingProxyType(numbers)) for sha, (at, numbers) in out.items())

    def delete(self, sha256_key: str) -> None:
        """Forget one recording with its starts, events, notes and exclusions; all others stay."""
        key = self.find(sha256_key)
        with told(self.place), writing(self.engine) as connection:
            connection.execute(tables.recordings.delete().where(tables.recordings.c.sha256 == key))
            used = sa.select(tables.recordings.c.profile_key).where(
                tables.recordings.c.profile_key.is_not(None)
            )
            connection.execute(tables.profiles.delete().where(tables.profiles.c.profile_key.not_in(used)))


def _is_name(key: object) -> bool:
    return row_problem(tables.starts.name, {"engine_key": key}) is None
