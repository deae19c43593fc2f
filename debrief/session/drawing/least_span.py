"""How little an axis may span: where nothing happened, noise must not look as if something had."""

from __future__ import annotations

from debrief.words.channels import base_name
from debrief.words.display_units import CHOICES
from debrief.words.units import BY_NAME, scale

_SPANS = {"degC": (200.0, 20.0), "%": (20.0, 5.0), "V": (4.0, 2.0), "A": (50.0, 20.0), "psi": (20.0, 5.0),
          "kt": (20.0, 10.0), "ft": (200.0, 100.0), "rpm": (200.0, 50.0), "kg/h": (20.0, 10.0)}  # fmt: skip
"""In the canonical unit: where no limit is near, and beside one, where less is worth reading."""
_OF = {("oat", "degC"): (20.0, 20.0), ("oil_temp", "degC"): (50.0, 20.0), ("ng", "%"): (20.0, 2.0)}
"""Channels of which less is worth reading than of others in their unit."""


def least_span(name: str, unit: str, *, beside_limit: bool = False) -> float:
    """Return the least that an axis of a channel spans, [unit]; 0 for an unknown unit.

    Parameters
    ----------
    name : str
        The channel's name, with or without its engine.
    unit : str
        That of the axis: one that a person can choose for it too.
    beside_limit : bool
        Whether a limit lies near what is drawn.
    """
    canonical = next((units[0] for units in CHOICES.values() if unit in units), unit)
    spans = _OF.get((base_name(name), canonical), _SPANS.get(canonical, (0.0, 0.0)))
    least = spans[beside_limit]
    if canonical == unit:
        return least
    to, of = BY_NAME[unit], BY_NAME[canonical]
    return float(scale(least, of, to) - scale(0.0, of, to))


def widened(low: float, high: float, least: float) -> tuple[float, float]:
    """Return a range that holds both values and spans this much at least; what is not below 0 stays there."""
    if high - low >= least:
        return low, high
    bottom = (low + high) / 2 - least / 2
    if low >= 0:
        bottom = max(bottom, 0.0)
    return bottom, bottom + least
