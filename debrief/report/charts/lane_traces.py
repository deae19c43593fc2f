"""Lanes of a report: recorded samples made ready to draw, with the levels and spans that belong to them."""

from __future__ import annotations

import numpy as np

from debrief.analysis.model import Assessment, Event
from debrief.profile.model import Limit
from debrief.recording.model import Channel
from debrief.report.blocks import Bar, Dot, Lane, LevelLine, Span, Trace
from debrief.session.drawing.axes import nice_step, rounded_range
from debrief.session.drawing.envelope import Envelope, gap_breaks
from debrief.session.lanes.lane_plan import LevelLine as PlanLine
from debrief.session.lanes.lane_plan import level_lines, worth_showing
from debrief.session.limits.limit_clock import level_windows
from debrief.words.channels import base_name, channel_words, spec_of
from debrief.words.colours import ON_PAPER
from debrief.words.numbers import plain, unit_words

COLUMNS = 900
"""Drawn columns across a lane: more than the printer can tell apart."""

_RUNNING_SHARE = 0.2
"""A limit other than of starts is drawn when it applies in at least this part of a start's chart."""

_LEAST_SPAN = {"itt": 100.0, "ng": 10.0, "torque": 10.0, "bus_volts": 2.0, "np": 50.0, "oil_temp": 10.0}
"""Less is not spread over a whole lane: it would make a mountain of the last digit."""

_COLD_SHARE = 0.2
_AROUND_S = 60.0
BAR_NAMES = {"starter": "starter", "fuel_on": "fuel", "ignition": "ignition", "external_power": "ext. power"}

_WHEN_WORDS = {"running": "running", "ground": "on ground", "airborne": "in the air", "any": ""}

_NO_TRACE = Trace(np.zeros(0), np.zeros(0), np.zeros(0, dtype=bool))


def trace_of(assessment: Assessment, channel: Channel | None, begin_s: float, end_s: float) -> Trace:
    """Return what to draw of a channel between two times: real samples, every extreme among them."""
    if channel is None or channel.time_s.size == 0:
        return _NO_TRACE
    # Only what is near: a gap is told by the 60 s around it, and a flight of hours has many starts' charts.
    first = int(np.searchsorted(channel.time_s, begin_s - _AROUND_S))
    last = int(np.searchsorted(channel.time_s, end_s + _AROUND_S, side="right"))
    times, values = channel.time_s[first:last], channel.values[first:last]
    drawn = Envelope(times, values, gap_breaks(times, assessment.starts)).view(begin_s, end_s, COLUMNS)
    return Trace(drawn.time_s, drawn.values, drawn.connect)


def lane_of(
    assessment: Assessment,
    name: str,
    engine: int,
    begin_s: float,
    end_s: float,
    *,
    levels: tuple[LevelLine, ...] = (),
    spans: tuple[Span, ...] = (),
    dots: tuple[Dot, ...] = (),
    share: float = 1.0,
    from_zero: bool = False,
) -> Lane:
    """Return the lane of a channel over a stretch of time.

    Parameters
    ----------
    name : str
        Canonical name without the engine's number.
    from_zero : bool
        Whether the axis begins at 0, as for speeds and temperatures of a start.
    """
    channel = assessment.recording.get(name, engine)
    row = spec_of(name)
    colour = str(getattr(ON_PAPER, "ink" if row is None else row.role))
    if channel is None:
        title = channel_words(name)
        return Lane(title, colour, _NO_TRACE, 0.0, 1.0, share, empty="not recorded")
    unit = unit_words(channel.unit)
    title = f"{channel_words(channel.name)}, {unit}" if unit else channel_words(channel.name)
    trace = trace_of(assessment, channel, begin_s, end_s)
    inside = (trace.time_s >= begin_s) & (trace.time_s <= end_s)
    values = trace.values[inside] if inside.any() else trace.values
    if values.size == 0:
        return Lane(title, colour, trace, 0.0, 1.0, share, empty="nothing recorded in this stretch")
    marked = [level.level for level in levels]
    low = min([float(values.min()), *marked])
    high = max([float(values.max()), *marked])
    if from_zero and low > 0:
        low = 0.0
    high = max(high, low + _LEAST_SPAN.get(base_name(name), 0.0))
    low, high = _axis(low, high, from_zero)
    return Lane(title, colour, trace, low, high, share, levels, spans, dots)


def _axis(low: float, high: float, from_zero: bool) -> tuple[float, float]:
    """Return the ends of a lane's axis; a little below zero, such as a cold engine's, takes no whole step."""
    if not from_zero or low >= 0 or low < -_COLD_SHARE * high:
        return rounded_range(low, high + (high - low) * 0.02)
    _, top = rounded_range(0.0, high * 1.02)
    step = nice_step(top, 40)
    return float(np.floor(low / step)) * step, top


def limit_levels(
    assessment: Assessment,
    limit: Limit,
    engine: int,
    begin_s: float,
    end_s: float,
    *,
    words: str = "",
    least_s: float = 0.0,
) -> tuple[LevelLine, ...]:
    """Return the levels of a limit between two times as lines where each counted, such as ``830: 20 s``.

    `words` say when it holds and stand with the level, so that ``103 running: never`` is not read as never run.
    Lines shorter than `least_s` are left out.
    """
    out = []
    for row, begin, end in level_windows(assessment, limit, engine):
        a, b = max(begin, begin_s), min(end, end_s)
        if b <= a or b - a < least_s:
            continue
        allowed = "never" if row.seconds == 0 else f"{plain(row.seconds)} s"
        side = "below " if limit.below else ""
        label = f"{side}{plain(row.level, limit.unit)}{words}: {allowed}"
        out.append(LevelLine(row.level, label, a, b, row.severity))
    return tuple(out)


def event_spans(events: tuple[Event, ...], channel: str, begin_s: float, end_s: float) -> tuple[Span, ...]:
    """Return the stretches of the events on this channel that touch a stretch of time."""
    out = []
    for event in events:
        if event.channel is None or base_name(event.channel) != channel or event.severity == "note":
            continue
        for a, b in event.spans or ((event.start_s, event.end_s),):
            if b >= begin_s and a <= end_s:
                out.append(Span(a, b, event.severity))
    return tuple(out)


def bars_of(assessment: Assessment, engine: int, begin_s: float, end_s: float) -> tuple[Bar, ...]:
    """Return the recorded discretes that matter in a start."""
    out = []
    for name, words in BAR_NAMES.items():
        channel = assessment.recording.get(name, engine)
        if channel is None or channel.time_s.size == 0:
            continue
        spans = _on_spans(channel, assessment.recording.duration_s)
        shown = tuple((a, b) for a, b in spans if b >= begin_s and a <= end_s)
        if name in ("starter", "fuel_on") or shown:
            out.append(Bar(words, shown))
    return tuple(out)


def _on_spans(channel: Channel, duration_s: float) -> list[tuple[float, float]]:
    """Return the stretches with the value above a half: it holds until the next sample."""
    on = channel.values > 0.5
    edges = np.flatnonzero(np.diff(np.concatenate([[0], on.astype(np.int8), [0]])))
    times = np.append(channel.time_s, min(duration_s, float(channel.time_s[-1])))
    return [(float(times[a]), float(times[b])) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def levels_of(
    assessment: Assessment,
    channel: str,
    engine: int,
    begin_s: float,
    end_s: float,
    *,
    of_starts: bool = False,
) -> tuple[LevelLine, ...]:
    """Return the levels of the limits that apply in a stretch, each where it applies; or those of starts alone."""
    profile = assessment.profile
    recorded = assessment.recording.get(channel, engine)
    if profile is None or recorded is None:
        return ()
    out: list[LevelLine] = []
    for limit in profile.limits:
        if limit.channel != channel or limit.unit != recorded.unit:
            continue
        if of_starts and limit.when != "start":
            continue
        at_start = limit.when == "start"
        out += limit_levels(
            assessment,
            limit,
            engine,
            begin_s,
            end_s,
            words="" if at_start else " running",
            least_s=0.0 if at_start else _RUNNING_SHARE * (end_s - begin_s),
        )
    return tuple(out)


def _with_condition(line: PlanLine) -> str:
    """Return the words of a level, with when it holds behind the level: ``103 running: never``."""
    level, colon, allowed = line.text.partition(":")
    when = "" if line.when == "start" else _WHEN_WORDS.get(line.when, line.when)
    return f"{level} {when}".rstrip() + colon + allowed


def recording_levels(
    assessment: Assessment, channel: str, engine: int, begin_s: float, end_s: float
) -> tuple[LevelLine, ...]:
    """Return every level of a channel that the window's lanes show, each where it applies.

    A level far beyond what was recorded is left out, as there: it would press the trace into a corner.
    """
    recorded = assessment.recording.get(channel, engine)
    if recorded is None or recorded.values.size == 0:
        return ()
    low, high = float(recorded.values.min()), float(recorded.values.max())
    return tuple(
        LevelLine(
            line.level,
            _with_condition(line),
            max(line.begin_s, begin_s),
            min(line.end_s, end_s),
            line.severity,
        )
        for line in level_lines(assessment, recorded, engine)
        if line.end_s > begin_s and line.begin_s < end_s and worth_showing(line.level, low, high)
    )
