"""From what is said to where it stands: blocks become pages of shapes. No Qt.

Blocks are cut into pieces that do not break (a line of text, a table row, a chart); pieces flow down the
pages. A table's titles come again on each page, and a heading never stays behind alone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from debrief.report import shapes as s
from debrief.report.blocks import (
    Block,
    LaneChart,
    Paragraph,
    ReportContent,
    Section,
    SideBySide,
    Still,
    Table,
)
from debrief.report.pdf.columns import Piece, kept_height
from debrief.report.pdf.pieces import Maker

MARGIN_X, MARGIN_TOP, MARGIN_BOTTOM = 16.0, 12.0, 10.0
_HEAD, _FOOT = 9.0, 11.0
_ROUNDING = 1e-6
_BETWEEN = 3.0
"""Above a section that goes on the same page, [mm]."""
_EMPTY = 0.16
_SHARES = tuple(round(1.5 - 0.1 * step, 1) for step in range(11))
"""How high the charts of a single page may be, as shares of what they ask for: the highest that fits."""
_SHORT, _GIVEN_WAY = 0.5, (0.9, 0.8, 0.7)
"""Where a part of the report ends on a page that is not fuller, its charts may be lower if that saves the page."""
_LEAST_LANES, _LEAST_STILL = 66.0, 46.0
"""Lower, the words in a chart would lie on its lines, [mm]."""
_LEAD, _TALL = 12, 40.0
"""A chart among so many first pieces of a section, and so high, [mm], stands with the section's title."""


@dataclass(frozen=True)
class Bookmark:
    """A section's title with the number of its page, from 0, and its height on it, [mm]."""

    title: str
    page: int


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
    maker.draws = False  # the charts are drawn once, when their height is known
    share = _share(content, lambda tried: _planned(_with_charts(content, tried), height, maker))
    maker.draws = True
    return _drawn(_planned(_with_charts(content, share), height, maker), content, width, height, maker)


def _share(content: ReportContent, planned: Callable[[float], _Plan]) -> float:
    """Return which share of the height that they ask for the charts get."""
    if content.one_page:
        return next((share for share in _SHARES if len(planned(share).pages) == 1), _SHARES[-1])
    plan = planned(1.0)
    fewer = (share for share in _GIVEN_WAY if len(planned(share).pages) < len(plan.pages))
    return next(fewer, 1.0) if plan.least < _SHORT else 1.0


def _with_charts(content: ReportContent, share: float) -> ReportContent:
    """Return it with charts of another height, at the least share with smaller words and tables; the same where they keep theirs."""
    if share == 1.0:
        return content

    sections = (
        replace(one, blocks=tuple(_scaled(block, share) for block in one.blocks)) for one in content.sections
    )
    return replace(content, sections=tuple(sections))


def _scaled(block: Block, share: float) -> Block:
    # Not within the function above: one that calls itself is a ring that stays until it is collected.
    match block:
        case LaneChart() | Still():
            least = _LEAST_LANES if isinstance(block, LaneChart) else _LEAST_STILL
            return replace(block, height_mm=max(block.height_mm * share, min(block.height_mm, least)))
        case SideBySide(left, right):
            columns = (tuple(_scaled(one, share) for one in column) for column in (left, right))
            return SideBySide(*columns)
        case Paragraph(tone="body") if share == _SHARES[-1]:
            return replace(block, tone="small")
        case Table() if share == _SHARES[-1]:
            return replace(block, dense=True)
    return block


@dataclass
class _Plan:
    """Which pieces stand on which page, each with its upper edge, [mm]; nothing is drawn yet."""

    pages: list[list[tuple[float, Piece]]] = field(default_factory=list)
    bookmarks: list[Bookmark] = field(default_factory=list)
    least: float = 1.0
    """How full the emptiest page is that ends a part of the report, as a share."""


def _planned(content: ReportContent, height: float, maker: Maker) -> _Plan:
    """Return where everything stands on pages so high, [mm]."""
    top, bottom = MARGIN_TOP + _HEAD, height - MARGIN_BOTTOM - _FOOT
    plan = _Plan()
    y = bottom
    for section in content.sections:
        pieces = maker.section(section)
        if section.new_page:
            plan.least = min(plan.least, (y - top) / (bottom - top))
        if not plan.pages or _turns(section, pieces, y - top, bottom - y - _BETWEEN):
            plan.pages.append([])
            y = top
        else:
            y += _BETWEEN
        plan.bookmarks.append(Bookmark(maker.clean(section.title), len(plan.pages) - 1))
        for index, piece in enumerate(pieces):
            if y > top and y + kept_height(pieces, index) > bottom:
                plan.pages.append([])
                y = top
                if piece.repeat is not None:
                    plan.pages[-1].append((y, piece.repeat))
                    y += piece.repeat.height
            for part in piece.parts(bottom - y, bottom - top):
                if part is not piece and y + part.height > bottom + _ROUNDING:
                    plan.pages.append([])
                    y = top
                plan.pages[-1].append((y, part))
                y += part.height
    plan.least = min(plan.least, (y - top) / (bottom - top))
    return plan


def _drawn(plan: _Plan, content: ReportContent, width: float, height: float, maker: Maker) -> Pages:
    """Return the pages with the shapes of what stands on them."""
    count = len(plan.pages)
    pages = []
    for number, placed in enumerate(plan.pages, start=1):
        shapes = _frame(content, number, count, width, height, maker)
        for y, piece in placed:
            shapes += s.moved(piece.drawn(), MARGIN_X, y)
        pages.append(tuple(shapes))
    return Pages(width, height, tuple(pages), tuple(plan.bookmarks))


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
