"""Pieces that run down narrow columns, one after the other. No Qt."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property

from debrief.report import shapes as s

GAP = 6.0
"""Between what stands side by side, [mm]."""
_LEAST_MM = 24.0
"""Columns are not begun where less than this is left of a page."""
_HALVINGS = 12


@dataclass
class Piece:
    """Something that does not break: its shapes from (0, 0) and its height."""

    height: float
    shapes: list[s.Shape]
    keep_with_next: bool = False
    repeat: Piece | None = None
    """What comes again above it on a new page or in a new column."""
    columns: ColumnSet | None = None
    """What it is made of where it runs down columns; it has no shapes of its own then."""

    def parts(self, left: float, room: float) -> Iterator[Piece]:
        """Return it in parts where it runs down columns: what fits into what is left of a page, then page by page."""
        if self.columns is None:
            yield self
            return
        rest = self.columns
        while rest.height > left and rest.pieces:
            count = rest.taken(left)
            yield Piece(left, [], columns=rest.first(count))
            rest, left = rest.after(count), room
        if rest.pieces:
            yield rest.piece()

    def drawn(self) -> list[s.Shape]:
        """Return its shapes."""
        return self.shapes if self.columns is None else self.columns.placed(self.height)

    @property
    def least(self) -> float:
        """The room that it needs on the page on which it begins, [mm]."""
        return self.height if self.columns is None else min(self.height, _LEAST_MM)


@dataclass
class ColumnSet:
    """What runs down columns, each so wide, [mm]."""

    pieces: Sequence[Piece]
    count: int
    width: float

    def piece(self) -> Piece:
        """Return it as one piece, as high as it is where it is not broken."""
        return Piece(self.height, [], columns=self)

    @cached_property
    def height(self) -> float:
        """The least height in which all of it fits, [mm]."""
        total = sum(piece.height for piece in self.pieces)
        low, high = total / self.count, total + self._tallest_repeat
        for _ in range(_HALVINGS):
            middle = (low + high) / 2
            places, count = self._places(middle)
            fits = count == len(self.pieces) and all(y + piece.height <= middle for piece, _, y in places)
            low, high = (low, middle) if fits else (middle, high)
        return high

    @property
    def _tallest_repeat(self) -> float:
        return max((piece.repeat.height for piece in self.pieces if piece.repeat is not None), default=0.0)

    def taken(self, height: float) -> int:
        """Return how many pieces fit into so much height."""
        return self._places(height)[1]

    def placed(self, height: float) -> list[s.Shape]:
        """Return the shapes of what fits into so much height."""
        return [shape for piece, x, y in self._places(height)[0] for shape in s.moved(piece.shapes, x, y)]

    def _places(self, height: float) -> tuple[list[tuple[Piece, float, float]], int]:
        out: list[tuple[Piece, float, float]] = []
        index = 0
        for number in range(self.count):
            x, y = number * (self.width + GAP), 0.0
            while index < len(self.pieces):
                piece = self.pieces[index]
                if y and y + self._kept[index] > height + 1e-9:
                    break
                if not y and piece.repeat is not None:
                    out.append((piece.repeat, x, y))
                    y += piece.repeat.height
                out.append((piece, x, y))
                y += piece.height
                index += 1
        return out, index

    @cached_property
    def _kept(self) -> list[float]:
        """Of each piece the height with those that must stand in the same column after it, [mm]."""
        out: list[float] = []
        for piece in reversed(self.pieces):
            out.append(piece.least + (out[-1] if out and piece.keep_with_next else 0.0))
        return out[::-1]

    def first(self, count: int) -> ColumnSet:
        """Return the first pieces."""
        return ColumnSet(self.pieces[:count], self.count, self.width)

    def after(self, index: int) -> ColumnSet:
        """Return what is left behind the first pieces."""
        return ColumnSet(self.pieces[index:], self.count, self.width)


def kept_height(pieces: Sequence[Piece], index: int) -> float:
    """Return the height of a piece and of those that must stand on the same page after it, [mm]."""
    height = pieces[index].least if index < len(pieces) else 0.0
    while index < len(pieces) and pieces[index].keep_with_next and index + 1 < len(pieces):
        index += 1
        height += pieces[index].least
    return height
