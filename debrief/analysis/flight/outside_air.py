"""The air that the engine breathes, as far as the recording and the profile tell it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from debrief.analysis.measures import atmosphere
from debrief.analysis.measures.atmosphere import Referred, TotalConditions
from debrief.analysis.signal.engine_view import EngineView
from debrief.recording.model import FloatArray

OAT_KIND_UNKNOWN = "the profile does not say whether OAT is static or total"
TAKEN_AS_STATIC = f"taken as static: {OAT_KIND_UNKNOWN}"

Value = float | FloatArray | None


@dataclass(frozen=True, eq=False)
class OutsideAir:
    """Pressure altitude [ft], static temperature and its deviation [degC], density altitude [ft], intake conditions.

    Each is a float, an array with NaN where it is not known, or None; `why` says by name why it is None, or how it is meant.
    """

    pressure_altitude_ft: Any = None
    oat_c: Any = None
    isa_deviation_c: Any = None
    density_altitude_ft: Any = None
    conditions: TotalConditions | None = None
    why: Mapping[str, str] = field(default_factory=dict)


def pressure_altitude(view: EngineView, of: Mapping[str, Value]) -> tuple[Any, str]:
    """Return the pressure altitude, [ft], from values `of` palt or altitude, or None and why."""
    palt, altitude = of.get("palt"), of.get("altitude")
    if palt is not None:
        return palt, ""
    setting = view.recording.identity.altimeter_setting_hpa
    if altitude is None:
        return None, "not recorded"
    if setting is None:
        return None, "altitude was recorded, but neither pressure altitude nor the altimeter setting"
    return atmosphere.pressure_altitude_ft(altitude, setting), ""


def outside_air(view: EngineView, of: Mapping[str, Value]) -> OutsideAir:
    """Return the air from values `of` palt (or altitude), oat and ias, by channel; None or absent: not known.

    Notes
    -----
    Whether OAT is static or total air temperature says the profile's `flight.oat_is`. Where it does not, nothing is
    referred, and what needs the static temperature takes OAT for it, and says so.
    """
    palt, no_altitude = pressure_altitude(view, of)
    oat, ias = of.get("oat"), of.get("ias")
    kind = view.profile.flight.oat_is
    why = {}
    if palt is None:
        why["pressure_altitude_ft"] = no_altitude
    static, conditions = oat, None
    if oat is None:
        why["oat_c"] = "not recorded"
    elif kind is None:
        why["oat_c"] = TAKEN_AS_STATIC
    if kind == "total_air" and oat is not None:
        static = None
        if palt is None or ias is None:
            why["oat_c"] = "total temperature was recorded; static needs pressure altitude and airspeed"
        else:
            ram = 1.0 + 0.2 * np.square(atmosphere.mach(ias, palt))
            static = (oat + atmosphere.KELVIN_C) / ram - atmosphere.KELVIN_C
    missing = [n for n, x in (("pressure altitude", palt), ("OAT", oat), ("airspeed", ias)) if x is None]
    if missing:
        why["referred"] = f"needs {' and '.join(missing)}"
    elif kind is None:
        why["referred"] = OAT_KIND_UNKNOWN
    else:
        assert palt is not None
        assert oat is not None
        assert ias is not None
        conditions = atmosphere.total_conditions(palt, oat, ias, "total" if kind == "total_air" else "static")
    deviation = density = None
    if palt is not None and static is not None:
        deviation = atmosphere.isa_deviation_c(palt, static)
        density = atmosphere.density_altitude_ft(palt, static)
    else:
        why["isa_deviation_c"] = why["density_altitude_ft"] = "needs static OAT and pressure altitude"
    return OutsideAir(palt, static, deviation, density, conditions, why)


def referred_values(air: OutsideAir, of: Mapping[str, Value]) -> Referred:
    """Return Ng, ITT, torque and fuel flow of values by channel, referred to the intake; None where not known."""
    if air.conditions is None:
        return Referred()
    return atmosphere.referred(
        air.conditions,
        ng=of.get("ng"),
        itt_c=of.get("itt"),
        torque=of.get("torque"),
        fuel_flow=of.get("fuel_flow"),
    )
