"""What each measure of a start or a flight was read from, for a technician who checks the numbers by hand."""

from __future__ import annotations

from debrief.analysis.model import Assessment, Start
from debrief.report.blocks import Block, Column, Heading, Paragraph, Row, Table
from debrief.session.evidence.why import Why, flight_whys, measure_why

_NOTE = (
    "Samples as recorded, at their time from the first sample of the recording; of a long stretch those that decide. The "
    "rule of each measure is its entry on the page of definitions."
)


def measured_from(assessment: Assessment, start: Start) -> list[Block]:
    """Return a table of the start's measures with a value: the samples, the formula and the lines of the profile."""
    return _table(
        [measure_why(assessment, start, name) for name, proof in start.evidence.items() if proof.readings]
    )


def flight_measured_from(assessment: Assessment) -> list[Block]:
    """Return the same table of the measures of the whole recording."""
    return _table(flight_whys(assessment))


def _table(known: list[Why]) -> list[Block]:
    if not known:
        return []
    columns = (Column("measure", 0.2), Column("read from", 0.45), Column("formula and profile", 0.35))
    rows = tuple(Row((why.title, _samples(why), _rule(why))) for why in known)
    return [
        Heading("What the measures were read from"),
        Paragraph(_NOTE, "muted"),
        Table(columns, rows, dense=True),
    ]


def _samples(why: Why) -> str:
    return "; ".join(f"{what}: {', '.join(samples)}" for what, samples in why.samples)


def _rule(why: Why) -> str:
    held = "; ".join(words for words, _ in why.profile)
    return f"{why.formula}; {held}" if held else why.formula
