"""Two starts laid over each other: their traces from one common instant on, and what lies between them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Protocol

from debrief.analysis.model import Assessment, Start
from debrief.session.charts.still_chart import (
    Axis,
    Curve,
    Instants,
    Level,
    Pane,
    StillChart,
    Style,
    joined,
    nothing,
)
from debrief.session.comparing.compared_start import ComparedStart, compared_start
from debrief.session.comparing.difference_words import since_words
from debrief.session.comparing.start_curves import INSTANT_WORDS, Instant, StartCurves
from debrief.session.drawing.envelope import Envelope
from debrief.session.drawing.least_span import least_span, widened
from debrief.session.lanes.lane_plan import plan_lane
from debrief.session.lanes.lane_range import worth_showing
from debrief.session.limits.instrument_readings import nice_range
from debrief.session.texts.definitions import measure_title
from debrief.words.channels import CHANNELS, USUAL_NAMES, ChannelNames
from debrief.words.numbers import decimals_for, number, unit_words, value_text

LANES = {"ng": 0.32, "itt": 0.42, "bus_volts": 0.26}
"""What is laid over each other, with the share of the height of each."""
TWO_STARTS = "Two starts laid over each other"


class Quantity(Protocol):
    """A number with its unit."""

    @property
    def value(self) -> float | None:
        """None: not known."""

    @property
    def unit(self) -> str:
        """In which it is shown."""


Measures = Mapping[str, Quantity]
Levels = Mapping[str, tuple[Level, ...]]
_FIRST_MEASURES = ("ng_at_fuel",)
"""What decides how a start goes."""
_COLUMNS = 1500
_MARKS = {
    "starter_on": "starter",
    "fuel_on": "fuel",
    "light_off": "light-off",
    "peak_itt": "peak",
    "fuel_off": "cut",
    "idle": "idle",
}


@dataclass(frozen=True, eq=False)
class OverlayTrace:
    """One channel of one start; `envelope` has the stretch to draw, its times counted from the instant, [s]."""

    envelope: Envelope
    unit: str


@dataclass(frozen=True, eq=False)
class OverlayLane:
    """One quantity of both starts.

    Attributes
    ----------
    name, symbol, unit : str
        Channel, its short name, its unit.
    first, second : OverlayTrace or None
        None where it was not recorded, or is in another unit than the first.
    range : (float, float)
        Round numbers that hold both, [unit].
    problem : str
        Why one of them is not drawn; empty when both are.
    both : ComparedStart
        What is read out.
    levels : tuple of Level
        What applies in the first start, as far as it lies near.
    """

    name: str
    symbol: str
    unit: str
    first: OverlayTrace | None
    second: OverlayTrace | None
    range: tuple[float, float]
    problem: str
    both: ComparedStart
    levels: tuple[Level, ...] = ()

    def reading(self, time_s: float) -> tuple[float | None, float | None, float | None]:
        """Return the first value, the second and their difference, first minus second, [unit]."""
        first, second, between = self.both.reading(self.name, time_s)
        return first if self.first is not None else None, second if self.second is not None else None, between


@dataclass(frozen=True, eq=False)
class Overlay:
    """Two starts over each other.

    Attributes
    ----------
    both : ComparedStart
        The starts, and where they are aligned.
    lanes : tuple of OverlayLane
        Empty with a problem.
    marks : tuple of (tuple of (float, str))
        For each start its named instants, from the common instant on, [s].
    """

    both: ComparedStart
    lanes: tuple[OverlayLane, ...]
    marks: tuple[tuple[tuple[float, str], ...], tuple[tuple[float, str], ...]]

    @property
    def first(self) -> StartCurves:
        """The start whose values come first."""
        return self.both.own

    @property
    def second(self) -> StartCurves:
        """The other."""
        return self.both.other

    @property
    def instant(self) -> Instant:
        """Where both are aligned."""
        return self.both.instant

    @property
    def begin_s(self) -> float:
        """Where the picture begins, from the instant on, [s]."""
        return self.both.begin_s

    @property
    def end_s(self) -> float:
        """Where it ends, [s]."""
        return self.both.end_s

    @property
    def problem(self) -> str:
        """Why they cannot be aligned there; empty where they can."""
        return self.both.problem


def overlay(
    first: StartCurves, second: StartCurves, instant: Instant, levels: Levels = MappingProxyType({})
) -> Overlay:
    """Return two starts over each other, aligned at an instant of both; `levels` as of `start_levels`."""
    both = compared_start(first, second, instant)
    if both.problem:
        return Overlay(both, (), ((), ()))
    marks = _marks(first, both.zero_s), _marks(second, both.other_zero_s)
    return Overlay(both, tuple(_lane(name, both, levels.get(name, ())) for name in LANES), marks)


def start_levels(assessment: Assessment, start: Start) -> Levels:
    """Return of each quantity the limits and rules that apply in a start."""
    out = {}
    for name in LANES:
        lines = plan_lane(assessment, name, start.engine).lines_between(start.begin_s, start.end_s)
        shown = {line.level: line for line in lines if line.when == "start"}
        out[name] = tuple(Level(line.level, line.text_apart, line.severity) for line in shown.values())
    return MappingProxyType(out)


def overlay_chart(shown: Overlay) -> StillChart:
    """Return the chart of two starts: the first solid, the second dashed, their named instants in a row for each."""
    if shown.problem:
        return nothing(TWO_STARTS, shown.problem)
    styles: tuple[Style, Style] = ("solid", "dashed")
    sides = zip((shown.first.name, shown.second.name), styles, shown.marks, strict=True)
    span = shown.end_s - shown.begin_s
    panes = []
    for lane in shown.lanes:
        role = CHANNELS[lane.name].role
        curves = []
        for trace, style in zip((lane.first, lane.second), styles, strict=True):
            if trace is not None:
                drawn = trace.envelope.view(shown.begin_s, shown.end_s, _COLUMNS)
                curves.append(
                    Curve(*joined(drawn, drawn.time_s, span), role if style == "solid" else "ink", style)
                )
        panes.append(
            Pane(
                Axis(lane.symbol, lane.unit, lane.range, 5),
                tuple(curves),
                levels=lane.levels,
                label=f"{lane.symbol} {unit_words(lane.unit)}".strip(),
                role=role,
                share=LANES[lane.name],
                problem=lane.problem,
            )
        )
    x = Axis(f"seconds from {INSTANT_WORDS[shown.instant]}", "s", (shown.begin_s, shown.end_s), 8)
    legend = f"solid: {shown.first.name}; dashed: {shown.second.name}"
    return StillChart(TWO_STARTS, legend, x, tuple(panes), tuple(Instants(*side) for side in sides))


def _marks(side: StartCurves, zero_s: float) -> tuple[tuple[float, str], ...]:
    found = ((side.moments.get(moment), word) for moment, word in _MARKS.items())
    return tuple((at - zero_s, word) for at, word in found if at is not None)


def _lane(name: str, both: ComparedStart, levels: tuple[Level, ...]) -> OverlayLane:
    first, second = _traces(name, both)
    problems = [
        f"{side.name}: not recorded"
        for side, trace in ((both.own, first), (both.other, second))
        if trace is None
    ]
    if first is not None and second is not None and first.unit != second.unit:
        problems.append(f"{both.other.name}: in {unit_words(second.unit)}, not comparable")
        second = None
    shown = [trace for trace in (first, second) if trace is not None]
    unit = shown[0].unit if shown else ""
    lows = [t.envelope.lowest for t in shown if t.envelope.lowest is not None]
    highs = [t.envelope.highest for t in shown if t.envelope.highest is not None]
    edges = (0.0, 1.0)
    near: tuple[Level, ...] = ()
    if lows:
        low, high = min(lows), max(highs)
        near = tuple(one for one in levels if worth_showing(one.value, low, high))
        low, high = min([low, *(one.value for one in near)]), max([high, *(one.value for one in near)])
        edges = nice_range(*widened(low, high, least_span(name, unit)))
    problem = "; ".join(problems)
    return OverlayLane(name, both.own.names.symbol(name), unit, first, second, edges, problem, both, near)


def _traces(name: str, both: ComparedStart) -> tuple[OverlayTrace | None, OverlayTrace | None]:
    out: list[OverlayTrace | None] = []
    for piece, zero in ((both.own_piece(name), both.zero_s), (both.other_piece(name), both.other_zero_s)):
        drawn = None if piece is None else piece.envelope(zero + both.begin_s, zero + both.end_s, -zero)
        out.append(None if piece is None or drawn is None else OverlayTrace(drawn, piece.channel.unit))
    return out[0], out[1]


def moment_words(shown: Overlay, time_s: float) -> str:
    """Return where a time from the instant on is, such as ``4.0 s after fuel on``."""
    return since_words(shown.instant, time_s)


def reading_words(lane: OverlayLane, time_s: float) -> tuple[str, str, str]:
    """Return the first value, the second and their difference at a time, in words."""
    first, second, between = lane.reading(time_s)
    return value_text(first, lane.unit), value_text(second, lane.unit), signed(between, lane.unit)


def signed(difference: float | None, unit: str) -> str:
    """Return a difference with its sign and unit; ``not known`` without one."""
    if difference is None:
        return "not known"
    text = number(difference, decimals_for(unit))
    sign = "+" if float(f"{difference:.{decimals_for(unit)}f}") > 0 else ""
    return f"{sign}{text} {unit_words(unit)}".rstrip()


def difference_rows(
    first: Measures, second: Measures, names: ChannelNames = USUAL_NAMES
) -> tuple[tuple[str, str, str, str], ...]:
    """Return the measures of two starts as (title, first, second, first minus second) in words.

    `names` is what the recording of the first calls its channels.

    Notes
    -----
    A measure that both lack is left out; one in two units has no difference.
    """
    rows = []
    for name in dict.fromkeys((*_FIRST_MEASURES, *first, *second)):
        one, two = first.get(name), second.get(name)
        a, b = (m.value if m is not None else None for m in (one, two))
        if a is None and b is None:
            continue
        unit, other_unit = (m.unit if m is not None else None for m in (one, two))
        same = unit == other_unit and a is not None and b is not None
        rows.append(
            (
                measure_title(name, names),
                value_text(a, unit or ""),
                value_text(b, other_unit or ""),
                signed(a - b, unit or "") if same and a is not None and b is not None else "",
            )
        )
    return tuple(rows)
