"""The rows of a limit of the profile as corners of a chart, and back."""

from __future__ import annotations

from collections.abc import Sequence

from debrief.session.profiles.profile_cells import Row, level_point, level_text

_ABOVE, _BELOW, _SECONDS, _SEVERITY = range(4)
"""The places of the cells in a row of ``allowed``."""


def corners_of(rows: Sequence[Row]) -> tuple[tuple[float, float], ...] | None:
    """Return the corners of a limit's rows, rising in level; None for a minimum, which is not drawn."""
    if any(row[_BELOW].strip() for row in rows):
        return None
    return tuple(sorted(point for row in rows if (point := _point(row)) is not None))


def drawn_rows(rows: Sequence[Row], points: Sequence[tuple[float, float]]) -> tuple[Row, ...]:
    """Return the rows after their corners were drawn: each keeps its severity, what cannot be read stays below."""
    readable = sorted(
        (row for row in rows if _point(row) is not None), key=lambda row: _point(row) or (0.0, 0.0)
    )
    by_level = {(_point(row) or (0.0,))[0]: row[_SEVERITY] for row in readable}
    # A corner that was moved has the place of its row, one that was added or taken out leaves the levels of the others.
    moved = len(points) == len(readable)
    out = [
        (
            level_text(level),
            "",
            level_text(seconds),
            readable[place][_SEVERITY] if moved else by_level.get(level, ""),
        )
        for place, (level, seconds) in enumerate(points)
    ]
    return (*out, *(row for row in rows if _point(row) is None))


def _point(row: Row) -> tuple[float, float] | None:
    return level_point(row, level=_ABOVE, seconds=_SECONDS)
