"""How much of a recording with very many starts and findings goes on paper; what is left out is said.

A recorder's noise can make thousands of starts, each with a page: nobody reads 6000 pages, and they take an hour.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from debrief.analysis.model import Assessment, Severity, Start
from debrief.report.blocks import Block, Column, Paragraph, Row, Table

MOST_START_PAGES = 40
MOST_ROWS = 400
MOST_SIGNS = 400
"""Marks on the picture of the whole recording: more would lie on each other."""

MOST_MARKS = 40
"""Words, and phases, on that picture."""

_GRAVITY: Mapping[Severity, int] = {"limit": 3, "possible": 2, "caution": 1, "note": 0}
ALL_OF_THEM = "the report as CSV or JSON has all of them"


def with_pages(assessment: Assessment, starts: Sequence[Start]) -> tuple[tuple[Start, ...], list[Block]]:
    """Return the starts that have a page of their own, in their order, and what is said of the others.

    Those with the gravest findings come before the others, earlier before later.
    """
    if len(starts) <= MOST_START_PAGES:
        return tuple(starts), []
    gravest = sorted(
        range(len(starts)),
        key=lambda n: -max((_GRAVITY[e.severity] for e in assessment.events_of(starts[n])), default=-1),
    )
    chosen = tuple(starts[n] for n in sorted(gravest[:MOST_START_PAGES]))
    words = (
        f"{len(starts)} starts were found. The {MOST_START_PAGES} with the gravest findings have a page of their own; "
        f"a paper of one start has the page of any other, and {ALL_OF_THEM}."
    )
    return chosen, [Paragraph(words, "bold")]


def table(
    columns: tuple[Column, ...], rows: Sequence[Row], what: str, *, marked: bool = False, dense: bool = False
) -> list[Block]:
    """Return a table, of very many rows the first, with a sentence that says how many more there are."""
    out: list[Block] = [Table(columns, tuple(rows[:MOST_ROWS]), marked=marked, dense=dense)]
    more = len(rows) - MOST_ROWS
    if more > 0:
        out.append(Paragraph(f"And {more} more {what} that have no row here: {ALL_OF_THEM}.", "bold"))
    return out


def signs_apart(signs: Sequence[tuple[float, Severity]], end_s: float) -> tuple[tuple[float, Severity], ...]:
    """Return the signs to draw: of very many, the gravest of those that would lie on each other."""
    if len(signs) <= MOST_SIGNS:
        return tuple(signs)
    places: dict[int, tuple[float, Severity]] = {}
    for sign in signs:
        place = int(sign[0] / end_s * MOST_SIGNS)
        held = places.get(place)
        if held is None or _GRAVITY[sign[1]] > _GRAVITY[held[1]]:
            places[place] = sign
    return tuple(places[place] for place in sorted(places))
