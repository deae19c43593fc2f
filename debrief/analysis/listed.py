"""The events of one engine, of which noise makes tens of thousands: so many of one kind are listed, the rest is counted."""

from __future__ import annotations

from collections.abc import Iterable

from debrief.analysis.model import Event, LeftOut

MOST_OF_A_KIND = 1000
"""So many events of one kind, severity, limit and reason are listed of one start, or outside of starts. With its evidence one takes
3 kB, so that more than some ten kinds of it would break the promise about memory; no recording of a flight has so many."""

_Kind = tuple[object, ...]


class Listed:
    """Takes events, keeps the first of each kind and counts the others.

    Every start keeps its own, so that a start with a finding is never taken for one without.
    """

    def __init__(self) -> None:
        self.events: list[Event] = []
        self._counts: dict[_Kind, int] = {}
        self._left_out: dict[_Kind, LeftOut] = {}

    def add(self, events: Iterable[Event]) -> None:
        """Take events; those of one kind come in order of time."""
        for event in events:
            kind = (
                event.kind, event.event_class, event.severity, event.start_number, event.limit_id, event.reason,
            )  # fmt: skip
            count = self._counts[kind] = self._counts.get(kind, 0) + 1
            if count <= MOST_OF_A_KIND:
                self.events.append(event)
                continue
            before = self._left_out.get(kind)
            self._left_out[kind] = LeftOut(
                event.kind,
                event.event_class,
                event.engine,
                event.severity,
                event.start_number,
                event.limit_id,
                event.reason,
                count - MOST_OF_A_KIND,
                event.start_s if before is None else min(event.start_s, before.start_s),
                event.end_s if before is None else max(event.end_s, before.end_s),
            )

    @property
    def left_out(self) -> tuple[LeftOut, ...]:
        """What is counted and not listed."""
        return tuple(self._left_out.values())
