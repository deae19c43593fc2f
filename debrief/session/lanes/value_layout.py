"""Where the values at the playhead stand in a lane, and which words give way to them. Pure geometry.

Words stand still while the playhead moves: they are placed once for what is framed. A value stands beside
the playhead at the height of its trace. It never covers a title or what is measured. Any other word that it
would cover is hidden whole, and comes back when the value is well past it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from debrief.session.drawing.placing import Box, spread

ASIDE = 10.0
"""Between the playhead and a value, [px]."""

GAP = 2.0
"""Between two values, [px]."""

_EDGE = 2.0
_TOUCH = 1.0
_CLEAR = 8.0
_APART = 6.0
_LEAP = 40.0


@dataclass(frozen=True)
class Wish:
    """A value to be written: how wide its box is, and the height of its trace, [px]."""

    width: float
    y: float


@dataclass(frozen=True)
class Word:
    """Something that is written in the lane; what is `fixed` never gives way."""

    box: Box
    fixed: bool = False


@dataclass(frozen=True)
class Standing:
    """Where the values of a lane stand.

    Attributes
    ----------
    x : float
        Of the playhead, [px].
    boxes : tuple of Box or None
        Of each value, in the order of the wishes; None: there is no room for it.
    on_left : bool
        Whether they stand left of the playhead.
    hidden : frozenset of int
        Places of the words that give way.
    order : tuple of int
        The values from top to bottom.
    """

    x: float
    boxes: tuple[Box | None, ...]
    on_left: bool
    hidden: frozenset[int]
    order: tuple[int, ...]


def stand(
    lane: Box,
    x: float,
    wishes: Sequence[Wish],
    height: float,
    words: Sequence[Word],
    before: Standing | None = None,
) -> Standing:
    """Return where the values stand and which words give way.

    Parameters
    ----------
    lane : Box
        Nothing is written outside.
    x : float
        Of the playhead, [px].
    wishes : sequence of Wish
        The values, the lane's own channel first: where there is no room for all, the last are left out.
    height : float
        Of a value's box, [px].
    words : sequence of Word
        What is written in the lane.
    before : Standing, optional
        Where they stood a moment ago, among the same words.

    Notes
    -----
    Values stand right of the playhead. They change sides only where the side that they are on has less room,
    or covers more words. Their order changes only when one has passed another clearly,
    and a hidden word comes back only when it is well clear: noise moves nothing to and fro.
    """
    if before is not None and (abs(x - before.x) > _LEAP or len(before.boxes) != len(wishes)):
        before = None
    order = _order(wishes, before.order if before is not None else None)
    column = _Columns(lane, x, wishes, height, words, order)
    every = tuple(range(len(wishes)))
    sides = (column.places(every, False), column.places(every, True))
    on_left = before.on_left if before is not None else False
    mine, other = sides[on_left], sides[not on_left]
    if len(other) > len(mine) or (len(other) == len(mine) and _covered(mine, words) > _covered(other, words)):
        on_left, mine = not on_left, other
    rest = tuple(index for index in every if index not in mine)
    mine = {**mine, **column.places(rest, not on_left)}
    was = before.hidden if before is not None else frozenset()
    hidden = frozenset(
        index
        for index, word in enumerate(words)
        if not word.fixed
        and any(word.box.meets(b, _CLEAR if index in was else _TOUCH) for b in mine.values())
    )
    return Standing(x, tuple(mine.get(index) for index in every), on_left, hidden, order)


@dataclass(frozen=True)
class _Columns:
    """The strips beside the playhead that values stand in."""

    lane: Box
    x: float
    wishes: Sequence[Wish]
    height: float
    words: Sequence[Word]
    order: tuple[int, ...]

    def places(self, indices: Sequence[int], on_left: bool) -> dict[int, Box]:
        """Return the boxes of as many of these values as there is room for on one side, the first first."""
        fitting = [i for i in indices if self._is_inside(i, on_left)]
        if not fitting:
            return {}
        widest = max(self.wishes[i].width for i in fitting)
        strip = self.x - ASIDE - widest if on_left else self.x + ASIDE
        middle = sum(self.wishes[i].y for i in fitting) / len(fitting) - self.height / 2
        top, bottom = self._free(strip, widest, middle, len(fitting))
        each = self.height + GAP
        kept = fitting[: max(int((bottom - top + GAP) / each), 0)]
        ordered = [i for i in self.order if i in kept]
        wanted = [self.wishes[i].y - self.height / 2 - 4 for i in ordered]
        tops = spread(wanted, each, top, bottom + GAP - each, range(len(ordered)))
        return {
            i: Box(
                self.x - ASIDE - self.wishes[i].width if on_left else self.x + ASIDE,
                at,
                self.wishes[i].width,
                self.height,
            )
            for i, at in zip(ordered, tops, strict=True)
        }

    def _is_inside(self, index: int, on_left: bool) -> bool:
        width = self.wishes[index].width
        if on_left:
            return self.x - ASIDE - width >= self.lane.left
        return self.x + ASIDE + width <= self.lane.right - _EDGE

    def _free(self, left: float, width: float, wanted: float, count: int) -> tuple[float, float]:
        """Return the stretch of height that no fixed word takes: that nearest to the traces with room for all."""
        stretches = [(self.lane.top + _EDGE, self.lane.bottom - _EDGE)]
        strip = Box(left, self.lane.top, width, self.lane.height)
        for word in self.words:
            if not (word.fixed and word.box.meets(strip, _TOUCH)):
                continue
            low, high = word.box.top - _TOUCH, word.box.bottom + _TOUCH
            stretches = [
                part
                for top, bottom in stretches
                for part in ((top, min(bottom, low)), (max(top, high), bottom))
                if part[1] > part[0]
            ]
        if not stretches:
            return 0.0, 0.0
        needed = count * (self.height + GAP) - GAP
        roomy = [part for part in stretches if part[1] - part[0] >= needed]
        if roomy:
            return min(roomy, key=lambda part: max(part[0] - wanted, wanted + self.height - part[1], 0.0))
        return max(stretches, key=lambda part: part[1] - part[0])


def _covered(boxes: dict[int, Box], words: Sequence[Word]) -> int:
    """Return how many words these values would hide."""
    return sum(not word.fixed and any(word.box.meets(b, _TOUCH) for b in boxes.values()) for word in words)


def _order(wishes: Sequence[Wish], before: tuple[int, ...] | None) -> tuple[int, ...]:
    """Return the values from top to bottom: two change places when one has passed the other clearly."""
    if before is None:
        return tuple(sorted(range(len(wishes)), key=lambda i: (wishes[i].y, i)))
    order = list(before)
    for end in range(len(order) - 1, 0, -1):
        for k in range(end):
            if wishes[order[k]].y > wishes[order[k + 1]].y + _APART:
                order[k], order[k + 1] = order[k + 1], order[k]
    return tuple(order)
