"""What the lanes show, as values: channels, limit lines where they apply, spans, marks, the ribbon."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from debrief.analysis.model import Assessment, Severity
from debrief.recording.model import Channel
from debrief.session.drawing.least_span import least_span, widened
from debrief.session.limits.instrument_readings import nice_range
from debrief.session.limits.lane_bands import BandShade, band_shades
from debrief.session.limits.limit_clock import level_windows
from debrief.session.texts.story import Shape, finding_title, shape_of
from debrief.words.channels import CHANNELS, ENGINE_CHANNELS, Role, base_name, channel_symbol
from debrief.words.numbers import plain, unit_words

_PHASE_WORDS = {"off": "Off", "ground": "Ground", "takeoff": "Take-off", "climb": "Climb", "cruise": "Cruise",
                "descent": "Descent", "landing": "Landing", "shutdown": "Shutdown"}  # fmt: skip


@dataclass(frozen=True)
class LevelLine:
    """A limit level between two times: dashed, named at its right end.

    `when` is the limit's, such as ``running``; of a rule of the start it is ``start``.
    """

    level: float
    text: str
    begin_s: float
    end_s: float
    severity: Literal["limit", "caution"]
    when: str = "start"


@dataclass(frozen=True)
class Span:
    """An event's stretch of time.

    `label` is empty for all but the first stretch of an event; `across` says whether it is tinted in all
    lanes, as what the engine suffered is, or only in its own.
    """

    begin_s: float
    end_s: float
    severity: Severity
    label: str
    shape: Shape
    channel: str | None
    across: bool = True


@dataclass(frozen=True)
class Mark:
    """A moment with a small word: a dotted line."""

    time_s: float
    word: str


@dataclass(frozen=True)
class RibbonPart:
    """A named stretch of the ribbon above the lanes."""

    begin_s: float
    end_s: float
    word: str


@dataclass(frozen=True, eq=False)
class LanePlan:
    """One lane.

    Attributes
    ----------
    title : str
        In words, such as ``Temperature``.
    channel : Channel or None
        None: the lane is slim and says "not recorded".
    label : str
        Symbol and unit, such as ``ITT °C``.
    role : str
        Which colour of the theme.
    low, high : float
        The vertical range, in the channel's unit.
    lines : tuple of LevelLine
        Limits of this channel.
    bands : tuple of BandShade
        Areas that the profile names for this channel, where they apply.
    """

    title: str
    name: str
    channel: Channel | None
    label: str
    role: Role
    low: float
    high: float
    lines: tuple[LevelLine, ...]
    bands: tuple[BandShade, ...] = ()

    @property
    def symbol(self) -> str:
        """Short trade symbol of the channel, such as ``ITT``."""
        return channel_symbol(self.channel.name if self.channel is not None else self.name)


def plan_lane(assessment: Assessment, name: str, title: str, role: Role, engine: int = 1) -> LanePlan:
    """Return the plan of one channel's lane."""
    channel = assessment.recording.get(name, engine)
    if channel is None:
        channel = assessment.recording.unmapped.get(name)
    if channel is None or channel.values.size == 0:
        return LanePlan(title, name, None, channel_symbol(name), role, 0.0, 1.0, ())
    number = channel.name.rpartition(".")[2]
    if base_name(channel.name) in ENGINE_CHANNELS and number.isdigit():
        # Another engine's channel, shown for comparison: its own starts decide where its limits apply.
        engine = int(number)
    lines = level_lines(assessment, channel, engine)
    low, high = float(channel.values.min()), float(channel.values.max())
    near = [line.level for line in lines if worth_showing(line.level, low, high)]
    least, most = min([low, *near]), max([high, *near])
    # A little room above and below, so that a peak is not drawn on the frame.
    room = 0.04 * (most - least)
    gauge = assessment.profile.gauges.get(name) if assessment.profile is not None else None
    if gauge is not None and gauge.unit == channel.unit:
        # Noise around nothing is not blown up to the height of the lane.
        most = max(most, gauge.range[0] + 0.25 * (gauge.range[1] - gauge.range[0]))
    elif not near:
        least, most = widened(least, most, least_span(name, channel.unit))
    bottom, top = nice_range(max(0.0, least - room) if least >= 0 else least - room, most + room)
    label = f"{channel_symbol(channel.name)} {unit_words(channel.unit)}".strip()
    if channel_symbol(channel.name) == title:
        label = unit_words(channel.unit)
    bands = band_shades(assessment, channel, engine)
    return LanePlan(title, name, channel, label, role, bottom, top, lines, bands)


def standard_lanes(assessment: Assessment, engine: int = 1) -> tuple[LanePlan, ...]:
    """Return the four lanes of every recording: speed, temperature, torque, voltage."""
    standard = [row for row in CHANNELS.values() if row.lane]
    return tuple(plan_lane(assessment, row.name, row.lane, row.role, engine) for row in standard)


def worth_showing(level: float, low: float, high: float) -> bool:
    """Whether the axis is stretched so that a limit line is in view: not where the data stay far away."""
    return level <= max(high * 1.6, high + 0.6 * (high - low))


def level_lines(assessment: Assessment, channel: Channel, engine: int = 1) -> tuple[LevelLine, ...]:
    """Return the limit levels of a channel with the stretches where they apply."""
    profile = assessment.profile
    if profile is None:
        return ()
    base = base_name(channel.name)
    lines: list[LevelLine] = []
    for limit in profile.limits:
        if limit.channel != base or limit.unit != channel.unit:
            continue
        for row, begin, end in level_windows(assessment, limit, engine):
            words = "never" if row.seconds == 0 else f"{plain(row.seconds)} s"
            side = "below " if limit.below else ""
            text = f"{side}{plain(row.level, limit.unit)}: {words}"
            lines.append(LevelLine(row.level, text, begin, end, row.severity, limit.when))
    rules = profile.start
    for start in assessment.starts:
        if start.engine != engine:
            continue
        if base == "ng" and rules.min_fuel_ng_pct is not None and channel.unit == "%":
            until = start.light_off_s or start.fuel_on_s or start.starter_off_s or start.window_end_s
            if start.fuel_on_s is not None:
                lines.append(
                    LevelLine(
                        rules.min_fuel_ng_pct, f"fuel min {plain(rules.min_fuel_ng_pct)}",
                        start.begin_s, max(until, start.fuel_on_s), "limit",
                    )
                )  # fmt: skip
        if base == "bus_volts" and rules.min_bus_volts is not None and start.starter_on_s is not None:
            off = start.starter_off_s if start.starter_off_s is not None else start.end_s
            lines.append(
                LevelLine(rules.min_bus_volts, f"min {plain(rules.min_bus_volts)}",
                          start.starter_on_s, off, "caution")
            )  # fmt: skip
    return tuple(lines)


def event_spans(assessment: Assessment, engine: int = 1) -> tuple[Span, ...]:
    """Return the stretches of the events to tint, in order of time; notes are not tinted."""
    spans = []
    for event in assessment.events:
        if event.engine != engine or event.severity == "note":
            continue
        pieces: Sequence[tuple[float, float]] = event.spans or ((event.start_s, event.end_s),)
        for index, (begin, end) in enumerate(pieces):
            label = finding_title(event) if index == 0 else ""
            channel = None if event.channel is None else base_name(event.channel)
            across = event.event_class == "engine" and event.severity != "caution"
            spans.append(Span(begin, end, event.severity, label, shape_of(event), channel, across))
    return tuple(sorted(spans, key=lambda span: span.begin_s))


def marks(assessment: Assessment, engine: int = 1) -> tuple[Mark, ...]:
    """Return the moments of all starts: fuel, light-off, fuel cut, idle."""
    found: list[Mark] = []
    for start in assessment.starts:
        if start.engine != engine:
            continue
        periods = start.fuel_periods
        ons: list[float | None] = [p.on_s for p in periods]
        ons = ons or [start.fuel_on_s]
        lights = [p.light_off_s for p in periods] or [start.light_off_s]
        offs = [p.off_s for p in periods] or [start.fuel_off_s]
        for word, times in (
            ("fuel", ons),
            ("light-off", lights),
            ("fuel cut", offs),
            ("idle", [start.idle_s]),
        ):
            found.extend(Mark(t, word) for t in times if t is not None)
    return tuple(sorted(set(found), key=lambda mark: (mark.time_s, mark.word)))


def ribbon(assessment: Assessment, engine: int = 1) -> tuple[RibbonPart, ...]:
    """Return the stretches of the ribbon: what the engine was doing, filled up with the flight's phases."""
    parts: list[RibbonPart] = []
    for start in assessment.starts:
        if start.engine != engine:
            continue
        edges: list[tuple[float, str]] = []
        if start.starter_on_s is not None:
            edges.append((start.starter_on_s, "Motoring"))
        if start.fuel_on_s is not None:
            edges.append((start.fuel_on_s, "Fuel on"))
        if start.light_off_s is not None:
            edges.append((start.light_off_s, "Lit"))
        end = start.end_s
        if start.outcome == "completed":
            end = start.idle_s if start.idle_s is not None else end
        elif start.fuel_off_s is not None:
            edges.append((start.fuel_off_s, "Run-down"))
            off = start.starter_off_s
            if off is not None and off > start.fuel_off_s:
                edges[-1] = (start.fuel_off_s, "Motoring after the cut")
                edges.append((off, "Run-down"))
        elif start.starter_off_s is not None and start.light_off_s is None:
            edges.append((start.starter_off_s, "Run-down"))
        edges.sort()
        for index, (begin, word) in enumerate(edges):
            until = edges[index + 1][0] if index + 1 < len(edges) else end
            if until > begin:
                parts.append(RibbonPart(begin, until, word))
    parts.sort(key=lambda part: part.begin_s)
    return tuple(_fill(parts, assessment))


def _fill(parts: list[RibbonPart], assessment: Assessment) -> list[RibbonPart]:
    filled = list(parts)
    taken = [(p.begin_s, p.end_s) for p in parts]
    for phase in assessment.phases:
        if phase.name == "start":
            continue
        word = _PHASE_WORDS.get(phase.name, phase.name.replace("_", " ").capitalize())
        begin = phase.start_s
        for a, b in taken:
            if b <= begin or a >= phase.end_s:
                continue
            if a > begin:
                filled.append(RibbonPart(begin, a, word))
            begin = max(begin, b)
        if phase.end_s > begin:
            filled.append(RibbonPart(begin, phase.end_s, word))
    return sorted(filled, key=lambda part: part.begin_s)
