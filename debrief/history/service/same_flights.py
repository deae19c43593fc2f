"""Whether a flight is in the history already, from a file whose bytes are others."""

from __future__ import annotations

from typing import TYPE_CHECKING

from debrief.history.measures import engine_key, start_epoch
from debrief.history.same_flight import SameFlight
from debrief.words.remedies import KEEP_BOTH, advised

if TYPE_CHECKING:
    from debrief.analysis.model import Assessment
    from debrief.history.model import Flight
    from debrief.history.storage.store import Store

SAME_START_S = 1.0
SAME_LENGTH_S = 1.0


def same_flight(store: Store, assessment: Assessment) -> Flight | None:
    """Return the flight of another file that has this one's engine, beginning, length and samples.

    Notes
    -----
    The beginnings and lengths may differ by a second. A flight that was kept before samples had a fingerprint is the
    same where it has as many rows.
    """
    recording = assessment.recording
    epoch, _ = start_epoch(recording.identity.start)
    keys = {engine_key(recording.identity, n, len(recording.engines)) for n in recording.engines} - {None}
    if epoch is None or not keys or not recording.provenance.fingerprint:
        return None
    for flight in store.flights():
        if flight.sha256 == recording.provenance.sha256 or flight.start_epoch_s is None:
            continue
        if not keys & set(flight.engines) or abs(flight.start_epoch_s - epoch) > SAME_START_S:
            continue
        if abs(flight.duration_s - recording.duration_s) > SAME_LENGTH_S:
            continue
        told_of = store.document(flight.sha256)["recording"]
        known = told_of.get("fingerprint")
        if (
            known == recording.provenance.fingerprint
            if known
            else told_of["rows"] == recording.provenance.rows
        ):
            return flight
    return None


def refuse_same(store: Store, assessment: Assessment) -> None:
    """Ask what is meant where the flight is in the history already.

    Raises
    ------
    SameFlight
        It is, from another file.
    """
    found = same_flight(store, assessment)
    if found is None:
        return
    name = assessment.recording.provenance.file_name
    raise SameFlight(
        advised(
            "{name} is the flight of {other} again, which the history has: same engine, start and samples. It was not "
            "added{how}.",
            name=name,
            other=f"{found.file_name} ({found.sha256[:12]})",
            how=KEEP_BOTH,
        )
    )
