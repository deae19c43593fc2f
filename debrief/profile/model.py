"""Value types of an engine profile. Every key that the file left out is None: it is not judged."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import PurePath
from types import MappingProxyType
from typing import Any, Literal, get_args

from debrief.recording.model import Recording
from debrief.words.channels import base_name
from debrief.words.display_units import AS_COMPUTED, ShownUnits
from debrief.words.visible import visible

When = Literal["start", "running", "ground", "airborne", "any"]
Count = Literal["total", "longest"]


@dataclass(frozen=True)
class StartRules:
    """The ``[start]`` table. Units are in the names; None means absent, so not judged."""

    min_fuel_ng_pct: float | None = None
    advised_fuel_ng_pct: float | None = None
    stable_ng_rate_pct_per_s: float | None = None
    stable_for_s: float | None = None
    stopped_ng_pct: float | None = None
    idle_ng_pct: float | None = None
    idle_tolerance_pct: float | None = None
    light_off_within_s: float | None = None
    light_off_rise_c: float | None = None
    idle_within_s: float | None = None
    hung_ng_rate_pct_per_s: float | None = None
    hung_for_s: float | None = None
    start_window_max_s: float | None = None
    nominal_bus_volts: float | None = None
    min_bus_volts_before: float | None = None
    min_bus_volts: float | None = None
    max_residual_itt_c: float | None = None
    max_engage_ng_pct: float | None = None
    after_cut_rise_c: float | None = None
    purge_s: float | None = None
    fuel_control: Literal["manual", "automatic"] | None = None
    air_starts: Literal["as_ground", "not_judged"] | None = None

    @property
    def at_idle_pct(self) -> float | None:
        """Ng from which on the engine is at idle: idle less its tolerance, [%]; None without idle."""
        return None if self.idle_ng_pct is None else self.idle_ng_pct - (self.idle_tolerance_pct or 0.0)


@dataclass(frozen=True)
class DutyRow:
    """One starter run's limit and the rest wanted after it, [s]."""

    run_s: float
    rest_s: float


@dataclass(frozen=True)
class StarterRules:
    """The ``[starter]`` table. An empty tuple means absent."""

    duty: tuple[DutyRow, ...] = ()
    external_duty: tuple[DutyRow, ...] = ()
    reset_after_s: float | None = None
    reset_counts: Literal["rest", "successful_start"] = "rest"


@dataclass(frozen=True)
class AbortRules:
    """The ``[abort]`` table."""

    motor_for_s: float | None = None
    motor_until_itt_c: float | None = None


@dataclass(frozen=True)
class FactorRules:
    """The ``[factors]`` table: from these values on something counts as contributing."""

    tailwind_kt: float | None = None
    oat_c: float | None = None
    density_altitude_ft: float | None = None


OatIs = Literal["static_air", "total_air"]
OAT_IS: tuple[OatIs, ...] = get_args(OatIs)


@dataclass(frozen=True)
class FlightRules:
    """The ``[flight]`` table; `avoided_np_rpm` are the bands of Np to be avoided, rising, [rpm].

    `oat_is` says whether the recorded OAT is static air temperature, or total as it is with the ram rise.
    """

    airborne_ias_kt: float | None = None
    flight_gate_power_lever_pct: float | None = None
    reverse_gate_power_lever_pct: float | None = None
    avoided_np_rpm: tuple[tuple[float, float], ...] | None = None
    oat_is: OatIs | None = None


@dataclass(frozen=True)
class ShutdownRules:
    """The ``[shutdown]`` table: how long the engine is to be at rest, by ITT or at idle, before its fuel is cut."""

    settle_itt_c: float | None = None
    settle_s: float | None = None


@dataclass(frozen=True)
class LifeRules:
    """The ``[life]`` table.

    `cycle_factor` is the part of a cycle that each further take-off between a start and its shutdown counts.
    `reference_itt_c` and `larson_miller_c` are what the use of the hot section is held against; `reference_life_h` is
    the life that belongs to them.
    """

    cycle_factor: float | None = None
    reference_itt_c: float | None = None
    larson_miller_c: float | None = None
    reference_life_h: float | None = None


@dataclass(frozen=True)
class PowerPoint:
    """One point of a power check chart: torque [%], pressure altitude [ft], OAT [degC], and the highest value there."""

    torque: float
    pressure_altitude_ft: float
    oat_c: float
    highest: float


@dataclass(frozen=True)
class PowerChart:
    """One ``[[power_check]]`` table.

    `channel` is ``itt`` or ``ng``: what the points give the highest value of, in `unit`, the channel's canonical one.
    """

    name: str
    channel: Literal["itt", "ng"]
    unit: str
    points: tuple[PowerPoint, ...]
    reference: str | None = None
    bleed: Literal["on", "off"] | None = None
    """What it is for; None for either."""
    separator: Literal["on", "off"] | None = None

    @property
    def axes(self) -> tuple[tuple[float, ...], tuple[float, ...], tuple[float, ...]]:
        """The torques [%], pressure altitudes [ft] and temperatures [degC] of the points, each rising."""
        return (
            tuple(sorted({p.torque for p in self.points})),
            tuple(sorted({p.pressure_altitude_ft for p in self.points})),
            tuple(sorted({p.oat_c for p in self.points})),
        )


@dataclass(frozen=True)
class Gauge:
    """Markings of one gauge, in the canonical unit of the channel it is named after (no engine number)."""

    channel: str
    unit: str
    range: tuple[float, float]
    green: tuple[tuple[float, float], ...] = ()
    yellow: tuple[tuple[float, float], ...] = ()
    red: tuple[tuple[float, float], ...] = ()
    red_lines: tuple[float, ...] = ()


@dataclass(frozen=True)
class AllowedRow:
    """Beyond `level` no longer than `seconds`; `severity` is ``limit`` or ``caution``."""

    level: float
    seconds: float
    severity: Literal["limit", "caution"] = "limit"


@dataclass(frozen=True)
class WhereCondition:
    """Holds while the channel is above, below or equal to a value (the one that is not None)."""

    channel: str
    above: float | None = None
    below: float | None = None
    equals: float | None = None


@dataclass(frozen=True)
class Band:
    """A band of the manual's chart: its lower edge as (level, seconds) points, straight between them."""

    name: str
    points: tuple[tuple[float, float], ...]
    action: str = ""


@dataclass(frozen=True)
class Limit:
    """One ``[[limits]]`` table.

    `channel` has no engine number; levels are in `unit`, which is the channel's canonical unit whatever
    unit the file used. `below` is True when the limit is a minimum; `allowed` is ordered from the mildest
    level to the worst.
    """

    id: str
    event: str
    channel: str
    when: When
    unit: str
    count: Count
    allowed: tuple[AllowedRow, ...]
    below: bool = False
    rejoin_s: float = 2.0
    where: tuple[WhereCondition, ...] = ()
    phases: tuple[str, ...] = ()
    after_takeoff_s: float | None = None
    outside_takeoff_s: float | None = None
    reference: str | None = None
    band_method: Literal["peak_vs_time_above", "curve"] | None = None
    band_base: float | None = None
    bands: tuple[Band, ...] = ()


_EMPTY: Mapping[str, Any] = MappingProxyType({})


@dataclass(frozen=True)
class EngineProfile:
    """What is allowed for one engine installation.

    Attributes
    ----------
    entered_by, entered_on, checked_by, checked_on : str
        Who entered the numbers and who checked them against the source, each with the date as YYYY-MM-DD; empty where
        it is not said.
    reference_rpm : mapping of str to float
        What 100 % is, for ``ng`` and ``np``, [rpm].
    reference_torque : (float, str) or None
        What 100 % torque is, with its unit.
    max_rate : mapping of str to float
        Per channel the fastest change that this engine can really make, [unit/s]; beyond it a single
        sample is a spike.
    lines : mapping of str to int
        Line of each key path in the file, such as ``start.min_fuel_ng_pct`` or ``limits.itt-start``, for
        "why?".
    sha256, path
        Of the file it was read from.
    text : str
        The file itself, so that a line of it can be looked up when the file has long been changed.
    namesake : str
        The name of the shipped profile for which this one, which is another, may be taken; empty where there is none.
    units : ShownUnits
        The units of all numbers: canonical, except in a copy that is made to be looked at.
    """

    name: str
    revision: str = ""
    aircraft: str = ""
    source: str = ""
    approved_data: bool = False
    entered_by: str = ""
    entered_on: str = ""
    checked_by: str = ""
    checked_on: str = ""
    engines: tuple[str, ...] = ()
    reference_rpm: Mapping[str, float] = field(default_factory=lambda: _EMPTY)
    reference_torque: tuple[float, str] | None = None
    start: StartRules = StartRules()
    starter: StarterRules = StarterRules()
    abort: AbortRules = AbortRules()
    factors: FactorRules = FactorRules()
    flight: FlightRules = FlightRules()
    shutdown: ShutdownRules = ShutdownRules()
    life: LifeRules = LifeRules()
    power_checks: tuple[PowerChart, ...] = ()
    gauges: Mapping[str, Gauge] = field(default_factory=lambda: _EMPTY)
    limits: tuple[Limit, ...] = ()
    max_rate: Mapping[str, float] = field(default_factory=lambda: _EMPTY)
    sha256: str = ""
    path: str = ""
    text: str = field(default="", repr=False)
    namesake: str = ""
    lines: Mapping[str, int] = field(default_factory=lambda: _EMPTY)
    units: ShownUnits = AS_COMPUTED

    @property
    def file_name(self) -> str:
        """Name of the file without its folder, visible; empty where it came from none."""
        return visible(PurePath(self.path).name)

    def __getstate__(self) -> dict[str, Any]:
        """Return a picklable state: mapping proxies do not pickle."""
        return {k: dict(v) if isinstance(v, MappingProxyType) else v for k, v in self.__dict__.items()}

    def __setstate__(self, state: Mapping[str, Any]) -> None:
        """Restore from a pickle."""
        for key, value in state.items():
            object.__setattr__(self, key, MappingProxyType(value) if isinstance(value, dict) else value)

    def apply(self, recording: Recording) -> Recording:
        """Return the recording with speeds and torque scaled to percent by this profile's references.

        A channel whose unit is already canonical, or whose reference the profile does not give, is left
        as it is. ``np`` is canonical in rpm: a propeller speed recorded in % becomes rpm.
        """
        from debrief.words.units import torque_factor

        channels = dict(recording.channels)
        changed = False
        for name, channel in recording.channels.items():
            base = base_name(name)
            factor = None
            unit = channel.unit
            if base == "ng" and unit == "rpm" and "ng" in self.reference_rpm:
                factor, unit = 100.0 / self.reference_rpm["ng"], "%"
            elif base == "np" and unit == "%" and "np" in self.reference_rpm:
                factor, unit = self.reference_rpm["np"] / 100.0, "rpm"
            elif base == "torque" and unit != "%" and self.reference_torque is not None:
                value, reference_unit = self.reference_torque
                to_reference = torque_factor(unit, reference_unit)
                if to_reference is not None:
                    factor, unit = 100.0 * to_reference / value, "%"
            if factor is not None:
                resolution = None if channel.resolution is None else channel.resolution * factor
                channels[name] = replace(
                    channel, unit=unit, values=channel.values * factor, resolution=resolution
                )
                changed = True
        return recording.with_channels(channels) if changed else recording
