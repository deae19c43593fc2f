"""What one column is proposed as: by a person's word, by its evidence, or unsure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from debrief.recording.lexicon import NameMatch
from debrief.recording.matching.column_readings import Evidence, Reading, told_unit, with_values
from debrief.recording.matching.maps import ColumnMap
from debrief.recording.matching.rivals import meant
from debrief.words.channels import CANONICAL
from debrief.words.units import BY_NAME, QUANTITIES, Unit


@dataclass(frozen=True)
class Proposal:
    """What one column is taken for, and why; the import dialog shows these.

    Attributes
    ----------
    column : int
        Number of the column, from 0.
    name : str
        Header as found.
    channel : str or None
        Channel that it is read as; None where it stays unmapped.
    unit : Unit or None
        Unit of the values in the file.
    unit_source : str
        ``option``, ``units row``, ``header``, ``cells``, ``sibling``, ``values``, ``assumed`` or "".
    confidence : float
        0 to 1; 1 where a person said so.
    source : str
        ``header``, ``option``, ``remembered`` or ``none``; also that of a column said to be not used.
    candidates : tuple of (str, float)
        Other channels that it might be, with confidence.
    role : str
        ``channel``, ``time``, ``date``, ``index``, ``identity``, ``text``, ``empty`` or ``unmapped``.
    why : str
        One line for a person.
    joined : str
        ``mean`` or ``highest`` of a column that is one of several probes of `channel`; else empty.
    """

    column: int
    name: str
    channel: str | None = None
    unit: Unit | None = None
    unit_source: str = ""
    confidence: float = 0.0
    source: str = "none"
    candidates: tuple[tuple[str, float], ...] = ()
    role: str = "unmapped"
    why: str = ""
    joined: str = ""


@dataclass(frozen=True)
class Matching:
    """All proposals in column order, with what was decided and what must be asked."""

    proposals: tuple[Proposal, ...]
    decisions: tuple[str, ...]
    questions: tuple[str, ...]
    engines_left: Mapping[int, tuple[str, ...]] = field(default_factory=dict)
    """Engines that columns show by their names while no channel is of them, with these columns."""


def as_told(told: ColumnMap, item: Evidence, decisions: list[str], questions: list[str]) -> Proposal:
    """Return a column as a person said that it is; the unit, where it was not said, by the evidence."""
    unit, source = told.unit, "option"
    if unit is None:
        unit = told_unit(item)
        source = "units row" if item.units_cell.strip() and unit else "header"
        quantities = QUANTITIES[told.channel.partition(".")[0]]
        if unit is not None and unit.quantity not in quantities:
            unit = None
    if unit is None:
        base = told.channel.partition(".")[0]
        match = NameMatch(base, None, 1.0, None)
        reading = with_values(Reading(match, None, "", 1.0), item.numbers(told.channel), set(), "")
        unit, source = reading.unit, reading.unit_source
        if unit is None:
            unit, source = BY_NAME[CANONICAL[base]], "assumed"
        if unit.quantity != "state":
            decisions.append(
                f'"{item.name}" tells no unit; {unit.name} was taken '
                + ("by its values" if source == "values" else "since none is told")
            )
        if reading.doubt:
            questions.append(
                f'"{item.name}" was mapped to {meant(told.channel, item.name)} without a unit ({reading.doubt})'
            )
    return Proposal(
        item.column,
        item.name,
        told.channel,
        unit,
        source,
        1.0,
        told.source,
        role="channel",
        why=f"said: {told.text}",
        joined=told.joined,
    )


def _candidates(readings: Sequence[Reading]) -> tuple[tuple[str, float], ...]:
    return tuple(
        (
            r.match.channel if r.match.engine in (None, 1) else f"{r.match.channel}.{r.match.engine}",
            round(r.confidence, 2),
        )
        for r in readings
    )


def accepted(column: int, name: str, key: str, reading: Reading, options: Sequence[Reading]) -> Proposal:
    """Return a column that is sure enough, as its channel."""
    return Proposal(
        column, name, key, reading.unit, reading.unit_source, reading.confidence, "header",
        tuple(c for c in _candidates(options) if c[0] != key), "channel", "by its header",
    )  # fmt: skip


def unsure(column: int, name: str, options: Sequence[Reading], why: str) -> Proposal:
    """Return a column that stays unmapped, with what it might be."""
    unit = options[0].unit if options else None
    return Proposal(
        column, name, None, unit, options[0].unit_source if options else "",
        options[0].confidence if options else 0.0, "none", _candidates(options), "unmapped",
        why or (options[0].doubt if options else ""),
    )  # fmt: skip
