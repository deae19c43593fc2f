"""What is said of a load on the engine that was switched, and of what it changed."""

from __future__ import annotations

from debrief.words.display_units import ShownUnits
from debrief.words.numbers import bounds, decimals_for, number, signed, unit_words

_LOADS = {
    "bleed": "Bleed",
    "separator": "Separator",
    "generator_on": "Generator",
    "generator_load": "Generator load",
}


CLEAR_C = 25.0
"""A change of temperature whose interval is wider says nothing, [degC]: it had not settled."""


def load_title(kind: str, on: bool | float) -> str:
    """Return what was switched: ``Bleed on``, ``Generator load 100 A more``."""
    if kind == "generator_load":
        return f"{_LOADS[kind]} {number(abs(on), 0)} A {'more' if on > 0 else 'less'}"
    return f"{_LOADS[kind]} {'on' if on else 'off'}"


def is_clear(low: float, high: float) -> bool:
    """Whether the interval of a change of temperature is narrow enough to tell the change, [degC]."""
    return high - low <= CLEAR_C


def change_in_short(name: str, value: float, low: float, high: float, units: ShownUnits) -> str:
    """Return what a load changed of the temperature, without its interval: ``ITT +34 °C``; empty where that is not clear."""
    if not is_clear(low, high):
        return ""
    unit = units.of("degC")
    shown = signed(units.value(value, "degC", is_difference=True), decimals_for(unit))
    return f"{name} {shown} {unit_words(unit)}"


def change_text(value: float, low: float, high: float, unit: str, units: ShownUnits) -> str:
    """Return a change in a canonical unit with its 95 % interval, in the unit shown and without it: ``+34 (33 to 35)``."""
    decimals = decimals_for(units.of(unit))
    shown = [units.value(one, unit, is_difference=True) for one in (value, low, high)]
    least, most = bounds(shown[1], shown[2], decimals)
    if unit == "degC" and not is_clear(low, high):
        return f"not clear ({least} to {most})"
    return f"{signed(shown[0], decimals)} ({least} to {most})"
