"""Sentences whose quantities are still numbers, so that they can be said in the units that a person reads."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from string import Formatter

from debrief.words.display_units import ShownUnits
from debrief.words.numbers import beside, plain, reference_beside, unit_words, value_text


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
    has_unit : bool
        Whether its unit stands behind it: not where that of a value after it is for both.
    """

    value: float
    unit: str
    beside: float | None = None
    is_difference: bool = False
    is_given: bool = False
    digits: int | None = None
    has_unit: bool = True

    def shown(self, units: ShownUnits) -> Quantity:
        """Return the same quantity in the units to show."""
        to = units.of(self.unit)
        if to == self.unit:
            return self
        value = units.value(self.value, self.unit, is_difference=self.is_difference)
        other = None
        if self.beside is not None:
            other = units.value(self.beside, self.unit, is_difference=self.is_difference)
        return replace(self, value=value, unit=to, beside=other)


class Sentence(str):
    """A text that keeps its quantities as numbers: it reads in the units of `parts`, and in others by `shown`.

    It is the text itself, so that nobody holds a text beside its numbers. What is cut out of it or put together
    by other means than ``+``, `sentence` and `joined` is text alone.

    Attributes
    ----------
    parts : tuple of str or Quantity
        Words and quantities in order.
    lead : str
        Its first words where they say what it amounts to, such as ``Exceeded:``; else empty.
    """

    __slots__ = ("lead", "parts")

    parts: tuple[str | Quantity, ...]
    lead: str

    def __new__(cls, parts: tuple[str | Quantity, ...] = (), lead: str = "") -> Sentence:
        """Return the sentence of these words and quantities, of which the first are the lead."""
        against = {
            (p.beside, p.unit): p.value for p in parts if isinstance(p, Quantity) and p.beside is not None
        }
        said = (p if isinstance(p, str) else quantity_text(p, against.get((p.value, p.unit))) for p in parts)
        made = super().__new__(cls, "".join(said))
        made.parts, made.lead = parts, lead
        return made

    def __reduce__(self) -> tuple[type[Sentence], tuple[tuple[str | Quantity, ...], str]]:
        """Keep the numbers where it is copied or pickled."""
        return Sentence, (self.parts, self.lead)

    @property
    def rest(self) -> str:
        """What follows the lead."""
        return self[len(self.lead) :].lstrip()

    def shown(self, units: ShownUnits) -> Sentence:
        """Return the sentence with its quantities in the units to show."""
        if units.are_canonical:
            return self
        return Sentence(tuple(p if isinstance(p, str) else p.shown(units) for p in self.parts), self.lead)

    def __add__(self, other: str) -> Sentence:
        """Return the sentence followed by another."""
        return Sentence((*self.parts, *_parts(other)), self.lead)

    def __radd__(self, other: str) -> Sentence:
        """Return words followed by the sentence."""
        return Sentence((*_parts(other), *self.parts))


def _parts(text: str) -> tuple[str | Quantity, ...]:
    return text.parts if isinstance(text, Sentence) else (text,)


def shown_text(text: str, units: ShownUnits) -> str:
    """Return a text of an assessment in the units to show: words without quantities as they are."""
    return text.shown(units) if isinstance(text, Sentence) else text


def words(text: str) -> Sentence:
    """Return words without a quantity whose unit can be chosen: seconds, volts and shares have one unit only."""
    return Sentence((text,))


def led(lead: str, rest: str = "") -> Sentence:
    """Return a sentence whose first words say what it amounts to; it may be all of it."""
    return Sentence((f"{lead} " if rest else lead, *_parts(rest)), lead)


def joined(separator: str, texts: Iterable[str]) -> Sentence:
    """Return texts put together with a separator between each two; quantities stay numbers, the first's lead leads."""
    parts: list[str | Quantity] = []
    lead = ""
    for text in texts:
        if not parts and isinstance(text, Sentence):
            lead = text.lead
        parts += ((separator,) if parts else ()) + _parts(text)
    return Sentence(tuple(parts), lead)


def quantity_text(quantity: Quantity, read_against: float | None = None) -> str:
    """Return one quantity of a sentence with its unit.

    `read_against` is the value in the same sentence that a number of the profile must not seem to belie.
    """
    words = unit_words(quantity.unit)
    if quantity.digits is not None:
        sign = "\N{MINUS SIGN}" if quantity.value < 0 else ""
        return (
            f"{sign}{abs(quantity.value):.{quantity.digits}g} {words if quantity.has_unit else ''}".rstrip()
        )
    if quantity.is_given and read_against is not None:
        return f"{reference_beside(read_against, quantity.value, quantity.unit)} {words}".rstrip()
    if quantity.is_given:
        return f"{plain(quantity.value, quantity.unit)} {words}".rstrip()
    if quantity.beside is not None:
        return beside(quantity.value, quantity.beside, quantity.unit)
    return value_text(quantity.value, quantity.unit)


def sentence(template: str, /, **values: str | int | Quantity) -> Sentence:
    """Return a sentence from a template with named places.

    Examples
    --------
    >>> sentence("ITT was {value}.", value=Quantity(830.0, "degC")).parts
    ('ITT was ', Quantity(value=830.0, unit='degC', beside=None, is_difference=False, is_given=False, digits=None, has_unit=True), '.')
    """
    parts: list[str | Quantity] = []
    for literal, name, _, _ in Formatter().parse(template):
        parts.append(literal)
        if name is None:
            continue
        value = values[name]
        if isinstance(value, Quantity):
            parts.append(value)
        else:
            parts += _parts(value if isinstance(value, str) else str(value))
    merged: list[str | Quantity] = []
    for part in parts:
        if isinstance(part, str) and merged and isinstance(merged[-1], str):
            merged[-1] += part
        elif part != "":
            merged.append(part)
    return Sentence(tuple(merged))


__all__ = ["Quantity", "Sentence", "joined", "led", "sentence", "shown_text", "words"]
