"""The page of the flight: its profile with phases and loads, the margin, steady stretches, loads, cycles, power check."""

from __future__ import annotations

from debrief.analysis.model import Assessment
from debrief.report.blocks import Block, Column, Heading, Paragraph, Row, Section, Still, Table
from debrief.session.flight.flight_charts import flight_chart, margin_chart
from debrief.session.flight.flight_tables import FlightTable, flight_tables
from debrief.session.texts.recording_kind import is_flight
from debrief.words.engines import engine_named

FLIGHT_MM, MARGIN_MM = 84.0, 46.0


def flight_told(assessment: Assessment) -> Section | None:
    """Return what was measured of the flight in charts and lists; None where there is none of it.

    Its single measures stand with those of the whole recording.
    """
    tables = [one for one in map(_lists_alone, flight_tables(assessment)) if one.rows]
    flew = is_flight(assessment)
    if not tables and not flew:
        return None
    blocks: list[Block] = []
    engines = assessment.recording.engines if flew else ()
    for engine in engines:
        if len(engines) > 1:
            blocks.append(Heading(engine_named(engine, begins=True)))
        blocks.append(Still(flight_chart(assessment, engine), FLIGHT_MM))
        margin = margin_chart(assessment, engine)
        if not margin.problem:
            blocks.append(Still(margin, MARGIN_MM))
    for table in tables:
        blocks += [Heading(table.title), _printed(table), Paragraph(table.about, "muted")]
    return Section("The flight" if flew else "The run", tuple(blocks))


def _lists_alone(table: FlightTable) -> FlightTable:
    """Return a table without the measures that have their place elsewhere."""
    rows = tuple(row for row in table.rows if not row.measure)
    return FlightTable(table.title, table.about, table.columns, rows)


def _printed(table: FlightTable) -> Table:
    """Return a table for paper: columns in which nothing stands are left out."""
    used = [
        position for position in range(len(table.columns)) if any(row.cells[position] for row in table.rows)
    ]
    total = sum(table.columns[position].share for position in used)
    return Table(
        tuple(
            Column(
                table.columns[position].title.replace("\n", " "),
                table.columns[position].share / total,
                table.columns[position].is_number,
            )
            for position in used
        ),
        tuple(Row(tuple(row.cells[position] for position in used)) for row in table.rows),
        dense=True,
    )
