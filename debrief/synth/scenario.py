"""Values of a scenario: what the crew does, what fails, the day, and how the recorder writes it down."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from debrief.synth.engine_model import Battery, Initial


@dataclass(frozen=True)
class Action:
    """The crew moves `what` to `value` at `at_s`: 1 on, 0 off; % of the lever, amperes of the generator."""

    at_s: float
    what: str
    value: float


@dataclass(frozen=True)
class Fault:
    """A failure between two times.

    `factor` is the metering's (1 is right); `flow_kg_h` passes a valve that should be shut, [kg/h].
    """

    kind: str
    from_s: float
    to_s: float
    factor: float = 1.0
    flow_kg_h: float = 0.0


@dataclass(frozen=True)
class TrackPoint:
    """Airspeed, [kt], pressure altitude, [ft], and heading, [deg], at a time; smooth in between."""

    at_s: float
    ias_kt: float
    palt_ft: float
    heading_deg: float


@dataclass(frozen=True)
class Ambient:
    """Conditions at the field: `palt_ft` is its pressure altitude; wind in degrees true and knots."""

    oat_c: float = 15.0
    palt_ft: float = 0.0
    heading_deg: float = 0.0
    wind_from_deg: float = 0.0
    wind_speed_kt: float = 0.0


@dataclass(frozen=True)
class Column:
    """One column of the recording.

    `rate_hz` divides the recorder's row rate; other rows stay blank. `unit` is one that
    `debrief.synth.recorder` converts to. `words` are what 0 and 1 read as for an on/off column. `blank`
    are (from, to) seconds in which the recorder lost the signal; `spikes` are (time, value) where one
    sample came out wrong, in the column's unit: the sample at or after that time.
    """

    channel: str
    header: str
    unit: str
    rate_hz: float
    resolution: float
    noise: float
    words: tuple[str, ...] = ()
    blank: tuple[tuple[float, float], ...] = ()
    spikes: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Recorder:
    """How the file is written."""

    columns: tuple[Column, ...]
    rate_hz: float = 4.0
    delimiter: str = ","
    decimal: str = "."
    time_format: str = "elapsed"
    time_header: str = "Time (s)"
    units_row: bool = False
    bom: bool = False
    preamble: tuple[str, ...] = ()


@dataclass(frozen=True)
class TruthRequest:
    """Which levels the truth is asked for: channel to levels. Idle is this speed held for three seconds."""

    idle_ng_pct: float = 57.0
    start_levels: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    running_levels: Mapping[str, tuple[float, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class Scenario:
    """A whole invented flight."""

    title: str
    about: str
    seed: int
    duration_s: float
    start: datetime
    recorder: Recorder
    aircraft: str = "ZZ-TRN"
    engine_serial: str = "TG7-118"
    engine_model: str = "TG-7"
    profile: str = "tarn-tg7"
    ambient: Ambient = Ambient()
    battery: Battery = field(default_factory=Battery)
    initial: Initial = field(default_factory=Initial)
    idle_ng_pct: float = 60.0
    starter_cutout_ng_pct: float = 42.0
    actions: tuple[Action, ...] = ()
    faults: tuple[Fault, ...] = ()
    track: tuple[TrackPoint, ...] = ()
    truth: TruthRequest = TruthRequest()
