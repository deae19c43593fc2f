"""What the flights kept of an engine tell of its starter before a recording.

Nothing heavy is imported until it is asked for, and nothing where there is no history.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from debrief.analysis.model import EarlierRun
from debrief.errors import UserError
from debrief.history.measures import engine_key, start_epoch
from debrief.history.service.locking import locked
from debrief.home import history_file, home
from debrief.output.private import write_private
from debrief.recording.model import Identity, Recording
from debrief.session.assessing.starter_rest import Known, Rests

if TYPE_CHECKING:
    from debrief.history.storage.store import Store

ZONE_DOUBT_S = 14 * 3600.0
"""A clock without a zone may be any local time, and the furthest from UTC is 14 h ahead."""
SERIES_S = 12 * 3600.0
"""A rest this long ends a series of runs: no profile goes on counting over a night."""
_MOST_STARTS = 40
RESTS = "starter_rests.json"


def known_before(recording: Recording, db: str | None = None) -> Known:
    """Return what the flights kept, and the user before, tell of the starter's rest before a recording.

    Parameters
    ----------
    recording : Recording
    db : str, optional
        The history that is named; the user's own where it is not, if there is one.

    Raises
    ------
    UserError
        The history, or what the user said before, cannot be read.
    """
    sha = recording.provenance.sha256
    said = _rests().get(sha)
    if db is None and not history_file().exists():
        return said or Known()
    from debrief.history.storage.places import require_history
    from debrief.history.storage.store import Store

    require_history(db)
    with Store.open(db) as store:
        return replace(said or _kept_rest(store, sha), runs=earlier_runs(store, recording))


def known_if_any(recording: Recording) -> Known:
    """Return the same from the user's own history, and nothing where it cannot be read: the history's page says why."""
    with suppress(UserError):
        return known_before(recording)
    return Known()


def known_in(store: Store, recording: Recording) -> Known:
    """Return the same from a history that is open."""
    sha = recording.provenance.sha256
    return replace(_rests().get(sha) or _kept_rest(store, sha), runs=earlier_runs(store, recording))


# --- what a person said ----------------------------------------------------------------------------------


def remember_rest(sha256: str, seconds: float | None, rests: Rests = ()) -> None:
    """Keep what a person said of the rest before a recording, of every engine and of one; None takes it back.

    Raises
    ------
    UserError
        It cannot be written.
    """
    path = home() / RESTS
    with locked(path.with_suffix(".lock")):
        kept = {**_rests(), sha256: Known(rest_s=seconds, rests=rests)}
        text = json.dumps({sha: _written(said) for sha, said in kept.items()}, indent=1, sort_keys=True)
        write_private(path, f"{text}\n".encode(), "The starter's rest")


def keep_option(recording: Recording, told: Sequence[tuple[int | None, float]]) -> None:
    """Keep what options say of the rest before a recording, each of an engine or of every one; NaN: unknown again.

    Raises
    ------
    UserError
        It cannot be written.
    """
    if not told:
        return
    sha = recording.provenance.sha256
    said = {engine: None if math.isnan(rest) else rest for engine, rest in told}
    before = _rests().get(sha) or Known()
    every, rests = (said.pop(None), {}) if None in said else (before.rest_s, dict(before.rests))
    rests |= {engine: rest for engine, rest in said.items() if engine is not None}
    remember_rest(sha, every, tuple(sorted(rests.items())))


_EVERY = "every engine"


def _written(said: Known) -> object:
    """Return what was said as it is kept: one length of time, or several by engine."""
    if not said.rests:
        return said.rest_s
    return {_EVERY: said.rest_s, **{str(engine): rest for engine, rest in said.rests}}


def _read(value: Any) -> Known:
    tree = value if isinstance(value, dict) else {_EVERY: value}
    rests = {key: None if rest is None else float(rest) for key, rest in tree.items()}
    every = rests.pop(_EVERY, None)
    return Known(rest_s=every, rests=tuple(sorted((int(key), rest) for key, rest in rests.items())))


def _rests() -> dict[str, Known]:
    """Return what was said of each recording; with nothing in it where it was taken back."""
    path = home() / RESTS
    try:
        tree = json.loads(path.read_text(encoding="utf-8"))
        return {str(sha): _read(value) for sha, value in tree.items()}
    except FileNotFoundError:
        return {}
    except (OSError, ValueError, AttributeError, TypeError):
        raise UserError(
            f"What was said of the starter's rest, in {path}, cannot be read: move the file away and say it again."
        ) from None


def _kept_rest(store: Store, sha256: str) -> Known:
    """Return what a person said of a flight when it was kept, perhaps at another desk."""
    document = store.documents([sha256]).get(sha256)
    runs = [] if document is None else document.get("context", {}).get("earlier_runs", [])
    told: dict[int | None, float] = {}
    for run in runs:
        if run.get("source") == "entered" and run["end_s"] is not None:
            engine = run.get("engine")
            told[engine] = min(-run["end_s"], told.get(engine, math.inf))
    every = told.pop(None, None)
    return Known(rest_s=every, rests=tuple((engine, rest) for engine, rest in told.items() if engine))


# --- what the flights kept tell --------------------------------------------------------------------------


@dataclass(frozen=True)
class Whose:
    """Whose recording it is: what decides which flights are its earlier ones."""

    identity: Identity
    engines: tuple[int, ...]
    sha256: str

    @classmethod
    def of(cls, recording: Recording) -> Whose:
        """Return that of a recording."""
        return cls(recording.identity, tuple(recording.engines), recording.provenance.sha256)

    @property
    def keys(self) -> Iterator[tuple[int, str]]:
        """Its engines that have a name, each with that name."""
        for engine in self.engines:
            key = engine_key(self.identity, engine, len(self.engines))
            if key is not None:
                yield engine, key

    @property
    def clock(self) -> _Clock | None:
        """When it began; None where it is undated."""
        epoch, has_zone = start_epoch(self.identity.start)
        if epoch is None:
            return None
        return _Clock(epoch, bool(has_zone), _step_s(self.identity.start, self.identity.start_source))


def earlier_runs(store: Store, recording: Recording) -> tuple[EarlierRun, ...]:
    """Return the starter runs of the flights kept of each of a recording's engines, in its own time.

    Parameters
    ----------
    store : Store
        The open history.
    recording : Recording
        Undated or unnamed: nothing is known.

    Returns
    -------
    tuple of EarlierRun
        The last run before the recording, however long ago, and those before it that belong to the same series. A
        run that overlaps the recording is left out. Runs that nobody kept remain unknown.
    """
    return runs_before_of(store, Whose.of(recording))


def runs_before_of(store: Store, whose: Whose) -> tuple[EarlierRun, ...]:
    """Return the same of a recording that is not at hand."""
    own = whose.clock
    if own is None:
        return ()
    found: list[EarlierRun] = []
    for engine, key in whose.keys:
        found += (replace(run, engine=engine) for run in _series(_runs_of(store, key, own, whose.sha256)))
    return tuple(sorted(found, key=lambda run: run.start_s))


class _Clock:
    """When a recording began, and how well its clock tells it."""

    def __init__(self, epoch_s: float, has_zone: bool, step_s: float) -> None:
        self.epoch_s = epoch_s
        self.has_zone = has_zone
        self.step_s = step_s

    def doubt_s(self, other: _Clock) -> float:
        """Return by how much two clocks may disagree, [s]."""
        step = max(self.step_s, other.step_s)
        return step if self.has_zone and other.has_zone else max(step, ZONE_DOUBT_S)


def _step_s(start: datetime | None, source: str | None) -> float:
    """Return how finely an instant was told: a person who types one leaves the seconds out."""
    if start is None or start.microsecond:
        return 0.0
    return 60.0 if start.second == 0 and source in ("option", "entered") else 1.0


def _runs_of(store: Store, key: str, own: _Clock, sha256: str) -> list[EarlierRun]:
    from debrief.history.storage.damage import from_the_file
    from debrief.history.storage.failures import told

    out: list[EarlierRun] = []
    rows = store.last_starts(key, own.epoch_s + ZONE_DOUBT_S, sha256, _MOST_STARTS)
    flights: dict[str, list[Mapping[Any, Any]]] = {}
    for row in rows:
        flights.setdefault(row["sha256"], []).append(row)
    for sha, starts in flights.items():
        sure = [run for run in out if run.end_s is not None and run.end_s <= -run.clock_doubt_s]
        if (
            sure
            and starts[0]["at_epoch_s"] - own.epoch_s < min(r.start_s for r in sure) - SERIES_S - ZONE_DOUBT_S
        ):
            break
        document = store.documents([sha]).get(sha)
        if document is not None:
            with told(store.place), from_the_file(f"the document of {starts[0]['file_name']}"):
                out += _runs_in(document, starts, own)
    return sorted(out, key=lambda run: run.start_s)


def _runs_in(
    document: Mapping[str, Any], starts: Sequence[Mapping[Any, Any]], own: _Clock
) -> list[EarlierRun]:
    """Return the runs of a kept flight that were, or by the clocks may have been, before the recording."""
    row = starts[0]
    begun = datetime.fromisoformat(row["start_text"]) if row["start_text"] else None
    source = (document["recording"].get("identity") or {}).get("start_source")
    clock = _Clock(row["start_epoch_s"], bool(row["start_has_zone"]), _step_s(begun, source))
    offset, doubt = clock.epoch_s - own.epoch_s, clock.doubt_s(own)
    wanted = {(one["engine"], one["number"]) for one in starts}
    out = []
    for start in document["starts"]:
        for run in start["starter_runs"] if (start["engine"], start["number"]) in wanted else ():
            begin = run["start_s"] + offset
            end, more = run["end_s"], doubt
            # It went on beyond the end of its recording: it ended between then and now.
            end = (row["duration_s"] if end is None else end) + offset
            if run["end_s"] is None:
                more = max(doubt, -end)
            if end > 0 and (doubt < ZONE_DOUBT_S or begin > doubt):
                continue
            # By a clock without a zone it may have been before, and just before.
            later = max(end, 0.0)
            out.append(
                EarlierRun(
                    start_s=begin - later,
                    end_s=end - later,
                    duration_s=run["duration_s"],
                    duration_low_s=run["duration_low_s"],
                    duration_high_s=run["duration_high_s"],
                    power=run["power"],
                    source="history",
                    file_name=row["file_name"],
                    sha256=row["sha256"],
                    clock_doubt_s=more,
                )
            )
    return out


def _series(runs: Sequence[EarlierRun]) -> Sequence[EarlierRun]:
    """Return the last runs between which there was no rest that ends a series."""
    first = len(runs) - 1
    while first > 0 and runs[first].start_s - (runs[first - 1].end_s or 0.0) < SERIES_S:
        first -= 1
    return runs[max(first, 0) :]
