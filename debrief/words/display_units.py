"""Which units a person wants to read, and numbers put into them. What is computed and kept stays canonical."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from debrief.errors import UserError
from debrief.words.units import BY_NAME, FloatArray, canonical_unit, scale

CHOICES: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "temperature": ("degC", "degF"),
        "pressure": ("psi", "bar", "kPa"),
        "fuel flow": ("kg/h", "lb/h"),
        "altitude": ("ft", "m"),
        "speed": ("kt", "km/h", "mph"),
    }
)
"""What can be chosen for each kind of quantity; the canonical unit first. Shares in % and volts have no choice."""

_FOLLOWS = {"m": ("ft/min", "m/s")}
"""A vertical speed goes with the altitude."""


@dataclass(frozen=True)
class ShownUnits:
    """The unit in which each canonical unit is shown; what is not named is shown as it is.

    Attributes
    ----------
    pairs : tuple of (str, str)
        Canonical unit, and the unit to show instead.
    """

    pairs: tuple[tuple[str, str], ...] = ()

    @property
    def are_canonical(self) -> bool:
        """Whether nothing is converted."""
        return not self.pairs

    def of(self, unit: str) -> str:
        """Return the unit in which a unit is shown; a rate follows its quantity (``degC/s``)."""
        held = dict(self.pairs)
        if unit in held:
            return held[unit]
        base, slash, per = unit.rpartition("/")
        return f"{held[base]}/{per}" if slash and base in held and per == "s" else unit

    def value(self, value: float, unit: str, *, is_difference: bool = False) -> float:
        """Return a value, or a difference of two, in the unit in which `unit` is shown."""
        to = self.of(unit)
        if to == unit:
            return value
        if unit not in BY_NAME:  # a rate: a difference each second
            return self.value(value, unit.rpartition("/")[0], is_difference=True)
        if not is_difference:
            return float(scale(value, BY_NAME[unit], BY_NAME[to]))
        one, other = BY_NAME[unit], BY_NAME[to]
        return value * (one.factor / one.divisor * other.divisor / other.factor)

    def values(self, values: FloatArray, unit: str) -> FloatArray:
        """Return an array in the unit in which `unit` is shown."""
        to = self.of(unit)
        return values if to == unit else scale(values, BY_NAME[unit], BY_NAME[to])

    @property
    def words(self) -> str:
        """As given to `parse_units`: ``degF,bar``; empty where nothing is converted."""
        return ",".join(shown for canonical, shown in self.pairs if canonical != "ft/min")


AS_COMPUTED = ShownUnits()
"""Everything in the canonical units."""


def shown_units(wanted: Mapping[str, str]) -> ShownUnits:
    """Return the choice of units for kinds of quantity: ``{"temperature": "degF"}``."""
    pairs = []
    for kind, units in CHOICES.items():
        unit = wanted.get(kind, units[0])
        if unit != units[0] and unit in units:
            pairs.append((units[0], unit))
            if unit in _FOLLOWS:
                pairs.append(_FOLLOWS[unit])
    return ShownUnits(tuple(pairs))


def parse_units(text: str) -> ShownUnits:
    """Return the choice that units separated by commas name, in any spelling that columns may have.

    Raises
    ------
    UserError
        A unit cannot be chosen, or two are named for one kind of quantity.

    Examples
    --------
    >>> parse_units("°F, bar").words
    'degF,bar'
    """
    wanted: dict[str, str] = {}
    for part in (piece.strip() for piece in text.split(",")):
        if not part:
            continue
        name = canonical_unit(part)
        kind = next((k for k, units in CHOICES.items() if name in units), None)
        if kind is None or name is None:
            ways = "; ".join(f"{k} {' or '.join(units)}" for k, units in CHOICES.items())
            raise UserError(f'--units: "{part}" cannot be chosen. There are: {ways}.')
        if wanted.setdefault(kind, name) != name:
            raise UserError(f"--units: {kind} is to be in {wanted[kind]} and in {name}; name one of them.")
    return shown_units(wanted)
