"""Tables of the history, as queries see them, and what each of their columns may hold.

The migrations in `debrief.history.storage.migrations` make these tables; a test asserts that both agree. Keys are
natural (a recording's SHA-256, engine and start number), so that no database numbers rows in its own way
and two histories merge without renumbering. Instants are kept twice: as told, and in seconds since 1970
for sorting. Types are those that SQLite and PostgreSQL share.
"""

from __future__ import annotations

from typing import Any, get_args

import sqlalchemy as sa

from debrief.analysis.model import EventClass, Outcome, Severity, StartKind, Verdict
from debrief.history.storage import rules
from debrief.history.storage.column_types import Strict

metadata = sa.MetaData()

_SHA = sa.String(64)


def _column(name: str, type_: Any, rule: rules.Rule, *more: Any, **given: Any) -> sa.Column[Any]:
    return sa.Column(name, type_, *more, info={"rule": rule}, **given)


def _must(name: str, type_: Any, rule: rules.Rule, **given: Any) -> sa.Column[Any]:
    """Return a column that is always known; an export of an earlier program has its default where it lacks it."""
    return _column(name, type_, rule, nullable=False, **given)


def _may(name: str, type_: Any, rule: rules.Rule, *more: Any, **given: Any) -> sa.Column[Any]:
    """Return a column that may be unknown."""
    return _column(name, type_, rule, *more, **given)


def _key(name: str, type_: Any, rule: rules.Rule) -> sa.Column[Any]:
    return _column(name, type_, rule, primary_key=True, autoincrement=False)


def _of_recording(**given: Any) -> sa.Column[Any]:
    flight = sa.ForeignKey("recordings.sha256", ondelete="CASCADE")
    return _column("sha256", _SHA, rules.SHA256, flight, **given)


migrations = sa.Table(
    "debrief_migrations",
    metadata,
    _key("version", sa.Integer, rules.whole(1, 10_000)),
    _must("title", sa.Text, rules.NAME),
    _must("applied_at", sa.Text, rules.INSTANT),
    _must("program", sa.Text, rules.NAME),
)

profiles = sa.Table(
    "profiles",
    metadata,
    # SHA-256 of the profile's file; name and revision for a profile that came from no file.
    _key("profile_key", sa.Text, rules.NAME),
    _must("name", sa.Text, rules.SENTENCE),
    _must("revision", sa.Text, rules.SENTENCE),
    _must("approved_data", sa.Boolean, rules.TRUTH),
    # The file's text, so that a finding can be checked when the file has moved on; NULL when not at hand.
    _may("toml", sa.Text, rules.FILE),
    _must("first_used_at", sa.Text, rules.INSTANT),
)

recordings = sa.Table(
    "recordings",
    metadata,
    _key("sha256", _SHA, rules.SHA256),
    _must("file_name", sa.Text, rules.PATH),
    _must("path", sa.Text, rules.PATH),
    _must("byte_count", sa.BigInteger, rules.COUNT),
    _must("row_count", sa.BigInteger, rules.COUNT),
    _must("duration_s", sa.Double, rules.number(0, 1e9)),
    _may("aircraft", sa.Text, rules.NAME),
    _may("engine_serial", sa.Text, rules.NAME),
    _may("engine_model", sa.Text, rules.NAME),
    _may("start_text", sa.Text, rules.INSTANT),
    _may("start_epoch_s", sa.Double, rules.EPOCH),
    # False: the file gave a clock without a zone, and start_epoch_s counts it as if it were UTC.
    _may("start_has_zone", sa.Boolean, rules.TRUTH),
    _may("profile_key", sa.Text, rules.NAME, sa.ForeignKey("profiles.profile_key")),
    _must("verdict", sa.Text, rules.one_of(*get_args(Verdict))),
    _must("sentence", sa.Text, rules.SENTENCE),
    _must("document", sa.Text, rules.FILE),
    _must("program", sa.Text, rules.NAME),
    _must("added_at", sa.Text, rules.INSTANT),
    _must("assessed_at", sa.Text, rules.INSTANT),
    # Which assessment this is, and those that it replaces: no clock tells which of two is the later.
    _must("version", sa.Text, rules.VERSION, default=""),
    _must("replaces", sa.Text, rules.VERSIONS, default=""),
)

starts = sa.Table(
    "starts",
    metadata,
    _of_recording(primary_key=True),
    _key("engine", sa.Integer, rules.ENGINE),
    _key("number", sa.Integer, rules.START),
    # NULL: unnamed, so not trended.
    _may("engine_key", sa.Text, rules.ENGINE_NAME, index=True),
    _may("at_epoch_s", sa.Double, rules.EPOCH),
    _must("kind", sa.Text, rules.one_of(*get_args(StartKind))),
    _must("outcome", sa.Text, rules.one_of(*get_args(Outcome))),
    _must("power", sa.Text, rules.one_of("battery", "external", "mixed", "unknown")),
)

start_traces = sa.Table(
    "start_traces",
    metadata,
    _of_recording(primary_key=True),
    _key("engine", sa.Integer, rules.ENGINE),
    _key("number", sa.Integer, rules.START),
    # JSON of Ng and ITT on the way up; see debrief.history.usual.start_traces.
    _must("points", sa.Text, rules.TRACE),
    # JSON of its traces over time; see debrief.history.usual.kept_curves. NULL: kept by an earlier program.
    _may("curves", sa.Text, rules.CURVES),
)

measures = sa.Table(
    "measures",
    metadata,
    _of_recording(primary_key=True),
    _key("engine", sa.Integer, rules.ENGINE),
    # 0: of the whole flight.
    _key("start_number", sa.Integer, rules.whole(0, 2**31 - 1)),
    _key("name", sa.Text, rules.NAME),
    _may("engine_key", sa.Text, rules.ENGINE_NAME),
    _must("value", sa.Double, rules.number(-1e9, 1e9)),
    _must("unit", sa.Text, rules.text(40)),
    _must("inferred", sa.Boolean, rules.TRUTH),
)

events = sa.Table(
    "events",
    metadata,
    _of_recording(primary_key=True),
    _key("position", sa.Integer, rules.whole(0, 2**31 - 1)),
    _must("kind", sa.Text, rules.NAME),
    _must("event_class", sa.Text, rules.one_of(*get_args(EventClass))),
    _must("engine", sa.Integer, rules.whole(0, 9999)),
    _may("engine_key", sa.Text, rules.ENGINE_NAME),
    _must("severity", sa.Text, rules.one_of(*get_args(Severity))),
    _may("start_number", sa.Integer, rules.whole(0, 2**31 - 1)),
    _must("start_s", sa.Double, rules.SECONDS),
    _must("end_s", sa.Double, rules.SECONDS),
    _may("limit_id", sa.Text, rules.NAME),
    _must("message", sa.Text, rules.SENTENCE),
    # Why, where its kind has several reasons: a light-off that came late is no failed start.
    _may("reason", sa.Text, rules.NAME),
)

notes = sa.Table(
    "notes",
    metadata,
    _key("note_id", sa.String(36), rules.ID),
    _of_recording(nullable=False),
    _may("time_s", sa.Double, rules.SECONDS),
    _may("event_kind", sa.Text, rules.NAME),
    _must("author", sa.Text, rules.SENTENCE),
    _must("text", sa.Text, rules.WORDS),
    _must("changed_at", sa.Text, rules.INSTANT),
    # A removed note stays as a mark, so that merging with another desk does not bring it back.
    _must("removed", sa.Boolean, rules.TRUTH),
    # Which change this is, and all that it replaces; see debrief.history.storage.changes.
    _must("version", sa.Text, rules.VERSION, default=""),
    _must("replaces", sa.Text, rules.VERSIONS, default=""),
    # The note that somebody else changed at the same time: both stand.
    _may("beside", sa.Text, rules.ID),
)

exclusions = sa.Table(
    "exclusions",
    metadata,
    _of_recording(primary_key=True),
    _key("engine", sa.Integer, rules.ENGINE),
    _key("start_number", sa.Integer, rules.START),
    _must("reason", sa.Text, rules.WORDS),
    _must("author", sa.Text, rules.SENTENCE),
    _must("changed_at", sa.Text, rules.INSTANT),
    # Taken back: counts again, and a merge knows which word was the last.
    _must("withdrawn", sa.Boolean, rules.TRUTH),
    _must("version", sa.Text, rules.VERSION, default=""),
    _must("replaces", sa.Text, rules.VERSIONS, default=""),
    # JSON of what others said at the same time, rows like this one (`values` holds each to them): all stand.
    _must("others", sa.Text, rules.WORDS, default="[]"),
)

maintenance = sa.Table(
    "maintenance",
    metadata,
    _key("action_id", sa.String(36), rules.ID),
    _must("engine_key", sa.Text, rules.ENGINE_NAME),
    _must("at_epoch_s", sa.Double, rules.EPOCH),
    _must("what", sa.Text, rules.WORDS),
    _must("author", sa.Text, rules.SENTENCE),
    _must("changed_at", sa.Text, rules.INSTANT),
    # Taken back for good: it stays as a mark, so that merging with another desk does not bring it back.
    _must("withdrawn", sa.Boolean, rules.TRUTH, default=False),
)

for _table in metadata.tables.values():
    for _one in _table.columns:
        _one.type = Strict(_one)
