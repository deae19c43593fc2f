"""Units in a profile: from what the file says to the canonical unit of the channel."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from debrief.words.channels import CANONICAL
from debrief.words.units import convert, find_unit, torque_factor

Scale = Callable[[float], float]


def torque_unit(spelling: str) -> str | None:
    """Return the program's spelling of a unit that 100 % torque can be given in, None for any other.

    A torquemeter may read a pressure, so units of pressure are among them.
    """
    unit = find_unit(spelling)
    return unit.name if unit is not None and unit.quantity in ("torque", "pressure") else None


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
    known = find_unit(unit)
    if known is None:
        return None, f'"{unit}" is not a unit known here; values of "{channel}" are in "{wanted}".'
    try:
        _, kept = convert([0.0], unit, channel)
    except ValueError:
        return None, f'"{unit}" is not a unit of "{channel}", whose values are in "{wanted}".'

    def as_kept(value: float) -> float:
        return float(convert([value], unit, channel)[0][0])

    if kept == wanted:
        return as_kept, ""
    if channel == "torque":
        if reference_torque is None:
            return None, f'"{unit}" needs engine.reference_torque, the torque that is 100 %.'
        full, full_unit = reference_torque
        factor = torque_factor(unit, full_unit)
        if factor is None:
            return None, f'"{unit}" does not convert into the unit of engine.reference_torque, "{full_unit}".'
        return lambda value: 100.0 * value * factor / full, ""
    if channel not in reference_rpm:
        return None, f'"{unit}" needs engine.reference_rpm with the speed of "{channel}" that is 100 %.'
    full = reference_rpm[channel]
    if wanted == "%":
        return lambda value: 100.0 * as_kept(value) / full, ""
    return lambda value: as_kept(value) * full / 100.0, ""
