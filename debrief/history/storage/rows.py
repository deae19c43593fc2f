"""How an assessment becomes rows of the history."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from debrief.analysis.model import Assessment
from debrief.errors import UserError
from debrief.history.measures import Kept, engine_key, flight_values, start_power, start_values
from debrief.history.model import Flight
from debrief.history.storage import schema as tables
from debrief.history.storage.damage import from_the_file
from debrief.history.storage.database import now_text
from debrief.history.storage.values import fitted, row_problem
from debrief.history.usual.start_traces import rising_trace, trace_text
from debrief.profile.model import EngineProfile
from debrief.recording.model import Identity

_SEVERITIES = ("limit", "possible", "caution", "note")
"""The worst first."""


def merged_identity(new: Identity, old: Mapping[Any, Any]) -> Identity:
    """Return the new identity, with what it does not tell from what was kept."""
    start = new.start
    if start is None and old["start_text"] is not None:
        with from_the_file("when a flight began"):
            start = datetime.fromisoformat(old["start_text"])
    return Identity(
        aircraft=new.aircraft or old["aircraft"],
        engine_serial=new.engine_serial or old["engine_serial"],
        start=start,
        engine_model=new.engine_model or old["engine_model"],
    )


def document_of(text: str) -> dict[str, Any]:
    """Return a kept assessment document.

    Raises
    ------
    ValueError
        It is none.
    """
    document = json.loads(text)
    if not isinstance(document, dict):
        raise ValueError("no document")
    return document


def profile_text(profile: EngineProfile | None) -> str | None:
    """Return the profile's file as text, where it still is the file that was used."""
    if profile is None or not profile.path:
        return None
    try:
        data = Path(profile.path).read_bytes()
        return data.decode("utf-8") if sha256(data).hexdigest() == profile.sha256 else None
    except (OSError, UnicodeDecodeError):
        return None


def keep_profile(connection: Connection, profile: EngineProfile | None, toml: str | None) -> str | None:
    """Keep the profile once, and return its key; None where there is none."""
    if profile is None:
        return None
    p = tables.profiles
    row = fitted(
        p.name,
        {
            "profile_key": profile.sha256 or f"{profile.name}, revision {profile.revision}",
            "name": profile.name,
            "revision": profile.revision,
            "approved_data": profile.approved_data,
            "toml": toml,
            "first_used_at": now_text(),
        },
    )
    key: str = row["profile_key"]
    old = connection.execute(sa.select(p).where(p.c.profile_key == key)).mappings().first()
    if old is None:
        connection.execute(p.insert().values(**row))
    elif old["toml"] is None and toml is not None:
        connection.execute(p.update().where(p.c.profile_key == key).values(toml=toml))
    return key


def keep_rows(
    connection: Connection, assessment: Assessment, identity: Identity, epoch: float | None
) -> None:
    """Write the starts, measures and events of a recording."""
    sha = assessment.recording.provenance.sha256
    count = len(assessment.recording.engines)

    def key_of(engine: int) -> str | None:
        return engine_key(identity, engine, count)

    starts, measures = [], []
    for start in assessment.starts:
        begun = start.starter_on_s if start.starter_on_s is not None else start.begin_s
        at = None if epoch is None or not math.isfinite(begun) else epoch + begun
        starts.append(
            {
                "sha256": sha,
                "engine": int(start.engine),
                "number": int(start.number),
                "engine_key": key_of(start.engine),
                "at_epoch_s": at,
                "kind": start.kind,
                "outcome": start.outcome,
                "power": start_power(start),
            }
        )
        measures += _measure_rows(
            sha, start.engine, start.number, key_of(start.engine), start_values(start).items()
        )
    for (engine, name), kept in flight_values(assessment.flight_measures).items():
        measures += _measure_rows(sha, engine, 0, key_of(engine), [(name, kept)])
    events = [
        {
            "sha256": sha,
            "position": position,
            "kind": event.kind,
            "event_class": event.event_class,
            "engine": event.engine,
            "engine_key": key_of(event.engine),
            "severity": event.severity,
            "start_number": event.start_number,
            "start_s": float(event.start_s),
            "end_s": float(event.end_s),
            "limit_id": event.limit_id,
            "message": event.message,
        }
        for position, event in enumerate(assessment.events)
    ]
    # A number beyond all that can be is as good as none: an export with it would not be taken back.
    measures = [fitted(tables.measures.name, row) for row in measures]
    measures = [row for row in measures if row_problem(tables.measures.name, row) is None]
    for table, rows in ((tables.starts, starts), (tables.measures, measures), (tables.events, events)):
        if rows:
            connection.execute(table.insert(), [storable_row(table, row) for row in rows])
    keep_traces(connection, assessment)


def storable_row(table: sa.Table, row: Mapping[str, Any], what: str = "The flight") -> dict[str, Any]:
    """Return a row as it is kept; `what` names it where it cannot be.

    Raises
    ------
    UserError
        It has a value that cannot be right, such as a date of the year 1.
    """
    out = fitted(table.name, row)
    problem = row_problem(table.name, out)
    if problem is not None:
        raise UserError(f"{what} cannot be kept in the history: {problem}.")
    return out


def keep_traces(connection: Connection, assessment: Assessment) -> bool:
    """Write the traces of the completed starts; return whether there are any."""
    rows = [
        {
            "sha256": assessment.recording.provenance.sha256,
            "engine": int(start.engine),
            "number": int(start.number),
            "points": trace_text(trace),
        }
        for start in assessment.starts
        if (trace := rising_trace(assessment, start))
    ]
    if rows:
        connection.execute(tables.start_traces.insert(), rows)
    return bool(rows)


def _measure_rows(
    sha: str, engine: int, number: int, key: str | None, values: Iterable[tuple[str, Kept]]
) -> list[dict[str, Any]]:
    return [
        {
            "sha256": sha,
            "engine": engine,
            "start_number": number,
            "name": name,
            "engine_key": key,
            "value": kept.value,
            "unit": kept.unit,
            "inferred": kept.inferred,
        }
        for name, kept in values
    ]


def flight_of(row: Mapping[Any, Any], engines: tuple[str, ...], severities: frozenset[str]) -> Flight:
    """Return a kept recording as listed; `severities` are those of its events."""
    missing = []
    if row["start_epoch_s"] is None:
        missing.append("undated")
    if not engines and not (row["aircraft"] or row["engine_serial"]):
        missing.append("no aircraft or engine named")
    profile = None if row["name"] is None else f"{row['name']}, revision {row['revision']}"
    return Flight(
        sha256=row["sha256"],
        file_name=row["file_name"],
        aircraft=row["aircraft"],
        engine_serial=row["engine_serial"],
        start=row["start_text"],
        duration_s=row["duration_s"],
        profile=profile,
        verdict=row["verdict"],
        sentence=row["sentence"],
        starts=row["starts"],
        events=row["events"],
        engines=engines,
        untrended=", ".join(missing),
        added_at=row["added_at"],
        start_epoch_s=row["start_epoch_s"],
        path=row["path"] or "",
        highest_severity=next((one for one in _SEVERITIES if one in severities), ""),
    )
