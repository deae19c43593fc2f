"""Tables of the history, as queries see them.

The migrations in `debrief.history.storage.migrations` make these tables; a test asserts that both agree. Keys are
natural (a recording's SHA-256, engine and start number), so that no database numbers rows in its own way
and two histories merge without renumbering. Instants are kept twice: as told, and in seconds since 1970
for sorting. Types are those that SQLite and PostgreSQL share.
"""

from __future__ import annotations

import sqlalchemy as sa

from debrief.history.storage.column_types import Strict

metadata = sa.MetaData()

_SHA = sa.String(64)


def _added(name: str, value: str) -> sa.Column[str]:
    """Return a column that an export of an earlier program does not have: there it is `value`."""
    return sa.Column(name, sa.Text, nullable=False, default=value)


def _recording_key() -> sa.Column[str]:
    return sa.Column("sha256", _SHA, sa.ForeignKey("recordings.sha256", ondelete="CASCADE"), primary_key=True)


migrations = sa.Table(
    "debrief_migrations",
    metadata,
    sa.Column("version", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("title", sa.Text, nullable=False),
    sa.Column("applied_at", sa.Text, nullable=False),
    sa.Column("program", sa.Text, nullable=False),
)

profiles = sa.Table(
    "profiles",
    metadata,
    # SHA-256 of the profile's file; name and revision for a profile that came from no file.
    sa.Column("profile_key", sa.Text, primary_key=True),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("revision", sa.Text, nullable=False),
    sa.Column("approved_data", sa.Boolean, nullable=False),
    # The file's text, so that a finding can be checked when the file has moved on; NULL when not at hand.
    sa.Column("toml", sa.Text),
    sa.Column("first_used_at", sa.Text, nullable=False),
)

recordings = sa.Table(
    "recordings",
    metadata,
    sa.Column("sha256", _SHA, primary_key=True),
    sa.Column("file_name", sa.Text, nullable=False),
    sa.Column("path", sa.Text, nullable=False),
    sa.Column("byte_count", sa.BigInteger, nullable=False),
    sa.Column("row_count", sa.BigInteger, nullable=False),
    sa.Column("duration_s", sa.Double, nullable=False),
    sa.Column("aircraft", sa.Text),
    sa.Column("engine_serial", sa.Text),
    sa.Column("engine_model", sa.Text),
    sa.Column("start_text", sa.Text),
    sa.Column("start_epoch_s", sa.Double),
    # False: the file gave a clock without a zone, and start_epoch_s counts it as if it were UTC.
    sa.Column("start_has_zone", sa.Boolean),
    sa.Column("profile_key", sa.Text, sa.ForeignKey("profiles.profile_key")),
    sa.Column("verdict", sa.Text, nullable=False),
    sa.Column("sentence", sa.Text, nullable=False),
    sa.Column("document", sa.Text, nullable=False),
    sa.Column("program", sa.Text, nullable=False),
    sa.Column("added_at", sa.Text, nullable=False),
    sa.Column("assessed_at", sa.Text, nullable=False),
    # Which assessment this is, and those that it replaces: no clock tells which of two is the later.
    _added("version", ""),
    _added("replaces", ""),
)

starts = sa.Table(
    "starts",
    metadata,
    _recording_key(),
    sa.Column("engine", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
    # NULL: unnamed, so not trended.
    sa.Column("engine_key", sa.Text, index=True),
    sa.Column("at_epoch_s", sa.Double),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("outcome", sa.Text, nullable=False),
    sa.Column("power", sa.Text, nullable=False),
)

start_traces = sa.Table(
    "start_traces",
    metadata,
    _recording_key(),
    sa.Column("engine", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("number", sa.Integer, primary_key=True, autoincrement=False),
    # JSON of Ng and ITT on the way up; see debrief.history.usual.start_traces.
    sa.Column("points", sa.Text, nullable=False),
)

measures = sa.Table(
    "measures",
    metadata,
    _recording_key(),
    sa.Column("engine", sa.Integer, primary_key=True, autoincrement=False),
    # 0: of the whole flight.
    sa.Column("start_number", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("name", sa.Text, primary_key=True),
    sa.Column("engine_key", sa.Text),
    sa.Column("value", sa.Double, nullable=False),
    sa.Column("unit", sa.Text, nullable=False),
    sa.Column("inferred", sa.Boolean, nullable=False),
)

events = sa.Table(
    "events",
    metadata,
    _recording_key(),
    sa.Column("position", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("event_class", sa.Text, nullable=False),
    sa.Column("engine", sa.Integer, nullable=False),
    sa.Column("engine_key", sa.Text),
    sa.Column("severity", sa.Text, nullable=False),
    sa.Column("start_number", sa.Integer),
    sa.Column("start_s", sa.Double, nullable=False),
    sa.Column("end_s", sa.Double, nullable=False),
    sa.Column("limit_id", sa.Text),
    sa.Column("message", sa.Text, nullable=False),
)

notes = sa.Table(
    "notes",
    metadata,
    sa.Column("note_id", sa.String(36), primary_key=True),
    sa.Column("sha256", _SHA, sa.ForeignKey("recordings.sha256", ondelete="CASCADE"), nullable=False),
    sa.Column("time_s", sa.Double),
    sa.Column("event_kind", sa.Text),
    sa.Column("author", sa.Text, nullable=False),
    sa.Column("text", sa.Text, nullable=False),
    sa.Column("changed_at", sa.Text, nullable=False),
    # A removed note stays as a mark, so that merging with another desk does not bring it back.
    sa.Column("removed", sa.Boolean, nullable=False),
    # Which change this is, and all that it replaces; see debrief.history.storage.changes.
    _added("version", ""),
    _added("replaces", ""),
    # The note that somebody else changed at the same time: both stand.
    sa.Column("beside", sa.Text),
)

exclusions = sa.Table(
    "exclusions",
    metadata,
    _recording_key(),
    sa.Column("engine", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("start_number", sa.Integer, primary_key=True, autoincrement=False),
    sa.Column("reason", sa.Text, nullable=False),
    sa.Column("author", sa.Text, nullable=False),
    sa.Column("changed_at", sa.Text, nullable=False),
    # Taken back: counts again, and a merge knows which word was the last.
    sa.Column("withdrawn", sa.Boolean, nullable=False),
    _added("version", ""),
    _added("replaces", ""),
    # JSON of what others said at the same time, rows like this one: all of them stand.
    _added("others", "[]"),
)

maintenance = sa.Table(
    "maintenance",
    metadata,
    sa.Column("action_id", sa.String(36), primary_key=True),
    sa.Column("engine_key", sa.Text, nullable=False),
    sa.Column("at_epoch_s", sa.Double, nullable=False),
    sa.Column("what", sa.Text, nullable=False),
    sa.Column("author", sa.Text, nullable=False),
    sa.Column("changed_at", sa.Text, nullable=False),
    # Taken back for good: it stays as a mark, so that merging with another desk does not bring it back.
    sa.Column("withdrawn", sa.Boolean, nullable=False, default=False),
)

for _table in metadata.tables.values():
    for _column in _table.columns:
        _column.type = Strict(_column)
