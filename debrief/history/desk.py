"""What a window asks of the history: to look at it, to keep a flight, and the values for the paper.

Nothing heavy is imported until one of these is called: each may run away from the event loop.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from debrief.history.shown import ShownFlights, ShownStarts
from debrief.home import home
from debrief.recording.shown_units import AS_COMPUTED, ShownUnits

if TYPE_CHECKING:
    from debrief.analysis.model import Assessment
    from debrief.history.comparing import Comparison
    from debrief.history.model import Flight, Maintenance, Note, PastStart
    from debrief.history.series import Trend
    from debrief.history.store import Kept_as, Store


@dataclass(frozen=True, eq=False)
class HistoryPage:
    """The history as one engine's page.

    Attributes
    ----------
    place : str
        Where the history is, for a person.
    engines : tuple of str
        Those that have starts.
    engine : str or None
        Whose page it is; None for the list of all flights.
    flights : tuple of Flight
        Of that engine, or all; the newest first, undated ones last.
    starts : int
        Starts of that engine.
    trends : tuple of Trend
        Its measures, those that have a point.
    kept : Flight or None
        The open recording, if it is kept.
    total : int
        Flights in the whole history.
    """

    place: str
    engines: tuple[str, ...] = ()
    engine: str | None = None
    flights: tuple[Flight, ...] = ()
    starts: int = 0
    trends: tuple[Trend, ...] = ()
    kept: Flight | None = None
    total: int = 0


class _Once:
    """One engine's starts and actions, read once for all its measures."""

    def __init__(self, starts: tuple[PastStart, ...], actions: tuple[Maintenance, ...]) -> None:
        self._starts = starts
        self._actions = actions

    def starts(self, engine: str | None = None) -> tuple[PastStart, ...]:
        return self._starts

    def maintenance(self, engine: str) -> tuple[Maintenance, ...]:
        return self._actions


def default_file() -> Path:
    """Return where the user's own history is; it need not be there yet."""
    return home() / "history.sqlite"


def engine_names(assessment: Assessment, first: int = 1) -> tuple[str, ...]:
    """Return the names under which a recording's engines are trended, that of engine `first` in front.

    Engines without a name are left out.
    """
    from debrief.history.measures import engine_key

    recording = assessment.recording
    numbers = sorted(recording.engines, key=lambda engine: engine != first)
    keys = (engine_key(recording.identity, engine, len(recording.engines)) for engine in numbers)
    return tuple(key for key in keys if key is not None)


def look(
    sha256: str = "",
    engine: str | None = None,
    default: Sequence[str] = (),
    units: ShownUnits = AS_COMPUTED,
) -> HistoryPage:
    """Return one engine's page of the user's history.

    Parameters
    ----------
    sha256 : str
        Of the open recording; empty without one.
    engine : str, optional
        Whose page: an empty text for all flights. When not given, the first of `default` that is known, else
        all flights.
    default : sequence of str
        Engines of the open recording.
    units : ShownUnits
        In which the trends are shown.

    Raises
    ------
    UserError
        The history cannot be read.
    """
    if not default_file().exists():
        return HistoryPage(str(default_file()))
    from debrief.history.flights import flight_trends
    from debrief.history.measures import USUAL_MEASURES
    from debrief.history.series import trend
    from debrief.history.store import Store

    with Store.open() as store:
        flights = store.flights()
        engines = store.engines()
        if engine is None:
            engine = next((name for name in default if name in engines), None)
        elif engine not in engines:
            engine = None
        kept = next((flight for flight in flights if flight.sha256 == sha256), None)
        total = len(flights)
        trends: tuple[Trend, ...] = ()
        starts: tuple[PastStart, ...] = ()
        if engine is not None:
            flights = tuple(flight for flight in flights if engine in flight.engines)
            starts = ShownStarts(store, units).starts(engine)
            once = _Once(starts, store.maintenance(engine))
            of_starts = (trend(once, engine, measure) for measure in USUAL_MEASURES)
            found = (*of_starts, *flight_trends(ShownFlights(store, units), engine))
            trends = tuple(one for one in found if one.points)
        place = store.place
    ordered = sorted(flights, key=lambda f: (f.start_epoch_s is not None, f.start_epoch_s or 0.0, f.added_at))
    return HistoryPage(place, engines, engine, tuple(reversed(ordered)), len(starts), trends, kept, total)


def keep(assessment: Assessment) -> Kept_as:
    """Keep an assessed recording in the user's history.

    Raises
    ------
    UserError
        The history cannot be written.
    """
    from debrief.history.notes import adopt_notes
    from debrief.history.store import Store

    with Store.open() as store:
        how = store.keep(assessment)
        adopt_notes(store, assessment.recording.provenance.sha256)
        return how


def paper_values(
    assessment: Assessment, store: Store
) -> tuple[tuple[Note, ...], tuple[Comparison, ...], tuple[Trend, ...]]:
    """Return the notes on this recording, how unusual its starts are, and the trends of its engines."""
    from debrief.history.comparing import compare
    from debrief.history.flights import flight_trends
    from debrief.history.measures import USUAL_MEASURES
    from debrief.history.series import trend

    known = store.engines()
    trends: list[Trend] = []
    for key in engine_names(assessment):
        if key in known:
            shown = ShownStarts(store, assessment.units)
            once = _Once(shown.starts(key), shown.maintenance(key))
            trends += [trend(once, key, name) for name in USUAL_MEASURES]
            trends += flight_trends(ShownFlights(store, assessment.units), key)
    sha256 = assessment.recording.provenance.sha256
    notes = store.notes(sha256) if store.flight(sha256) is not None else ()
    return notes, compare(assessment, store), tuple(trends)


def own_paper_values(
    assessment: Assessment,
) -> tuple[tuple[Note, ...], tuple[Comparison, ...], tuple[Trend, ...]]:
    """Return the same from the user's own history; nothing where there is none yet."""
    if not default_file().exists():
        return (), (), ()
    from debrief.history.store import Store

    with Store.open() as store:
        return paper_values(assessment, store)
