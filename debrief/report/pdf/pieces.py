"""From blocks to pieces that do not break: a line of text, a table row, a chart. No Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from debrief.report import shapes as s
from debrief.report.blocks import (
    Blanks,
    Block,
    Columns,
    Heading,
    LaneChart,
    Notice,
    Pairs,
    Paragraph,
    Section,
    SideBySide,
    Still,
    Table,
)
from debrief.report.charts.lane_charts import WEIGHT_COLOUR, WEIGHT_TINT, lane_chart, mark_shape
from debrief.report.charts.still_charts import still_chart
from debrief.report.content.phrases import words_of
from debrief.report.pdf.columns import GAP, ColumnSet, Piece

LONGEST_CELL = 600
LONGEST_TEXT = 6000
"""Longer texts are cut, which is said: a sentence of the result never is that long."""

_LARGEST_WHOLE = 150.0
_BELOW_CHART = 2.0
_LONE = 3
"""So many lines may stand alone at the head of a page or a column."""


class Maker:
    """Makes pieces of blocks for one width.

    Attributes
    ----------
    draws : bool
        Whether charts are drawn; else they only take their room.
    """

    def __init__(self, width: float, measurer: s.Measurer) -> None:
        self._width = width
        self._measurer = measurer
        self.draws = True
        self._widths: dict[tuple[str, s.Style], float] = {}
        self._made: dict[tuple[int, float], tuple[Block, list[Piece]]] = {}

    # --- text ---

    def clean(self, text: str, longest: int = LONGEST_TEXT) -> str:
        """Return a text that the fonts can show, on one line, and not longer than anyone reads."""
        text = " ".join(text.split())
        if len(text) > longest:
            text = f"{text[:longest]}… ({len(text) - longest} more characters)"
        return self._measurer.printable(text)

    def width(self, text: str, style: s.Style) -> float:
        """Return the width of a text, [mm]."""
        key = (text, style)
        if key not in self._widths:
            self._widths[key] = self._measurer.width_mm(text, style)
        return self._widths[key]

    def wrap(self, text: str, style: s.Style, width: float, longest: int = LONGEST_TEXT) -> list[str]:
        """Return the lines of a text; a word that is too long for a line is broken."""
        text = self.clean(text, longest)
        if self.width(text, style) <= width:  # most cells of a table
            return [text]
        lines: list[str] = []
        line = ""
        for word in words_of(text):
            joined = f"{line} {word}" if line else word
            if self.width(joined, style) <= width:
                line = joined
                continue
            if line:
                lines.append(line)
            line = word
            while self.width(line, style) > width and len(line) > 1:
                cut = self._fitting(line, style, width)
                lines.append(line[:cut])
                line = line[cut:]
        lines.append(line)
        return lines

    def _fitting(self, word: str, style: s.Style, width: float) -> int:
        low, high = 1, len(word)
        while low < high:
            middle = (low + high + 1) // 2
            if self._measurer.width_mm(word[:middle], style) <= width:
                low = middle
            else:
                high = middle - 1
        return low

    def shortened(self, text: str, style: s.Style, width: float) -> str:
        """Return a text that fits on one line, with an ellipsis where it was cut."""
        text = self.clean(text)
        if self.width(text, style) <= width:
            return text
        cut = self._fitting(text, style, max(width - self.width("…", style), 1.0))
        return text[:cut].rstrip() + "…"

    # --- blocks ---

    def section(self, section: Section) -> list[Piece]:
        """Return the pieces of a section with its title."""
        style = s.TITLE if section.subtitle and section.title.isupper() else s.HEAD_1
        pieces = []
        if section.title:
            pieces += self._lines(self.wrap(section.title, style, self._width), style, after=1.2, keep=True)
        if section.subtitle:
            lines = self.wrap(section.subtitle, s.SMALL, self._width)
            pieces += self._lines(lines, s.SMALL, after=1.6, colour=s.MUTED, keep=True)
        return pieces + self._blocks(section.blocks, self._width)

    def _blocks(self, blocks: Sequence[Block], width: float) -> list[Piece]:
        pieces: list[Piece] = []
        for index, block in enumerate(blocks):
            made = self.block(block, width)
            following = blocks[index + 1] if index + 1 < len(blocks) else None
            if isinstance(block, Paragraph) and block.tone == "muted" and isinstance(following, Table):
                for piece in made:  # it introduces the table
                    piece.keep_with_next = True
            if isinstance(block, Paragraph) and isinstance(following, Paragraph):
                after = blocks[index + 2] if index + 2 < len(blocks) else None
                if not isinstance(after, Paragraph) and len(self.block(following, width)) < _LONE:
                    made[-1].keep_with_next = True  # the last lines below a heading do not stand alone
            pieces += made
        return pieces

    def block(self, block: Block, width: float) -> list[Piece]:
        """Return the pieces of one block: the same again where a report is laid out anew with other charts."""
        if isinstance(block, LaneChart | Still | SideBySide):
            return self._make(block, width)
        key = id(block), width
        if key not in self._made:
            self._made[key] = (
                block,
                self._make(block, width),
            )  # the block is kept, so that its id stays its own
        return self._made[key][1]

    def _make(self, block: Block, width: float) -> list[Piece]:
        match block:
            case Heading(text):
                return [
                    Piece(2.2, [], keep_with_next=True),
                    *self._lines(self.wrap(text, s.HEAD_2, width), s.HEAD_2, after=0.8, keep=True),
                ]
            case Paragraph():
                style, colour = {
                    "body": (s.BODY, s.INK),
                    "muted": (s.SMALL, s.MUTED),
                    "small": (s.SMALL, s.INK),
                    "tiny": (s.TINY, s.INK),
                    "fine": (s.FINE, s.MUTED),
                    "bold": (s.BODY_BOLD, s.INK),
                }[block.tone]
                return self._lines(self.wrap(block.text, style, width), style, after=1.2, colour=colour)
            case Notice():
                return [self._notice(block, width)]
            case Pairs():
                return self._pairs(block, width)
            case Table():
                return self._table(block, width)
            case Blanks():
                return self._blanks(block, width)
            case LaneChart() | Still() if not self.draws:
                return [Piece(block.height_mm + _BELOW_CHART, [])]
            case LaneChart():
                return [
                    Piece(
                        block.height_mm + _BELOW_CHART,
                        lane_chart(self.clean_lanes(block), width, self._measurer),
                    )
                ]
            case Still(chart, height):
                shapes = still_chart(chart, width, height, self._measurer, self.shortened, self.wrap)
                return [Piece(height + _BELOW_CHART, shapes)]
            case Columns(blocks, count):
                each = (width - GAP * (count - 1)) / count
                return [ColumnSet(self._blocks(blocks, each), count, each).piece()] if blocks else []
            case SideBySide():
                return [self._side_by_side(block, width)]

    def _lines(
        self,
        lines: Sequence[str],
        style: s.Style,
        *,
        after: float = 0.0,
        colour: str = s.INK,
        keep: bool = False,
    ) -> list[Piece]:
        pieces = [
            Piece(style.line_mm, [s.Text(0.0, style.ascent_mm, line, style, colour)], keep_with_next=keep)
            for line in lines
        ]
        pieces[-1].height += after
        # The first two and the last two lines of a paragraph stay together.
        if len(pieces) > 1:
            pieces[0].keep_with_next = pieces[-2].keep_with_next = True
        return pieces

    def _notice(self, notice: Notice, width: float) -> Piece:
        left = 9.0 if notice.weight else 3.5
        inner = width - left - 3.5
        colour = WEIGHT_COLOUR[notice.weight] if notice.weight else s.INK
        tint = WEIGHT_TINT[notice.weight] if notice.weight else s.PANEL
        shapes: list[s.Shape] = []
        y = 2.4
        for line in self.wrap(notice.text, s.VERDICT, inner):
            shapes.append(s.Text(left, y + s.VERDICT.ascent_mm, line, s.VERDICT, s.INK))
            y += s.VERDICT.line_mm
        for text in notice.lines:
            y += 0.6
            for line in self.wrap(text, s.BODY, inner):
                shapes.append(s.Text(left, y + s.BODY.ascent_mm, line, s.BODY, s.INK))
                y += s.BODY.line_mm
        height = y + 1.8
        box: list[s.Shape] = [
            s.Box(0.0, 0.0, width, height, fill=tint),
            s.Box(0.0, 0.0, 1.0, height, fill=colour),
        ]
        if notice.weight:
            box.append(mark_shape(notice.weight, 5.0, 2.4 + s.VERDICT.ascent_mm - 1.3, 3.0))
        return Piece(height + 2.4, box + shapes)

    def _pairs(self, pairs: Pairs, width: float) -> list[Piece]:
        pieces = []
        style = s.SMALL if pairs.dense else s.BODY
        for label, value in pairs.rows:
            labels = self.wrap(label, style, pairs.label_mm - 2.0)
            values = self.wrap(value, style, width - pairs.label_mm, LONGEST_CELL)
            for index in range(max(len(labels), len(values))):
                shapes: list[s.Shape] = []
                if index < len(labels):
                    shapes.append(s.Text(0.0, style.ascent_mm, labels[index], style, s.MUTED))
                if index < len(values):
                    shapes.append(s.Text(pairs.label_mm, style.ascent_mm, values[index], style))
                pieces.append(Piece(style.line_mm, shapes))
            pieces[-1].height += 0.5
        if pieces:
            pieces[-1].height += 1.2
        return pieces

    def _table(self, table: Table, width: float) -> list[Piece]:
        style = s.FINE if table.fine else s.TINY if table.dense else s.SMALL
        bold = s.TINY_BOLD if table.dense else s.SMALL_BOLD
        left = 5.0 if table.marked else 0.0
        if table.sets > 1:
            return self._side_rows(table, width, style, bold)
        widths = _widths(table, width - left)
        head = self._row([c.title for c in table.columns], table, widths, left, bold, s.MUTED)
        head.shapes.append(s.Line(0.0, head.height - 0.2, width, head.height - 0.2, s.MUTED, 0.25))
        head.height += 0.8
        head.keep_with_next = True
        pieces = [head]
        for row in table.rows:
            piece = self._row(row.cells, table, widths, left, style, s.INK)
            if row.mark is not None:
                piece.shapes.insert(0, mark_shape(row.mark, 1.8, style.ascent_mm - 0.9, 2.4))
            piece.repeat = head
            pieces.append(piece)
            if row.detail:
                fine = s.FINE if table.dense else s.SMALL
                lines = self.wrap(row.detail, fine, width - left)
                piece.keep_with_next = True
                below = [
                    Piece(
                        fine.line_mm,
                        [s.Text(left, fine.ascent_mm, line, fine, s.MUTED)],
                        keep_with_next=True,
                        repeat=head,
                    )
                    for line in lines
                ]
                below[-1].keep_with_next = False
                pieces += below
            if table.dense:
                pieces[-1].height += 0.5 if row.detail else 0.0
                continue
            last = pieces[-1]
            last.shapes.append(s.Line(0.0, last.height + 0.5, width, last.height + 0.5, s.GRID, 0.15))
            last.height += 1.0
        _keep_edges(pieces)
        pieces[-1].height += 1.6
        _keep_whole(table, pieces)
        return pieces

    def _side_rows(self, table: Table, width: float, style: s.Style, bold: s.Style) -> list[Piece]:
        """Return the pieces of a table whose rows stand side by side, line by line."""
        each = (width - GAP * (table.sets - 1)) / table.sets
        widths = _widths(table, each)
        lefts = [index * (each + GAP) for index in range(table.sets)]

        def joined(parts: Sequence[Piece]) -> Piece:
            return Piece(
                max(part.height for part in parts), [shape for part in parts for shape in part.shapes]
            )

        titles = [column.title for column in table.columns]
        head = joined([self._row(titles, table, widths, left, bold, s.MUTED) for left in lefts])
        for left in lefts:
            y = head.height - 0.2
            head.shapes.append(s.Line(left, y, left + each, y, s.MUTED, 0.25))
        head.height += 0.8
        head.keep_with_next = True
        pieces = [head]
        for first in range(0, len(table.rows), table.sets):
            rows = table.rows[first : first + table.sets]
            cells = [
                self._row(row.cells, table, widths, left, style, s.INK)
                for row, left in zip(rows, lefts, strict=False)
            ]
            pieces.append(joined(cells))
            pieces[-1].repeat = head
            if not table.dense:
                y = pieces[-1].height + 0.5
                ends = lefts[: len(rows)]
                pieces[-1].shapes += [s.Line(left, y, left + each, y, s.GRID, 0.15) for left in ends]
                pieces[-1].height += 1.0
        _keep_edges(pieces)
        pieces[-1].height += 1.6
        _keep_whole(table, pieces)
        return pieces

    def _row(
        self,
        cells: Sequence[str],
        table: Table,
        widths: Sequence[float],
        left: float,
        style: s.Style,
        colour: str,
    ) -> Piece:
        shapes: list[s.Shape] = []
        x, most = left, 1
        for cell, column, width in zip(cells, table.columns, widths, strict=True):
            lines = self.wrap(cell, style, width - 2.0, LONGEST_CELL)
            most = max(most, len(lines))
            for index, line in enumerate(lines):
                y = style.ascent_mm + index * style.line_mm
                at = x + width - 2.0 if column.right else x
                shapes.append(s.Text(at, y, line, style, colour, "right" if column.right else "left"))
            x += width
        return Piece(most * style.line_mm, shapes)

    def _blanks(self, blanks: Blanks, width: float) -> list[Piece]:
        pieces = []
        each = (width - GAP * (blanks.columns - 1)) / blanks.columns
        height = 9.0
        for first in range(0, len(blanks.rows), blanks.columns):
            shapes: list[s.Shape] = []
            tallest = height
            for index, (label, value) in enumerate(blanks.rows[first : first + blanks.columns]):
                x = index * (each + GAP)
                shapes.append(s.Text(x, 2.6, self.shortened(label, s.AXIS, each), s.AXIS, s.MUTED))
                lines = self.wrap(value, s.BODY, each)[:3] if value else []
                for number, line in enumerate(lines):
                    shapes.append(s.Text(x, 6.6 + number * s.BODY.line_mm, line, s.BODY))
                tallest = max(tallest, height + (len(lines) - 1) * s.BODY.line_mm)
                under = 8.0 + max(len(lines) - 1, 0) * s.BODY.line_mm
                shapes.append(s.Line(x, under, x + each, under, s.MUTED, 0.2))
            pieces.append(Piece(tallest, shapes, keep_with_next=blanks.kept))
        return pieces

    def _side_by_side(self, block: SideBySide, width: float) -> Piece:
        each = (width - GAP) / 2
        shapes: list[s.Shape] = []
        tallest = 0.0
        for blocks, x in ((block.left, 0.0), (block.right, each + GAP)):
            y = 0.0
            for inner in blocks:
                if x and len(blocks) == 1 and isinstance(inner, Still):
                    # A chart beside words is as high as they are.
                    inner = replace(inner, height_mm=max(inner.height_mm, tallest - _BELOW_CHART))
                for piece in self.block(inner, each):
                    shapes += s.moved(piece.shapes, x, y)
                    y += piece.height
            tallest = max(tallest, y)
        return Piece(tallest, shapes)

    def clean_lanes(self, chart: LaneChart) -> LaneChart:
        """Return the chart with texts that the fonts can show and that are short enough."""
        lanes = tuple(
            replace(
                lane,
                title=self.shortened(lane.title, s.LABEL, 90.0),
                levels=tuple(replace(x, label=self.shortened(x.label, s.AXIS, 25.5)) for x in lane.levels),
            )
            for lane in chart.lanes
        )
        marks = tuple(replace(mark, label=self.shortened(mark.label, s.LABEL, 60.0)) for mark in chart.marks)
        return replace(chart, lanes=lanes, marks=marks)


def _widths(table: Table, width: float) -> list[float]:
    """Return the widths of a table's columns, [mm]."""
    shares = sum(column.share for column in table.columns)
    return [width * column.share / shares for column in table.columns]


def _keep_edges(pieces: Sequence[Piece]) -> None:
    """Leave no single line of a table behind at the head or the foot of a page."""
    for index in (1, len(pieces) - 2):
        if 0 < index < len(pieces) - 1:
            pieces[index].keep_with_next = True


def _keep_whole(table: Table, pieces: Sequence[Piece]) -> None:
    """Keep the pieces of a table together that is not to break, where a page can hold it."""
    if table.whole and sum(piece.height for piece in pieces) < _LARGEST_WHOLE:
        for piece in pieces[:-1]:
            piece.keep_with_next = True
