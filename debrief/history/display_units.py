"""The history in the units that a person reads: the numbers that are kept stay canonical."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Protocol

from debrief.history.measures import Kept
from debrief.history.model import Flight, Maintenance, PastStart
from debrief.words.display_units import ShownUnits


class History(Protocol):
    """What comparisons and trends ask of a history: `debrief.history.storage.store.Store` gives it."""

    def starts(self, engine: str | None = None) -> tuple[PastStart, ...]:
        """Return the starts of an engine."""
        ...

    def maintenance(self, engine: str) -> tuple[Maintenance, ...]:
        """Return its maintenance actions in order of time."""
        ...

    def flight_measures(self, engine: str) -> tuple[tuple[float, str, Mapping[str, Kept]], ...]:
        """Return (instant, SHA-256, numbers of the whole flight) of one engine's dated flights, in order."""
        ...

    def flights(self) -> tuple[Flight, ...]:
        """Return every kept recording."""
        ...


def shown_values(values: Mapping[str, Kept], units: ShownUnits) -> Mapping[str, Kept]:
    """Return kept numbers in the units to show; none of them is a difference of temperatures."""
    if units.are_canonical:
        return values
    return MappingProxyType(
        {
            name: replace(kept, value=units.value(kept.value, kept.unit), unit=units.of(kept.unit))
            for name, kept in values.items()
        }
    )


class ShownHistory:
    """An open history in the units to show, to be compared and trended in them; an engine's starts are read once."""

    def __init__(self, store: History, units: ShownUnits) -> None:
        self._store = store
        self._units = units
        self._starts: dict[str | None, tuple[PastStart, ...]] = {}

    def starts(self, engine: str | None = None) -> tuple[PastStart, ...]:
        """Return an engine's starts."""
        if engine not in self._starts:
            kept = self._store.starts(engine)
            if not self._units.are_canonical:
                kept = tuple(replace(one, values=shown_values(one.values, self._units)) for one in kept)
            self._starts[engine] = kept
        return self._starts[engine]

    def maintenance(self, engine: str) -> tuple[Maintenance, ...]:
        """Return an engine's maintenance actions."""
        return self._store.maintenance(engine)

    def flight_measures(self, engine: str) -> tuple[tuple[float, str, Mapping[str, Kept]], ...]:
        """Return (instant, SHA-256, numbers) of an engine's dated flights."""
        kept = self._store.flight_measures(engine)
        return tuple((at, sha256, shown_values(numbers, self._units)) for at, sha256, numbers in kept)

    def flights(self) -> tuple[Flight, ...]:
        """Return every kept recording."""
        return self._store.flights()
