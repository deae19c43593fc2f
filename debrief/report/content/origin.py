"""Where the numbers of a paper come from: how the file was read, and what it was held against."""

from __future__ import annotations

from debrief.analysis.model import Assessment
from debrief.recording.model import Channel
from debrief.report.blocks import Block, Column, Pairs, Paragraph, Row, Section, Table
from debrief.report.content import phrases
from debrief.report.content.options import Reader
from debrief.session.assessing.user_inputs import stated
from debrief.words.numbers import unit_words


def origin_section(assessment: Assessment, reader: Reader) -> Section:
    """Return how the file was read, for a technician column by column, and what it was held against."""
    blocks: list[Block] = [_provenance(assessment)]
    blocks += _column_tables(assessment) if reader == "technician" else [_recorded(assessment)]
    count = len(assessment.recording.provenance.questions)
    if count:
        many = "1 open question" if count == 1 else f"{count} open questions"
        blocks.append(Paragraph(f"{many} about columns: see data quality.", "small"))
    return Section("Where the numbers come from", tuple(blocks))


def _recorded(assessment: Assessment) -> Paragraph:
    """Return which channels were recorded, those of one rate together."""
    alike: dict[str, list[str]] = {}
    for name, channel in assessment.recording.channels.items():
        rate = f"{channel.time_s.size} samples, {phrases.rate_text(channel.interval_s)}"
        alike.setdefault(rate, []).append(assessment.recording.names.words(name))
    return Paragraph(". ".join(f"{rate}: {', '.join(names)}" for rate, names in alike.items()) + ".", "small")


def _provenance(assessment: Assessment) -> Pairs:
    provenance, profile = assessment.recording.provenance, assessment.profile
    rows = [("Size", f"{provenance.byte_count} bytes, {phrases.recorded_line(assessment)}")]
    dialect = ", ".join(
        part
        for part in (
            provenance.encoding,
            f"delimiter {_DELIMITERS.get(provenance.delimiter, provenance.delimiter)}"
            if provenance.delimiter
            else "",
            "decimal comma" if provenance.decimal == "," else "",
            f"time from {provenance.time_source}" if provenance.time_source else "",
        )
        if part
    )
    if dialect:
        rows.append(("Read as", dialect))
    rows += stated(assessment)
    if not assessment.units.are_canonical:
        rows.append(("Units", phrases.units_line(assessment)))
    if profile is not None:
        if profile.source:
            rows.append(("Profile source", profile.source))
        rows += phrases.profile_hands(profile)
        rows.append(("Profile SHA-256", profile.sha256 or "not known"))
    return Pairs(tuple(rows), label_mm=30.0, dense=True)


_DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "pipe"}
_LEAST_IN_TWO = 6
_MAP_WORDS = {
    "option": "named on reading",
    "remembered": "remembered",
    "entered": "entered",
    "none": "not matched",
}


def _column_tables(assessment: Assessment) -> list[Block]:
    """Return which column became which channel, two side by side where there are many."""
    channels = assessment.recording.channels
    rows = tuple(
        _column_row(assessment.recording.names.words(name), channel) for name, channel in channels.items()
    )
    # "psi → bar" stands on one line, also where two rows share the width.
    converted = any("→" in row.cells[2] for row in rows)
    columns = (
        Column("channel", 0.285 if converted else 0.355),
        Column("column in the file", 0.268 if converted else 0.285),
        Column("unit", 0.187 if converted else 0.09),
        Column("samples", 0.13, right=True),
        Column("rate", 0.12 if converted else 0.136, right=True),
    )
    blocks: list[Block] = [
        Paragraph(
            "Columns were matched by their header unless it is said otherwise. An arrow shows a conversion.",
            "muted",
        )
    ]
    blocks.append(Table(columns, rows, dense=True, sets=1 if len(rows) < _LEAST_IN_TWO else 2))
    return blocks


def _column_row(words: str, channel: Channel) -> Row:
    source = _MAP_WORDS.get(channel.map_source, channel.map_source)
    column = channel.column or "—"
    if channel.map_source != "header":
        column += f" ({source})"
    here, there = unit_words(channel.unit), unit_words(channel.column_unit)
    unit = f"{there} → {here}" if there and there != here else here
    size = str(channel.time_s.size)
    return Row((words, column, unit or "0/1", size, phrases.rate_text(channel.interval_s)))
