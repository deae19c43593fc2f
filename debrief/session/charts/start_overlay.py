"""Two starts laid over each other: their traces from one common instant on, and what lies between them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from debrief.analysis.model import Assessment, Start
from debrief.recording.model import Channel
from debrief.session.charts.still_chart import Axis, Curve, Instants, Pane, StillChart, Style, joined, nothing
from debrief.session.drawing.envelope import Envelope, gap_breaks
from debrief.session.drawing.least_span import least_span, widened
from debrief.session.limits.cursor_measure import Breaks, interpolated
from debrief.session.limits.instrument_readings import nice_range
from debrief.session.texts.definitions import measure_title
from debrief.session.texts.story import start_frame
from debrief.words.channels import CHANNELS, channel_symbol
from debrief.words.numbers import decimals_for, number, unit_words, value_text

Instant = Literal["starter_on", "fuel_on", "light_off"]
INSTANTS: tuple[Instant, ...] = ("starter_on", "fuel_on", "light_off")
INSTANT_WORDS: Mapping[Instant, str] = {
    "starter_on": "starter on",
    "fuel_on": "fuel on",
    "light_off": "light-off",
}
LANES = {"ng": 0.32, "itt": 0.42, "bus_volts": 0.26}
"""What is laid over each other, with the share of the height of each."""
TWO_STARTS = "Two starts laid over each other"
_COLUMNS = 1500
_REACH_S, _REACH_SAMPLES = 90.0, 32
"""What lies within this of a stretch can decide whether a silence in it is a gap."""
_MARKS = (
    ("starter_on_s", "starter"),
    ("fuel_on_s", "fuel"),
    ("light_off_s", "light-off"),
    ("peak_itt_s", "peak"),
    ("fuel_off_s", "cut"),
    ("idle_s", "idle"),
)


@dataclass(frozen=True, eq=False)
class Side:
    """One of the two starts.

    Attributes
    ----------
    assessment, start
        Where its numbers come from.
    label : str
        Its name on the screen, such as ``Start 1`` or ``Start 2 of flight.csv``.
    """

    assessment: Assessment
    start: Start
    label: str

    def instant_s(self, instant: Instant) -> float | None:
        """Return when the instant was, [s of its recording]; None where it is not known."""
        time_s: float | None = getattr(self.start, f"{instant}_s")
        return time_s


@dataclass(frozen=True, eq=False)
class OverlayTrace:
    """One channel of one start; `envelope` has the stretch to draw, its times counted from the instant, [s]."""

    channel: Channel
    envelope: Envelope
    zero_s: float
    breaks: Breaks

    def value_at(self, time_s: float) -> float | None:
        """Return the value so long after the instant, [s]; None across a gap and outside the samples."""
        return interpolated(self.channel, self.breaks, time_s + self.zero_s)


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
    """

    name: str
    symbol: str
    unit: str
    first: OverlayTrace | None
    second: OverlayTrace | None
    range: tuple[float, float]
    problem: str

    def reading(self, time_s: float) -> tuple[float | None, float | None, float | None]:
        """Return the first value, the second and their difference, first minus second, [unit]."""
        first = self.first.value_at(time_s) if self.first is not None else None
        second = self.second.value_at(time_s) if self.second is not None else None
        return first, second, None if first is None or second is None else first - second


@dataclass(frozen=True, eq=False)
class Overlay:
    """Two starts over each other.

    Attributes
    ----------
    first, second : Side
    instant : str
        Where both are at 0 s.
    begin_s, end_s : float
        The range to show, from the instant on, [s].
    lanes : tuple of OverlayLane
        Ng, ITT and voltage; empty with a problem.
    marks : pair of tuples of (float, str)
        Named instants of either start, from the instant on, [s].
    problem : str
        Why they cannot be laid over each other; empty when they can.
    """

    first: Side
    second: Side
    instant: Instant
    begin_s: float
    end_s: float
    lanes: tuple[OverlayLane, ...]
    marks: tuple[tuple[tuple[float, str], ...], tuple[tuple[float, str], ...]]
    problem: str = ""


def overlay(first: Side, second: Side, instant: Instant) -> Overlay:
    """Return two starts over each other, aligned at an instant of both."""
    zeros = (first.instant_s(instant), second.instant_s(instant))
    zero, other_zero = zeros
    if zero is None or other_zero is None:
        lacking = [side.label for side, at in zip((first, second), zeros, strict=True) if at is None]
        which = lacking[0] if len(lacking) == 1 else f"Neither {first.label} nor {second.label}"
        verb = "has no" if len(lacking) == 1 else "has a"
        words = f"{which} {verb} {INSTANT_WORDS[instant]}: choose another instant to align at."
        return Overlay(first, second, instant, 0.0, 1.0, (), ((), ()), words)
    frames = [start_frame(side.start) for side in (first, second)]
    begin = min(frames[0][0] - zero, frames[1][0] - other_zero)
    end = max(frames[0][1] - zero, frames[1][1] - other_zero)
    lanes = tuple(_lane(name, (first, zero), (second, other_zero), begin, end) for name in LANES)
    return Overlay(
        first, second, instant, begin, end, lanes, (_marks(first.start, zero), _marks(second.start, other_zero))
    )  # fmt: skip


def overlay_chart(shown: Overlay) -> StillChart:
    """Return the chart of two starts: the first solid, the second dashed, their named instants in a row for each."""
    if shown.problem:
        return nothing(TWO_STARTS, shown.problem)
    styles: tuple[Style, Style] = ("solid", "dashed")
    sides = zip((shown.first.label, shown.second.label), styles, shown.marks, strict=True)
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
                label=f"{lane.symbol} {unit_words(lane.unit)}".strip(),
                role=role,
                share=LANES[lane.name],
                problem=lane.problem,
            )
        )
    x = Axis(f"seconds from {INSTANT_WORDS[shown.instant]}", "s", (shown.begin_s, shown.end_s), 8)
    legend = f"solid: {shown.first.label}; dashed: {shown.second.label}"
    return StillChart(TWO_STARTS, legend, x, tuple(panes), tuple(Instants(*side) for side in sides))


def _marks(start: Start, zero_s: float) -> tuple[tuple[float, str], ...]:
    found = ((getattr(start, field), word) for field, word in _MARKS)
    return tuple((at - zero_s, word) for at, word in found if at is not None)


def _lane(
    name: str, first: tuple[Side, float], second: tuple[Side, float], begin_s: float, end_s: float
) -> OverlayLane:
    one, two = _trace(name, *first, begin_s, end_s), _trace(name, *second, begin_s, end_s)
    problems = [
        f"{side.label}: not recorded" for (side, _), trace in ((first, one), (second, two)) if trace is None
    ]
    if one is not None and two is not None and one.channel.unit != two.channel.unit:
        problems.append(f"{second[0].label}: in {unit_words(two.channel.unit)}, not comparable")
        two = None
    shown = [trace for trace in (one, two) if trace is not None]
    unit = shown[0].channel.unit if shown else ""
    lows = [t.envelope.lowest for t in shown if t.envelope.lowest is not None]
    highs = [t.envelope.highest for t in shown if t.envelope.highest is not None]
    edges = nice_range(*widened(min(lows), max(highs), least_span(name, unit))) if lows else (0.0, 1.0)
    return OverlayLane(name, channel_symbol(name), unit, one, two, edges, "; ".join(problems))


def _trace(name: str, side: Side, zero_s: float, begin_s: float, end_s: float) -> OverlayTrace | None:
    channel = side.assessment.recording.get(name, side.start.engine)
    if channel is None or channel.time_s.size == 0:
        return None
    # A long flight is cut to what the gaps of the stretch depend on: all of it would hold the window up.
    times = channel.time_s
    low = max(0, int(np.searchsorted(times, begin_s + zero_s - _REACH_S)) - _REACH_SAMPLES)
    high = int(np.searchsorted(times, end_s + zero_s + _REACH_S, side="right")) + _REACH_SAMPLES
    channel = replace(channel, time_s=times[low:high], values=channel.values[low:high])
    times = channel.time_s
    first = max(0, int(np.searchsorted(times, begin_s + zero_s)) - 1)
    last = min(times.size, int(np.searchsorted(times, end_s + zero_s, side="right")) + 1)
    if last - first < 1:
        return None
    breaks = gap_breaks(times, side.assessment.starts)
    inside = Envelope(times[first:last] - zero_s, channel.values[first:last], breaks[first : last - 1])
    return OverlayTrace(channel, inside, zero_s, breaks)


def moment_words(shown: Overlay, time_s: float) -> str:
    """Return where a time from the instant on is, such as ``4.0 s after fuel on``."""
    words = INSTANT_WORDS[shown.instant]
    if abs(time_s) < 0.05:
        return f"At {words}"
    return f"{number(abs(time_s), 1)} s {'after' if time_s > 0 else 'before'} {words}"


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


def difference_rows(first: Start, second: Start) -> tuple[tuple[str, str, str, str], ...]:
    """Return the measures of two starts as (title, first, second, first minus second) in words.

    Notes
    -----
    A measure that both lack is left out; one in two units has no difference.
    """
    rows = []
    for name in dict.fromkeys((*first.measures, *second.measures)):
        one, two = first.measures.get(name), second.measures.get(name)
        a, b = (m.value if m is not None else None for m in (one, two))
        if a is None and b is None:
            continue
        unit, other_unit = (m.unit if m is not None else None for m in (one, two))
        same = unit == other_unit and a is not None and b is not None
        rows.append(
            (
                measure_title(name),
                value_text(a, unit or ""),
                value_text(b, other_unit or ""),
                signed(a - b, unit or "") if same and a is not None and b is not None else "",
            )
        )
    return tuple(rows)
