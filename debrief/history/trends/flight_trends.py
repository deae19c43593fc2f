"""Trends of what an engine does in flight, from the numbers that are kept of each whole flight."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from debrief.history.display_units import History
from debrief.history.measures import ANY_RUN, FLIGHT_MEASURES, UNTRENDED, Kept
from debrief.history.model import PastStart
from debrief.history.trends.series import Trend, trend_of
from debrief.history.usual.baseline import OF_FLIGHTS

_ON_THE_GROUND = "ground run"
AIRBORNE = "airborne_time"


def flight_trends(store: History, engine: str, measures: Sequence[str] = ()) -> tuple[Trend, ...]:
    """Return the trends of an engine's numbers of whole flights since its last maintenance action.

    Parameters
    ----------
    store : History
        The open history.
    engine : str
        As `Store.engines` names it.
    measures : sequence of str
        Which; all that are kept of it when not given.

    Notes
    -----
    Bands, charts and shifts are those of the starts' trends, with a flight in place of a start. Highest values
    are compared over flights that left the ground: a ground run reaches other values. A flight of which it is
    not known whether it did is left out of these.
    """
    kept = store.flight_measures(engine)
    if not kept:
        return ()
    names = {flight.sha256: flight.file_name for flight in store.flights()}
    actions = store.maintenance(engine)
    out = []
    for measure in measures or _names(kept):
        past = [
            PastStart(
                sha256=sha256,
                engine=1,
                number=0,
                engine_key=engine,
                at_epoch_s=at,
                kind=OF_FLIGHTS if measure in ANY_RUN or _flew(numbers) else _ON_THE_GROUND,
                outcome="completed",
                power="",
                values=numbers,
                file_name=names.get(sha256, ""),
            )
            for at, sha256, numbers in kept
        ]
        out.append(trend_of(past, actions, engine, measure, power="", kind=OF_FLIGHTS))
    return tuple(out)


def flight_measure_names(store: History, engine: str) -> tuple[str, ...]:
    """Return the names of an engine's numbers of whole flights that are trended."""
    return tuple(_names(store.flight_measures(engine)))


def _names(kept: Sequence[tuple[float, str, Mapping[str, Kept]]]) -> list[str]:
    """Return the measures that are kept, the known ones in their order first."""
    found = {name for _, _, numbers in kept for name in numbers} - UNTRENDED
    first = [name for name in FLIGHT_MEASURES if name in found]
    return first + sorted(found.difference(first))


def _flew(numbers: Mapping[str, Kept]) -> bool:
    airborne = numbers.get(AIRBORNE)
    return airborne is not None and airborne.value > 0
