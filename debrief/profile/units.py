"""Units in a profile: from what the file says to the canonical unit of the channel."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from debrief.recording.model import CANONICAL

Scale = Callable[[float], float]

_LBF_FT = 1.3558179483314004  # N m; 0.3048 m x 4.4482216152605 N, both exact by definition
TORQUE_N_M: Mapping[str, float] = {"N m": 1.0, "lbf ft": _LBF_FT, "lbf in": _LBF_FT / 12.0}
_SPELLINGS = {
    "nm": "N m", "n·m": "N m", "n.m": "N m", "n m": "N m", "ft lbf": "lbf ft", "ft-lb": "lbf ft",
    "ft lb": "lbf ft", "lb ft": "lbf ft", "lb-ft": "lbf ft", "lbf-ft": "lbf ft", "lbf·ft": "lbf ft",
    "ftlb": "lbf ft", "lbf in": "lbf in", "in-lb": "lbf in", "lb-in": "lbf in", "lbf ft": "lbf ft",
    "°c": "degC", "c": "degC", "degc": "degC", "°f": "degF", "f": "degF", "degf": "degF", "k": "K",
    "percent": "%", "pct": "%", "v": "V", "volt": "V", "volts": "V", "a": "A", "amp": "A", "amps": "A",
    "kts": "kt", "knots": "kt", "feet": "ft", "fpm": "ft/min", "pph": "lb/h", "lb/hr": "lb/h",
    "kg/hr": "kg/h", "bar": "bar", "kpa": "kPa", "°": "deg",
}  # fmt: skip
_FACTORS: Mapping[tuple[str, str], float] = {
    ("lb/h", "kg/h"): 0.45359237,  # exact by definition
    ("bar", "psi"): 14.503773773020923,
    ("kPa", "psi"): 0.14503773773020923,
    ("m", "ft"): 1 / 0.3048,
    ("m/s", "kt"): 3600 / 1852,
    ("km/h", "kt"): 1 / 1.852,
    ("krpm", "rpm"): 1000.0,
}


def canonical_spelling(unit: str) -> str:
    """Return the spelling that the program uses for this unit."""
    return _SPELLINGS.get(unit.strip().lower(), unit.strip())


def torque_unit(unit: str) -> str | None:
    """Return the program's spelling of a torque unit, None for any other unit."""
    spelled = canonical_spelling(unit)
    return spelled if spelled in TORQUE_N_M else None


def to_canonical(
    channel: str,
    unit: str,
    reference_rpm: Mapping[str, float],
    reference_torque: tuple[float, str] | None,
) -> tuple[Scale | None, str]:
    """Return how values in `unit` become the channel's canonical unit, or None with the reason.

    Parameters
    ----------
    channel : str
        Canonical channel name without an engine number.
    unit : str
        As the profile spells it.
    reference_rpm, reference_torque
        Of the same profile: what 100 % is.
    """
    wanted = CANONICAL[channel]
    spelled = canonical_spelling(unit)
    if spelled == wanted:
        return float, ""
    if (wanted, spelled) == ("degC", "degF"):
        return lambda value: (value - 32.0) * 5.0 / 9.0, ""
    if (wanted, spelled) == ("degC", "K"):
        return lambda value: value - 273.15, ""
    if (spelled, wanted) in _FACTORS:
        factor = _FACTORS[spelled, wanted]
        return lambda value: value * factor, ""
    if channel in ("ng", "np") and spelled in ("rpm", "krpm", "%"):
        if channel not in reference_rpm:
            return None, f'"{unit}" needs engine.reference_rpm with the speed of "{channel}" that is 100 %.'
        percent = 100.0 / reference_rpm[channel]
        factor = percent if wanted == "%" else 1.0 / percent
        if spelled == "krpm":
            factor *= 1000.0
        return lambda value: value * factor, ""
    if channel == "torque" and spelled in TORQUE_N_M:
        if reference_torque is None:
            return None, f'"{unit}" needs engine.reference_torque, the torque that is 100 %.'
        full = reference_torque[0] * TORQUE_N_M[reference_torque[1]]
        factor = 100.0 * TORQUE_N_M[spelled] / full
        return lambda value: value * factor, ""
    return None, f'"{unit}" is not a unit known for "{channel}"; its values are in "{wanted}".'
