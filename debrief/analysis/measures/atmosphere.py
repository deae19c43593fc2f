"""Standard atmosphere, altitudes, airspeed, wind components and referred values, as pure functions.

Every function takes scalars or arrays that broadcast against each other, and returns a float where all
arguments are scalars, else a float64 array of the broadcast shape. NaN in gives NaN out, and what lies
outside the stated validity is NaN as well: a number from outside the model would be a guess.

The model is the ICAO standard atmosphere (ICAO Doc 7488, 3rd edition 1993, which below 32 km equals the
US Standard Atmosphere 1976), in geopotential altitude, from 5 km below sea level to 20 km. Air is dry.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

import numpy as np
from numpy.typing import NDArray

FloatArray: TypeAlias = NDArray[np.float64]
Values: TypeAlias = float | FloatArray
"""A float or a float64 array. Results are typed Any, being a float or an array as the arguments are."""

T0_K = 288.15
P0_HPA = 1013.25
KELVIN_C = 273.15
FT_M = 0.3048
KT_MS = 1852.0 / 3600.0
LAPSE_K_PER_M = 0.0065
G0_MS2 = 9.80665
R_J_PER_KG_K = 287.05287
GAMMA = 1.4
EARTH_RADIUS_M = 6_356_766.0

TROPOPAUSE_FT = 11_000.0 / FT_M
LOWEST_FT = -5_000.0 / FT_M
HIGHEST_FT = 20_000.0 / FT_M
A0_KT = float(np.sqrt(GAMMA * R_J_PER_KG_K * T0_K)) / KT_MS
SETTING_RANGE_HPA = (850.0, 1100.0)
"""Altimeter settings outside this were not given in hPa: no sea-level pressure on record lies outside."""

_LAPSE_PER_FT = LAPSE_K_PER_M * FT_M / T0_K
_EXPONENT = G0_MS2 / (LAPSE_K_PER_M * R_J_PER_KG_K)
_THETA_TROPOPAUSE = 1.0 - _LAPSE_PER_FT * TROPOPAUSE_FT
_DELTA_TROPOPAUSE = _THETA_TROPOPAUSE**_EXPONENT
_SIGMA_TROPOPAUSE = _DELTA_TROPOPAUSE / _THETA_TROPOPAUSE
_SCALE_FT = R_J_PER_KG_K * T0_K * _THETA_TROPOPAUSE / G0_MS2 / FT_M


def _array(values: Values) -> FloatArray:
    return np.asarray(values, dtype=np.float64)


def _result(values: FloatArray) -> Any:
    return float(values) if values.ndim == 0 else values


def _altitude(palt_ft: Values) -> FloatArray:
    """Return the altitude as an array, with NaN outside the model."""
    h = _array(palt_ft)
    return np.where((h >= LOWEST_FT) & (h <= HIGHEST_FT), h, np.nan)


def _kelvin(temperature_c: Values) -> FloatArray:
    """Return kelvin, with NaN at and below absolute zero."""
    kelvin = _array(temperature_c) + KELVIN_C
    return np.where((kelvin > 0) & np.isfinite(kelvin), kelvin, np.nan)


def _theta(h: FloatArray) -> FloatArray:
    return np.where(h <= TROPOPAUSE_FT, 1.0 - _LAPSE_PER_FT * h, _THETA_TROPOPAUSE + 0.0 * h)


def _delta(h: FloatArray) -> FloatArray:
    below = (1.0 - _LAPSE_PER_FT * np.minimum(h, TROPOPAUSE_FT)) ** _EXPONENT
    return np.asarray(below * np.exp(-(np.maximum(h, TROPOPAUSE_FT) - TROPOPAUSE_FT) / _SCALE_FT))


def isa_temperature_k(palt_ft: Values) -> Any:
    """Return the standard temperature at a pressure altitude, [K].

    Parameters
    ----------
    palt_ft : float or array
        Pressure (geopotential) altitude, [ft], from -16 404 ft to 65 617 ft; NaN outside.

    References
    ----------
    ICAO Doc 7488, 3rd edition 1993: 288.15 K, -6.5 K/km to 11 km, 216.65 K to 20 km.

    Examples
    --------
    >>> round(isa_temperature_k(10_000.0), 3)
    268.338
    """
    return _result(T0_K * _theta(_altitude(palt_ft)))


def theta(palt_ft: Values, oat_c: Values | None = None) -> Any:
    """Return the static temperature over 288.15 K, [-].

    Parameters
    ----------
    palt_ft : float or array
        Pressure altitude, [ft]; NaN outside -16 404 ft to 65 617 ft.
    oat_c : float or array, optional
        Static outside air temperature, [degC]; the standard temperature where it is left out.
    """
    h = _altitude(palt_ft)
    if oat_c is None:
        return _result(_theta(h))
    return _result(_kelvin(oat_c) / T0_K + 0.0 * h)


def delta(palt_ft: Values) -> Any:
    """Return the static pressure over 1013.25 hPa, [-].

    Parameters
    ----------
    palt_ft : float or array
        Pressure altitude, [ft]; NaN outside -16 404 ft to 65 617 ft. No temperature enters: a pressure
        altitude is a pressure by definition.

    References
    ----------
    ICAO Doc 7488, 3rd edition 1993.
    """
    return _result(_delta(_altitude(palt_ft)))


def sigma(palt_ft: Values, oat_c: Values | None = None) -> Any:
    """Return the density of dry air over 1.225 kg/m3, [-]; arguments as for `theta`."""
    return _result(_array(delta(palt_ft)) / _array(theta(palt_ft, oat_c)))


def geopotential_ft(geometric_ft: Values) -> Any:
    """Return the geopotential altitude of a geometric height above sea level, both [ft].

    Notes
    -----
    H = r Z / (r + Z) with the nominal radius of 6 356 766 m. A satellite receiver's height is geometric;
    pressure altitude, and every other altitude of this module, is geopotential. At 36 000 ft they differ
    by 62 ft. NaN outside -16 404 ft to 65 617 ft geopotential.
    """
    z_m = _array(geometric_ft) * FT_M
    with np.errstate(divide="ignore", invalid="ignore"):
        h = EARTH_RADIUS_M * z_m / (EARTH_RADIUS_M + z_m) / FT_M
    return _result(_altitude(np.asarray(h)))


def pressure_altitude_ft(altitude_ft: Values, setting_hpa: Values) -> Any:
    """Return the pressure altitude of an altimeter's reading with this setting, [ft].

    Parameters
    ----------
    altitude_ft : float or array
        Altitude shown, or elevation of the field, [ft].
    setting_hpa : float or array
        Altimeter setting, [hPa]; outside 850 to 1100 hPa the result is NaN, so that a setting in inHg
        is never taken for one in hPa.

    Notes
    -----
    The exact relation: the standard height of the setting is added to the reading. A higher setting
    gives a lower pressure altitude. The common "1000 ft per inch" is 10 % too large near 29 inHg.

    Examples
    --------
    >>> round(pressure_altitude_ft(5883.0, 30.10 * 33.8639))
    5718
    """
    setting = _array(setting_hpa)
    low, high = SETTING_RANGE_HPA
    setting = np.where((setting >= low) & (setting <= high), setting, np.nan)
    height = (1.0 - (setting / P0_HPA) ** (1.0 / _EXPONENT)) / _LAPSE_PER_FT
    return _result(_altitude(_array(altitude_ft) + height))


def isa_deviation_c(palt_ft: Values, oat_c: Values) -> Any:
    """Return how much warmer than standard the static air is, [K]; negative when colder.

    Parameters
    ----------
    palt_ft : float or array
        Pressure altitude, [ft]; NaN outside -16 404 ft to 65 617 ft.
    oat_c : float or array
        Static outside air temperature, [degC].
    """
    return _result(_kelvin(oat_c) - _array(isa_temperature_k(palt_ft)))


def density_altitude_ft(palt_ft: Values, oat_c: Values) -> Any:
    """Return the altitude at which the standard atmosphere has the density of this dry air, [ft].

    Parameters
    ----------
    palt_ft : float or array
        Pressure altitude, [ft].
    oat_c : float or array
        Static outside air temperature, [degC].

    Returns
    -------
    float or array
        [ft]; NaN where it, or the pressure altitude, lies outside -16 404 ft to 65 617 ft.

    Notes
    -----
    The exact inverse of the model, not the rule of 120 ft per degree. Humidity is left out: in hot and
    humid air the true density altitude is some hundred feet higher.

    Examples
    --------
    >>> round(density_altitude_ft(5000.0, 30.0), 1)
    7800.7
    """
    s = _array(sigma(palt_ft, oat_c))
    with np.errstate(divide="ignore", invalid="ignore"):
        below = (1.0 - s ** (1.0 / (_EXPONENT - 1.0))) / _LAPSE_PER_FT
        above = TROPOPAUSE_FT - _SCALE_FT * np.log(s / _SIGMA_TROPOPAUSE)
    return _result(_altitude(np.where(s >= _SIGMA_TROPOPAUSE, below, above)))


def wind_components_kt(speed_kt: Values, from_deg: Values, heading_deg: Values) -> tuple[Any, Any]:
    """Return (headwind, crosswind) of a wind for an aeroplane that points along `heading_deg`, [kt].

    Parameters
    ----------
    speed_kt : float or array
        Wind speed, [kt]; negative gives NaN.
    from_deg : float or array
        Direction that the wind comes from, [deg].
    heading_deg : float or array
        Heading, or direction of the runway, [deg], from the same north as `from_deg`. Runway numbers are
        magnetic and a forecast wind is true: bring both to one north first.

    Returns
    -------
    headwind : float or array
        Positive from ahead; a tailwind is negative.
    crosswind : float or array
        Positive from the right.

    Examples
    --------
    >>> head, cross = wind_components_kt(25.0, 140.0, 170.0)
    >>> round(head, 1), round(cross, 1)
    (21.7, -12.5)
    """
    speed = _array(speed_kt)
    speed = np.where(speed >= 0, speed, np.nan)
    angle = np.radians(_array(from_deg) - _array(heading_deg))
    return _result(np.asarray(speed * np.cos(angle))), _result(np.asarray(speed * np.sin(angle)))


def _impact_ratio(mach: FloatArray) -> FloatArray:
    """Return impact pressure over static pressure for subsonic flow; NaN from Mach 1 and below 0."""
    valid = np.where((mach >= 0) & (mach < 1), mach, np.nan)
    return np.asarray((1.0 + 0.2 * valid**2) ** 3.5 - 1.0)


def _mach_of(impact_ratio: FloatArray) -> FloatArray:
    mach = np.sqrt(5.0 * ((impact_ratio + 1.0) ** (2.0 / 7.0) - 1.0))
    return np.where(mach < 1, mach, np.nan)


def mach(cas_kt: Values, palt_ft: Values) -> Any:
    """Return the Mach number of a calibrated airspeed at a pressure altitude, [-]; NaN from Mach 1.

    Notes
    -----
    Isentropic, gamma 1.4. Indicated airspeed may stand for calibrated where no position error is known;
    the caller says so.
    """
    return _result(_mach_of(_impact_ratio(_array(cas_kt) / A0_KT) / _array(delta(palt_ft))))


def tas_kt(cas_kt: Values, palt_ft: Values, oat_c: Values) -> Any:
    """Return the true airspeed of a calibrated airspeed, with compressibility, [kt].

    Parameters
    ----------
    cas_kt : float or array
        Calibrated airspeed, [kt]; negative gives NaN.
    palt_ft : float or array
        Pressure altitude, [ft]; NaN outside -16 404 ft to 65 617 ft.
    oat_c : float or array
        Static outside air temperature, [degC].

    Notes
    -----
    Subsonic isentropic flow, gamma 1.4; NaN from Mach 1.

    Examples
    --------
    >>> round(tas_kt(150.0, 0.0, 15.0), 6)
    150.0
    """
    speed = _array(mach(cas_kt, palt_ft)) * A0_KT * np.sqrt(_kelvin(oat_c) / T0_K)
    return _result(np.asarray(speed))


def cas_kt(tas_kt: Values, palt_ft: Values, oat_c: Values) -> Any:
    """Return the calibrated airspeed of a true airspeed, [kt]: the inverse of `tas_kt`, same validity."""
    number = _array(tas_kt) / (A0_KT * np.sqrt(_kelvin(oat_c) / T0_K))
    return _result(A0_KT * _mach_of(_impact_ratio(np.asarray(number)) * _array(delta(palt_ft))))


@dataclass(frozen=True, eq=False)
class TotalConditions:
    """What the engine breathes: `theta` is total temperature over 288.15 K, `delta` total pressure over
    1013.25 hPa, `mach` the Mach number; each a float or an array.
    """  # noqa: D205

    theta: Any
    delta: Any
    mach: Any


def total_conditions(
    palt_ft: Values, oat_c: Values, cas_kt: Values = 0.0, oat_is: Literal["static", "total"] = "static"
) -> TotalConditions:
    """Return the total temperature and pressure ratios of the free stream.

    Parameters
    ----------
    palt_ft : float or array
        Pressure altitude, [ft].
    oat_c : float or array
        Outside air temperature, [degC].
    cas_kt : float or array
        Calibrated airspeed, [kt]; 0 on the ground.
    oat_is : {"static", "total"}
        What the thermometer gives. An instrument that shows the ram rise gives total temperature. Who
        does not know which must not refer cruise values: at 200 kt they differ by 5 K.

    Notes
    -----
    T_t = T (1 + 0.2 M^2); p_t = p + impact pressure of `cas_kt`. Full ram recovery: an inertial separator
    or an intake with losses lowers p_t below this. NaN from Mach 1 and outside the atmosphere's range.

    Raises
    ------
    ValueError
        `oat_is` is neither of the two.
    """
    if oat_is not in ("static", "total"):
        raise ValueError(f"oat_is must be 'static' or 'total', not {oat_is!r}")
    static = _array(delta(palt_ft))
    impact = _impact_ratio(_array(cas_kt) / A0_KT)
    number = _mach_of(impact / static)
    ram = 1.0 + 0.2 * number**2
    ratio = _kelvin(oat_c) / T0_K
    total = ratio * ram if oat_is == "static" else ratio + 0.0 * ram
    pressure = np.where(np.isfinite(number), static + impact, np.nan)
    return TotalConditions(theta=_result(np.asarray(total)), delta=_result(pressure), mach=_result(number))


@dataclass(frozen=True, eq=False)
class Referred:
    """Engine values referred to 288.15 K and 1013.25 hPa; None where none was given. Units as given."""

    ng: Any = None
    itt_c: Any = None
    torque: Any = None
    fuel_flow: Any = None


def referred(
    conditions: TotalConditions,
    *,
    ng: Values | None = None,
    itt_c: Values | None = None,
    torque: Values | None = None,
    fuel_flow: Values | None = None,
) -> Referred:
    """Return engine values as they would be at sea level in standard air.

    Parameters
    ----------
    conditions : TotalConditions
        Of the intake, see `total_conditions`.
    ng : float or array, optional
        Gas generator speed, [% or rpm]: N / sqrt(theta).
    itt_c : float or array, optional
        Interturbine temperature, [degC]: divided by theta **in kelvin**, given back in degC.
    torque : float or array, optional
        [any unit]: Q / delta.
    fuel_flow : float or array, optional
        [any unit]: W / (delta sqrt(theta)).

    Notes
    -----
    Non-dimensional groups of a steady running engine. Starts are not steady and are not compared so.

    Examples
    --------
    >>> hot = total_conditions(5000.0, 30.0)
    >>> round(referred(hot, itt_c=720.0).itt_c, 2)
    670.86
    """
    th, de = _array(conditions.theta), _array(conditions.delta)
    root = np.sqrt(th)
    return Referred(
        ng=None if ng is None else _result(np.asarray(_array(ng) / root)),
        itt_c=None if itt_c is None else _result(np.asarray(_kelvin(itt_c) / th - KELVIN_C)),
        torque=None if torque is None else _result(np.asarray(_array(torque) / de)),
        fuel_flow=None if fuel_flow is None else _result(np.asarray(_array(fuel_flow) / (de * root))),
    )
