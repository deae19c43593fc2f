"""Names of moments: in one row above their ticks, beside their lines, or in rows over a chart with their lines."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import accumulate

from debrief.session.drawing.placing import spread

_MOST_TRIES = 400
_MOST_TOGETHER = 4


def place_names(
    positions: Sequence[float], widths: Sequence[float], low: float, high: float, gap: float
) -> list[float]:
    """Return the left ends of names in one row above their ticks: each as near to its own as the others leave room.

    Parameters
    ----------
    positions : sequence of float
        Of the ticks, from left to right.
    widths : sequence of float
        Of the names.
    low, high : float
        Nothing stands outside, as far as there is room for all.
    gap : float
        Least distance between two names.
    """
    shifts = [0.0, *accumulate(width + gap for width in widths)]
    wanted = [x - w / 2 - shift for x, w, shift in zip(positions, widths, shifts, strict=False)]
    places = spread(wanted, 0.0, low, high - (shifts[-1] - gap), range(len(wanted)))
    return [place + shift for place, shift in zip(places, shifts, strict=False)]


@dataclass(frozen=True)
class BesideLines:
    """The name of one moment, or of a few without room between them, beside their vertical lines.

    Attributes
    ----------
    words : str
        In the order of the lines, such as ``fuel, light-off``.
    width : float
        Of the words.
    lefts : tuple of float
        Where they may begin, right of the last line and left of the first, as far as no other line is near.
    """

    words: str
    width: float
    lefts: tuple[float, ...]


def names_beside_lines(
    marks: Sequence[tuple[float, str]],
    low: float,
    high: float,
    width_of: Callable[[str], float],
    aside: float = 4.0,
    apart: float = 10.0,
) -> list[BesideLines]:
    """Return the names of vertical lines, each beside its own line and across no other.

    Parameters
    ----------
    marks : sequence of (float, str)
        Where each line is, and its name.
    low, high : float
        Nothing stands outside.
    width_of : callable
        Width of words.
    aside, apart : float
        Kept free between a name and its own line, and any other line.

    Notes
    -----
    A name without room is joined with that of the nearer neighbour, in their order; more than four together,
    or such as find no room either, are left out: there the lines alone tell.
    """
    ordered = sorted(marks, key=lambda mark: mark[0])
    xs = [x for x, _ in ordered]
    groups = [(index, index) for index in range(len(xs))]
    lefts: dict[tuple[int, int], BesideLines] = {}
    for _ in range(_MOST_TOGETHER):
        joined: list[tuple[int, int]] = []
        lacking = [not _beside(group, ordered, low, high, width_of, aside, apart, lefts) for group in groups]
        index = 0
        while index < len(groups):
            first, last = groups[index]
            before = joined[-1] if joined else None
            after = groups[index + 1] if index + 1 < len(groups) else None
            nearer_before = before is not None and (
                after is None or xs[first] - xs[before[1]] <= xs[after[0]] - xs[last]
            )
            if lacking[index] and nearer_before and before is not None and last - before[0] < _MOST_TOGETHER:
                joined[-1] = (before[0], last)
            elif (
                lacking[index]
                and not nearer_before
                and after is not None
                and after[1] - first < _MOST_TOGETHER
            ):
                joined.append((first, after[1]))
                index += 1
            else:
                joined.append(groups[index])
            index += 1
        if joined == groups:
            break
        groups = joined
    return [lefts[group] for group in groups if group in lefts]


def _beside(
    group: tuple[int, int],
    marks: Sequence[tuple[float, str]],
    low: float,
    high: float,
    width_of: Callable[[str], float],
    aside: float,
    apart: float,
    found: dict[tuple[int, int], BesideLines],
) -> bool:
    """Find the places of a group of lines, from its first to its last; return whether there is one."""
    if group in found:
        return True
    first, last = group
    words = ", ".join(word for _, word in marks[first : last + 1])
    width = width_of(words)
    left_end = marks[first - 1][0] + apart if first else low
    right_end = marks[last + 1][0] - apart if last + 1 < len(marks) else high
    right, left = marks[last][0] + aside, marks[first][0] - aside - width
    lefts = ((right,) if right + width <= right_end else ()) + ((left,) if left >= left_end else ())
    if lefts:
        found[group] = BesideLines(words, width, lefts)
    return bool(lefts)


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
