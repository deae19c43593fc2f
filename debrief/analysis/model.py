"""Value types of an assessment: starts, events, limits, phases, and what was not judged.

Times are seconds from the first sample of the recording. Unknown is None, never 0.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from functools import cached_property
from itertools import groupby
from types import MappingProxyType
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from debrief.analysis.evidence_model import Evidence, MeasureEvidence, Reading
from debrief.analysis.flight_model import NO_LISTS, FlightLists
from debrief.profile.model import EngineProfile
from debrief.recording.model import FloatArray, QualityFlag, Recording, frozen
from debrief.words.channels import ChannelNames
from debrief.words.display_units import AS_COMPUTED, ShownUnits
from debrief.words.events import EventClass
from debrief.words.sentence import Sentence

Severity = Literal["limit", "possible", "caution", "note"]
Result = Literal["within", "caution", "possible", "exceeded", "not_judged"]
Verdict = Literal["exceeded", "possible", "undetermined", "within"]
Outcome = Literal[
    "completed", "incomplete", "flamed_out", "hung", "aborted", "no_light_off", "motoring", "unknown"
]
StartKind = Literal["ground", "assisted_air", "windmilling", "relight"]

_EMPTY: Mapping[str, Any] = MappingProxyType({})


class _Picklable:
    """Mapping proxies do not pickle: store them as dicts and wrap them again."""

    def __getstate__(self) -> dict[str, Any]:
        return {k: dict(v) if isinstance(v, MappingProxyType) else v for k, v in self.__dict__.items()}

    def __setstate__(self, state: Mapping[str, Any]) -> None:
        for key, value in state.items():
            object.__setattr__(self, key, MappingProxyType(value) if isinstance(value, dict) else value)


@dataclass(frozen=True)
class Measure:
    """A measured quantity with bounds where sampling limits it.

    `value` is None where it could not be measured; `why` then says what is missing.
    """

    value: float | None
    unit: str
    low: float | None = None
    high: float | None = None
    inferred: bool = False
    why: str | None = None
    sensor_suspect: bool = False
    """Whether the value rests on samples that cannot be believed."""
    is_difference: bool = False
    """Whether it is a difference of two values: in other units it is converted as one."""

    @property
    def marks(self) -> tuple[str, ...]:
        """What has to be said behind the value, in words."""
        told = ((self.inferred, "inferred"), (self.sensor_suspect, "sensor suspect"))
        return tuple(word for is_so, word in told if is_so)


@dataclass(frozen=True, slots=True)
class LevelResult:
    """How long one level of a limit was passed, and the result against what is allowed.

    `duration_high_s` is None where the recording's edge cuts the run: "at least".
    """

    level: float
    allowed_s: float
    severity: Literal["limit", "caution"]
    duration_s: float
    duration_low_s: float
    duration_high_s: float | None
    result: Result
    start_s: float | None = None
    end_s: float | None = None


@dataclass(frozen=True, slots=True)
class Event:
    """One finding. See the design for kinds; `unit` is that of `peak` and `level`.

    `spans` are the stretches beyond the headline level as (start, end) pairs, for shading.
    """

    kind: str
    event_class: EventClass
    engine: int
    severity: Severity
    start_s: float
    end_s: float
    message: Sentence
    certain: bool = True
    sensor_suspect: bool = False
    channel: str | None = None
    peak: float | None = None
    peak_s: float | None = None
    peak_low: float | None = None
    """The least that the peak may have been: None where no sample surely counted. Below a minimum: the highest."""
    peak_high: float | None = None
    rise: float | None = None
    """Where the level is a rise: from where to the peak it was, [unit]."""
    unit: str = ""
    level: float | None = None
    duration_s: float | None = None
    duration_low_s: float | None = None
    duration_high_s: float | None = None
    allowed_s: float | None = None
    limit_id: str | None = None
    levels: tuple[LevelResult, ...] = ()
    band: str | None = None
    band_action: str | None = None
    band_past_edge_value: float | None = None
    """How far the peak lies beyond the band's lower edge at this time, [unit]."""
    band_past_edge_s: float | None = None
    """How far the time lies beyond the band's lower edge at this peak, [s]."""
    reference: str | None = None
    start_number: int | None = None
    reason: str | None = None
    recovered: bool = False
    during_abort: bool = False
    spans: tuple[tuple[float, float], ...] = ()
    evidence: Evidence | None = None


@dataclass(frozen=True)
class LeftOut:
    """Events of one kind, severity, limit and reason in one start that are counted and not listed: the later ones of very many.

    `start_s`..`end_s` spans them.
    """

    kind: str
    event_class: EventClass
    engine: int
    severity: Severity
    start_number: int | None
    limit_id: str | None
    reason: str | None
    count: int
    start_s: float
    end_s: float


@dataclass(frozen=True)
class LimitWindow:
    """A stretch in which a limit applied, with the earliest and latest instant of each edge, [s].

    `start_high_s` and `end_low_s` are None where the limit may not have applied at all. `start_number` is set
    where the limit is for starts.
    """

    start_s: float
    end_s: float
    start_low_s: float
    start_high_s: float | None
    end_low_s: float | None
    end_high_s: float
    start_number: int | None = None


@dataclass(frozen=True, eq=False)
class CountedRuns:
    """Where a channel was beyond one level of a limit, as it was judged: the one count of these seconds.

    A run under way where the window of a start ends is in it to its own end.

    Attributes
    ----------
    pieces : (m, 2) float array
        Begin and end of each stretch beyond the level, in time order, [s].
    low, high : (k, 2), (n, 2) float array
        The stretches surely and possibly beyond it, [s].
    run : (m,) int array
        Which pieces belong together, rising: those of one unbroken run (a short break does not end it), or where the
        limit counts in total, those of one start or engine cycle.
    start_number : (m,) int array
        The start of each piece; 0 where the limit is not for starts.
    """

    pieces: FloatArray
    low: FloatArray
    high: FloatArray
    run: NDArray[np.intp]
    start_number: NDArray[np.intp]

    @cached_property
    def used_before_s(self) -> FloatArray:
        """Seconds used before each piece by those that it belongs together with, (m,), [s]."""
        lengths = self.pieces[:, 1] - self.pieces[:, 0]
        before = np.cumsum(lengths) - lengths
        first = np.searchsorted(self.run, self.run, side="left")
        return frozen(before - before[first])

    def __post_init__(self) -> None:
        for one in fields(self):
            getattr(self, one.name).setflags(write=False)

    def __getstate__(self) -> dict[str, Any]:
        return {one.name: getattr(self, one.name) for one in fields(self)}

    def __setstate__(self, state: Mapping[str, Any]) -> None:
        for name, array in state.items():
            array.setflags(write=False)
            object.__setattr__(self, name, array)


@dataclass(frozen=True)
class LimitResult:
    """How one limit of the profile came out over the whole recording.

    `margin_seconds` and `margin_value` are the distances to `nearest_level`, positive while within.
    """

    id: str
    event: str
    channel: str
    engine: int
    unit: str
    result: Result
    nearest_level: float | None = None
    margin_seconds: float | None = None
    margin_value: float | None = None
    why: str | None = None
    windows: tuple[LimitWindow, ...] = ()
    """Where it applied, in time order: none where that never occurred or cannot be told."""
    counted: tuple[CountedRuns, ...] = field(default=(), compare=False, repr=False)
    """Of each level of the limit, in the profile's order, what was counted; none where it was not judged."""
    base: CountedRuns | None = field(default=None, compare=False, repr=False)
    """Of the base of the limit's chart of bands, counted as the levels are; None without a chart or not judged."""
    levels: tuple[LevelResult, ...] = field(default=(), compare=False, repr=False)
    """Of each level, in the profile's order, its worst run or total; none where the limit was not judged."""


@dataclass(frozen=True)
class FuelPeriod:
    """One stretch with fuel on inside a start attempt. `on_low_s` is the last sample still without fuel."""

    on_s: float
    on_low_s: float | None
    off_s: float | None
    off_low_s: float | None
    light_off_s: float | None
    peak_itt_c: float | None
    peak_itt_s: float | None
    ng_at_fuel_pct: float | None
    ng_at_fuel_low_pct: float | None
    ng_at_fuel_high_pct: float | None
    source: str
    """``fuel_on``, ``fuel_flow`` or ``light_off``: which signal tells it."""

    @property
    def began_inside(self) -> bool:
        """Whether fuel was already on at its first sample, so that nobody knows since when."""
        return self.on_low_s is None and self.source != "light_off"


@dataclass(frozen=True)
class StarterRun:
    """One engagement of the starter. Bounds are the samples around each edge.

    `end_s` is None while the recording ends with the starter on; `power` is ``battery``, ``external`` or
    ``unknown``, `power_inferred` where the battery's current tells it and no column.
    """

    start_s: float
    end_s: float | None
    duration_s: float
    duration_low_s: float
    duration_high_s: float | None
    power: str
    start_number: int | None = None
    inferred: bool = False
    start_low_s: float | None = None
    power_inferred: bool = False


@dataclass(frozen=True)
class EarlierRun(StarterRun):
    """A starter run before the recording, and who tells of it. Its times are those of the recording, so negative.

    Attributes
    ----------
    engine : int or None
        Whose it is; None for every engine.
    source : str
        ``history`` (a flight that is kept), ``entered`` (a person said how long the starter had rested),
        ``preamble`` (the file says so), ``caller``.
    file_name, sha256 : str or None
        Of the flight that is kept.
    clock_doubt_s : float
        By how much the clocks of the two recordings may disagree, either way, [s].
    """

    engine: int | None = None
    source: str = "caller"
    file_name: str | None = None
    sha256: str | None = None
    clock_doubt_s: float = 0.0

    @classmethod
    def of(cls, run: StarterRun) -> EarlierRun:
        """Return a run that a caller hands in, as one of before the recording."""
        return run if isinstance(run, cls) else cls(**vars(run))


@dataclass(frozen=True)
class Factor:
    """Something present at a bad start that is outside its reference. Present, not proven to be the cause.

    `measure` is the measure of the start that it is, whose evidence is its own; `profile_key` is where the
    reference stands in the profile, `profile_line` its line in the file.
    """

    kind: str
    value: float
    reference: float
    unit: str
    message: Sentence
    measure: str | None = None
    profile_key: str | None = None
    profile_line: int | None = None


@dataclass(frozen=True)
class TimeAbove:
    """Time above every level of one start attempt: exact for the piecewise-linear signal.

    Counted as start limits are: in the window of the start, and of a run under way at its end to the run's own end.
    `levels` (n,) rising; `total_s` and `longest_s` (n,).
    """

    channel: str
    unit: str
    levels: tuple[float, ...]
    total_s: tuple[float, ...]
    longest_s: tuple[float, ...]


@dataclass(frozen=True)
class LevelTime:
    """How long a channel was above a level that a person named, between two moments.

    Attributes
    ----------
    channel, unit : str
        Of the channel; the level and the highest value are in its unit.
    begin_s, end_s : float
        Between which moments, [s].
    start_number : int or None
        Of the start that they are of; None for the recording, or for what a person chose.
    total_s, total_low_s, total_high_s : float
        The sum of all runs, with its bounds, [s]; no upper one where the recording's edge cuts a run.
    runs : int
    longest_s : float
    longest_begin_s, longest_end_s : float or None
        The longest run and when it was, [s].
    highest : float or None
        The highest sample between the two moments.
    """

    channel: str
    unit: str
    level: float
    begin_s: float
    end_s: float
    start_number: int | None
    total_s: float
    total_low_s: float
    total_high_s: float | None
    runs: int
    longest_s: float
    longest_begin_s: float | None
    longest_end_s: float | None
    highest: float | None


@dataclass(frozen=True)
class Start(_Picklable):
    """One start attempt. `begin_s`..`end_s` is the attempt, to `window_end_s` start limits apply.

    The scalar fuel and light-off fields are those of the last fuel period; `measures` holds everything
    else by name, and `evidence` what each was read from. `inferred` names the fields that no channel recorded directly.
    """

    number: int
    engine: int
    kind: StartKind
    outcome: Outcome
    begin_s: float
    end_s: float
    window_end_s: float
    starter_on_s: float | None = None
    starter_off_s: float | None = None
    fuel_on_s: float | None = None
    fuel_off_s: float | None = None
    light_off_s: float | None = None
    idle_s: float | None = None
    peak_itt_c: float | None = None
    peak_itt_s: float | None = None
    ng_at_fuel_pct: float | None = None
    ng_stable_at_fuel: bool | None = None
    max_motoring_ng_pct: float | None = None
    min_bus_volts: float | None = None
    rest_bus_volts: float | None = None
    residual_itt_c: float | None = None
    fuel_periods: tuple[FuelPeriod, ...] = ()
    starter_runs: tuple[StarterRun, ...] = ()
    measures: Mapping[str, Measure] = field(default_factory=lambda: _EMPTY)
    inferred: tuple[str, ...] = ()
    factors: tuple[Factor, ...] = ()
    time_above: TimeAbove | None = None
    notes: tuple[Sentence, ...] = ()
    """Sentences about this attempt that a reader must know, such as a starter bit that stayed on."""
    evidence: Mapping[str, MeasureEvidence] = field(default_factory=lambda: _EMPTY)
    """Of each measure by name: the samples, the profile's numbers and the formula."""


@dataclass(frozen=True)
class Phase:
    """A stretch of the flight: off, start, ground, takeoff, climb, cruise, descent, manoeuvring, landing, shutdown."""

    name: str
    start_s: float
    end_s: float


@dataclass(frozen=True)
class NotJudged:
    """Something the profile asks that could not be decided, and why.

    A `core` question leaves the verdict open; any other is a footnote to it.
    """

    what: str
    why: str
    limit_id: str | None = None
    channel: str | None = None
    start_s: float | None = None
    end_s: float | None = None
    engine: int = 1
    core: bool = False


@dataclass(frozen=True, eq=False)
class Assessment(_Picklable):
    """The result of `debrief.analysis.assess`: the one source of every number on screen and paper.

    Attributes
    ----------
    recording : Recording
        As scaled by the profile; all views use this one.
    profile : EngineProfile or None
        None when nothing named one: then there is no event and the verdict is ``undetermined``.
    levels_asked : tuple of LevelTime
        Time above levels that a person named; they change no event and no verdict.
    context : tuple of EarlierRun
        The earlier starter runs that the caller handed in.
    units : ShownUnits
        The units of all numbers: canonical, except in a copy that is made to be looked at.
    original : Assessment or None
        Of such a copy, the assessment that it was made from.
    """

    recording: Recording
    profile: EngineProfile | None
    starts: tuple[Start, ...]
    events: tuple[Event, ...]
    limits: tuple[LimitResult, ...]
    phases: tuple[Phase, ...]
    flight_measures: Mapping[str, Measure]
    not_judged: tuple[NotJudged, ...]
    quality: tuple[QualityFlag, ...]
    verdict: Verdict
    sentence: Sentence
    began_running: bool = False
    context: tuple[EarlierRun, ...] = ()
    levels_asked: tuple[LevelTime, ...] = ()
    units: ShownUnits = AS_COMPUTED
    original: Assessment | None = None
    flight_evidence: Mapping[str, MeasureEvidence] = field(default_factory=lambda: _EMPTY)
    """Of each measure of the flight by name: the samples, the profile's numbers and the formula."""
    flight: FlightLists = NO_LISTS
    """What is told of the flight as lists: steady windows, steps of load, margin, cycles."""
    left_out: tuple[LeftOut, ...] = ()
    """What was found beside `events`: counted, in the verdict and in the limits' results, but not listed."""

    @property
    def canonical(self) -> Assessment:
        """The assessment as it was computed: what files, the history and every computation take."""
        return self if self.original is None else self.original

    def names(self, engine: int = 1) -> ChannelNames:
        """Return what the recording calls the channels, those without a number being this engine's."""
        return self.recording.names.of_engine(engine)

    def start_count(self, engine: int) -> int:
        """Return how many starts an engine has here: the only one is not counted in words."""
        return sum(start.engine == engine for start in self.starts)

    def events_of(self, start: Start) -> tuple[Event, ...]:
        """Return the events of one start, in order of time."""
        return self._by_start[0].get((start.engine, start.number), ())

    def next_start(self, start: Start) -> Start | None:
        """Return the start of the same engine that follows, None after the last."""
        return self._by_start[1].get((start.engine, start.number + 1))

    @cached_property
    def _by_start(
        self,
    ) -> tuple[Mapping[tuple[int, int | None], tuple[Event, ...]], Mapping[tuple[int, int], Start]]:
        """Events and starts by engine and number: noise may make thousands of both."""
        events: dict[tuple[int, int | None], tuple[Event, ...]] = {}
        by_place = sorted(self.events, key=lambda e: (e.engine, e.start_number or 0))
        for place, own in groupby(by_place, key=lambda e: (e.engine, e.start_number)):
            events[place] = tuple(own)
        return events, {(start.engine, start.number): start for start in self.starts}


__all__ = [
    "Assessment",
    "CountedRuns",
    "Event",
    "EventClass",
    "Evidence",
    "Factor",
    "FuelPeriod",
    "LeftOut",
    "LevelResult",
    "LimitResult",
    "LimitWindow",
    "Measure",
    "MeasureEvidence",
    "NotJudged",
    "Outcome",
    "Phase",
    "Reading",
    "Result",
    "Severity",
    "Start",
    "StartKind",
    "StarterRun",
    "TimeAbove",
    "Verdict",
]
