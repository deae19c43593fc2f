"""What each channel can show at all, in its canonical unit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True)
class Plausible:
    """What a channel can show at all.

    Attributes
    ----------
    low, high : float
        Physical range in the canonical unit; outside it a value is not believed.
    spike : float or None
        A single sample that leaves both neighbours by more than this, while they agree, is a spike; None
        where the quantity may really do that.
    coarse_step : float or None
        Resolution above which the channel is called coarse.
    """

    low: float
    high: float
    spike: float | None = None
    coarse_step: float | None = None


PLAUSIBLE: Mapping[str, Plausible] = MappingProxyType(
    {
        "ng": Plausible(-2, 130, 10, 1.0),
        "np": Plausible(-50, 6000, 500, 25),
        "itt": Plausible(-80, 1700, 150, 5.0),
        "torque": Plausible(-50, 250, None, 2.0),
        "fuel_flow": Plausible(-5, 3000, None, 10.0),
        "bus_volts": Plausible(-1, 60, None, 0.5),
        "battery_amps": Plausible(-3000, 3000, None, 25),
        "generator_amps": Plausible(-3000, 3000, None, 25),
        "power_lever": Plausible(-60, 150),
        "prop_lever": Plausible(-60, 150),
        "blade_angle": Plausible(-45, 95),
        "oil_temp": Plausible(-70, 250, 15, 5.0),
        "oil_press": Plausible(-5, 400, 60, 5.0),
        "fuel_press": Plausible(-5, 2000),
        "ias": Plausible(-5, 600, 60, 5.0),
        "gs": Plausible(-5, 700, 60),
        "palt": Plausible(-2500, 65000, 1500, 200),
        "altitude": Plausible(-2500, 65000, 1500, 200),
        "vs": Plausible(-30000, 30000),
        "oat": Plausible(-95, 75, 15, 5.0),
        "heading": Plausible(-360, 360.5),
        "track": Plausible(-360, 360.5),
        "wind_speed": Plausible(-0.5, 250),
        "wind_from": Plausible(-360, 360.5),
        "lat": Plausible(-90, 90),
        "lon": Plausible(-180, 360),
    }
)
"""Common practice, no source; wide on purpose."""


ZERO = {"degF": -160.0 / 9.0, "K": -273.15}
"""What a zero in the file has become in the canonical unit."""
