"""The measures of a start or a flight with what each was read from, for a technician who checks the numbers by hand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from types import MappingProxyType

from debrief.analysis.model import Assessment, Start
from debrief.report.blocks import Block, Column, Columns, Heading, Paragraph, Row, Table
from debrief.session.evidence.file_rows import rows_words
from debrief.session.evidence.measure_tables import MeasureRow, abort_rows, flight_rows, start_rows
from debrief.session.evidence.why import Why, measure_why

ABORT_TITLE = "How the attempt was ended"
Letters = Mapping[str, str]
"""The letter of each formula that several measures have."""
NO_LETTERS: Letters = MappingProxyType({})

HOW_READ = (
    "Below a measure stand the samples that it was read from, as recorded, at their time from the first sample, and their rows of "
    'the file; of a long stretch those that decide. "As above": the same samples as of a measure before; "outside": a neighbour '
    "before or after the stretch, which does not count. A line is that of the profile's text at the end of this paper. The rule "
    "of each measure is its entry on the page of definitions."
)


def measured(assessment: Assessment, start: Start, letters: Letters) -> list[Block]:
    """Return the measures of a start, each with what it was read from, and those that are not known."""
    whys = _start_whys(assessment, start)
    rows = start_rows(start, assessment.profile, assessment.recording.names)
    blocks = _table("Measured", [row for row in rows if row.known or row.name in whys], whys, letters)
    unknown = [row for row in rows if not row.known and row.name not in whys]
    if unknown:
        said = "; ".join(f"{row.title}: {row.alone}" for row in unknown)
        blocks.append(Paragraph(f"Not known: {said}.", "muted"))
    return blocks + _table(
        ABORT_TITLE, abort_rows(start, assessment.profile, assessment.recording.names), whys, letters
    )


def flight_measured(assessment: Assessment, letters: Letters) -> list[Block]:
    """Return the measures of the whole recording in the same way."""
    measures = assessment.flight_measures
    named = zip(
        measures, flight_rows(measures, assessment.recording.names), strict=True
    )  # a row has its measure's name without the engine's
    rows = [replace(row, name=name) for name, row in named if row.known]
    return _table("Measured over the whole recording", rows, _flight_whys(assessment), letters)


def formula_letters(assessment: Assessment, starts: Sequence[Start]) -> Letters:
    """Return the formulas that several measures of a paper have, each with its letter: they are printed once."""
    whys = [why for start in starts for why in _start_whys(assessment, start).values()]
    whys += _flight_whys(assessment).values()
    count = Counter(why.formula for why in whys if why.formula)
    several = [formula for formula, times in count.items() if times > 1]
    return {formula: _letter(number) for number, formula in enumerate(several)}


def formula_lines(letters: Letters) -> str:
    """Return the formulas by their letters in a sentence; empty without any."""
    return "; ".join(f"({letter}) {formula}" for formula, letter in letters.items())


def _letter(number: int) -> str:
    return chr(ord("A") + number % 26) * (1 + number // 26)


def _start_whys(assessment: Assessment, start: Start) -> dict[str, Why]:
    names = [name for name, proof in start.evidence.items() if proof.readings]
    return {name: measure_why(assessment, start, name) for name in names}


def _flight_whys(assessment: Assessment) -> dict[str, Why]:
    names = [name for name, proof in assessment.flight_evidence.items() if proof.readings]
    return {name: measure_why(assessment, None, name) for name in names}


def _table(title: str, known: Sequence[MeasureRow], whys: Mapping[str, Why], letters: Letters) -> list[Block]:
    if not known:
        return []
    columns = (Column("", 0.37), Column("measured; profile", 0.63))
    seen: set[tuple[str, tuple[str, ...]]] = set()
    rows = tuple(_row(row, whys.get(row.name), letters, seen) for row in known)
    return [Heading(title), Columns((Table(columns, rows, dense=True),))]


def _row(row: MeasureRow, why: Why | None, letters: Letters, seen: set[tuple[str, tuple[str, ...]]]) -> Row:
    if why is None:
        return Row((row.title, _beside(row.value, row.profile)))
    lines: list[str] = []
    held: list[str] = []
    for one, key in why.keys:
        if one.line is not None and key in row.keys:
            lines.append(str(one.line))  # the number of the profile stands beside the value
        else:
            held.append(one.text("" if one.line is None else f"line {one.line}"))
    profile = row.profile
    if lines:
        profile = f"{profile} (line{'s' if len(lines) > 1 else ''} {', '.join(lines)})".strip()
    samples = "; ".join(
        f"{what}, as above" if (what, one) in seen else f"{_with_rows(what, rows)}: {', '.join(one)}"
        for (what, one), rows in zip(why.samples, why.rows, strict=True)
    )
    seen.update(why.samples)
    letter = letters.get(why.formula)
    formula = f"({letter})" if letter else why.formula
    detail = "; ".join(filter(None, (samples, formula, *held)))
    return Row((row.title, _beside(row.value, profile)), detail=detail)


def _with_rows(what: str, rows: Sequence[int]) -> str:
    return f"{what} ({rows_words(rows)})" if rows else what


def _beside(value: str, profile: str) -> str:
    return f"{value}; {profile}" if profile else value
