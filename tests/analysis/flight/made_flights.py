"""Flights with known phases, as a person would tell them. No test module, only what tests share."""

from __future__ import annotations

import numpy as np

from debrief.profile.model import EngineProfile, FlightRules
from debrief.recording.model import Channel, Recording
from debrief.words.channels import CANONICAL, DISCRETE, base_name
from tests.analysis.recording_making import PROFILE, Corners

FLYING = EngineProfile("Flying", start=PROFILE.start, flight=FlightRules(airborne_ias_kt=68.0))
FIELD_FT = 500.0
DEVIATIONS = {
    "palt": 15.0,
    "ias": 1.5,
    "ng": 0.1,
    "itt": 1.5,
    "torque": 0.4,
    "oat": 0.2,
    "vs": 100.0,
    "bus_volts": 0.05,
}
"""Of the noise of one reading at strength 1."""


class Course:
    """A flight drawn leg by leg: time, height and airspeed at its corners, wheels and named stretches."""

    def __init__(self) -> None:
        self.time_s = 0.0
        self.palt: list[tuple[float, float]] = [(0.0, FIELD_FT)]
        self.ias: list[tuple[float, float]] = [(0.0, 0.0)]
        self.wheels: list[tuple[float, float]] = [(0.0, 1.0)]

    def to(self, seconds: float, palt: float | None = None, ias: float | None = None) -> Course:
        """Go on for so long, straight to this height and airspeed."""
        self.time_s += seconds
        self.palt.append((self.time_s, self.palt[-1][1] if palt is None else palt))
        self.ias.append((self.time_s, self.ias[-1][1] if ias is None else ias))
        return self

    def on_wheels(self, value: float) -> Course:
        """Put weight on wheels from here on, or take it off."""
        self.wheels.append((self.time_s, value))
        return self

    def take_off(self) -> Course:
        """Taxi for two minutes and take off to 100 kt."""
        self.to(120.0, ias=0.0).to(15.0, ias=75.0).on_wheels(0.0)
        return self.to(10.0, self.palt[-1][1] + 100.0, 100.0)

    def land(self, field: float = FIELD_FT) -> Course:
        """Touch down from where it is in 40 s at 80 kt, and taxi in."""
        self.to(40.0, field, 80.0).on_wheels(1.0).to(5.0, ias=64.0)
        return self.to(20.0, ias=20.0).to(100.0, ias=0.0)

    def corners(self, wheels: bool = True) -> dict[str, Corners]:
        """Return the corners of a running engine on this course."""
        out: dict[str, Corners] = {
            "ng": [(0, 65), (self.time_s, 65)],
            "itt": [(0, 550), (self.time_s, 550)],
            "fuel_on": [(0, 1)],
            "starter": [(0, 0)],
            "ias": self.ias,
            "palt": self.palt,
        }
        return out | ({"weight_on_wheels": self.wheels} if wheels else {})


def recorded(
    corners: dict[str, Corners], end_s: float, rate_hz: float, noise: float = 0.0, seed: int = 1
) -> Recording:
    """Return what a recorder of this rate writes, with noise of `DEVIATIONS` times `noise`."""
    rng = np.random.default_rng(seed)
    time_s = np.arange(0.0, end_s + 1e-9, 1.0 / rate_hz)
    channels = {}
    for name, points in corners.items():
        t, v = (np.array(x, dtype=float) for x in zip(*points, strict=True))
        if base_name(name) in DISCRETE:
            values = v[np.maximum(np.searchsorted(t, time_s + 1e-9, side="right") - 1, 0)]
        else:
            values = np.interp(time_s, t, v)
            values = values + rng.normal(
                0.0, noise * DEVIATIONS.get(base_name(name), 0.0) + 1e-12, time_s.size
            )
        channels[name] = Channel(name, CANONICAL[base_name(name)], time_s, values)
    return Recording(channels, float(time_s[-1]))
