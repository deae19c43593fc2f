"""Places for labels over a chart: none on another, and no line through one. Pure geometry."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

_MOST_TRIES = 400


@dataclass(frozen=True)
class Placed:
    """Where a label goes: left end and row, 0 being the row nearest to the chart."""

    left: float
    row: int


def place_over_lines(
    positions: Sequence[float], widths: Sequence[float], low: float, high: float, gap: float = 1.0
) -> tuple[Placed, ...]:
    """Return a place above the chart for each vertical line's label.

    Parameters
    ----------
    positions : sequence of float
        Where the lines are, in any order.
    widths : sequence of float
        Of the labels.
    low, high : float
        The labels stay between these where they fit at all.
    gap : float
        Kept free between a label and what is beside it.

    Returns
    -------
    tuple of Placed
        In the order of the input. No two labels overlap, and no line crosses a label of a row that it
        passes on the way to its own.

    Notes
    -----
    A line rises from the chart up to its own label. A label stands right of its line if it can, else
    left. From the right-most line on, each takes the lowest row where nothing is in the way; a choice that
    leaves no room for a later label is taken back.
    """
    order = sorted(range(len(positions)), key=lambda i: -positions[i])
    placed: dict[int, Placed] = {}
    if not _place(order, 0, positions, widths, placed, (low, high), gap, [_MOST_TRIES]):
        # There is no room for all of them without a crossing: each gets a row of its own.
        placed = {
            i: Placed(max(low, min(positions[i] + gap, high - widths[i])), row) for row, i in enumerate(order)
        }
    return tuple(placed[i] for i in range(len(positions)))


def _place(
    order: Sequence[int],
    depth: int,
    positions: Sequence[float],
    widths: Sequence[float],
    placed: dict[int, Placed],
    bounds: tuple[float, float],
    gap: float,
    tries: list[int],
) -> bool:
    """Place the labels from `depth` on, taking back a choice that leaves no room for a later one."""
    if depth == len(order):
        return True
    i = order[depth]
    x, width = positions[i], widths[i]
    low, high = bounds
    sides = [left for left in (x + gap, x - gap - width) if low <= left and left + width <= high]
    edge = max(low, min(x + gap, high - width))
    if edge not in sides:
        sides.append(edge)
    top = max((place.row for place in placed.values()), default=-1) + 1
    for row in range(top + 2):
        for left in sides:
            if tries[0] <= 0:
                return False
            if all(
                _may_stand(left, left + width, row, x, placed[j], positions[j], widths[j], gap)
                for j in placed
            ):
                tries[0] -= 1
                placed[i] = Placed(left, row)
                if _place(order, depth + 1, positions, widths, placed, bounds, gap, tries):
                    return True
                del placed[i]
    return False


def _may_stand(
    left: float,
    right: float,
    row: int,
    x: float,
    other: Placed,
    other_x: float,
    other_width: float,
    gap: float,
) -> bool:
    """Whether a label and its line at x keep clear of a label that has its place."""
    other_right = other.left + other_width
    if row == other.row:
        if left < other_right + gap and other.left < right + gap:
            return False
        # Both lines end at this row; neither may run into the other's label from the side.
        return not (other.left <= x <= other_right or left <= other_x <= right)
    if other.row > row and left - gap / 2 < other_x < right + gap / 2:
        return False  # the other's line passes through this label
    return not (row > other.row and other.left - gap / 2 < x < other_right + gap / 2)


def spread(wanted: Sequence[float], height: float, low: float, high: float) -> tuple[float, ...]:
    """Return positions as near to the wanted ones as they can be without standing closer than `height`.

    Parameters
    ----------
    wanted : sequence of float
        In any order; the result is in the same order.
    height : float
        Least distance.
    low, high : float
        Bounds, kept where there is room for all.
    """
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    places = [min(max(wanted[i], low), high) for i in order]
    for k in range(1, len(places)):
        places[k] = max(places[k], places[k - 1] + height)
    if places and places[-1] > high:
        places[-1] = high
        for k in range(len(places) - 2, -1, -1):
            places[k] = min(places[k], places[k + 1] - height)
    out = [0.0] * len(wanted)
    for k, i in enumerate(order):
        out[i] = places[k]
    return tuple(out)
