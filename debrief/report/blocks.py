"""What a report says, as values: sections of headings, paragraphs, tables and charts. No Qt, no places."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from debrief.report.shapes import MarkKind
from debrief.session.charts.still_chart import StillChart
from debrief.session.drawing.envelope import Drawn
from debrief.session.lanes.hand_strips import Strip
from debrief.session.lanes.lane_events import RibbonPart, Span
from debrief.session.lanes.lane_plan import Unjudged

Weight = Literal["limit", "possible", "caution", "note"]
Tone = Literal["body", "muted", "small", "tiny", "fine", "bold"]


@dataclass(frozen=True)
class Heading:
    """A heading inside a section."""

    text: str


@dataclass(frozen=True)
class Paragraph:
    """Running text."""

    text: str
    tone: Tone = "body"


@dataclass(frozen=True)
class Notice:
    """A sentence in a tinted box with a sign, such as the verdict."""

    text: str
    weight: Weight | None
    lines: tuple[str, ...] = ()
    """Further sentences below, in plain type."""


@dataclass(frozen=True)
class Pairs:
    """Labels with values."""

    rows: tuple[tuple[str, str], ...]
    label_mm: float = 38.0
    dense: bool = False
    """Small, for what is looked up."""


@dataclass(frozen=True)
class Column:
    """A table's column: title, share of the width, alignment."""

    title: str
    share: float
    right: bool = False


@dataclass(frozen=True)
class Row:
    """A table's row: cells, a sign before it, and a line of explanation below it."""

    cells: tuple[str, ...]
    mark: Weight | None = None
    detail: str = ""


@dataclass(frozen=True)
class Table:
    """Rows under titles; the titles are repeated on each page it runs over."""

    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    marked: bool = False
    """Whether the rows have room for a sign."""
    dense: bool = False
    """Small, no line between rows: for what is looked up."""
    fine: bool = False
    """Smaller still: for what is only kept."""
    whole: bool = False
    """Whether it goes to the next page rather than break, where a page can hold it."""
    sets: int = 1
    """How many rows stand side by side: in order line by line, so that it can run over a page."""


@dataclass(frozen=True)
class Blanks:
    """Fields to fill in by hand; a field that is known is printed."""

    rows: tuple[tuple[str, str | None], ...]
    columns: int = 4
    kept: bool = False
    """Whether it stands on one page with what follows it."""


# --- charts -------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class LevelLine:
    """A level drawn across a lane between two times, named at the right edge."""

    level: float
    label: str
    begin_s: float
    end_s: float
    severity: Literal["limit", "caution"] = "limit"


@dataclass(frozen=True)
class Dot:
    """A point of a trace that is pointed at."""

    time_s: float
    value: float
    kind: MarkKind = "dot"


@dataclass(frozen=True, eq=False)
class Lane:
    """One quantity over the common time axis; `title` is its name with its unit."""

    name: str
    title: str
    colour: str
    trace: Drawn
    low: float
    high: float
    share: float = 1.0
    levels: tuple[LevelLine, ...] = ()
    spans: tuple[Span, ...] = ()
    """Stretches of findings that tint it."""
    named: tuple[Span, ...] = ()
    """Findings that it names, the gravest first."""
    dots: tuple[Dot, ...] = ()
    unjudged: tuple[Unjudged, ...] = ()
    """Stretches in which its level does not count: shaded."""
    empty: str = ""
    """What is said in place of the trace where nothing was recorded."""


@dataclass(frozen=True)
class TimeMark:
    """A moment drawn through all lanes, named above them."""

    time_s: float
    label: str
    weight: Weight | None = None


@dataclass(frozen=True, eq=False)
class LaneChart:
    """Lanes over one time axis."""

    begin_s: float
    end_s: float
    lanes: tuple[Lane, ...]
    height_mm: float
    strips: tuple[Strip, ...] = ()
    """Switches and levers below the lanes."""
    marks: tuple[TimeMark, ...] = ()
    signs: tuple[tuple[float, Weight], ...] = ()
    """Signs in a strip above the lanes, by time."""
    ribbon: tuple[RibbonPart, ...] = ()


@dataclass(frozen=True, eq=False)
class Still:
    """A chart that stands still, as the window shows it too."""

    chart: StillChart
    height_mm: float = 52.0


@dataclass(frozen=True)
class Columns:
    """Blocks that are read down one narrow column after the other, over as many pages as they need."""

    blocks: tuple[Block, ...]
    count: int = 2


@dataclass(frozen=True)
class SideBySide:
    """Two columns of blocks."""

    left: tuple[Block, ...]
    right: tuple[Block, ...]


Block = Heading | Paragraph | Notice | Pairs | Table | Blanks | LaneChart | Still | Columns | SideBySide


@dataclass(frozen=True)
class Section:
    """A part of the report with its bookmark.

    Attributes
    ----------
    new_page : bool
        It begins on a new page.
    whole : bool
        It goes to the next page rather than break, unless the page is nearly empty.
    """

    title: str
    blocks: tuple[Block, ...]
    new_page: bool = False
    subtitle: str = ""
    whole: bool = False


@dataclass(frozen=True)
class ReportContent:
    """Everything that the paper says, in reading order.

    Attributes
    ----------
    title : str
        Of the document.
    head_left, head_right : str
        The running head: whose recording, and its hash.
    warning : str
        Said beside the running head on every page, such as that limits are not from approved data.
    caution : str
        At the foot of every page.
    one_page : bool
        It is to stand on one page: its charts take what the words leave them.
    """

    title: str
    sections: tuple[Section, ...]
    head_left: str
    head_right: str
    warning: str
    caution: str
    program: str
    one_page: bool = False
