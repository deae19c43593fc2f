"""The channels: one row each, from which every layer takes what it needs to know of them.

To add a channel, add its row here, the trade's names of its column in ``resources/lexicon.toml``, and a test with a made
file.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import Literal

from debrief.words.visible import visible

Role = Literal["speed", "temperature", "torque", "voltage", "ink"]
"""What a trace stands for: its colour in every theme and on paper."""


@dataclass(frozen=True)
class ChannelSpec:
    """What is known of a channel before anything was recorded.

    Attributes
    ----------
    name, unit : str
        Canonical name and unit. ``0/1`` and ``0/1/2`` are switches: they hold their last value between samples.
    words : str
        Its name for people.
    symbol : str
        The trade's short sign, where it has one.
    per_engine : bool
        Whether each engine has its own; a number after a point is then allowed (``itt.2``).
    role : str
        Of its trace.
    low, high : float
        What it can show at all, [unit]; outside it a value is not believed. Common practice, no source; wide on
        purpose.
    spike : float or None
        A single sample that leaves both neighbours by more than this, while they agree, is a spike, [unit]; None
        where the quantity may really do that.
    coarse_step : float or None
        Resolution above which the channel is called coarse, [unit].
    never_drops : bool
        It cannot fall to zero and come back within seconds while the engine runs.
    never_ends : bool
        It cannot stay at zero while the engine runs on.
    always_moves : bool
        It always moves a little while the engine runs.
    lowest_matters : bool
        Of its extremes the lowest is told, not the highest.
    gauge : int
        Its place among the instruments, or the switches, of the replay: below 10 it is always there, from 10 on where
        it was recorded, at 0 on request.
    lane : str
        The title of its standard lane; empty where it has none.
    lane_weight : float
        Its share of the height beside other lanes.
    others : tuple of (str, str)
        Signs by which recordings call it instead, each with the name that it stands for; their spellings are in the
        lexicon.
    """

    name: str
    unit: str
    words: str
    symbol: str = ""
    per_engine: bool = False
    role: Role = "ink"
    low: float = -math.inf
    high: float = math.inf
    spike: float | None = None
    coarse_step: float | None = None
    never_drops: bool = False
    never_ends: bool = False
    always_moves: bool = False
    lowest_matters: bool = False
    gauge: int = 0
    lane: str = ""
    lane_weight: float = 1.1
    others: tuple[tuple[str, str], ...] = ()

    @property
    def abbreviation(self) -> str:
        """Its abbreviation in the trade (ITT), by which it is called inside a sentence; empty where it has none."""
        return "" if self.symbol.lower() in self.words.lower() else self.symbol

    @property
    def is_discrete(self) -> bool:
        """Whether it is a switch."""
        return self.unit.startswith("0/1")


_ROWS = (
    ChannelSpec(
        "ng", "%", "Gas generator speed", "Ng", per_engine=True, role="speed", low=-2, high=130, spike=10,
        coarse_step=1.0, never_drops=True, never_ends=True, always_moves=True, gauge=2, lane="Speed",
        lane_weight=1.25,
    ),
    ChannelSpec(
        "np", "rpm", "Power turbine or propeller speed", "Np", per_engine=True, role="speed", low=-50, high=6000, spike=500,
        coarse_step=25, never_drops=True, never_ends=True, always_moves=True, gauge=10,
    ),
    ChannelSpec(
        "itt", "degC", "Interturbine temperature", "ITT", per_engine=True, role="temperature", low=-80, high=1700,
        spike=150, coarse_step=5.0, never_drops=True, never_ends=True, always_moves=True, gauge=1,
        lane="Temperature", lane_weight=2.5,
        others=(
            ("EGT", "Exhaust gas temperature"), ("TIT", "Turbine inlet temperature"), ("T4.5", "Temperature T4.5"),
            ("TOT", "Turbine outlet temperature"), ("TGT", "Turbine gas temperature"), ("MGT", "Measured gas temperature"),
            ("JPT", "Jet pipe temperature"), ("T5", "Temperature T5"),
        ),
    ),
    ChannelSpec(
        "torque", "%", "Torque", "Torque", per_engine=True, role="torque", low=-50, high=250, coarse_step=2.0,
        always_moves=True, gauge=4, lane="Torque", lane_weight=1.2,
    ),
    ChannelSpec(
        "fuel_flow", "kg/h", "Fuel flow", per_engine=True, low=-5, high=3000, coarse_step=10.0,
        never_drops=True, never_ends=True, always_moves=True, gauge=14,
    ),
    ChannelSpec(
        "bus_volts", "V", "Bus voltage", "Bus", role="voltage", low=-1, high=60, coarse_step=0.5,
        never_drops=True, never_ends=True, always_moves=True, lowest_matters=True, gauge=3,
        lane="Voltage", lane_weight=1.05,
    ),
    ChannelSpec("battery_amps", "A", "Battery current", low=-3000, high=3000, coarse_step=25, always_moves=True),
    ChannelSpec(
        "generator_amps", "A", "Generator current", per_engine=True, low=-3000, high=3000, coarse_step=25,
        always_moves=True,
    ),
    ChannelSpec("starter", "0/1", "Starter", per_engine=True, gauge=1),
    ChannelSpec("ignition", "0/1", "Ignition", per_engine=True, gauge=2),
    ChannelSpec("fuel_on", "0/1", "Fuel", per_engine=True, gauge=3),
    ChannelSpec("power_lever", "%", "Power lever", per_engine=True, low=-60, high=150),
    ChannelSpec("prop_lever", "%", "Propeller lever", per_engine=True, low=-60, high=150),
    ChannelSpec("blade_angle", "deg", "Blade angle", per_engine=True, low=-45, high=95),
    ChannelSpec(
        "oil_temp", "degC", "Oil temperature", "Oil temp", per_engine=True, role="temperature", low=-70, high=250,
        spike=15, coarse_step=5.0, never_drops=True, never_ends=True, gauge=12,
    ),
    ChannelSpec(
        "oil_press", "psi", "Oil pressure", "Oil press", per_engine=True, role="torque", low=-5, high=400, spike=60,
        coarse_step=5.0, never_drops=True, never_ends=True, always_moves=True, lowest_matters=True,
        gauge=13,
    ),
    ChannelSpec("fuel_press", "psi", "Fuel pressure", per_engine=True, low=-5, high=2000),
    ChannelSpec("external_power", "0/1", "External power", gauge=10),
    ChannelSpec(
        "ias", "kt", "Indicated airspeed", "IAS", low=-5, high=600, spike=60, coarse_step=5.0, never_drops=True,
        gauge=11,
    ),
    ChannelSpec("gs", "kt", "Ground speed", low=-5, high=700, spike=60),
    ChannelSpec(
        "palt", "ft", "Pressure altitude", low=-2500, high=65000, spike=1500, coarse_step=200, never_drops=True
    ),
    ChannelSpec(
        "altitude", "ft", "Altitude", low=-2500, high=65000, spike=1500, coarse_step=200, never_drops=True
    ),
    ChannelSpec("vs", "ft/min", "Vertical speed", low=-30000, high=30000),
    ChannelSpec("oat", "degC", "Outside air temperature", "OAT", low=-95, high=75, spike=15, coarse_step=5.0),
    ChannelSpec("heading", "deg", "Heading", low=-360, high=360.5),
    ChannelSpec("track", "deg", "Track", low=-360, high=360.5),
    ChannelSpec("wind_speed", "kt", "Wind speed", low=-0.5, high=250),
    ChannelSpec("wind_from", "deg", "Wind from", low=-360, high=360.5),
    ChannelSpec("bleed", "0/1/2", "Bleed", per_engine=True, gauge=12),
    ChannelSpec("separator", "0/1", "Separator", per_engine=True, gauge=13),
    ChannelSpec("generator_on", "0/1", "Generator", per_engine=True, gauge=11),
    ChannelSpec("weight_on_wheels", "0/1", "Weight on wheels", gauge=14),
    ChannelSpec("lat", "deg", "Latitude", low=-90, high=90),
    ChannelSpec("lon", "deg", "Longitude", low=-180, high=360),
)  # fmt: skip

CHANNELS: Mapping[str, ChannelSpec] = MappingProxyType({row.name: row for row in _ROWS})
"""By canonical name, in the order of the documentation."""

CANONICAL: Mapping[str, str] = MappingProxyType({name: row.unit for name, row in CHANNELS.items()})
"""Canonical channel name to canonical unit. A second engine's channel carries its number: ``itt.2``."""

ENGINE_CHANNELS = frozenset(row.name for row in _ROWS if row.per_engine)
"""Channels that belong to one engine, so that a number after a point is allowed."""

DISCRETE = frozenset(row.name for row in _ROWS if row.is_discrete)
"""Channels that hold their last value between samples instead of a straight line."""


def base_name(name: str) -> str:
    """Return the canonical name without the engine number: ``itt.2`` gives ``itt``."""
    return name.partition(".")[0]


JOINED = MappingProxyType({"mean": "mean of the probes", "highest": "highest of the probes"})
"""Ways to make one channel of several probes, as they stand behind its name (``itt.mean``), with their words."""

JOINABLE = frozenset(row.name for row in _ROWS if row.unit == "degC")
"""Channels that several probes may measure together."""


def joined_way(name: str) -> tuple[str, str]:
    """Return the channel that a probe is a part of, and how it is made of its probes; no way for a channel itself.

    Examples
    --------
    >>> joined_way("itt.mean"), joined_way("itt.2.highest"), joined_way("itt.2")
    (('itt', 'mean'), ('itt.2', 'highest'), ('itt.2', ''))
    """
    whole, point, way = name.rpartition(".")
    return (whole, way) if point and way in JOINED else (name, "")


def spec_of(name: str) -> ChannelSpec | None:
    """Return what is known of a channel, whichever engine it is of; None for a column that no channel matched."""
    return CHANNELS.get(base_name(name))


def usual_weight(name: str) -> float:
    """Return the share of the height that a channel's lane has beside others."""
    row = spec_of(name)
    return ChannelSpec.lane_weight if row is None else row.lane_weight


def named(which: str) -> tuple[str, ...]:
    """Return the names of the channels of which an attribute is true, in order."""
    return tuple(name for name, row in CHANNELS.items() if getattr(row, which))


@dataclass(frozen=True)
class ChannelNames:
    """What the channels are called: by the trade's usual names, or by a recording's own where it has others.

    Attributes
    ----------
    own : mapping of (str, int) to str
        Of a channel, by canonical name and engine, the sign that its column has: one of `ChannelSpec.others`.
    engine : int
        Whose channel is meant by a name without a number.
    """

    own: Mapping[tuple[str, int], str] = field(default_factory=dict)
    engine: int = 1

    def of_engine(self, engine: int) -> ChannelNames:
        """Return the names where a channel without a number is this engine's."""
        return self if engine == self.engine else replace(self, engine=engine)

    def _own(self, base: str, number: str) -> str:
        return self.own.get((base, int(number) if number.isdigit() else self.engine), "")

    def words(self, name: str) -> str:
        """Return the channel's name in words, with the engine's number where it has one."""
        whole, way = joined_way(name)
        base, _, engine = whole.partition(".")
        row = CHANNELS.get(base)
        if row is None:
            return visible(name)  # a column's own, whatever its points mean
        words = dict(row.others).get(self._own(base, engine), row.words)
        return ", ".join(filter(None, (words, engine and f"engine {engine}", JOINED.get(way, ""))))

    def in_text(self, name: str, *, begins: bool = False) -> str:
        """Return what a channel is called inside a sentence, or where one begins: ``ITT``, ``oil temperature``."""
        base, _, engine = name.partition(".")
        row = CHANNELS.get(base)
        if row is None:
            return visible(name)
        sign = self._own(base, engine) or row.abbreviation
        words = sign or (row.words if begins else within_sentence(row.words))
        return f"{words} of engine {engine}" if engine else words

    def symbol(self, name: str) -> str:
        """Return the short trade symbol of a channel (``Ng``, ``ITT``), else its name in words."""
        base, _, engine = name.partition(".")
        row = CHANNELS.get(base)
        if row is None:
            return visible(name)
        words = self._own(base, engine) or row.symbol or row.words
        return f"{words} {engine}" if engine else words

    @property
    def itt(self) -> str:
        """What the temperature is called inside a sentence: ``ITT``, or the recording's own ``EGT``."""
        return self.symbol("itt")


USUAL_NAMES = ChannelNames()
"""The trade's usual names, where no recording has its own."""


def channel_words(name: str) -> str:
    """Return the channel's usual name in words, with the engine's number where it has one."""
    return USUAL_NAMES.words(name)


def channel_in_text(name: str, *, begins: bool = False) -> str:
    """Return what a channel is usually called inside a sentence, or where one begins: ``ITT``, ``oil temperature``."""
    return USUAL_NAMES.in_text(name, begins=begins)


def channel_symbol(name: str) -> str:
    """Return the usual short symbol of a channel (``Ng``, ``ITT``), else its name in words."""
    return USUAL_NAMES.symbol(name)


_ABBREVIATIONS = frozenset(
    sign for row in _ROWS for sign in (row.abbreviation, *(other for other, _ in row.others)) if sign
)


def within_sentence(words: str) -> str:
    """Return the beginning of a sentence, or a title, as it stands inside one: abbreviations keep their letters.

    Examples
    --------
    >>> within_sentence("Hung start"), within_sentence("ITT at fuel on")
    ('hung start', 'ITT at fuel on')
    """
    first = words.partition(" ")[0]
    is_name = first in _ABBREVIATIONS or first[1:2].isupper()
    return words if is_name else words[:1].lower() + words[1:]


def instruments(*, switches: bool) -> tuple[tuple[str, bool], ...]:
    """Return the channels with an instrument in the replay, in order, and whether each is always there."""
    rows = sorted(
        (row for row in _ROWS if row.gauge and row.is_discrete == switches), key=lambda row: row.gauge
    )
    return tuple((row.name, row.gauge < 10) for row in rows)
