"""The long work of the report view, as generators for the jobs: laying out, drawing, writing, printing."""

from __future__ import annotations

from collections.abc import Generator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtGui import QImage

from debrief.errors import UserError
from debrief.session.opening.opening_steps import Progress
from debrief.session.session import Session

if TYPE_CHECKING:
    from PySide6.QtPrintSupport import QPrinter

    from debrief.analysis.model import Assessment
    from debrief.report.blocks import ReportContent
    from debrief.report.content.options import ReportOptions
    from debrief.report.content.reference_start import Reference
    from debrief.report.pdf.layout import Pages


@dataclass(frozen=True)
class PaperChoice:
    """What the paper is to be: as the command line takes it."""

    select: str = "all"
    reader: str = "technician"
    paper: str = "a4"
    with_history: bool = False
    reference: str = ""
    """What a student's starts are compared with, ``FILE`` or ``FILE:START``; empty where no start was named."""


def _options(choice: PaperChoice) -> ReportOptions:
    from debrief.report.content.options import ReportOptions, parse_select

    select = parse_select(choice.select)
    return ReportOptions(select, choice.reader, choice.paper, date.today())  # type: ignore[arg-type]


def _history_values(assessment: Assessment, choice: PaperChoice) -> tuple[Any, Any, Any, Any]:
    if not choice.with_history:
        from debrief.history.service.notes import own_notes

        return own_notes(assessment.recording.provenance.sha256), (), (), {}
    from debrief.history.service.history_service import own_paper_values

    return own_paper_values(assessment)


def _content(assessment: Assessment, choice: PaperChoice) -> ReportContent:
    """Return what the chosen paper says."""
    from debrief.report.content.whole_report import build

    notes, usual, trends, planes = _history_values(assessment, choice)
    return build(assessment, _options(choice), notes, usual, trends, _reference(assessment, choice), planes)


def _reference(assessment: Assessment, choice: PaperChoice) -> Reference | None:
    if not choice.reference:
        return None
    from debrief.report.content.reference_start import other_recording, parse_reference
    from debrief.session.assessing.file_assessment import Choices, assess_file
    from debrief.session.texts.in_units import in_units

    path, number = parse_reference(choice.reference)
    if path == assessment.recording.provenance.path:
        return other_recording(assessment, number)
    profile = assessment.profile.path if assessment.profile is not None else ""
    other = assess_file(path, Choices(profile=profile or None))
    return other_recording(in_units(other, assessment.units), number)


def pages_steps(assessment: Assessment, choice: PaperChoice) -> Generator[None, None, Pages]:
    """Lay the chosen paper out; return its pages."""
    from debrief.report.content.options import PAPERS
    from debrief.report.pdf.paint import paper_pages

    yield None
    content = _content(assessment, choice)
    yield None
    return paper_pages(content, PAPERS[_options(choice).paper])


def image_steps(
    pages: Pages, wanted: tuple[int, ...], dpi: int
) -> Generator[tuple[int, int, QImage], None, None]:
    """Yield (page, resolution, picture) for each page that is wanted."""
    from debrief.report.pdf.paint import page_image

    for page in wanted:
        yield page, dpi, page_image(pages.pages[page], (pages.width, pages.height), dpi)


def save_steps(
    session: Session, choice: PaperChoice, format_: str, path: Path
) -> Generator[Progress, None, tuple[str, str]]:
    """Write a file in one of the formats; return what to tell the user, and its path."""
    from debrief.output import Kind, check_output, write_output
    from debrief.report.content.reference_start import parse_reference
    from debrief.report.formats.write import KIND_OF, pdf_steps, sources_of, write_csv, write_json
    from debrief.steps import relayed

    yield Progress(f"Writing {path.name}")
    assessment = session.assessment
    sources = sources_of(assessment) | {str(session.path): "the recording"}
    if choice.reference:
        sources[parse_reference(choice.reference)[0]] = "the recording that is compared with"
    check_output(path, KIND_OF[format_], sources=sources)
    if format_ == "pdf":
        notes, usual, trends, planes = _history_values(assessment, choice)
        reference = _reference(assessment, choice)
        data, _ = yield from relayed(
            pdf_steps(assessment, _options(choice), notes, usual, trends, reference, planes),
            lambda share: Progress(f"Writing {path.name}", share),
        )
        yield Progress(f"Writing {path.name}", 0.9)
        write_output(path, data, Kind.PDF, sources=sources)
    elif format_ == "csv":
        write_csv(assessment, path, select=choice.select)
    elif format_ == "json":
        write_json(assessment, path)
    else:
        from debrief.report.formats.picture import write_picture

        write_picture(assessment, path, selection=_options(choice).selection, as_svg=format_ == "svg")
    what = "Report" if format_ == "pdf" else "File"
    return f"{what} saved: {path}", str(path)


def print_steps(
    assessment: Assessment, choice: PaperChoice, printer: QPrinter
) -> Generator[Progress, None, tuple[str, str]]:
    """Print the chosen paper; return what to tell the user, and no path."""
    from dataclasses import replace

    from PySide6.QtGui import QPageLayout
    from PySide6.QtPrintSupport import QPrinter

    from debrief.report.pdf.paint import laid_out, paint_pages_steps

    yield Progress("Printing")
    content = _content(assessment, choice)
    yield Progress("Printing", 0.3)
    # The dialog may have chosen another paper than the preview has: it is laid out for what is in the printer.
    size = printer.pageLayout().fullRect(QPageLayout.Unit.Millimeter)
    pages = laid_out(content, (size.width(), size.height()), printer)
    if printer.printRange() == QPrinter.PrintRange.PageRange and printer.fromPage() > 0:
        first, last = printer.fromPage(), printer.toPage() or len(pages.pages)
        pages = replace(pages, pages=pages.pages[first - 1 : last])
    if not pages.pages:
        raise UserError("Nothing was printed: the paper has no such pages.")
    try:
        for share in paint_pages_steps(printer, pages):
            yield Progress("Printing", 0.6 + 0.4 * share)
    except RuntimeError:
        raise UserError("The printer could not be reached: choose it again, or save as PDF.") from None
    name = printer.outputFileName() or printer.printerName() or "the printer"
    count = len(pages.pages)
    return f"Printed {count} page{'' if count == 1 else 's'}: {name}", ""
