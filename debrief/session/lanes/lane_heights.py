"""How high each lane is, and which of them a projector shows. Pure geometry."""

from __future__ import annotations

from collections.abc import Sequence

LEAST = 20.0
"""Of a lane among others, [px]."""

_PRESENTED = {"ng": 150.0}
"""Least heights on a projector: the speed at which fuel came is read from the last row, [px]."""
_PRESENTED_OTHER = 80.0
_FIRST = ("itt", "ng")


def presented_least(name: str) -> float:
    """Return the least height of a channel's lane on a projector, [px]."""
    return _PRESENTED.get(name, _PRESENTED_OTHER)


def shared_heights(weights: Sequence[float], least: Sequence[float], room: float) -> list[float]:
    """Return heights by weight, of which none is below its least; where there is no room for that, the least."""
    fixed: set[int] = set()
    while True:
        free = room - sum(least[index] for index in fixed)
        shares = sum(weight for index, weight in enumerate(weights) if index not in fixed) or 1.0
        heights = [
            least[index] if index in fixed else free * weight / shares for index, weight in enumerate(weights)
        ]
        low = {index for index, height in enumerate(heights) if index not in fixed and height < least[index]}
        if not low:
            return heights
        fixed |= low


def presented(names: Sequence[str], room: float, gap: float) -> tuple[str, ...]:
    """Return which lanes have room on a projector, in their order: temperature and speed, then from the top on."""
    kept: list[str] = []
    for name in sorted(names, key=lambda name: _FIRST.index(name) if name in _FIRST else len(_FIRST)):
        if kept and sum(map(presented_least, (*kept, name))) + gap * len(kept) > room:
            break
        kept.append(name)
    return tuple(name for name in names if name in kept)
