"""From columns to channels: evidence of name, unit and values, a confidence each, and what must be asked."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from debrief.recording.evidence import Evidence, Reading, read_column, told_unit, with_values
from debrief.recording.lexicon import (
    ACCEPTED,
    SURE,
    WEAK,
    NameMatch,
    match_name,
    measured_name,
    partial_matches,
    wanted_word,
)
from debrief.recording.maps import NOT_USED, ColumnMap, as_option
from debrief.recording.model import CANONICAL, FloatArray
from debrief.recording.table import NO_CHANNEL_HOLDS
from debrief.recording.units import BY_NAME, QUANTITIES, Unit

NOT_MEASURED = "not a measurement but a set point, target, limit or command"
"""What is said of a column whose name tells so."""


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
        ``option``, ``units row``, ``header``, ``cells``, ``values``, ``assumed`` or "".
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


@dataclass(frozen=True)
class Matching:
    """All proposals in column order, with what was decided and what must be asked."""

    proposals: tuple[Proposal, ...]
    decisions: tuple[str, ...]
    questions: tuple[str, ...]


def match_columns(
    evidence: Sequence[Evidence],
    names: Sequence[str],
    maps: Sequence[ColumnMap],
    taken: Mapping[int, str],
) -> Matching:
    """Return which column is which channel.

    Parameters
    ----------
    evidence : sequence of Evidence
        Every column that may become a channel.
    names : sequence of str
        All columns of the file.
    maps : sequence of ColumnMap
        What a person said; it wins over every name. A column that is said to be not used stays unmapped and
        nothing is asked about it.
    taken : mapping of int to str
        Columns with another role (time, index, ...).

    Notes
    -----
    A column is matched when its confidence reaches `lexicon.ACCEPTED` and nothing speaks against it. Of two
    columns for one channel the surer one is matched and the other named; equally sure ones are both left
    unmapped, unless they hold the same values or one is in the canonical unit.
    """
    decisions: list[str] = []
    questions: list[str] = []
    by_column = {item.column: item for item in evidence}
    out: dict[int, Proposal] = {
        column: Proposal(column, names[column], role=role) for column, role in taken.items()
    }
    used: set[str] = set()
    for told in maps:
        if told.channel == "time" or told.column not in by_column:
            continue
        if told.channel == NOT_USED:
            how = "as is remembered" if told.source == "remembered" else "as was said"
            decisions.append(f'"{names[told.column]}" is not used, {how}')
            out[told.column] = Proposal(
                told.column, names[told.column], source=told.source, why=f"said: {told.text}"
            )
            continue
        out[told.column] = _told(told, by_column[told.column], decisions, questions)
        used.add(told.channel)
    unique = {name for name in names if names.count(name) == 1}

    def option(channel: str, column: int, unit: str = "") -> str:
        return as_option(channel, names[column], column, unit, unique=names[column] in unique)

    readings: dict[int, list[Reading]] = {}
    told_families = {
        unit.name
        for item in evidence
        if (unit := told_unit(item)) is not None and unit.quantity == "temperature"
    }
    for item in evidence:
        if item.column in out:
            continue
        readings[item.column] = read_column(item, told_families)
    several = _several_engines(readings)
    rivals: dict[str, list[tuple[int, Reading]]] = {}
    numbered: list[tuple[int, str, int]] = []
    for column, options in readings.items():
        best = _best(options)
        if best is None:
            continue
        number = best.match.engine
        if number is not None and best.match.plain_number and not several:
            others = [
                c
                for c, rs in readings.items()
                if c != column and (r := _best(rs)) and r.match.channel == best.match.channel
            ]
            if others or number > 1:
                numbered.append((column, best.match.channel, number))
                out[column] = _unsure(column, names[column], options, "engine or probe number")
                continue
        key = best.match.channel if number in (None, 1) else f"{best.match.channel}.{number}"
        rivals.setdefault(key, []).append((column, best))
    for key, group in rivals.items():
        if key in used:
            for column, _ in group:
                out[column] = _unsure(column, names[column], readings[column], f"{key} is already mapped")
            continue
        chosen = _choose(key, group, by_column, names, decisions, questions, option)
        for column, reading in group:
            if column != chosen:
                out[column] = _unsure(column, names[column], readings[column], f"may be {key}")
                continue
            used.add(key)
            out[column] = _accepted(column, names[column], key, reading, readings[column])
            if reading.unit_source in ("values", "assumed") and CANONICAL[key.partition(".")[0]][:3] != "0/1":
                taken_unit = reading.unit.name if reading.unit else "no unit"
                how = "by its values" if reading.unit_source == "values" else "since none is told"
                decisions.append(f'"{names[column]}" tells no unit; {taken_unit} was taken {how}')
            if reading.match.confidence < SURE - 0.06:
                decisions.append(
                    f'"{names[column]}" was taken for {key} (confidence {reading.confidence:.2f})'
                )
    for column, options in readings.items():
        if column in out:
            continue
        out[column] = _unsure(column, names[column], options, "")
        for reading in options:
            number = reading.match.engine
            if reading.match.plain_number and not several:
                number = None
            key = reading.match.channel if number in (None, 1) else f"{reading.match.channel}.{number}"
            if key in used or (reading.doubt and reading.match.confidence < ACCEPTED):
                continue
            if reading.options:
                ways = " or ".join(option(key, column, unit) for unit in reading.options)
            else:
                ways = option(key, column, reading.unit.name if reading.unit else "")
            doubt = f" ({reading.doubt})" if reading.doubt else ""
            questions.append(f'"{names[column]}" may be {key}{doubt}: {ways}')
            break
        else:
            unit = told_unit(by_column[column])
            fitting = [
                (channel, confidence)
                for channel, confidence in partial_matches(names[column])
                if unit is None or unit.quantity in QUANTITIES[channel]
            ]
            for channel, confidence in fitting[:1]:
                if channel not in used:
                    out[column] = replace(out[column], candidates=((channel, confidence),))
    for column, channel, number in numbered:
        if channel not in used:
            questions.append(
                f'"{names[column]}" may be {channel} of engine {number} or one of several probes; if the former: '
                f"{option(channel if number == 1 else f'{channel}.{number}', column)}"
            )
    if any(r.match.channel == "np" and "krpm" in r.options for rs in readings.values() for r in rs):
        for column, proposal in out.items():
            if proposal.channel == "ng" and proposal.unit_source == "assumed":
                questions.append(
                    f'"{names[column]}" tells no unit and was taken in %; if it is in thousands of rpm: '
                    f"{option('ng', column, 'krpm')}"
                )
    questions.extend(_partial_questions(out, used | {c for _, c, _ in numbered}, option))
    for column, proposal in out.items():
        if proposal.channel is None and column in by_column:
            unit = told_unit(by_column[column])
            word = wanted_word(proposal.name)
            if word and not proposal.why and not proposal.candidates:
                proposal = replace(proposal, why=f"{NOT_MEASURED}, by its name")
                if any(m.confidence >= WEAK for m in match_name(measured_name(proposal.name))):
                    decisions.append(f'"{proposal.name}" is {NOT_MEASURED}, and stays unmapped ("{word}")')
            out[column] = replace(proposal, unit=unit, unit_source="header" if unit else "")
    ordered = tuple(out[column] for column in sorted(out))
    return Matching(ordered, tuple(decisions), tuple(questions))


def _told(told: ColumnMap, item: Evidence, decisions: list[str], questions: list[str]) -> Proposal:
    unit, source = told.unit, "option"
    if unit is None:
        unit = told_unit(item)
        source = "units row" if item.units_cell.strip() and unit else "header"
        quantities = QUANTITIES[told.channel.partition(".")[0]]
        if unit is not None and unit.quantity not in quantities:
            unit = None
    if unit is None:
        base = told.channel.partition(".")[0]
        match = NameMatch(base, None, 1.0, None, "")
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
            questions.append(f'"{item.name}" was mapped to {told.channel} without a unit ({reading.doubt})')
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
    )


def _best(readings: Sequence[Reading]) -> Reading | None:
    if readings and readings[0].confidence >= ACCEPTED:
        return readings[0]
    return None


def _several_engines(readings: Mapping[int, Sequence[Reading]]) -> bool:
    """Whether the file has more than one engine: a worded number 2, or two quantities numbered 1 and 2."""
    numbered: dict[str, set[int]] = {}
    for options in readings.values():
        best = _best(options)
        if best is None or best.match.engine is None:
            continue
        if not best.match.plain_number and best.match.engine > 1:
            return True
        numbered.setdefault(best.match.channel, set()).add(best.match.engine)
    return sum(1 for numbers in numbered.values() if {1, 2} <= numbers) >= 2


def _choose(
    key: str,
    group: Sequence[tuple[int, Reading]],
    evidence: Mapping[int, Evidence],
    names: Sequence[str],
    decisions: list[str],
    questions: list[str],
    option: Callable[..., str],
) -> int | None:
    """Return the column for a channel out of those that are sure enough; None where none stands out."""
    if len(group) == 1:
        return group[0][0]
    ranked = sorted(group, key=lambda pair: (-pair[1].confidence, pair[0]))
    top = ranked[0][1].confidence
    level = [pair for pair in ranked if top - pair[1].confidence < 0.04]
    if len(level) > 1:
        canonical = CANONICAL[key.partition(".")[0]]
        first = evidence[level[0][0]].numbers(key).values
        if all(
            np.array_equal(first, evidence[column].numbers(key).values, equal_nan=True)
            for column, _ in level[1:]
        ):
            decisions.append(
                ", ".join(f'"{names[c]}"' for c, _ in level)
                + f" hold the same values; the first was taken for {key}"
            )
            return level[0][0]
        in_canonical = [pair for pair in level if pair[1].unit is not None and pair[1].unit.name == canonical]
        units = {pair[1].unit.name if pair[1].unit else "" for pair in level}
        agree = len(in_canonical) == 1 and all(
            _proportional(
                evidence[in_canonical[0][0]].numbers(key).values, evidence[column].numbers(key).values
            )
            for column, _ in level
        )
        if agree and len(units) == len(level):
            level = in_canonical
        else:
            ways = " or ".join(
                option(key, column, r.unit.name if r.unit and len(units) > 1 else "") for column, r in level
            )
            questions.append(
                f"{len(level)} columns may be {key} and hold different values, so none was taken: {ways}"
            )
            return None
    chosen = level[0][0]
    taken = evidence[chosen].numbers(key).values
    others: list[int] = []
    copies: list[int] = []
    for column, _ in ranked:
        if column != chosen:
            same = np.array_equal(taken, evidence[column].numbers(key).values, equal_nan=True)
            (copies if same else others).append(column)
    if copies:
        decisions.append(
            f'"{names[chosen]}" was taken for {key}; '
            + ", ".join(f'"{names[c]}"' for c in copies)
            + " holds the same values"
        )
    if not others:
        return chosen
    questions.append(
        f'"{names[chosen]}" was taken for {key}; '
        + ", ".join(f'"{names[c]}"' for c in others)
        + f" may be it too: {' or '.join(option(key, c) for c in others)}"
    )
    return chosen


def _proportional(one: FloatArray, other: FloatArray) -> bool:
    """Whether one column may be the other in another unit: a straight line fits both within 2 % of the range.

    A percentage of something else, such as of the range above idle, does not rise with the speed all along.
    """
    both = (np.abs(one) < NO_CHANNEL_HOLDS) & (np.abs(other) < NO_CHANNEL_HOLDS)
    if np.count_nonzero(both) < 2:
        return False
    x, y = one[both], other[both]
    if np.ptp(x) == 0 or np.ptp(y) == 0:
        return bool(np.ptp(x) == np.ptp(y))
    slope, offset = np.polyfit(x, y, 1)
    return bool(np.max(np.abs(slope * x + offset - y)) <= 0.02 * np.ptp(y))


def _candidates(readings: Sequence[Reading]) -> tuple[tuple[str, float], ...]:
    return tuple(
        (
            r.match.channel if r.match.engine in (None, 1) else f"{r.match.channel}.{r.match.engine}",
            round(r.confidence, 2),
        )
        for r in readings
    )


def _accepted(column: int, name: str, key: str, reading: Reading, options: Sequence[Reading]) -> Proposal:
    return Proposal(
        column, name, key, reading.unit, reading.unit_source, reading.confidence, "header",
        tuple(c for c in _candidates(options) if c[0] != key), "channel", "by its header",
    )  # fmt: skip


def _unsure(column: int, name: str, options: Sequence[Reading], why: str) -> Proposal:
    unit = options[0].unit if options else None
    return Proposal(
        column, name, None, unit, options[0].unit_source if options else "",
        options[0].confidence if options else 0.0, "none", _candidates(options), "unmapped",
        why or (options[0].doubt if options else ""),
    )  # fmt: skip


def _partial_questions(
    proposals: Mapping[int, Proposal], used: set[str], option: Callable[..., str]
) -> list[str]:
    """Return a question per channel that no column matched while the names of some hint at it."""
    hints: dict[str, list[int]] = {}
    for proposal in proposals.values():
        if proposal.role == "unmapped" and proposal.channel is None and proposal.candidates:
            channel, confidence = proposal.candidates[0]
            if confidence <= 0.3 and channel not in used:
                hints.setdefault(channel, []).append(proposal.column)
    return [
        f"{channel} was not found; "
        + ", ".join(f'"{proposals[c].name}"' for c in columns[:3])
        + f" may be it: {' or '.join(option(channel, c) for c in columns[:3])}"
        for channel, columns in hints.items()
    ]
