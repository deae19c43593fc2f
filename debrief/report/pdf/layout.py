"""From what is said to where it stands: blocks become pages of shapes. No Qt.

Blocks are cut into pieces that do not break (a line of text, a table row, a chart); pieces flow down the
pages. A table's titles come again on each page, and a heading never stays behind alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from debrief.report import shapes as s
from debrief.report.blocks import ReportContent, Section
from debrief.report.pdf.pieces import Maker, Piece

MARGIN_X, MARGIN_TOP, MARGIN_BOTTOM = 16.0, 12.0, 10.0
_HEAD, _FOOT = 9.0, 11.0
_BETWEEN = 3.0
"""Above a section that goes on the same page, [mm]."""
_NEARLY_EMPTY, _EMPTY = 0.32, 0.16
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
    inner = width - 2 * MARGIN_X
    top, bottom = MARGIN_TOP + _HEAD, height - MARGIN_BOTTOM - _FOOT
    maker = Maker(inner, measurer)
    pages: list[Page] = []
    bookmarks: list[Bookmark] = []
    y = bottom
    for section in content.sections:
        pieces = maker.section(section)
        if not pages or _turns(section, pieces, y - top, bottom - y - _BETWEEN):
            pages.append(Page())
            y = top
        else:
            y += _BETWEEN
        bookmarks.append(Bookmark(maker.clean(section.title), len(pages) - 1))
        for index, piece in enumerate(pieces):
            if y > top and y + _kept_height(pieces, index) > bottom:
                pages.append(Page())
                y = top
                if piece.repeat is not None:
                    pages[-1].shapes += s.moved(piece.repeat.shapes, MARGIN_X, y)
                    y += piece.repeat.height
            pages[-1].shapes += s.moved(piece.shapes, MARGIN_X, y)
            y += piece.height
    framed = [
        (*_frame(content, number, len(pages), width, height, maker), *page.shapes)
        for number, page in enumerate(pages, start=1)
    ]
    return Pages(width, height, tuple(framed), tuple(bookmarks))


def _turns(section: Section, pieces: Sequence[Piece], used: float, left: float) -> bool:
    """Whether a section begins on a new page.

    Notes
    -----
    A section that wants a page of its own goes on where the page is nearly empty, or where all of it fits:
    nobody files a page with three lines on it. Its first chart must fit below its title.
    """
    fits = sum(piece.height for piece in pieces) <= left
    if fits:
        return False
    room = used + left
    if (section.whole and used > _EMPTY * room) or (section.new_page and used > _NEARLY_EMPTY * room):
        return True
    return _lead_height(pieces) > left


def _lead_height(pieces: Sequence[Piece]) -> float:
    """Return the height of a section's title and what must stand below it, its first chart included."""
    chart = next((index for index, piece in enumerate(pieces[:_LEAD]) if piece.height > _TALL), 0)
    before = sum(piece.height for piece in pieces[:chart])
    return before + _kept_height(pieces, chart)


def _kept_height(pieces: Sequence[Piece], index: int) -> float:
    """Return the height of a piece and of those that must stand on the same page after it."""
    height = pieces[index].height if index < len(pieces) else 0.0
    while index < len(pieces) and pieces[index].keep_with_next and index + 1 < len(pieces):
        index += 1
        height += pieces[index].height
    return height


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
