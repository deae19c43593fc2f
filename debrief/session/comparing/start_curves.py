"""The traces of one start with its named instants, so that it can be compared with another one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Literal, Protocol

import numpy as np

from debrief.analysis.model import Assessment, Start
from debrief.recording.model import Channel
from debrief.session.drawing.envelope import Envelope, gap_breaks
from debrief.session.limits.cursor_measure import Breaks, interpolated
from debrief.session.texts.story import start_frame
from debrief.words.channels import ENGINE_CHANNELS, ChannelNames, base_name
from debrief.words.display_units import AS_COMPUTED, ShownUnits

Instant = Literal["starter_on", "fuel_on", "light_off"]
INSTANTS: tuple[Instant, ...] = ("starter_on", "fuel_on", "light_off")
INSTANT_WORDS: Mapping[Instant, str] = {
    "starter_on": "starter on",
    "fuel_on": "fuel on",
    "light_off": "light-off",
}
MOMENTS = ("starter_on", "fuel_on", "light_off", "peak_itt", "fuel_off", "idle")
"""The named instants of a start, as its fields are called without their unit."""

StartKey = tuple[str, int, int]
"""SHA-256 of the recording, engine and number of a start."""

_REACH_S, _REACH_SAMPLES = 90.0, 32
"""What lies within this of a stretch can decide whether a silence in it is a gap."""


@dataclass(frozen=True, eq=False)
class Piece:
    """Samples of one channel over a stretch, with what reaches into it, and after which of them a gap follows."""

    channel: Channel
    breaks: Breaks

    def value_at(self, time_s: float) -> float | None:
        """Return the value at a time, [s]; None across a gap and outside the samples."""
        return interpolated(self.channel, self.breaks, time_s)

    def envelope(self, begin_s: float, end_s: float, shift_s: float = 0.0) -> Envelope | None:
        """Return what is drawn between two times, all later by `shift_s`; None without a sample there."""
        times = self.channel.time_s
        first = max(0, int(np.searchsorted(times, begin_s)) - 1)
        last = min(times.size, int(np.searchsorted(times, end_s, side="right")) + 1)
        if last - first < 1:
            return None
        values = self.channel.values[first:last]
        return Envelope(times[first:last] + shift_s, values, self.breaks[first : last - 1])


@dataclass(frozen=True, eq=False)
class StartCurves:
    """One start as it is compared.

    Attributes
    ----------
    name : str
        What it is called, such as ``start 1 of flight.csv``.
    channels : mapping of str to Channel
        By name without the engine's number, in canonical units; times are of its own recording, [s].
    moments : mapping of str to float
        Those of `MOMENTS` that are known, [s].
    frame : (float, float)
        The stretch that shows it whole, [s].
    starts : tuple of Start or None
        Those of its recording, in which a shorter silence is a gap already. None: a NaN stands for each gap.
    key : StartKey or None
        None where it is no one start, as the usual one of an engine.
    ng_at_fuel_pct : float or None
        As measured, [%].
    profile : str
        Name of the profile that it was judged by; empty where that is not known.
    said : str
        What must be known of it, in a sentence.
    units : ShownUnits
        In which its values are given.
    """

    name: str
    channels: Mapping[str, Channel]
    moments: Mapping[str, float]
    frame: tuple[float, float]
    starts: tuple[Start, ...] | None = None
    key: StartKey | None = None
    ng_at_fuel_pct: float | None = None
    profile: str = ""
    said: str = ""
    units: ShownUnits = field(default=AS_COMPUTED)

    def aligned(self, instant: Instant) -> StartCurves:
        """Return the curves to compare at an instant: the same at each."""
        return self

    def shown(self, units: ShownUnits) -> StartCurves:
        """Return the same in the units to show."""
        return replace(self, units=units)

    @property
    def names(self) -> ChannelNames:
        """What its recording calls the channels."""
        return ChannelNames({(name, 1): one.sign for name, one in self.channels.items() if one.sign})

    def unit(self, name: str) -> str | None:
        """Return the unit of a channel as it is shown; None where it was not recorded."""
        channel = self.channels.get(name)
        return None if channel is None else self.units.of(channel.unit)

    def piece(self, name: str, begin_s: float, end_s: float) -> Piece | None:
        """Return a channel between two times, in the units to show; None where it was not recorded."""
        channel = self.channels.get(name)
        if channel is None or channel.time_s.size == 0:
            return None
        # A long flight is cut to what the gaps of the stretch depend on: all of it would hold the window up.
        times = channel.time_s
        low = max(0, int(np.searchsorted(times, begin_s - _REACH_S)) - _REACH_SAMPLES)
        high = int(np.searchsorted(times, end_s + _REACH_S, side="right")) + _REACH_SAMPLES
        times = times[low:high]
        values = self.units.values(channel.values[low:high], channel.unit)
        cut = replace(channel, unit=self.units.of(channel.unit), time_s=times, values=values)
        if self.starts is None:
            return Piece(cut, np.zeros(max(times.size - 1, 0), dtype=np.bool_))
        return Piece(cut, gap_breaks(times, self.starts))


class Comparable(Protocol):
    """What can lie behind a start: another start, or one made of many."""

    @property
    def name(self) -> str:
        """What it is called."""

    @property
    def key(self) -> StartKey | None:
        """Which start it is; None where it is made of many."""

    @property
    def profile(self) -> str:
        """Name of the profile that it was judged by; empty where that is not known."""

    def aligned(self, instant: Instant) -> StartCurves:
        """Return the curves to compare at an instant."""


def key_of(assessment: Assessment, start: Start) -> StartKey:
    """Return which start of which recording it is."""
    return assessment.recording.provenance.sha256, start.engine, start.number


def start_name(assessment: Assessment, start: Start) -> str:
    """Return what a start of another recording is called: by its file alone where that has no other start."""
    file = assessment.recording.provenance.file_name
    return file if len(assessment.starts) == 1 else f"{start_words(assessment, start)} of {file}"


def start_words(assessment: Assessment, start: Start) -> str:
    """Return what a start is called within its recording; of several engines with its own."""
    engine = f" of engine {start.engine}" if assessment.recording.has_several_engines else ""
    return f"start {start.number}{engine}"


def start_curves(assessment: Assessment, start: Start, name: str = "") -> StartCurves:
    """Return a start of an assessment as it is compared; in canonical units, whatever those to show.

    `name` is what it is called in place of the file's name.
    """
    canonical = assessment.canonical
    recording = canonical.recording
    bases = {base_name(one) if base_name(one) in ENGINE_CHANNELS else one for one in recording.channels}
    found = ((base, recording.get(base, start.engine)) for base in sorted(bases))
    channels = {base: one for base, one in found if one is not None and not one.is_discrete}
    moments = {one: getattr(start, f"{one}_s") for one in MOMENTS}
    own = next(
        (one for one in canonical.starts if key_of(canonical, one) == key_of(assessment, start)), start
    )
    return StartCurves(
        name or start_name(assessment, start),
        MappingProxyType(channels),
        MappingProxyType({one: at for one, at in moments.items() if at is not None}),
        start_frame(start),
        canonical.starts,
        key_of(assessment, start),
        own.ng_at_fuel_pct,
        canonical.profile.name if canonical.profile is not None else "",
    )
