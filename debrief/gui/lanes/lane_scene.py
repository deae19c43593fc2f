"""Where everything of the lanes lies now: what the layers share. Filled by the view alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from PySide6.QtCore import QRectF

from debrief.gui.lanes.lane import Lane
from debrief.gui.style.theme import Theme
from debrief.session.drawing.axes import share_of
from debrief.session.lanes.hand_strips import Strip
from debrief.session.lanes.lane_events import Mark, RibbonPart, Span
from debrief.session.lanes.value_layout import Word
from debrief.session.limits.instrument_readings import Discrete
from debrief.words.clock import ELAPSED, Clock

SpanInView = tuple[Span, float, float]

LANE_GAP = 8
AXIS_WIDTH = 46
"""Of the axis of a further channel, at the right, [px at usual text size]."""


@dataclass
class Scene:
    """What the layers draw now; owned and filled by the view."""

    lanes: list[Lane] = field(default_factory=list)
    spans: Sequence[Span] = ()
    marks: Sequence[Mark] = ()
    ribbon: Sequence[RibbonPart] = ()
    labelled: Sequence[Span] = ()
    """Those of the stretches that carry the words of their finding."""
    begin_s: float = 0.0
    end_s: float = 1.0
    plot_left: float = 0.0
    plot_right: float = 1.0
    ribbon_top: float = 0.0
    ribbon_height: float = 0.0
    axis_top: float = 0.0
    size: QRectF = field(default_factory=QRectF)
    measuring: bool = False
    clock: Clock = ELAPSED
    shows_bands: bool = True
    strips: Sequence[Strip] = ()
    """Switches and levers."""
    shows_strips: bool = True
    strip_rows: list[tuple[Strip, QRectF]] = field(default_factory=list)
    """Those strips that have a place now, and where."""
    switches_at: Callable[[float], Sequence[Discrete]] | None = None
    """Return every switch at a time."""
    others_row: QRectF | None = None
    """Where the switches that have no strip are written in a line; None where not all strips have room."""
    presenting: bool = False
    """Whether a projector shows the lanes: fewer, larger, without the strips."""
    kept_free: tuple[str, float] | None = None
    """A channel in whose lane nothing is written at the right end, and how wide that is, [px]: a grip lies there."""
    chosen: str | None = None
    """The lane that the keyboard has chosen."""
    words: list[list[Word]] = field(default_factory=list)
    """Of each lane what is written in it now: the values at the playhead keep off it or hide it."""
    ribbon_words: list[QRectF] = field(default_factory=list)
    """Where the names of the phases are written, [px]."""
    named: list[tuple[str, str]] = field(default_factory=list)
    """Channel and words of each limit level that is named now."""
    handles: dict[str, QRectF] = field(default_factory=dict)
    """Of each lane what it is taken by to be moved: its title."""

    def x_of(self, time_s: float) -> float:
        """Return the pixel of a time."""
        return self.plot_left + share_of(time_s, self.begin_s, self.end_s) * (
            self.plot_right - self.plot_left
        )

    def written_to(self, lane: Lane) -> float:
        """Return how far to the right words may stand in a lane, [px]."""
        free = self.kept_free
        return lane.rect.right() - (free[1] if free is not None and free[0] in lane.names else 0.0)

    def time_of(self, x: float) -> float:
        """Return the time at a pixel, [s]."""
        share = (x - self.plot_left) / max(self.plot_right - self.plot_left, 1.0)
        return self.begin_s + share * (self.end_s - self.begin_s)

    def clipped(self, begin_s: float, end_s: float) -> tuple[float, float] | None:
        """Return the visible part of a stretch of time in pixels, or None."""
        if end_s < self.begin_s or begin_s > self.end_s:
            return None
        return self.x_of(max(begin_s, self.begin_s)), self.x_of(min(end_s, self.end_s))

    def visible_spans(self) -> list[SpanInView]:
        """Return the stretches of findings in view with left edge and width, [px]; at least a line wide.

        A limit that is crossed again and again gives hundreds of stretches: what no pixel lies between is one.
        """
        shown: list[SpanInView] = []
        latest: dict[tuple[str, bool, str | None], int] = {}
        scale = (self.plot_right - self.plot_left) / (self.end_s - self.begin_s)
        for span in self.spans:
            if span.end_s < self.begin_s or span.begin_s > self.end_s or span.end_s <= span.begin_s:
                continue
            left = self.plot_left + (max(span.begin_s, self.begin_s) - self.begin_s) * scale
            right = self.plot_left + (min(span.end_s, self.end_s) - self.begin_s) * scale
            key = (span.severity, span.across, span.channel)
            before = latest.get(key)
            if before is not None:
                _, first, width = shown[before]
                if left <= first + width + 0.5:
                    shown[before] = (span, first, max(right - first, width))
                    continue
            latest[key] = len(shown)
            shown.append((span, left, max(right - left, 1.5)))
        return shown


def measure_box(theme: Theme, lane: Lane, row: int) -> QRectF:
    """Return where a channel's measures are written: beside the lane's title, or below it in a shared lane."""
    rect, height = lane.rect, theme.px(19)
    left = rect.left() + (10 if lane.shared else theme.px(170))
    top = rect.top() + 4 + height * (row + lane.shared)
    return QRectF(left, top, max(rect.right() - left - 6, 10), height)
