"""Names of marks in one row: none is left without a name, neighbours without room share one."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from debrief.session.drawing.placing import Box, Placer

_DOT = 3.0


def place_names(
    marks: Sequence[tuple[float, str]], area: Box, top: float, row: float, width_of: Callable[[str], float]
) -> list[tuple[str, Box]]:
    """Return where the names of marks stand, each beside its own dots.

    Parameters
    ----------
    marks : sequence of (float, str)
        Middle of each dot, [px], and its name.
    area : Box
        Nothing stands outside.
    top, row : float
        Of the row, [px].
    width_of : callable
        Width of words, [px].

    Notes
    -----
    Where a name finds no room beside its dot, it is told together with that of the nearer neighbour, in
    their order: ``fuel, light-off`` before two dots. Only where even all together find no room is none told.
    """
    groups = [[mark] for mark in sorted(marks, key=lambda mark: mark[0])]
    while groups:
        placer = Placer(area)
        for x, _ in marks:
            placer.reserve(Box(x - _DOT, top + 3, 2 * _DOT, row - 6))
        placed: list[tuple[str, Box]] = []
        for index, group in enumerate(groups):
            words = ", ".join(word for _, word in group)
            width = width_of(words) + 2
            right, left = group[-1][0] + 5, group[0][0] - 5 - width
            box = placer.place([Box(right, top, width, row), Box(left, top, width, row)])
            if box is None:
                lacking = index
                break
            placed.append((words, box))
        else:
            return placed
        if len(groups) == 1:
            return []
        other = _nearer(groups, lacking)
        first = min(lacking, other)
        groups[first : first + 2] = [groups[first] + groups[first + 1]]
    return []


def _nearer(groups: Sequence[Sequence[tuple[float, str]]], index: int) -> int:
    """Return the neighbour of a group that stands nearer."""
    if index == 0:
        return 1
    if index == len(groups) - 1:
        return index - 1
    before = groups[index][0][0] - groups[index - 1][-1][0]
    after = groups[index + 1][0][0] - groups[index][-1][0]
    return index - 1 if before <= after else index + 1
