"""What each recording was compared with when it was last looked at, so that it is so again when it is opened."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, replace

from debrief.session.comparing.start_curves import INSTANTS, Instant, StartKey

MOST_REMEMBERED = 40


@dataclass(frozen=True)
class Pairing:
    """One recording's compared start.

    Attributes
    ----------
    of : str
        SHA-256 of the recording on the table.
    sha256, engine, number
        Which start lies behind; an empty text: the usual start of the engine.
    path : str
        Where the recording of that start was; empty where its traces came from the history.
    name : str
        What it was called.
    instant : Instant
        Where both were aligned.
    """

    of: str
    sha256: str = ""
    engine: int = 1
    number: int = 1
    path: str = ""
    name: str = ""
    instant: Instant = "fuel_on"

    @property
    def key(self) -> StartKey | None:
        """Which start it is; None for the usual one."""
        return (self.sha256, self.engine, self.number) if self.sha256 else None


def pairings_from(text: str) -> tuple[Pairing, ...]:
    """Return what is remembered, the newest first; what cannot be read is left out."""
    try:
        rows = json.loads(text)
        if not isinstance(rows, list):
            return ()
    except ValueError:
        return ()
    out = []
    for row in rows[:MOST_REMEMBERED]:
        try:
            one = Pairing(**row)
        except TypeError:
            continue
        texts = (one.of, one.sha256, one.path, one.name)
        numbers = (one.engine, one.number)
        if all(type(x) is str for x in texts) and all(type(x) is int for x in numbers) and one.of:
            out.append(one if one.instant in INSTANTS else replace(one, instant="fuel_on"))
    return tuple(out)


def with_pairing(text: str, of: str, pairing: Pairing | None) -> str:
    """Return the text to remember with the pairing of a recording on top; without one where there is none any more."""
    others = [one for one in pairings_from(text) if one.of != of]
    kept = [*([] if pairing is None else [pairing]), *others][:MOST_REMEMBERED]
    return json.dumps([asdict(one) for one in kept]) if kept else ""
