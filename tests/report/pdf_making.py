"""The report as a PDF/A file in memory."""

from __future__ import annotations

from debrief.analysis.model import Assessment
from debrief.report.content.options import ReportOptions
from debrief.report.formats.write import pdf_steps
from debrief.steps import done


def pdf(assessment: Assessment, options: ReportOptions) -> bytes:
    """Return the bytes of the report."""
    return done(pdf_steps(assessment, options))[0]
