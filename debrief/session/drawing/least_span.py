"""How little an axis may span: where nothing happened, noise must not look as if something had."""

from __future__ import annotations

from debrief.words.channels import base_name

_UNITS = {"V": 4.0, "%": 20.0, "degC": 200.0, "degF": 360.0, "A": 50.0, "psi": 20.0, "kt": 20.0, "ft": 200.0,
          "rpm": 200.0, "kg/h": 20.0, "bar": 1.4, "kPa": 140.0, "lb/h": 40.0, "km/h": 40.0, "mph": 24.0,
          "m": 60.0}  # fmt: skip
_COOL = {"oat": 0.1, "oil_temp": 0.25}
"""Temperatures of which less is worth reading: as a share of the gas temperature's."""


def least_span(name: str, unit: str) -> float:
    """Return the least that an axis of a channel spans where no limit lies in it, [unit]; 0 for an unknown unit."""
    return _UNITS.get(unit, 0.0) * _COOL.get(base_name(name), 1.0)


def widened(low: float, high: float, least: float) -> tuple[float, float]:
    """Return a range that holds both values and spans this much at least; what is not below 0 stays there."""
    if high - low >= least:
        return low, high
    bottom = (low + high) / 2 - least / 2
    if low >= 0:
        bottom = max(bottom, 0.0)
    return bottom, bottom + least
