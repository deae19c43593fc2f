"""What the instruments show at a moment: value, extreme since the start began, limit that applies."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.measures.electrics import voltage_dips
from debrief.analysis.model import Assessment
from debrief.profile.model import Gauge
from debrief.session.drawing.envelope import gap_breaks
from debrief.session.limits.cursor_extent import Extent, Sums, extent, sums_of
from debrief.session.limits.cursor_measure import Beyond, Breaks, Measured, interpolated, measure
from debrief.session.limits.limit_clock import JudgedLevel, LimitState, judged_levels
from debrief.words.channels import DISCRETE, base_name
from debrief.words.channels import instruments as shown_instruments
from debrief.words.channels import named as channels_that

_SAME_LEVEL = 1e-6
_SAG = "bus_volts"
"""The starter pulls it down for a moment, which counts for nothing."""
_LOWEST = frozenset(channels_that("lowest_matters"))


@dataclass(frozen=True)
class Reading:
    """One instrument at one moment.

    Attributes
    ----------
    value : float or None
        None between samples across a gap and outside the channel's samples.
    extreme, extreme_s : float or None
        Highest (or lowest) since the start began and when, [s]. What does not count as the measure, the voltage of
        the starter's first second, does not count here.
    states : tuple of LimitState
        Levels of the limits that apply now which the value is beyond, mildest first.
    """

    value: float | None
    extreme: float | None = None
    extreme_s: float | None = None
    states: tuple[LimitState, ...] = ()

    @property
    def exceeded(self) -> bool:
        """Whether a limit that applies now is exceeded (a caution is not a limit)."""
        return any(s.exceeded and s.row.severity == "limit" for s in self.states)

    @property
    def running(self) -> LimitState | None:
        """The worst level whose seconds are being used now, or None; of the same in two limits the longer used."""
        counted = [s for s in self.states if s.row.severity == "limit"] or list(self.states)
        beyond = [s for s in counted if s.exceeded]
        return max(
            beyond or counted,
            key=lambda s: (-s.row.level if s.limit.below else s.row.level, s.used_s),
            default=None,
        )


@dataclass(frozen=True)
class Discrete:
    """One switch at one moment; `state` is None where nothing is recorded or known."""

    name: str
    words: str
    recorded: bool
    state: float | None


class Instrument:
    """One gauge's data.

    Parameters
    ----------
    assessment : Assessment
        Source of starts, limits and the channel.
    name : str
        Channel name without the engine number.
    engine : int
        The engine.

    Attributes
    ----------
    name, engine
        As given.
    label_name : str
        The channel's name for labels: of several engines with its number.
    symbol, words : str
        What the recording calls it, in short and in full.
    channel : Channel or None
        None where it was not recorded.
    markings : Gauge or None
        Of the profile, where its unit is the channel's.
    shows_lowest : bool
        Whether the extreme of interest is the lowest value.
    """

    def __init__(self, assessment: Assessment, name: str, engine: int = 1) -> None:
        self.name = name
        self.engine = engine
        self.label_name = assessment.recording.label_name(name, engine)
        names = assessment.names(engine)
        self.symbol, self.words = names.symbol(self.label_name), names.words(self.label_name)
        self.channel = assessment.recording.get(name, engine) or assessment.recording.unmapped.get(name)
        self.shows_lowest = name in _LOWEST
        profile = assessment.profile
        gauge = profile.gauges.get(name) if profile is not None else None
        fits = gauge is not None and (self.channel is None or self.channel.unit == gauge.unit)
        self.markings: Gauge | None = gauge if fits else None
        self._begins: list[float] = [0.0]
        self._best: list[NDArray[np.int64]] = []
        self._dips: list[tuple[float, float]] = []
        self._breaks: Breaks = np.zeros(0, dtype=np.bool_)
        self._levels: tuple[JudgedLevel, ...] = ()
        if self.channel is None or self.channel.time_s.size == 0:
            return
        self._levels = judged_levels(assessment, name, self.channel.unit, engine)
        self._breaks = gap_breaks(self.channel.time_s, assessment.starts)
        starts = [s for s in assessment.starts if s.engine == engine]
        self._begins = [0.0, *(s.begin_s for s in starts)]
        if name == _SAG:
            self._dips = [dip for s in starts for dip in voltage_dips(s)]
        self._counts = self._counting(self.channel.time_s)
        for index, begin in enumerate(self._begins):
            end = self._begins[index + 1] if index + 1 < len(self._begins) else np.inf
            first, last = (int(i) for i in np.searchsorted(self.channel.time_s, (begin, end), side="left"))
            rows = first + np.flatnonzero(self._counts[first:last])
            values = self.channel.values[rows]
            if self.shows_lowest:
                values = -values
            best = np.maximum.accumulate(values) if values.size else values
            rises = np.r_[True, best[1:] > best[:-1]] if values.size else np.zeros(0, dtype=np.bool_)
            self._best.append(np.asarray(rows[rises], dtype=np.int64))

    def _counting(self, time_s: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Return at which samples the value counts for the extreme."""
        counts = np.ones(time_s.size, dtype=np.bool_)
        for begin, end in self._dips:
            first, last = np.searchsorted(time_s, (begin, end), side="left")
            counts[first:last] = False
        return counts

    def _counts_at(self, time_s: float) -> bool:
        """Return whether both samples beside a moment count for the extreme."""
        assert self.channel is not None
        times = self.channel.time_s
        beside = (
            int(times.searchsorted(time_s, side="right")) - 1,
            int(times.searchsorted(time_s, side="left")),
        )
        return all(self._counts[row] for row in beside if 0 <= row < times.size)

    @property
    def leaves_out_dip(self) -> bool:
        """Whether the extreme leaves the starter's first second out."""
        return bool(self._dips)

    def _beyond(self, value: float, other: float) -> bool:
        return value < other if self.shows_lowest else value > other

    @cached_property
    def _at_begin(self) -> list[float | None]:
        """The value where each start begins, between two samples as a rule."""
        return [self.value_at(begin) for begin in self._begins]

    @property
    def unit(self) -> str:
        """Unit of the value; that of the markings where nothing is recorded."""
        if self.channel is not None:
            return self.channel.unit
        return self.markings.unit if self.markings is not None else ""

    @cached_property
    def range(self) -> tuple[float, float]:
        """Scale of the dial: the profile's, else round numbers around the recorded values."""
        if self.markings is not None:
            return self.markings.range
        if self.channel is None or self.channel.values.size == 0:
            return (0.0, 100.0)
        return nice_range(float(self.channel.values.min()), float(self.channel.values.max()))

    def value_at(self, time_s: float) -> float | None:
        """Return the value on the straight line between samples; None across a gap or outside."""
        channel = self.channel
        if channel is None or channel.time_s.size == 0:
            return None
        return interpolated(channel, self._breaks, time_s)

    def measured(self, mark_s: float, other_s: float) -> Measured | None:
        """Return what lies between two moments, or None where there is no value."""
        channel = self.channel
        if channel is None:
            return None
        return measure(channel, self._breaks, mark_s, other_s, self._beyond_level(mark_s, other_s))

    @cached_property
    def _sums(self) -> Sums:
        assert self.channel is not None
        return sums_of(self.channel, self._breaks)

    def extent(self, mark_s: float, other_s: float) -> Extent | None:
        """Return the highest, lowest and mean between two moments, or None where nothing is known there."""
        channel = self.channel
        if channel is None or channel.time_s.size == 0:
            return None
        return extent(channel, self._breaks, self._sums, *sorted((mark_s, other_s)))

    def _beyond_level(self, mark_s: float, other_s: float) -> Beyond | None:
        """Return the seconds beyond the level nearest to the value at the mark, of those that apply between.

        Of two limits with the same level it is the one that counted longer between them.
        """
        value = self.value_at(mark_s)
        begin, end = sorted((mark_s, other_s))
        levels = [one for one in self._levels if one.applies_between(begin, end)]
        if value is None or not levels:
            return None
        nearest = min(abs(one.row.level - value) for one in levels) + _SAME_LEVEL
        (seconds, least, most), level = max(
            (
                (one.seconds_between(begin, end), one)
                for one in levels
                if abs(one.row.level - value) <= nearest
            ),
            key=lambda found: found[0][0],
        )
        limit = level.limit
        return Beyond(limit.id, limit.event, level.row.level, limit.below, seconds, (least, most), limit.unit)

    def read(self, time_s: float) -> Reading:
        """Return what the gauge shows at a moment."""
        channel = self.channel
        if channel is None or channel.time_s.size == 0:
            return Reading(None)
        value = self.value_at(time_s)
        group = max(0, int(np.searchsorted(self._begins, time_s + 1e-9, side="right")) - 1)
        rows = self._best[group]
        extreme = extreme_s = None
        if rows.size:
            index = int(np.searchsorted(channel.time_s[rows], time_s + 1e-9, side="right")) - 1
            if index >= 0:
                extreme = float(channel.values[rows[index]])
                extreme_s = float(channel.time_s[rows[index]])
        # What was shown between two samples counts too: the pointer never stands beyond its own extreme.
        for shown, at in ((self._at_begin[group], self._begins[group]), (value, time_s)):
            if shown is None or not self._counts_at(at):
                continue
            if extreme is None or self._beyond(shown, extreme):
                extreme, extreme_s = shown, at
        states = [state for level in self._levels for state in level.states(time_s)]
        return Reading(value, extreme, extreme_s, tuple(states) if value is not None else ())


def nice_range(low: float, high: float) -> tuple[float, float]:
    """Return round numbers that hold both values, starting at 0 where that is near."""
    if not (np.isfinite(low) and np.isfinite(high)):
        return (0.0, 1.0)
    if 0 < low < 0.5 * high or low == high >= 0:
        low = 0.0
    span = max(high - low, 1e-6)
    step = 10.0 ** np.floor(np.log10(span))
    for factor in (0.1, 0.2, 0.5, 1.0):
        if span / (step * factor) <= 12:
            step *= factor
            break
    begin = float(np.floor(low / step + 1e-9) * step)
    end = float(np.ceil(high / step - 1e-9) * step)
    return (begin, end if end > begin else begin + step)


def instruments(assessment: Assessment, engine: int = 1) -> tuple[Instrument, ...]:
    """Return the gauges to show: the four of every start, then what else is recorded."""
    names = shown_instruments(switches=False)
    return tuple(
        Instrument(assessment, name, engine)
        for name, always in names
        if always or assessment.recording.get(name, engine) is not None
    )


def discretes(assessment: Assessment, time_s: float, engine: int = 1) -> tuple[Discrete, ...]:
    """Return the switches at a moment: the three of every start, then what else is recorded."""
    found = []
    for name, always in shown_instruments(switches=True):
        channel = assessment.recording.get(name, engine)
        if channel is None and not always:
            continue
        state = None
        if channel is not None and channel.time_s.size:
            index = int(np.searchsorted(channel.time_s, time_s + 1e-9, side="right")) - 1
            state = float(channel.values[index]) if index >= 0 else None
        found.append(
            Discrete(
                name,
                assessment.names(engine).words(assessment.recording.label_name(name, engine)),
                channel is not None,
                state,
            )
        )
    return tuple(found)


def switch_words(discrete: Discrete) -> str:
    """Return ``on``, ``off``, a bleed position, ``not recorded`` or ``not known``."""
    if not discrete.recorded:
        return "not recorded"
    if discrete.state is None:
        return "not known"
    if base_name(discrete.name) not in DISCRETE or discrete.state not in (0.0, 1.0):
        return f"{discrete.state:g}"
    return "on" if discrete.state else "off"
