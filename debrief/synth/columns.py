"""The channels that the recorder can write, and the units it can write them in."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

DISCRETES = (
    "starter",
    "ignition",
    "fuel_on",
    "generator_on",
    "external_power",
    "weight_on_wheels",
    "bleed",
    "separator",
)
"""On/off channels."""

# Model's unit family to (unit written, factor, offset).
_FAMILIES: Mapping[str, tuple[tuple[str, float, float], ...]] = MappingProxyType(
    {
        "%": (("%", 1.0, 0.0),),
        "gas generator": (("%", 1.0, 0.0), ("rpm", 386.0, 0.0)),
        "propeller": (("rpm", 1.0, 0.0), ("%", 100.0 / 1900.0, 0.0)),
        "degC": (("degC", 1.0, 0.0), ("C", 1.0, 0.0), ("degF", 1.8, 32.0)),
        "kg/h": (("kg/h", 1.0, 0.0), ("lb/h", 2.2046226, 0.0)),
        "V": (("V", 1.0, 0.0),),
        "A": (("A", 1.0, 0.0),),
        "psi": (("psi", 1.0, 0.0), ("bar", 0.0689476, 0.0)),
        "kt": (("kt", 1.0, 0.0),),
        "ft": (("ft", 1.0, 0.0), ("m", 0.3048, 0.0)),
        "deg": (("deg", 1.0, 0.0),),
    }
)

_FAMILY_OF: Mapping[str, str] = MappingProxyType(
    {
        "ng": "gas generator", "itt": "degC", "fuel_flow": "kg/h", "bus_volts": "V", "battery_amps": "A",
        "generator_amps": "A", "np": "propeller", "torque": "%", "oil_temp": "degC", "oil_press": "psi",
        "power_lever": "%", "ias": "kt", "palt": "ft", "oat": "degC", "heading": "deg", "wind_speed": "kt",
        "wind_from": "deg",
    }
)  # fmt: skip

UNITS: Mapping[tuple[str, str], tuple[float, float]] = MappingProxyType(
    {
        (channel, unit): (factor, offset)
        for channel, family in _FAMILY_OF.items()
        for unit, factor, offset in _FAMILIES[family]
    }
)
"""(channel, unit) to the factor and offset that turn the model's unit into it."""

CHANNELS = (*_FAMILY_OF, *DISCRETES)
"""Every channel that a column can hold."""


def units_of(channel: str) -> tuple[str, ...]:
    """Return the units that a channel can be written in; none for an on/off channel."""
    return tuple(unit for name, unit in UNITS if name == channel)
