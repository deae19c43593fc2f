"""Ordered steps that bring a history database to the present form.

A step is frozen once released: a later change of a table is a new step. Plain SQL keeps it so, in the words
that SQLite and PostgreSQL share.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Migration:
    """One step: its number, what it does in words, and its statements, which run in one transaction."""

    version: int
    title: str
    statements: tuple[str, ...]


_CHILD = "sha256 VARCHAR(64) NOT NULL REFERENCES recordings (sha256) ON DELETE CASCADE"

_FIRST = (
    """CREATE TABLE profiles (
        profile_key TEXT NOT NULL PRIMARY KEY,
        name TEXT NOT NULL,
        revision TEXT NOT NULL,
        approved_data BOOLEAN NOT NULL,
        toml TEXT,
        first_used_at TEXT NOT NULL)""",
    """CREATE TABLE recordings (
        sha256 VARCHAR(64) NOT NULL PRIMARY KEY,
        file_name TEXT NOT NULL,
        path TEXT NOT NULL,
        byte_count BIGINT NOT NULL,
        row_count BIGINT NOT NULL,
        duration_s DOUBLE PRECISION NOT NULL,
        aircraft TEXT,
        engine_serial TEXT,
        engine_model TEXT,
        start_text TEXT,
        start_epoch_s DOUBLE PRECISION,
        start_has_zone BOOLEAN,
        profile_key TEXT REFERENCES profiles (profile_key),
        verdict TEXT NOT NULL,
        sentence TEXT NOT NULL,
        document TEXT NOT NULL,
        program TEXT NOT NULL,
        added_at TEXT NOT NULL,
        assessed_at TEXT NOT NULL)""",
    f"""CREATE TABLE starts (
        {_CHILD},
        engine INTEGER NOT NULL,
        number INTEGER NOT NULL,
        engine_key TEXT,
        at_epoch_s DOUBLE PRECISION,
        kind TEXT NOT NULL,
        outcome TEXT NOT NULL,
        power TEXT NOT NULL,
        PRIMARY KEY (sha256, engine, number))""",
    "CREATE INDEX ix_starts_engine_key ON starts (engine_key)",
    f"""CREATE TABLE measures (
        {_CHILD},
        engine INTEGER NOT NULL,
        start_number INTEGER NOT NULL,
        name TEXT NOT NULL,
        engine_key TEXT,
        value DOUBLE PRECISION NOT NULL,
        unit TEXT NOT NULL,
        inferred BOOLEAN NOT NULL,
        PRIMARY KEY (sha256, engine, start_number, name))""",
    f"""CREATE TABLE events (
        {_CHILD},
        position INTEGER NOT NULL,
        kind TEXT NOT NULL,
        event_class TEXT NOT NULL,
        engine INTEGER NOT NULL,
        engine_key TEXT,
        severity TEXT NOT NULL,
        start_number INTEGER,
        start_s DOUBLE PRECISION NOT NULL,
        end_s DOUBLE PRECISION NOT NULL,
        limit_id TEXT,
        message TEXT NOT NULL,
        PRIMARY KEY (sha256, position))""",
    f"""CREATE TABLE notes (
        note_id VARCHAR(36) NOT NULL PRIMARY KEY,
        {_CHILD},
        time_s DOUBLE PRECISION,
        event_kind TEXT,
        author TEXT NOT NULL,
        text TEXT NOT NULL,
        changed_at TEXT NOT NULL,
        removed BOOLEAN NOT NULL)""",
    f"""CREATE TABLE exclusions (
        {_CHILD},
        engine INTEGER NOT NULL,
        start_number INTEGER NOT NULL,
        reason TEXT NOT NULL,
        author TEXT NOT NULL,
        changed_at TEXT NOT NULL,
        withdrawn BOOLEAN NOT NULL,
        PRIMARY KEY (sha256, engine, start_number))""",
    """CREATE TABLE maintenance (
        action_id VARCHAR(36) NOT NULL PRIMARY KEY,
        engine_key TEXT NOT NULL,
        at_epoch_s DOUBLE PRECISION NOT NULL,
        what TEXT NOT NULL,
        author TEXT NOT NULL,
        changed_at TEXT NOT NULL)""",
)

_START_TRACES = (
    f"""CREATE TABLE start_traces (
        {_CHILD},
        engine INTEGER NOT NULL,
        number INTEGER NOT NULL,
        points TEXT NOT NULL,
        PRIMARY KEY (sha256, engine, number))""",
)

_CHANGES = (
    "ALTER TABLE notes ADD COLUMN version TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE notes ADD COLUMN replaces TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE notes ADD COLUMN beside TEXT",
    "ALTER TABLE exclusions ADD COLUMN version TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE exclusions ADD COLUMN replaces TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE exclusions ADD COLUMN others TEXT NOT NULL DEFAULT '[]'",
    "ALTER TABLE maintenance ADD COLUMN withdrawn BOOLEAN NOT NULL DEFAULT FALSE",
)

_ASSESSMENTS = (
    "ALTER TABLE recordings ADD COLUMN version TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE recordings ADD COLUMN replaces TEXT NOT NULL DEFAULT ''",
)

_CURVES = ("ALTER TABLE start_traces ADD COLUMN curves TEXT",)

_REASONS = (
    "ALTER TABLE events ADD COLUMN reason TEXT",
    # As such an event was worded by all programs until then.
    "UPDATE events SET reason = 'late' WHERE kind = 'no_light_off' AND replace(message, ' after fuel; the profile', '') <> message",
)

MIGRATIONS: tuple[Migration, ...] = (
    Migration(1, "recordings, starts, measures, events, notes, exclusions, maintenance", _FIRST),
    Migration(2, "ITT against Ng of each completed start", _START_TRACES),
    Migration(3, "changes are counted; maintenance actions can be taken back", _CHANGES),
    Migration(4, "assessments are counted", _ASSESSMENTS),
    Migration(5, "traces over time of each completed start", _CURVES),
    Migration(6, "events have their reason", _REASONS),
)
