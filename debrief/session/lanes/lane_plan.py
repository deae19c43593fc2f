"""The lanes as values, from which the window paints its own and the paper its: channel, range, limits, bands, colour."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import islice
from typing import Literal
from weakref import WeakKeyDictionary

import numpy as np

from debrief.analysis.measures.electrics import SETTLED_S, voltage_dips
from debrief.analysis.model import Assessment
from debrief.recording.model import Channel, FloatArray
from debrief.session.lanes.lane_range import Range, close_range, usual_range
from debrief.session.limits.lane_bands import BandShade, band_shades
from debrief.session.limits.limit_clock import level_windows
from debrief.words.channels import (
    CHANNELS,
    ENGINE_CHANNELS,
    USUAL_NAMES,
    ChannelNames,
    Role,
    base_name,
    spec_of,
)
from debrief.words.numbers import plain, unit_words, value_text

_WHEN_WORDS = {"start": "", "running": "running", "ground": "on ground", "airborne": "in the air", "any": ""}
_AFTER = f"after {plain(SETTLED_S)} s"
_FIRST_SECOND = "The first second of the starter is not judged"


@dataclass(frozen=True)
class LevelLine:
    """A level between two times: dashed and named.

    Attributes
    ----------
    level : float
        In `unit`.
    begin_s, end_s : float
        Where it applies, [s].
    severity : str
        ``limit`` or ``caution``.
    seconds : float or None
        Allowed beyond it; None for a rule of the start, which `word` names.
    below : bool
        Whether being lower is beyond it.
    when : str
        When the limit applies, such as ``running``; of a rule of the start it is ``start``.
    """

    level: float
    unit: str
    begin_s: float
    end_s: float
    severity: Literal["limit", "caution"]
    seconds: float | None = None
    below: bool = False
    when: str = "start"
    word: str = ""
    after: str = ""
    """What of its stretch does not count, such as ``after 1 s``."""

    @cached_property
    def text(self) -> str:
        """Its name at its own end, such as ``830: 20 s``."""
        return self._named("")

    @cached_property
    def text_apart(self) -> str:
        """Its name apart from its line, with when it applies: ``103 running: never`` is not read as never run."""
        return self._named(_WHEN_WORDS.get(self.when, self.when))

    def _named(self, when: str) -> str:
        level = f"{'below ' if self.below else ''}{plain(self.level, self.unit)} {when}".rstrip()
        if self.seconds is None:
            return f"{self.word} {level} {self.after}".strip()
        return f"{level}: never" if self.seconds == 0 else f"{level}: {plain(self.seconds)} s"


@dataclass(frozen=True)
class Unjudged:
    """A stretch in which a channel is not held against its level: shaded, and said."""

    begin_s: float
    end_s: float
    words: str


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
        The vertical range of the whole recording, in the channel's unit.
    lines : tuple of LevelLine
        Limits of this channel.
    bands : tuple of BandShade
        Areas that the profile names for this channel, where they apply.
    unjudged : tuple of Unjudged
        Stretches in which its level does not count.
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
    unjudged: tuple[Unjudged, ...] = ()
    called: str = ""
    """The channel's name for labels: of several engines with its number."""
    names: ChannelNames = USUAL_NAMES
    """What the recording calls its channels."""

    @property
    def symbol(self) -> str:
        """Short trade symbol of the channel, such as ``ITT``."""
        return self.names.symbol(self.called or self.name)

    @property
    def full_title(self) -> str:
        """The channel in full with its unit, such as ``Interturbine temperature, °C``."""
        unit = "" if self.channel is None else unit_words(self.channel.unit)
        return self.full_name + (f", {unit}" if unit else "")

    @property
    def full_name(self) -> str:
        """The channel in full, without its unit."""
        return self.names.words(self.name if self.channel is None else self.called or self.name)

    def spoken_at(self, time_s: float, value: float | None) -> str:
        """Return a value with the levels that apply then, for those who hear it: ``ITT 652 °C, levels 830: 20 s``."""
        if value is None or self.channel is None:
            return f"{self.symbol} no data"
        levels = [line.text_apart for line in self.lines_between(time_s, time_s)]
        words = f"{self.symbol} {value_text(value, self.channel.unit)}"
        return f"{words}, level{'' if len(levels) == 1 else 's'} {', '.join(levels)}" if levels else words

    def lines_between(self, begin_s: float, end_s: float) -> tuple[LevelLine, ...]:
        """Return the levels that apply somewhere between two times."""
        return tuple(line for line in self.lines if line.end_s >= begin_s and line.begin_s <= end_s)

    def closer(self, values: FloatArray, begin_s: float, end_s: float, *, only_twice: bool = False) -> Range:
        """Return the vertical range for what was recorded between two times.

        With `only_twice` it is that of the whole recording, unless the closer one shows things at twice the size.
        """
        usual = (self.low, self.high)
        if self.channel is None or values.size == 0:
            return usual
        levels = [line.level for line in self.lines_between(begin_s, end_s)]
        low, high = close_range(self.name, self.channel.unit, usual, values, levels)
        return usual if only_twice and high - low > 0.5 * (self.high - self.low) else (low, high)


_PLANS: WeakKeyDictionary[Assessment, dict[tuple[str, int], LanePlan]] = WeakKeyDictionary()


def plan_lane(assessment: Assessment, name: str, engine: int = 1) -> LanePlan:
    """Return the plan of one channel's lane; made once, since a paper shows the same lanes on many pages."""
    plans = _PLANS.setdefault(assessment, {})
    if (name, engine) not in plans:
        plans[name, engine] = _planned(assessment, name, engine)
    return plans[name, engine]


def _planned(assessment: Assessment, name: str, engine: int) -> LanePlan:
    row, names = spec_of(name), assessment.names(engine)
    title = CHANNELS[name].lane if name in CHANNELS and CHANNELS[name].lane else names.words(name)
    role = "ink" if row is None else row.role
    channel = assessment.recording.get(name, engine)
    if channel is None:
        channel = assessment.recording.unmapped.get(name)
    if channel is None or channel.values.size == 0:
        return LanePlan(title, name, None, names.symbol(name), role, 0.0, 1.0, (), names=names)
    number = channel.name.rpartition(".")[2]
    if base_name(channel.name) in ENGINE_CHANNELS and number.isdigit():
        # Another engine's channel, shown for comparison: its own starts decide where its limits apply.
        engine = int(number)
        names = names.of_engine(engine)
    lines = tuple(level_lines(assessment, channel, engine))
    gauge = assessment.profile.gauges.get(name) if assessment.profile is not None else None
    low, high = usual_range(name, channel, gauge, [line.level for line in lines])
    called = assessment.recording.label_name(channel.name, engine)
    symbol = names.symbol(called)
    label = f"{symbol} {unit_words(channel.unit)}".strip()
    if symbol == title:
        label = unit_words(channel.unit)
    bands = band_shades(assessment, channel, engine)
    unjudged = tuple(_unjudged(assessment, channel, engine))
    return LanePlan(title, name, channel, label, role, low, high, lines, bands, unjudged, called, names)


def standard_lanes(assessment: Assessment, engine: int = 1) -> tuple[LanePlan, ...]:
    """Return the four lanes of every recording: speed, temperature, torque, voltage."""
    return tuple(plan_lane(assessment, row.name, engine) for row in CHANNELS.values() if row.lane)


def usual_lanes(assessment: Assessment, engine: int = 1) -> tuple[tuple[LanePlan, ...], ...]:
    """Return the lanes of a recording at first, each with the channels that share it: four, the usual ones.

    Of a recording with at most one of these, as from a logger of few channels, others take their places; one line says
    which of the usual four are missing.
    """
    plans = standard_lanes(assessment, engine)
    there = [plan for plan in plans if plan.channel is not None]
    if len(there) > 1:
        return tuple((plan,) for plan in plans)
    others = list(islice(_further_recorded(assessment, engine), len(plans) - len(there)))
    missing = tuple(plan for plan in plans if plan.channel is None)
    return (*((plan,) for plan in (*there, *others)), missing)


def _further_recorded(assessment: Assessment, engine: int) -> Iterator[LanePlan]:
    """Yield plans of what else has values to draw: known channels first, then columns that are of no known one."""
    recording = assessment.recording
    known = (name for name, row in CHANNELS.items() if not row.lane and not row.is_discrete)
    mapped = (name for name in known if recording.get(name, engine) is not None)
    for name in (*mapped, *recording.unmapped):
        plan = plan_lane(assessment, name, engine)
        if plan.channel is not None and np.isfinite(plan.channel.values).any():
            yield plan


def level_lines(assessment: Assessment, channel: Channel, engine: int = 1) -> Iterator[LevelLine]:
    """Yield the levels of a channel, each where it applies: of its limits, then of the rules of the starts."""
    profile = assessment.profile
    if profile is None:
        return
    base = base_name(channel.name)
    for limit in profile.limits:
        if limit.channel != base or limit.unit != channel.unit:
            continue
        for row, begin, end in level_windows(assessment, limit, engine):
            yield LevelLine(
                row.level, limit.unit, begin, end, row.severity, row.seconds, limit.below, limit.when
            )
    rules = profile.start
    for start in assessment.starts:
        if start.engine != engine:
            continue
        if base == "ng" and channel.unit == "%":
            begin = start.begin_s
            if rules.min_fuel_ng_pct is not None and start.fuel_on_s is not None:
                until = max(start.light_off_s or start.fuel_on_s, start.fuel_on_s)
                yield LevelLine(rules.min_fuel_ng_pct, "%", begin, until, "limit", word="fuel min")
            if rules.idle_ng_pct is not None and start.fuel_on_s is not None:
                until = start.window_end_s if start.idle_s is None else start.idle_s
                yield LevelLine(rules.idle_ng_pct, "%", begin, until, "caution", word="idle")
        if base == "bus_volts" and rules.min_bus_volts is not None and start.starter_on_s is not None:
            off = start.starter_off_s if start.starter_off_s is not None else start.end_s
            begin = start.starter_on_s + SETTLED_S
            if off > begin:
                yield LevelLine(rules.min_bus_volts, "V", begin, off, "caution", word="min", after=_AFTER)


def _unjudged(assessment: Assessment, channel: Channel, engine: int) -> Iterator[Unjudged]:
    """Yield where the dip of the voltage as the starter comes on is left out."""
    profile = assessment.profile
    if profile is None or profile.start.min_bus_volts is None or base_name(channel.name) != "bus_volts":
        return
    for start in assessment.starts:
        if start.engine == engine:
            for begin, end in voltage_dips(start):
                yield Unjudged(begin, end, _FIRST_SECOND)
