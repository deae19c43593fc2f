"""The end of a technician's paper: how the numbers were measured, and the profile's own text with its lines.

What "line 33" of the profile was can so be looked up when the file has long been changed.
"""

from __future__ import annotations

from debrief.profile.model import EngineProfile
from debrief.report.blocks import Block, Column, Columns, Heading, Paragraph, Row, Section, Table
from debrief.report.content.closing_pages import DEFINITIONS, HOW_TITLE
from debrief.report.content.evidence_tables import HOW_READ, Letters, formula_lines

TITLE = "Appendix"
MOST_LINES = 2000
_COLUMNS = 3


def appendix(profile: EngineProfile | None, letters: Letters) -> Section:
    """Return the definitions with the formulas that several measures have, and the text of the profile."""
    how = [*DEFINITIONS, HOW_READ]
    if letters:
        how.append(f"Formulas that several measures have: {formula_lines(letters)}.")
    text = _profile_blocks(profile)
    blocks: list[Block] = [
        Heading(HOW_TITLE),
        Columns(tuple(Paragraph(line, "fine") for line in how), _COLUMNS),
        *text,
    ]
    return Section(TITLE, tuple(blocks))


def _profile_blocks(profile: EngineProfile | None) -> list[Block]:
    """Return the lines of a profile with their numbers and its SHA-256; nothing where it came from no file."""
    if profile is None or not profile.text:
        return []
    lines = profile.text.rstrip("\n").split("\n")
    said = (
        f"{profile.file_name or profile.name}, {len(lines)} lines, SHA-256 {profile.sha256}. Empty lines are not "
        "printed, several blanks are one."
    )
    if len(lines) > MOST_LINES:
        said += f" Printed are the first {MOST_LINES}."
    numbered = list(enumerate(lines, start=1))[:MOST_LINES]
    rows = tuple(Row((str(number), line)) for number, line in numbered if line.strip())
    columns = (Column("line", 0.14, right=True), Column("", 0.86))
    return [
        Heading("The text of the profile"),
        Paragraph(said, "fine"),
        Columns((Table(columns, rows, dense=True, fine=True),), _COLUMNS),
    ]
