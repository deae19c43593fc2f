"""Sentences whose quantities are still numbers, so that they can be said in the units that a person reads."""

from __future__ import annotations

from dataclasses import dataclass, field
from string import Formatter

from debrief.words.display_units import AS_COMPUTED, ShownUnits


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number with its unit inside a sentence.

    Attributes
    ----------
    value : float
        In `unit`, which is canonical.
    beside : float or None
        A number that it is read against: it gets as many decimals as keep it apart.
    is_difference : bool
        A rise, a step or a margin: its zero does not move with the unit.
    is_given : bool
        A number of the profile, said with the digits that it has.
    digits : int or None
        Significant digits, where neither the unit nor another number decides.
    """

    value: float
    unit: str
    beside: float | None = None
    is_difference: bool = False
    is_given: bool = False
    digits: int | None = None

    def shown(self, units: ShownUnits) -> Quantity:
        """Return the same quantity in the units to show."""
        to = units.of(self.unit)
        if to == self.unit:
            return self
        value = units.value(self.value, self.unit, is_difference=self.is_difference)
        other = None
        if self.beside is not None:
            other = units.value(self.beside, self.unit, is_difference=self.is_difference)
        return Quantity(value, to, other, self.is_difference, self.is_given, self.digits)


@dataclass(frozen=True, slots=True)
class Sentence:
    """Words and quantities in order. `debrief.words.numbers.said` puts it into words."""

    parts: tuple[str | Quantity, ...] = field(default=())

    def shown(self, units: ShownUnits) -> Sentence:
        """Return the sentence with its quantities in the units to show."""
        if units.are_canonical:
            return self
        return Sentence(tuple(p if isinstance(p, str) else p.shown(units) for p in self.parts))

    def __add__(self, other: str | Sentence) -> Sentence:
        """Return the sentence followed by another."""
        return Sentence((*self.parts, *(other.parts if isinstance(other, Sentence) else (other,))))


def sentence(template: str, /, **values: str | int | Quantity | Sentence) -> Sentence:
    """Return a sentence from a template with named places.

    Examples
    --------
    >>> sentence("ITT was {value}.", value=Quantity(830.0, "degC")).parts
    ('ITT was ', Quantity(value=830.0, unit='degC', beside=None, is_difference=False, is_given=False, digits=None), '.')
    """
    parts: list[str | Quantity] = []
    for literal, name, _, _ in Formatter().parse(template):
        parts.append(literal)
        if name is None:
            continue
        value = values[name]
        if isinstance(value, Sentence):
            parts += value.parts
        else:
            parts.append(value if isinstance(value, Quantity) else str(value))
    joined: list[str | Quantity] = []
    for part in parts:
        if isinstance(part, str) and joined and isinstance(joined[-1], str):
            joined[-1] += part
        elif part != "":
            joined.append(part)
    return Sentence(tuple(joined))


__all__ = ["AS_COMPUTED", "Quantity", "Sentence", "sentence"]
