"""How an assessment becomes rows of the history."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy.engine import Connection

from debrief.analysis.model import Assessment, EventClass, Severity
from debrief.errors import UserError
from debrief.history.measures import engine_key, powers_word, told_flight_values, told_values
from debrief.history.model import Flight
from debrief.history.storage import schema as tables
from debrief.history.storage.damage import from_the_file
from debrief.history.storage.database import now_text
from debrief.history.storage.values import fitted, row_problem
from debrief.history.usual.kept_curves import curves_text
from debrief.history.usual.start_traces import rising_trace, trace_text
from debrief.profile.model import EngineProfile
from debrief.recording.model import Identity
from debrief.words.channels import ENGINE_CHANNELS
from debrief.words.events import Found, headline, listed_headline

_OF_EVENTS = (
    "kind",
    "engine",
    "severity",
    "start_number",
    "start_s",
    "end_s",
    "limit_id",
    "message",
    "reason",
)
"""What an event has by the same name in its row and in the document."""


def merged_identity(new: Identity, old: Mapping[Any, Any]) -> Identity:
    """Return the new identity, with what it does not tell from what was kept."""
    start = new.start
    if start is None and old["start_text"] is not None:
        with from_the_file("when a flight began"):
            start = datetime.fromisoformat(old["start_text"])
    return Identity(
        aircraft=new.aircraft or old["aircraft"],
        engine_serial=new.engine_serial or old["engine_serial"],
        engine_serials=new.engine_serials,
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
    connection: Connection,
    assessment: Assessment,
    document: Mapping[str, Any],
    identity: Identity,
    epoch: float | None,
) -> None:
    """Write the starts, measures and events of a recording, as its document tells them, and the traces."""
    sha = assessment.recording.provenance.sha256
    for name, rows in told_rows(document, sha, identity, epoch).items():
        if name == tables.measures.name:
            # A number beyond all that can be is as good as none: an export with it would not be taken back.
            rows = [row for row in rows if row_problem(name, fitted(name, row)) is None]
        table = tables.metadata.tables[name]
        if rows:
            connection.execute(table.insert(), [storable_row(table, row) for row in rows])
    keep_traces(connection, assessment)


def told_rows(
    document: Mapping[str, Any], sha: str, identity: Identity, epoch: float | None
) -> dict[str, list[dict[str, Any]]]:
    """Return the starts, measures and events that the document of a flight tells, as rows of the present form.

    Raises
    ------
    ValueError, KeyError, TypeError
        The document is not whole.
    """
    parts = [name.partition(".") for name in document["recording"]["channels"]]
    engines = {int(number or 1) for base, _, number in parts if base in ENGINE_CHANNELS} or {1}

    def key_of(engine: int) -> str | None:
        return engine_key(identity, engine, len(engines))

    starts = []
    for start in document["starts"]:
        begun = start["begin_s"] if start["starter_on_s"] is None else start["starter_on_s"]
        starts.append(
            {
                "sha256": sha,
                "engine": start["engine"],
                "number": start["number"],
                "engine_key": key_of(start["engine"]),
                "at_epoch_s": None if epoch is None or begun is None else epoch + begun,
                "kind": start["kind"],
                "outcome": start["outcome"],
                "power": powers_word({run["power"] for run in start["starter_runs"]}),
            }
        )
    values = {
        (start["engine"], start["number"], name): kept
        for start in document["starts"]
        for name, kept in told_values(start).items()
    }
    flight = told_flight_values(document)
    values |= {(engine, 0, name): kept for (engine, name), kept in flight.items()}
    measures = [
        {
            "sha256": sha,
            "engine": engine,
            "start_number": number,
            "name": name,
            "engine_key": key_of(engine),
            "value": kept.value,
            "unit": kept.unit,
            "inferred": kept.inferred,
        }
        for (engine, number, name), kept in values.items()
    ]
    events = [
        {
            "sha256": sha,
            "position": position,
            "event_class": event["class"],
            "engine_key": key_of(event["engine"]),
            **{name: event[name] for name in _OF_EVENTS},
        }
        for position, event in enumerate(document["events"])
    ]
    return {"starts": starts, "measures": measures, "events": events}


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


def keep_traces(connection: Connection, assessment: Assessment) -> None:
    """Write the traces of the completed starts."""
    rows = [
        {
            "sha256": assessment.recording.provenance.sha256,
            "engine": int(start.engine),
            "number": int(start.number),
            "points": trace_text(trace),
            "curves": curves_text(assessment, start),
        }
        for start in assessment.starts
        if (trace := rising_trace(assessment, start))
    ]
    if rows:
        connection.execute(tables.start_traces.insert(), rows)


@dataclass(frozen=True)
class KeptFinding:
    """What a history keeps of a finding that its word depends on."""

    kind: str
    event_class: EventClass
    severity: Severity
    reason: str | None


def flight_of(row: Mapping[Any, Any], engines: tuple[str, ...], found: Sequence[Found]) -> Flight:
    """Return a kept recording as listed; `found` are its findings, each kind once."""
    missing = []
    if row["start_epoch_s"] is None:
        missing.append("undated")
    if not engines and not (row["aircraft"] or row["engine_serial"]):
        missing.append("no aircraft or engine named")
    names = (
        "sha256", "file_name", "aircraft", "engine_serial", "duration_s", "verdict", "sentence", "starts", "events",
        "added_at", "start_epoch_s",
    )  # fmt: skip
    return Flight(
        **{name: row[name] for name in names},
        start=row["start_text"],
        profile=None if row["name"] is None else f"{row['name']}, revision {row['revision']}",
        engines=engines,
        untrended=", ".join(missing),
        path=row["path"] or "",
        finding=headline(row["verdict"], found),
        listed=listed_headline(row["verdict"], found),
    )
