"""From what is said to where it stands: blocks become pages of shapes. No Qt.

Blocks are cut into pieces that do not break (a line of text, a table row, a chart); pieces flow down the
pages. A table's titles come again on each page, and a heading never stays behind alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from debrief.report import shapes as s
from debrief.report.blocks import Block, LaneChart, ReportContent, Section, SideBySide, Still
from debrief.report.pdf.columns import Piece, kept_height
from debrief.report.pdf.pieces import Maker

MARGIN_X, MARGIN_TOP, MARGIN_BOTTOM = 16.0, 12.0, 10.0
_HEAD, _FOOT = 9.0, 11.0
_BETWEEN = 3.0
"""Above a section that goes on the same page, [mm]."""
_EMPTY = 0.16
_SHARES = tuple(round(1.5 - 0.1 * step, 1) for step in range(11))
"""How high the charts of a single page may be, as shares of what they ask for: the highest that fits."""
_SHORT, _GIVEN_WAY = 0.45, (0.9, 0.8)
"""Where a part of the report ends on a page that is not fuller, its charts may be lower if that saves the page."""
_LEAST_CHART = 56.0
"""Lower, the words in a chart would lie on its lines, [mm]."""
_LEAD, _TALL = 12, 40.0
"""A chart among so many first pieces of a section, and so high, [mm], stands with the section's title."""


@dataclass(frozen=True)
class Bookmark:
    """A section's title with the number of its page, from 0, and its height on it, [mm]."""

    title: str
    page: int


@dataclass
class Page:
    """One page's shapes in reading order."""

    shapes: list[s.Shape] = field(default_factory=list)


@dataclass(frozen=True)
class Pages:
    """The laid-out report, [mm]."""

    width: float
    height: float
    pages: tuple[tuple[s.Shape, ...], ...]
    bookmarks: tuple[Bookmark, ...]


def lay_out(content: ReportContent, width: float, height: float, measurer: s.Measurer) -> Pages:
    """Return the pages of a report.

    Parameters
    ----------
    content : ReportContent
        What it says.
    width, height : float
        Of the paper, [mm].
    measurer : Measurer
        Knows the fonts.
    """
    maker = Maker(width - 2 * MARGIN_X, measurer)
    pages, least = _laid(content, width, height, maker)
    if content.one_page:
        for share in _SHARES:
            pages, _ = _laid(_with_charts(content, share), width, height, maker)
            if len(pages.pages) == 1:
                break
    elif least < _SHORT:
        for share in _GIVEN_WAY:
            fewer, _ = _laid(_with_charts(content, share), width, height, maker)
            if len(fewer.pages) < len(pages.pages):
                return fewer
    return pages


def _with_charts(content: ReportContent, share: float) -> ReportContent:
    """Return it with charts of another height."""

    def scaled(block: Block) -> Block:
        match block:
            case LaneChart() | Still():
                return replace(
                    block, height_mm=max(block.height_mm * share, min(block.height_mm, _LEAST_CHART))
                )
            case SideBySide(left, right):
                return SideBySide(tuple(map(scaled, left)), tuple(map(scaled, right)))
        return block

    sections = (replace(one, blocks=tuple(map(scaled, one.blocks))) for one in content.sections)
    return replace(content, sections=tuple(sections))


def _laid(content: ReportContent, width: float, height: float, maker: Maker) -> tuple[Pages, float]:
    """Return the pages, and how full the emptiest is that ends a part of the report, as a share."""
    top, bottom = MARGIN_TOP + _HEAD, height - MARGIN_BOTTOM - _FOOT
    pages: list[Page] = []
    bookmarks: list[Bookmark] = []
    y = bottom
    least = 1.0
    for section in content.sections:
        pieces = maker.section(section)
        if section.new_page:
            least = min(least, (y - top) / (bottom - top))
        if not pages or _turns(section, pieces, y - top, bottom - y - _BETWEEN):
            pages.append(Page())
            y = top
        else:
            y += _BETWEEN
        bookmarks.append(Bookmark(maker.clean(section.title), len(pages) - 1))
        for index, piece in enumerate(pieces):
            if y > top and y + kept_height(pieces, index) > bottom:
                pages.append(Page())
                y = top
                if piece.repeat is not None:
                    pages[-1].shapes += s.moved(piece.repeat.shapes, MARGIN_X, y)
                    y += piece.repeat.height
            left = piece.columns
            while left is not None and y + left.height > bottom and left.pieces:
                shapes, count = left.placed(bottom - y)
                pages[-1].shapes += s.moved(shapes, MARGIN_X, y)
                left = left.after(count)
                if left.pieces:
                    pages.append(Page())
                    y = top
                else:
                    y = bottom
            if left is not None:
                piece = left.piece()
                piece.shapes, _ = left.placed(piece.height)
            pages[-1].shapes += s.moved(piece.shapes, MARGIN_X, y)
            y += piece.height
    framed = [
        (*_frame(content, number, len(pages), width, height, maker), *page.shapes)
        for number, page in enumerate(pages, start=1)
    ]
    least = min(least, (y - top) / (bottom - top))
    return Pages(width, height, tuple(framed), tuple(bookmarks)), least


def _turns(section: Section, pieces: Sequence[Piece], used: float, left: float) -> bool:
    """Whether a section begins on a new page.

    Notes
    -----
    A section goes on where the page before has room: nobody files a page with three lines on it. Its first chart must
    fit below its title.
    """
    room = used + left
    if section.new_page:
        return True
    if sum(piece.height for piece in pieces) <= left:
        return False
    if section.whole and used > _EMPTY * room:
        return True
    return _lead_height(pieces) > left


def _lead_height(pieces: Sequence[Piece]) -> float:
    """Return the height of a section's title and what must stand below it, its first chart included."""
    chart = next((index for index, piece in enumerate(pieces[:_LEAD]) if piece.least > _TALL), 0)
    before = sum(piece.height for piece in pieces[:chart])
    return before + kept_height(pieces, chart)


def _frame(
    content: ReportContent, number: int, count: int, width: float, height: float, maker: Maker
) -> list[s.Shape]:
    """Return the running head and foot of one page."""
    right = width - MARGIN_X
    y = MARGIN_TOP + 3.0
    warning_width = maker.width(content.warning, s.SMALL_BOLD) if content.warning else 0.0
    hash_width = maker.width(content.head_right, s.SMALL)
    room = right - MARGIN_X - warning_width - hash_width - 12.0
    out: list[s.Shape] = [
        s.Text(MARGIN_X, y, maker.shortened(content.head_left, s.SMALL_BOLD, room), s.SMALL_BOLD),
        s.Text(right, y, content.head_right, s.SMALL, s.MUTED, "right"),
    ]
    if content.warning:
        out.append(s.Text(right - hash_width - 6.0, y, content.warning, s.SMALL_BOLD, s.CAUTION, "right"))
    out.append(s.Line(MARGIN_X, y + 2.2, right, y + 2.2, s.HAIRLINE, 0.25))
    foot = height - MARGIN_BOTTOM - _FOOT + 4.0
    out.append(s.Line(MARGIN_X, foot, right, foot, s.HAIRLINE, 0.25))
    counter = f"page {number} of {count}"
    counter_width = maker.width(counter, s.SMALL_BOLD)
    lines = maker.wrap(content.caution, s.AXIS, right - MARGIN_X - counter_width - 8.0)
    for index, line in enumerate(lines[:2]):
        out.append(s.Text(MARGIN_X, foot + 3.2 + index * s.AXIS.line_mm, line, s.AXIS, s.MUTED))
    out.append(s.Text(right, foot + 3.2, counter, s.SMALL_BOLD, s.INK, "right"))
    out.append(s.Text(right, foot + 3.2 + s.AXIS.line_mm, content.program, s.AXIS, s.MUTED, "right"))
    return out
