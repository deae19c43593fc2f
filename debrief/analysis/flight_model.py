"""What is told of the flight as lists: steady windows, steps of load, the curve of margin, counted cycles."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class SteadyWindow:
    """A stretch of steady running: the mean of each channel in it, None where it is not known, and `why` by field.

    Attributes
    ----------
    start_s, end_s : float
        Of the stretch that the means are of: its first 60 s, in which temperatures settle, are left out, [s].
    pressure_altitude_ft, density_altitude_ft : float or None
        [ft].
    oat_c, isa_deviation_c : float or None
        Static air temperature and its difference from the standard atmosphere, [degC].
    ias_kt : float or None
    torque, ng : float or None
        [%].
    np : float or None
        [rpm].
    itt : float or None
        [degC].
    fuel_flow : float or None
        [kg/h].
    referred_ng, referred_itt, referred_torque, referred_fuel_flow : float or None
        Ng/sqrt(theta) [%], ITT_K/theta as [degC], torque/delta [%], fuel flow/(delta sqrt(theta)) [kg/h]; theta and
        delta of the total conditions at the intake.
    itt_margin_c : float or None
        The lowest level of severity `limit` of a running ITT limit, less `itt`, [degC].
    bleed, separator, generator : bool or None
        Whether it was on.
    generator_load : float or None
        [A].
    samples : int
        Rows of ITT (else Ng) in the window.
    """

    engine: int
    start_s: float
    end_s: float
    phase: str | None = None
    pressure_altitude_ft: float | None = None
    oat_c: float | None = None
    isa_deviation_c: float | None = None
    density_altitude_ft: float | None = None
    ias_kt: float | None = None
    torque: float | None = None
    ng: float | None = None
    np: float | None = None
    itt: float | None = None
    fuel_flow: float | None = None
    referred_ng: float | None = None
    referred_itt: float | None = None
    referred_torque: float | None = None
    referred_fuel_flow: float | None = None
    itt_margin_c: float | None = None
    bleed: bool | None = None
    separator: bool | None = None
    generator: bool | None = None
    generator_load: float | None = None
    samples: int = 0
    why: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Change:
    """By how much a value changed, with its 95 % interval (Welch's, on means of one second each)."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class LoadStep:
    """One change of a load on the engine. `changes` is empty where it was not steady, and `why`.

    Attributes
    ----------
    kind : str
        ``bleed``, ``separator``, ``generator_on`` or ``generator_load``.
    on : bool or float
        Whether it came on; of ``generator_load`` by how many amperes it rose.
    changes : mapping of str to Change
        Of ``itt`` [degC], ``ng`` [%], ``torque`` [%], ``bus_volts`` [V]: what is recorded of them.
    """

    engine: int
    kind: str
    time_s: float
    on: bool | float
    changes: Mapping[str, Change] = field(default_factory=dict)
    why: str | None = None


@dataclass(frozen=True, slots=True)
class MarginPoint:
    """The least ITT margin in one class of density altitude at climb or cruise power.

    Attributes
    ----------
    density_altitude_ft : float
        Lower edge of the class; it is 500 ft wide.
    itt_margin_c : float
        [degC].
    time_s : float
        When it was, [s].
    """

    engine: int
    density_altitude_ft: float
    itt_margin_c: float
    time_s: float


@dataclass(frozen=True, slots=True)
class CycleClass:
    """How many rainflow cycles (ASTM E1049) of a channel had a range in one class; half cycles count one half.

    Attributes
    ----------
    channel : str
        ``ng`` (classes of 10 %) or ``itt`` (classes of 50 degC).
    range_from, range_to : float
        Of the class, in the channel's unit.
    """

    engine: int
    channel: str
    range_from: float
    range_to: float
    cycles: float


@dataclass(frozen=True, slots=True)
class TwinDifference:
    """The second engine less the first, in a stretch that is steady for both. None where one of them is not known."""

    start_s: float
    end_s: float
    engines: tuple[int, int]
    referred_itt: float | None
    referred_ng: float | None


@dataclass(frozen=True, slots=True)
class PowerCheck:
    """The engine in one steady window against the chart of the profile.

    Attributes
    ----------
    name : str
        Of the chart in the profile.
    channel : str
        ``itt`` or ``ng``: what the chart gives the highest value of.
    measured, allowed, margin : float or None
        [degC] or [%]; margin is allowed less measured. None outside the chart, and `why`: nothing is extrapolated.
    """

    engine: int
    name: str
    channel: str
    start_s: float
    end_s: float
    torque: float | None
    pressure_altitude_ft: float | None
    oat_c: float | None
    measured: float | None
    allowed: float | None
    margin: float | None
    why: str | None = None


@dataclass(frozen=True)
class FlightLists:
    """All lists of one recording, of all engines, each in order of time (counts: by class)."""

    steady: tuple[SteadyWindow, ...] = ()
    load_steps: tuple[LoadStep, ...] = ()
    margin_curve: tuple[MarginPoint, ...] = ()
    cycles: tuple[CycleClass, ...] = ()
    twins: tuple[TwinDifference, ...] = ()
    power_checks: tuple[PowerCheck, ...] = ()


NO_LISTS = FlightLists()
