"""The history in the units that a person reads: the numbers that are kept stay canonical."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Protocol

from debrief.history.measures import Kept
from debrief.history.model import Flight, Maintenance, PastStart
from debrief.words.display_units import ShownUnits


class _Source(Protocol):
    def starts(self, engine: str | None = None) -> tuple[PastStart, ...]: ...

    def maintenance(self, engine: str) -> tuple[Maintenance, ...]: ...


class _Flights(Protocol):
    def flight_measures(self, engine: str) -> tuple[tuple[float, str, Mapping[str, Kept]], ...]: ...

    def flights(self) -> tuple[Flight, ...]: ...

    def maintenance(self, engine: str) -> tuple[Maintenance, ...]: ...


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


class ShownStarts:
    """An open history that gives its starts in the units to show, to be compared and trended in them."""

    def __init__(self, store: _Source, units: ShownUnits) -> None:
        self._store = store
        self._units = units

    def starts(self, engine: str | None = None) -> tuple[PastStart, ...]:
        """Return an engine's starts."""
        kept = self._store.starts(engine)
        return kept if self._units.are_canonical else tuple(self._shown(start) for start in kept)

    def _shown(self, start: PastStart) -> PastStart:
        return replace(start, values=shown_values(start.values, self._units))

    def maintenance(self, engine: str) -> tuple[Maintenance, ...]:
        """Return an engine's maintenance actions."""
        return self._store.maintenance(engine)


class ShownFlights:
    """The same of whole flights."""

    def __init__(self, store: _Flights, units: ShownUnits) -> None:
        self._store = store
        self._units = units

    def flight_measures(self, engine: str) -> tuple[tuple[float, str, Mapping[str, Kept]], ...]:
        """Return (instant, SHA-256, numbers) of an engine's dated flights."""
        kept = self._store.flight_measures(engine)
        return tuple((at, sha256, shown_values(numbers, self._units)) for at, sha256, numbers in kept)

    def flights(self) -> tuple[Flight, ...]:
        """Return every kept recording."""
        return self._store.flights()

    def maintenance(self, engine: str) -> tuple[Maintenance, ...]:
        """Return an engine's maintenance actions."""
        return self._store.maintenance(engine)
