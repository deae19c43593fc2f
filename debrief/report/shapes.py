"""What a page is made of: shapes in millimetres from the paper's upper left corner. No Qt.

The layout makes them, a painter draws them, tests check that no two texts touch.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal, Protocol

import numpy as np

from debrief.recording.model import FloatArray
from debrief.words.colours import ON_PAPER

# Colours for paper, all opaque, since PDF/A-1 knows no transparency.
PAPER = ON_PAPER.ground
INK = ON_PAPER.ink
MUTED = ON_PAPER.muted
HAIRLINE = ON_PAPER.hairline
GRID = ON_PAPER.grid
PANEL = ON_PAPER.panel
LIMIT = ON_PAPER.limit
CAUTION = ON_PAPER.caution
TINT_NOTE = ON_PAPER.selection
TEMPERATURE = ON_PAPER.temperature

Face = Literal["regular", "bold"]
Align = Literal["left", "right", "center"]
MarkKind = Literal["diamond", "hollow_diamond", "triangle", "circle", "dot"]

MM_PER_PT = 25.4 / 72.0


@dataclass(frozen=True)
class Style:
    """A face and a size, [pt]; `spacing` is the distance of base lines in sizes."""

    size_pt: float
    face: Face = "regular"
    spacing: float = 1.32

    @property
    def line_mm(self) -> float:
        """Distance between base lines, [mm]."""
        return self.size_pt * MM_PER_PT * self.spacing

    @property
    def ascent_mm(self) -> float:
        """From the top of a line to its base line, [mm]."""
        return self.size_pt * MM_PER_PT * 1.0


TITLE = Style(17.0, "bold")
HEAD_1 = Style(12.5, "bold")
HEAD_2 = Style(9.6, "bold")
VERDICT = Style(10.8, "bold")
BODY = Style(8.6)
BODY_BOLD = Style(8.6, "bold")
SMALL = Style(7.4)
SMALL_BOLD = Style(7.4, "bold")
TINY = Style(6.8, spacing=1.26)
TINY_BOLD = Style(6.8, "bold", 1.26)
FINE = Style(6.2, spacing=1.2)
AXIS = Style(6.6)
LABEL = Style(6.8, "bold")


class Measurer(Protocol):
    """What the layout asks of the fonts."""

    def width_mm(self, text: str, style: Style) -> float:
        """Return the advance width of a text, [mm]."""

    def printable(self, text: str) -> str:
        """Return the text with every character that no bundled font has as ``U+XXXX``."""


@dataclass(frozen=True)
class Text:
    """A text whose base line is at `y`; `x` is its left end, right end or middle by `align`."""

    x: float
    y: float
    text: str
    style: Style
    colour: str = INK
    align: Align = "left"

    def moved(self, dx: float, dy: float) -> Text:
        """Return it elsewhere."""
        # Thousands are moved for a paper: `replace` looks at every field.
        return Text(self.x + dx, self.y + dy, self.text, self.style, self.colour, self.align)


@dataclass(frozen=True)
class Line:
    """A straight line; `dash` is (on, off) in mm or None."""

    x1: float
    y1: float
    x2: float
    y2: float
    colour: str = HAIRLINE
    width: float = 0.2
    dash: tuple[float, float] | None = None

    def moved(self, dx: float, dy: float) -> Line:
        """Return it elsewhere."""
        return Line(
            self.x1 + dx, self.y1 + dy, self.x2 + dx, self.y2 + dy, self.colour, self.width, self.dash
        )


@dataclass(frozen=True)
class Box:
    """A rectangle, filled, outlined or both."""

    x: float
    y: float
    width: float
    height: float
    fill: str | None = None
    stroke: str | None = None
    stroke_width: float = 0.2

    def moved(self, dx: float, dy: float) -> Box:
        """Return it elsewhere."""
        return replace(self, x=self.x + dx, y=self.y + dy)


@dataclass(frozen=True, eq=False)
class Curve:
    """A line through points (n, 2); `closed` makes a filled area of it."""

    points: FloatArray
    colour: str = INK
    width: float = 0.3
    fill: str | None = None
    dash: tuple[float, float] | None = None

    def moved(self, dx: float, dy: float) -> Curve:
        """Return it elsewhere."""
        return replace(self, points=self.points + np.array([dx, dy]))


@dataclass(frozen=True)
class Mark:
    """A sign around a point: its shape carries the meaning, the colour only repeats it."""

    x: float
    y: float
    kind: MarkKind
    colour: str = INK
    size: float = 2.4

    def moved(self, dx: float, dy: float) -> Mark:
        """Return it elsewhere."""
        return replace(self, x=self.x + dx, y=self.y + dy)


Shape = Text | Line | Box | Curve | Mark


def moved(shapes: Iterable[Shape], dx: float, dy: float) -> list[Shape]:
    """Return the shapes elsewhere."""
    return [shape.moved(dx, dy) for shape in shapes]
