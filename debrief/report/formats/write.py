"""Writing the report: PDF, CSV, Parquet or JSON, whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Generator, Sequence
from datetime import date

from debrief.analysis.model import Assessment
from debrief.output import Kind, check_output, write_output
from debrief.report.content.closing_pages import Note
from debrief.report.content.options import PAPERS, Paper, Reader, ReportOptions, parse_select
from debrief.report.content.reference_start import Reference
from debrief.report.content.trend_pages import Usual, UsualPlanes
from debrief.report.content.whole_report import build
from debrief.session.charts.trend_chart import TrendValues
from debrief.steps import done, relayed

KIND_OF = {
    "pdf": Kind.PDF,
    "csv": Kind.TABLE,
    "parquet": Kind.PARQUET,
    "json": Kind.ASSESSMENT,
    "png": Kind.PNG,
    "svg": Kind.SVG,
}
"""What each format of a report is as an output."""


def write_pdf(
    assessment: Assessment,
    path: str | os.PathLike[str],
    *,
    select: str = "all",
    reader: Reader = "technician",
    paper: Paper = "a4",
    notes: Sequence[Note] = (),
    usual: Sequence[Usual] = (),
    trends: Sequence[TrendValues] = (),
    reference: Reference | None = None,
    planes: UsualPlanes | None = None,
    printed_on: date | None = None,
) -> int:
    """Write the report as PDF/A with bookmarks.

    Parameters
    ----------
    assessment : Assessment
        What was found.
    path : path
        The file to write, ``-`` for standard output; see `debrief.output.write_outputs`.
    select : str
        ``all``, ``exceedances`` or ``start:N``.
    reader : str
        ``pilot``, ``student`` or ``technician``.
    paper : str
        ``a4`` or ``letter``.
    notes : sequence of Note
        Printed where there are any.
    usual : sequence of Usual
        How unusual each start is for its engine, as the history says it.
    trends : sequence of TrendValues
        The engine's own history, as the history has it.
    reference : Reference, optional
        The start that a student's starts are compared with, where the user named one.
    planes : mapping, optional
        What is usual of ITT against Ng for the engine of each start, as the history has it.
    printed_on : date, optional
        The day to print; a field to fill in without it.

    Returns
    -------
    int
        How many pages it has.

    Raises
    ------
    UserError
        The selection names nothing, or the file cannot be written, or is something else.
    """
    check_output(path, Kind.PDF, sources=sources_of(assessment))
    options = ReportOptions(parse_select(select), reader, paper, printed_on)
    data, pages = done(pdf_steps(assessment, options, notes, usual, trends, reference, planes))
    write_output(path, data, Kind.PDF, sources=sources_of(assessment))
    return pages


def sources_of(assessment: Assessment) -> dict[str, str]:
    """Return the files that an assessment was made from, for `write_output`, which never replaces them."""
    sources = {assessment.recording.provenance.path: "the recording"}
    if assessment.profile is not None:
        sources[assessment.profile.path] = "the engine profile"
    return sources


def pdf_steps(
    assessment: Assessment,
    options: ReportOptions,
    notes: Sequence[Note] = (),
    usual: Sequence[Usual] = (),
    trends: Sequence[TrendValues] = (),
    reference: Reference | None = None,
    planes: UsualPlanes | None = None,
) -> Generator[float, None, tuple[bytes, int]]:
    """Make a PDF/A file in steps that can be stopped between; return its bytes and how many pages it has.

    Yields the share that is done.
    """
    from debrief.report.pdf.archive import archived
    from debrief.report.pdf.paint import pdf_bytes_steps

    content = build(assessment, options, notes, usual, trends, reference, planes)
    yield 0.2
    data, pages = yield from relayed(
        pdf_bytes_steps(content, PAPERS[options.paper]), lambda share: 0.3 + 0.5 * share
    )
    yield 0.8
    return archived(data, [(mark.title, mark.page) for mark in pages.bookmarks]), len(pages.pages)


def write_csv(assessment: Assessment, path: str | os.PathLike[str], *, select: str = "all") -> None:
    """Write starts and events as one table for a spreadsheet, in canonical units; see `debrief.report.formats.tables`.

    Raises
    ------
    UserError
        The selection names nothing, or the file cannot be written, or is something else.
    """
    from debrief.report.formats.tables import csv_text

    # The mark at the front tells spreadsheets that it is UTF-8.
    data = csv_text(assessment.canonical, parse_select(select)).encode("utf-8-sig")
    write_output(path, data, Kind.TABLE, sources=sources_of(assessment))


def write_parquet(assessment: Assessment, path: str | os.PathLike[str], *, select: str = "all") -> None:
    """Write the same table typed, as Parquet, in canonical units; see `debrief.report.formats.tables`.

    Raises
    ------
    UserError
        The selection names nothing, or the file cannot be written, or is something else.
    """
    from debrief.report.formats.tables import parquet

    data = parquet(assessment.canonical, parse_select(select))
    write_output(path, data, Kind.PARQUET, sources=sources_of(assessment))


def write_json(assessment: Assessment, path: str | os.PathLike[str]) -> None:
    """Write the assessment as the JSON document of ``debrief assess --format json``.

    Raises
    ------
    UserError
        The file cannot be written, or is something else.
    """
    from debrief.session.document import assessment_pieces

    pieces = assessment_pieces(assessment.canonical)
    data = b"".join(piece.encode("utf-8", "backslashreplace") for piece in pieces) + b"\n"
    write_output(path, data, Kind.ASSESSMENT, sources=sources_of(assessment))
