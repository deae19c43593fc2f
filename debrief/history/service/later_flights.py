"""Flights that are kept already and follow one that is added later: what it shows of the starter's rest holds for them.

Whoever opens or assesses a flight always gets what the history shows then. Only what is listed of it was found when it
was kept; so that flights may be added in any order, those that follow are assessed anew.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from debrief.errors import UserError
from debrief.history.service.earlier_flights import ZONE_DOUBT_S, Whose, known_in, runs_before_of
from debrief.recording.model import Identity
from debrief.words.channels import ENGINE_CHANNELS

if TYPE_CHECKING:
    from debrief.analysis.model import Assessment
    from debrief.history.storage.store import Store

_MOST = 40


@dataclass(frozen=True)
class Followed:
    """What became of the flights that follow: their files' names."""

    renewed: tuple[str, ...] = ()
    left: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """What has to be said of them; empty where there was none."""
        parts = []
        if self.renewed:
            parts.append(f"Assessed anew, since they follow what was added: {', '.join(self.renewed)}.")
        if self.left:
            parts.append(
                f"Not assessed anew, though what was added bears on their starter rest: {', '.join(self.left)}. Add "
                "them again from their files."
            )
        return " ".join(parts)


def assess_what_follows(store: Store, added: Iterable[Whose], profile: str | None = None) -> Followed:
    """Assess the flights kept anew whose starter rest the added ones tell otherwise than when they were kept.

    A flight whose file is gone or changed, or that was read or judged otherwise than its file says, is left as it is
    and named. `profile` is what the added ones were judged by where their files name none, tried in its place.
    """
    renewed: dict[str, None] = {}
    left: dict[str, None] = {}
    for whose in added:
        clock = whose.clock
        for _, key in whose.keys if clock is not None else ():
            assert clock is not None
            since = clock.epoch_s - ZONE_DOUBT_S
            for sha in store.next_flights(key, since, _MOST):
                document = store.documents([sha]).get(sha)
                if document is None or sha == whose.sha256 or not _is_stale(store, document):
                    continue
                name = str(document["recording"]["file_name"])
                again = _assessed_anew(store, document, None)
                if again is None and profile is not None:
                    again = _assessed_anew(store, document, profile)
                if again is None:
                    left[name] = None
                else:
                    store.keep(again)
                    renewed[name] = None
    return Followed(tuple(renewed), tuple(left))


def _is_stale(store: Store, document: Mapping[str, Any]) -> bool:
    """Return whether the history now tells of other runs before a flight than it was kept with."""
    context = document.get("context") or {}
    kept = (run for run in context.get("earlier_runs", ()) if run.get("source") == "history")
    now = runs_before_of(store, _whose(document))
    return {(run.sha256, run.engine) for run in now} != {(run["sha256"], run["engine"]) for run in kept}


def _whose(document: Mapping[str, Any]) -> Whose:
    told = document["recording"]["identity"]
    parts = [name.partition(".") for name in document["recording"]["channels"]]
    engines = {int(number or 1) for base, _, number in parts if base in ENGINE_CHANNELS} or {1}
    identity = Identity(
        aircraft=told["aircraft"],
        engine_serial=told["engine_serial"],
        start=None if told["start"] is None else datetime.fromisoformat(told["start"]),
        start_source=told.get("start_source"),
    )
    return Whose(identity, tuple(sorted(engines)), document["recording"]["sha256"])


def _assessed_anew(store: Store, document: Mapping[str, Any], judged_by: str | None) -> Assessment | None:
    """Return a flight assessed as it was; None where it is not at hand or was not read and judged as its file says."""
    from debrief.session.assessing.file_assessment import Choices, assess_knowing, read_recording
    from debrief.session.document import assessment_document

    old = document["recording"]
    told, profile = old["identity"], document["profile"]
    typed = {"option", "entered"}
    choices = Choices(
        profile=judged_by or (None if profile is None or old.get("profile_named") else profile["name"]),
        aircraft=told["aircraft"] if told.get("aircraft_source") in typed else None,
        engine_serial=told["engine_serial"] if told.get("engine_serial_source") in typed else None,
        start_iso=told["start"] if told.get("start_source") in typed else None,
    )
    if not Path(old["path"]).is_file():
        return None
    try:
        recording = read_recording(old["path"], choices)
        _, again = assess_knowing(recording, choices, partial(known_in, store))
    except UserError:
        return None
    made = assessment_document(again)
    columns = [
        {name: one["column"] for name, one in each["recording"]["channels"].items()}
        for each in (document, made)
    ]
    same_profile = (made["profile"] or {}).get("sha256") == (profile or {}).get("sha256")
    is_same = made["recording"]["sha256"] == old["sha256"] and columns[0] == columns[1] and same_profile
    return again if is_same else None
